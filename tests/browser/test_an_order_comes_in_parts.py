"""Yarn that a project is short of: ordered from its shade, part of it comes, the verdict turns, the rest is cancelled."""

import re

import pytest

from tests.browser.steps import expect, verdict_of

pytestmark = pytest.mark.browser


def test_an_order_comes_in_parts_and_the_verdict_turns(site, visit):
    mine = visit()
    page = mine.enter_demo()
    mine.room("Projects")
    expect(verdict_of(page, "Hearth mats")).to_contain_text("Short of Juniper")

    mine.room("Yarn")
    page.get_by_role("link", name="Juniper", exact=True).click()
    page.get_by_role("link", name="Write an order of it").click()
    page.get_by_label("Supplier").select_option(label="Ninefold yarn post")
    page.get_by_role("button", name="Go on").click()
    page.get_by_label("Put-up").select_option(label="Mercerised cotton, 5/2 cotton: cone of 454 g, 28.60 EUR")
    expect(page.get_by_role("combobox", name="Shade")).to_have_value("Juniper")
    page.get_by_label("How many").fill("3")
    page.get_by_label("Dye lot").select_option(label="all of one lot")
    page.get_by_role("button", name="Keep this line", exact=True).click()
    expect(page.get_by_role("row").filter(has_text="Juniper")).to_contain_text("3 cones of 454 g")

    page.get_by_role("link", name="It is ordered").click()
    page.get_by_role("button", name="Note it as ordered").click()
    expect(page.locator("#messages")).to_contain_text("is under way. It is due on")
    order = re.match(r"Order \d+", page.get_by_role("heading", level=1).inner_text())[0]

    # On order is not on the shelf: the shade says it, the verdict does not turn.
    page.get_by_role("link", name="Juniper", exact=True).click()
    coming = page.get_by_role("listitem").filter(has_text="3 cones of 454 g")
    expect(coming).to_contain_text("from Ninefold yarn post; all one lot please")
    mine.room("Projects")
    expect(verdict_of(page, "Hearth mats")).to_contain_text("Short of Juniper")

    # Two of the three come, of one lot.
    mine.room("Yarn")
    page.get_by_role("link", name="Juniper", exact=True).click()
    page.get_by_role("listitem").filter(has_text="3 cones of 454 g").get_by_role("link", name=order).click()
    page.get_by_label("How many of Juniper came").fill("2")
    page.get_by_role("button", name="Receive").click()
    expect(page.get_by_label("On its label").first).to_have_value("454")
    page.get_by_label("Dye lot").fill("J-88")
    other = mine.context.new_page()
    other.goto(page.url)
    page.get_by_role("button", name="Keep these cones").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text(order)
    expect(page.locator(".lede")).to_contain_text("2 of 3 came, 1 awaited")
    mine.room("Projects")
    expect(verdict_of(page, "Hearth mats")).not_to_contain_text("Juniper")

    # A window that was open all the time puts nothing on the shelf a second time.
    mine.expect_answers(422)
    other.get_by_role("button", name="Keep these cones").click()
    expect(other.get_by_role("alert")).to_contain_text("Of this line 2 came already")
    other.get_by_role("button", name="Keep these cones").click()
    expect(other.get_by_role("alert")).to_contain_text("1 more than was ordered")
    other.close()
    page.go_back()

    # The third will not come: the order is done.
    page.get_by_role("link", name="Cancel of Juniper").click()
    expect(page.get_by_role("textbox", name="Will not come")).to_have_value("1")
    page.get_by_role("button", name="Keep this").click()
    expect(page.locator(".lede")).to_contain_text("2 of 3 came, 1 cancelled; nothing more is awaited.")
    page.get_by_role("link", name="Juniper", exact=True).click()
    expect(page.get_by_role("heading", name="On order")).to_have_count(0)
