"""Equipment as forms: looms, reeds one by one or several at once, boards and mills, small tools, loans."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms

from stash.calc.density import Density
from stash.calc.errors import CalcError
from stash.calc.quantity import read_density, read_whole
from stash.forms.cones import PLAIN
from stash.forms.fields import (
    DensityField,
    LongLengthField,
    MassField,
    MeasuredForm,
    ReadField,
    ShortLengthField,
    WholeField,
)
from stash.forms.versions import VersionedForm
from stash.models import Board, Loom, Reed, Tool
from stash.models.equipment import MOST_SHAFTS, BoardKind, Equipment, ToolKind

MOST_HEDDLES = 10_000
WIDEST_UM = 10_000_000
DAY = {"type": "date"}
_LISTED = PLAIN | {"list": "known-places"}


def _name(hint: str) -> forms.CharField:
    return forms.CharField(max_length=80, widget=forms.TextInput(attrs=PLAIN), help_text=hint)


def _place() -> forms.CharField:
    return forms.CharField(max_length=40, required=False, widget=forms.TextInput(attrs=_LISTED))


def _note() -> forms.CharField:
    return forms.CharField(max_length=500, required=False, widget=forms.TextInput(attrs=PLAIN))


def _day(label: str, hint: str = "") -> forms.DateField:
    widget = forms.DateInput(attrs=DAY, format="%Y-%m-%d")
    return forms.DateField(label=label, required=False, widget=widget, help_text=hint)


class HeddlesField(ReadField):
    """Heddles by shaft from the front: 120, 120, 100, 100; a single number stands for every shaft."""

    def read(self, text: str) -> tuple[int, ...]:
        return tuple(
            read_whole(part.strip(), least=0, most=MOST_HEDDLES, one="heddle", many="heddles")
            for part in text.replace(";", ",").split(",")
            if part.strip()
        )

    def write(self, value: Sequence[int]) -> str:
        return str(value[0]) if value and len(set(value)) == 1 else ", ".join(map(str, value))


class DentsListField(ReadField):
    """Several reeds in one line: 8, 10, 12, 50 per 10 cm."""

    def use(self, measures: Any) -> None:
        super().use(measures)
        self.unit = f"per {measures.density_base}"

    def read(self, text: str) -> list[Density]:
        found = []
        for part in text.replace(";", ",").split(","):
            if part.strip():
                try:
                    found.append(read_density(part.strip(), self.measures.density_base))
                except CalcError as error:
                    raise CalcError(f"“{part.strip()[:20]}”: {error.message}") from error
        return found

    def write(self, value: Sequence[Density]) -> str:
        return ", ".join(map(self.measures.field_density, value))


class EquipmentForm(VersionedForm):
    """What the forms of all kinds have in common: text in, columns out."""

    columns: Mapping[str, str] = {}
    """Field of the form to column of the model, where both hold the same."""
    folded: Sequence[str] = ()
    """Fields that can wait, so that a thing is noted in a moment."""

    @property
    def first(self) -> list[forms.BoundField]:
        return [field for field in self.visible_fields() if field.name not in self.folded]

    @property
    def later(self) -> list[forms.BoundField]:
        return [self[name] for name in self.folded]

    @property
    def later_has_errors(self) -> bool:
        return any(name in self.errors for name in self.folded)

    def values(self) -> dict[str, Any]:
        found = {column: self.cleaned_data[field] for field, column in self.columns.items()}
        return found | {"name": self.cleaned_data["name"], "note": self.cleaned_data["note"]}

    @classmethod
    def texts_of(cls, thing: Any) -> dict[str, Any]:
        found = {field: getattr(thing, column) for field, column in cls.columns.items()}
        return found | {
            "name": thing.name,
            "note": thing.note,
            "place": thing.place.name if thing.place else "",
            "version": thing.version,
        }


class LoomForm(EquipmentForm):
    name = _name("As you call it: the big loom, the table loom.")
    width = ShortLengthField(label="Weaving width", least=1, most=WIDEST_UM)
    shafts = WholeField(label="Shafts", least=1, most=MOST_SHAFTS, one="shaft", many="shafts")
    heddles = HeddlesField(
        label="Heddles on each shaft",
        required=False,
        help_text="From the front: 120, 120, 100, 100. One number if all have the same.",
    )
    waste = ShortLengthField(
        label="Loom waste, tied to the rods",
        help_text="What is lost on each warp, front and back together.",
    )
    waste_laced = ShortLengthField(label="Loom waste, laced on at the front", required=False)
    waste_tied_on = ShortLengthField(label="Loom waste, tied on to an old warp", required=False)
    longest = LongLengthField(
        label="Longest warp so far that went well",
        required=False,
        least=1,
        help_text="How much the beam took.",
    )
    reed_height = ShortLengthField(
        label="Highest reed the beater takes", required=False, least=1, most=WIDEST_UM
    )
    busy_with = forms.CharField(
        label="On it now, if no project of yours",
        max_length=80,
        required=False,
        widget=forms.TextInput(attrs=PLAIN),
        help_text="A class, a friend’s warp.",
    )
    busy_until = _day("Until")
    left = LongLengthField(
        label="Warp left on it", required=False, help_text="A new warp of as many ends can be tied on to it."
    )
    left_ends = WholeField(label="Of so many ends", required=False, most=20_000, one="end", many="ends")
    left_of = forms.CharField(
        label="Of which warp, in which order",
        max_length=120,
        required=False,
        widget=forms.TextInput(attrs=PLAIN),
    )
    place = _place()
    note = _note()

    columns = {
        "width": "weaving_width_um",
        "shafts": "shafts",
        "waste": "waste_um",
        "waste_laced": "waste_laced_um",
        "waste_tied_on": "waste_tied_on_um",
        "longest": "longest_warp_um",
        "reed_height": "reed_height_um",
        "busy_with": "busy_with",
        "busy_until": "busy_until",
        "left": "left_um",
        "left_ends": "left_ends",
        "left_of": "left_of",
    }
    folded = (
        "waste_laced",
        "waste_tied_on",
        "longest",
        "reed_height",
        "busy_with",
        "busy_until",
        "left",
        "left_ends",
        "left_of",
        "place",
        "note",
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("busy_until") and not cleaned.get("busy_with"):
            self.add_error("busy_with", "Say what is on it until then.")
        shafts, heddles = cleaned.get("shafts"), cleaned.get("heddles")
        if shafts and heddles and len(heddles) not in (1, shafts):
            self.add_error(
                "heddles", f"{shafts} shafts take {shafts} numbers, or one for all; these are {len(heddles)}."
            )
        if bool(cleaned.get("left")) != bool(cleaned.get("left_ends")) and "left" not in self.errors:
            missing = "left_ends" if cleaned.get("left") else "left"
            self.add_error(missing, "Give both: how long the rest is, and of how many ends.")
        return cleaned

    def values(self) -> dict[str, Any]:
        found = super().values()
        return found | {"left_um": found["left_um"] or 0, "left_ends": found["left_ends"] or 0}

    @property
    def by_shaft(self) -> tuple[int, ...]:
        """By shaft; none for a loom whose heddles were not counted."""
        numbers = self.cleaned_data["heddles"] or ()
        return numbers * self.cleaned_data["shafts"] if len(numbers) == 1 else numbers

    @classmethod
    def texts_of(cls, thing: Loom) -> dict[str, Any]:
        numbers = tuple(row.number for row in thing.heddles.all())
        return super().texts_of(thing) | {
            "heddles": numbers or None,
            "left": thing.left_um or None,
            "left_ends": thing.left_ends or None,
        }


class ReedForm(EquipmentForm):
    name = _name("As it is stamped, or as you call it.")
    dents = DensityField(
        label="Dents", noun="dents", help_text="A metric reed by its true figure: 50 per 10 cm."
    )
    length = ShortLengthField(label="Length", least=1, most=WIDEST_UM)
    height = ShortLengthField(label="Height", required=False, least=1, most=WIDEST_UM)
    place = _place()
    note = _note()

    columns = {"length": "length_um", "height": "height_um"}

    def values(self) -> dict[str, Any]:
        dents: Density = self.cleaned_data["dents"]
        return super().values() | {
            "dents_numerator": dents.count.numerator,
            "dents_denominator": dents.count.denominator,
            "dents_per_um": dents.per_um,
        }

    @classmethod
    def texts_of(cls, thing: Reed) -> dict[str, Any]:
        return super().texts_of(thing) | {"dents": thing.dents}


class ReedsForm(MeasuredForm):
    """Several reeds of one size in one go."""

    dents = DentsListField(
        label="Dents of each reed",
        help_text="One or several, with commas: 8, 10, 12. A metric one by its own figure: 50 per 10 cm.",
    )
    length = ShortLengthField(label="Their length", least=1, most=WIDEST_UM)
    height = ShortLengthField(label="Their height", required=False, least=1, most=WIDEST_UM)
    place = _place()


class BoardForm(EquipmentForm):
    name = _name("As you call it: the board in the hall.")
    kind = forms.ChoiceField(choices=BoardKind)
    step = ShortLengthField(
        label="From peg to peg, as measured",
        least=1,
        most=WIDEST_UM,
        help_text="Of a mill: once round. Pegs are a yard apart by name only.",
    )
    longest = LongLengthField(label="Longest path", least=1)
    most_ends = WholeField(
        label="Most ends in one chain",
        required=False,
        least=1,
        most=20_000,
        one="end",
        many="ends",
        help_text="Before layers on the pegs change the length.",
    )
    place = _place()
    note = _note()

    columns = {"kind": "kind", "step": "step_um", "longest": "longest_um", "most_ends": "most_ends"}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        step, longest = cleaned.get("step"), cleaned.get("longest")
        if step and longest and longest < step:
            self.add_error("longest", "The longest path is no shorter than from one peg to the next.")
        return cleaned


class ToolForm(EquipmentForm):
    name = _name("Such as boat shuttle, pirn 4 in, temple 18 to 26 in.")
    kind = forms.ChoiceField(choices=ToolKind)
    number = WholeField(label="How many", least=1, most=10_000, one="one", many="of them")
    holds = MassField(label="Each holds", required=False, least=1, help_text="Yarn on a full bobbin.")
    narrowest = ShortLengthField(label="A temple, from", required=False, least=1, most=WIDEST_UM)
    widest = ShortLengthField(label="To", required=False, least=1, most=WIDEST_UM)
    place = _place()
    note = _note()

    columns = {
        "kind": "kind",
        "number": "number",
        "holds": "holds_mg",
        "narrowest": "narrowest_um",
        "widest": "widest_um",
    }

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        narrowest, widest = cleaned.get("narrowest"), cleaned.get("widest")
        if (narrowest is None) != (widest is None):
            self.add_error(
                "widest" if widest is None else "narrowest", "Give both widths of a temple, or neither."
            )
        elif narrowest and widest < narrowest:
            self.add_error("widest", "The widest is no less than the narrowest.")
        return cleaned


class LendForm(MeasuredForm):
    to = forms.CharField(
        label="Lent to",
        max_length=80,
        widget=forms.TextInput(attrs=PLAIN),
        help_text="A first name or initials are enough.",
    )
    back_on = _day("To be back on")


FORMS: Mapping[str, type[EquipmentForm]] = {
    "looms": LoomForm,
    "reeds": ReedForm,
    "boards": BoardForm,
    "tools": ToolForm,
}


def facts_of(thing: Equipment, measures: Any) -> list[tuple[str, str]]:
    """What is known of a thing, in words, for its page."""
    found: list[tuple[str, str]] = []
    short = measures.short_length
    if isinstance(thing, Loom):
        found.append(("Weaving width", short(thing.weaving_width_um)))
        found.append(("Shafts", str(thing.shafts)))
        numbers = [row.number for row in thing.heddles.all()]
        if numbers:
            found.append(("Heddles on each shaft", ", ".join(map(str, numbers))))
        found.append(("Loom waste, tied to the rods", short(thing.waste_um)))
    elif isinstance(thing, Reed):
        found.append(("Dents", measures.density(thing.dents, "dents")))
        found.append(("Length", short(thing.length_um)))
    elif isinstance(thing, Board):
        found.append(("From peg to peg", short(thing.step_um)))
        found.append(("Longest path", measures.warp_length(thing.longest_um)))
    elif isinstance(thing, Tool):
        found.append(("How many", str(thing.number)))
        if thing.holds_mg:
            found.append(("Each holds", measures.mass(thing.holds_mg)))
    if thing.place:
        found.append(("Place", thing.place.name))
    return found
