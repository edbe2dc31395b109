"""Wishes for lots in words: in a verdict, beside a shade, on a sheet."""

from collections.abc import Collection, Iterable

from projects.models import ProjectShade
from projects.models.shade import LotWish
from stash.models.condition import USABLE


def wished_words(wish: str, lot: str | None, cone: str | None) -> str:
    """As a verdict goes on behind the shade's name: `in lot 2207`, `in one lot`, `on cone K-014`; "" for any lot."""
    if wish == LotWish.LOT:
        return f"in lot {lot}"
    if wish == LotWish.CONE:
        return f"on cone {cone}"
    return "in one lot" if wish == LotWish.SAME else ""


def wish_words(row: ProjectShade) -> str:
    """What is wished of a shade: `lot 2207`; `one lot for warp and weft`; "" for any lot."""
    if row.wish == LotWish.LOT:
        return f"lot {row.wish_lot}"
    if row.wish == LotWish.CONE:
        return f"cone {row.wish_cone}"
    return LotWish.SAME.label if row.wish == LotWish.SAME else ""


def wished_by_shade(rows: Iterable[ProjectShade]) -> dict[int, str]:
    """`wished_words` of each shade, by its key in the books."""
    return {
        row.shade_id: wished_words(
            row.wish,
            row.wish_lot.name if row.wish_lot_id else None,
            row.wish_cone.code if row.wish_cone_id else None,
        )
        for row in rows
        if row.wish != LotWish.ANY
    }


def fallen(rows: Iterable[ProjectShade], shade_ids: Collection[int]) -> list[str]:
    """Sentences about wishes for a lot or a cone of shades that are no longer among these."""
    return [
        f"The wish for {wish_words(row)} of {row.shade.name} is gone: the plan does not use that shade any more."
        for row in rows
        if row.wish in (LotWish.LOT, LotWish.CONE) and row.shade_id not in shade_ids
    ]


def out_of_reach(row: ProjectShade) -> str:
    """Why a wished cone can give nothing, or "" where it may."""
    cone = row.wish_cone if row.wish == LotWish.CONE else None
    if cone is None:
        return ""
    if cone.retired_at:
        return (
            f"Cone {cone.code}, which is wished for {row.shade.name}, is retired: it was used up, wound over or given "
            "away. Wish for another, or for none."
        )
    if cone.condition not in USABLE:
        return f"Cone {cone.code}, which is wished for {row.shade.name}, is {cone.condition_words}."
    return ""
