"""The main job: a plan that is short is changed until the shelf covers it, and its yarn is put aside."""

import re

import pytest

from tests.browser.steps import expect, free_of, missing_in, verdict_of

pytestmark = pytest.mark.browser


def test_a_short_plan_is_cut_down_until_the_shelf_covers_it_and_its_yarn_is_put_aside(site, visit):
    mine = visit()
    page = mine.enter_demo()
    free_before = free_of(mine, "Juniper")

    mine.room("Projects")
    expect(verdict_of(page, "Courtyard runner")).to_have_text("Enough, with the buffer.")
    page.get_by_role("link", name="Hearth mats").click()
    verdict = page.locator("#verdict")
    expect(verdict).to_contain_text(re.compile(r"Short of Juniper by [\d,]+ yd"))
    most = int(re.search(r"you can weave (\d+) mats", verdict.inner_text())[1])
    planned = int(page.get_by_label("Pieces", exact=True).input_value())
    assert most < planned

    missing = [missing_in(verdict.inner_text(), "Juniper")]
    for pieces in range(planned - 1, most, -1):
        mine.type_into(page.get_by_label("Pieces", exact=True), str(pieces))
        missing.append(missing_in(verdict.inner_text(), "Juniper"))
    assert missing == sorted(missing, reverse=True)
    assert missing[-1] > 0
    mine.type_into(page.get_by_label("Pieces", exact=True), str(most))
    expect(verdict).not_to_contain_text("Short of")
    expect(page.locator("#project-tools")).to_contain_text("not kept yet")
    expect(page.get_by_label("Pieces", exact=True)).to_be_focused()

    page.locator("#project-tools").get_by_role("button", name="Keep the plan").click()
    expect(page.locator("#project-tools").get_by_role("button", name="Reserve")).to_be_visible()
    expect(page.get_by_label("Pieces", exact=True)).to_have_value(str(most))
    page.locator("#project-tools").get_by_role("button", name="Reserve").click()
    expect(page.locator("#messages")).to_contain_text("Yarn for Hearth mats is put aside.")
    expect(page.locator("#put-aside")).to_contain_text("Juniper")

    assert free_of(mine, "Juniper") < free_before
    mine.room("Projects")
    expect(verdict_of(page, "Courtyard runner")).to_contain_text("Short of Juniper")

    page.get_by_role("link", name="Hearth mats").click()
    page.get_by_role("button", name="Release").click()
    expect(page.locator("#messages")).to_contain_text("all of it is free again")
    mine.room("Projects")
    expect(verdict_of(page, "Courtyard runner")).to_have_text("Enough, with the buffer.")
    assert free_of(mine, "Juniper") == free_before
