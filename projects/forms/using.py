"""Weighing back: one number for each cone that came back."""

from collections.abc import Sequence
from typing import Any

from stash.forms.cones import DECIMALS
from stash.forms.fields import MassField, MeasuredForm
from stash.models import Cone
from stash.services.using import Back
from stash.services.weighing import MOST_OF_A_CONE_MG


class WeighBackForm(MeasuredForm):
    """A field for each cone, "cone-7" for the cone of that key; what stays empty is not weighed."""

    def __init__(self, *args: Any, cones: Sequence[Cone], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.cones = cones
        for cone in cones:
            field = MassField(
                label=f"{cone.code}, {cone.shade.name}",
                required=False,
                most=MOST_OF_A_CONE_MG,
                attrs=DECIMALS,
            )
            field.use(self.measures)
            books = self.measures.mass(cone.on_hand_mg)
            if cone.core_mg is None:
                field.help_text = f"The yarn alone, since the core is not known. By the books {books}."
            else:
                field.help_text = (
                    f"With its core of {self.measures.mass(cone.core_mg)}. By the books "
                    f"{self.measures.mass(cone.core_mg + cone.on_hand_mg)} together."
                )
            self.fields[f"cone-{cone.pk}"] = field

    def backs(self) -> dict[int, Back]:
        """What was weighed, by key of the cone."""
        weighed = ((cone, self.cleaned_data[f"cone-{cone.pk}"]) for cone in self.cones)
        return {cone.pk: Back(mg, gross=cone.core_mg is not None) for cone, mg in weighed if mg is not None}
