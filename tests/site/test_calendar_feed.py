"""The days as a calendar reads them: every event by another library than the one that writes, at an address that ends.

vobject reads what icalendar wrote, so that neither's habits pass for the standard's.
"""

import logging
import re
from datetime import UTC, date, datetime, timedelta

import pytest
import vobject
import zxingcpp
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from projects.days import DayKind, all_days
from projects.models import Fair, Project
from stash.models import CalendarAddress, Loom, Order, PutUp, Studio
from stash.services.calendar_addresses import (
    MOST_LIVE,
    READ_AGAIN,
    find_address,
    hash_of,
    make_address,
    note_reading,
    revoke_address,
)
from stash.services.changing import set_condition
from stash.services.people import change_person
from stash.services.refusal import Refusal
from stash.site.calendar.feed import calendar_of, uid_of
from stash.site.logs import CutPrivate
from tests.factories import make_cone, make_order, make_shade, make_yarn
from tests.projects.factories import make_project
from tests.stash.reading import Read
from tests.stash.test_labels import drawn

DAY = timezone.localdate()
LOFT = "http://loft.example:8000"


def ahead(days):
    return DAY + timedelta(days=days)


def make_days(owner):
    """One of every kind, late and ahead."""
    shade = make_shade("Spruce")
    fair = Fair.objects.create(
        name="Spring fair",
        place="Market hall",
        begins_on=ahead(40),
        ends_on=ahead(41),
        made_at=timezone.now(),
    )
    project = make_project({"A": shade}, "Oat mats", need_on=ahead(-3), occasion="Ada")
    Project.objects.filter(pk=project.pk).update(off_on=ahead(12), fair=fair)
    order = make_order(shade, by=owner)
    Order.objects.filter(pk=order.pk).update(due_on=ahead(3))
    other = make_shade("Rye", yarn=make_yarn("Linen"))
    PutUp.objects.create(supplier=order.supplier, yarn=other.yarn, mass_mg=454_000)
    make_project({"A": other}, "Rye mats", need_on=ahead(30))
    Loom.objects.create(
        name="Table loom",
        weaving_width_um=600_000,
        shafts=8,
        waste_um=600_000,
        lent_to="Ada",
        back_on=ahead(5),
    )
    cone = make_cone(shade, by=owner)
    set_condition(pk=cone.pk, condition="quarantine", on=ahead(9), by=owner, reason="came today")
    return project, fair


def fed(client, token, **headers):
    return client.get(f"/calendar/feed/{token}.ics", headers=headers)


def events(answer):
    """As the reading library has them, by UID."""
    (calendar,) = vobject.readComponents(answer.content.decode())
    return {event.uid.value: event for event in calendar.contents.get("vevent", [])}


@pytest.fixture
def token(viewer):
    return make_address(person=viewer, name="My phone")[1]


def test_every_day_of_the_list_is_an_event_and_nothing_else_is(client, token, owner, studio):
    make_days(owner)
    days = all_days(DAY)
    assert {one.kind for one in days} == set(DayKind)
    found = events(fed(client, token))
    assert len(found) == len(days)
    for one in days:
        event = found[uid_of(studio, one.key)]
        assert type(event.dtstart.value) is date and event.dtstart.value == one.on
        assert event.dtend.value == one.until + timedelta(days=1)
        assert event.summary.value == one.title
        assert event.categories.value == [one.kind.value]
        assert event.url.value == f"http://testserver{one.href}"
        assert event.dtstamp.value == datetime(DAY.year, DAY.month, DAY.day, tzinfo=UTC)
        said = event.description.value if hasattr(event, "description") else ""
        assert said.removeprefix("Late: it has not been done. ") == one.more
        assert said.startswith("Late") == one.late


def test_it_is_an_icalendar_by_the_letter(client, token, owner):
    make_days(owner)
    answer = fed(client, token)
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    text = answer.content.decode()
    # RFC 5545, 3.1: lines end with CRLF and are of 75 octets at most.
    assert text.endswith("END:VCALENDAR\r\n") and "\n" not in text.replace("\r\n", "")
    assert max(len(line.encode()) for line in text.split("\r\n")) <= 75
    # 3.6: PRODID and VERSION, once; RFC 7986, 5.1 and 5.7: a name, and how often to read.
    for line in ("BEGIN:VCALENDAR", "VERSION:2.0", "REFRESH-INTERVAL;VALUE=DURATION:PT4H"):
        assert text.count(f"{line}\r\n") == 1
    assert len(re.findall(r"^PRODID:-//.+//EN\r$", text, re.M)) == 1
    assert re.search(r"^NAME:.+\r$", text, re.M)
    assert len(re.findall(r"^DTSTART;VALUE=DATE:\d{8}\r$", text, re.M)) == text.count("BEGIN:VEVENT")


ODD = [
    "Mats, towels; and a \\ backslash",
    "Fair 🧶 für Ängström – “quoted”: yes",
    "long " * 15 + "end",
    "DTSTART:19990101",
    "  wide   blanks ",
    "ノート" * 20,
]


@pytest.mark.parametrize("name", ODD)
def test_odd_and_long_names_come_through(client, token, name):
    Fair.objects.create(name=name[:80], place=name[:80], begins_on=ahead(5), made_at=timezone.now())
    answer = fed(client, token)
    assert max(len(line) for line in answer.content.split(b"\r\n")) <= 75
    whole = [one for one in events(answer).values() if one.categories.value == ["fair"]]
    assert whole[0].summary.value == " ".join(name[:80].split())
    assert whole[0].description.value == f"{name[:80]}.".strip()


def test_line_breaks_and_control_characters_break_nothing(client, token):
    Fair.objects.create(
        name="Fair\r\nEND:VEVENT\r\n\x07\x00ring".replace("\x00", "\x0b"),
        place="Hall\nat the back",
        begins_on=ahead(5),
        made_at=timezone.now(),
    )
    answer = fed(client, token)
    assert not re.search(rb"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]", answer.content)
    (fair,) = (one for one in events(answer).values() if one.categories.value == ["fair"])
    assert fair.summary.value == "Fair END:VEVENT ring"
    assert fair.description.value == "Hall\nat the back."


def test_the_last_day_of_all_calendars_is_no_error(studio):
    fair = Fair.objects.create(name="Fair", begins_on=date.max, made_at=timezone.now())
    days = all_days(DAY)
    assert [one.key for one in days if one.on == date.max] == [f"fair-{fair.pk}"]
    assert b"DTSTART;VALUE=DATE:99991231" in calendar_of(studio, days, root="", today=DAY)


def test_a_moved_day_is_the_same_event_and_another_studio_has_others(client, token, owner, studio):
    make_days(owner)
    before = events(fed(client, token))
    Fair.objects.update(begins_on=ahead(50), ends_on=ahead(51))
    after = events(fed(client, token))
    assert before.keys() == after.keys()
    assert uid_of(studio, "fair-1") != uid_of(Studio(made_at=studio.made_at + timedelta(seconds=1)), "fair-1")


def test_what_did_not_change_is_not_sent_again(client, token, owner):
    make_days(owner)
    first = fed(client, token)
    again = fed(client, token, **{"If-None-Match": first["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    Fair.objects.update(name="Summer fair")
    assert fed(client, token, **{"If-None-Match": first["ETag"]}).status_code == 200


def test_a_feed_asks_the_same_for_twice_the_days(client, token, owner):
    def asked():
        with CaptureQueriesContext(connection) as caught:
            assert fed(client, token).status_code == 200
        return len(caught)

    make_days(owner)
    asked()
    few = asked()
    for number in range(3):
        shade = make_shade(f"Shade {number}")
        make_project({"A": shade}, f"Mats {number}", need_on=ahead(number))
        make_order(shade, by=owner)
        Fair.objects.create(name=f"Fair {number}", begins_on=ahead(5), made_at=timezone.now())
    Project.objects.update(fair=Fair.objects.first(), off_on=ahead(35))
    assert asked() == few


# --- The address ------------------------------------------------------------------------------------------


def test_only_the_hash_of_an_address_is_kept_and_a_token_is_long(viewer):
    made, token = make_address(person=viewer, name="My phone")
    assert made.token_hash == hash_of(token) != token
    assert token not in str(CalendarAddress.objects.values().get())
    assert len(token) == 32  # 192 bits, six to a sign
    assert len({make_address(person=viewer, name=f"Phone {n}")[1] for n in range(5)}) == 5


@pytest.mark.parametrize("token", ["no", "x" * 4000, "%00", "..%2F", "é"])
def test_an_unknown_address_is_not_found_and_nothing_is_said(client, studio, token):
    answer = fed(client, token)
    assert answer.status_code == 404
    if answer["Content-Type"].startswith("text/plain"):
        assert answer.content == b"Not found.\n"


def test_a_revoked_address_answers_as_one_that_never_was(client, viewer, token):
    assert fed(client, token).status_code == 200
    revoke_address(pk=CalendarAddress.objects.get().pk, person=viewer)
    gone, never = fed(client, token), fed(client, "never")
    assert (gone.status_code, gone.content) == (never.status_code, never.content) == (404, b"Not found.\n")
    assert dict(gone.items()) == dict(never.items())


def test_whoever_may_come_in_no_more_reads_no_more(client, owner, viewer, token):
    change_person(pk=viewer.pk, name="Vida", role=viewer.role, is_active=False)
    assert fed(client, token).status_code == 404


def test_nothing_but_reading_is_answered(client, token):
    assert client.head(f"/calendar/feed/{token}.ics").status_code == 200
    for method in ("post", "put", "delete"):
        assert getattr(client, method)(f"/calendar/feed/{token}.ics").status_code == 405


def test_a_reading_is_noted_once_an_hour(client, token):
    fed(client, token)
    first = CalendarAddress.objects.get().read_at
    assert first
    fed(client, token)
    assert CalendarAddress.objects.get().read_at == first
    CalendarAddress.objects.update(read_at=first - READ_AGAIN)
    note_reading(find_address(token))
    assert CalendarAddress.objects.get().read_at > first


def test_names_are_ones_own_and_addresses_are_not_without_end(viewer, owner):
    make_address(person=viewer, name=" My  phone ")
    with pytest.raises(Refusal) as error:
        make_address(person=viewer, name="My phone")
    assert error.value.field == "name"
    make_address(person=owner, name="My phone")
    for number in range(MOST_LIVE - 1):
        make_address(person=viewer, name=str(number))
    with pytest.raises(Refusal, match="20 addresses"):
        make_address(person=viewer, name="one more")


# --- The pages --------------------------------------------------------------------------------------------


def make_on_page(client, name="My phone"):
    """The address as the page says it, and as its code does."""
    answer = client.post("/calendar/addresses/", {"name": name}, headers={"Host": "127.0.0.1:8000"})
    text = answer.content.decode()
    (written,) = re.findall(r'<code class="address">(.*?)</code>', text)
    (svg,) = re.findall(r'<svg class="qr".*?</svg>', text, re.S)
    return answer, written, zxingcpp.read_barcode(drawn(svg)).text


def test_an_address_is_shown_once_in_words_and_as_a_code(as_viewer, studio):
    Studio.objects.update(label_address=LOFT)
    answer, written, coded = make_on_page(as_viewer)
    assert written == coded and written.startswith(f"{LOFT}/calendar/feed/")
    assert "crosses the network in clear" in Read(answer).text
    assert Client().get(written.removeprefix(LOFT)).status_code == 200
    page = as_viewer.get("/calendar/addresses/")
    assert written not in page.content.decode()
    assert "My phone" in Read(page).text and "Last read" in Read(page).text


def test_on_a_machine_that_nobody_else_reaches_that_is_said_and_there_is_no_code(as_viewer):
    answer = as_viewer.post("/calendar/addresses/", {"name": "Here"}, headers={"Host": "127.0.0.1:8000"})
    text = Read(answer).text
    assert "served to this machine alone" in text and "in clear" not in text
    assert "http://127.0.0.1:8000/calendar/feed/" in text and not answer.context["qr"]


def test_an_address_without_a_name_or_with_one_twice_is_refused(as_viewer, viewer):
    make_address(person=viewer, name="My phone")
    for name, says in (("", "Fill in"), ("My phone", "already"), ("x" * 61, "60")):
        answer = as_viewer.post("/calendar/addresses/", {"name": name})
        assert answer.status_code == 422
        assert says in " ".join(answer.context["form"].errors["name"])
    assert CalendarAddress.objects.count() == 1


def test_an_address_that_fails_does_not_stand_in_the_log():
    said = ("Internal Server Error: %s", ("/calendar/feed/s3cret-Word.ics",))
    record = logging.LogRecord("django.request", logging.ERROR, __file__, 1, *said, None)
    assert CutPrivate().filter(record)
    assert record.getMessage() == "Internal Server Error: /calendar/feed/…"


def test_ones_own_is_revoked_and_nobody_elses(as_viewer, viewer, owner):
    mine, _ = make_address(person=viewer, name="Mine")
    theirs, token = make_address(person=owner, name="Theirs")
    for wrong in (theirs.pk, "x", "9" * 30, ""):
        answer = as_viewer.post("/calendar/addresses/", {"revoke": wrong}, follow=True)
        assert "no such address of yours" in Read(answer).text
    assert find_address(token)
    answer = as_viewer.post("/calendar/addresses/", {"revoke": mine.pk}, follow=True)
    assert "Mine is revoked" in Read(answer).text
    assert CalendarAddress.objects.get(pk=mine.pk).revoked_at


def test_the_page_has_what_is_late_first_then_today_then_the_months(as_viewer, owner):
    make_days(owner)
    Order.objects.update(due_on=None)
    Fair.objects.create(name="On today", begins_on=ahead(-1), ends_on=DAY, made_at=timezone.now())
    text = Read(as_viewer.get("/calendar/")).text
    order = [text.index(word) for word in ("Late ", "Wind Oat mats", "On today")]
    assert order == sorted(order)
    for one in all_days(DAY):
        assert one.title in text
    only = Read(as_viewer.get("/calendar/?kind=fair")).text
    assert "Spring fair" in only and "Wind Oat mats" not in only
    assert "Wind Oat mats" in Read(as_viewer.get("/calendar/?kind=nonsense")).text


def test_an_empty_page_says_what_belongs_there(as_viewer):
    assert "No day is set yet" in Read(as_viewer.get("/calendar/")).text
