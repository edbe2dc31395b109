"""Forms that say which version they were opened with, and show both texts when somebody else was quicker."""

from typing import Any

from django import forms
from django.utils.html import format_html

from stash.forms.fields import MeasuredForm


class VersionedForm(MeasuredForm):
    """An edit form of something that has a version. A new thing has none."""

    version = forms.IntegerField(
        required=False,
        min_value=1,
        max_value=2**31 - 1,
        widget=forms.HiddenInput,
        error_messages=dict.fromkeys(
            ("invalid", "min_value", "max_value"), "This form was sent without its version. Open it anew."
        ),
    )

    @classmethod
    def texts_of(cls, thing: Any) -> dict[str, Any]:
        """Initial values of every field for what stands in the books."""
        raise NotImplementedError

    def show_both(self, error: Any, current: Any) -> None:
        """After ChangedMeanwhile: the typed text stays in the fields, what stands there now goes beside each
        that differs, and saving once more takes the typed text.
        """
        now = type(self)(initial=self.texts_of(current), measures=self.measures)
        for name, field in self.fields.items():
            if name == "version":
                continue
            typed, stands = _shown(self[name], self[name].value()), _shown(now[name], now[name].value())
            if typed != stands:
                # The bound field has taken its hint from the field already, so it is told itself.
                self[name].help_text = format_html(
                    '{} <span class="stands">Stands there now: <b>{}</b></span>',
                    field.help_text,
                    stands or "nothing",
                )
        self.data = self.data.copy()
        self.data[self.add_prefix("version")] = str(current.version)
        self.refuse(error)


def _shown(bound: forms.BoundField, value: Any) -> str:
    """A field's value as people see it: the label of a choice, else its text."""
    text = "" if value is None else str(value).strip()
    for key, label in getattr(bound.field, "choices", ()):
        if str(key) == text:
            return str(label)
    return text
