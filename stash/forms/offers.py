"""What a field offers to choose from or to complete, read once a page."""

from stash.models import CoreKind, Lot, Place, Shade, Supplier, Yarn
from stash.models.folding import fold


def place_names() -> list[str]:
    return list(Place.objects.values_list("name", flat=True))


def core_kinds() -> list[tuple[int, str, int]]:
    """Key, name and mass in mg."""
    return list(CoreKind.objects.values_list("pk", "name", "mass_mg"))


def supplier_names() -> list[str]:
    return list(Supplier.objects.values_list("name", flat=True))


NAMES = 50
"""Names of a shade that are offered while one is typed."""


def lots_of(yarn_id: int | None, shade: str) -> list[str]:
    """Lots of the shade that is called so, and of no other."""
    name = fold(shade.replace("\0", ""))
    if yarn_id is None or not name:
        return []
    known = Lot.objects.filter(shade__yarn_id=yarn_id, shade__search=name)
    return list(known.values_list("name", flat=True)[:NAMES])


def lot_names(shade_id: int) -> list[str]:
    return list(Lot.objects.filter(shade_id=shade_id).values_list("name", flat=True))


def shade_names(yarn_id: int | None, typed: str = "") -> list[str]:
    """The first shades in use of a yarn that have in their names what is typed; none while no yarn is chosen."""
    if yarn_id is None:
        return []
    known = Shade.objects.live().filter(yarn_id=yarn_id, search__contains=fold(typed.replace("\0", "")))
    return list(known.values_list("name", flat=True)[:NAMES])


def shade_key(yarn_id: int, name: str) -> int | None:
    """The shade in use of a yarn that is called so, in any case."""
    known = Shade.objects.live().filter(yarn_id=yarn_id, search=fold(name.replace("\0", "")))
    return known.values_list("pk", flat=True).first()


def yarn_choices(yarns: list[tuple[int, str, str]]) -> list[tuple[str, str]]:
    """Yarns as a field offers them: each by its name, with its count where the name does not have it."""
    return [
        (str(pk), f"{name}, {count}" if count and count not in name else name) for pk, name, count in yarns
    ]


def yarns_in_use() -> list[tuple[int, str, str]]:
    """Key, name and count as written."""
    return list(Yarn.objects.live().values_list("pk", "name", "count_written"))
