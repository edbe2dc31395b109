"""Today, without models, forms or templates of ours."""

from __future__ import annotations

from datetime import date

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from projects.wording import counted, verdict_sentences
from stash.access import VIEWERS
from stash.calc.verdict import Verdict
from stash.measuring import measures_of
from stash.site.views.today import LOOKED_AT, SHOWN
from stash.templatetags.stash_draw import chip, stock_bar
from tests.speed.floors.shell import KEY, as_day, fetch, fetch_named, page, text
from tests.speed.floors.verdicts import judge_all

PROJECTS = f"""
SELECT id, name, piece_name, occasion, need_on, pieces, warp_um, keep_back, claim_id FROM projects_project
WHERE closed_at IS NULL ORDER BY need_on IS NULL, need_on, rank, id LIMIT {LOOKED_AT}
"""
UNDERCUT = """
SELECT c.id, c.code, c.reserved_mg - c.on_hand_mg, s.name, y.name, m.id, m.name
FROM stash_cone c JOIN stash_shade s ON s.id = c.shade_id JOIN stash_yarn y ON y.id = s.yarn_id
LEFT JOIN stash_reservation r ON r.cone_id = c.id LEFT JOIN stash_claim m ON m.id = r.claim_id
WHERE c.retired_at IS NULL AND c.reserved_mg > c.on_hand_mg ORDER BY c.id, m.need_on, r.id
"""
LOW = """
SELECT s.id, s.name, s.colour, s.keep_mg, y.name, y.grist_um, y.grist_mg, k.free, k.reserved, k.undercut
FROM stash_shade s JOIN stash_yarn y ON y.id = s.yarn_id JOIN (
  SELECT n.id,
    CAST(SUM(CASE WHEN c.on_hand_mg > c.reserved_mg THEN c.on_hand_mg - c.reserved_mg ELSE 0 END) AS BIGINT) AS free,
    COALESCE(CAST(SUM(c.reserved_mg) AS BIGINT), 0) AS reserved,
    CAST(SUM(CASE WHEN c.on_hand_mg < c.reserved_mg THEN c.reserved_mg - c.on_hand_mg ELSE 0 END) AS BIGINT) AS undercut
  FROM stash_shade n LEFT JOIN stash_cone c ON c.shade_id = n.id AND c.retired_at IS NULL
  WHERE n.retired_at IS NULL AND n.keep_mg IS NOT NULL GROUP BY n.id
) k ON k.id = s.id WHERE k.free <= s.keep_mg ORDER BY k.free * 1.0 / s.keep_mg, s.name, s.id
"""


@VIEWERS
def today(request: HttpRequest) -> HttpResponse:
    measures, day = measures_of(request.studio), timezone.localdate()
    projects = fetch_named(PROJECTS)
    ((count,),) = fetch("SELECT COUNT(*) FROM projects_project WHERE closed_at IS NULL")
    pairs = list(zip(projects, judge_all(projects), strict=True))
    wanting = [pair for pair in pairs if pair[1].state == Verdict.SHORT]
    coming = [pair for pair in pairs if pair[1].state != Verdict.SHORT and pair[0].need_on]
    undercut: dict[int, list[tuple[object, ...]]] = {}
    for row in fetch(UNDERCUT):
        undercut.setdefault(row[0], []).append(row)
    low = fetch(LOW)
    things = len(wanting) + len(low) + len(undercut)
    out = [
        '<section class="part"><div class="rule"><h2>Not covered by the shelf</h2><p>projects that cannot be wound yet</p>'
    ]
    out.append('</div><ul class="todo">')
    for project, judged in wanting[:SHOWN]:
        name, address = text(project.name), f"/projects/{project.id}/"
        lead = verdict_sentences(judged, measures).lead
        out.append(
            f'<li>{_when(project.need_on)}<div><b><a href="{address}">{name}</a> cannot be wound yet</b><p>'
            f'<span class="flag short">{text(lead)}</span> {_days(as_day(project.need_on), day)}</p></div>'
            f'<a class="btn" href="{address}">Open<span class="aside-for-ears"> {name}</span></a></li>'
        )
    out.append("</ul>")
    if len(wanting) > SHOWN:
        out.append(
            f'<p class="muted">And {len(wanting) - SHOWN} more under <a href="/projects/">Projects</a>.</p>'
        )
    out.append("</section>")
    if undercut:
        out.append('<section class="part"><div class="rule"><h2>Undercut by a weigh-in</h2>')
        out.append('<p>more is reserved than the scale found</p></div><ul class="todo">')
    for rows in list(undercut.values())[:SHOWN]:
        pk, code, mass, shade, yarn = rows[0][:5]
        claims = dict.fromkeys(f'<a href="/claims/{row[5]}/">{text(row[6])}</a>' for row in rows)
        out.append(
            f'<li><span class="when">{text(code)}</span><div><b>{text(shade)}, {text(yarn)}: '
            f"{measures.mass(mass, 'up')} too little</b><p>Reserved for {', '.join(claims)}: reserve again, or weigh "
            f'again.</p></div><a class="btn" href="/yarn/cones/{pk}/">The cone<span class="aside-for-ears"> '
            f"{text(code)}</span></a></li>"
        )
    if undercut:
        out.append("</ul></section>")
    shown = [
        (row, int((row[7] - row[9]) * row[5] // row[6]), row[8] * row[5] // row[6], row[3] * row[5] // row[6])
        for row in low[:SHOWN]
    ]
    scale = max((max(free + reserved, keep) for _, free, reserved, keep in shown), default=1)
    out.append(
        '<section class="part"><div class="rule"><h2>At or below keep level</h2><p>ask to be ordered</p></div>'
    )
    out.append(
        '<table class="fold"><thead><tr><th>Shade</th><th class="num">Free</th><th class="num">Keep level</th>'
    )
    out.append("<th>Stock</th></tr></thead><tbody>")
    for row, free, reserved, keep in shown:
        bar = stock_bar(row[2], free, reserved, 0, keep, None, scale, row[1])
        out.append(
            f'<tr><td><div class="shade">{chip(row[2])}<div><a href="/yarn/shades/{row[0]}/">{text(row[1])}</a><small>'
            f'{text(row[4])}</small></div></div></td><td class="num lead" data-l="free">'
            f"{measures.long_length(row[7] * row[5] // row[6], 'down')}<small>{measures.mass(row[7])}</small></td>"
            f'<td class="num" data-l="keep level">{measures.long_length(keep)}</td><td class="wide">{bar}</td></tr>'
        )
    out.append(f"</tbody></table>{KEY}</div>")
    if len(low) > SHOWN:
        out.append(
            f'<p class="muted">And {len(low) - SHOWN} more on the <a href="/yarn/?show=low">Yarn page</a>.</p>'
        )
    out.append(
        '</section><section class="part"><div class="rule"><h2>To be wound next</h2><p>the shelf covers these</p>'
    )
    out.append('</div><ul class="todo">')
    for project, judged in coming[:SHOWN]:
        occasion = f", {text(project.occasion)}" if project.occasion else ""
        mixed = "; lots mixed" if judged.mixed else ""
        out.append(
            f'<li>{_when(project.need_on)}<div><b><a href="/projects/{project.id}/">{text(project.name)}</a></b><p>'
            f"{project.pieces} {text(project.piece_name)}{occasion}</p></div>"
            f'<span class="flag {judged.word}">{judged.word}{mixed}</span></li>'
        )
    out.append("</ul></section>")
    if count > LOOKED_AT:
        out.append(
            f'<p class="muted">{count - LOOKED_AT} projects that need their yarn later were not looked at here; the '
            '<a href="/projects/">list of projects</a> has their verdicts.</p>'
        )
    title = f"{day:%A}, {day.day} {day:%B}"
    lede = f"{counted(things, 'thing wants a hand', 'things want a hand')}."
    return page(request, "today", title, out, lede=lede)


def _when(value: object) -> str:
    day = as_day(value)
    if day is None:
        return '<span class="when">no day</span>'
    return f'<time datetime="{day}">{day:%a} {day.day} {day:%b}</time>'


def _days(need_on: date | None, day: date) -> str:
    if need_on is None:
        return ""
    days = (need_on - day).days
    if days < 0:
        return "The winding day is past."
    return f"To be wound in {counted(days, 'day')}." if days else "It is to be wound today."
