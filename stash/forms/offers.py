"""What a field offers to choose from or to complete, read once a page."""

from stash.models import CoreKind, Lot, Place, Shade, Supplier, Yarn


def place_names() -> list[str]:
    return list(Place.objects.values_list("name", flat=True))


def core_kinds() -> list[tuple[int, str, int]]:
    """Key, name and mass in mg."""
    return list(CoreKind.objects.values_list("pk", "name", "mass_mg"))


def supplier_names() -> list[str]:
    return list(Supplier.objects.values_list("name", flat=True))


def lot_names(shade_id: int) -> list[str]:
    return list(Lot.objects.filter(shade_id=shade_id).values_list("name", flat=True))


def shade_names(yarn_id: int | None) -> list[str]:
    """Shades in use of a yarn; none while no yarn is chosen."""
    if yarn_id is None:
        return []
    return list(Shade.objects.live().filter(yarn_id=yarn_id).values_list("name", flat=True))


def yarns_in_use() -> list[tuple[int, str, str]]:
    """Key, name and count as written."""
    return list(Yarn.objects.live().values_list("pk", "name", "count_written"))
