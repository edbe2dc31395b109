"""A new plan from an old one: last year's, with its shades, and nothing of what became of it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from django.db import transaction
from django.utils import timezone

from projects.models import Project, ProjectBeam, ProjectNote, ProjectPhoto, ProjectShade, Stage
from projects.models.shade import LotWish
from projects.services.planning import check_year, put_plan
from projects.wish_words import fallen
from stash.models.folding import fold
from stash.services.photos import copied_files
from stash.services.refusal import Refusal
from stash.services.saving import save_checked

LONGEST_NAME = Project._meta.get_field("name").max_length
EQUIPMENT = ("loom", "reed", "board")


@dataclass(frozen=True, slots=True)
class Copied:
    project: Project
    left_out: tuple[str, ...]
    """Names of equipment that is retired, so that the copy is without it."""
    wishes_gone: tuple[str, ...] = ()
    """Sentences about wishes for lots and cones that the copy is without."""


def free_name(name: str, tail: str = " (copy)") -> str:
    """The name with the tail, or with "(copy 2)" and so on where another project has that."""
    for number in range(1, 1000):
        ending = tail if number == 1 else f"{tail[:-1]} {number})"
        tried = name[: LONGEST_NAME - len(ending)].rstrip() + ending
        if not Project.objects.filter(name=tried).exists():
            return tried
    raise Refusal("There are a thousand copies of this name. Give a name of your own.", field="name")


def copy_project(
    *,
    pk: int,
    name: str,
    occasion: str = "",
    need_on: date | None = None,
    instead: Mapping[str, int] | None = None,
    notes: bool = False,
    photos: bool = False,
) -> Copied:
    """A new project with the whole plan of another, its shades and equipment. It is planned, holds nothing, and
    reckons with the yarns' present lengths per mass.

    `instead` gives other shades by key; a key whose shade is retired and that has no other is left open. Equipment
    that is retired is left out. Raises Refusal, CalcError or ValidationError naming the field.
    """
    check_year(need_on, "need_on")
    files = ProjectPhoto.objects.filter(project=pk).order_by("pk") if photos else ProjectPhoto.objects.none()
    with copied_files(list(files.values_list("file", flat=True))) as names, transaction.atomic():
        original = Project.objects.select_related(*EQUIPMENT).filter(pk=pk).first()
        if original is None:
            raise Refusal("There is no such project any more.")
        copy = Project.objects.get(pk=pk)
        left_out = [one for one in EQUIPMENT if (thing := getattr(original, one)) and thing.retired_at]
        for one in left_out:
            setattr(copy, one, None)
        _begin_anew(copy)
        copy.name, copy.occasion, copy.need_on, copy.off_on = name.strip(), occasion.strip(), need_on, None
        copy.search = fold(copy.name, copy.occasion)
        save_checked(copy, exclude=["claim"])
        rows = list(original.shades.select_related("shade", "wish_lot", "wish_cone"))
        shades = {row.key: row.shade_id for row in rows if row.shade.retired_at is None} | dict(instead or {})
        if len(set(shades.values())) < len(shades):
            raise Refusal("The same shade stands under two keys. Give each key a shade of its own.")
        _refuse_open_beams(rows, shades)
        # The rows say what is wound on which beam, so they stand before the plan is read.
        ProjectBeam.objects.bulk_create(
            ProjectBeam(project=copy, number=beam.number, take_up_ppm=beam.take_up_ppm)
            for beam in original.beams.all()
        )
        ProjectShade.objects.bulk_create(
            ProjectShade(
                project=copy,
                key=row.key,
                shade_id=shades[row.key],
                beam=row.beam,
                **_wish(row, shades[row.key]),
            )
            for row in rows
            if row.key in shades
        )
        put_plan(copy, copy.plan, shades)
        if notes:
            _copy_notes(original, copy)
        for photo in files:
            if photo.file in names:
                ProjectPhoto.objects.create(
                    project=copy,
                    file=names[photo.file],
                    width=photo.width,
                    height=photo.height,
                    made_at=photo.made_at,
                )
    gone = [*fallen(rows, set(shades.values())), *(_retired_cone(row) for row in rows)]
    return Copied(copy, tuple(getattr(original, one).name for one in left_out), tuple(filter(None, gone)))


def _wish(row: ProjectShade, shade_id: int) -> dict[str, object]:
    """What a copy wishes of the lots: as the first, but for a lot or a cone that it cannot have."""
    if row.wish in (LotWish.LOT, LotWish.CONE) and (shade_id != row.shade_id or _retired_cone(row)):
        return {}
    return {"wish": row.wish, "wish_lot_id": row.wish_lot_id, "wish_cone_id": row.wish_cone_id}


def _retired_cone(row: ProjectShade) -> str:
    if row.wish_cone is None or row.wish_cone.retired_at is None:
        return ""
    return f"The wish for cone {row.wish_cone} of {row.shade.name} is gone: that cone is retired."


def _begin_anew(project: Project) -> None:
    project.pk, project._state.adding = None, True
    project.claim = project.trial_of = project.closed_at = None
    # Last year's fair is over; which one the copy is for is asked anew, as its day is.
    project.fair = None
    project.version, project.made_at = 1, timezone.now()
    project.stage, project.ticket_done = Stage.PLANNED, 0


def _refuse_open_beams(rows: list[ProjectShade], shades: Mapping[str, int]) -> None:
    for row in rows:
        if row.beam > 1 and row.key not in shades:
            raise Refusal(
                f"{row.key} is wound on a beam of its own: say which shade takes the place of {row.shade.name}.",
                field=f"shade_{row.key}",
            )


def _copy_notes(original: Project, copy: Project) -> None:
    """What people wrote; the steps are the first one's own."""
    ProjectNote.objects.bulk_create(
        ProjectNote(project=copy, text=note.text, by_id=note.by_id, made_at=note.made_at)
        for note in original.notes.filter(stage="").order_by("pk")
    )
