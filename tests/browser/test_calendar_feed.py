"""The days on a phone's calendar: an address is made on the page, read over http, and revoked."""

from __future__ import annotations

import re
import urllib.error
import urllib.request
from datetime import timedelta

import pytest
from django.utils import timezone

from projects.days import all_days
from tests.browser.steps import expect

pytestmark = [pytest.mark.browser, pytest.mark.once]


def read(address):
    """Status, kind and text, as a calendar without any sign-in gets them."""
    try:
        with urllib.request.urlopen(address, timeout=20) as answer:
            return answer.status, answer.headers["Content-Type"], answer.read().decode()
    except urllib.error.HTTPError as error:
        return error.code, error.headers["Content-Type"], error.read().decode()


def test_a_calendar_reads_the_days_until_its_address_is_revoked(site, visit):
    import vobject

    mine = visit()
    page = mine.enter_demo()
    mine.room("Fairs")
    page.get_by_role("link", name="Note a fair").first.click()
    day = timezone.localdate() + timedelta(days=60)
    page.get_by_label("Name", exact=True).fill("Harbour fair, with music; and soup 🧶")
    page.get_by_label("First day").fill(day.isoformat())
    page.get_by_role("button", name="Note this fair").click()
    page.get_by_label("Hearth mats").check()
    page.get_by_role("button", name="Keep this choice").click()
    expect(page.get_by_role("row").filter(has_text="Hearth mats")).to_be_visible()

    page.goto("/calendar/")
    expect(page.get_by_role("link", name="Ready for Harbour fair")).to_be_visible()
    page.get_by_role("link", name="On your phone's calendar").click()
    page.get_by_label("Which calendar is it for?").fill("My phone")
    page.get_by_role("button", name="Make an address").click()
    address = page.locator("code.address").inner_text()
    assert address.startswith(mine.home)

    status, kind, text = read(address)
    assert (status, kind) == (200, "text/calendar; charset=utf-8")
    (calendar,) = vobject.readComponents(text)
    found = {(event.dtstart.value, event.summary.value) for event in calendar.vevent_list}
    assert found == {(one.on, one.title) for one in all_days(timezone.localdate())}
    assert (day, "Harbour fair, with music; and soup 🧶") in found
    # What an event leads to opens for who is signed in.
    (fair,) = (one for one in calendar.vevent_list if one.summary.value.startswith("Harbour fair"))
    page.goto(fair.url.value)
    expect(page.get_by_role("heading", level=1)).to_have_text("Harbour fair, with music; and soup 🧶")

    page.goto("/calendar/addresses/")
    row = page.get_by_role("listitem").filter(has_text="My phone")
    expect(row).to_contain_text(re.compile("Last read"))
    row.get_by_text("Revoke").first.click()
    row.get_by_role("button", name="Revoke My phone").click()
    expect(page.get_by_role("status")).to_contain_text("My phone is revoked")
    assert read(address) == (404, "text/plain; charset=utf-8", "Not found.\n")
    assert read(f"{mine.home}/calendar/feed/never.ics") == read(address)
