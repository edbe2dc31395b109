"""The demo's suppliers, put-ups and orders: typed texts through the same readers and services as a person's, known
again by name, so that a load that was cut short can be completed."""

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from stash.calc.days import read_days
from stash.calc.errors import CalcError
from stash.calc.money import read_price
from stash.calc.quantity import read_mass
from stash.models import Form, Order, OrderLot, Person, PutUp, Shade, Supplier, Yarn
from stash.services.ordering import NewLine, mark_ordered, write_order
from stash.services.suppliers import NewPutUp, Terms, price_of, save_put_up, save_supplier

BUYING_FILE = "buying.toml"


class BuyingFileError(Exception):
    """The file says something that cannot be taken; the message names the entry."""


@dataclass(frozen=True, slots=True)
class DemoBuying:
    suppliers: tuple[Mapping[str, Any], ...] = ()
    orders: tuple[Mapping[str, Any], ...] = ()


_KEYS = {
    "supplier": {
        "name",
        "lead",
        "late",
        "minimum",
        "carriage",
        "carriage_free",
        "currency",
        "note",
        "put_ups",
    },
    "put-up": {"yarn", "shade", "form", "mass", "price", "least", "breaks"},
    "order": {"supplier", "ordered_ago", "reference", "lines"},
    "line": {"yarn", "shade", "form", "mass", "number", "lot", "reason"},
}


def read_buying(folder: Path) -> DemoBuying:
    """Raises BuyingFileError. A demo without the file buys nowhere."""
    path = folder / BUYING_FILE
    if not path.exists():
        return DemoBuying()
    try:
        found = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise BuyingFileError(f"{BUYING_FILE} is not TOML: {error}.") from error
    unknown = set(found) - {"supplier", "order"}
    if unknown:
        raise BuyingFileError(f"{BUYING_FILE}: “{min(unknown)}” is no key here.")
    for supplier in found.get("supplier", []):
        _check("supplier", supplier)
        for put_up in supplier.get("put_ups", []):
            _check("put-up", put_up)
    for order in found.get("order", []):
        _check("order", order)
        for line in order.get("lines", []):
            _check("line", line)
    return DemoBuying(tuple(found.get("supplier", [])), tuple(found.get("order", [])))


def _check(kind: str, entry: Mapping[str, Any]) -> None:
    unknown = set(entry) - _KEYS[kind]
    if unknown:
        raise BuyingFileError(f"{BUYING_FILE}, {kind}: “{min(unknown)}” is no key here.")


def load_buying(buying: DemoBuying, today: date, by: Person) -> tuple[int, int]:
    """Note what is not there yet; returns how many suppliers and orders there are.

    Raises BuyingFileError, or what services raise.
    """
    for entry in buying.suppliers:
        _supplier(entry)
    for entry in buying.orders:
        _order(entry, today, by)
    return len(buying.suppliers), len(buying.orders)


def _supplier(entry: Mapping[str, Any]) -> None:
    currency = entry.get("currency", "")
    where = f"supplier “{entry['name']}”"

    def price(text: str) -> int:
        return read_price(text, currency or "EUR")

    supplier = Supplier.objects.filter(name=entry["name"]).first() or save_supplier(
        terms=Terms(
            name=entry["name"],
            lead_days=_read(entry, "lead", read_days, where),
            late_days=_read(entry, "late", read_days, where) or 0,
            minimum_cents=_read(entry, "minimum", price, where),
            carriage_cents=_read(entry, "carriage", price, where),
            carriage_free_cents=_read(entry, "carriage_free", price, where),
            currency=currency,
            note=entry.get("note", ""),
        )
    )
    for put_up in entry.get("put_ups", []):
        yarn, shade = _names(put_up, where)
        mass_mg = _read(put_up, "mass", read_mass, where)
        form = put_up.get("form", Form.CONE)
        if PutUp.objects.filter(
            supplier=supplier, yarn=yarn, shade=shade, form=form, mass_mg=mass_mg
        ).exists():
            continue
        save_put_up(
            supplier_id=supplier.pk,
            put_up=NewPutUp(
                yarn_id=yarn.pk,
                shade_id=shade.pk if shade else None,
                mass_mg=mass_mg or 0,
                form=form,
                price_cents=_read(put_up, "price", price, where),
                least=put_up.get("least", 1),
                breaks=[(number, price(text)) for number, text in put_up.get("breaks", [])],
            ),
        )


def _order(entry: Mapping[str, Any], today: date, by: Person) -> None:
    where = f"order {entry['reference']}"
    supplier = Supplier.objects.filter(name=entry["supplier"]).first()
    if supplier is None:
        raise BuyingFileError(f"{BUYING_FILE}, {where}: there is no supplier {entry['supplier']}.")
    if Order.objects.filter(supplier=supplier, reference=entry["reference"]).exists():
        return
    # One that a cut left unsent is sent now, and not written twice.
    order = Order.objects.unsent().filter(supplier=supplier).first() or write_order(
        supplier_id=supplier.pk, lines=[_line(supplier, line, where) for line in entry["lines"]], by=by
    )
    mark_ordered(
        pk=order.pk,
        version=order.version,
        on=today - timedelta(days=entry["ordered_ago"]),
        reference=entry["reference"],
        was_sooner=True,
    )


def _line(supplier: Supplier, line: Mapping[str, Any], where: str) -> NewLine:
    yarn, shade = _names(line, where)
    mass_mg = _read(line, "mass", read_mass, where) or 0
    if shade is None:
        raise BuyingFileError(f"{BUYING_FILE}, {where}: give the shade.")
    sold = PutUp.objects.sold().filter(supplier=supplier, yarn=yarn, mass_mg=mass_mg).first()
    return NewLine(
        shade_id=shade.pk,
        number=line["number"],
        mass_mg=mass_mg,
        form=line.get("form", sold.form if sold else Form.CONE),
        put_up_id=sold.pk if sold else None,
        price_cents=price_of(sold, line["number"]) if sold else None,
        lot_wish=line.get("lot", OrderLot.ANY),
        reason=line.get("reason", ""),
    )


def _names(entry: Mapping[str, Any], where: str) -> tuple[Yarn, Shade | None]:
    yarn = Yarn.objects.filter(name=entry["yarn"]).first()
    if yarn is None:
        raise BuyingFileError(f"{BUYING_FILE}, {where}: there is no yarn {entry['yarn']}.")
    if "shade" not in entry:
        return yarn, None
    shade = yarn.shades.filter(name=entry["shade"]).first()
    if shade is None:
        raise BuyingFileError(f"{BUYING_FILE}, {where}: {yarn} has no shade {entry['shade']}.")
    return yarn, shade


def _read(entry: Mapping[str, Any], key: str, reader: Callable[[str], int], where: str) -> int | None:
    if key not in entry:
        return None
    try:
        return reader(entry[key])
    except CalcError as error:
        raise BuyingFileError(f"{BUYING_FILE}, {where}: {key}: {error.message}") from error
