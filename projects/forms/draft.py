"""The structure of a plan as form fields: a common one by name, or a draft of its own in four lines."""

from collections.abc import Mapping
from typing import Any

from django import forms

from projects.models import Project
from stash.calc.draft import DRAFT, Draft, interlacing
from stash.calc.errors import CalcError
from stash.calc.structure import Structure, structures

LINES = ("threading", "tie_up", "treadling", "lift_plan")


def _line(label: str, most: int, hint: str, rows: int = 1) -> forms.CharField:
    widget = forms.Textarea(attrs={"rows": rows, "spellcheck": "false"})
    return forms.CharField(label=label, max_length=most, required=False, help_text=hint, widget=widget)


class DraftForm(forms.Form):
    """Fields of the structure; `PlanForm` adds all others."""

    structure = forms.ChoiceField(label="Structure")
    threading = _line(
        "Threading, from the left", 2000, "1-4, 3 times (1, 2, 3, 4): begun again over the warp."
    )
    tie_up = _line(
        "Tie-up: the shafts each treadle lifts", 500, "1+2, 2+3, 3+4, 1+4: treadle 1, treadle 2 and so on."
    )
    treadling = _line("Treadling, from the first pick", 2000, "1, 2, 3, 4, begun anew with each piece.")
    lift_plan = _line(
        "Or a lift plan: the shafts each pick lifts", 2000, "1+2, 2+3, 3+4, 1+4, instead of the two above."
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        common = [(key, one.name) for key, one in structures().items()]
        self.fields["structure"].choices = [*common, (DRAFT, "a draft of its own")]
        self.weave: Structure | Draft | None = None

    def read_weave(self, cleaned: Mapping[str, Any]) -> None:
        """Set `weave`, or say at the line what keeps it from being woven. Lines that are not used are kept."""
        key = cleaned.get("structure")
        if not key or any(name in self.errors for name in LINES):
            return
        try:
            self.weave = interlacing(key, **{name: cleaned.get(name, "") for name in LINES})
        except CalcError as error:
            where = f"At character {error.position}: " if error.position else ""
            self.add_error(error.field if error.field in self.fields else "structure", where + error.message)

    def draft_lines(self, cleaned: Mapping[str, Any]) -> dict[str, str]:
        """The four lines as they are kept: written in order where they are woven, else as typed."""
        if isinstance(self.weave, Draft):
            return dict(zip(LINES, self.weave.written, strict=True))
        return {name: cleaned.get(name, "") for name in LINES}


def draft_initial(project: Project) -> dict[str, str]:
    return {"structure": project.structure, **{name: getattr(project, name) for name in LINES}}
