"""One browser window, and everything in it that must not happen on any page."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, ConsoleMessage, Locator, Page, Request

WIDE = {"width": 1280, "height": 900}
PHONE = {"width": 390, "height": 844}
# Chromium puts each answer of 400 or more on the console; a test says which of them it wants.
_LOST = re.compile(r"net::ERR_(INTERNET_DISCONNECTED|FAILED)")
_ANSWER = re.compile(r"the server responded with a status of (\d+)|Response Status Error Code (\d+)")


class Visit:
    """A window with its first page, already watched. `trouble` holds sentences of what went wrong."""

    def __init__(self, context: BrowserContext, home: str) -> None:
        self.context = context
        self.trouble: list[str] = []
        self.home = home
        self._wanted: set[str] = set()
        self._may_lose = False
        context.on("console", self._said)
        context.on("weberror", lambda error: self.trouble.append(f"script error: {error.error}"))
        context.on("request", self._asked)
        self.page: Page = context.new_page()

    def expect_answers(self, *statuses: int) -> None:
        """These refusals are part of the journey."""
        self._wanted |= {str(status) for status in statuses}

    def expect_lost_requests(self) -> None:
        """The connection is cut as part of the journey."""
        self._may_lose = True

    def check(self) -> None:
        assert not self.trouble, "\n".join(self.trouble)

    def photograph(self, folder: Path) -> str:
        paths = []
        for number, page in enumerate(self.context.pages, 1):
            paths.append(folder / f"{number}.png")
            page.screenshot(path=paths[-1], full_page=True)
        return "\n".join(str(path) for path in paths)

    def _said(self, message: ConsoleMessage) -> None:
        if message.type not in ("error", "warning"):
            return
        # htmx writes down as an error that a request was overtaken by the next text typed, or by leaving the page: so
        # it is meant. One that failed says htmx:sendError besides.
        if message.text.startswith(("htmx:sendAbort", "htmx:afterRequest")):
            return
        answer = _ANSWER.search(message.text)
        if answer and (answer[1] or answer[2]) in self._wanted:
            return
        if self._may_lose and _LOST.search(message.text):
            return
        self.trouble.append(f"console {message.type}: {message.text} ({message.location.get('url', '')})")

    def _asked(self, request: Request) -> None:
        address = urlsplit(request.url)
        if address.scheme not in ("data", "blob") and address.netloc != urlsplit(self.home).netloc:
            self.trouble.append(f"left the machine: {request.url}")

    # --- What journeys do again and again ---------------------------------------------------------------

    def enter_demo(self) -> Page:
        """In through the demo's own door."""
        self.page.goto("/")
        self.page.get_by_role("button", name="Come in as the demo's owner").click()
        self.page.wait_for_url("**/")
        return self.page

    def enter_as(self, name: str, password: str) -> Page:
        self.page.goto("/sign-in/")
        self.page.get_by_label("Sign-in name").fill(name)
        self.page.get_by_label("Password").fill(password)
        self.page.get_by_role("button", name="Sign in", exact=True).click()
        self.page.wait_for_url("**/")
        return self.page

    def room(self, name: str) -> None:
        """By the links at the head of every page."""
        self.page.get_by_role("navigation", name="Main").get_by_role("link", name=name).click()
        self.page.wait_for_load_state()

    def type_into(self, field: Locator, text: str) -> None:
        """Type over what stands in a plan's field, and wait until the answer stands in the page."""
        # Until the page is loaded nobody listens to the field; until the field is there the page before it may be meant.
        field.wait_for()
        self.page.wait_for_load_state()
        with self.page.expect_response("**/preview/"):
            field.fill(text)
        self.settle()

    def settle(self) -> None:
        """No request of the page under way, none being put in."""
        self.page.wait_for_function(
            "() => !document.querySelector('.htmx-request, .htmx-swapping, .htmx-settling')"
        )

    def sideways(self) -> int:
        """By how many pixels the page is wider than its window."""
        return self.page.evaluate(
            "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
