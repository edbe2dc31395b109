"""What the shelf holds for projects: free is on hand less what others have reserved."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from typing import NamedTuple

from stash.calc.packing import ConeStock
from stash.models import Cone, Reservation

Held = Mapping[int, Mapping[int, int]]
"""mg by claim, then by cone."""


_HOW = ("core_mg", "core_kind_id", "estimated", "form")


def held_by(claim_ids: Iterable[int | None]) -> Held:
    """What these claims hold, by one query; by none where there is no claim."""
    claims = {claim_id for claim_id in claim_ids if claim_id}
    if not claims:
        return {}
    rows = Reservation.objects.filter(claim_id__in=claims).order_by()
    return held_in(rows.values_list("claim_id", "cone_id", "mass_mg"))


def held_in(rows: Iterable[tuple[int, int, int]]) -> Held:
    """The same of rows of claim, cone and mg; warp and weft of one cone are added up."""
    held: dict[int, dict[int, int]] = defaultdict(lambda: defaultdict(int))
    for claim_id, cone_id, mass_mg in rows:
        held[claim_id][cone_id] += mass_mg
    return held


class Weighing(NamedTuple):
    """How the figure of a cone came about, as far as that says how sure it is."""

    on_hand_mg: int
    core_mg: int | None
    of_kind: bool
    """Its core's mass is that of another of its kind."""
    estimated: bool
    form: str


class ShelfReader:
    """The live cones of some shades, by one query however many.

    `of_shade` gives what is free for one claim: its own part of `held` never makes it short. `lot_names` has the
    names of the lots by key, `cone_codes` the codes of the cones. `only` leaves out all cones but those of these
    keys: the ones that a writer has locked. With `weighed`, `weighing` has how each cone's figure came about.
    """

    def __init__(
        self,
        shade_ids: Iterable[int],
        held: Held | None = None,
        *,
        only: Collection[int] | None = None,
        weighed: bool = False,
    ) -> None:
        self._cones: dict[int, list[tuple[int, int | None, int, int]]] = defaultdict(list)
        rows = Cone.objects.usable().filter(shade_id__in=set(shade_ids)).order_by("pk")
        if only is not None:
            rows = rows.filter(pk__in=only)
        self.lot_names: dict[int, str] = {}
        self.cone_codes: dict[int, str] = {}
        self.weighing: dict[int, Weighing] = {}
        for pk, code, shade_id, lot_id, lot_name, on_hand, reserved, *how in rows.values_list(
            "pk",
            "code",
            "shade_id",
            "lot_id",
            "lot__name",
            "on_hand_mg",
            "reserved_mg",
            *(_HOW if weighed else ()),
        ):
            if how:
                core_mg, kind, estimated, form = how
                self.weighing[pk] = Weighing(on_hand, core_mg, kind is not None, estimated, form)
            self.cone_codes[pk] = code
            self._cones[shade_id].append((pk, lot_id, on_hand, reserved))
            if lot_id is not None:
                self.lot_names[lot_id] = lot_name
        self._held = held or {}

    def on_hand_mg(self, shade_id: int) -> int:
        """What is there of a shade, whoever it is reserved for."""
        return sum(on_hand for _, _, on_hand, _ in self._cones.get(shade_id, []))

    def of_shade(self, shade_id: int, claim_id: int | None) -> list[ConeStock]:
        own = self._held.get(claim_id, {}) if claim_id else {}
        return [
            ConeStock(id=pk, lot=lot_id, free_mg=max(0, on_hand - reserved + own.get(pk, 0)))
            for pk, lot_id, on_hand, reserved in self._cones.get(shade_id, [])
        ]
