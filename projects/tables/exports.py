"""The list of projects to take away."""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction

from django.db.models import Prefetch

from projects.models import Project, ProjectShade
from stash.calc.density import UM_PER_INCH
from stash.calc.quantity import UNIT_OF_WORD
from stash.spreadsheets.writing import Cell, figure
from stash.tables.exports import A_ROUND, ExportTable, Units, local


def _short(units: Units, um: int) -> Decimal:
    return figure(Fraction(um) / UNIT_OF_WORD[units.measures.short_unit].size, 3)


def _to_base(units: Units, count: int, over: int, per_um: int) -> Decimal:
    """So many to an inch, or to a centimetre."""
    base = UM_PER_INCH if units.measures.density_base == "in" else 10_000
    return figure(Fraction(count, over) * base / per_um, 4)


def _headings(units: Units) -> list[str]:
    short, base = units.measures.short_unit, units.measures.density_base
    return [
        "project",
        "occasion",
        "needed on",
        "rank",
        "step",
        "pieces",
        "pieces are",
        "like warps",
        f"finished across ({short})",
        f"finished along ({short})",
        f"sett (ends per {base})",
        f"picks per {base}",
        "structure",
        "ends",
        f"warp ({units.length})",
        "shades",
        f"need of warp ({units.length})",
        f"need of weft ({units.length})",
        "note",
        "made on",
        "put away on",
    ]


def _rows(units: Units) -> Iterator[Sequence[Cell]]:
    shades = Prefetch("shades", ProjectShade.objects.select_related("shade"))
    found = Project.objects.no_trials().prefetch_related(shades).order_by("pk")
    for project in found.iterator(chunk_size=A_ROUND):
        lines = list(project.shades.all())
        yield [
            project.name,
            project.occasion,
            project.need_on,
            project.rank,
            project.get_stage_display(),
            project.pieces,
            project.piece_name,
            project.warps,
            _short(units, project.across_um),
            _short(units, project.along_um),
            _to_base(units, project.sett_numerator, project.sett_denominator, project.sett_per_um),
            _to_base(units, project.picks_numerator, project.picks_denominator, project.picks_per_um),
            project.structure,
            project.ends,
            units.of_length(project.warp_um),
            ", ".join(f"{line.key} {line.shade.name}" for line in lines),
            units.of_length(sum(line.ends * line.warp_um for line in lines)),
            units.of_length(sum(line.need().weft_um(project.pieces_in_all) for line in lines)),
            project.note,
            local(project.made_at),
            local(project.closed_at),
        ]


PROJECT_TABLE = ExportTable(
    "projects", "Projects", "every project with its plan in figures and what it needs", _headings, _rows
)
