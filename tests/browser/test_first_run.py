"""From nothing to the first verdict."""

import re

import pytest

from tests.browser.steps import expect

pytestmark = pytest.mark.browser


def test_an_empty_studio_is_founded_and_its_first_plan_gets_a_verdict(empty_site, visit):
    mine = visit()
    page = mine.page
    page.goto("/projects/")
    expect(page).to_have_url(re.compile("/welcome/$"))
    page.get_by_label("Name of the studio").fill("Weir Lane")
    page.get_by_label("Your name").fill("Mara")
    page.get_by_label("Your sign-in name").fill("mara")
    page.get_by_label("Password", exact=True).fill("a warp of many ends")
    page.get_by_label("The same password again").fill("a warp of many ends")
    page.get_by_role("button", name="Open the studio").click()

    expect(page.locator("main")).to_contain_text("Weir Lane is new.")
    page.get_by_role("link", name="Write down the first yarn").click()
    page.get_by_label("Name", exact=True).fill("Lane cotton")
    page.get_by_label(re.compile("^Count (?!system)|^Count$")).fill("8/2")
    page.get_by_label(re.compile("^Count system")).select_option("cotton")
    page.get_by_label(re.compile("^Fibres")).fill("cotton")
    page.get_by_role("button", name="Keep this yarn").click()
    expect(page.locator("#messages")).to_contain_text("Lane cotton is kept")
    expect(page.locator("main")).to_contain_text("3,360 yd/lb")

    page.get_by_role("link", name="Add a cone").first.click()
    expect(page.get_by_label("Yarn", exact=True).locator("option:checked")).to_contain_text("Lane cotton")
    page.get_by_label("Shade", exact=True).fill("Spruce")
    page.get_by_label("Weight", exact=True).fill("450 g")
    page.get_by_role("button", name="Keep this cone").click()
    # 450 g at 3,360 yd/lb.
    expect(page.locator("#messages")).to_contain_text("450 g of Spruce, 3,333 yd")

    mine.room("Projects")
    page.get_by_role("link", name="Plan the first project").click()
    expect(page.locator("#verdict")).to_contain_text("No verdict yet.")
    page.get_by_label("Name", exact=True).fill("First mats")
    page.get_by_label("Pieces", exact=True).fill("4")
    page.get_by_label("Finished size across the warp").fill("12 in")
    page.get_by_label("Finished size along the warp").fill("18 in")
    page.get_by_label("Sett").fill("20")
    page.get_by_label("Picks", exact=True).fill("18")
    page.get_by_label("Colour order of the warp").fill("1 A")
    mine.type_into(page.get_by_label("Pick order of the weft"), "1 A")
    expect(page.locator("#verdict")).to_contain_text("A has no shade yet.")
    mine.type_into(page.locator("[name=shade_A]"), "Spruce, Lane cotton")
    expect(page.locator("#verdict")).to_contain_text("Enough Spruce, with the buffer.")
    page.locator("#project-tools").get_by_role("button", name="Keep the plan").click()
    page.wait_for_url(re.compile(r"/projects/\d+/$"))
    expect(page.get_by_role("heading", level=1)).to_have_text("First mats")
    expect(page.locator("#verdict")).to_contain_text("Enough Spruce, with the buffer.")
