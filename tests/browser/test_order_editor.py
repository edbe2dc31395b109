"""A colour order built in rows: with keys, with the pointer, on a phone; the typed line stays in step."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.browser.steps import expect

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

pytestmark = pytest.mark.browser

LINE = "16 A, 4 B, 2 A, 4 B, 16 A, 2 C"


def opened(visit, *, phone: bool = False) -> tuple[Page, Locator, Locator]:
    """The demo's towels with the rows of their colour order open: page, line, editor."""
    page = visit.enter_demo()
    visit.room("Projects")
    page.get_by_role("link", name="Ferry towels").first.click()
    page.wait_for_url("**/projects/*/")
    line = page.get_by_label("Colour order of the warp")
    expect(line).to_have_value(LINE)
    editor = page.locator('.order-editor[data-order="colour_order"]')
    editor.get_by_text("Build it in rows").click()
    return page, line, editor


def rows(editor: Locator) -> Locator:
    return editor.locator(".rows > li")


def test_rows_are_changed_with_the_keyboard_and_the_focus_stays(site, visit):
    mine = visit()
    page, line, editor = opened(mine)
    expect(rows(editor)).to_have_count(6)

    first = rows(editor).first.locator(".count")
    first.focus()
    page.keyboard.press("Control+a")
    page.keyboard.type("20")
    page.keyboard.press("Enter")
    expect(line).to_have_value("20 A, 4 B, 2 A, 4 B, 16 A, 2 C")

    rows(editor).nth(5).locator(".grip").focus()
    page.keyboard.press("ArrowUp")
    expect(line).to_have_value("20 A, 4 B, 2 A, 4 B, 2 C, 16 A")
    expect(rows(editor).nth(4).locator(".grip")).to_be_focused()
    page.keyboard.press("ArrowUp")
    expect(line).to_have_value("20 A, 4 B, 2 A, 2 C, 4 B, 16 A")
    page.keyboard.press("ArrowDown")
    expect(line).to_have_value("20 A, 4 B, 2 A, 4 B, 2 C, 16 A")

    rows(editor).nth(4).get_by_role("button", name="Take out 2 C").press("Enter")
    expect(line).to_have_value("20 A, 4 B, 2 A, 4 B, 16 A")
    expect(rows(editor).nth(4).get_by_role("button", name="Take out 16 A")).to_be_focused()

    editor.get_by_role("checkbox", name="Tick 4 B").first.press("Space")
    editor.get_by_role("checkbox", name="Tick 2 A").press("Space")
    editor.get_by_role("button", name="Repeat the ticked rows").press("Enter")
    expect(line).to_have_value("20 A, 2 times (4 B, 2 A), 4 B, 16 A")
    editor.get_by_role("button", name="Undo this repeat").press("Enter")
    expect(line).to_have_value("20 A, 4 B, 2 A, 4 B, 16 A")

    # The figures of the plan follow the line, as if it had been typed.
    expect(page.locator("#project-tools")).to_contain_text("not kept yet")
    page.get_by_role("button", name="Keep the plan").first.click()
    page.wait_for_load_state()
    expect(page.get_by_label("Colour order of the warp")).to_have_value("20 A, 4 B, 2 A, 4 B, 16 A")


def test_the_rows_follow_the_typed_line(site, visit):
    mine = visit()
    _, line, editor = opened(mine)
    line.fill("8 A, 3 times (1 B, 1 C)")
    expect(rows(editor)).to_have_count(4)
    expect(editor.locator("svg.order-strip")).to_have_attribute(
        "aria-label", "14 ends: 8 Chalk, 1 Ink, 1 Brick, 1 Ink, 1 Brick, 1 Ink, 1 Brick"
    )
    # A line that cannot be read yet leaves the rows of the last one.
    line.fill("8 A, 3 times (1 B, 1")
    mine.page.wait_for_timeout(600)
    expect(rows(editor)).to_have_count(4)
    expect(line).to_have_value("8 A, 3 times (1 B, 1")


def test_a_row_is_dragged_into_a_repeat(site, visit):
    mine = visit()
    page, line, editor = opened(mine)
    line.fill("8 A, 3 times (1 B, 1 C), 4 D")
    expect(rows(editor)).to_have_count(5)
    grip = rows(editor).nth(4).locator(".grip")
    grip.scroll_into_view_if_needed()
    start = grip.bounding_box()
    target = rows(editor).nth(3).locator(".row").bounding_box()
    page.mouse.move(start["x"] + 10, start["y"] + 15)
    page.mouse.down()
    page.mouse.move(start["x"] + 10, target["y"] + 20, steps=4)
    page.mouse.move(start["x"] + 10, target["y"] + 4, steps=2)
    expect(editor.locator(".drop-above")).to_have_count(1)
    page.mouse.up()
    expect(line).to_have_value("8 A, 3 times (1 B, 4 D, 1 C)")


def test_what_cannot_be_done_is_said_and_the_line_stays(site, visit):
    mine = visit()
    mine.expect_answers(422)
    _, line, editor = opened(mine)
    count = rows(editor).first.locator(".count")
    count.fill("30000")
    count.press("Enter")
    expect(editor.locator(".order-note")).to_contain_text("at most 20,000")
    expect(line).to_have_value(LINE)


def test_the_width_is_fitted_by_taking_a_choice(site, visit):
    mine = visit()
    page, line, editor = opened(mine)
    editor.get_by_text("Fit to width").click()
    expect(editor.locator("tr.chosen")).to_contain_text("438")
    editor.get_by_role("button", name="Take it: 10 repeats, balance 1").click()
    expect(editor.locator("tr.chosen")).to_contain_text("441")
    expect(page.get_by_label("Balance: the first ends once more")).to_have_value("1")
    expect(line).to_have_value(LINE)
    expect(page.locator("#figures")).to_contain_text("441")


def test_on_a_phone_rows_are_moved_by_touch_and_nothing_lies_outside(site, visit):
    mine = visit(phone=True)
    _, line, editor = opened(mine)
    rows(editor).nth(1).get_by_role("button", name="Up").tap()
    expect(line).to_have_value("4 B, 16 A, 2 A, 4 B, 16 A, 2 C")
    editor.get_by_role("button", name="Add a row").tap()
    expect(rows(editor)).to_have_count(7)
    assert mine.sideways() <= 0


def test_without_script_the_line_is_typed_and_no_dead_button_is_shown(site, visit):
    mine = visit(script=False)
    page = mine.enter_demo()
    mine.room("Projects")
    page.get_by_role("link", name="Ferry towels").first.click()
    expect(page.locator("svg.order-strip").first).to_be_visible()
    expect(page.get_by_text("Build it in rows").first).to_be_hidden()
    page.get_by_label("Colour order of the warp").fill("8 A, 4 B")
    page.locator("form#plan").get_by_role("button", name="Work it out").click()
    expect(page.locator("svg.order-strip").first).to_have_attribute("aria-label", "12 ends: 8 Chalk, 4 Ink")
