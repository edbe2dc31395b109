"""A shade's colour for the screen."""

import re
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

_SIX = re.compile(r"#?([0-9a-fA-F]{6})")
_THREE = re.compile(r"#?([0-9a-fA-F]{3})")


class ColourField(forms.CharField):
    """#rrggbb in small letters, or "" for a shade whose colour is not known yet.

    The page's script sets a colour picker beside it; without script it is typed.
    """

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("max_length", 20)
        kwargs.setdefault(
            "widget",
            forms.TextInput(
                attrs={
                    "data-colour": "",
                    "autocomplete": "off",
                    "spellcheck": "false",
                    "placeholder": "#2f5d50",
                }
            ),
        )
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> str:
        text = super().to_python(value)
        if not text:
            return ""
        if found := _SIX.fullmatch(text):
            return f"#{found[1].lower()}"
        if found := _THREE.fullmatch(text):
            return "#" + "".join(sign * 2 for sign in found[1].lower())
        raise ValidationError(
            _("“%(text)s” is no colour. Give # and six figures 0-9 a-f, such as #2f5d50, or leave it empty.")
            % {"text": text}
        )
