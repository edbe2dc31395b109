"""A plan that is short, and what would make it suffice: a way out tried, held against the first plan, and kept."""

import re

import pytest

from tests.browser.steps import expect, verdict_of

pytestmark = pytest.mark.browser


def _into_hearth_mats(mine):
    mine.room("Projects")
    mine.page.get_by_role("link", name="Hearth mats").click()


def test_a_way_out_is_tried_beside_the_plan_and_kept_instead(site, visit):
    mine = visit()
    page = mine.enter_demo()
    _into_hearth_mats(mine)
    expect(page.locator("#verdict")).to_contain_text("Short of Juniper")

    way = page.locator("#ways-out li").filter(has_text=re.compile(r"Weave \d+ mats instead of 18"))
    expect(way).to_contain_text("Enough, with the buffer.")
    fewer = re.search(r"Weave (\d+) mats", way.inner_text())[1]
    way.get_by_text("What each shade then needs").click()
    expect(way.locator(".effects")).to_contain_text(re.compile(r"Juniper [\d,.]+ yd instead of [\d,.]+ yd"))
    way.get_by_role("button", name="Try it").click()

    expect(page.get_by_role("heading", level=1)).to_have_text(f"Hearth mats, {fewer} mats")
    sides = page.locator(".sides > section")
    expect(sides.nth(0).locator(".verdict")).to_contain_text("Short of Juniper")
    expect(sides.nth(1).locator(".verdict")).to_contain_text("Enough")
    differs = page.get_by_role("region", name="What differs in the plan").get_by_role("row")
    expect(differs.nth(1)).to_have_text(re.compile(rf"Pieces\s*18 mats\s*{fewer} mats"))

    # Until somebody decides, nothing has happened to the project.
    mine.room("Projects")
    expect(verdict_of(page, "Hearth mats")).to_contain_text("Short of Juniper")
    expect(page.get_by_role("link", name=f"Hearth mats, {fewer} mats")).to_have_count(0)
    _into_hearth_mats(mine)
    page.locator("#ways-out").get_by_role("link", name=f"Hearth mats, {fewer} mats").click()
    page.get_by_role("button", name="Keep this plan instead").click()

    expect(page.locator("#messages")).to_contain_text("Hearth mats has the plan that was tried.")
    expect(page.locator("#verdict")).to_contain_text("Enough")
    expect(page.get_by_label("Pieces", exact=True)).to_have_value(fewer)
    expect(page.locator("#ways-out")).to_have_count(0)
    page.locator("#project-tools").get_by_role("button", name="Reserve").click()
    expect(page.locator("#messages")).to_contain_text("Yarn for Hearth mats is put aside.")


def test_a_later_reservation_moves_once_it_was_asked(site, visit):
    mine = visit()
    page = mine.enter_demo()
    _into_hearth_mats(mine)
    way = page.locator("#ways-out li").filter(has_text="Move the reservation of “Class kits for table looms”")
    expect(way).to_contain_text(re.compile(r"It gives [\d,]+ yd of Juniper"))
    way.get_by_role("link", name="Look").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(
        "Move the reservation of “Class kits for table looms”"
    )
    page.get_by_role("button", name="Move it").click()
    expect(page.locator("#messages")).to_contain_text("went from Class kits for table looms to Hearth mats")
    expect(page.locator("#put-aside")).to_contain_text("Juniper")
    mine.room("Projects")
    expect(verdict_of(page, "Class kits for table looms")).to_contain_text("Short of Juniper")


def test_without_script_the_ways_are_a_page_and_the_trial_is_dropped(site, visit):
    mine = visit(script=False)
    page = mine.enter_demo()
    _into_hearth_mats(mine)
    page.get_by_role("link", name="See what would make it suffice").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Ways out")
    page.get_by_role("button", name=re.compile(r"Try it: Weave \d+ mats")).click()
    page.get_by_role("button", name="Drop it").click()
    expect(page.locator("#messages")).to_contain_text("is dropped. The plan stands as it was.")
    expect(page.get_by_label("Pieces", exact=True)).to_have_value("18")


def test_on_a_phone_the_two_plans_stand_below_each_other(site, visit):
    mine = visit(phone=True)
    page = mine.enter_demo()
    page.goto("/projects/")
    page.get_by_role("link", name="Hearth mats").click()
    page.locator("#ways-out li").filter(has_text="Weave").get_by_role("button", name="Try it").click()
    first, trial = page.locator(".sides > section").all()
    assert first.bounding_box()["y"] + first.bounding_box()["height"] <= trial.bounding_box()["y"]
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
