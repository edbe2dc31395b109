"""Two windows on one studio: nobody's text and nobody's yarn is lost."""

import re

import pytest

from tests.browser.steps import expect

pytestmark = pytest.mark.browser


def test_a_plan_changed_meanwhile_shows_both_texts_and_can_be_kept_again(site, visit):
    first, second = visit(), visit()
    for window in (first, second):
        window.enter_demo()
        window.room("Projects")
        window.page.get_by_role("link", name="Hearth mats").click()
    second.expect_answers(422)
    first.type_into(first.page.get_by_label("Pieces", exact=True), "12")
    second.type_into(second.page.get_by_label("Pieces", exact=True), "10")
    second.type_into(second.page.get_by_label("Sample, woven length"), "11 in")

    first.page.locator("#project-tools").get_by_role("button", name="Keep the plan").click()
    expect(first.page.locator("#project-tools").get_by_role("button", name="Reserve")).to_be_visible()
    second.page.locator("#project-tools").get_by_role("button", name="Keep the plan").click()
    both = second.page.locator(".both")
    expect(both.get_by_role("row").filter(has_text="Pieces").get_by_role("cell")).to_have_text(
        ["Pieces", "10", "12"]
    )
    expect(second.page.get_by_label("Pieces", exact=True)).to_have_value("10")
    expect(second.page.get_by_label("Sample, woven length")).to_have_value(re.compile("^11"))
    expect(second.page.get_by_role("alert")).to_be_focused()

    second.page.locator("#project-tools").get_by_role("button", name="Keep the plan").click()
    expect(second.page.locator("#project-tools").get_by_role("button", name="Reserve")).to_be_visible()
    first.page.reload()
    expect(first.page.get_by_label("Pieces", exact=True)).to_have_value("10")
    expect(first.page.get_by_label("Sample, woven length")).to_have_value(re.compile("^11"))


def test_of_two_rivals_the_second_is_told_what_is_left(site, visit):
    first, second = visit(), visit()
    for window, name in ((first, "Hearth mats"), (second, "Courtyard runner")):
        window.enter_demo()
        window.room("Projects")
        window.page.get_by_role("link", name=name).click()
    expect(second.page.locator("#verdict")).to_contain_text("Enough")

    first.page.get_by_role("button", name="Reserve what is there").click()
    expect(first.page.locator("#messages")).to_contain_text("Juniper did not suffice")
    # The second page still says "enough": it is as old as that. What is taken is what is there.
    second.page.get_by_role("button", name="Reserve").click()
    expect(second.page.locator("#messages")).to_contain_text("Juniper in one lot did not suffice")
    expect(second.page.locator("#verdict")).to_contain_text("Short of Juniper")
    expect(second.page.locator("#put-aside")).to_contain_text("Shortage kept: Juniper")


def test_a_window_that_looked_at_an_older_plan_does_not_reserve_for_it(site, visit):
    first, second = visit(), visit()
    for window in (first, second):
        window.enter_demo()
        window.room("Projects")
        window.page.get_by_role("link", name="Courtyard runner").click()
    first.type_into(first.page.get_by_label("Sample, woven length"), "20 in")
    first.page.locator("#project-tools").get_by_role("button", name="Keep the plan").click()
    expect(first.page.locator("#project-tools").get_by_role("button", name="Reserve")).to_be_visible()
    second.page.get_by_role("button", name="Reserve").click()
    expect(second.page.locator("#messages")).to_contain_text("changed in another window")
    expect(second.page.locator("#put-aside")).to_contain_text("Nothing is reserved")
