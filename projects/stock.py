"""What the shelf holds for projects: free is on hand less what others have reserved."""

from collections import defaultdict
from collections.abc import Collection, Iterable

from stash.calc.packing import ConeStock
from stash.models import Cone, Reservation


class ShelfReader:
    """The live cones of some shades, and what some claims hold of them: two queries, however many.

    `of_shade` gives what is free for one claim: its own reservation never makes it short. `lot_names` has the
    names of the lots by key. `only` leaves out all cones but those of these keys: the ones that a writer has
    locked.
    """

    def __init__(
        self,
        shade_ids: Iterable[int],
        claim_ids: Iterable[int | None] = (),
        *,
        only: Collection[int] | None = None,
    ) -> None:
        self._cones: dict[int, list[tuple[int, int | None, int, int]]] = defaultdict(list)
        rows = Cone.objects.usable().filter(shade_id__in=set(shade_ids)).order_by("pk")
        if only is not None:
            rows = rows.filter(pk__in=only)
        self.lot_names: dict[int, str] = {}
        for pk, shade_id, lot_id, lot_name, on_hand, reserved in rows.values_list(
            "pk", "shade_id", "lot_id", "lot__name", "on_hand_mg", "reserved_mg"
        ):
            self._cones[shade_id].append((pk, lot_id, on_hand, reserved))
            if lot_id is not None:
                self.lot_names[lot_id] = lot_name
        self._own: dict[int, dict[int, int]] = defaultdict(lambda: defaultdict(int))
        claims = {claim_id for claim_id in claim_ids if claim_id}
        if claims:
            held = Reservation.objects.filter(claim_id__in=claims).order_by()
            for claim_id, cone_id, mass in held.values_list("claim_id", "cone_id", "mass_mg"):
                self._own[claim_id][cone_id] += mass

    def of_shade(self, shade_id: int, claim_id: int | None) -> list[ConeStock]:
        own = self._own.get(claim_id, {}) if claim_id else {}
        return [
            ConeStock(id=pk, lot=lot_id, free_mg=max(0, on_hand - reserved + own.get(pk, 0)))
            for pk, lot_id, on_hand, reserved in self._cones.get(shade_id, [])
        ]
