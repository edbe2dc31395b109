"""Locks. One order for all: project, claim, yarn, shade by yarn and key, cones by primary key; late,
before what they guard.

On PostgreSQL these are row locks, of the kind that lets others point at the row meanwhile (`no_key`): a
foreign key to a locked row waits for nothing, so that only our own order can matter. On SQLite every
writer holds the whole database from its first statement on (`transaction_mode: IMMEDIATE`), and
`select_for_update` asks for nothing more.
"""

from collections.abc import Iterable

from stash.models import Cone, Shade, Yarn
from stash.services.refusal import Refusal


def lock_cone(cone_id: int) -> Cone:
    """The cone, locked until the transaction ends. Raises Refusal if there is none."""
    cone = Cone.objects.select_for_update(of=("self",), no_key=True).filter(pk=cone_id).first()
    if cone is None:
        raise Refusal("There is no such cone any more.")
    return cone


def lock_cones(cone_ids: Iterable[int]) -> dict[int, Cone]:
    """Those cones by key, locked by primary key until the transaction ends. Raises Refusal if one is missing."""
    wanted = set(cone_ids)
    locked = Cone.objects.select_for_update(of=("self",), no_key=True).filter(pk__in=wanted).order_by("pk")
    found = {cone.pk: cone for cone in locked}
    if len(found) < len(wanted):
        raise Refusal("There is no such cone any more.")
    return found


def lock_shade(shade_id: int) -> Shade:
    """The shade, locked, so that it is not retired while a cone of it comes. Raises Refusal if there is none."""
    shade = Shade.objects.select_for_update(of=("self",), no_key=True).filter(pk=shade_id).first()
    if shade is None:
        raise Refusal("There is no such shade any more.", field="shade")
    return shade


def lock_shades(shade_ids: Iterable[int]) -> dict[int, Shade]:
    """Those shades by key, locked by yarn and key until the transaction ends. Raises Refusal if one is missing."""
    wanted = set(shade_ids)
    locked = Shade.objects.select_for_update(of=("self",), no_key=True).filter(pk__in=wanted)
    found = {shade.pk: shade for shade in locked.order_by("yarn_id", "pk")}
    if len(found) < len(wanted):
        raise Refusal("There is no such shade any more.", field="shade")
    return found


def lock_yarn(yarn_id: int) -> Yarn:
    """The yarn, locked, so that its shades come and go one after the other. Raises Refusal if there is none."""
    yarn = Yarn.objects.select_for_update(of=("self",), no_key=True).filter(pk=yarn_id).first()
    if yarn is None:
        raise Refusal("There is no such yarn any more.", field="yarn")
    return yarn
