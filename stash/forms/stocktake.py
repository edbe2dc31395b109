"""Stocktakes: which place, what was found of a cone, and what becomes of a difference."""

from typing import Any

from django import forms

from stash.calc.writing import number
from stash.forms.cones import DECIMALS, MOST_OF_A_CONE_MG, MOST_OF_A_CORE_MG
from stash.forms.fields import MassField, MeasuredForm
from stash.models import Cone, Count, Finding

WHOLE_SHELF = "all"
_NO_KEY = "This form was sent without its key. Load the page again."


class BeginForm(MeasuredForm):
    """`places` are (key, name, number of cones); `cone_count` is that of the whole shelf."""

    place = forms.ChoiceField(
        label="What is counted",
        error_messages={
            "required": "Choose a place, or the whole shelf.",
            "invalid_choice": "Nothing stands there any more. Choose one of the list.",
        },
    )
    note = forms.CharField(
        required=False,
        max_length=200,
        help_text="E.g. year's end.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def __init__(
        self, *args: Any, places: list[tuple[int, str, int]], cone_count: int, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["place"].choices = [
            ("", "Choose a place"),
            *((str(pk), f"{name}, {_cones(count)}") for pk, name, count in places),
            (WHOLE_SHELF, f"The whole shelf, {_cones(cone_count)}"),
        ]

    @property
    def place_id(self) -> int | None:
        chosen = self.cleaned_data["place"]
        return None if chosen == WHOLE_SHELF else int(chosen)


def _cones(count: int) -> str:
    return "1 cone" if count == 1 else f"{number(count)} cones"


_WHICH = "Say which cone this is the count of."


class CountForm(MeasuredForm):
    """What was found of one cone. Everything as typed: the page without a connection keeps it so, and sends it so.

    A cone that the page does not list is named by its `code`, or by the address on its label.
    """

    scale = MassField(
        label="On the scale",
        required=False,
        most=MOST_OF_A_CONE_MG,
        attrs=DECIMALS | {"class": "scale", "enterkeyhint": "next"},
    )
    yarn_only = forms.BooleanField(label="Yarn only", required=False)
    is_estimate = forms.BooleanField(label="About, by eye", required=False)
    core = MassField(
        label="The empty core weighs",
        required=False,
        most=MOST_OF_A_CORE_MG,
        attrs=DECIMALS,
        help_text="Not known yet. Needed once, for a weight with the core still in.",
    )
    note = forms.CharField(
        label="A note on it",
        required=False,
        max_length=200,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    finding = forms.ChoiceField(
        choices=[choice for choice in Finding.choices if choice[0] != Finding.PASSED],
        required=False,
        widget=forms.HiddenInput,
    )
    code = forms.CharField(required=False, max_length=300, widget=forms.HiddenInput)
    cone = forms.IntegerField(
        required=False,
        min_value=1,
        max_value=2**63 - 1,
        widget=forms.HiddenInput,
        error_messages=dict.fromkeys(("invalid", "min_value", "max_value"), _WHICH),
    )
    key = forms.CharField(
        max_length=40,
        widget=forms.HiddenInput,
        error_messages={
            "required": _NO_KEY,
            "max_length": "The key must be 16 to 40 letters, figures or hyphens.",
        },
    )

    def clean(self) -> dict[str, Any]:
        said = super().clean()
        if said.get("cone", 0) is None and not said.get("code"):
            self.add_error("cone", _WHICH)
        weighed = (said.get("finding") or Finding.WEIGHED) == Finding.WEIGHED
        if weighed and "scale" in said and said["scale"] is None:
            self.add_error("scale", "Give what the scale says, or say that the cone is not here.")
        return said

    @staticmethod
    def opened_with(cone: Cone, key: str) -> dict[str, Any]:
        """Weighed with its core, unless nobody knows what that weighs."""
        return {"cone": cone.pk, "key": key, "yarn_only": cone.core_mg is None}


class SettleForm(MeasuredForm):
    """What becomes of one difference. One form a row: ids carry the count's key."""

    reason = forms.CharField(
        label="Why",
        required=False,
        max_length=200,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    confirmed = forms.BooleanField(label="It still is as it was counted", required=False)

    def __init__(
        self, *args: Any, count: Count, stale: bool, optional: bool, offers: str, **kwargs: Any
    ) -> None:
        super().__init__(*args, auto_id=f"id_{count.pk}_%s", **kwargs)
        self.fields["reason"].widget.attrs["list"] = offers
        if optional:
            self.fields["reason"].help_text = "May stay empty to accept, is needed to leave."
        if not stale:
            del self.fields["confirmed"]
