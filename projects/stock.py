"""What the shelf holds for projects: free is on hand less what others have reserved."""

from collections import defaultdict
from collections.abc import Collection, Iterable

from projects.models import Project
from stash.calc.packing import ConeStock
from stash.models import Cone, Reservation

Shelf = dict[int, list[ConeStock]]


class ShelfReader:
    """The live cones of all shades that some projects use, in two queries however many projects.

    `of(project)` gives, by shade key, what is free for that project: its own reservation never makes
    it short. `only` leaves out all cones but those of these keys: the ones that a writer has locked.
    """

    def __init__(
        self,
        projects: Iterable[Project],
        extra_shade_ids: Iterable[int] = (),
        *,
        only: Collection[int] | None = None,
    ) -> None:
        projects = list(projects)
        shade_ids = {row.shade_id for project in projects for row in project.shades.all()} | set(
            extra_shade_ids
        )
        claim_ids = {project.claim_id for project in projects if project.claim_id}
        self._cones: dict[int, list[tuple[int, int | None, int, int]]] = defaultdict(list)
        rows = Cone.objects.usable().filter(shade_id__in=shade_ids).order_by("pk")
        if only is not None:
            rows = rows.filter(pk__in=only)
        for pk, shade_id, lot_id, on_hand, reserved in rows.values_list(
            "pk", "shade_id", "lot_id", "on_hand_mg", "reserved_mg"
        ):
            self._cones[shade_id].append((pk, lot_id, on_hand, reserved))
        self._own: dict[int, dict[int, int]] = defaultdict(lambda: defaultdict(int))
        if claim_ids:
            held = Reservation.objects.filter(claim_id__in=claim_ids)
            for claim_id, cone_id, mass in held.values_list("claim_id", "cone_id", "mass_mg"):
                self._own[claim_id][cone_id] += mass

    def of_shade(self, shade_id: int, claim_id: int | None) -> list[ConeStock]:
        own = self._own.get(claim_id, {}) if claim_id else {}
        return [
            ConeStock(id=pk, lot=lot_id, free_mg=max(0, on_hand - reserved + own.get(pk, 0)))
            for pk, lot_id, on_hand, reserved in self._cones.get(shade_id, [])
        ]

    def of(self, project: Project) -> dict[str, list[ConeStock]]:
        return {row.key: self.of_shade(row.shade_id, project.claim_id) for row in project.shades.all()}
