"""The equipment while planning: a missing reed is replaced, a narrow loom is noticed before anything is wound."""

import pytest

from tests.browser.steps import expect

pytestmark = pytest.mark.browser


def check(page, topic):
    """A line of what the plan was held against."""
    return page.locator("#gear .checks > div").filter(has=page.locator(f"dt:text-is('{topic}')"))


def test_a_missing_reed_is_replaced_by_a_sley_of_another(site, visit):
    mine = visit()
    page = mine.enter_demo()
    mine.room("Equipment")
    expect(page.get_by_role("heading", name="Lent out")).to_be_visible()
    expect(page.locator(".lent")).to_contain_text("15 dents per in, 24 in")
    page.get_by_role("link", name="Hearth mats").first.click()

    expect(page.locator("#equipment")).to_contain_text("15 dents per in, 24 in is lent to Maren")
    exact = page.locator(".sley").filter(has_text="8 dents per in, 36 in").first
    expect(exact).to_contain_text("2-2-2-3")
    page.wait_for_load_state()
    with page.expect_response("**/preview/"):
        exact.get_by_role("radio").check()
    mine.settle()
    expect(check(page, "Sley")).to_contain_text(
        "2-2-2-3 in 8 dents per in, 36 in is exactly 18 epi: 117 dents."
    )
    expect(page.locator("#figures")).to_contain_text("sleyed 2-2-2-3: dents used")
    expect(page.locator("#project-tools")).to_contain_text("not kept yet")

    page.get_by_role("button", name="Keep plan and equipment").click()
    expect(page.locator("#id_reed")).to_have_value("1")
    expect(page.locator("#gear input[type=radio]:checked")).to_have_value("1 2-2-2-3 ends")

    mine.type_into(page.get_by_label("Sett", exact=True), "24")
    expect(page.locator("#gear")).to_contain_text("does not come near this sett any more")


def test_a_loom_that_is_too_narrow_says_which_figure_to_change(site, visit):
    mine = visit()
    page = mine.enter_demo()
    mine.room("Projects")
    page.get_by_role("link", name="Ferry towels").click()
    page.wait_for_load_state()
    with page.expect_response("**/preview/"):
        page.locator("#id_loom").select_option(label="The table loom")
    mine.settle()
    width = check(page, "Width")
    expect(width.locator(".flag")).to_have_text("too wide")
    expect(width).to_contain_text("Rowan, the floor loom is wide enough.")
    expect(width).to_contain_text("A closer sett makes it no narrower.")

    mine.type_into(page.get_by_label("Finished size across the warp"), "11")
    expect(width.locator(".flag")).to_have_text("fits")
    page.wait_for_load_state()
    with page.expect_response("**/preview/"):
        page.locator("#id_loom").select_option(label="Rowan, the floor loom")
    mine.settle()
    expect(check(page, "Loom waste")).to_contain_text("loses 27.00 in on each warp")
    page.get_by_role("button", name="Take it into the plan").click()
    expect(page.get_by_label("Loom waste, once per warp")).to_have_value("27")
    expect(check(page, "Loom waste")).to_have_count(0)


def test_reeds_are_noted_in_one_line_lent_out_and_back(site, visit):
    mine = visit()
    page = mine.enter_demo()
    mine.room("Equipment")
    page.get_by_role("link", name="Add reeds").click()
    page.get_by_label("Dents of each reed").fill("6, 12, 40 per 10 cm")
    page.get_by_label("Their length").fill("30")
    page.get_by_role("button", name="Note these reeds").click()
    expect(page.locator("#messages")).to_contain_text("3 reeds are noted")
    page.get_by_role("link", name="Lend 12 dents per in, 30.00 in").click()
    page.get_by_label("Lent to").fill("Ilse")
    page.get_by_role("button", name="It is lent out").click()
    expect(page.locator(".lent")).to_contain_text("with Ilse")
    page.locator(".lent").get_by_role("button", name="12 dents per in, 30.00 in is back").click()
    expect(page.locator("#messages")).to_contain_text("is back")
