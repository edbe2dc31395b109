"""The main job without a pointer: Tab, Enter and typing, the focus always in sight."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

import pytest

from tests.browser.steps import expect, missing_in

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

pytestmark = pytest.mark.browser

# Is the focused element drawn as focused, on the screen, and not wholly under something else (WCAG 2.2, 2.4.11)?
# A summary or a radio button may show its focus on what stands around it.
IN_SIGHT = """() => {
  const seen = document.activeElement, box = seen.getBoundingClientRect();
  if (seen === document.body) return "nothing has the focus";
  // The browser's own button inside a field for a day draws a ring of its own.
  const inside = seen.type === "date" && !seen.matches(":focus-visible");
  const drawn = (node) => {
    const style = getComputedStyle(node);
    return style.outlineStyle !== "none" && parseFloat(style.outlineWidth) > 0;
  };
  if (!inside && !drawn(seen) && !drawn(seen.parentElement)) return "no focus is drawn";
  if (box.bottom <= 0 || box.top >= innerHeight) return "it is off the screen";
  const points = [[.5, .5], [.1, .2], [.9, .2], [.1, .8], [.9, .8]];
  const free = points.some(([x, y]) => {
    const top = document.elementFromPoint(box.left + box.width * x, box.top + box.height * y);
    return top && (seen.contains(top) || top.contains(seen));
  });
  return free ? "" : "it is covered by something";
}"""
NAMED = """() => {
  const seen = document.activeElement;
  return (seen.getAttribute("aria-label") || seen.innerText || seen.name || "").trim();
}"""
MOST_STEPS = 80


def test_the_main_job_is_done_with_the_keyboard_alone(site, visit):
    mine = visit()
    page = mine.page
    page.goto("/")
    assert tab(page) == "To the page itself"
    page.keyboard.press("Enter")
    expect(page.locator("main")).to_be_focused()
    assert tab(page) == "Come in as the demo's owner"
    page.keyboard.press("Enter")
    page.wait_for_url("**/")

    heads = [tab(page) for _ in range(12)]
    rooms = ["Today", "Yarn", "Projects", "Fairs", "Buying", "Equipment", "Studio"]
    assert heads[:9] == ["To the page itself", "Warpshelf", *rooms]
    assert heads[9:] == ["Find a shade, cone or project", "Find", "Sign out"]
    for _ in range(7):
        tab(page, back=True)
    expect(page.get_by_role("link", name="Projects", exact=True)).to_be_focused()
    page.keyboard.press("Enter")
    page.wait_for_url("**/projects/")

    past_the_head(page)
    tab_to(page, page.get_by_role("link", name="Hearth mats"))
    page.keyboard.press("Enter")
    page.wait_for_url("**/projects/*/")
    past_the_head(page)
    pieces = page.get_by_label("Pieces", exact=True)
    tab_to(page, pieces)
    verdict = page.locator("#verdict")
    missing = missing_in(verdict.inner_text(), "Juniper")
    page.wait_for_load_state()
    with page.expect_response("**/preview/"):
        page.keyboard.type("14")
    mine.settle()
    assert 0 < missing_in(verdict.inner_text(), "Juniper") < missing
    page.keyboard.press("ControlOrMeta+a")
    page.wait_for_load_state()
    with page.expect_response("**/preview/"):
        page.keyboard.type("12")
    mine.settle()
    expect(pieces).to_be_focused()
    expect(verdict).not_to_contain_text("Short of")
    page.keyboard.press("Enter")
    expect(page.locator("#project-tools")).not_to_contain_text("not kept yet")

    past_the_head(page)
    tab_to(page, page.get_by_role("button", name="Reserve"))
    page.keyboard.press("Enter")
    expect(page.locator("#messages")).to_contain_text("Yarn for Hearth mats is put aside.")

    past_the_head(page)
    tab_to(page, page.get_by_role("button", name="Release"))
    page.keyboard.press("Space")
    expect(page.locator("#messages")).to_contain_text("all of it is free again")


def test_every_stop_of_the_plan_is_in_sight_both_ways_and_in_the_order_of_reading(site, visit):
    mine = visit()
    page = mine.enter_demo()
    page.goto("/projects/")
    page.get_by_role("link", name="Hearth mats").click()
    past_the_head(page)
    down = walk(page, until=page.get_by_role("button", name="Work it out"))
    wanted = [
        "name",
        "occasion",
        "need_on",
        "pieces",
        "piece_name",
        "across",
        "along",
        "hem",
        "sett",
        "picks",
    ]
    # A field for a day has a stop for each of its parts.
    fields = [name for name, _ in groupby(name for name in down if name in wanted)]
    assert fields == wanted
    up = walk(page, until=page.locator("[name=name]"), back=True)
    assert [name for name, _ in groupby(name for name in reversed(up) if name in wanted)] == wanted


def tab(page: Page, *, back: bool = False) -> str:
    """One stop further; the name of where the focus is now."""
    page.keyboard.press("Shift+Tab" if back else "Tab")
    trouble = page.evaluate(IN_SIGHT)
    name = page.evaluate(NAMED)
    assert not trouble, f"{name or page.evaluate('document.activeElement.outerHTML')[:200]}: {trouble}"
    return name


def tab_to(page: Page, target: Locator) -> None:
    for _ in range(MOST_STEPS):
        tab(page)
        if target.evaluate("node => node === document.activeElement"):
            return
    raise AssertionError(f"{MOST_STEPS} stops do not reach {target}.")


def walk(page: Page, *, until: Locator, back: bool = False) -> list[str]:
    """The names of the fields on the way, `until` included."""
    stops: list[str] = []
    for _ in range(MOST_STEPS):
        tab(page, back=back)
        stops.append(page.evaluate("document.activeElement.name || ''"))
        if until.evaluate("node => node === document.activeElement"):
            return stops
    raise AssertionError(f"{MOST_STEPS} stops do not reach {until}: {stops}")


def past_the_head(page: Page) -> None:
    """By the link that every page begins with."""
    page.wait_for_load_state()
    assert tab(page) == "To the page itself"
    page.keyboard.press("Enter")
    expect(page.locator("main")).to_be_focused()
