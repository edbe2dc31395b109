"""The tables of projects in an archive of the studio; they come after those of the shelf.

A new field of a model belongs here and into `stash/archive/schema.md`; a test compares all three.
"""

from collections.abc import Iterator

from django.db.models import OuterRef, Subquery

from projects.models import Fair, Project, ProjectBeam, ProjectNote, ProjectPhoto, ProjectShade
from stash.archive.table import Table
from stash.calc.draft import DRAFT
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
        if project.structure not in {DRAFT, *structures()}:
            yield f"Project {project.name}: there is no weave structure {project.structure}."
            continue
        try:
            _ = project.weave
        except CalcError as error:
            yield f"Project {project.name}: {error.message}"


_COMPLETE = (
    "hem_kind",
    "hem_depth_um",
    "hem_fold_um",
    "hem_picks_numerator",
    "hem_picks_denominator",
    "hem_picks_per_um",
    "hem_pick_order",
    "fringe_um",
    "fringe_twisted",
    "fringe_loss_ppm",
    "fringe_knot_um",
    "waste_front_um",
    "floating_selvedges",
    "floating_key",
    "doubled_ends",
    "doubled_way",
    "border_order",
    "accents",
    "accent_way",
    "accents_in_weft",
    "whole_pick_repeats",
    "kit_students",
    "kit_demo",
    "kit_spare",
    "threading",
    "tie_up",
    "treadling",
    "lift_plan",
    "loom",
    "reed",
    "board",
    "dressing",
    "sley",
    "sley_keeps",
    "off_on",
    "at_once",
    "ticket_done",
    "stage",
    "trial_of",
    "open_keys",
)
"""What plans hold since version 2."""


def _lengths_of_one_beam(using: str, version: int) -> None:
    """Before version 2 all ends of a plan were as long as its warp."""
    if version < 2:
        lengths = Project.objects.using(using).filter(pk=OuterRef("project_id")).values("warp_um")[:1]
        ProjectShade.objects.using(using).update(warp_um=Subquery(lengths))


TABLES = (
    Table(
        "fairs",
        Fair,
        ["name", "place", "begins_on", "ends_on", "clear_days", "note", "version", "made_at"],
        since=3,
    ),
    Table(
        "projects",
        Project,
        [
            "name",
            "piece_name",
            "occasion",
            "need_on",
            "fair",
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
            *_COMPLETE,
            "ends",
            "warp_um",
            "claim",
            "version",
            "made_at",
            "closed_at",
        ],
        newer={**dict.fromkeys(_COMPLETE, 2), "fair": 3},
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
            "wish",
            "wish_lot",
            "wish_cone",
            "beam",
            "warp_um",
            "ends",
            "ends_buffered",
            "picks",
            "weft_piece_um",
            "weft_piece_buffered_um",
            "weft_sample_um",
            "weft_sample_buffered_um",
        ],
        newer={"beam": 2, "warp_um": 2, "wish": 3, "wish_lot": 3, "wish_cone": 3},
        carried_over=_lengths_of_one_beam,
    ),
    Table("project_beams", ProjectBeam, ["project", "number", "take_up_ppm"], since=2),
    Table("project_notes", ProjectNote, ["project", "text", "by", "made_at", "stage"], since=2),
    Table(
        "project_photos",
        ProjectPhoto,
        ["project", "file", "width", "height", "made_at"],
        since=2,
        photos=True,
    ),
)
