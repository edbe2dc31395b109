"""A lot is wished for, the verdict says what that costs, and the wish is let go again as a way out."""

import pytest

from tests.browser.steps import expect

pytestmark = [pytest.mark.browser, pytest.mark.once]


def test_a_lot_is_wished_for_and_let_go_again(site, visit):
    mine = visit()
    page = mine.enter_demo()
    mine.room("Projects")
    page.get_by_role("link", name="Courtyard runner").click()
    expect(page.locator("#verdict")).not_to_contain_text("Short of Juniper")

    page.locator("#lots-wished > summary").click()
    lots = page.get_by_label("A: Juniper", exact=True)
    lot = lots.locator("option", has_text="lot 2207:").first
    expect(lot).to_contain_text("whole ends")
    lots.select_option(lot.get_attribute("value"))
    page.get_by_role("button", name="Take these lots").click()
    verdict = page.locator("#verdict")
    expect(verdict).to_contain_text("Short of Juniper in lot 2207 by")
    expect(verdict).to_contain_text("In any lot it would be enough.")

    # What is typed is judged by the wish that is kept.
    page.get_by_label("Pieces", exact=True).fill("2")
    expect(page.locator("#project-tools")).to_contain_text("not kept yet")
    expect(page.locator("#needs")).to_contain_text("free in lot 2207")
    page.reload()

    way = page.locator("#ways-out li").filter(has_text="Take Juniper of any lot")
    way.get_by_role("button", name="Try it").click()
    page.get_by_role("button", name="Keep this plan instead").click()
    expect(page.locator("#verdict")).not_to_contain_text("Short of Juniper")
    expect(page.locator("#lots-wished")).to_contain_text("any lot, rather one of each")
