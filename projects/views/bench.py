"""Sheets for the board and the loom: the warping ticket on paper and on the phone, threading, weft sheet."""

from collections.abc import Sequence
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from projects.bench.loom import dress_loom, runs_in_words, shafts_in_words
from projects.bench.packages import packages_of
from projects.bench.ticket import BeamTicket, Choices, Ticket, cut_warp, make_ticket
from projects.bench.ticket_words import TicketWords
from projects.bench.weft import blocks_in_words, make_weft_sheet
from projects.forms.bench import ThreadingForm, TicketForm, WeftSheetForm, bobbin_mg
from projects.models import Project
from projects.services.sharing_out import ends_to_move, share_out_warp
from projects.services.winding import keep_winding, mark_lines
from projects.wish_words import wish_words
from projects.wording import counted, together
from stash.access import HELPERS_ONLY, VIEWERS
from stash.calc.errors import CalcError
from stash.calc.needs import WorkedPlan, work_out
from stash.calc.sectional import into_sections
from stash.measuring import measures_of
from stash.models import BoardKind
from stash.services.refusal import Refusal

_NOT_KEPT = ("single", "singly", "apart", "bout", "section", "warp")
_FIELDS = {"at_once": "k", "section_um": "section", "keys": "k"}


class _Wound:
    """A project's ticket as it was asked for, with what its pages say of it."""

    def __init__(self, request: HttpRequest, pk: int) -> None:
        found = Project.objects.with_shades().select_related("board")
        self.project = get_object_or_404(found, pk=pk)
        self.measures = measures_of(request.studio)
        self.form = TicketForm(request.GET, project=self.project, measures=self.measures)
        self.worked: WorkedPlan = work_out(self.project.plan)
        self.ticket = self._ticket()
        rows = list(self.project.shades.all())
        self.words = TicketWords(
            self.ticket,
            {row.key: row.shade.name for row in rows},
            {row.key: row.grist for row in rows},
            self.measures,
        )

    def _ticket(self) -> Ticket:
        self.form.is_valid()
        try:
            return self._written(self.form.choices)
        except CalcError as error:
            self.form.refuse(error, _FIELDS)
        return self._written(Choices(at_once=self.project.at_once))

    def _written(self, choices: Choices) -> Ticket:
        plain = cut_warp(self.worked, choices)
        packages = packages_of(self.project, self.worked, plain.passes)
        return make_ticket(self.worked, plain, packages, choices)

    @property
    def may_share_out(self) -> int:
        """Ends that other cones of their lots could give, so that less is wound over; asked where any is."""
        if self.ticket.packages.standing != "reserved" or not self.ticket.overs:
            return 0
        return ends_to_move(self.project, self.worked, self.ticket.choices)

    @property
    def status(self) -> int:
        return 422 if self.form.errors else 200

    @property
    def mill(self) -> bool:
        board = self.form.board_chosen
        return board is not None and board.kind == BoardKind.MILL

    def sections(self) -> Any:
        """Spools for a sectional beam, where its sections' width was asked for."""
        width = self.form.value("section")
        if not width:
            return None
        found = []
        for beam in self.beams_of_a_warp:
            keys = [key for one in beam.winding.passes for key in one.keys]
            try:
                found.append(into_sections(keys, self.worked.plan.sett, width, beam.warp_um))
            except CalcError as error:
                self.form.refuse(error, _FIELDS)
                return None
        return found

    @property
    def beams_of_a_warp(self) -> Sequence[BeamTicket]:
        return self.ticket.beams[: len(self.ticket.beams) // self.ticket.warps]

    @property
    def done(self) -> int:
        return min(self.project.ticket_done, len(self.ticket.lines))

    def step(self) -> dict[str, Any]:
        """The line in hand on the phone, the one after it, and how far it is."""
        lines, done = self.ticket.lines, self.done
        line = lines[done] if done < len(lines) else None
        after = lines[done + 1] if done + 1 < len(lines) else None
        beam = next((one for one in self.ticket.beams if line and line in one.lines), None)
        return {
            "project": self.project,
            "ticket": self.ticket,
            "done": done,
            "total": len(lines),
            "line": line,
            "beam": beam,
            "named": self.words.line(line) if line else None,
            "after": self.words.line(after) if after else None,
            "new_bout": line is not None and (done == 0 or lines[done - 1].last_of_bout),
        }


@VIEWERS
def ticket(request: HttpRequest, pk: int) -> HttpResponse:
    wound = _Wound(request, pk)
    sections = wound.sections()
    words = wound.words
    shown = _shown(request, wound)
    context = {
        "project": wound.project,
        "form": wound.form,
        "ticket": wound.ticket,
        "words": words,
        "worked": wound.worked,
        "beams": [
            {
                "beam": beam,
                "blocks": words.blocks(beam),
                "bouts": words.bouts(beam),
                "far": words.far(beam),
                "path": words.path(beam, wound.mill),
                "apart": words.apart(beam),
                "like": words.like(beam),
                "other_start": words.other_start_is_better(beam),
                "sections": section,
                "spools": [
                    (words.shade(one.key), one) for one in (section.spools if section is not None else ())
                ],
            }
            for beam, section in _paired(wound, sections)
            if beam.warp == shown
        ],
        "warp": shown,
        "warps": range(1, wound.ticket.warps + 1),
        "board": wound.form.board_chosen,
        "sectional": sections is not None,
        "query": request.GET.urlencode(),
        "start_query": _with(request, single="" if wound.ticket.choices.single_first else "on"),
        "done": wound.done,
        "total": len(wound.ticket.lines),
        "to_move": wound.may_share_out,
        "wishes": [(row.shade.name, said) for row in wound.project.shades.all() if (said := wish_words(row))],
        "kept_otherwise": _kept_otherwise(request, wound),
    }
    return render(request, "projects/ticket.html", context, status=wound.status)


@VIEWERS
def ticket_phone(request: HttpRequest, pk: int) -> HttpResponse:
    wound = _Wound(request, pk)
    context = wound.step() | {
        "section": "projects",
        "words": wound.words,
        "overs": wound.words.overs(),
        "skeins": wound.words.skeins(),
        "ready": wound.words.ready(),
        "query": request.GET.urlencode(),
    }
    return render(request, "projects/ticket_phone.html", context, status=wound.status)


@VIEWERS
def threading(request: HttpRequest, pk: int) -> HttpResponse:
    """Threading and sley in groups, and how a fault is found."""
    project = get_object_or_404(Project.objects.with_shades().select_related("reed", "loom"), pk=pk)
    measures = measures_of(request.studio)
    form = ThreadingForm(request.GET, measures=measures)
    worked = work_out(project.plan)
    found = None
    try:
        found = dress_loom(project, worked, measures, form.value("group"), form.value("mark"))
    except CalcError as error:
        form.refuse(error)
    names = {row.key: row.shade.name for row in project.shades.all()}
    context = {
        "project": project,
        "form": form,
        "worked": worked,
        "found": found,
        "names": [(key, names.get(key, "not named yet")) for key in worked.ends_by_key],
        "groups": [
            (group, shafts_in_words(group.shafts), runs_in_words(group.keys, names)) for group in found.groups
        ]
        if found
        else [],
        "lifts": [(shaft, runs_in_words(runs, names)) for shaft, runs in found.lifts.items()]
        if found
        else [],
        "checks": [
            (check, together(dict.fromkeys(names.get(key, key) for key in check.keys)))
            for check in found.checks
        ]
        if found
        else [],
    }
    return render(request, "projects/threading.html", context, status=422 if form.errors else 200)


@VIEWERS
def weft_sheet(request: HttpRequest, pk: int) -> HttpResponse:
    """A piece from its first pick, with the woven length after every block; bobbins; marks on the tape."""
    project = get_object_or_404(Project.objects.with_shades(), pk=pk)
    form = WeftSheetForm(request.GET, holds_mg=bobbin_mg(), measures=measures_of(request.studio))
    worked = work_out(project.plan)
    rows = {row.key: row for row in project.shades.all()}
    sheet = make_weft_sheet(worked, rows, form.value("bobbin"))
    names = {row.key: row.shade.name for row in rows.values()}
    context = {
        "project": project,
        "form": form,
        "worked": worked,
        "sheet": sheet,
        "sections": [
            (section, [(row, blocks_in_words(row, names)) for row in section.rows])
            for section in sheet.sections
        ],
        "shuttles": len(worked.weft.piece.picks),
    }
    return render(request, "projects/weft_sheet.html", context, status=422 if form.errors else 200)


@HELPERS_ONLY
@require_POST
def ticket_done(request: HttpRequest, pk: int) -> HttpResponse:
    """One line more is wound, or one less: the number of lines done is said, so that a tap twice is one."""
    wound = _Wound(request, pk)
    text = request.POST.get("done", "")
    address = f"{reverse('project-ticket-phone', args=[pk])}?{request.GET.urlencode()}".rstrip("?")
    try:
        if not (text.isascii() and text.isdecimal() and len(text) < 8):
            raise Refusal("Say how many lines are wound.", field="done")
        wound.project.ticket_done = mark_lines(
            pk=pk, done=int(text), lines=len(wound.ticket.lines)
        ).ticket_done
    except Refusal as error:
        if not request.htmx:
            messages.error(request, error.message)
            return redirect(address)
        context = wound.step() | {"refused": error.message, "query": request.GET.urlencode()}
        return render(request, "projects/_ticket_step.html", context, status=422)
    if request.htmx:
        context = wound.step() | {"query": request.GET.urlencode()}
        return render(request, "projects/_ticket_step.html", context)
    return redirect(address)


@HELPERS_ONLY
@require_POST
def ticket_keep(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep with the project how many threads are wound at once and on which board; the rest stays in the address."""
    project = get_object_or_404(Project, pk=pk)
    form = TicketForm(request.POST, project=project, measures=measures_of(request.studio))
    rest = {name: request.POST[name] for name in _NOT_KEPT if request.POST.get(name)}
    if form.is_valid():
        try:
            keep_winding(pk=pk, at_once=form.value("k"), board=form.board_chosen)
        except Refusal as error:
            messages.error(request, error.message)
        else:
            messages.success(request, "Threads at once and board are kept with the project.")
    else:
        # Shown at its field by the ticket itself.
        rest |= {name: request.POST[name] for name in ("k", "board") if request.POST.get(name)}
    return redirect(f"{reverse('project-ticket', args=[pk])}?{urlencode(rest)}".rstrip("?"))


@HELPERS_ONLY
@require_POST
def ticket_share(request: HttpRequest, pk: int) -> HttpResponse:
    """Share the reserved ends out among the cones of their lots, as this ticket winds them."""
    wound = _Wound(request, pk)
    try:
        moved = share_out_warp(pk=pk, choices=wound.ticket.choices)
    except (Refusal, CalcError) as error:
        messages.error(request, error.message)
    else:
        messages.success(request, f"{counted(moved, 'end')} moved to other cones of the same lot.")
    return redirect(f"{reverse('project-ticket', args=[pk])}?{request.GET.urlencode()}".rstrip("?"))


def _kept_otherwise(request: HttpRequest, wound: _Wound) -> list[tuple[str, object]]:
    """What would be sent to keep this ticket's choices with the project; nothing if it has them already."""
    project, board = wound.project, wound.form.board_chosen
    board_id = board.pk if board else None
    as_usual = project.at_once, wound.form.usual["board"]
    if wound.form.errors or as_usual == (wound.ticket.choices.at_once, board_id):
        return []
    rest = [(name, request.GET[name]) for name in _NOT_KEPT if request.GET.get(name)]
    return [("k", wound.ticket.choices.at_once), ("board", board_id or ""), *rest]


def _shown(request: HttpRequest, wound: _Wound) -> int:
    """Which of several like warps is shown: the one asked for, else the one that is being wound."""
    text = request.GET.get("warp", "")
    if text.isascii() and text.isdecimal() and len(text) < 6 and 1 <= int(text) <= wound.ticket.warps:
        return int(text)
    reached = 0
    for beam in wound.ticket.beams:
        reached += len(beam.lines)
        if wound.done < reached:
            return beam.warp
    return 1


def _paired(wound: _Wound, sections: Any) -> list[tuple[Any, Any]]:
    """Every beam with its sections, which are alike in every warp."""
    number = len(wound.beams_of_a_warp)
    return [(beam, sections[at % number] if sections else None) for at, beam in enumerate(wound.ticket.beams)]


def _with(request: HttpRequest, **changes: str) -> str:
    kept = {name: value for name, value in request.GET.items() if name not in changes}
    return urlencode(kept | {name: value for name, value in changes.items() if value})
