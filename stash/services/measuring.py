"""A yarn's own length per mass: lengths wound off and weighed."""

from collections.abc import Sequence

from django.db import transaction

from stash.calc.grist import Grist
from stash.models import GristSource, Reservation, Yarn
from stash.services.refusal import Refusal
from stash.services.versions import lock_version


def together(weighings: Sequence[tuple[int, int]]) -> Grist:
    """All lengths (um) against all masses (mg), exactly: a long weighing counts for more than a short one."""
    return Grist(sum(length_um for length_um, _ in weighings), sum(mass_mg for _, mass_mg in weighings))


@transaction.atomic
def measure_yarn(*, pk: int, version: int | None, weighings: Sequence[tuple[int, int]]) -> Yarn:
    """Keep what was measured; it is in use from now on, unless another figure was chosen by hand. Raises Refusal."""
    if not weighings:
        raise Refusal("Give a length and what it weighs.", field="length-1")
    yarn = lock_version(Yarn.objects.all(), pk, version, "This yarn")
    grist = together(weighings)
    yarn.measured_um, yarn.measured_mg = grist.length_um, grist.mass_mg
    if yarn.grist_choice in ("", GristSource.MEASURED):
        yarn.grist_source = GristSource.MEASURED
        yarn.grist_um, yarn.grist_mg = grist.length_um, grist.mass_mg
    yarn.full_clean()
    yarn.save()
    return yarn


def reserved_otherwise(yarn: Yarn) -> list[str]:
    """Names of the claims whose reservations were reckoned with another length per mass than the yarn has now.

    A mass is whole mg, rounded by line, and for warp by end at most; no more than that may part the two.
    """
    lines = Reservation.objects.filter(cone__shade__yarn=yarn).select_related("claim")
    return sorted(
        {
            line.claim.name
            for line in lines
            if abs(line.mass_mg - yarn.grist.mass_mg_of(line.length_um)) > max(1, line.ends)
        }
    )
