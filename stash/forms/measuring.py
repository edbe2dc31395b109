"""A length of yarn wound off and weighed, up to three times."""

from typing import Any

from stash.forms.cones import DECIMALS
from stash.forms.fields import LongLengthField, MassField
from stash.forms.versions import VersionedForm
from stash.models import Yarn

TIMES = (1, 2, 3)


class MeasureForm(VersionedForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for time in TIMES:
            length = LongLengthField(label=f"Length {time}", required=False, least=1, attrs=DECIMALS)
            mass = MassField(label=f"Weighs {time}", required=False, least=1, attrs=DECIMALS)
            for name, field in (("length", length), ("mass", mass)):
                field.use(self.measures)
                self.fields[f"{name}-{time}"] = field

    @property
    def pairs(self) -> list[tuple[Any, Any]]:
        return [(self[f"length-{time}"], self[f"mass-{time}"]) for time in TIMES]

    @classmethod
    def texts_of(cls, yarn: Yarn) -> dict[str, Any]:
        return {"version": yarn.version}

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        for time in TIMES:
            names = f"length-{time}", f"mass-{time}"
            if all(name in said for name in names):
                empty = [name for name in names if said[name] is None]
                if len(empty) == 1:
                    self.add_error(empty[0], "Give both, the length and what it weighs.")
        return said

    def weighings(self) -> list[tuple[int, int]]:
        said = self.cleaned_data
        pairs = ((said[f"length-{time}"], said[f"mass-{time}"]) for time in TIMES)
        return [(length, mass) for length, mass in pairs if length is not None]
