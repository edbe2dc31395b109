"""Cutting off: what is left of the warp, and on which loom."""

from typing import Any

from django import forms

from projects.models import Project
from projects.services.cutting_off import MOST_ENDS, MOST_ORDER, Left
from stash.calc.writing import Measures
from stash.forms.fields import LongLengthField, MeasuredForm, WholeField
from stash.models import Loom
from stash.services.refusal import Refusal


class CutOffForm(MeasuredForm):
    """Nothing has to be filled in: most warps are woven to their end."""

    loom = forms.ModelChoiceField(
        label="On which loom",
        queryset=Loom.objects.none(),
        required=False,
        empty_label="no loom is named",
        error_messages={"invalid_choice": "There is no such loom any more. Choose another."},
    )
    left = LongLengthField(
        label="Left on the loom",
        required=False,
        help_text="From the fell to the end on the beam. Empty: nothing.",
    )
    ends = WholeField(label="Ends left", required=False, least=0, most=MOST_ENDS, one="end", many="ends")
    of = forms.CharField(
        label="Of what, in which order", required=False, max_length=MOST_ORDER,
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
    )  # fmt: skip
    went_well = forms.BooleanField(label="This length went on the beam well", required=False)
    stood = forms.CharField(widget=forms.HiddenInput, required=False, max_length=8)

    def __init__(self, *args: Any, project: Project, measures: Measures, **kwargs: Any) -> None:
        initial = {
            "loom": project.loom_id,
            "ends": project.ends,
            "of": f"{project.name}: {project.colour_order}"[:MOST_ORDER],
            "stood": project.stage,
        }
        super().__init__(*args, measures=measures, initial=initial, **kwargs)
        self.fields["loom"].queryset = Loom.objects.live()
        self.fields["ends"].unit = "ends"
        loom = project.loom
        if loom is None or project.warp_um <= (loom.longest_warp_um or 0):
            del self.fields["went_well"]
        else:
            before = (
                f"so far {measures.warp_length(loom.longest_warp_um)}"
                if loom.longest_warp_um
                else "none is noted"
            )
            longest = measures.warp_length(project.warp_um)
            self.fields[
                "went_well"
            ].help_text = f"{longest} would be the longest warp that {loom.name} took; {before}."

    def rest(self) -> Left | None:
        """What is left, of a valid form. Raises Refusal where ends are missing."""
        cleaned = self.cleaned_data
        if not cleaned["left"]:
            return None
        if not cleaned["ends"]:
            raise Refusal("Say how many ends are left.", field="ends")
        return Left(cleaned["left"], cleaned["ends"], cleaned["of"].strip())
