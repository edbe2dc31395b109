"""Everything that a project's page shows as following from the plan, saved or not."""

from base64 import b64encode
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Sum

from projects import cloth
from projects.judging import Judged, ShadeLine, judge_plan
from projects.models import Project
from projects.stock import ShelfReader
from projects.wording import Sentences, flag, most_sentence, shade_note, verdict_sentences
from projects.workings import Figure, figures
from stash.calc.grist import Grist
from stash.calc.most import most_pieces
from stash.calc.needs import WorkedPlan
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
    label: str
    held_for: Sequence[tuple[str, int, str]]
    """How much is reserved for others, and the claim it is for: amount, key and name."""


@dataclass(frozen=True, slots=True)
class Outputs:
    judged: Judged
    sentences: Sentences
    figures: Sequence[Figure]
    rows: Sequence[NeedRow]
    scale: int
    cloth_src: str
    cloth_size: tuple[int, int]
    cloth_words: str
    cloth_caption: str

    @property
    def state(self) -> str:
        return self.sentences.state


def grists_of(project: Project | None, shades: Mapping[str, Shade]) -> dict[str, tuple[Shade, Grist]]:
    """Each key's shade with the length per mass that this project reckons with: frozen where it was reserved."""
    frozen = {row.shade_id: row.grist for row in project.shades.all()} if project else {}
    return {key: (shade, frozen.get(shade.pk, shade.yarn.grist)) for key, shade in shades.items()}


def outputs(
    *,
    worked: WorkedPlan,
    shades: Mapping[str, Shade],
    structure: str,
    piece_name: str,
    project: Project | None,
    measures: Measures,
    cloth_src: str = "",
) -> Outputs:
    """Three queries, whatever the plan. Without `cloth_src` the picture itself is put into the page."""
    claim_id = project.claim_id if project else None
    shade_ids = [shade.pk for shade in shades.values()]
    reader = ShelfReader(shade_ids, [claim_id])
    judged = judge_plan(worked, grists_of(project, shades), reader, claim_id)
    most = most_sentence(
        most_pieces(worked.plan, judged.stock), judged, measures, worked.plan.pieces, piece_name
    )
    held = _held_by_others(shade_ids, claim_id)
    lots = reader.lot_names
    rows = [_row(line, lots, held.get(line.shade.pk, []), measures) for line in judged.lines]
    if not cloth_src:
        picture = cloth.lay_out(worked, structure, shades)
        cloth_src = f"data:image/png;base64,{b64encode(cloth_png(picture)).decode()}"
    return Outputs(
        judged=judged,
        sentences=verdict_sentences(judged, measures, lots, [most] if judged.lines else []),
        figures=figures(worked, measures, piece_name),
        rows=rows,
        scale=max([*(row.free_um + row.others_um for row in rows), *(row.line.need_um for row in rows), 1]),
        cloth_src=cloth_src,
        cloth_size=cloth.size(worked),
        cloth_words=cloth.in_words(worked, structure, shades),
        cloth_caption=cloth.caption(worked, structure),
    )


@dataclass(frozen=True, slots=True)
class Holding:
    """So much of a shade reserved for somebody else."""

    claim: str
    claim_id: int
    need_on: object
    mass_mg: int


def _held_by_others(shade_ids: Sequence[int], claim_id: int | None) -> dict[int, list[Holding]]:
    rows = (
        Reservation.objects.filter(cone__shade_id__in=shade_ids)
        .exclude(claim_id=claim_id)
        .values("cone__shade_id", "claim__name", "claim_id", "claim__need_on")
        .annotate(mass=Sum("mass_mg"))
        .order_by("claim__need_on", "claim_id")
    )
    held: dict[int, list[Holding]] = {}
    for row in rows:
        holding = Holding(row["claim__name"], row["claim_id"], row["claim__need_on"], row["mass"])
        held.setdefault(row["cone__shade_id"], []).append(holding)
    return held


def _row(line: ShadeLine, lots: Mapping[int, str], held: Sequence[Holding], measures: Measures) -> NeedRow:
    long = measures.long_length
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
        label=(
            f"{line.shade.name}: free for this project {long(free_um, 'down')}, "
            f"reserved for others {long(others_um)}, this project needs {long(line.need_um, 'up')}"
        ),
        held_for=[
            (long(line.grist.length_um_of(holding.mass_mg), "down"), holding.claim_id, holding.claim)
            for holding in held
        ],
    )
