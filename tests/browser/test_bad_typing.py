"""Text that cannot mean anything: said where, and kept."""

import pytest

from tests.browser.steps import expect

pytestmark = pytest.mark.browser


@pytest.fixture
def mats(site, visit):
    """The window in which the plan of the mats is open."""
    window = visit()
    window.enter_demo()
    window.room("Projects")
    window.page.get_by_role("link", name="Hearth mats").click()
    return window


def test_a_bracket_left_open_is_named_while_typing_and_all_else_stays(mats):
    page = mats.page
    order = page.get_by_label("Colour order of the warp")
    figures = page.locator("#figures").inner_text()
    page.get_by_text("Buffers, weft habits, notes").click()
    mats.type_into(page.get_by_label("Notes"), "Ask about the fringe.")
    mats.type_into(order, "26 A, 3 times (1 C, 26 B")
    verdict = page.locator("#verdict")
    expect(verdict).to_contain_text("Not worked out yet.")
    expect(verdict).to_contain_text("Colour order of the warp")
    expect(verdict).to_contain_text("bracket")
    expect(verdict.locator(".verdict")).to_be_in_viewport(ratio=1)
    expect(order).to_be_focused()
    expect(order).to_have_value("26 A, 3 times (1 C, 26 B")
    # The last figures that could be worked out stay in sight.
    assert page.locator("#figures").inner_text() == figures

    order.press("End")
    page.wait_for_load_state()
    with page.expect_response("**/preview/"):
        order.type(")")
    mats.settle()
    expect(verdict).not_to_contain_text("Not worked out yet.")
    expect(page.get_by_label("Notes")).to_have_value("Ask about the fringe.")


@pytest.mark.parametrize(
    ("label", "text"),
    [
        ("Finished size across the warp", "13 cubits"),
        ("Sett", "18 g"),
        ("Pieces", "a dozen"),
        ("Warp take-up, of the woven length", "5 kg"),
        ("Pick order of the weft", "30 A, B 10"),
    ],
)
def test_a_unit_or_word_that_does_not_belong_is_named_and_kept(mats, label, text):
    page = mats.page
    field = page.get_by_label(label, exact=True)
    mats.type_into(field, text)
    expect(page.locator("#verdict")).to_contain_text("Not worked out yet.")
    expect(page.locator("#verdict")).to_contain_text(label)
    expect(field).to_have_value(text)
    expect(field).to_be_focused()


def test_a_plan_that_cannot_be_kept_says_why_and_keeps_every_text(mats):
    mats.expect_answers(422)
    page = mats.page
    mats.type_into(page.get_by_label("Finished size across the warp"), "13 cubits")
    page.get_by_text("Buffers, weft habits, notes").click()
    mats.type_into(page.get_by_label("Notes"), "Ask about the fringe.")
    page.locator("#project-tools").get_by_role("button", name="Keep the plan").click()
    summary = page.get_by_role("alert")
    expect(summary).to_be_focused()
    expect(summary).to_contain_text("Nothing has been kept yet.")
    expect(summary).to_contain_text("cubits")
    field = page.get_by_label("Finished size across the warp")
    expect(field).to_have_value("13 cubits")
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(page.get_by_label("Notes")).to_have_value("Ask about the fringe.")
    summary.get_by_role("link", name="Finished size across the warp").click()
    expect(field).to_be_focused()
    mats.type_into(field, "12 in")
    page.locator("#project-tools").get_by_role("button", name="Keep the plan").click()
    expect(page.get_by_label("Notes")).to_have_value("Ask about the fringe.")
    expect(page.locator("#project-tools").get_by_role("button", name="Reserve")).to_be_visible()


def test_what_is_typed_fast_ends_at_the_last_text(mats):
    """Answers that were overtaken are dropped: the verdict belongs to what stands in the field."""
    page = mats.page
    field = page.get_by_label("Pieces", exact=True)
    field.fill("")
    page.wait_for_load_state()
    with page.expect_response("**/preview/"):
        field.press_sequentially("12", delay=320)
    mats.settle()
    expect(field).to_have_value("12")
    expect(page.locator("#verdict")).not_to_contain_text("Short of")
    expect(page.locator("#verdict")).not_to_contain_text("Not worked out yet.")
