"""The Yarn page by shade (searched or sought or not) and by cone, without models, forms, tables or templates of ours."""

from __future__ import annotations

from collections import defaultdict
from math import inf
from typing import Any

from django.http import HttpRequest, HttpResponse

from stash.access import VIEWERS
from stash.calc.colour import apart, in_words
from stash.calc.quantity import read_length
from stash.calc.writing import Measures
from stash.measuring import measures_of
from stash.models.folding import fold
from stash.tables.scale import shared_scale
from stash.templatetags.stash_draw import chip, stock_bar
from tests.speed.floors.shell import KEY, as_local, fetch, marks, options, page, page_links, short_day, text

# Sums are cast, since PostgreSQL makes decimals of sums of long integers.
STOCK = """
SELECT shade_id, CAST(SUM(on_hand_mg) AS BIGINT), CAST(SUM(reserved_mg) AS BIGINT),
  CAST(SUM(CASE WHEN on_hand_mg > reserved_mg THEN on_hand_mg - reserved_mg ELSE 0 END) AS BIGINT),
  CAST(SUM(CASE WHEN on_hand_mg < reserved_mg THEN reserved_mg - on_hand_mg ELSE 0 END) AS BIGINT),
  COUNT(*), COUNT(DISTINCT lot_id), COUNT(*) - COUNT(lot_id)
FROM stash_cone WHERE retired_at IS NULL {only} GROUP BY shade_id
"""
SHADES = """
SELECT s.id, s.name, s.colour, s.keep_mg, y.count_written, y.grist_um, y.grist_mg
FROM stash_shade s JOIN stash_yarn y ON y.id = s.yarn_id
WHERE s.retired_at IS NULL {found} ORDER BY s.search, s.id
"""
FOUND = """AND (s.search LIKE %s OR y.search LIKE %s OR s.note_folded LIKE %s OR y.note_folded LIKE %s OR s.id IN
(SELECT shade_id FROM stash_cone WHERE retired_at IS NULL AND (search LIKE %s OR note_folded LIKE %s))) """
ENDS = """
SELECT c.shade_id, c.id, l.name, c.on_hand_mg - c.reserved_mg, y.grist_um, y.grist_mg
FROM stash_cone c JOIN stash_shade s ON s.id = c.shade_id JOIN stash_yarn y ON y.id = s.yarn_id
LEFT JOIN stash_lot l ON l.id = c.lot_id
WHERE c.retired_at IS NULL AND s.retired_at IS NULL AND c.condition NOT IN ('quarantine', 'oddment')
AND c.on_hand_mg > c.reserved_mg
"""
CONES = """
SELECT c.id, c.code, c.on_hand_mg, c.reserved_mg, c.core_mg, c.weighed_at, s.id, s.name, s.colour, y.count_written,
  y.grist_um, y.grist_mg, l.name, p.name
FROM stash_cone c JOIN stash_shade s ON s.id = c.shade_id JOIN stash_yarn y ON y.id = s.yarn_id
LEFT JOIN stash_lot l ON l.id = c.lot_id LEFT JOIN stash_place p ON p.id = c.place_id
WHERE c.retired_at IS NULL ORDER BY c.search, c.id LIMIT 50
"""
NOTHING = (0, 0, 0, 0, 0, 0, 0)
TOOLS = (
    '<a class="btn" href="/yarn/stocktake/">Stocktake</a><a class="btn" href="/yarn/labels/">Labels</a>'
    '<a class="btn" href="/yarn/receive/">Receive cones</a>'
    '<a class="btn" href="/yarn/import/">Bring in a spreadsheet</a>'
    '<a class="btn" href="/yarn/kinds/new/">New yarn</a><a class="btn main" href="/yarn/add/">Add a cone</a>'
)


@VIEWERS
def by_shade(request: HttpRequest) -> HttpResponse:
    measures = measures_of(request.studio)
    sought = request.GET.get("q", "")
    words = fold(sought).split()
    pattern = [f"%{word}%" for word in words for _ in range(6)]
    shades = fetch(SHADES.format(found=FOUND * len(words)), pattern)
    ids = [row[0] for row in shades] if words else []
    only = f"AND shade_id IN ({marks(ids)})" if words else ""
    stock = {row[0]: row[1:] for row in fetch(STOCK.format(only=only), ids)}
    # What is sought beside the stock, by the shade's key, and its column.
    said: dict[int, str] = {}
    column = ""
    if near := request.GET.get("near", ""):
        column = '<th scope="col"><a href="?sort=near">Colour</a></th>'
        gaps = {row[0]: apart(near, row[2]) for row in shades if row[2]}
        shades.sort(key=lambda row: gaps.get(row[0], inf))
        said = {pk: f"{in_words(gap)}, {gap:.1f}" for pk, gap in gaps.items()}
    if end := request.GET.get("ends", ""):
        column = '<th scope="col"><a href="?sort=ends">Whole ends</a></th>'
        best, said = _ends(read_length(end, measures.long_unit))
        shades = sorted((row for row in shades if row[0] in best), key=lambda row: -best[row[0]])
    cones = lots = most_um = 0
    for pk, _, _, keep, _, um, mg in shades:
        on_hand, reserved, _, _, count, known, _ = stock.get(pk, NOTHING)
        cones += count
        lots += known
        most_um = max(most_um, max(on_hand, reserved, keep or 0) * um // mg)
    scale = shared_scale(most_um, measures)
    heads = (("free", "Free"), ("on_hand", "On hand"), ("reserved", "Reserved"))
    kept = f"q={text(sought)}&amp;" if sought else ""
    is_part = "HX-Request" in request.headers
    out = [] if is_part else _filters("shade", sought)
    out.append('<div id="shelf-list" data-output><table class="fold"><thead><tr>')
    out.append(f'<th scope="col"><a href="?{kept}sort=shade">Shade</a></th>{column}')
    out += [f'<th scope="col"><a href="?{kept}sort={key}">{label}</a></th>' for key, label in heads]
    out.append(
        '<th scope="col">Stock</th><th scope="col"><a href="?sort=lots">Lots</a></th><th>State</th></tr>'
    )
    out.append("</thead><tbody>")
    out += [
        _shade(row, stock.get(row[0], NOTHING), scale, measures, said.get(row[0], "")) for row in shades[:50]
    ]
    out.append("</tbody></table>")
    out.append(_ticked("keep", "Keep level", "Retire"))
    pages = -(-len(shades) // 50)
    out.append(page_links(kept, "shades", len(shades), 50, [1, 2, 3, "…", pages]))
    out.append(f"{KEY}</div></div>")
    if sought or said:
        out.append('<p class="small"><a href="/yarn/views/">Keep this view under a name</a></p>')
    lede = (
        f"{len(shades):,} shades on {cones:,} cones in {lots:,} known lots. Bars share one scale: "
        f"{measures.long_length(scale)}."
    )
    if is_part:
        return HttpResponse([f'<p class="lede" id="shelf-counts">{lede}</p>', *out])
    return page(request, "yarn", "Yarn on the shelf", out, lede=lede, tools=TOOLS)


def _ends(end_um: int) -> tuple[dict[int, int], dict[int, str]]:
    """Of each shade that gives an end: how many its best lot gives, and its lots in words."""
    lots: dict[int, dict[tuple[str, int], int]] = defaultdict(lambda: defaultdict(int))
    for shade, pk, lot, free, um, mg in fetch(ENDS):
        if ends := free * um // (mg * end_um):
            lots[shade][lot or "", 0 if lot else pk] += ends
    best, said = {}, {}
    for shade, found in lots.items():
        ranked = sorted(((ends, lot) for (lot, _), ends in found.items()), key=lambda one: (-one[0], one[1]))
        best[shade] = ranked[0][0]
        words = [f"{ends:,} in {f'lot {lot}' if lot else 'unknown lot'}" for ends, lot in ranked[:2]]
        if rest := ranked[2:]:
            words.append(f"{sum(ends for ends, _ in rest):,} in {len(rest)} more")
        said[shade] = ", ".join(words)
    return best, said


def _shade(
    row: tuple[Any, ...], stock: tuple[int, ...], scale: int, measures: Measures, said: str = ""
) -> str:
    pk, name, colour, keep, yarn, um, mg = row
    on_hand, reserved, free, undercut, _, lots, unknown = stock

    def length(mass: int) -> str:
        return measures.long_length(mass * um // mg, "down")

    free_text, reserved_text, keep_text = length(free), length(reserved), length(keep) if keep else ""
    label = f"free {free_text}, reserved {reserved_text}{f', keep level {keep_text}' if keep else ''}"
    known = f"{lots} lot{'' if lots == 1 else 's'}"
    if unknown:
        known = f"{known} and {unknown} unknown" if lots else f"{unknown} unknown lots"
    flag = ""
    if undercut:
        label += f", undercut by {length(undercut)}"
        flag = f'<span class="flag short">Undercut by {length(undercut)}</span>'
    elif on_hand and not free:
        flag = '<span class="flag tight">All reserved</span>'
    elif keep is not None and free <= keep:
        flag = f'<span class="flag tight">{"At" if free == keep else "Below"} keep level</span>'
    bar = stock_bar(
        colour,
        free * um // mg if free else -(undercut * um // mg),
        (reserved - undercut if free else reserved) * um // mg,
        0,
        (keep or 0) * um // mg,
        None,
        scale,
        label,
    )
    held = f'<small class="face">{measures.mass(reserved)}</small>' if reserved else ""
    return (
        f'<tr><td><div class="shade">{_tick("shades", pk, name)}{chip(colour)}<div>'
        f'<a href="/yarn/shades/{pk}/">{text(name)}</a>'
        f"<small>{text(yarn)}</small></div></div></td>{f'<td>{text(said)}</td>' if said else ''}"
        f'<td class="num lead" data-l="free">{free_text}'
        f'<small class="face">{measures.mass(free)}</small></td><td class="num" data-l="on hand">{length(on_hand)}'
        f'<small class="face">{measures.mass(on_hand)}</small></td><td class="num" data-l="reserved">{reserved_text}'
        f'{held}</td><td class="wide">{bar}</td><td>{known}</td><td>{flag}</td></tr>'
    )


@VIEWERS
def by_cone(request: HttpRequest) -> HttpResponse:
    measures = measures_of(request.studio)
    ((count, net),) = fetch(
        "SELECT COUNT(*), CAST(SUM(on_hand_mg) AS BIGINT) FROM stash_cone WHERE retired_at IS NULL"
    )
    heads = ("code", "shade", "lot", "place", "net", "gross", "free", "weighed", "state")
    labels = ("Cone", "Shade", "Lot", "Place", "Net", "With core", "Free", "Last weighed", "State")
    out = _filters("cone", "")
    out.append('<div id="shelf-list" data-output><table class="fold"><thead><tr>')
    out += [
        f'<th scope="col"><a href="?by=cone&amp;sort={key}">{label}</a></th>'
        for key, label in zip(heads, labels, strict=True)
    ]
    out.append("</tr></thead><tbody>")
    out += [_cone(row, measures) for row in fetch(CONES)]
    out.append("</tbody></table>")
    out.append(_ticked("move", "Move", "Condition", "Labels", "Retire"))
    out.append(page_links("by=cone&amp;", "cones", count, 50, [1, 2, 3, "…", -(-count // 50)]) + "</div>")
    lede = f"{count:,} cones, {measures.mass(net)} of yarn without cores."
    return page(request, "yarn", "Yarn on the shelf", out, lede=lede, tools=TOOLS)


def _cone(row: tuple[Any, ...], measures: Measures) -> str:
    pk, code, on_hand, reserved, core, weighed, shade, name, colour, yarn, um, mg, lot, place = row
    free = max(0, on_hand - reserved)
    length = [measures.long_length(mass * um // mg, "down") for mass in (on_hand, free)]
    gross = '<span class="muted">core not known</span>'
    if core is not None:
        gross = f'{measures.mass(core + on_hand)}<small class="face">core {measures.mass(core)}</small>'
    flag = ""
    if reserved > on_hand:
        flag = f'<span class="flag short">Undercut by {measures.mass(reserved - on_hand)}</span>'
    elif reserved and not free:
        flag = '<span class="flag tight">All reserved</span>'
    return (
        f'<tr><td>{_tick("cones", pk, code)}<b><a href="/yarn/cones/{pk}/">{text(code)}</a></b></td>'
        f'<td><div class="shade">{chip(colour)}<div>'
        f'<a href="/yarn/shades/{shade}/">{text(name)}</a><small>{text(yarn)}</small></div></div></td>'
        f'<td data-l="lot">{text(lot) if lot else "unknown lot"}</td><td data-l="place">{text(place or "no place")}</td>'
        f'<td class="num lead" data-l="net">{measures.mass(on_hand)}<small class="face">{length[0]}</small></td>'
        f'<td class="num" data-l="with core">{gross}</td><td class="num" data-l="free">{measures.mass(free)}'
        f'<small class="face">{length[1]}</small></td><td data-l="last weighed">{short_day(as_local(weighed))}</td>'
        f"<td>{flag}</td></tr>"
    )


def _tick(name: str, pk: int, label: str) -> str:
    return (
        f'<label class="tick-row"><input type="checkbox" name="{name}" value="{pk}" form="bulk" '
        f'aria-label="{text(label)}"></label>'
    )


def _ticked(to: str, *labels: str) -> str:
    buttons = "".join(f'<button type="submit">{label}</button>' for label in labels)
    return (
        f'<form class="bulk" id="bulk" method="get" action="/yarn/ticked/{to}/" aria-label="What is ticked"><input '
        f'type="hidden" name="back"><span class="muted">Ticked:</span>{buttons}</form>'
    )


def _filters(by: str, sought: str) -> list[str]:
    fibres = [(row[0], row[0]) for row in fetch("SELECT DISTINCT fibre FROM stash_fibreshare ORDER BY fibre")]
    counts = [
        (row[0], row[0])
        for row in fetch("SELECT count_written FROM stash_yarn WHERE count_written <> '' ORDER BY search")
    ]
    places = [(str(pk), name) for pk, name in fetch("SELECT id, name FROM stash_place ORDER BY name")]
    show = [("", f"All {by}s"), ("free", "Free only")]
    show += [("low", "At or below keep level")] if by == "shade" else []
    selects = (
        ("fibre", "Fibre", [("", "Any fibre"), *fibres]),
        ("count", "Count", [("", "Any count"), *dict.fromkeys(counts)]),
        ("place", "Place", [("", "Any place"), *places]),
        ("show", "Show", [*show, ("retired", "Retired")]),
    )
    out = [
        '<nav class="turns" aria-label="List the shelf"><a href="?">By shade</a><a href="?by=cone">By cone</a>'
        '<a href="?by=kind">By kind of yarn</a></nav><form class="filters" method="get" action="/yarn/" hx-get="/yarn/" '
        'hx-trigger="change, submit" hx-target="#shelf-list"><label class="wide">Search<input type="search" name="q" '
        f'id="id_q" value="{text(sought)}" maxlength="100" placeholder="shade, yarn, lot, code, place"></label>'
    ]
    for name, label, choices in selects:
        out.append(f'<label>{label}<select name="{name}" id="id_{name}">{options(choices)}</select></label>')
    out.append('<details class="more"><summary>More filters</summary><div class="more-filters">')
    asked = [("near", "Near this colour", "#2f5d50 or a shade")] if by == "shade" else []
    for name, label, hint in (
        *asked,
        ("ends", "Whole ends of", "12 yd"),
        ("since", "Not checked since", "6 months or 2025-12-31"),
    ):
        out.append(
            f'<label>{label}<input type="text" name="{name}" id="id_{name}" placeholder="{hint}"></label>'
        )
    lots = options([("", "Any lot"), ("unknown", "Lot unknown")])
    out.append(f'<label>Lot<select name="lot" id="id_lot">{lots}</select></label></div></details>')
    out.append('<button class="without-script" type="submit">Show</button></form>')
    return out
