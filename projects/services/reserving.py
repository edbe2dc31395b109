"""A project's reservation: decide from locked rows, take, freeze. See `stash.services.reserving`."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from projects.models import Project, ProjectShade
from projects.stock import ShelfReader
from projects.wish_words import wished_by_shade
from stash.calc.packing import Packing, Proposal, propose
from stash.models import Claim
from stash.services import reserving as shelf
from stash.services.refusal import Refusal
from stash.services.using import is_begun


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a reservation came to, by shade key."""

    proposals: dict[str, Proposal]
    names: dict[str, str]
    """The shades' names by key, as they were when it was reserved, with the lots that are wished for."""

    @property
    def short_keys(self) -> list[str]:
        return [
            key for key, proposal in self.proposals.items() if proposal.short_ends or proposal.short_weft_um
        ]

    @property
    def bare_keys(self) -> list[str]:
        """Served, but without the whole buffer."""
        return [
            key for key, found in self.proposals.items() if not found.buffered and key not in self.short_keys
        ]


def reserve_project(*, pk: int, version: int | None = None) -> Outcome:
    """Put aside what the plan needs: the buffered need of a shade if it is there, else the bare need, else
    what there is, and keep the rest as a shortage. What the project held before is given back first.

    Raises Refusal if the project is gone, is put away, or was changed since `version` was looked at.
    """
    with transaction.atomic(durable=True):
        project = lock_project(pk)
        refuse_unfit(project, version)
        claim_id = claim_of(project)
        if is_begun(claim_id=claim_id):
            raise Refusal(
                "Yarn was wound or weighed back for this project already: reserved anew it would count twice. "
                "Weigh back the cones, or take those entries back on the cones' pages first."
            )
        rows = list(project.shades.select_related("shade__yarn", "wish_lot", "wish_cone"))
        locked = shelf.lock_holdings(claim_id, {row.shade_id for row in rows})
        shelf.give_back(claim_id=claim_id)
        # A cone that came in since is not locked, so it is left for the next time.
        reader = ShelfReader([row.shade_id for row in rows], only={cone.pk for cone in locked})
        proposals = {
            row.key: propose(
                row.need(),
                row.warp_um or project.warp_um,
                project.pieces_in_all,
                project.keep_back,
                row.grist,
                reader.of_shade(row.shade_id, None),
            )
            for row in rows
        }
        packings = [(row, proposals[row.key].packing) for row in rows]
        shelf.take(claim_id=claim_id, wanted=wanted_of(packings), missing=missing_of(packings))
        freeze(rows)
    wished = wished_by_shade(rows)
    names = {row.key: f"{row.shade.name} {wished.get(row.shade_id, '')}".strip() for row in rows}
    return Outcome(proposals, names)


Packed = Sequence[tuple[ProjectShade, Packing]]


def refuse_unfit(project: Project, version: int | None) -> None:
    """Raises Refusal where nothing can be reserved for a project, or where it is another than was looked at."""
    if project.closed_at:
        raise Refusal("This project is put away. Take it out again before reserving for it.")
    if project.trial_of_id:
        raise Refusal(
            "A trial holds no yarn. Keep its plan, instead of the first or beside it; then reserve."
        )
    if version is not None and version != project.version:
        raise Refusal("The plan was changed in another window. Read it again, then reserve.")
    if project.open_keys:
        keys = project.open_keys.replace(" ", ", ")
        raise Refusal(
            f"No shade stands for {keys} yet. Say in the plan which yarn that is, keep it, then reserve.",
            field="shades",
        )


def wanted_of(packed: Packed) -> list[shelf.Wanted]:
    return [
        shelf.Wanted(line.cone_id, line.use, line.ends, line.length_um, line.mass_mg)
        for _, packing in packed
        for line in packing.lines
    ]


def missing_of(packed: Packed) -> list[shelf.Missing]:
    """What the shelf did not have, of each shade of which that is anything."""
    found = []
    for row, packing in packed:
        short_um = packing.ends_missing * row.warp_um + packing.weft_missing_um
        if short_um:
            mass = -(-row.grist.mass_mg_of(short_um) // 1)
            found.append(shelf.Missing(row.shade_id, packing.ends_missing, short_um, int(mass)))
    return found


def freeze(rows: Iterable[ProjectShade]) -> None:
    """Keep the lengths per mass of the first reservation."""
    for row in rows:
        if row.frozen_um is None:
            grist = row.shade.yarn.grist
            row.frozen_um, row.frozen_mg = grist.length_um, grist.mass_mg
            row.save(update_fields=["frozen_um", "frozen_mg"])


def release_project(*, pk: int) -> None:
    """Give back all that the project holds."""
    claim_id = Project.objects.filter(pk=pk).values_list("claim_id", flat=True).first()
    if claim_id:
        shelf.release(claim_id=claim_id)


@transaction.atomic
def take_new_grist(*, pk: int) -> None:
    """Reckon from now on with the yarns' present lengths per mass, by the person's choice."""
    project = lock_project(pk)
    if project.closed_at:
        raise Refusal("This project is put away. Take it out again before changing what it reckons with.")
    for row in project.shades.select_related("shade__yarn"):
        if row.grist_moved:
            row.frozen_um, row.frozen_mg = row.shade.yarn.grist_um, row.shade.yarn.grist_mg
            row.save(update_fields=["frozen_um", "frozen_mg"])
    project.version += 1
    project.save(update_fields=["version"])


def lock_project(pk: int) -> Project:
    project = Project.objects.select_for_update(of=("self",), no_key=True).filter(pk=pk).first()
    if project is None:
        raise Refusal("There is no such project any more.")
    return project


def claim_of(project: Project) -> int:
    """The key of the project's claim, made at its first reservation, with its present name, day and rank."""
    if project.claim_id is None:
        project.claim = Claim.objects.create(
            name=project.name, need_on=project.need_on, rank=project.rank, made_at=timezone.now()
        )
        project.save(update_fields=["claim"])
        return project.claim.pk
    Claim.objects.filter(pk=project.claim_id).update(
        name=project.name, need_on=project.need_on, rank=project.rank
    )
    return project.claim_id
