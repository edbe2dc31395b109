"""Of which lots a project takes its shades: a choice for each, with what is free of every lot and cone."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Any

from django import forms

from projects.judging import ShadeLine
from projects.models import ProjectShade
from projects.models.shade import LotWish
from projects.outputs import Outputs
from projects.services.wishes import Wished
from projects.wish_words import out_of_reach, wish_words
from projects.wording import counted
from stash.calc.packing import ConeStock
from stash.calc.writing import Measures
from stash.forms.fields import MeasuredForm


def wish_field(key: str) -> str:
    return f"wish_{key}"


class WishesForm(MeasuredForm):
    """A field to a shade: `any`, `same`, `lot-12` or `cone-44`."""

    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1, max_value=2_000_000_000)

    def __init__(
        self,
        *args: Any,
        measures: Measures,
        rows: Iterable[ProjectShade],
        found: Outputs,
        version: int,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, measures=measures, initial={"version": version}, **kwargs)
        self.fields["version"].error_messages = dict.fromkeys(
            self.fields["version"].error_messages, "This page is too old to choose from. Read it again."
        )
        self.rows = [row for row in rows if row.key in {line.key for line in found.judged.lines}]
        lines = {line.key: line for line in found.judged.lines}
        for row in self.rows:
            self.fields[wish_field(row.key)] = forms.ChoiceField(
                label=f"{row.key}: {row.shade.name}",
                initial=_value(row),
                choices=_choices(row, lines[row.key], found, measures),
                help_text=out_of_reach(row),
                error_messages={
                    "invalid_choice": f"That lot or cone of {row.shade.name} is not on the shelf any more. "
                    "Choose again.",
                    "required": f"Choose of which lots {row.shade.name} is taken.",
                },
            )

    @property
    def rows_of_fields(self) -> list[forms.BoundField]:
        return [self[wish_field(row.key)] for row in self.rows]

    @property
    def said(self) -> str:
        """What is wished, for the folded form."""
        wishes = [f"{row.shade.name}: {wish_words(row)}" for row in self.rows if row.wish != LotWish.ANY]
        return "; ".join(wishes) or "any lot, rather one of each"

    def wishes(self) -> dict[str, Wished]:
        return {row.key: _read(self.cleaned_data[wish_field(row.key)]) for row in self.rows}


def _value(row: ProjectShade) -> str:
    if row.wish == LotWish.LOT:
        return f"lot-{row.wish_lot_id}"
    return f"cone-{row.wish_cone_id}" if row.wish == LotWish.CONE else row.wish


def _read(value: str) -> Wished:
    """Of a value that is among the choices."""
    wish, _, pk = value.partition("-")
    return Wished(wish, int(pk) if wish == LotWish.LOT else None, int(pk) if wish == LotWish.CONE else None)


Choice = tuple[str, str]


def _choices(
    row: ProjectShade, line: ShadeLine, found: Outputs, measures: Measures
) -> list[Choice | tuple[str, list[Choice]]]:
    """The lots and cones of which something is free, and what is wished now."""
    lots: dict[int, list[ConeStock]] = defaultdict(list)
    cones: list[ConeStock] = []
    for cone in line.cones:
        if cone.free_mg or cone.id == row.wish_cone_id or cone.lot == row.wish_lot_id:
            cones.append(cone)
            if cone.lot is not None:
                lots[cone.lot].append(cone)
    names = found.lot_names
    of_lots = [
        (f"lot-{lot}", f"lot {names[lot]}: {_free(line, held, measures)}")
        for lot, held in sorted(lots.items(), key=lambda pair: names[pair[0]])
    ]
    of_cones = [
        (f"cone-{cone.id}", _cone(line, cone, names, found.cone_codes, measures))
        for cone in sorted(cones, key=lambda cone: found.cone_codes[cone.id])
    ]
    own = _value(row)
    if row.wish in (LotWish.LOT, LotWish.CONE) and own not in dict([*of_lots, *of_cones]):
        own_choice = [(own, f"{wish_words(row)}: nothing to take")]
        of_lots, of_cones = (
            (own_choice + of_lots, of_cones) if row.wish == LotWish.LOT else (of_lots, own_choice + of_cones)
        )
    choices: list[Choice | tuple[str, list[Choice]]] = [
        (LotWish.ANY.value, LotWish.ANY.label),
        (LotWish.SAME.value, LotWish.SAME.label),
    ]
    choices += [
        (name, those) for name, those in (("Of one lot", of_lots), ("Of one cone", of_cones)) if those
    ]
    return choices


def _cone(
    line: ShadeLine, cone: ConeStock, lots: Mapping[int, str], codes: Mapping[int, str], measures: Measures
) -> str:
    lot = "unknown lot" if cone.lot is None else f"lot {lots[cone.lot]}"
    return f"cone {codes[cone.id]}, {lot}: {_free(line, [cone], measures)}"


def _free(line: ShadeLine, cones: Iterable[ConeStock], measures: Measures) -> str:
    """96 whole ends; 1,152 yd (248 g). Ends only where the warp takes any."""
    cones = list(cones)
    mass = sum(cone.free_mg for cone in cones)
    lengths = [cone.free_mg * line.grist.length_um // line.grist.mass_mg for cone in cones]
    free = f"{measures.long_length(sum(lengths), 'down')} ({measures.mass(mass, 'down')}) free"
    if not line.need.ends:
        return free
    ends = sum(length // line.warp_um for length in lengths)
    return f"{counted(ends, 'whole end')}, {free}"
