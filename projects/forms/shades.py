"""A field that takes a shade by its name, so that a studio of thousands needs no list of thousands."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.urls import reverse_lazy

from stash.models import Shade
from stash.models.folding import fold

MOST_CHARACTERS = 160


def written(shade: Shade) -> str:
    """A shade as it is typed and offered: Spruce, Fen cotton."""
    return f"{shade.name}, {shade.yarn.name}"


class ShadeTextField(forms.CharField):
    """A shade typed as `Spruce, Fen cotton`, or as `Spruce` where one yarn alone has it.

    `known` are shades that the project uses already, by key: they stay even when retired, and cost no query.
    """

    def __init__(self, *, known: Mapping[int, Shade], **kwargs: Any) -> None:
        self.known = known
        kwargs.setdefault(
            "widget",
            forms.TextInput(
                attrs={
                    "list": "known-shades",
                    "autocomplete": "off",
                    "spellcheck": "false",
                    # Names are offered while one is typed; without scripts the name is typed as it stands.
                    "hx-get": reverse_lazy("project-shades"),
                    "hx-trigger": "input changed delay:200ms, focus once",
                    "hx-target": "#known-shades",
                    "hx-swap": "innerHTML",
                    "hx-sync": "this:replace",
                }
            ),
        )
        super().__init__(**kwargs)

    def prepare_value(self, value: Any) -> Any:
        return written(value) if isinstance(value, Shade) else value

    def to_python(self, value: Any) -> Any:
        text = super().to_python(value)
        if not text:
            return None
        if len(text) > MOST_CHARACTERS:
            raise ValidationError(f"A shade's name with its yarn has at most {MOST_CHARACTERS} characters.")
        sought = fold(text)
        for shade in self.known.values():
            if fold(written(shade)) == sought:
                return shade
        return self._found(text, sought)

    def _found(self, text: str, sought: str) -> Shade:
        name, comma, yarn = text.rpartition(",")
        live = Shade.objects.live().select_related("yarn")
        # The comma may belong to a name: read whole first, then as shade and yarn.
        by_name = list(live.filter(search=sought)[:6])
        if comma and not by_name:
            by_name = [one for one in live.filter(search=fold(name)) if fold(one.yarn.name) == fold(yarn)]
        if len(by_name) == 1:
            return by_name[0]
        if by_name:
            offered = "; ".join(written(one) for one in by_name)
            raise ValidationError(f"More than one yarn has {text}. Say which: {offered}.")
        retired = Shade.objects.exclude(retired_at=None).filter(search=fold(name or text)).exists()
        if retired:
            raise ValidationError(f"{text} is retired. Bring the shade back, or choose another.")
        near = "; ".join(written(one) for one in live.matching(text.split(",")[0])[:4])
        hint = f" Did you mean {near}?" if near else " Type its name as the Yarn page shows it."
        raise ValidationError(f"There is no shade called {text}.{hint}")
