"""The tables of projects in an archive of the studio; they come after those of the shelf.

A new field of a model belongs here and into `stash/archive/schema.md`; a test compares all three.
"""

from collections.abc import Iterator

from projects.models import Project, ProjectShade
from stash.archive.table import Table
from stash.calc.errors import CalcError
from stash.calc.structure import structures
from stash.models.folding import fold


def _project_search(using: str) -> Iterator[tuple[int, str]]:
    rows = Project.objects.using(using).order_by("pk").values_list("pk", "name", "occasion")
    for pk, name, occasion in rows:
        yield pk, fold(name, occasion)


def _unfit_projects(using: str) -> Iterator[str]:
    for project in Project.objects.using(using).order_by("pk"):
        try:
            _ = project.plan
        except CalcError as error:
            yield f"Project {project.name}: {error.message}"
        if project.structure not in structures():
            yield f"Project {project.name}: there is no weave structure {project.structure}."


TABLES = (
    Table(
        "projects",
        Project,
        [
            "name",
            "piece_name",
            "occasion",
            "need_on",
            "rank",
            "note",
            "structure",
            "pieces",
            "across_um",
            "along_um",
            "hem_um",
            "gap_um",
            "sample_um",
            "header_um",
            "loss_way",
            "loss_across_ppm",
            "draw_in_ppm",
            "shrinkage_across_ppm",
            "loss_along_ppm",
            "relaxation_ppm",
            "shrinkage_along_ppm",
            "take_up_ppm",
            "waste_um",
            "sett_numerator",
            "sett_denominator",
            "sett_per_um",
            "picks_numerator",
            "picks_denominator",
            "picks_per_um",
            "colour_order",
            "order_fills",
            "balance_ends",
            "pick_order",
            "weft_take_up_ppm",
            "tail_um",
            "carry_picks",
            "warp_buffer_ppm",
            "weft_buffer_ppm",
            "board_um",
            "keep_back",
            "ends",
            "warp_um",
            "claim",
            "version",
            "made_at",
            "closed_at",
        ],
        left_out={"search": str, "note_folded": str},
        searched=_project_search,
        unfit=_unfit_projects,
    ),
    Table(
        "project_shades",
        ProjectShade,
        [
            "project",
            "key",
            "shade",
            "frozen_um",
            "frozen_mg",
            "ends",
            "ends_buffered",
            "picks",
            "weft_piece_um",
            "weft_piece_buffered_um",
            "weft_sample_um",
            "weft_sample_buffered_um",
        ],
    ),
)
