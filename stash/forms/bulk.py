"""What is asked once for all rows of a step."""

from django import forms

from stash.forms.cones import MoveForm, ReasonForm
from stash.forms.fields import MassField, MeasuredForm
from stash.models import Condition

__all__ = ["ConditionForm", "KeepForm", "MoveForm", "ReasonForm", "SureForm"]


class KeepForm(MeasuredForm):
    keep = MassField(
        label="Keep level",
        required=False,
        least=1,
        help_text="The least to keep free of each. Empty: none.",
    )
    one_more = forms.TypedChoiceField(
        label="One put-up more for the lot",
        required=False,
        coerce=lambda value: value == "yes",
        empty_value=None,
        choices=[("", "as it is with each"), ("yes", "yes"), ("no", "no")],
        help_text="A proposed order takes one more than is needed, so that what is left matches later.",
    )


class ConditionForm(MeasuredForm):
    condition = forms.ChoiceField(
        choices=Condition, help_text="Quarantined, weak yarn and oddments go to no project."
    )
    on = forms.DateField(
        label="Since",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text="For quarantine: until when.",
    )
    reason = forms.CharField(
        required=False, max_length=150, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )


class SureForm(MeasuredForm):
    """Nothing is asked but whether to go on."""
