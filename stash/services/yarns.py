"""Writing yarns, shades and lots."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from django.db import transaction
from django.utils import timezone

from stash.calc.counts import Count
from stash.calc.grist import Grist
from stash.models import FibreShare, GristSource, Shade, Yarn
from stash.models.folding import fold
from stash.services.locking import lock_shade, lock_yarn
from stash.services.ordering import open_order_of
from stash.services.refusal import Refusal
from stash.services.saving import save_checked
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
    fibres = _checked_fibres(facts.fibres or {})
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
    twin = Yarn.objects.filter(name__iexact=yarn.name).exclude(pk=yarn.pk).first()
    if twin:
        raise Refusal(f"There is a yarn {twin.name} already.", field="name")
    save_checked(yarn)
    yarn.fibres.all().delete()
    FibreShare.objects.bulk_create(
        FibreShare(yarn=yarn, fibre=fibre, percent=percent) for fibre, percent in fibres.items()
    )
    return yarn


def _checked_fibres(fibres: Mapping[str, int]) -> dict[str, int]:
    """Names without spaces around; raises Refusal unless each share is sensible and all are 100 %."""
    checked = {fibre.strip(): percent for fibre, percent in fibres.items()}
    most = FibreShare._meta.get_field("fibre").max_length
    if len({fold(fibre) for fibre in checked}) < len(fibres):
        raise Refusal("The same fibre stands twice. Write it once, with its whole share.", field="fibres")
    if not all(0 < len(fibre) <= most for fibre in checked):
        raise Refusal(f"Name each fibre with 1 to {most} characters.", field="fibres")
    if not all(1 <= percent <= 100 for percent in checked.values()):
        raise Refusal("Give each fibre a share from 1 to 100 %.", field="fibres")
    if checked and sum(checked.values()) != 100:
        raise Refusal(
            f"The fibres add up to {sum(checked.values())} %. Together they must be 100 %.", field="fibres"
        )
    return checked


def _pair(grist: Grist | None) -> tuple[int | None, int | None]:
    return (grist.length_um, grist.mass_mg) if grist else (None, None)


@transaction.atomic
def save_shade(
    *,
    yarn_id: int,
    name: str,
    colour: str = "",
    keep_mg: int | None = None,
    one_more: bool = False,
    note: str = "",
    pk: int | None = None,
    version: int | None = None,
) -> Shade:
    """Make a shade, or change the one of that key. Raises Refusal, or ValidationError naming the field."""
    yarn = lock_yarn(_yarn_of(pk) if pk else yarn_id)
    if not pk and yarn.retired_at:
        raise Refusal(f"{yarn.name} is retired. Bring the yarn back before adding a shade of it.")
    shade = lock_version(Shade.objects.all(), pk, version, "This shade") if pk else Shade(yarn=yarn)
    shade.name = name.strip()
    shade.colour = colour.strip().lower()
    shade.keep_mg = keep_mg
    shade.one_more = one_more
    shade.note = note.strip()
    shade.search = fold(shade.name)
    twin = Shade.objects.filter(yarn_id=shade.yarn_id, search=shade.search).exclude(pk=shade.pk).first()
    if twin:
        raise Refusal(f"This yarn has the shade {twin.name} already.", field="name")
    save_checked(shade)
    return shade


@transaction.atomic
def say_no_more_made(*, pk: int, on: date | None, version: int | None = None) -> Shade:
    """Note since when it is known that a shade is no more made, or (None) that it is made after all.

    Raises Refusal naming `on`, or ChangedMeanwhile.
    """
    lock_yarn(_yarn_of(pk))
    shade = lock_version(Shade.objects.all(), pk, version, "This shade")
    if on is not None and on > timezone.localdate():
        raise Refusal("That day is still to come. Give the day on which it became known.", field="on")
    shade.no_more_on = on
    shade.save(update_fields=["no_more_on", "version"])
    return shade


def _yarn_of(shade_pk: int) -> int:
    return Shade.objects.values_list("yarn_id", flat=True).get(pk=shade_pk)


@transaction.atomic
def retire_shade(*, pk: int, back: bool = False) -> Shade:
    """Take a shade out of the lists, or bring it back. Its cones must be retired first; plans keep it.

    Raises Refusal.
    """
    yarn = lock_yarn(_yarn_of(pk))
    shade = lock_shade(pk)
    if back and yarn.retired_at:
        raise Refusal(f"{yarn.name} is retired. Bring the yarn back first, then the shade.")
    if not back and shade.cones.filter(retired_at=None).exists():
        raise Refusal(f"Cones of {shade.name} stand on the shelf. Retire them first, then the shade.")
    if not back and (order := open_order_of(shade)):
        raise Refusal(
            f"{shade.name} stands in {str(order).lower()}, which is open. Receive it or cancel it first, then retire "
            "the shade."
        )
    shade.retired_at = None if back else timezone.now()
    shade.version += 1
    shade.save(update_fields=["retired_at", "version"])
    return shade


@transaction.atomic
def retire_yarn(*, pk: int, back: bool = False) -> Yarn:
    """Take a yarn out of the lists, or bring it back. Its shades must be retired first."""
    yarn = lock_yarn(pk)
    if not back and yarn.shades.filter(retired_at=None).exists():
        raise Refusal(f"{yarn.name} has shades in use. Retire them first, then the yarn.")
    yarn.retired_at = None if back else timezone.now()
    yarn.version += 1
    yarn.save(update_fields=["retired_at", "version"])
    return yarn
