"""Every page and every state of it: accessible, quiet, no wider than its window, and nothing fetched elsewhere.

Each page is loaded once and then looked at in four ways: wide and on a phone by all rules of axe-core, and both
again in the dark by its rule of contrast, the only one that colours can break. A further state of the same page is looked
at in one of them by all rules, where least is at hand: on a phone in the dark. WARPSHELF_PICTURES names a
folder that gets a picture of each view.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest
from django.conf import settings
from django.db.models import Exists, OuterRef
from django.test import Client, RequestFactory
from django.urls import reverse
from django.utils import timezone

from projects.models import Fair, Project, ProjectShade, Stage
from projects.proposing import run_desk
from projects.proposing.running import work_out
from projects.services import recording
from projects.services.copying import copy_project
from projects.services.planning import put_away, recompute
from projects.services.stages import set_stage
from projects.services.trials import Change, make_trial
from projects.sharing.writing import project_file
from stash.calc.quantity import read_amount
from stash.models import (
    Cone,
    Delivery,
    Finding,
    Loom,
    OrderLine,
    Person,
    PutUp,
    Reed,
    Role,
    Shade,
    Studio,
    Supplier,
    Yarn,
)
from stash.services import desk
from stash.services.changing import set_condition, write_off
from stash.services.cones import retire_cone
from stash.services.cores import add_core
from stash.services.deliveries import Package, receive_several
from stash.services.equipment import KINDS
from stash.services.import_desk import Waiting
from stash.services.ordering import NewLine, mark_ordered, write_order
from stash.services.phones import make_codes
from stash.services.stocktaking import Figure, begin, close, count, settle
from stash.services.using import take_as_wound
from stash.services.yarns import retire_shade
from stash.site.backup.making import make_backup
from stash.site.checks import all_patterns
from stash.site.demo import DEMO_OWNER, DEMO_VIEWER
from stash.site.views import errors
from stash.spreadsheets.reading import read_sheet
from tests.browser.watching import PHONE, WIDE
from tests.factories import ClaimFactory, PersonFactory, StudioFactory, a_photo
from tests.projects.proposing.competing import compete
from tests.stash.sheets import reading_of, waiting_of

if TYPE_CHECKING:
    from tests.browser.watching import Visit

pytestmark = [pytest.mark.audit, pytest.mark.once]

# Thumbs need 24 px (WCAG 2.2, 2.5.8); axe-core leaves that rule off unless asked.
ALL_RULES = {"resultTypes": ["violations"], "rules": {"target-size": {"enabled": True}}}
CONTRAST = {"resultTypes": ["violations"], "runOnly": {"type": "rule", "values": ["color-contrast"]}}
PICTURES = os.environ.get("WARPSHELF_PICTURES", "")
HEADING = """() => {
  const headings = document.querySelectorAll("h1"), main = document.querySelector("main");
  if (headings.length !== 1) return `${headings.length} first headings`;
  if (!headings[0].textContent.trim()) return "an empty first heading";
  const named = main && document.getElementById(main.getAttribute("aria-labelledby"));
  return named === headings[0] ? "" : "main is not named by the first heading";
}"""


@dataclass(frozen=True, slots=True)
class State:
    """One page in one state. `path` and `do` run with the demo in the database; `do` makes the state by hand."""

    name: str
    route: str
    path: Callable[[], str]
    status: int = 200
    who: str | None = DEMO_OWNER
    do: Callable[[Visit], None] | None = None


def press(name: str, *, exact: bool = True) -> Callable[[Visit], None]:
    """The state after that button; the answer may be a refusal."""

    def do(visit: Visit) -> None:
        visit.expect_answers(422)
        for field in visit.page.locator(
            "main form input:visible:not([type=radio], [type=checkbox], [type=file])"
        ).all():
            field.fill("" if field.get_attribute("type") == "date" else "½ %")
        visit.page.locator("main").get_by_role("button", name=name, exact=exact).last.click()
        visit.page.get_by_role("alert").wait_for()

    return do


def at(route: str, *args: int | str, query: str = "") -> Callable[[], str]:
    return lambda: reverse(route, args=args) + query


def of(route: str, model: type, query: str = "", **which: object) -> Callable[[], str]:
    return lambda: reverse(route, args=[model.objects.filter(**which).first().pk]) + query


def _instead() -> str:
    """What may stand for the shade that stops the mats."""
    row = ProjectShade.objects.get(project__name="Hearth mats", shade__name="Juniper")
    return reverse("project-instead", args=[row.project_id, row.key])


def _ticked(route: str, box: str, model: type, *names: str) -> Callable[[], str]:
    """A step for many rows, with these cones (by code) or shades (by name) ticked."""
    field = "code" if model is Cone else "name"

    def path() -> str:
        keys = model.objects.filter(**{f"{field}__in": names}).values_list("pk", flat=True)
        return reverse(route) + "?" + "&".join(f"{box}={key}" for key in keys)

    return path


def _retired_shade() -> str:
    shade = Shade.objects.get(name="Garnet")
    retire_shade(pk=shade.pk)
    return reverse("shade-page", args=[shade.pk])


def _retired_cone() -> str:
    cone = Cone.objects.filter(reservations=None, retired_at=None).first()
    retire_cone(pk=cone.pk, by=Person.objects.first(), reason="moth")
    return reverse("cone-page", args=[cone.pk])


def _claim() -> str:
    return reverse("claim", args=[ClaimFactory(name="Class in May").pk])


def _backup() -> str:
    make_backup("by hand")
    return reverse("backup")


def _all_put_away() -> str:
    for project in Project.objects.open().filter(claim=None):
        put_away(pk=project.pk)
    return reverse("projects") + "?away=1"


def _under_way() -> str:
    """Being woven, with a note and a photo, on a loom that has a rest of another warp."""
    project = Project.objects.get(name="Ferry towels")
    by = Person.objects.get(username=DEMO_OWNER)
    set_stage(pk=project.pk, stage=Stage.WEAVING, by=by)
    recording.add_note(project_id=project.pk, text="Beat is 18, not 20.", by=by)
    recording.add_photo(project_id=project.pk, sent=a_photo(80, 60))
    return reverse("project-page", args=[project.pk])


def _without_its_shade() -> Project:
    """A project, one of whose shades is retired around the books: they would not let a planned one go."""
    project = Project.objects.get(name="Hearth mats")
    Shade.objects.filter(pk=project.shades.get(key="C").shade_id).update(retired_at=timezone.now())
    return project


def _copy_of_what_is_retired() -> str:
    return reverse("project-copy", args=[_without_its_shade().pk])


def _open_key() -> str:
    copied = copy_project(pk=_without_its_shade().pk, name="Hearth mats, this year")
    return reverse("project-page", args=[copied.project.pk])


def _kits() -> str:
    project = Project.objects.get(name="Class kits for table looms")
    Project.objects.filter(pk=project.pk).update(pieces=1, kit_students=7, kit_demo=1, kit_spare=1)
    recompute(pk=project.pk)
    return reverse("project-kits", args=[project.pk])


def open_file(visit: Visit) -> None:
    """A file of a project here, one shade of which nobody knows by its name."""
    written = project_file(Project.objects.get(name="Hearth mats")).replace('"Ember"', '"Rust"')
    visit.page.set_input_files(
        "input[type=file]", {"name": "mats.json", "mimeType": "application/json", "buffer": written.encode()}
    )
    visit.page.get_by_role("button", name="Look into the file").click()
    visit.page.get_by_role("button", name="Keep this plan").wait_for()


def _stocktake(route: str, *, closed: bool = False) -> Callable[[], str]:
    """A stocktake under way: what agrees, what does not, what was not there; closed: all of it settled."""

    def path() -> str:
        owner = Person.objects.get(username=DEMO_OWNER)
        one = begin(place_id=Cone.objects.live().exclude(place=None).first().place_id, by=owner)
        for number, cone in enumerate(list(one.cones()[:6])):
            figure = Figure(scale_mg=cone.on_hand_mg * (number + 2) // 4, gross=False, note="torn wrapper")
            if not number:
                figure = Figure(finding=Finding.ABSENT)
            count(
                stocktake_id=one.pk,
                cone_id=cone.pk,
                key=f"a-key-of-the-look-{number}",
                figure=figure,
                by=owner,
            )
        if closed:
            for waiting in one.counts.all():
                settle(count_id=waiting.pk, accept=waiting.pk % 2 == 0, by=owner, reason="wound back")
            close(pk=one.pk, by=owner)
        return reverse(route, args=[one.pk] if route != "stocktakes" else [])

    return path


def _leave_without_reason(visit: Visit) -> None:
    visit.expect_answers(422)
    visit.page.get_by_label("Why").first.fill("")
    visit.page.get_by_role("button", name="Leave the books").first.click()
    visit.page.get_by_role("alert").wait_for()


def _count_badly(visit: Visit) -> None:
    """A figure that the studio refuses, and one that the page itself does."""
    scale = visit.page.get_by_label("On the scale")
    scale.fill("½ %")
    scale.press("Enter")
    visit.page.get_by_text("could not be kept").wait_for()
    visit.page.get_by_role("button", name="Keep, next").click()
    visit.page.get_by_role("alert").filter(has_text="Give what the scale says").wait_for()


def _labels() -> str:
    return reverse("labels", query={"shade": Shade.objects.get(name="Juniper").pk})


def _phone_code() -> str:
    Studio.objects.update(label_address="http://192.168.1.20:8000")
    return reverse("phone")


def _phone_sign_in() -> str:
    return reverse("phone-sign-in", args=[make_codes(person=Person.objects.first()).in_address])


def show_code(visit: Visit) -> None:
    visit.page.get_by_role("button", name="Show a code").click()
    visit.page.locator(".phone-code svg").wait_for()


def type_badly(visit: Visit) -> None:
    visit.page.get_by_text("Buffers, weft habits, notes").click()
    visit.type_into(visit.page.get_by_label("Colour order of the warp"), "26 A, 3 times (1 C")


def open_all(visit: Visit) -> None:
    """Everything that is folded, unfolded."""
    visit.page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")


def open_orders(visit: Visit) -> None:
    """Rows with a repeat among them, one ticked, and a sentence about what cannot be done."""
    visit.expect_answers(422)
    page = visit.page
    page.evaluate("document.querySelectorAll('.order-editor details').forEach(one => { one.open = true; })")
    visit.type_into(page.get_by_label("Colour order of the warp"), "26 A, 16 B, 3 times (1 A, 1 C)")
    editor = page.locator('.order-editor[data-order="colour_order"]')
    editor.get_by_role("checkbox", name="Tick 26 A").check()
    editor.get_by_role("checkbox", name="Tick 1 C").check()
    editor.get_by_role("button", name="Repeat the ticked rows").click()
    editor.locator(".order-note").filter(has_text="side by side").wait_for()


def type_draft(visit: Visit) -> None:
    visit.page.get_by_label("Structure").select_option("draft")
    visit.type_into(visit.page.get_by_label("Threading, from the left"), "1-4, 3, 2")


def clash(visit: Visit) -> None:
    visit.expect_answers(422)
    Project.objects.filter(name="Hearth mats").update(version=99, pieces=7)
    visit.page.locator("form#plan .actions").get_by_role("button", name="Keep the plan").click()
    visit.page.locator(".both").wait_for()


def _other_of_its_lot(route: str) -> Callable[[], str]:
    """A cone that may be wound over: another of its shade and lot is on the shelf."""

    def path() -> str:
        twins = (
            Cone.objects.live()
            .filter(shade=OuterRef("shade"), lot=OuterRef("lot"))
            .exclude(pk=OuterRef("pk"))
        )
        return reverse(route, args=[Cone.objects.live().filter(Exists(twins)).first().pk])

    return path


def _in_quarantine() -> str:
    cone, by = Cone.objects.get(code="K-053"), Person.objects.get(username=DEMO_OWNER)
    set_condition(pk=cone.pk, condition="quarantine", on=None, by=by, reason="moth suspected")
    write_off(pk=cone.pk, amount=read_amount("5 yd"), by=by, reason="moth")
    return reverse("cone-page", args=[cone.pk])


def _core(route: str) -> Callable[[], str]:
    def path() -> str:
        by, yarn = Person.objects.get(username=DEMO_OWNER), Yarn.objects.live().first()
        kind = add_core(name="Ribbed paper cone", mass_mg=34_000)
        package = Package(1, scale_mg=500_000, labelled_mg=480_000, core_kind_id=kind.pk)
        receive_several(
            yarn_id=yarn.pk,
            shade="Oddly named",
            packages=[package],
            by=by,
            gross=True,
            price_cents=1250,
            supplier="Corner shop",
            expected_cones=2,
        )
        key = {"core-edit": [kind.pk], "delivery-page": [Delivery.objects.get().pk]}.get(route, [])
        return reverse(route, args=key)

    return path


_delivery = _core


def _taken() -> str:
    project = Project.objects.get(name="Ferry towels")
    take_as_wound(claim_id=project.claim_id, by=Person.objects.get(username=DEMO_OWNER))
    return reverse("project-page", args=[project.pk])


def _trial(route: str) -> Callable[[], str]:
    """Twelve mats instead of eighteen, of another weft, tried beside the plan that is short."""

    def path() -> str:
        first = Project.objects.get(name="Hearth mats")
        shades = {row.key: row.shade_id for row in first.shades.all()}
        shades["B"] = Shade.objects.live().exclude(pk__in=shades.values()).first().pk
        trial = make_trial(pk=first.pk, change=Change("12 mats", replace(first.plan, pieces=12), shades, {}))
        return reverse(route, args=[first.pk if route == "project-ways" else trial.pk])

    return path


def _move() -> str:
    later = Project.objects.get(name="Class kits for table looms")
    return reverse("project-move", args=[Project.objects.get(name="Hearth mats").pk, later.claim_id])


def heavier(visit: Visit) -> None:
    """What another mass of the core would change."""
    visit.page.get_by_label("An empty one weighs").fill("40")
    visit.page.get_by_role("button", name="Keep this").click()
    visit.page.get_by_text("Nothing has been kept yet.").wait_for()


def _waiting(file: str = "messy.csv", *, known: bool = False, **answers: object) -> Waiting:
    """A spreadsheet that waits for the demo's owner; `known`: a count system and what is to be left out is said."""
    sheet = read_sheet((settings.CODE / "fixtures" / "imports" / file).read_bytes())
    if known:
        columns = [[column.role.value, column.unit] for column in reading_of(sheet).columns]
        columns[2] = ["system", ""]
        answers |= {"columns": columns, "system": "cotton", "left_out": [58, 59, 60, 61]}
    return waiting_of(sheet, Person.objects.get(username=DEMO_OWNER), **answers)


def _import(route: str, file: str = "messy.csv", **answers: object) -> Callable[[], str]:
    return lambda: reverse(route, args=[_waiting(file, **answers).token])


def _import_under_way(state: str) -> Callable[[], str]:
    def path() -> str:
        waiting = _waiting(known=True, alike="each")
        waiting.begin()
        waiting.tell(250, 1_000)
        if state == "failed":
            waiting.fail("The shelf has changed since this list was made.")
        if state == "done":
            waiting.succeed({
                "cones": 2, "yarns": 1, "shades": 2, "lots": 0, "places": 1, "first_code": "K-201",
                "last_code": "K-202", "yarn_ids": [Yarn.objects.live().first().pk],
            })  # fmt: skip
        return reverse("import-progress", args=[waiting.token])

    return path


def _proposal(state: str) -> Callable[[], str]:
    """A proposal of the demo's owner: running, cut off, or over a studio where two compete for one lot."""

    def path() -> str:
        for run in desk.everything(run_desk.Run):
            run.clear_away()
        owner = Person.objects.get(username=DEMO_OWNER)
        run, _ = run_desk.start(by_id=owner.pk)
        if state == "running":
            run.tell("Who can be served is worked out, who needs yarn first before the others.", 3, 10)
        if state == "cancelled":
            run.stop()
        if state == "done":
            compete(owner)
            work_out(run)
        return reverse("proposals") if state == "listed" else reverse("proposal", args=[run.token])

    return path


def _send_nothing(visit: Visit) -> None:
    visit.expect_answers(422)
    visit.page.get_by_role("button", name="Read it").click()
    visit.page.get_by_role("alert").wait_for()


def _say_no_weight(visit: Visit) -> None:
    visit.expect_answers(422)
    visit.page.get_by_label("What Weight with cone (g) (column G) is").select_option("")
    visit.page.get_by_role("button", name="Show every row").click()
    visit.page.get_by_role("alert").wait_for()


def _order(route: str, *, late: bool = False) -> Callable[[], str]:
    """An order that is being written, with all that a line may ask for; `late`: one that is over its day."""

    def path() -> str:
        shade = Shade.objects.get(name="Juniper")
        lot, day = shade.lots.first(), timezone.localdate()
        line = NewLine(
            shade.pk,
            3,
            227_000,
            lot_wish="match",
            lot_id=lot.pk,
            need_on=day + timedelta(days=40),
            reason="For Hearth mats: 214 yd too little",
        )
        supplier = Supplier.objects.get(name="Ninefold yarn post")
        by = Person.objects.get(username=DEMO_OWNER)
        order = write_order(supplier_id=supplier.pk, lines=[line], by=by, note="By letter.")
        if late:
            mark_ordered(pk=order.pk, version=1, on=day - timedelta(days=60), was_sooner=True)
        if route.startswith("order-line-") and route != "order-line-new":
            return reverse(route, args=[order.pk, order.lines.get().pk])
        return reverse(route, args=[order.pk] if route.startswith("order-") else [])

    return path


def _of_an_order() -> str:
    """A cone of another lot than was asked for comes too many: the page asks both."""
    _order("order-page", late=True)()
    line = OrderLine.objects.last()
    return reverse("receive", query={"line": line.pk, "rows": 4})


def _keep_too_many(visit: Visit) -> None:
    visit.expect_answers(422)
    visit.page.get_by_role("button", name="Keep these cones").click()
    visit.page.get_by_role("alert").wait_for()


def _equipment(route: str, kind: str) -> Callable[[], str]:
    return lambda: reverse(route, args=[kind, KINDS[kind].objects.first().pk])


def _no_equipment() -> str:
    Project.objects.update(loom=None, reed=None, board=None)
    for model in KINDS.values():
        model.objects.all().delete()
    return reverse("equipment")


def _too_wide() -> str:
    """Wider than its loom, sleyed nearly, on days that are another's."""
    project = Project.objects.get(name="Ferry towels")
    loom = Loom.objects.get(name="The table loom")
    reed = Reed.objects.get(name="50 dents per 10 cm, 70 cm")
    Project.objects.filter(pk=project.pk).update(loom=loom, reed=reed, sley="1-2-1-2-2", sley_keeps="width")
    return reverse("project-page", args=[project.pk])


def _fair(route: str) -> str:
    """A fair soon, with one project that is late for it and one that is ready."""
    day = timezone.localdate()
    fair = Fair.objects.create(
        name="Winter fair", begins_on=day + timedelta(days=20), note="Bring the lamp.", made_at=timezone.now()
    )
    Fair.objects.create(name="Fair of old", begins_on=day - timedelta(days=90), made_at=timezone.now())
    late, ready = Project.objects.open().by_need()[:2]
    Project.objects.filter(pk=late.pk).update(fair=fair, off_on=day + timedelta(days=99))
    Project.objects.filter(pk=ready.pk).update(fair=fair, stage=Stage.FINISHED)
    return reverse(route, args=[fair.pk] if route.startswith("fair-") else [])


def _calendar_addresses() -> str:
    Studio.objects.update(label_address="http://192.168.1.20:8000")
    return reverse("calendar-addresses")


def make_calendar_address(visit: Visit) -> None:
    visit.page.get_by_label("Which calendar is it for?").fill("My phone")
    visit.page.get_by_role("button", name="Make an address").click()
    visit.page.locator("code.address").wait_for()
    open_all(visit)


STATES = [
    State("today", "today", at("today")),
    State("nothing-found", "find", at("find", query="?q=zzz")),
    State("found", "find", at("find", query="?q=cotton")),
    State("found-too-long", "find", at("find", query="?q=" + "z" * 120), 422),
    State("find", "find", at("find")),
    State("claim", "claim", _claim),
    State("sign-in", "sign-in", at("sign-in"), who=None),
    State("sign-in-refused", "sign-in", at("sign-in"), who=None, do=press("Sign in")),
    State("studio", "studio", at("studio")),
    State("studio-read", "studio", at("studio"), who=DEMO_VIEWER),
    State("person-new", "person-new", at("person-new")),
    State("person-new-refused", "person-new", at("person-new"), do=press("Add this person")),
    State("person-edit", "person-edit", of("person-edit", Person, username=DEMO_VIEWER)),
    State("password", "password", at("password")),
    State("password-refused", "password", at("password"), do=press("Change it")),
    State("backup", "backup", _backup, do=open_all),
    State("yarn-by-shade", "yarn", at("yarn", query="?count=5/2+cotton")),
    State("yarn-by-cone-last-page", "yarn", at("yarn", query="?by=cone&page=3")),
    State("yarn-by-kind", "yarn", at("yarn", query="?by=kind")),
    State("yarn-low", "yarn", at("yarn", query="?show=low")),
    State("yarn-none", "yarn", at("yarn", query="?q=zzz")),
    State("yarn-refused", "yarn", at("yarn", query="?fibre=granite&q=silk"), 422),
    State("cone-add", "cone-add", at("cone-add"), do=open_all),
    State("cone-add-refused", "cone-add", at("cone-add"), do=press("Keep this cone")),
    State("yarn-new", "yarn-new", at("yarn-new")),
    State("yarn-new-refused", "yarn-new", at("yarn-new"), do=press("Keep this yarn")),
    State("yarn-page", "yarn-page", of("yarn-page", Yarn, name="Mercerised cotton")),
    State("yarn-edit", "yarn-edit", of("yarn-edit", Yarn, name="Mercerised cotton")),
    State("yarn-retire", "yarn-retire", of("yarn-retire", Yarn, name="Mercerised cotton")),
    State("shade-new", "shade-new", of("shade-new", Yarn, name="Mercerised cotton")),
    State("shade-page", "shade-page", of("shade-page", Shade, name="Juniper")),
    State("shade-ahead", "shade-ahead", of("shade-ahead", Shade, name="Juniper"), do=open_all),
    State("shade-empty", "shade-page", of("shade-page", Shade, name="Garnet")),
    State("shade-retired", "shade-page", _retired_shade),
    State("shade-edit", "shade-edit", of("shade-edit", Shade, name="Juniper")),
    State("shade-no-more", "shade-no-more", of("shade-no-more", Shade, name="Rust")),
    State("shade-retire", "shade-retire", of("shade-retire", Shade, name="Juniper")),
    State("cone-page", "cone-page", of("cone-page", Cone, code="K-053"), do=open_all),
    State("cone-refused", "cone-page", of("cone-page", Cone, code="K-053"), do=press("Keep this weight")),
    State("cone-undercut", "cone-page", of("cone-page", Cone, code="K-088")),
    State("cone-read", "cone-page", of("cone-page", Cone, code="K-088"), who=DEMO_VIEWER),
    State("cone-retired", "cone-page", _retired_cone),
    State("cone-edit", "cone-edit", of("cone-edit", Cone, code="K-053")),
    State("cone-move", "cone-move", of("cone-move", Cone, code="K-053")),
    State("cone-retire", "cone-retire", of("cone-retire", Cone, code="K-088")),
    State("cone-ledger", "cone-ledger", of("cone-ledger", Cone, code="K-053")),
    # Changes of one cone
    State("cone-wind-over", "cone-wind-over", _other_of_its_lot("cone-wind-over")),
    State(
        "cone-wind-over-refused",
        "cone-wind-over",
        _other_of_its_lot("cone-wind-over"),
        do=press("It is wound over"),
    ),
    State("cone-split", "cone-split", of("cone-split", Cone, code="K-053")),
    State("cone-join", "cone-join", _other_of_its_lot("cone-join")),
    State("cone-condition", "cone-condition", of("cone-condition", Cone, code="K-053")),
    State("cone-oddment", "cone-oddment", of("cone-oddment", Cone, code="K-053")),
    State("cone-write-off", "cone-write-off", of("cone-write-off", Cone, code="K-053")),
    State("cone-in-quarantine", "cone-page", _in_quarantine),
    # Receiving, cores, measuring
    State("receive", "receive", at("receive")),
    State("receive-refused", "receive", at("receive"), do=press("Keep these cones")),
    State("deliveries", "deliveries", _delivery("deliveries")),
    State("delivery-page", "delivery-page", _delivery("delivery-page")),
    State("cores", "cores", _core("cores")),
    State("core-edit", "core-edit", _core("core-edit"), do=heavier),
    State("yarn-measure", "yarn-measure", of("yarn-measure", Yarn, name="Mercerised cotton")),
    State("project-wound", "project-wound", of("project-wound", Project, name="Ferry towels")),
    State("project-weigh-back", "project-weigh-back", of("project-weigh-back", Project, name="Ferry towels")),
    State("project-taken", "project-page", _taken),
    State("stocktakes", "stocktakes", _stocktake("stocktakes")),
    State("stocktake-page", "stocktake-page", _stocktake("stocktake-page"), do=open_all),
    State("stocktake-refused", "stocktake-page", _stocktake("stocktake-page"), do=_count_badly),
    State("stocktake-read", "stocktake-page", _stocktake("stocktake-page"), who=DEMO_VIEWER),
    State("stocktake-closed", "stocktake-page", _stocktake("stocktake-page", closed=True)),
    State("stocktake-differences", "stocktake-differences", _stocktake("stocktake-differences")),
    State(
        "stocktake-differences-refused",
        "stocktake-differences",
        _stocktake("stocktake-differences"),
        do=_leave_without_reason,
    ),
    State("stocktake-settled", "stocktake-differences", _stocktake("stocktake-differences", closed=True)),
    State("stocktake-close", "stocktake-close", _stocktake("stocktake-close")),
    State("stocktake-report", "stocktake-report", _stocktake("stocktake-report", closed=True)),
    State("stocktake-paper", "stocktake-paper", _stocktake("stocktake-paper")),
    # Labels, and a phone that signs in
    State("labels", "labels", at("labels")),
    State("labels-laid-out", "labels", _labels),
    State("labels-refused", "labels", at("labels", query="?codes=K-777"), 422),
    State("phone", "phone", at("phone")),
    State("phone-code", "phone", _phone_code, do=show_code),
    State("phone-typed", "phone-typed", at("phone-typed"), who=None),
    State("phone-typed-refused", "phone-typed", at("phone-typed"), who=None, do=press("Sign in")),
    State("phone-sign-in", "phone-sign-in", _phone_sign_in, who=None),
    State("phone-code-over", "phone-sign-in", lambda: "/sign-in/phone/over/", 404, who=None),
    # Photos, kept views, steps for many rows
    State("shade-photo", "shade-photo", of("shade-photo", Shade, name="Juniper")),
    State("cone-photo", "cone-photo", of("cone-photo", Cone, code="K-053")),
    State("shelf-views", "shelf-views", at("shelf-views", query="?show=low")),
    State("cones-move", "cones-move", _ticked("cones-move", "cones", Cone, "K-053", "K-088")),
    State("cones-condition", "cones-condition", _ticked("cones-condition", "cones", Cone, "K-053", "K-088")),
    State("cones-retire", "cones-retire", _ticked("cones-retire", "cones", Cone, "K-053", "K-088")),
    State("shades-keep", "shades-keep", _ticked("shades-keep", "shades", Shade, "Juniper", "Garnet")),
    State("shades-retire", "shades-retire", _ticked("shades-retire", "shades", Shade, "Juniper", "Garnet")),
    State("projects", "projects", at("projects")),
    State("projects-none", "projects", at("projects", query="?q=zzz")),
    State("projects-away", "projects", _all_put_away),
    State("project-new", "project-new", at("project-new")),
    State("project-short", "project-page", of("project-page", Project, name="Hearth mats"), do=open_all),
    State(
        "project-badly-typed", "project-page", of("project-page", Project, name="Hearth mats"), do=type_badly
    ),
    State(
        "project-refused",
        "project-page",
        of("project-page", Project, name="Hearth mats"),
        do=press("Keep the plan"),
    ),
    State("project-clash", "project-page", of("project-page", Project, name="Hearth mats"), do=clash),
    State("project-reserved", "project-page", of("project-page", Project, name="Ferry towels")),
    State("project-undercut", "project-page", of("project-page", Project, name="Sill curtains")),
    State("project-away", "project-page", of("project-page", Project, name="Orchard towels")),
    State("project-read", "project-page", of("project-page", Project, name="Hearth mats"), who=DEMO_VIEWER),
    State("project-under-way", "project-page", _under_way),
    State("projects-at-a-step", "projects", at("projects", query="?stage=weaving")),
    State("project-cut-off", "project-cut-off", of("project-cut-off", Project, name="Ferry towels")),
    State(
        "project-cut-off-refused",
        "project-cut-off",
        of("project-cut-off", Project, name="Ferry towels"),
        do=press("It is cut off"),
    ),
    State(
        "project-note",
        "project-note",
        of("project-note", Project, name="Ferry towels"),
        do=press("Keep this note"),
    ),
    State("project-photo-add", "project-photo-add", of("project-photo-add", Project, name="Ferry towels")),
    State("project-copy", "project-copy", _copy_of_what_is_retired),
    State("project-open-key", "project-page", _open_key),
    State("project-open", "project-open", at("project-open"), do=press("Look into the file")),
    State("project-open-ask", "project-open", at("project-open"), do=open_file),
    State("project-kits", "project-kits", _kits),
    State("shade-wanted", "shade-wanted", of("shade-wanted", Shade, name="Rust")),
    State("project-wishes", "project-wishes", of("project-wishes", Project, name="Hearth mats")),
    # Suppliers and orders
    State("buying", "buying", at("buying"), do=open_all),
    State("buying-refused", "buying-write", at("buying"), do=press("Write this order")),
    State("suppliers", "suppliers", at("suppliers")),
    State("supplier-new", "supplier-new", at("supplier-new"), do=press("Note this supplier")),
    State("supplier-page", "supplier-page", of("supplier-page", Supplier), do=open_all),
    State("supplier-edit", "supplier-edit", of("supplier-edit", Supplier)),
    State("supplier-retire", "supplier-retire", of("supplier-retire", Supplier)),
    State("put-up-new", "put-up-new", of("put-up-new", Supplier), do=press("Note this put-up")),
    State("put-up-edit", "put-up-edit", of("put-up-edit", PutUp)),
    State("orders", "orders", _order("orders")),
    State("order-new", "order-new", at("order-new")),
    State("order-page", "order-page", _order("order-page")),
    State("order-late", "order-page", _order("order-page", late=True)),
    State("order-read", "order-page", _order("order-page"), who=DEMO_VIEWER),
    State("order-edit", "order-edit", _order("order-edit", late=True)),
    State("order-send", "order-send", _order("order-send"), do=press("Note it as ordered")),
    State("order-close", "order-close", _order("order-close", late=True)),
    State("order-discard", "order-discard", _order("order-discard")),
    State("order-line-new", "order-line-new", _order("order-line-new"), do=press("Keep this line")),
    State("order-line-edit", "order-line-edit", _order("order-line-edit")),
    State("order-line-cancel", "order-line-cancel", _order("order-line-cancel", late=True)),
    State("shopping-list", "shopping-list", _order("shopping-list")),
    State("shopping-text", "shopping-text", _order("shopping-text")),
    State("receive-of-an-order", "receive", _of_an_order, do=_keep_too_many),
    # Equipment
    State("fairs", "fairs", at("fairs"), do=open_all),
    State("fair-page", "fair-page", lambda: _fair("fair-page"), do=open_all),
    State("fair-new", "fair-new", at("fair-new")),
    State("fair-new-refused", "fair-new", at("fair-new"), do=press("Note this fair")),
    State("fair-edit", "fair-edit", lambda: _fair("fair-edit")),
    State("fair-remove", "fair-remove", lambda: _fair("fair-remove")),
    State("calendar", "calendar", lambda: _fair("calendar")),
    State("calendar-addresses", "calendar-addresses", _calendar_addresses, do=make_calendar_address),
    State("calendar-addresses-first", "calendar-addresses", at("calendar-addresses")),
    State("equipment", "equipment", at("equipment"), do=open_all),
    State("equipment-read", "equipment", at("equipment"), who=DEMO_VIEWER),
    State("equipment-none", "equipment", _no_equipment),
    State("equipment-loom-new", "equipment-new", at("equipment-new", "looms"), do=open_all),
    State("equipment-loom-refused", "equipment-new", at("equipment-new", "looms"), do=press("Note it")),
    State("equipment-reeds-new", "equipment-new", at("equipment-new", "reeds")),
    State("equipment-board-new", "equipment-new", at("equipment-new", "boards")),
    State("equipment-tool-new", "equipment-new", at("equipment-new", "tools")),
    State("equipment-loom", "equipment-page", _equipment("equipment-page", "looms")),
    State("equipment-reed", "equipment-page", _equipment("equipment-page", "reeds")),
    State("equipment-loom-read", "equipment-page", _equipment("equipment-page", "looms"), who=DEMO_VIEWER),
    State("equipment-lend", "equipment-lend", _equipment("equipment-lend", "looms")),
    State("project-too-wide", "project-page", _too_wide),
    State("project-sheet", "project-sheet", of("project-sheet", Project, name="Ferry towels")),
    State("project-ticket", "project-ticket", of("project-ticket", Project, name="Ferry towels")),
    State("project-ticket-proposed", "project-ticket", of("project-ticket", Project, name="Hearth mats")),
    State(
        "project-ticket-wrong",
        "project-ticket",
        of("project-ticket", Project, "?k=4&section=2&bout=1", name="Ferry towels"),
        status=422,
    ),
    State(
        "project-ticket-phone",
        "project-ticket-phone",
        of("project-ticket-phone", Project, name="Ferry towels"),
    ),
    State("project-threading", "project-threading", of("project-threading", Project, name="Ferry towels")),
    State("project-weft-sheet", "project-weft-sheet", of("project-weft-sheet", Project, name="Hearth mats")),
    # The cloth from near, and the orders as rows
    State("project-cloth", "project-cloth-page", of("project-cloth-page", Project, name="Ferry towels")),
    State(
        "project-cloth-near",
        "project-cloth-page",
        of("project-cloth-page", Project, "?side=back&cloth=finished&zoom=4", name="Ferry towels"),
    ),
    State("project-orders", "project-page", of("project-page", Project, name="Ferry towels"), do=open_orders),
    State("project-ways", "project-ways", of("project-ways", Project, name="Hearth mats"), do=open_all),
    State("project-ways-tried", "project-ways", _trial("project-ways")),
    State("project-ways-none", "project-ways", of("project-ways", Project, name="Ferry towels")),
    State(
        "project-ways-read", "project-ways", of("project-ways", Project, name="Hearth mats"), who=DEMO_VIEWER
    ),
    State("project-move", "project-move", _move),
    # Another shade in place of one
    State("project-instead", "project-instead", _instead),
    State("project-instead-read", "project-instead", _instead, who=DEMO_VIEWER),
    State("shade-instead", "shade-instead", of("shade-instead", Shade, name="Juniper")),
    State("project-beside", "project-beside", _trial("project-beside")),
    State("project-trial", "project-page", _trial("project-page")),
    State("project-more", "project-more", of("project-more", Project, name="Hearth mats")),
    State(
        "project-more-wrong", "project-more", of("project-more", Project, "?more=99", name="Hearth mats"), 422
    ),
    State("weavable", "weavable", at("weavable")),
    State("proposals", "proposals", _proposal("listed")),
    State("proposal", "proposal", _proposal("done")),
    State("proposal-running", "proposal", _proposal("running")),
    State("proposal-cancelled", "proposal", _proposal("cancelled")),
    State("weavable-empty", "weavable", lambda: _all_put_away() and reverse("weavable")),
    State("project-draft", "project-page", of("project-page", Project, name="Hearth mats"), do=type_draft),
    State("import", "import", at("import")),
    State("import-refused", "import", at("import"), do=_send_nothing),
    State("import-columns", "import-columns", _import("import-columns")),
    State("import-columns-refused", "import-columns", _import("import-columns"), do=_say_no_weight),
    State("import-rows-wrong", "import-rows", _import("import-rows")),
    State("import-rows-alike", "import-rows", _import("import-rows", known=True)),
    State("import-rows-ready", "import-rows", _import("import-rows", known=True, alike="each")),
    State("import-running", "import-progress", _import_under_way("running")),
    State("import-failed", "import-progress", _import_under_way("failed")),
    State("import-done", "import-progress", _import_under_way("done")),
    State("export", "export", at("export")),
    State("not-there", "project-page", at("project-page", 99_999), 404),
    State("not-allowed", "cone-add", at("cone-add"), 403, DEMO_VIEWER),
]

# Opened by a form or by a page, never as a page.
NO_PAGES = {
    "import-example",
    "import-run",
    "import-leave",
    "export-table",
    "backup-download",
    "backup-remove",
    "archive-download",
    "label",
    "photo",
    "sign-in-demo",
    "sign-out",
    "project-shades",
    "project-preview-new",
    "project-preview",
    "cone-take-back",
    "put-up-retire",
    "order-take-back",
    "order-line-remove",
    "shopping-file",
    "proposal-cancel",
    "proposal-accept",
    "project-reserve",
    "project-release",
    "project-new-grist",
    "project-put-away",
    "project-stage",
    "project-note-remove",
    "project-photo",
    "project-photo-remove",
    "project-save",
    "project-cloth",
    "project-order",
    "project-order-new",
    "project-ticket-done",
    "project-ticket-keep",
    "project-ticket-share",
    "equipment-back",
    "fair-projects",
    "project-fair",
    "calendar-feed",
    "equipment-retire",
    "stocktake-counts",
}
# Looked at below, in a studio that is still empty.
BEFORE_ALL = {"welcome", "open-archive"}


def test_every_address_of_the_site_is_looked_at():
    looked_at = {state.route for state in STATES} | NO_PAGES | BEFORE_ALL
    assert looked_at == {pattern.name for _, pattern in all_patterns()}


@pytest.fixture(scope="session")
def axe():
    from axe_playwright_python.base import AXE_SCRIPT

    return AXE_SCRIPT


def enter(visit: Visit, person: Person) -> None:
    """Signed in without the way through the door."""
    client = Client()
    client.force_login(person)
    visit.context.add_cookies(
        [{"name": name, "value": cookie.value, "url": visit.home} for name, cookie in client.cookies.items()]
    )


FIRST_STATES = {state.route: state.name for state in reversed(STATES)}
"""The first state of each page."""


def look(visit: Visit, axe: str, name: str, *, again: bool = False) -> list[str]:
    """What is wrong with the page that is open, in four views of it; in one if it was looked at in another state."""
    page = visit.page
    page.evaluate(axe)
    found = [f"heading: {trouble}" for trouble in [page.evaluate(HEADING)] if trouble]
    for scheme, rules in (("light", ALL_RULES), ("dark", CONTRAST)):
        page.emulate_media(color_scheme=scheme)
        for label, size in (("wide", WIDE), ("phone", PHONE)):
            page.set_viewport_size(size)
            if PICTURES:
                page.screenshot(path=f"{PICTURES}/{name}-{label}-{scheme}.png", full_page=True)
            if scheme == "light" and visit.sideways() > 0:
                found.append(f"{label}: {visit.sideways()} px wider than its window")
            if again:
                if (label, scheme) != ("phone", "dark"):
                    continue
                rules = ALL_RULES
            for violation in page.evaluate("rules => axe.run(document, rules)", rules)["violations"]:
                node = violation["nodes"][0]
                why = re.sub(r"\s+", " ", node["failureSummary"])
                found.append(
                    f"{label}, {scheme}: {violation['id']} ×{len(violation['nodes'])}: {node['target']}: {why}"
                )
    return found


@pytest.mark.parametrize("state", STATES, ids=lambda state: state.name)
def test_a_page_is_accessible_in_every_view(site, visit, axe, state):
    mine = visit()
    if state.who:
        enter(mine, Person.objects.get(username=state.who))
    if state.status != 200:
        mine.expect_answers(state.status)
    answer = mine.page.goto(state.path(), wait_until="load")
    assert answer.status == state.status
    if state.do:
        state.do(mine)
    found = look(mine, axe, state.name, again=FIRST_STATES[state.route] != state.name)
    assert not found, "\n".join(found)


@pytest.mark.parametrize(
    ("route", "role"),
    [
        *(
            (route, Role.OWNER)
            for route in ("welcome", "open-archive", "today", "yarn", "cone-add", "projects", "project-new")
        ),
        *((route, Role.VIEWER) for route in ("today", "yarn", "projects")),
    ],
    ids=lambda value: value.name.lower() if isinstance(value, Role) else value,
)
def test_an_empty_studio_is_accessible(empty_site, visit, axe, route, role):
    mine = visit()
    if route not in BEFORE_ALL:
        StudioFactory()
        enter(mine, PersonFactory(username="mara", role=role))
    assert mine.page.goto(reverse(route), wait_until="load").status == 200
    found = look(mine, axe, f"empty-{route}-{role}")
    assert not found, "\n".join(found)


def test_the_door_that_stays_shut_is_accessible(site, visit, axe):
    mine = visit()
    mine.expect_answers(422, 429)
    for _ in range(6):
        Client().post(reverse("sign-in"), {"username": DEMO_OWNER, "password": "no"})
    mine.page.goto("/sign-in/")
    mine.page.get_by_label("Sign-in name").fill(DEMO_OWNER)
    mine.page.get_by_label("Password").fill("no")
    mine.page.get_by_role("button", name="Sign in", exact=True).click()
    mine.page.get_by_role("heading", name="Too many tries").wait_for()
    found = look(mine, axe, "locked-out")
    assert not found, "\n".join(found)


@pytest.mark.parametrize("kind", ["bad_request", "server_error"])
def test_what_is_said_when_something_breaks_is_accessible(site, visit, axe, kind):
    """No address of the site leads there, so the page is put where one would be."""
    mine = visit()
    mine.expect_answers(400, 500)
    answer = getattr(errors, kind)(RequestFactory().get("/"))
    mine.page.route(
        "**/broken/",
        lambda route: route.fulfill(
            status=answer.status_code, body=answer.content.decode(), content_type="text/html"
        ),
    )
    mine.page.goto("/broken/")
    found = look(mine, axe, kind)
    assert not found, "\n".join(found)


def test_faults_that_are_planted_in_a_page_are_found(site, visit, axe):
    """A clean page proves something only if the same look sees what is not clean."""
    mine = visit()
    enter(mine, Person.objects.get(username=DEMO_OWNER))
    mine.page.goto("/studio/")
    assert look(mine, axe, "studio") == []
    mine.page.evaluate(
        """() => {
          const add = (tag, text, style) => {
            const made = document.querySelector("main").appendChild(document.createElement(tag));
            made.textContent = text;
            Object.assign(made.style, style);
            return made;
          };
          add("h1", "A second heading", {});
          add("p", "hardly to be read", {color: "#777", background: "#888"});
          add("div", "", {width: "1600px", height: "1px"});
          add("img", "", {}).src = "/static/nothing.png";
        }"""
    )
    found = "\n".join(look(mine, axe, "planted"))
    for fault in (
        "2 first headings",
        "wide: ",
        "phone: ",
        "wide, light: image-alt",
        "phone, light: image-alt",
    ):
        assert fault in found
    for view in ("wide, light", "phone, light", "wide, dark", "phone, dark"):
        assert f"{view}: color-contrast" in found

    mine.page.evaluate("fetch('http://elsewhere.invalid/').catch(() => {})")
    mine.page.evaluate("console.error('a script is unhappy')")
    mine.page.evaluate("setTimeout(() => { throw new Error('a script broke'); })")
    mine.page.wait_for_timeout(200)
    trouble = "\n".join(mine.trouble)
    for fault in ("status of 404", "a script is unhappy", "a script broke", "elsewhere.invalid"):
        assert fault in trouble
    mine.trouble.clear()
