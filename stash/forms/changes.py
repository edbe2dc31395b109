"""What happens to the yarn on a cone between two weighings, and what the cone is fit for."""

from typing import Any

from django import forms

from stash.forms.cones import DECIMALS, PLAIN, listed
from stash.forms.fields import AmountField, MassField, MeasuredForm
from stash.models import Condition, Form
from stash.services.weighing import MOST_OF_A_CORE_MG

# The entry says the other cone's code before it.
MOST_OF_A_REASON = 150
CHOSEN = (Condition.SOUND, Condition.QUARANTINE, Condition.WEAK, Condition.FADED)


def _reason(**facts: Any) -> forms.CharField:
    return forms.CharField(
        max_length=MOST_OF_A_REASON,
        widget=forms.TextInput(attrs={"autocomplete": "off", "list": "reasons"}),
        **facts,
    )


def _amount(label: str) -> AmountField:
    return AmountField(
        label=label, attrs=DECIMALS, help_text="A weight, or a length such as 200 yd, which is reckoned."
    )


def _about() -> forms.BooleanField:
    return forms.BooleanField(
        label="About: guessed, not weighed", required=False, help_text="The books then say “about”."
    )


def _target(label: str) -> forms.ChoiceField:
    return forms.ChoiceField(
        label=label,
        error_messages={"invalid_choice": "Choose a cone of the same shade and lot from the list."},
    )


class _TargetForm(MeasuredForm):
    def __init__(self, *args: Any, targets: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["target"].choices = [("", "Choose the cone"), *targets]


class OverForm(_TargetForm):
    target = _target("On to")
    amount = _amount("So much")
    about = _about()
    reason = _reason(required=False)


class JoinForm(_TargetForm):
    target = _target("Join it to")


class SplitForm(MeasuredForm):
    amount = _amount("So much")
    about = _about()
    form = forms.ChoiceField(label="On to a new", choices=Form, initial=Form.SPOOL)
    core = MassField(label="The empty core weighs", required=False, most=MOST_OF_A_CORE_MG, attrs=DECIMALS)
    place = forms.CharField(
        required=False,
        max_length=40,
        widget=listed("place-names"),
        help_text="Empty: where this cone stands.",
    )
    code = forms.CharField(
        required=False,
        max_length=12,
        widget=forms.TextInput(attrs=PLAIN),
        help_text="Empty: the next free one.",
    )
    reason = _reason(required=False)


class WriteOffForm(MeasuredForm):
    amount = _amount("So much is gone")
    about = _about()
    reason = _reason(
        help_text="moth, soiled, given away, sold",
        error_messages={"required": "Say why: moth, soiled, given away, sold."},
    )


class ConditionForm(MeasuredForm):
    condition = forms.ChoiceField(
        label="It is",
        choices=[(one.value, one.label) for one in CHOSEN],
        error_messages={"invalid_choice": "Choose the condition from the list."},
    )
    on = forms.DateField(
        label="Since, or for quarantine until",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    reason = _reason(required=False)


class OddmentForm(MeasuredForm):
    on = forms.DateField(
        label="Since",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    reason = _reason(required=False)
