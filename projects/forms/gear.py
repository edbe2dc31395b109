"""Loom, reed, sley and days of a plan as form fields. They stand in a part of the page of their own, and belong to
the plan's form all the same: one save keeps both."""

from collections.abc import Mapping
from typing import Any

from django import forms

from projects.gear import Shed
from projects.models import Dressing, Project, SleyKeeps
from projects.services.planning import Gear
from stash.calc.density import Density
from stash.calc.errors import CalcError
from stash.calc.sley import Sleyed, read_sley
from stash.calc.sley_offers import near_enough

OF_PLAN = {"form": "plan"}
GEAR_FIELDS = ("loom", "reed", "dressing", "off_on", "sley")


class GearForm(forms.Form):
    """`PlanForm` adds all other fields. `shed` is what can be chosen; without one nothing is asked or changed."""

    loom = forms.TypedChoiceField(
        coerce=int,
        empty_value=None,
        required=False,
        widget=forms.Select(attrs=OF_PLAN),
        error_messages={"invalid_choice": "There is no such loom any more. Choose another."},
    )
    reed = forms.TypedChoiceField(
        coerce=int,
        empty_value=None,
        required=False,
        widget=forms.Select(attrs=OF_PLAN),
        error_messages={"invalid_choice": "There is no such reed any more. Choose another."},
    )
    dressing = forms.ChoiceField(
        label="The warp is", choices=Dressing, required=False, widget=forms.Select(attrs=OF_PLAN)
    )
    off_on = forms.DateField(
        label="Off the loom on",
        required=False,
        widget=forms.DateInput(attrs=OF_PLAN | {"type": "date"}, format="%Y-%m-%d"),
    )
    sley = forms.CharField(required=False, max_length=80, widget=forms.HiddenInput)

    sett_k = forms.CharField(
        label="K",
        required=False,
        max_length=10,
        initial="0.90",
        help_text="Diameters to the inch = K × √(yd/lb). 0.90 to 0.95 is usual for cotton; sources differ.",
        widget=forms.TextInput(attrs=OF_PLAN | {"inputmode": "decimal", "autocomplete": "off"}),
    )
    """Only reckoned with, never kept."""

    shed: Shed | None = None
    lost_sley = False
    """One is ticked that does not come near the sett any more."""
    reed_asked: int | None = None
    """The reed by its own field; a sley that is ticked brings its reed along."""

    def offer(self, shed: Shed | None) -> None:
        """What there is to choose from; `None` takes the fields away."""
        self.shed = shed
        if shed is None or not (shed.looms or shed.reeds):
            # What was not asked is not changed either.
            for name in GEAR_FIELDS:
                del self.fields[name]
            return
        self.fields["loom"].choices = [("", "not chosen")] + [
            (pk, one.name) for pk, one in shed.looms.items()
        ]
        self.fields["reed"].choices = [("", "whichever suits")] + [
            (pk, one.name) for pk, one in shed.reeds.items()
        ]

    def read_sleyed(self, cleaned: dict[str, Any], sett: Density) -> Sleyed | None:
        """The sley that is ticked, its reed with it. One of another reed, or too far from the sett, is let go."""
        if self.shed is None:
            return None
        self.reed_asked = cleaned.get("reed")
        picked = read_choice(cleaned.get("sley") or "")
        cleaned["sley"], cleaned["sley_keeps"] = "", SleyKeeps.ENDS.value
        if picked is None:
            return None
        pk, text, keeps = picked
        reed = self.shed.reeds.get(pk)
        if reed is None or cleaned.get("reed") not in (None, pk):
            return None
        try:
            sleyed = Sleyed(reed.dents, read_sley(text), keeps)
        except CalcError:
            return None
        if not near_enough(sett, reed.dents, sleyed.sley):
            self.lost_sley = True
            return None
        cleaned["reed"], cleaned["sley"], cleaned["sley_keeps"] = pk, text, keeps
        return sleyed

    def gear(self, cleaned: Mapping[str, Any]) -> Gear | None:
        """What the service writes; None leaves all of it as it stands."""
        if self.shed is None or "loom" not in self.fields:
            return None
        return Gear(
            loom_id=cleaned.get("loom"),
            reed_id=cleaned.get("reed"),
            dressing=cleaned.get("dressing") or Dressing.TIED,
            sley=cleaned.get("sley", ""),
            sley_keeps=cleaned.get("sley_keeps", SleyKeeps.ENDS),
            off_on=cleaned.get("off_on"),
        )


def choice_text(reed_id: int, sley: str, keeps: str) -> str:
    """A sley to be ticked, as a form sends it."""
    return f"{reed_id} {sley} {keeps}"


def read_choice(text: str) -> tuple[int, str, Any] | None:
    parts = text.split(" ")
    if len(parts) != 3 or not (parts[0].isascii() and parts[0].isdigit() and len(parts[0]) < 19):
        return None
    return (int(parts[0]), parts[1], parts[2]) if parts[2] in SleyKeeps.values else None


def gear_initial(project: Project) -> dict[str, Any]:
    return {
        "loom": project.loom_id or "",
        "reed": project.reed_id or "",
        "dressing": project.dressing,
        "off_on": project.off_on,
        "sley": choice_text(project.reed_id, project.sley, project.sley_keeps)
        if project.reed_id and project.sley
        else "",
    }
