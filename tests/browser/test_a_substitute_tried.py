"""A shade that is short: what may stand for it, one tried beside the plan, and kept."""

import re

import pytest

from tests.browser.steps import expect

pytestmark = pytest.mark.browser


def test_a_substitute_is_tried_beside_the_plan_and_kept(site, visit):
    mine = visit()
    page = mine.enter_demo()
    mine.room("Projects")
    page.get_by_role("link", name="Hearth mats").click()
    expect(page.locator("#verdict")).to_contain_text("Short of Juniper")
    page.locator("#ways-out").get_by_role("link", name="what may stand for Juniper").click()

    expect(page.get_by_role("heading", level=1)).to_have_text("Instead of Juniper")
    expect(page.locator("main")).to_contain_text("A colour on the screen is a hint only")
    offer = page.locator(".offers li").filter(has=page.get_by_role("link", name="Milk", exact=True)).first
    expect(offer).to_contain_text(re.compile(r"\d+\.\d by CIEDE2000"))
    expect(offer).to_contain_text(
        re.compile(r"[\d,]+ yd \([\d,]+ g\) instead of [\d,]+ yd \([\d,]+ g\) of Juniper")
    )
    offer.get_by_role("button", name="Try it beside: Milk").click()

    expect(page.get_by_role("heading", level=1)).to_have_text("Hearth mats, Milk for Juniper")
    differs = page.get_by_role("region", name="What differs in the plan").get_by_role("row")
    expect(differs.nth(1)).to_have_text(re.compile(r"Shade A\s*Juniper, .*Milk, "))
    page.get_by_role("button", name="Keep this plan instead").click()

    expect(page.locator("#messages")).to_contain_text("Hearth mats has the plan that was tried.")
    expect(page.locator("#verdict")).not_to_contain_text("Juniper")
    expect(page.locator("#needs")).to_contain_text("A: Milk")
    # How sure it is stands beside the verdict, and opens into what it is reckoned from.
    figure = page.locator("#figures summary").filter(has_text="How sure").first
    figure.click()
    expect(page.locator("#figures")).to_contain_text("needed")
