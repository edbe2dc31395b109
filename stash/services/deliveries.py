"""Several cones at once, as they come out of a parcel; deliveries that come in parts."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db import transaction
from django.utils import timezone

from stash.calc.money import shared
from stash.models import Cone, CoreKind, Delivery, Form, Order, OrderLine, Person, Shade, Supplier
from stash.services.locking import lock_shade, lock_yarn
from stash.services.receiving import check_name, find_shade, receive_cone
from stash.services.refusal import Refusal
from stash.services.taking_in import OfOrder, check_line, count_in, lock_line

MOST_AT_ONCE = 60


@dataclass(frozen=True, slots=True)
class Package:
    """One cone of a parcel, on line `at` of the form. Without a weight the labelled one counts, as a guess."""

    at: int
    scale_mg: int | None = None
    labelled_mg: int | None = None
    core_kind_id: int | None = None
    core_mg: int | None = None
    place: str = ""


def find_supplier(name: str) -> Supplier | None:
    """The supplier of that name, in any case, made if it is new; None for none. Raises ValidationError."""
    name = name.strip()
    if not name:
        return None
    check_name(Supplier, name, "supplier")
    known = Supplier.objects.filter(name__iexact=name).first()
    return known or Supplier.objects.get_or_create(name=name)[0]


def lock_delivery(pk: int) -> Delivery:
    """The delivery, locked. Raises Refusal if there is none."""
    found = Delivery.objects.select_for_update(of=("self",), no_key=True).filter(pk=pk).first()
    if found is None:
        raise Refusal("There is no such delivery any more.")
    return found


@transaction.atomic
def receive_several(
    *,
    yarn_id: int,
    shade: str,
    packages: Sequence[Package],
    by: Person,
    gross: bool = False,
    lot: str = "",
    form: str = Form.CONE,
    price_cents: int | None = None,
    price_is_each: bool = True,
    supplier: str = "",
    expected_cones: int | None = None,
    received_on: date | None = None,
    delivery_id: int | None = None,
    of_order: OfOrder | None = None,
    apart_until: date | None = None,
) -> tuple[Delivery | None, list[Cone]]:
    """Put all cones of one shade and lot on the shelf, or none, with the delivery they came in.

    A new delivery is written when a supplier, or how many should come, is told; `delivery_id` adds to one that
    is open. With `of_order` they are counted at its line, of whose shade they are, and come in the order's parcel of
    that day. `apart_until` keeps them in quarantine. A price for all is shared in whole cents, so that the cones'
    prices add up to it. Raises Refusal, or ValidationError; what is about one line names it: "weight-3".
    """
    order = line = None
    if of_order is not None:
        order, line = lock_line(of_order.line_id)
    if not packages:
        raise Refusal("Give the weight of one cone at least.", field="weight-1")
    if len(packages) > MOST_AT_ONCE:
        raise Refusal(f"At most {MOST_AT_ONCE} cones at once. Keep these, then the others.")
    received_on = _day_it_came(received_on, apart_until, order)
    if of_order is not None and order is not None and line is not None:
        check_line(line, of_order, number=len(packages), lot=lot)
        delivery: Delivery | None = _parcel(order, received_on)
    else:
        delivery = _delivery(delivery_id, supplier, expected_cones, received_on)
    prices: list[int | None] = [None] * len(packages)
    if price_cents is not None:
        prices = [price_cents] * len(packages) if price_is_each else [*shared(price_cents, len(packages))]
    known = _shade_of(line) if line is not None else find_shade(yarn_id, shade)
    kinds = CoreKind.objects.in_bulk([one.core_kind_id for one in packages if one.core_kind_id])
    cones = []
    for package, price in zip(packages, prices, strict=True):
        kind = kinds.get(package.core_kind_id or 0)
        if package.core_kind_id and kind is None:
            raise Refusal("There is no such kind of core any more.", field=f"core-{package.at}")
        scale_mg = package.labelled_mg if package.scale_mg is None else package.scale_mg
        if scale_mg is None:
            raise Refusal("Give its weight, or what its label says.", field=f"weight-{package.at}")
        try:
            cone = receive_cone(
                shade=known,
                scale_mg=scale_mg,
                gross=gross and package.scale_mg is not None,
                core_mg=kind.mass_mg if kind else package.core_mg,
                core_kind=kind,
                labelled_mg=package.labelled_mg,
                price_cents=price,
                delivery=delivery,
                is_estimate=package.scale_mg is None,
                lot=lot,
                form=form,
                place=package.place,
                order_line=line,
                apart_until=apart_until,
                by=by,
            )
        except Refusal as error:
            if error.field in ("weight", "core"):
                raise Refusal(error.message, field=f"{error.field}-{package.at}") from error
            raise
        cones.append(cone)
    if order is not None and line is not None:
        count_in(order, line, len(cones))
    return delivery, cones


def _day_it_came(received_on: date | None, apart_until: date | None, order: Order | None) -> date:
    """The day told, or today. Raises Refusal for one that cannot be."""
    today = timezone.localdate()
    day = received_on or today
    if day > today:
        raise Refusal("That day is still to come. Receive cones once they are here.", field="received_on")
    if order and order.ordered_on and day < order.ordered_on:
        raise Refusal(
            f"It was ordered on {order.ordered_on.day} {order.ordered_on:%B %Y}: it came on that day or later.",
            field="received_on",
        )
    if apart_until is not None and apart_until < today:
        raise Refusal("That day is over. Give a day to come, or leave it empty.", field="apart_until")
    return day


def _shade_of(line: OrderLine) -> Shade:
    """The shade of an order's line, locked by its key: by its name another would be found, or made, once it is renamed.

    Raises Refusal.
    """
    yarn = lock_yarn(line.shade.yarn_id)
    if yarn.retired_at:
        raise Refusal(
            f"{yarn.name} is retired. Bring the yarn back before adding a cone of it.", field="yarn"
        )
    return lock_shade(line.shade_id)


def _parcel(order: Order, received_on: date) -> Delivery:
    """What comes of an order on one day is one delivery. Nothing more is awaited of that: the order is what waits."""
    known = order.deliveries.filter(received_on=received_on).first()
    if known:
        return known
    now = timezone.now()
    delivery = Delivery(
        supplier_id=order.supplier_id, order=order, received_on=received_on, made_at=now, closed_at=now
    )
    delivery.full_clean()
    delivery.save()
    return delivery


def _delivery(
    pk: int | None, supplier: str, expected_cones: int | None, received_on: date
) -> Delivery | None:
    if pk is not None:
        delivery = lock_delivery(pk)
        if delivery.closed_at:
            raise Refusal("This delivery is closed: nothing more is awaited of it.")
        return delivery
    if not supplier.strip() and expected_cones is None:
        return None
    delivery = Delivery(
        supplier=find_supplier(supplier),
        expected_cones=expected_cones,
        received_on=received_on,
        made_at=timezone.now(),
    )
    delivery.full_clean()
    delivery.save()
    return delivery


@transaction.atomic
def close_delivery(*, pk: int) -> Delivery:
    """Await nothing more of a delivery. Raises Refusal."""
    delivery = lock_delivery(pk)
    if delivery.closed_at:
        raise Refusal("This delivery is closed already.")
    delivery.closed_at = timezone.now()
    delivery.save(update_fields=["closed_at"])
    return delivery
