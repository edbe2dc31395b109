"""What can be woven from what is free: how far the shelf goes for each saved plan, each alone."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import prefetch_related_objects

from projects.models import Project
from projects.stock import ShelfReader, held_by
from stash.calc.most import Most, Stock, most_pieces


@dataclass(frozen=True, slots=True)
class Weavable:
    project: Project
    most: Most
    stops_at: str
    """Name of the shade that stops the next piece; "" where the shelf is no limit."""
    missing_um: int
    """What that shade misses for one more."""

    @property
    def pieces(self) -> int:
        """Of all the plan's like warps."""
        return self.most.pieces * self.project.warps

    @property
    def enough(self) -> bool:
        return self.most.pieces >= self.project.pieces


def weavable(projects: Sequence[Project]) -> list[Weavable]:
    """Each project alone, with what it holds itself: two queries, however many, and one for the reeds that any of
    them is sleyed in. They come with their shades."""
    prefetch_related_objects(projects, "reed")
    reader = ShelfReader(
        {row.shade_id for project in projects for row in project.shades.all()},
        held_by(project.claim_id for project in projects),
    )
    return [_weavable(project, reader) for project in projects]


def _weavable(project: Project, reader: ShelfReader) -> Weavable:
    rows = {row.key: row for row in project.shades.all()}
    stock = {
        key: Stock(row.grist, reader.of_shade(row.shade_id, project.claim_id)) for key, row in rows.items()
    }
    most = most_pieces(project.plan, stock)
    key = most.stopping_key
    missing = most.missing_warp_um + most.missing_weft_um
    return Weavable(project, most, rows[key].shade.name if key in rows else key or "", missing)
