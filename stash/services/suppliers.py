"""Suppliers with their terms, and the put-ups in which they sell."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction
from django.db.models import F, Q
from django.utils import timezone

from stash.models import Form, Order, PriceBreak, PutUp, Shade, Supplier, Yarn
from stash.services.locking import lock_yarn
from stash.services.ordering import currency_of, lock_supplier
from stash.services.refusal import Refusal
from stash.services.saving import save_checked
from stash.services.versions import lock_version
from stash.services.weighing import MOST_OF_A_CONE_MG

MOST_BREAKS = 8
NAMED = 5
"""So many orders are named where several stand in the way."""


@dataclass(frozen=True, slots=True)
class Terms:
    """All that a person says of a supplier. Amounts are hundredths of `currency`, "" for the studio's own."""

    name: str
    lead_days: int | None = None
    late_days: int = 0
    minimum_cents: int | None = None
    carriage_cents: int | None = None
    carriage_free_cents: int | None = None
    currency: str = ""
    note: str = ""


@transaction.atomic
def save_supplier(
    *, terms: Terms, pk: int | None = None, version: int | None = None, amounts_stay: bool = False
) -> Supplier:
    """Note a supplier, or correct the one of that key. With another currency every amount that is noted would mean
    something else: it is taken only where no order is open, and where `amounts_stay` says that they are right so.

    Raises Refusal, ChangedMeanwhile, or ValidationError naming the field.
    """
    supplier = lock_version(Supplier.objects.all(), pk, version, "This supplier") if pk else Supplier()
    before = currency_of(supplier) if pk else ""
    supplier.name, supplier.note = terms.name.strip(), terms.note.strip()
    supplier.lead_days, supplier.late_days = terms.lead_days, terms.late_days
    supplier.minimum_cents = terms.minimum_cents
    supplier.carriage_cents = terms.carriage_cents
    supplier.carriage_free_cents = terms.carriage_free_cents
    supplier.currency = terms.currency.strip().upper()
    for field, cents in (("minimum", terms.minimum_cents), ("carriage_free", terms.carriage_free_cents)):
        if cents == 0:
            raise Refusal("Leave it empty where there is none.", field=field)
    if terms.carriage_free_cents is not None and not terms.carriage_cents:
        raise Refusal("Say what carriage costs below that.", field="carriage")
    twin = Supplier.objects.filter(name__iexact=supplier.name).exclude(pk=supplier.pk).first()
    if twin:
        gone = " among those that are retired" if twin.retired_at else ""
        raise Refusal(f"There is {twin.name} already{gone}.", field="name")
    if pk and currency_of(supplier) != before:
        _check_new_currency(supplier, before, amounts_stay)
    save_checked(supplier)
    return supplier


@transaction.atomic
def retire_supplier(*, pk: int, back: bool = False) -> Supplier:
    """Ordered from no more, or again. Raises Refusal naming the orders that are still open."""
    supplier = lock_supplier(pk)
    if not back:
        _check_no_open_order(supplier, "retire the supplier")
    supplier.retired_at = None if back else timezone.now()
    supplier.version += 1
    supplier.save(update_fields=["retired_at", "version"])
    return supplier


@transaction.atomic
def remove_supplier(*, pk: int) -> str:
    """Take a supplier out of the books whom nothing names yet; gives the name. Raises Refusal saying what does."""
    supplier = lock_supplier(pk)
    _check_no_open_order(supplier, "remove the supplier")
    named_by = [
        words
        for words, exists in (
            ("orders", supplier.orders.exists()),
            ("deliveries", supplier.deliveries.exists()),
            ("put-ups", supplier.put_ups.exists()),
        )
        if exists
    ]
    if named_by:
        raise Refusal(
            f"{' and '.join(named_by).capitalize()} name {supplier.name}, and keep their supplier. "
            "Retire the supplier instead: it is then offered nowhere."
        )
    supplier.delete()
    return supplier.name


@dataclass(frozen=True, slots=True)
class NewPutUp:
    """A form in which a supplier sells a yarn, in all shades or in one. `price_cents` is for one; `breaks` are pairs
    of a number and the price of one from that number on."""

    yarn_id: int
    mass_mg: int
    form: str = Form.CONE
    shade_id: int | None = None
    price_cents: int | None = None
    least: int = 1
    breaks: Sequence[tuple[int, int]] = ()


@transaction.atomic
def save_put_up(
    *, supplier_id: int, put_up: NewPutUp, pk: int | None = None, version: int | None = None
) -> PutUp:
    """Note a put-up, or correct the one of that key. Orders keep what they were written with.

    Raises Refusal, ChangedMeanwhile, or ValidationError; what is about one price break names it: "break-2".
    """
    supplier = lock_supplier(supplier_id)
    if supplier.retired_at:
        raise Refusal(f"{supplier.name} is retired. Take the supplier back into use first.")
    row = (
        lock_version(PutUp.objects.filter(supplier=supplier), pk, version, "This put-up")
        if pk
        else PutUp(supplier=supplier)
    )
    yarn = lock_yarn(put_up.yarn_id)
    if yarn.retired_at and yarn.pk != row.yarn_id:
        raise Refusal(f"{yarn.name} is retired. Bring the yarn back first.", field="yarn")
    row.yarn, row.shade = yarn, _shade(yarn, put_up.shade_id)
    if not 0 < put_up.mass_mg <= MOST_OF_A_CONE_MG:
        most = MOST_OF_A_CONE_MG // 1_000_000
        raise Refusal(f"A put-up weighs more than nothing and at most {most} kg.", field="mass")
    row.form, row.mass_mg = put_up.form, put_up.mass_mg
    row.price_cents, row.least = put_up.price_cents, put_up.least
    _check_breaks(put_up)
    twin = (
        PutUp.objects.filter(
            supplier=supplier, yarn=yarn, shade=row.shade, form=row.form, mass_mg=row.mass_mg
        )
        .exclude(pk=row.pk)
        .first()
    )
    if twin:
        gone = " It is sold no more; take it back into use." if twin.retired_at else ""
        raise Refusal(f"{supplier.name} has this yarn in that form and weight already.{gone}", field="mass")
    save_checked(row)
    row.breaks.all().delete()
    PriceBreak.objects.bulk_create(
        PriceBreak(put_up=row, number=number, price_cents=cents) for number, cents in put_up.breaks
    )
    return row


@transaction.atomic
def retire_put_up(*, pk: int, back: bool = False) -> PutUp:
    """Sold no more, or again. Orders that name it keep it. Raises Refusal."""
    row = PutUp.objects.select_for_update(of=("self",), no_key=True).filter(pk=pk).first()
    if row is None:
        raise Refusal("There is no such put-up any more.")
    row.retired_at = None if back else timezone.now()
    row.version += 1
    row.save(update_fields=["retired_at", "version"])
    return row


def price_of(put_up: PutUp, number: int) -> int | None:
    """What one costs when so many are ordered, in hundredths of the supplier's currency; None where it is not known.

    Reads `put_up.breaks.all()`, so that lists may fetch them beforehand.
    """
    reached = [one for one in put_up.breaks.all() if one.number <= number]
    if reached:
        return max(reached, key=lambda one: one.number).price_cents
    return put_up.price_cents


def _shade(yarn: Yarn, shade_id: int | None) -> Shade | None:
    if shade_id is None:
        return None
    found = Shade.objects.filter(pk=shade_id).first()
    if found is None or found.yarn_id != yarn.pk:
        raise Refusal(f"Choose a shade of {yarn.name}, or none for all its shades.", field="shade")
    return found


def _check_breaks(put_up: NewPutUp) -> None:
    """More of it is cheaper, and each number stands once; else somebody mistyped."""
    if put_up.breaks and put_up.price_cents is None:
        raise Refusal("Give the price of one first, then what it is from a number on.", field="price")
    if len(put_up.breaks) > MOST_BREAKS:
        raise Refusal(f"At most {MOST_BREAKS} price breaks are kept.")
    last_number, last_cents = put_up.least, put_up.price_cents or 0
    for at, (number, cents) in enumerate(put_up.breaks, start=1):
        if number < 2:
            raise Refusal("A price break begins at two.", field=f"break-{at}")
        if number <= last_number:
            before = (
                f"at least {last_number} are sold" if at == 1 else f"the one before begins at {last_number}"
            )
            raise Refusal(f"This break must begin higher: {before}.", field=f"break-{at}")
        if cents >= last_cents:
            raise Refusal("From more on one costs less than before. Check both prices.", field=f"break-{at}")
        last_number, last_cents = number, cents


def _open_orders(supplier: Supplier) -> list[Order]:
    return list((supplier.orders.unsent() | supplier.orders.under_way()).order_by("pk"))


def _check_no_open_order(supplier: Supplier, step: str) -> None:
    found = _open_orders(supplier)
    if not found:
        return
    stands = "is" if len(found) == 1 else "are"
    raise Refusal(
        f"{_named(found)} of {supplier.name} {stands} still open. Receive, cancel or give up what is awaited, "
        f"then {step}."
    )


def _named(found: Sequence[Order]) -> str:
    """Orders 3, 5 and 9; Orders 3, 5, 7, 9, 11 and 2 more."""
    if len(found) == 1:
        return str(found[0])
    numbers = [str(order.pk) for order in found]
    shown, more = numbers[:NAMED], len(numbers) - NAMED
    if more > 0:
        return f"Orders {', '.join(shown)} and {more} more"
    return f"Orders {', '.join(shown[:-1])} and {shown[-1]}"


def _check_new_currency(supplier: Supplier, before: str, amounts_stay: bool) -> None:
    now = currency_of(supplier)
    if found := _open_orders(supplier):
        stands = "is" if len(found) == 1 else "are"
        raise Refusal(
            f"{_named(found)} {stands} open in {before}. Two currencies are never added up: close them, then change "
            "the currency.",
            field="currency",
        )
    terms = (supplier.minimum_cents, supplier.carriage_cents, supplier.carriage_free_cents)
    priced = supplier.put_ups.exclude(price_cents=None).count()
    if (priced or any(cents is not None for cents in terms)) and not amounts_stay:
        prices = f", and the prices of {priced} put-up{'' if priced == 1 else 's'}" if priced else ""
        raise Refusal(
            f"The amounts on this page{prices} were noted in {before}. Nothing is converted: correct them, and tick "
            f"below that they are in {now}.",
            field="currency",
        )


def keep_currency(before: str) -> None:
    """The studio pays in another currency from now on: suppliers with amounts in the one before keep that as their
    own, so that no figure changes its meaning. Inside the transaction that changes the studio."""
    with_amounts = Q(minimum_cents__isnull=False) | Q(carriage_cents__isnull=False)
    with_amounts |= Q(carriage_free_cents__isnull=False) | Q(put_ups__price_cents__isnull=False)
    with_amounts |= Q(orders__isnull=False)
    found = Supplier.objects.filter(with_amounts, currency="").order_by().values("pk")
    Supplier.objects.filter(pk__in=found).update(currency=before, version=F("version") + 1)
