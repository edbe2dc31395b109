"""Who may open what: every address, asked by everybody.

The table is a second opinion: it does not read the words at the views, it says what they should come to.
"""

import re
from functools import cache

import pytest
from django.apps import apps
from django.conf import settings
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from projects.models import Fair
from projects.proposing import run_desk
from projects.services import recording
from projects.views import proposals
from stash.access import Access
from stash.models import CalendarAddress, CoreKind, Delivery, Loom, PutUp, Role, Studio
from stash.services.calendar_addresses import make_address
from stash.services.import_desk import put_down
from stash.services.people import add_person
from stash.services.phones import make_codes
from stash.services.photos import take_photo
from stash.services.stocktaking import begin
from stash.site.checks import all_patterns, every_view_says_who_may_open_it
from stash.spreadsheets.sheet import Row, Sheet
from tests.factories import (
    ClaimFactory,
    PersonFactory,
    StudioFactory,
    a_photo,
    make_cone,
    make_order,
    make_project,
    make_shade,
)

# Who may open what is decided before anything is read of the books.
pytestmark = pytest.mark.once

NOBODY = None
VIEWER, HELPER, OWNER = Role.VIEWER, Role.HELPER, Role.OWNER

# name: (who reads, who changes)
RULES = {
    "welcome": (NOBODY, NOBODY),
    "open-archive": (NOBODY, NOBODY),
    "sign-in": (NOBODY, NOBODY),
    "sign-in-demo": (NOBODY, NOBODY),
    "sign-out": (NOBODY, NOBODY),
    "today": (VIEWER, VIEWER),
    "find": (VIEWER, VIEWER),
    "claim": (VIEWER, VIEWER),
    "password": (VIEWER, VIEWER),
    "studio": (VIEWER, OWNER),
    "person-new": (OWNER, OWNER),
    "person-edit": (OWNER, OWNER),
    "backup": (OWNER, OWNER),
    "backup-download": (OWNER, OWNER),
    "backup-remove": (OWNER, OWNER),
    "archive-download": (OWNER, OWNER),
    "yarn": (VIEWER, VIEWER),
    "yarn-page": (VIEWER, VIEWER),
    "yarn-new": (OWNER, OWNER),
    "yarn-edit": (OWNER, OWNER),
    "yarn-retire": (OWNER, OWNER),
    "yarn-measure": (OWNER, OWNER),
    "shade-page": (VIEWER, VIEWER),
    "shade-new": (OWNER, OWNER),
    "shade-edit": (OWNER, OWNER),
    "shade-retire": (OWNER, OWNER),
    "shade-no-more": (OWNER, OWNER),
    "cone-page": (VIEWER, HELPER),
    "cone-ledger": (VIEWER, VIEWER),
    "cone-add": (OWNER, OWNER),
    "cone-edit": (OWNER, OWNER),
    "cone-move": (HELPER, HELPER),
    "cone-retire": (OWNER, OWNER),
    "cores": (OWNER, OWNER),
    "core-edit": (OWNER, OWNER),
    "receive": (OWNER, OWNER),
    "deliveries": (VIEWER, VIEWER),
    "delivery-page": (VIEWER, OWNER),
    # What to order
    "buying": (VIEWER, VIEWER),
    "buying-write": (OWNER, OWNER),
    # Suppliers and orders
    "suppliers": (VIEWER, VIEWER),
    "supplier-new": (OWNER, OWNER),
    "supplier-page": (VIEWER, VIEWER),
    "supplier-edit": (OWNER, OWNER),
    "supplier-retire": (OWNER, OWNER),
    "put-up-new": (OWNER, OWNER),
    "put-up-edit": (OWNER, OWNER),
    "put-up-retire": (OWNER, OWNER),
    "orders": (VIEWER, VIEWER),
    "order-new": (OWNER, OWNER),
    "order-page": (VIEWER, VIEWER),
    "order-edit": (OWNER, OWNER),
    "order-send": (OWNER, OWNER),
    "order-take-back": (OWNER, OWNER),
    "order-close": (OWNER, OWNER),
    "order-discard": (OWNER, OWNER),
    "order-line-new": (OWNER, OWNER),
    "order-line-edit": (OWNER, OWNER),
    "order-line-remove": (OWNER, OWNER),
    "order-line-cancel": (OWNER, OWNER),
    "shopping-list": (VIEWER, VIEWER),
    "shopping-text": (VIEWER, VIEWER),
    "shopping-file": (VIEWER, VIEWER),
    "cone-wind-over": (HELPER, HELPER),
    "cone-split": (HELPER, HELPER),
    "cone-join": (HELPER, HELPER),
    "cone-condition": (HELPER, HELPER),
    "cone-oddment": (HELPER, HELPER),
    "cone-write-off": (OWNER, OWNER),
    "cone-take-back": (HELPER, HELPER),
    "shelf-views": (VIEWER, VIEWER),
    "photo": (VIEWER, VIEWER),
    "shade-photo": (OWNER, OWNER),
    "cone-photo": (HELPER, HELPER),
    "cones-move": (HELPER, HELPER),
    "cones-condition": (HELPER, HELPER),
    "cones-retire": (OWNER, OWNER),
    "shades-keep": (OWNER, OWNER),
    "shades-retire": (OWNER, OWNER),
    "import": (OWNER, OWNER),
    "import-example": (OWNER, OWNER),
    "import-rows": (OWNER, OWNER),
    "import-columns": (OWNER, OWNER),
    "import-run": (OWNER, OWNER),
    "import-leave": (OWNER, OWNER),
    "import-progress": (OWNER, OWNER),
    "export": (HELPER, HELPER),
    "export-table": (HELPER, HELPER),
    "stocktakes": (VIEWER, HELPER),
    "stocktake-page": (VIEWER, HELPER),
    "stocktake-counts": (HELPER, HELPER),
    "stocktake-differences": (VIEWER, HELPER),
    "stocktake-close": (HELPER, HELPER),
    "stocktake-report": (VIEWER, VIEWER),
    "stocktake-paper": (VIEWER, VIEWER),
    "labels": (VIEWER, VIEWER),
    "label": (VIEWER, VIEWER),
    "phone": (VIEWER, VIEWER),
    "phone-typed": (NOBODY, NOBODY),
    "phone-sign-in": (NOBODY, NOBODY),
    "projects": (VIEWER, VIEWER),
    "project-page": (VIEWER, OWNER),
    "project-new": (OWNER, OWNER),
    "project-shades": (OWNER, OWNER),
    "project-preview-new": (OWNER, OWNER),
    "project-preview": (OWNER, OWNER),
    "project-reserve": (HELPER, HELPER),
    "project-release": (HELPER, HELPER),
    "project-wound": (HELPER, HELPER),
    "project-weigh-back": (HELPER, HELPER),
    "project-new-grist": (OWNER, OWNER),
    "project-put-away": (OWNER, OWNER),
    "project-sheet": (VIEWER, VIEWER),
    "project-ticket": (VIEWER, VIEWER),
    "project-ticket-phone": (VIEWER, VIEWER),
    "project-ticket-done": (HELPER, HELPER),
    "project-ticket-keep": (HELPER, HELPER),
    "project-ticket-share": (HELPER, HELPER),
    "project-threading": (VIEWER, VIEWER),
    "project-weft-sheet": (VIEWER, VIEWER),
    "project-cloth": (VIEWER, VIEWER),
    # The cloth from near, and the orders as rows
    "project-cloth-page": (VIEWER, VIEWER),
    "project-order": (OWNER, OWNER),
    "project-order-new": (OWNER, OWNER),
    # As it goes on, and used again
    "project-stage": (HELPER, HELPER),
    "project-cut-off": (HELPER, HELPER),
    "project-note": (HELPER, HELPER),
    "project-note-remove": (HELPER, HELPER),
    "project-photo-add": (HELPER, HELPER),
    "project-photo": (VIEWER, VIEWER),
    "project-photo-remove": (HELPER, HELPER),
    "project-open": (OWNER, OWNER),
    "project-copy": (OWNER, OWNER),
    "project-save": (VIEWER, VIEWER),
    "project-kits": (VIEWER, VIEWER),
    "weavable": (VIEWER, VIEWER),
    "project-ways": (VIEWER, OWNER),
    "project-move": (HELPER, HELPER),
    "project-beside": (VIEWER, OWNER),
    "project-more": (VIEWER, VIEWER),
    "project-wishes": (OWNER, OWNER),
    "shade-wanted": (VIEWER, VIEWER),
    "shade-ahead": (VIEWER, VIEWER),
    # Another shade in place of one
    "project-instead": (VIEWER, OWNER),
    "shade-instead": (VIEWER, VIEWER),
    # Who gets which cone
    "proposals": (HELPER, HELPER),
    "proposal": (HELPER, HELPER),
    "proposal-cancel": (HELPER, HELPER),
    "proposal-accept": (HELPER, HELPER),
    # Fairs and days
    "fairs": (VIEWER, VIEWER),
    "fair-new": (OWNER, OWNER),
    "fair-page": (VIEWER, VIEWER),
    "fair-edit": (OWNER, OWNER),
    "fair-remove": (OWNER, OWNER),
    "fair-projects": (OWNER, OWNER),
    "project-fair": (OWNER, OWNER),
    "calendar": (VIEWER, VIEWER),
    "calendar-addresses": (VIEWER, VIEWER),
    "calendar-feed": (NOBODY, NOBODY),
    # Equipment
    "equipment": (VIEWER, VIEWER),
    "equipment-new": (OWNER, OWNER),
    "equipment-page": (VIEWER, OWNER),
    "equipment-lend": (HELPER, HELPER),
    "equipment-back": (HELPER, HELPER),
    "equipment-retire": (OWNER, OWNER),
}
GUARDED = sorted(name for name, (read, _) in RULES.items() if read is not NOBODY)

SHEET = Sheet((Row(1, ("Yarn", "Shade", "Net (g)")), Row(2, ("Plain cotton", "Spruce", 450))))


@pytest.fixture(scope="module")
def rows(shared_rows):
    """One row of everything that an address can name, the names' numbers, and people who are signed in."""
    StudioFactory()
    people = viewer, _, owner = [
        PersonFactory(username=str(role), name=str(role), role=role) for role in (VIEWER, HELPER, OWNER)
    ]
    shade = make_shade("Spruce")
    cone = make_cone(shade, lot="A17", place="North shelf", by=owner)
    project = make_project("Lantern mats", shade)
    numbers = {
        "claim": ClaimFactory().pk,
        "person": viewer.pk,
        "cone": cone.pk,
        "shade": shade.pk,
        "yarn": shade.yarn_id,
        "project": project.pk,
        "note": recording.add_note(project_id=project.pk, text="Beat is 18", by=owner).pk,
        "stocktake": begin(place_id=None, by=owner).pk,
        "export": "cones.csv",
        "label": cone.code,
        "core": CoreKind.objects.create(name="Paper cone", mass_mg=34_000).pk,
        "delivery": Delivery.objects.create(received_on=timezone.localdate(), made_at=timezone.now()).pk,
        "phone": make_codes(person=viewer).in_address,
        "fair": Fair.objects.create(
            name="Spring fair", begins_on=timezone.localdate(), made_at=timezone.now()
        ).pk,
        "calendar": _calendar(viewer),
        **_bought(shade),
        "kind": "looms",
        "key": "A",
        "equipment": Loom.objects.create(
            name="Big loom", weaving_width_um=900_000, shafts=4, waste_um=700_000
        ).pk,
    }
    sessions = {}
    for person in people:
        client = Client()
        client.force_login(person)
        sessions[person.role] = client.cookies[settings.SESSION_COOKIE_NAME].value
    return numbers, sessions, owner


def _calendar(person):
    """The token of a calendar's address that was read just now: of one read long ago, a reading is noted."""
    made, token = make_address(person=person, name="My phone")
    CalendarAddress.objects.filter(pk=made.pk).update(read_at=timezone.now())
    return token


def _bought(shade):
    """An order that is being written, with its line, its supplier and a put-up of theirs."""
    order = make_order(shade, sent=False)
    put_up = PutUp.objects.create(supplier=order.supplier, yarn=shade.yarn, mass_mg=454_000)
    line = order.lines.get()
    return {
        "supplier": order.supplier_id,
        "put": put_up.pk,
        "order": order.pk,
        "line": line.pk,
        "shopping": "shopping-list.csv",
    }


@pytest.fixture
def world(db, rows, monkeypatch):
    """The numbers for addresses, with the files that they name, and a signed-in client of each role."""
    numbers, sessions, owner = rows
    files = {
        "photo": take_photo(sent=a_photo(), cone_id=numbers["cone"]).pk,
        "project_photo": recording.add_photo(project_id=numbers["project"], sent=a_photo()).pk,
        "import": put_down(SHEET, name="list.csv", by_id=owner.pk).token,
        "proposal": run_desk.start(by_id=owner.pk)[0].token,
    }
    monkeypatch.setattr(proposals, "run_beside", lambda run: run.stop())
    clients = {role: Client() for role in sessions}
    for role, client in clients.items():
        client.cookies[settings.SESSION_COOKIE_NAME] = sessions[role]
    return numbers | files, clients


@cache
def patterns():
    return {pattern.name: pattern for _, pattern in all_patterns()}


def address(name, numbers):
    pattern = patterns()[name]
    return reverse(name, kwargs={key: numbers[_named_by(name, key)] for key in pattern.pattern.converters})


def _named_by(name, key):
    if key in ("kind", "key"):
        return key
    return key.removesuffix("_pk") if key.endswith("_pk") else name.split("-")[0]


def books():
    """Everything that the studio keeps, row by row as it is stored; sessions come and go."""
    kept = {}
    with connection.cursor() as cursor:
        for model in apps.get_models(include_auto_created=True):
            if model._meta.app_label in ("stash", "projects", "auth", "contenttypes"):
                table, key = model._meta.db_table, model._meta.pk.column
                cursor.execute(f'SELECT * FROM "{table}" ORDER BY "{key}"')
                kept[table] = cursor.fetchall()
    return kept


def test_every_address_stands_in_the_table():
    assert sorted(pattern.name for _, pattern in all_patterns()) == sorted(RULES)


def test_a_view_that_says_nothing_is_named_by_the_check_and_opens_to_nobody(monkeypatch, as_owner):
    from stash.site.views import finding

    assert every_view_says_who_may_open_it() == []
    monkeypatch.delattr(finding.find, "access")
    (error,) = every_view_says_who_may_open_it()
    assert "/find/" in error.msg
    assert as_owner.get("/find/").status_code == 403


@pytest.mark.parametrize("name", GUARDED)
@pytest.mark.parametrize("method", ["get", "post"])
def test_nobody_is_led_to_the_door(world, client, name, method):
    page = address(name, world[0])
    before = books()
    answer = getattr(client, method)(page)
    assert answer.status_code == 302
    assert answer.url.startswith("/sign-in/?next=")
    assert books() == before


@pytest.mark.parametrize("name", GUARDED)
def test_a_part_of_a_page_leads_nobody_to_the_door_as_a_whole_page(world, client, name):
    headers = {"HX-Request": "true", "HX-Current-URL": "http://testserver/projects/?page=2"}
    for answer in (
        client.get(address(name, world[0]), headers=headers),
        client.post(address(name, world[0]), headers=headers),
    ):
        assert answer.status_code == 200
        assert answer["HX-Redirect"] == "/sign-in/?next=/projects/%3Fpage%3D2"
        assert answer.content == b""


@pytest.mark.parametrize("name", RULES)
def test_people_read_what_their_role_reaches_and_reading_changes_nothing(world, name):
    numbers, clients = world
    needed = RULES[name][0]
    before = books()
    for role, client in clients.items():
        for answer in (client.get(address(name, numbers)), client.head(address(name, numbers))):
            if needed is NOBODY or role.reaches(needed):
                assert answer.status_code in (200, 302, 405), (role, answer.status_code)
            else:
                assert answer.status_code == 403, (role, answer.status_code)
    assert books() == before


@pytest.mark.parametrize("name", GUARDED)
def test_people_change_what_their_role_reaches(world, name):
    """An empty form is a slip (422) at most, never an error of ours."""
    numbers, clients = world
    needed = RULES[name][1]
    for role, client in clients.items():
        before = books()
        answer = client.post(address(name, numbers))
        if role.reaches(needed):
            assert answer.status_code in (200, 204, 302, 405, 422), (role, answer.status_code)
        else:
            assert answer.status_code == 403, (role, answer.status_code)
            assert books() == before


@pytest.mark.parametrize("name", GUARDED)
def test_a_viewers_empty_post_changes_nothing(world, name):
    numbers, clients = world
    client = clients[VIEWER]
    before = books()
    client.post(address(name, numbers))
    assert books() == before


@pytest.mark.parametrize(
    "name", [name for name in RULES if re.search("page|edit|[en]-(retire|move)|claim|ledger", name)]
)
def test_what_is_not_there_is_not_found(world, name):
    numbers, clients = world
    missing = numbers | {key: number + 1000 for key, number in numbers.items() if isinstance(number, int)}
    assert clients[OWNER].get(address(name, missing)).status_code in (404, 405)


def test_after_a_step_nobody_comes_back_to_the_page_in_sight(world, client):
    page = address("project-reserve", world[0])
    seen = {"Referer": "http://testserver/projects/7/?x=1"}
    assert client.post(page, headers=seen).url == "/sign-in/?next=/projects/7/%3Fx%3D1"
    assert client.post(page, headers={"Referer": "http://elsewhere.example/x"}).url == "/sign-in/?next=/"
    assert client.post(page).url == "/sign-in/?next=/"


def test_a_form_without_its_token_is_refused_in_the_look_of_the_house(owner):
    client = Client(enforce_csrf_checks=True)
    client.force_login(owner)
    answer = client.post("/studio/", {"name": "Loft"})
    assert answer.status_code == 403
    assert "This form is too old" in answer.content.decode()
    assert "SITE_URL" not in answer.content.decode()
    answer = client.post("/studio/", {"name": "Loft"}, headers={"Origin": "https://elsewhere.example"})
    assert "SITE_URL" in answer.content.decode()


@pytest.mark.parametrize("role", Role)
@pytest.mark.parametrize("needed", Role)
def test_a_role_reaches_itself_and_what_is_below(rf, db, role, needed):
    request = rf.get("/")
    request.user = add_person(username="one", name="", role=role, password="nine ends and a pick")
    order = [Role.VIEWER, Role.HELPER, Role.OWNER]
    assert Access(needed, needed).allows(request) == (order.index(role) >= order.index(needed))


def test_someone_whose_way_in_is_closed_is_nobody(rf, viewer):
    request = rf.get("/")
    request.user = viewer
    viewer.is_active = False
    assert not Access(Role.VIEWER, None).allows(request)


def test_an_answer_needs_no_studio_to_say_what_went_wrong(client, db):
    Studio.objects.all().delete()
    answer = client.get("/nowhere/")
    assert answer.status_code == 404
