"""Everything that a project's page shows as following from the plan, saved or not."""

from base64 import b64encode
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from django.urls import reverse

from projects import cloth
from projects.judging import Judged, ShadeLine, judge_plan
from projects.models import Project, ProjectShade
from projects.models.shade import LotWish
from projects.on_order import OnOrder, on_order_of
from projects.plan_words import groups
from projects.remarks import remarks
from projects.stock import ShelfReader, held_in
from projects.sureness import Sure, sure_of
from projects.weave_words import weave_remarks
from projects.wish_words import wished_by_shade
from projects.wording import Sentences, flag, most_sentence, open_sentence, shade_note, verdict_sentences
from projects.workings import Figure, figures
from stash.calc.draft import Interlacing
from stash.calc.grist import Grist
from stash.calc.lot_wish import ShadeWish
from stash.calc.most import most_pieces
from stash.calc.needs import WorkedPlan, with_wishes, work_out
from stash.calc.writing import Measures
from stash.drawing import cloth_png
from stash.models import Reservation, Shade


@dataclass(frozen=True, slots=True)
class NeedRow:
    """A line of the table of needs, in words and in um for the bar."""

    line: ShadeLine
    note: str
    flag_class: str
    flag_text: str
    ends: str
    warp: str
    weft: str
    need: str
    need_mass: str
    buffered: str
    free: str
    free_um: int
    others_um: int
    on_order_um: int
    on_order: str
    """Length that is ordered and has not come, "" where none is; when it is due, and by which order."""
    due: str
    order: int | None
    label: str
    wished: str
    """The wish for its lots, `in lot 2207` and as `wish` without the preposition, and what is free of it in all lots; ""
    for any lot."""
    wish: str
    all_free: str
    held_for: Sequence[tuple[str, int, str]]
    """How much is reserved for others, and the claim it is for: amount, key and name."""


@dataclass(frozen=True, slots=True)
class LastOfIt:
    """A shade of the plan that is no more made: what is free of it for this project, and what there is in all."""

    pk: int
    key: str
    name: str
    since: date
    free: str
    on_hand: str


@dataclass(frozen=True, slots=True)
class Outputs:
    worked: WorkedPlan
    judged: Judged
    sentences: Sentences
    figures: Sequence[Figure]
    sure: Sure
    remarks: Sequence[str]
    groups: Mapping[str, str]
    """What each folded group of the plan's form holds, in words."""
    rows: Sequence[NeedRow]
    last_of: Sequence[LastOfIt]
    scale: int
    cloth_src: str
    cloth_size: tuple[int, int]
    cloth_words: str
    cloth_caption: str
    lot_names: Mapping[int, str]
    """Of the lots on the shelf, by key, and the codes of their cones."""
    cone_codes: Mapping[int, str]

    @property
    def state(self) -> str:
        return self.sentences.state

    @property
    def figures_with_sure(self) -> Sequence[Figure]:
        """The plan's figures, then how sure each shade suffices."""
        return [*self.figures, *self.sure.figures]


def _sentences(
    worked: WorkedPlan, judged: Judged, measures: Measures, lots: Mapping[int, str], piece_name: str
) -> Sentences:
    """The verdict and how far the free yarn goes; of a plan whose shades are not all named, only which are not."""
    if judged.open_keys:
        return Sentences(
            "tight",
            open_sentence(judged),
            "Say which yarn that is; the verdict follows.",
        )
    most = most_pieces(worked.plan, judged.stock)
    said = most_sentence(most, judged, measures, worked.plan.pieces, piece_name, worked.plan.warps)
    return verdict_sentences(judged, measures, lots, [said])


def grists_of(project: Project | None, shades: Mapping[str, Shade]) -> dict[str, tuple[Shade, Grist]]:
    """Each key's shade with the length per mass that this project reckons with: frozen where it was reserved."""
    frozen = {row.shade_id: row.grist for row in project.shades.all()} if project else {}
    return {key: (shade, frozen.get(shade.pk, shade.yarn.grist)) for key, shade in shades.items()}


def kept_outputs(project: Project, measures: Measures, *, cloth_src: str = "") -> Outputs:
    """Of a plan as it is kept; the project was fetched with its shades."""
    return outputs(
        worked=work_out(project.plan),
        shades={row.key: row.shade for row in project.shades.all()},
        weave=project.weave,
        piece_name=project.piece_name,
        project=project,
        measures=measures,
        cloth_src=cloth_src,
    )


def pictured_outputs(project: Project, measures: Measures) -> Outputs:
    """The same, with the cloth at an address that changes when it does."""
    shades = {row.key: row.shade for row in project.shades.all()}
    tag = cloth.mark(project.version, project.structure, shades)
    return kept_outputs(project, measures, cloth_src=f"{reverse('project-cloth', args=[project.pk])}?v={tag}")


def outputs(
    *,
    worked: WorkedPlan,
    shades: Mapping[str, Shade],
    weave: Interlacing,
    piece_name: str,
    project: Project | None,
    measures: Measures,
    cloth_src: str = "",
) -> Outputs:
    """Six queries at most, whatever the plan: two for the shelf, one for what is on order, and what the studio's records
    say of how sure its figures are. Without `cloth_src` the picture itself is put into the page.

    A plan that is being typed knows no wishes for lots: it is judged with those that are kept with the project.
    """
    claim_id = project.judged_as if project else None
    rows_of = list(project.shades.all()) if project else []
    worked = with_wishes(worked, _wishes(rows_of, shades))
    shade_ids = [shade.pk for shade in shades.values()]
    reserved = _reserved(shade_ids)
    reader = ShelfReader(
        shade_ids, held_in((part.claim_id, part.cone_id, part.mass_mg) for part in reserved), weighed=True
    )
    judged = judge_plan(worked, grists_of(project, shades), reader, claim_id, wished_by_shade(rows_of))
    sure = sure_of(worked, judged, shades, reader.weighing, measures)
    held = _held_by_others(reserved, claim_id)
    lots = reader.lot_names
    coming = on_order_of(shade_ids)
    rows = [
        _row(line, lots, held.get(line.shade.pk, []), coming.get(line.shade.pk), measures)
        for line in judged.lines
    ]
    if not cloth_src:
        picture = cloth.lay_out(worked, weave, shades)
        cloth_src = f"data:image/png;base64,{b64encode(cloth_png(picture)).decode()}"
    return Outputs(
        worked=worked,
        judged=judged,
        sentences=_sentences(worked, judged, measures, lots, piece_name),
        figures=figures(worked, measures, piece_name),
        sure=sure,
        remarks=[*remarks(worked, shades, measures), *weave_remarks(worked, weave, measures)],
        groups=groups(worked.plan, measures),
        rows=rows,
        last_of=[
            LastOfIt(
                line.shade.pk,
                line.key,
                line.shade.name,
                line.shade.no_more_on,
                measures.mass(sum(cone.free_mg for cone in line.cones), "down"),
                measures.mass(reader.on_hand_mg(line.shade.pk), "down"),
            )
            for line in judged.no_more_made
        ],
        scale=max(
            [
                *(row.free_um + row.others_um + row.on_order_um for row in rows),
                *(row.line.need_um for row in rows),
                1,
            ]
        ),
        cloth_src=cloth_src,
        cloth_size=cloth.size(worked),
        cloth_words=cloth.in_words(worked, weave, shades),
        cloth_caption=cloth.caption(worked, weave),
        lot_names=lots,
        cone_codes=reader.cone_codes,
    )


def _wishes(rows: Sequence[ProjectShade], shades: Mapping[str, Shade]) -> tuple[ShadeWish, ...]:
    """What is wished of the shades, under the keys that stand for them now. What is wished of one that was exchanged
    goes with it, but for one lot for warp and weft: that is wished of whatever stands under the key."""
    by_shade = {row.shade_id: row for row in rows if row.wish != LotWish.ANY}
    kept = {shade.pk for shade in shades.values()}
    same = {row.key for row in rows if row.wish == LotWish.SAME and row.shade_id not in kept}
    known = {row.shade_id for row in rows}
    wishes = []
    for key, shade in shades.items():
        row = by_shade.get(shade.pk)
        if row is not None:
            wishes.append(ShadeWish(key, row.wish, row.wish_lot_id, row.wish_cone_id))
        elif key in same and shade.pk not in known:
            wishes.append(ShadeWish(key, LotWish.SAME))
    return tuple(wishes)


class _Reserved(NamedTuple):
    """A reservation on a cone of a shade of the plan, whoever it is for."""

    shade_id: int
    cone_id: int
    claim_id: int
    claim: str
    mass_mg: int


def _reserved(shade_ids: Sequence[int]) -> list[_Reserved]:
    """Who needs it first comes first."""
    rows = Reservation.objects.filter(cone__shade_id__in=shade_ids).order_by(
        "claim__need_on", "claim_id", "pk"
    )
    columns = ("cone__shade_id", "cone_id", "claim_id", "claim__name", "mass_mg")
    return [_Reserved(*row) for row in rows.values_list(*columns)]


@dataclass(slots=True)
class Holding:
    """So much of a shade reserved for somebody else."""

    claim: str
    claim_id: int
    mass_mg: int = 0


def _held_by_others(reserved: Sequence[_Reserved], claim_id: int | None) -> dict[int, list[Holding]]:
    held: dict[int, dict[int, Holding]] = defaultdict(dict)
    for part in reserved:
        if part.claim_id != claim_id:
            holding = held[part.shade_id].setdefault(part.claim_id, Holding(part.claim, part.claim_id))
            holding.mass_mg += part.mass_mg
    return {shade_id: list(holdings.values()) for shade_id, holdings in held.items()}


def _row(
    line: ShadeLine,
    lots: Mapping[int, str],
    held: Sequence[Holding],
    coming: OnOrder | None,
    measures: Measures,
) -> NeedRow:
    long = measures.long_length
    on_order_um = int(line.grist.length_um_of(coming.mass_mg)) if coming else 0
    flag_class, flag_text = flag(line, measures)
    others_um = int(sum(line.grist.length_um_of(holding.mass_mg) for holding in held))
    free_um = line.verdict.free_um
    return NeedRow(
        line=line,
        note=shade_note(line, lots),
        flag_class=flag_class,
        flag_text=flag_text,
        ends=f"{line.need.ends:,}",
        warp=long(line.need.ends * line.warp_um, "up"),
        weft=long(line.weft_um, "up"),
        need=long(line.need_um, "up"),
        need_mass=measures.mass(line.grist.mass_mg_of(line.need_um), "up"),
        buffered=long(line.buffered_um, "up"),
        free=long(free_um, "down"),
        free_um=free_um,
        others_um=others_um,
        on_order_um=on_order_um,
        on_order=long(on_order_um, "down") if coming else "",
        due=coming.due if coming else "",
        order=coming.order if coming else None,
        wished=line.wished,
        wish=line.wished.removeprefix("in ").removeprefix("on "),
        all_free=long(line.all_free_um, "down"),
        label=(
            f"{line.wanted}: free for this project {long(free_um, 'down')}, "
            f"reserved for others {long(others_um)}, {_coming_words(on_order_um, measures)}"
            f"this project needs {long(line.need_um, 'up')}"
        ),
        held_for=[
            (long(line.grist.length_um_of(holding.mass_mg), "down"), holding.claim_id, holding.claim)
            for holding in held
        ],
    )


def _coming_words(on_order_um: int, measures: Measures) -> str:
    return f"on order {measures.long_length(on_order_um, 'down')}, " if on_order_um else ""
