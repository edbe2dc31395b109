"""Every step by links and buttons, as when a script is refused or does not arrive."""

import pytest

from tests.browser.steps import expect, free_of, missing_in, verdict_of

pytestmark = pytest.mark.browser


def test_a_plan_is_worked_out_kept_reserved_and_released(site, visit):
    mine = visit(script=False)
    page = mine.enter_demo()
    free_before = free_of(mine, "Juniper")
    mine.room("Projects")
    page.get_by_role("link", name="Hearth mats").click()
    verdict = page.locator("#verdict")
    missing = missing_in(verdict.inner_text(), "Juniper")

    page.get_by_label("Pieces", exact=True).fill("14")
    page.get_by_role("button", name="Work it out").click()
    expect(page.get_by_label("Pieces", exact=True)).to_have_value("14")
    assert 0 < missing_in(verdict.inner_text(), "Juniper") < missing
    page.reload()
    page.goto(page.url)
    expect(page.get_by_label("Pieces", exact=True)).to_have_value("18")

    page.get_by_label("Pieces", exact=True).fill("12")
    page.get_by_role("button", name="Work it out").click()
    expect(verdict).not_to_contain_text("Short of")
    page.locator("form#plan .actions").get_by_role("button", name="Keep the plan").click()
    expect(page.get_by_label("Pieces", exact=True)).to_have_value("12")
    page.get_by_role("button", name="Reserve").click()
    expect(page.locator("#messages")).to_contain_text("Yarn for Hearth mats is put aside.")
    assert free_of(mine, "Juniper") < free_before
    mine.room("Projects")
    expect(verdict_of(page, "Courtyard runner")).to_contain_text("Short of Juniper")
    page.get_by_role("link", name="Hearth mats").click()
    page.get_by_role("button", name="Release").click()
    assert free_of(mine, "Juniper") == free_before


def test_figures_open_into_their_workings(site, visit):
    page = visit(script=False).enter_demo()
    page.goto("/projects/")
    page.get_by_role("link", name="Hearth mats").click()
    figure = page.locator("#figures details").filter(has=page.get_by_text("Warp length", exact=True))
    expect(figure.locator(".working")).to_be_hidden()
    figure.locator("summary").click()
    expect(figure.locator(".working")).to_contain_text("mats")


def test_a_cone_is_weighed(site, visit):
    page = visit(script=False).enter_demo()
    page.goto("/find/?q=K-053")
    page.get_by_label("On the scale now").fill("270 g")
    page.get_by_role("button", name="Keep this weight").click()
    # 270 g with a core of 30 g.
    expect(page.locator("#messages")).to_contain_text("K-053 holds 240 g of yarn")


def test_the_shelf_is_narrowed_and_sorted(site, visit):
    mine = visit(script=False)
    page = mine.enter_demo()
    mine.room("Yarn")
    page.get_by_role("form", name="Narrow the list").get_by_label("Search").fill("juniper")
    page.get_by_role("button", name="Show", exact=True).click()
    rows = page.locator("#shelf-list tbody tr")
    expect(rows).to_have_count(1)
    expect(rows).to_contain_text("Juniper")
    page.get_by_role("link", name="By cone").click()
    expect(rows).to_have_count(5)
    page.goto("/yarn/")
    everything = rows.count()
    page.get_by_label("Fibre").select_option("linen")
    page.get_by_role("button", name="Show", exact=True).click()
    page.wait_for_url("**fibre=linen**", wait_until="load")
    assert 0 < rows.count() < everything
    expect(page.get_by_label("Fibre")).to_have_value("linen")
