"""One field as it stands in a page: label, hint, control with its unit, errors.

Written as strings, not as a template: a plan draws forty of them. The control names hint and errors in
aria-describedby by itself.
"""

from functools import cache
from typing import Any

from django.forms.boundfield import BoundField
from django.forms.utils import ErrorList
from django.forms.widgets import CheckboxInput, RadioSelect
from django.utils.functional import cached_property
from django.utils.safestring import SafeString, mark_safe

from stash.forms.widgets import safe

OPTIONAL = ' <span class="optional">(may stay empty)</span>'


@cache
def _no_errors() -> ErrorList:
    return ErrorList()


class StudioField(BoundField):
    """A field may carry `unit`, the word behind its control."""

    # Asked for half a dozen times a field; neither the form's pattern nor the field's name changes.
    auto_id = cached_property(BoundField.auto_id.fget)

    @property
    def errors(self) -> ErrorList:
        """Nothing typed, nothing wrong: forty fields need no list each, and each asks for it thrice."""
        return super().errors if self.form.is_bound else _no_errors()

    def as_field_group(self) -> SafeString:
        control, hint, errors = str(self), self._hint(), self.errors or ""
        if self.is_hidden:
            return mark_safe(control)
        # A choice that stands chosen from the start cannot be left empty.
        chosen = isinstance(self.field.widget, RadioSelect) and self.initial
        optional = "" if self.field.required or chosen else OPTIONAL
        if self.use_fieldset:
            return mark_safe(
                f'<fieldset class="field"{self._described()}><legend>{safe(self.label)}{optional}</legend>\n'
                f'{hint}<div class="control">{control}</div>{errors}</fieldset>\n'
            )
        label = f'<label for="{safe(self.id_for_label)}">{safe(self.label)}'
        if isinstance(self.field.widget, CheckboxInput):
            return mark_safe(f'<div class="field tick">{control} {label}</label>{hint}{errors}</div>\n')
        return mark_safe(
            f'<div class="field">{label}{optional}</label>\n{hint}'
            f'<div class="control">{control}{self._unit()}</div>{errors}</div>\n'
        )

    def _hint(self) -> str:
        if not self.help_text:
            return ""
        name = f' id="{safe(self.auto_id)}_helptext"' if self.auto_id else ""
        return f'<div class="hint"{name}>{safe(self.help_text)}</div>\n'

    def _unit(self) -> str:
        unit: Any = getattr(self.field, "unit", "")
        return f'<span class="unit">{safe(unit)}</span>' if unit else ""

    def _described(self) -> str:
        """A group of controls is described as a whole."""
        names = self.aria_describedby
        return f' aria-describedby="{safe(names)}"' if names else ""
