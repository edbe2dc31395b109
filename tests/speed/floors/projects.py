"""The list of projects and a project's page, without models, forms, tables or templates of ours."""

from __future__ import annotations

from collections import defaultdict
from fractions import Fraction
from types import SimpleNamespace
from typing import Any

from django.http import HttpRequest, HttpResponse

from projects import cloth
from projects.judging import Judged, ShadeLine
from projects.remarks import remarks
from projects.wording import flag, most_sentence, one_line, shade_note, verdict_sentences
from projects.workings import figures
from stash.access import VIEWERS
from stash.calc.colour_order import read_order
from stash.calc.density import Density
from stash.calc.grist import Grist
from stash.calc.most import Stock, most_pieces
from stash.calc.needs import work_out
from stash.calc.plan import Plan
from stash.calc.structure import structure
from stash.calc.verdict import judge
from stash.calc.writing import Measures
from stash.measuring import measures_of
from stash.templatetags.stash_draw import chip, stock_bar
from tests.speed.floors import verdicts
from tests.speed.floors.plan_form import plan_form
from tests.speed.floors.shell import (
    KEY,
    KEY_OF_NEED,
    as_day,
    fetch,
    fetch_named,
    hidden_token,
    marks,
    page,
    page_links,
    short_day,
    text,
)

LISTED = """
SELECT p.*, EXISTS (SELECT 1 FROM stash_reservation r WHERE r.claim_id = p.claim_id) AS holds FROM projects_project p
WHERE closed_at IS NULL ORDER BY need_on IS NULL, need_on, rank, id LIMIT 25
"""
RESERVED = """
SELECT c.shade_id, c.id, m.id, m.name, r.mass_mg FROM stash_reservation r JOIN stash_cone c ON c.id = r.cone_id
JOIN stash_claim m ON m.id = r.claim_id WHERE c.shade_id IN ({shades}) ORDER BY m.need_on, m.id
"""
HELD = """
SELECT s.id, s.name, s.colour, r.use, r.ends, r.length_um, r.mass_mg, c.id, c.code, l.name, p.name
FROM stash_reservation r JOIN stash_cone c ON c.id = r.cone_id JOIN stash_shade s ON s.id = c.shade_id
LEFT JOIN stash_lot l ON l.id = c.lot_id LEFT JOIN stash_place p ON p.id = c.place_id
WHERE r.claim_id = %s ORDER BY s.name, s.id, r.use, c.code
"""
MISSED = """
SELECT s.name, m.length_um, m.mass_mg, m.ends FROM stash_shortage m JOIN stash_shade s ON s.id = m.shade_id
WHERE m.claim_id = %s ORDER BY m.id
"""
HEAD = '<link rel="stylesheet" href="/static/projects/project.css">'
PPM = 1_000_000


@VIEWERS
def listed(request: HttpRequest) -> HttpResponse:
    measures = measures_of(request.studio)
    projects = fetch_named(LISTED)
    ((count,),) = fetch("SELECT COUNT(*) FROM projects_project WHERE closed_at IS NULL")
    out = [
        '<nav class="turns"><a href="/projects/">Open</a> <a href="/projects/?away=1">Put away</a></nav>'
        '<form class="filters" method="get" role="search"><label>Name or occasion <input type="search" name="q" '
        'value=""></label> <button type="submit">Show</button></form><table class="fold"><thead><tr><th>'
        '<a href="?sort=name">Project</a></th><th><a href="?sort=-need_on">Winding day</a></th>'
        '<th><a href="?sort=pieces">Pieces</a></th><th>Verdict</th></tr></thead><tbody>'
    ]
    for project, judged in zip(projects, verdicts.judge_all(projects), strict=True):
        shades = {line.key: line.shade for line in judged.lines}
        mark = cloth.mark(project.version, project.structure, shades)
        day = as_day(project.need_on)
        put_aside = ' <small class="muted">Yarn is put aside.</small>' if project.holds else ""
        out.append(
            '<tr><td><div class="shade project"><img class="cloth small" '
            f'src="/projects/{project.id}/cloth.png?small=1&amp;v={mark}" width="80" height="60" alt="" loading="lazy">'
            f'<div><a href="/projects/{project.id}/">{text(project.name)}</a><small>{text(project.occasion)}</small></div>'
            f'</div></td><td data-l="winding day">{short_day(day) if day else "no day"}</td><td class="num" '
            f'data-l="pieces">{project.pieces}</td><td class="wide text"><span class="flag {judged.word}">'
            f"{text(one_line(judged, measures))}</span>{put_aside}</td></tr>"
        )
    pages = list(range(1, -(-count // 25) + 1))
    out.append("</tbody></table>" + page_links("", "projects", count, 25, pages))
    tools = '<a class="btn main" href="/projects/new/">New project</a>'
    lede = "Whoever needs yarn first stands first."
    return page(request, "projects", "Projects", out, head=HEAD, lede=lede, tools=tools)


def plan_of(row: SimpleNamespace) -> Plan:
    split = row.loss_way == "split"
    across = (row.draw_in_ppm, row.shrinkage_across_ppm) if split else (row.loss_across_ppm,)
    along = (row.relaxation_ppm, row.shrinkage_along_ppm) if split else (row.loss_along_ppm,)
    return Plan(
        pieces=row.pieces,
        across_um=row.across_um,
        along_um=row.along_um,
        hem_um=row.hem_um,
        gap_um=row.gap_um,
        sample_um=row.sample_um,
        header_um=row.header_um,
        losses_across=tuple(Fraction(part, PPM) for part in across),
        losses_along=tuple(Fraction(part, PPM) for part in along),
        take_up=Fraction(row.take_up_ppm, PPM),
        waste_um=row.waste_um,
        sett=Density(Fraction(row.sett_numerator, row.sett_denominator), row.sett_per_um),
        picks=Density(Fraction(row.picks_numerator, row.picks_denominator), row.picks_per_um),
        order=read_order(row.colour_order),
        order_fills=bool(row.order_fills),
        balance_ends=row.balance_ends,
        pick_order=read_order(row.pick_order, word="picks"),
        weft_take_up=Fraction(row.weft_take_up_ppm, PPM),
        tail_um=row.tail_um,
        carry_picks=row.carry_picks,
        warp_buffer=Fraction(row.warp_buffer_ppm, PPM),
        weft_buffer=Fraction(row.weft_buffer_ppm, PPM),
        board_um=row.board_um,
        keep_back=row.keep_back,
    )


@VIEWERS
def one(request: HttpRequest, pk: int) -> HttpResponse:
    measures = measures_of(request.studio)
    (row,) = fetch_named("SELECT * FROM projects_project WHERE id = %s", [pk])
    rows = verdicts.shade_rows([pk])[pk]
    ids = [shade[11] for shade in rows]
    cones = verdicts.cones_of(ids)
    lots = {cone[1]: cone[4] for standing in cones.values() for cone in standing}
    own: dict[int, int] = defaultdict(int)
    others: dict[int, dict[tuple[int, str], int]] = defaultdict(lambda: defaultdict(int))
    for shade_id, cone, claim, name, mass in fetch(RESERVED.format(shades=marks(ids)), ids):
        if claim == row.claim_id:
            own[cone] += mass
        else:
            others[shade_id][claim, name] += mass
    held = fetch(HELD, [row.claim_id]) if row.claim_id else []
    missed = fetch(MISSED, [row.claim_id]) if row.claim_id else []

    worked = work_out(plan_of(row))
    plan, warp_um = worked.plan, worked.length.warp_um
    known = {
        shade[1]: (SimpleNamespace(pk=shade[11], name=shade[12], colour=shade[13], yarn=shade[14]), shade)
        for shade in rows
    }
    lines = []
    for asked in worked.needs:
        shade, fetched = known[asked.key]
        grist, free = (
            Grist(fetched[9], fetched[10]),
            verdicts.free_for(cones, shade.pk, own),
        )
        found = judge(asked.need, warp_um, plan.pieces, plan.keep_back, grist, free)
        lines.append(
            ShadeLine(asked.key, shade, grist, asked.need, free, found, warp_um, plan.pieces, asked.picks)
        )
    judged = Judged(tuple(lines), warp_um, plan.pieces)
    most = most_pieces(plan, {line.key: Stock(line.grist, line.cones) for line in lines})
    said = most_sentence(most, judged, measures, plan.pieces, row.piece_name)
    sentences = verdict_sentences(judged, measures, lots, [said])
    shades = {key: shade for key, (shade, _) in known.items()}

    token = hidden_token(request)
    day = as_day(row.need_on)
    kicker = "Project" + (f" for {row.occasion}" if row.occasion else "")
    kicker += f", to be wound on {day.day} {day:%B}" if day else ""
    again = (
        "Reserve again"
        if held or missed
        else "Reserve what is there"
        if sentences.state == "short"
        else "Reserve"
    )
    release = f'<form method="post" action="/projects/{pk}/release/">{token}<button type="submit">Release</button></form>'
    tools = (
        f'<div id="project-tools" class="tools-row"><a class="btn" href="/projects/{pk}/sheet/">Sheet to print</a>'
        f'{release if held or missed else ""}<form method="post" action="/projects/{pk}/reserve/">{token}<input '
        f'type="hidden" name="version" value="{row.version}"><button class="btn" type="submit">{again}</button></form></div>'
    )
    out = [
        f'<div id="verdict"><div class="verdict {sentences.state} sticky"><p><b>{text(sentences.lead)}</b> '
    ]
    out.append(text(sentences.rest) + "</p>")
    out += [f"<p>{text(sentence)}</p>" for sentence in sentences.more]
    out.append(
        '</div></div><section class="part"><div class="rule"><h2>Plan</h2><p>figures and verdict follow while you'
    )
    out.append(' type</p></div><div class="cols"><div>')
    out += plan_form(
        row, plan, {key: (shade.name, shade.yarn) for key, shade in shades.items()}, measures, token
    )
    out.append('</div><aside class="beside" aria-label="What follows from the plan">')
    mark, (width, height) = cloth.mark(row.version, row.structure, shades), cloth.size(worked)
    out.append(
        f'<figure id="cloth"><img class="cloth" src="/projects/{pk}/cloth.png?v={mark}" width="{width}" '
        f'height="{height}" alt="{text(cloth.in_words(worked, structure(row.structure), shades))}"><figcaption '
        f'class="small muted">{text(cloth.caption(worked, structure(row.structure)))}</figcaption></figure>'
        "<h3>What follows</h3>"
        '<div id="figures"><dl class="fig">'
    )
    for figure in figures(worked, measures, row.piece_name):
        steps = "".join(
            f"<li{' class=sum' * step.is_sum}><span>{text(step.words)}</span><span>{text(step.figure)}</span></li>"
            for step in figure.steps
        )
        out.append(
            f'<div><dt><details><summary>{text(figure.name)}</summary><div class="working"><ul>{steps}</ul></div>'
            f"</details></dt><dd>{text(figure.value)}</dd></div>"
        )
    told = "".join(f"<li>{text(remark)}</li>" for remark in remarks(worked, shades, measures))
    out.append(f'</dl><ul class="remarks">{told}</ul></div></aside></div></section>')
    out += _needs(judged, lots, others, measures)
    out += _holding(held, missed, measures)
    out.append(
        '<section class="part"><div class="rule"><h2>When it is done</h2></div>'
        f'<form method="post" action="/projects/{pk}/put-away/" class="stack">{token}<p>A project that is done or dropped '
        "can be put away. Its plan is kept and it can be taken out again; what it holds must be released first.</p>"
        '<button type="submit">Put the project away</button></form></section>'
    )
    return page(request, "projects", row.name, out, head=HEAD, kicker=kicker, tools=tools)


def _needs(judged: Judged, lots: dict[int, str], others: dict[int, Any], measures: Measures) -> list[str]:
    long = measures.long_length
    out = [
        '<section class="part"><div class="rule"><h2>Need against the shelf</h2><p>the line is the need without buffer'
    ]
    out.append(
        '</p></div><div id="needs"><table class="fold needs-table"><thead><tr><th>Shade</th><th>Ends</th><th>Warp'
    )
    out.append(
        "</th><th>Weft</th><th>Need</th><th>Free for this project, need as a line</th><th>Verdict</th></tr></thead>"
    )
    taken = {
        line.key: int(sum(line.grist.length_um_of(mass) for mass in others[line.shade.pk].values()))
        for line in judged.lines
    }
    scale = max(max(line.verdict.free_um + taken[line.key], line.need_um) for line in judged.lines)
    for line in judged.lines:
        free, need, word = line.verdict.free_um, line.need_um, flag(line, measures)
        label = (
            f"{line.shade.name}: free for this project {long(free, 'down')}, reserved for others {long(taken[line.key])}, "
            f"this project needs {long(need, 'up')}"
        )
        held = "".join(
            f'; {long(line.grist.length_um_of(mass))} reserved for <a href="/claims/{claim}/">{text(name)}</a>'
            for (claim, name), mass in others[line.shade.pk].items()
        )
        bar = stock_bar(line.shade.colour, free, taken[line.key], 0, 0, need, scale, label)
        out.append(
            f'<tr><td><div class="shade">{chip(line.shade.colour)}<div><a href="/yarn/shades/{line.shade.pk}/">{line.key}: '
            f"{text(line.shade.name)}</a><small>{text(line.shade.yarn)}<br>{text(shade_note(line, lots))}</small></div>"
            f'</div></td><td class="num" data-l="ends">{line.need.ends:,}</td><td class="num" data-l="warp">'
            f'{long(line.need.ends * line.warp_um, "up")}</td><td class="num" data-l="weft">{long(line.weft_um, "up")}</td>'
            f'<td class="num lead" data-l="need">{long(need, "up")}<small>'
            f'{measures.mass(line.grist.mass_mg_of(need), "up")}</small></td><td class="wide">{bar}<small '
            f'class="bar-words">{long(free, "down")} free{held}; with the buffer {long(line.buffered_um, "up")}</small></td>'
            f'<td class="wide"><span class="flag {word[0]}">{text(word[1])}</span></td></tr>'
        )
    return [*out, f"</table>{KEY}{KEY_OF_NEED}</div></div></section>"]


def _holding(held: list[Any], missed: list[Any], measures: Measures) -> list[str]:
    out = [
        '<section class="part" id="put-aside"><div class="rule"><h2>Put aside</h2><p>as the plan needs it</p></div>'
    ]
    if not held and not missed:
        out.append(
            '<p class="muted">Nothing is reserved for this project yet. Until it is, another project may take the '
        )
        out.append("yarn.</p>")
    if held:
        out.append(
            '<table class="fold"><thead><tr><th>Shade</th><th>Cone</th><th>Place</th><th>Warp ends</th><th>Length'
        )
        out.append("</th><th>Weight</th></tr></thead><tbody>")
    for shade, name, colour, use, ends, length, mass, cone, code, lot, place in held:
        out.append(
            f'<tr><td><div class="shade">{chip(colour)}<div><a href="/yarn/shades/{shade}/">{text(name)}</a><small>{use}, '
            f'{f"lot {text(lot)}" if lot else "unknown lot"}</small></div></div></td><td data-l="cone">'
            f'<a href="/yarn/cones/{cone}/">{text(code)}</a></td><td data-l="place">{text(place or "no place")}</td>'
            f'<td class="num" data-l="warp ends">{ends or "–"}</td><td class="num" data-l="length">'
            f'{measures.long_length(length)}</td><td class="num lead" data-l="weight">{measures.mass(mass)}</td></tr>'
        )
    if held:
        out.append("</tbody></table>")
    if missed:
        noted = "; ".join(
            f"{text(name)} {measures.long_length(length, 'up')} ({measures.mass(mass, 'up')})"
            f"{f', {ends} ends of it warp' if ends else ''}"
            for name, length, mass, ends in missed
        )
        out.append(f"<p><b>Shortage kept:</b> {noted}. It was missing when the yarn was put aside.</p>")
    return [*out, "</section>"]
