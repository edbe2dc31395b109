"""Writing yarns, shades and lots."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from stash.calc.counts import Count
from stash.calc.grist import Grist
from stash.models import FibreShare, GristSource, Shade, Yarn
from stash.models.folding import fold
from stash.services.refusal import Refusal
from stash.services.versions import lock_version


@dataclass(frozen=True, slots=True)
class YarnFacts:
    """All that a person says about a yarn."""

    name: str
    count: Count | None = None
    measured: Grist | None = None
    stated: Grist | None = None
    choice: str = ""
    fibres: Mapping[str, int] | None = None
    note: str = ""


def trusted_grist(facts: YarnFacts) -> tuple[str, Grist]:
    """Which length per mass is used: the person's choice, else measured, stated, computed.

    Raises Refusal when there is none, or none of the kind chosen.
    """
    known = {
        GristSource.MEASURED: facts.measured,
        GristSource.STATED: facts.stated,
        GristSource.COMPUTED: facts.count.grist if facts.count else None,
    }
    if facts.choice:
        chosen = known[GristSource(facts.choice)]
        if chosen is None:
            label = GristSource(facts.choice).label
            raise Refusal(f"You chose the length per mass {label}, but there is none.", field="choice")
        return facts.choice, chosen
    for source, grist in known.items():
        if grist is not None:
            return source, grist
    raise Refusal(
        "Give a count with its system, or a length per mass: without either no length can be reckoned.",
        field="count",
    )


@transaction.atomic
def save_yarn(*, facts: YarnFacts, pk: int | None = None, version: int | None = None) -> Yarn:
    """Make a yarn, or change the one of that key. Raises Refusal, or ValidationError naming the field."""
    yarn = lock_version(Yarn.objects.all(), pk, version, "This yarn") if pk else Yarn()
    fibres = dict(facts.fibres or {})
    if fibres and sum(fibres.values()) != 100:
        raise Refusal(
            f"The fibres add up to {sum(fibres.values())} %. Together they must be 100 %.", field="fibres"
        )
    source, grist = trusted_grist(facts)
    count = facts.count
    yarn.name = facts.name.strip()
    yarn.count_system = count.system.value if count else ""
    yarn.count_numerator = count.number.numerator if count else None
    yarn.count_denominator = count.number.denominator if count else None
    yarn.count_ply = count.ply if count else None
    yarn.count_written = count.written if count else ""
    yarn.measured_um, yarn.measured_mg = _pair(facts.measured)
    yarn.stated_um, yarn.stated_mg = _pair(facts.stated)
    yarn.grist_choice, yarn.grist_source = facts.choice, source
    yarn.grist_um, yarn.grist_mg = grist.length_um, grist.mass_mg
    yarn.note = facts.note.strip()
    yarn.search = fold(yarn.name, yarn.count_written, *fibres)
    yarn.full_clean()
    yarn.save()
    yarn.fibres.all().delete()
    FibreShare.objects.bulk_create(
        FibreShare(yarn=yarn, fibre=fibre, percent=percent) for fibre, percent in fibres.items()
    )
    return yarn


def _pair(grist: Grist | None) -> tuple[int | None, int | None]:
    return (grist.length_um, grist.mass_mg) if grist else (None, None)


@transaction.atomic
def save_shade(
    *,
    yarn_id: int,
    name: str,
    colour: str = "",
    keep_mg: int | None = None,
    note: str = "",
    pk: int | None = None,
    version: int | None = None,
) -> Shade:
    """Make a shade, or change the one of that key. Raises Refusal, or ValidationError naming the field."""
    shade = lock_version(Shade.objects.all(), pk, version, "This shade") if pk else Shade(yarn_id=yarn_id)
    shade.name = name.strip()
    shade.colour = colour.strip().lower()
    shade.keep_mg = keep_mg
    shade.note = note.strip()
    shade.search = fold(shade.name)
    twin = Shade.objects.filter(yarn_id=shade.yarn_id, search=shade.search).exclude(pk=shade.pk).first()
    if twin:
        raise Refusal(f"This yarn has the shade {twin.name} already.", field="name")
    shade.full_clean()
    shade.save()
    return shade


@transaction.atomic
def retire_shade(*, pk: int, back: bool = False) -> Shade:
    """Take a shade out of the lists, or bring it back. Its cones must be retired first; plans keep it."""
    shade = Shade.objects.select_for_update(of=("self",)).get(pk=pk)
    if not back and shade.cones.filter(retired_at=None).exists():
        raise Refusal(f"Cones of {shade.name} stand on the shelf. Retire them first, then the shade.")
    shade.retired_at = None if back else timezone.now()
    shade.version += 1
    shade.save(update_fields=["retired_at", "version"])
    return shade


@transaction.atomic
def retire_yarn(*, pk: int, back: bool = False) -> Yarn:
    """Take a yarn out of the lists, or bring it back. Its shades must be retired first."""
    yarn = Yarn.objects.select_for_update(of=("self",)).get(pk=pk)
    if not back and yarn.shades.filter(retired_at=None).exists():
        raise Refusal(f"{yarn.name} has shades in use. Retire them first, then the yarn.")
    yarn.retired_at = None if back else timezone.now()
    yarn.version += 1
    yarn.save(update_fields=["retired_at", "version"])
    return yarn
