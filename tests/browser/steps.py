"""What several journeys read off the same pages."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

try:
    from playwright.sync_api import expect
except ImportError:  # The browser's own fixture says so, and no journey begins.
    expect = None

__all__ = ["expect", "free_of", "missing_in", "verdict_of"]

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

    from tests.browser.watching import Visit


def verdict_of(page: Page, project: str) -> Locator:
    """The verdict in the project's row of the list."""
    row = page.get_by_role("row").filter(has=page.get_by_role("link", name=project))
    return row.locator(".flag")


def free_of(visit: Visit, shade: str) -> int:
    """Yards that are free of a shade, read off the Yarn page."""
    visit.room("Yarn")
    row = visit.page.get_by_role("row").filter(has=visit.page.get_by_role("link", name=shade, exact=True))
    return int(re.match(r"[\d,]+", row.locator("[data-l=free]").inner_text())[0].replace(",", ""))


def missing_in(verdict: str, shade: str) -> float:
    """Yards that a verdict says are missing of a shade; 0 if it says nothing of the kind."""
    found = re.search(rf"Short of {shade} by ([\d,.]+) yd", verdict)
    return float(found[1].replace(",", "")) if found else 0
