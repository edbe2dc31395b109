"""Forms of fairs: the fair itself, which projects are for it, and for which fair a project is."""

from collections.abc import Iterable, Sequence
from typing import Any

from django import forms

from projects.models import Fair, Project
from projects.services.fairs import FairFacts
from stash.calc.fair_days import MOST_CLEAR_DAYS
from stash.forms.fields import RefusableForm, WholeField
from stash.forms.versions import VersionedForm


def _day(label: str, hint: str = "", *, required: bool = False) -> forms.DateField:
    return forms.DateField(
        label=label,
        required=required,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text=hint,
        error_messages={"invalid": "Give a day of the calendar, such as 2027-06-19."},
    )


class FairForm(VersionedForm):
    name = forms.CharField(label="Name", max_length=80)
    place = forms.CharField(label="Place", max_length=80, required=False)
    begins_on = _day("First day", required=True)
    ends_on = _day("Last day", "Empty: it is one day.")
    clear_days = WholeField(
        label="Days kept clear before it",
        initial=7,
        least=0,
        most=MOST_CLEAR_DAYS,
        one="day",
        many="days",
        help_text="For labels, packing and the journey: by then all is woven and finished.",
    )
    note = forms.CharField(
        label="Notes", max_length=500, required=False, widget=forms.Textarea(attrs={"rows": 3})
    )

    @classmethod
    def texts_of(cls, fair: Fair) -> dict[str, Any]:
        return {
            "name": fair.name,
            "place": fair.place,
            "begins_on": fair.begins_on,
            "ends_on": fair.ends_on,
            "clear_days": fair.clear_days,
            "note": fair.note,
            "version": fair.version,
        }

    def facts(self) -> FairFacts:
        said = self.cleaned_data
        return FairFacts(
            name=said["name"],
            place=said["place"],
            begins_on=said["begins_on"],
            ends_on=said["ends_on"],
            clear_days=said["clear_days"],
            note=said["note"],
        )


class ChooseForm(RefusableForm):
    """Ticks which of the open projects must be ready for a fair. `offered` goes along, so that a project that came into
    being meanwhile is left as it is; `was`, what was ticked at first, so that what somebody else chose meanwhile is."""

    offered = forms.TypedMultipleChoiceField(coerce=int, required=False, widget=forms.MultipleHiddenInput)
    was = forms.TypedMultipleChoiceField(coerce=int, required=False, widget=forms.MultipleHiddenInput)
    projects = forms.TypedMultipleChoiceField(coerce=int, required=False, label="Projects")

    def __init__(self, *args: Any, rows: Iterable[Project], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [(row.pk, row.name) for row in rows]
        for name in ("offered", "was", "projects"):
            self.fields[name].choices = choices
            self.fields[name].error_messages["invalid_choice"] = (
                "One of these projects was put away meanwhile. Read the page again and choose anew."
            )


class FairOfProjectForm(RefusableForm):
    """One choice beside a project's winding day."""

    fair = forms.TypedChoiceField(
        coerce=int,
        empty_value=None,
        required=False,
        label="Must be ready for",
        error_messages={"invalid_choice": "This fair is not in the list any more. Choose again."},
    )

    def __init__(self, *args: Any, fairs: Sequence[Fair], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        words = [(fair.pk, f"{fair.name}, {fair.begins_on.day} {fair.begins_on:%B %Y}") for fair in fairs]
        self.fields["fair"].choices = [("", "no fair"), *words]
