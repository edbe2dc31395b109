"""What a plan says of its edges and ends: hems, fringes, selvedges, borders, accents, kits and further beams.

Most plans leave most of this alone, so every field may stay empty, and what the chosen way does not use never
stands in the way: it keeps its default.
"""

import re
from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from projects.models import AccentWay, DoubledWay, HemKind, Project
from projects.models.project import MOST_KITS
from projects.services.planning import Kits
from stash.calc.accents import Accent, read_accents, write_accents
from stash.calc.beams import MOST_BEAMS, Beam
from stash.calc.colour_order import key_order
from stash.calc.errors import CalcError
from stash.calc.fringe import Fringe
from stash.calc.hems import Hem
from stash.calc.needs import WorkedPlan
from stash.calc.plan import NO_FRINGE, Plan
from stash.calc.selvedges import MOST_DOUBLED, Selvedges
from stash.calc.writing import Measures
from stash.forms.fields import (
    DensityField,
    MeasuredForm,
    OrderField,
    PercentField,
    ReadField,
    ShortLengthField,
    WholeField,
)

FRINGE = "fringe"
BEAMS = range(2, MOST_BEAMS + 1)
MOST_FRINGE_LOSS = Fraction(9, 10)

# Common practice, to be overwritten: three inches to tie on, a tenth lost, a third of the waste in front.
KNOT = {"imperial": 76_200, "metric": 75_000}
WASTE_FRONT = {"imperial": 228_600, "metric": 230_000}
FRINGE_LOSS = Fraction(1, 10)

HEM_OF = {
    HemKind.GIVEN: ("hem",),
    HemKind.SINGLE: ("hem_depth",),
    HemKind.DOUBLE: ("hem_depth",),
    HemKind.SMALL_FOLD: ("hem_depth", "hem_fold"),
    HemKind.STRIP: ("hem_depth",),
    FRINGE: (),
}
FRINGE_FIELDS = ("fringe", "fringe_twisted", "fringe_loss", "fringe_knot", "waste_front")

EDGE_FIELD_OF = {
    "hem_depth_um": "hem_depth",
    "hem_fold_um": "hem_fold",
    "fringe_um": "fringe",
    "fringe_knot_um": "fringe_knot",
    "waste_front_um": "waste_front",
    "warps": "kit_students",
    "beams": "beam_2_keys",
}
"""What calc calls the field that is at fault, as the form calls it, where the two differ."""

_KEYS = re.compile(r"[\s,]+")


class AccentsField(ReadField):
    """Accent ends in one line (a tuple of `Accent`)."""

    def read(self, text: str) -> tuple[Accent, ...]:
        try:
            return read_accents(text)
        except CalcError as error:
            if error.position is None:
                raise
            raise CalcError(f"At character {error.position}: {error.message}") from error

    def write(self, value: tuple[Accent, ...]) -> str:
        return write_accents(value)


class KeysField(ReadField):
    """Keys of shades, such as `B, C`."""

    def read(self, text: str) -> tuple[str, ...]:
        keys = tuple(key.upper() for key in _KEYS.split(text.strip()) if key)
        for key in keys:
            if not (len(key) <= 2 and key.isascii() and key.isalpha()):
                raise CalcError(f"“{key}” is no key: keys are one or two letters, as in B, C.")
        return tuple(dict.fromkeys(keys))

    def write(self, value: tuple[str, ...]) -> str:
        return ", ".join(value)


def _whole(label: str, most: int, one: str, many: str, **kwargs: Any) -> WholeField:
    return WholeField(label=label, most=most, one=one, many=many, required=False, **kwargs)


def _order(label: str, word: str, **kwargs: Any) -> OrderField:
    return OrderField(label=label, word=word, required=False, **kwargs)


class EdgesForm(MeasuredForm):
    """The fields of this kind; `PlanForm` adds all others."""

    ends_as = forms.ChoiceField(
        label="A piece ends in", choices=[*HemKind.choices, (FRINGE, "a fringe")], required=False
    )
    hem = ShortLengthField(label="Hem cloth, both ends together", required=False)
    hem_depth = ShortLengthField(label="Depth of the hem, sewn", required=False)
    hem_fold = ShortLengthField(label="Its first fold", required=False)
    hem_picks = DensityField(
        label="Picks in the hem", noun="picks", required=False, help_text="Empty: as in the body."
    )
    hem_pick_order = _order(
        "Pick order of the hem", "picks", help_text="Empty: the body's order runs on through it."
    )
    whole_pick_repeats = forms.BooleanField(label="Weave the body in whole repeats", required=False)

    fringe = ShortLengthField(label="Fringe, finished", required=False)
    fringe_twisted = forms.TypedChoiceField(
        label="The fringe is",
        coerce=lambda value: value == "twisted",
        choices=[("plain", "plain"), ("twisted", "twisted")],
        required=False,
        empty_value=False,
    )
    fringe_loss = PercentField(
        label="It loses, of its length on the loom",
        required=False,
        help_text="Twisted, 10 to 15 % more than plain.",
    )
    fringe_knot = ShortLengthField(label="Room to tie an outer one on", required=False)
    waste_front = ShortLengthField(label="Loom waste that lies in front", required=False)

    floating_selvedges = forms.BooleanField(label="A floating end on each side", required=False)
    floating_key = KeysField(
        label="Its key", required=False, help_text="Empty: the shade of the edge beside it."
    )
    doubled_ends = _whole("Outermost ends doubled, each side", MOST_DOUBLED, "end", "ends")
    doubled_way = forms.ChoiceField(label="Doubled", choices=DoubledWay.choices, required=False)
    border_order = _order("Border at the left, mirrored at the right", "ends")
    accents = AccentsField(
        label="Accent ends",
        required=False,
        help_text="1 R at 33, 2 S after 60, 1 R in the middle. Places count the ends from the left.",
    )
    accent_way = forms.ChoiceField(
        label="An accent stands", choices=AccentWay.choices, widget=forms.RadioSelect, required=False
    )
    accents_in_weft = forms.BooleanField(label="The accents come in the weft too", required=False)

    kit_students = _whole("Kits for students", MOST_KITS, "kit", "kits")
    kit_demo = _whole("Kits to show with", MOST_KITS, "kit", "kits")
    kit_spare = _whole("Kits to spare", MOST_KITS, "kit", "kits")
    beam_2_keys = KeysField(label="Keys wound on beam 2", required=False)
    beam_2_take_up = PercentField(label="Its take-up, of the woven length", most=Fraction(1), required=False)
    beam_3_keys = KeysField(label="Keys wound on beam 3", required=False)
    beam_3_take_up = PercentField(label="Its take-up, of the woven length", most=Fraction(1), required=False)
    beam_4_keys = KeysField(label="Keys wound on beam 4", required=False)
    beam_4_take_up = PercentField(label="Its take-up, of the woven length", most=Fraction(1), required=False)

    EDGE_FIELDS = (
        *("ends_as", "hem", "hem_depth", "hem_fold", "hem_picks", "hem_pick_order", "whole_pick_repeats"),
        *FRINGE_FIELDS,
        *("floating_selvedges", "floating_key", "doubled_ends", "doubled_way", "border_order"),
        *("accents", "accent_way", "accents_in_weft", "kit_students", "kit_demo", "kit_spare"),
        *(f"beam_{number}_{part}" for number in BEAMS for part in ("keys", "take_up")),
    )
    WEFT_FIELDS = ("hem_picks", "hem_pick_order", "whole_pick_repeats")
    ACROSS_FIELDS = (
        *("floating_selvedges", "floating_key", "doubled_ends", "doubled_way", "border_order"),
        *("accents", "accent_way", "accents_in_weft"),
    )
    SEVERAL_FIELDS = (
        *("kit_students", "kit_demo", "kit_spare"),
        *(f"beam_{number}_{part}" for number in BEAMS for part in ("keys", "take_up")),
    )

    def _any_wrong(self, names: tuple[str, ...]) -> bool:
        return self.is_bound and any(name in self.errors for name in names)

    @property
    def weft_has_errors(self) -> bool:
        return self._any_wrong(self.WEFT_FIELDS)

    @property
    def across_has_errors(self) -> bool:
        return self._any_wrong(self.ACROSS_FIELDS)

    @property
    def several_has_errors(self) -> bool:
        return self._any_wrong(self.SEVERAL_FIELDS)

    @property
    def beam_rows(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        """The beams that are in use and one more."""
        rows = [(self[f"beam_{number}_keys"], self[f"beam_{number}_take_up"]) for number in BEAMS]
        used = max((at + 1 for at, (keys, _) in enumerate(rows) if keys.value()), default=0)
        return rows[: used + 1]

    def drop_unused_edges(self, cleaned: dict[str, Any], *, fills: bool) -> None:
        """Errors in fields that the chosen way does not use are no errors; the fields take their defaults."""
        self.ends_as = cleaned.get("ends_as") or HemKind.GIVEN
        for name in self._unused_edges(cleaned, fills=fills):
            if name in self.errors:
                del self._errors[name]
                cleaned[name] = None
        if not fills:
            cleaned["border_order"] = None
            cleaned["balance_ends"] = 0
        if self.ends_as == FRINGE:
            self._want(cleaned, "fringe", "Say how long the finished fringe is.")
        elif self.ends_as != HemKind.GIVEN:
            self._want(cleaned, "hem_depth", "Say how deep the hem is when it is sewn.")

    def _unused_edges(self, cleaned: Mapping[str, Any], *, fills: bool) -> Iterator[str]:
        used = HEM_OF[self.ends_as]
        yield from (name for name in ("hem", "hem_depth", "hem_fold") if name not in used)
        if self.ends_as == FRINGE:
            yield from ("hem_picks", "hem_pick_order")
        else:
            yield from FRINGE_FIELDS
        if not cleaned.get("floating_selvedges"):
            yield "floating_key"
        if not fills:
            yield from ("border_order", "balance_ends")
        for number in BEAMS:
            if not cleaned.get(f"beam_{number}_keys") and f"beam_{number}_keys" not in self.errors:
                yield f"beam_{number}_take_up"

    def _want(self, cleaned: Mapping[str, Any], name: str, message: str) -> None:
        if not cleaned.get(name) and name not in self.errors:
            self.add_error(name, ValidationError(message, code="required"))

    def edge_facts(self, cleaned: Mapping[str, Any]) -> dict[str, Any]:
        """The plan's own words for what these fields say. Raises CalcError."""
        fringed = self.ends_as == FRINGE
        floating = cleaned.get("floating_key") or ()
        if len(floating) > 1:
            raise CalcError("A floating end is of one shade: give one key.", field="floating_key")
        return {
            "hem_um": 0 if fringed else cleaned.get("hem") or 0,
            "hem": Hem(
                HemKind(HemKind.GIVEN if fringed else self.ends_as).value,
                cleaned.get("hem_depth") or 0,
                cleaned.get("hem_fold") or 0,
                None if fringed else cleaned.get("hem_picks"),
                None if fringed else cleaned.get("hem_pick_order"),
            ),
            "fringe": self._fringe(cleaned) if fringed else NO_FRINGE,
            "waste_front_um": (cleaned.get("waste_front") or 0) if fringed else 0,
            "selvedges": Selvedges(
                bool(cleaned.get("floating_selvedges")),
                floating[0] if floating else "",
                cleaned.get("doubled_ends") or 0,
                DoubledWay(cleaned.get("doubled_way") or DoubledWay.HEDDLE).value,
            ),
            "border": cleaned.get("border_order"),
            "accents": cleaned.get("accents") or (),
            "accent_way": AccentWay(cleaned.get("accent_way") or AccentWay.REPLACES).value,
            "accents_in_weft": bool(cleaned.get("accents_in_weft")),
            "whole_pick_repeats": bool(cleaned.get("whole_pick_repeats")),
            "warps": self.kits(cleaned).warps,
            "beams": self._beams(cleaned),
        }

    def _fringe(self, cleaned: Mapping[str, Any]) -> Fringe:
        return Fringe(
            cleaned.get("fringe") or 0,
            cleaned.get("fringe_loss") or Fraction(0),
            bool(cleaned.get("fringe_twisted")),
            cleaned.get("fringe_knot") or 0,
        )

    def kits(self, cleaned: Mapping[str, Any]) -> Kits:
        return Kits(*(cleaned.get(f"kit_{sort}") or 0 for sort in ("students", "demo", "spare")))

    def _beams(self, cleaned: Mapping[str, Any]) -> tuple[Beam, ...]:
        beams = []
        for number in BEAMS:
            keys, take_up = cleaned.get(f"beam_{number}_keys"), cleaned.get(f"beam_{number}_take_up")
            if keys:
                beams.append(
                    Beam(number, cleaned["take_up"] if take_up is None else take_up, tuple(sorted(keys)))
                )
        return tuple(beams)

    def check_keys(self, worked: WorkedPlan) -> None:
        """A beam carries shades that are in the warp."""
        for beam in worked.plan.beams:
            strange = [key for key in beam.keys if key not in worked.ends_by_key]
            if strange:
                known = ", ".join(worked.ends_by_key)
                self.add_error(
                    f"beam_{beam.number}_keys",
                    f"{strange[0]} has no ends in the warp; its keys are {known}.",
                )


def edges_initial(project: Project, plan: Plan, measures: Measures) -> dict[str, Any]:
    """A stored plan's edges as initial values. A fringe that is not used offers what is usual."""
    usual = usual_edges(measures)
    values = {
        **usual,
        "ends_as": FRINGE if plan.fringe else plan.hem.kind,
        "hem": plan.hem_um,
        "hem_depth": plan.hem.depth_um,
        "hem_fold": plan.hem.fold_um,
        "hem_picks": plan.hem.picks,
        "hem_pick_order": plan.hem.pick_order,
        "whole_pick_repeats": plan.whole_pick_repeats,
        "floating_selvedges": plan.selvedges.floating,
        "floating_key": plan.selvedges.floating_key,
        "doubled_ends": plan.selvedges.doubled_ends,
        "doubled_way": plan.selvedges.doubled_way,
        "border_order": plan.border,
        "accents": plan.accents,
        "accent_way": plan.accent_way,
        "accents_in_weft": plan.accents_in_weft,
        "kit_students": project.kit_students,
        "kit_demo": project.kit_demo,
        "kit_spare": project.kit_spare,
    }
    if plan.fringe:
        values |= {
            "fringe": plan.fringe.finished_um,
            "fringe_twisted": "twisted" if plan.fringe.twisted else "plain",
            "fringe_loss": plan.fringe.loss,
            "fringe_knot": plan.fringe.knot_um,
            "waste_front": plan.waste_front_um,
        }
    for beam in plan.beams:
        values[f"beam_{beam.number}_keys"] = tuple(sorted(beam.keys, key=key_order))
        values[f"beam_{beam.number}_take_up"] = beam.take_up
    return values


def usual_edges(measures: Measures) -> dict[str, Any]:
    """Where a new plan begins: no hem, nothing at the edges, one warp on one beam."""
    return {
        "ends_as": HemKind.GIVEN,
        "hem": 0,
        "hem_depth": 0,
        "hem_fold": 0,
        "fringe": 0,
        "fringe_twisted": "plain",
        "fringe_loss": FRINGE_LOSS,
        "fringe_knot": KNOT[measures.length],
        "waste_front": WASTE_FRONT[measures.length],
        "doubled_ends": 0,
        "doubled_way": DoubledWay.HEDDLE,
        "accent_way": AccentWay.REPLACES,
        "kit_students": 0,
        "kit_demo": 0,
        "kit_spare": 0,
    }
