"""The quiet part of a plan: a hem becomes a fringe, folds say what is in them, a wrong figure opens its fold."""

import pytest

from tests.browser.steps import expect

pytestmark = pytest.mark.browser


def _into(mine, name):
    page = mine.enter_demo()
    page.goto("/projects/")
    page.get_by_role("link", name=name).click()
    return page


def test_a_hem_becomes_a_fringe_and_only_what_it_asks_for_is_in_sight(site, visit):
    page = _into(visit(), "Supper napkins")
    expect(page.get_by_label("Depth of the hem, sewn")).to_be_visible()
    expect(page.get_by_label("Fringe, finished")).to_be_hidden()
    expect(page.get_by_label("Gap between pieces")).to_be_visible()
    page.get_by_label("A piece ends in").select_option("a fringe")
    expect(page.get_by_label("Depth of the hem, sewn")).to_be_hidden()
    expect(page.get_by_label("Gap between pieces")).to_be_hidden()
    page.get_by_label("Fringe, finished").fill("2 in")
    warp = page.locator("#figures details", has_text="Warp length")
    expect(warp.locator("li").filter(has_text="11 gaps of two fringes, 4.44 in")).to_have_count(1)
    page.get_by_role("button", name="Keep the plan").last.click()
    expect(page.get_by_label("Fringe, finished")).to_have_value("2")
    expect(page.get_by_label("A piece ends in")).to_have_value("fringe")


def test_a_fold_says_what_is_set_in_it_while_it_is_typed(site, visit):
    page = _into(visit(), "Landing runner")
    fold = page.locator("#plan details", has_text="Selvedges, borders, accents")
    expect(fold.locator("summary")).to_contain_text("nothing set")
    fold.locator("summary").click()
    fold.get_by_label("A floating end on each side").check()
    fold.get_by_label("Accent ends").fill("1 C after 48")
    fold.get_by_label("in addition to the ends").check()
    expect(fold.locator("summary")).to_contain_text("floating ends; 1 accent added")
    expect(page.locator(".remarks")).to_contain_text("added after end 48")


def test_a_figure_that_cannot_be_is_shown_in_its_opened_fold(site, visit):
    mine = visit(script=False)
    page = _into(mine, "Landing runner")
    fold = page.locator("#plan details", has_text="Kits of a class, further beams")
    fold.locator("summary").click()
    fold.get_by_label("Keys wound on beam 2").fill("Z")
    mine.expect_answers(422)
    page.get_by_role("button", name="Keep the plan").last.click()
    expect(fold).to_have_attribute("open", "")
    expect(fold).to_contain_text("Z has no ends in the warp; its keys are A, B.")
    expect(fold.get_by_label("Keys wound on beam 2")).to_have_value("Z")
