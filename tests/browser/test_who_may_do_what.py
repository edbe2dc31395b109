"""The door and the three roles, as people meet them."""

import pytest

from stash.site.demo import DEMO_HELPER, DEMO_OWNER, DEMO_PASSWORD, DEMO_VIEWER
from tests.browser.steps import expect

pytestmark = pytest.mark.browser


def test_wrong_passwords_are_counted_until_the_door_stays_shut(site, visit):
    mine = visit()
    mine.expect_answers(422, 429)
    page = mine.page
    page.goto("/sign-in/")
    for _ in range(6):
        page.get_by_label("Sign-in name").fill(DEMO_OWNER)
        page.get_by_label("Password").fill("nine picks and an end")
        page.get_by_role("button", name="Sign in", exact=True).click()
        page.wait_for_load_state()
    expect(page.get_by_role("heading", level=1)).to_have_text("Too many tries")
    page.get_by_role("link", name="Back to signing in").click()
    page.get_by_label("Sign-in name").fill(DEMO_OWNER)
    page.get_by_label("Password").fill(DEMO_PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Too many tries")

    other = visit()
    other.enter_as(DEMO_HELPER, DEMO_PASSWORD)
    expect(other.page.get_by_role("navigation", name="Main")).to_be_visible()


def test_a_page_asked_for_before_signing_in_is_the_one_that_opens(site, visit):
    mine = visit()
    mine.page.goto("/projects/?q=mats")
    mine.page.get_by_role("button", name="Come in as the demo's owner").click()
    expect(mine.page.get_by_role("heading", level=1)).to_have_text("Projects")
    expect(mine.page.get_by_role("link", name="Hearth mats")).to_be_visible()


def test_a_viewer_reads_everything_and_sees_no_form(site, visit):
    mine = visit()
    mine.expect_answers(403)
    page = mine.enter_as(DEMO_VIEWER, DEMO_PASSWORD)
    mine.room("Projects")
    expect(page.get_by_role("link", name="New project")).to_have_count(0)
    page.get_by_role("link", name="Hearth mats").click()
    expect(page.locator("#verdict")).to_contain_text("Short of Juniper")
    expect(page.locator("main form")).to_have_count(0)
    expect(page.locator("main")).to_contain_text("Colour order")
    mine.room("Yarn")
    expect(page.get_by_role("link", name="Add a cone")).to_have_count(0)
    page.get_by_role("link", name="Juniper", exact=True).click()
    expect(page.locator("main form")).to_have_count(0)
    page.get_by_role("link", name="K-053").first.click()
    expect(page.locator("main form")).to_have_count(0)
    expect(page.locator("main")).to_contain_text("Length left")
    page.goto("/yarn/add/")
    expect(page.locator("main")).to_contain_text("owner")


def test_a_helper_reserves_and_weighs_but_changes_no_plan(site, visit):
    mine = visit()
    page = mine.enter_as(DEMO_HELPER, DEMO_PASSWORD)
    mine.room("Projects")
    page.get_by_role("link", name="Courtyard runner").click()
    expect(page.locator("form#plan")).to_have_count(0)
    page.get_by_role("button", name="Reserve").click()
    expect(page.locator("#messages")).to_contain_text("Yarn for Courtyard runner is put aside.")
    page.get_by_role("button", name="Release").click()
    expect(page.locator("#messages")).to_contain_text("all of it is free again")
    # The code of a cone, typed or scanned, leads straight to it.
    page.goto("/find/?q=K-053")
    expect(page.get_by_label("On the scale now")).to_be_visible()
    expect(page.get_by_role("link", name="Edit")).to_have_count(0)
