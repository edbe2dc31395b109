"""Chromium in front of the running site, with the demo studio as it was on the day it was loaded.

Without Chromium or Playwright these tests are skipped with a sentence; with WARPSHELF_TEST_ALL=1 they fail
instead, so that a machine which is meant to run everything cannot run less in silence.
WARPSHELF_CHROMIUM names another Chromium than Debian's; of Debian's two, the headless shell needs half the time.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from django.core.management import call_command
from django.db import connection

from stash.models import guards
from stash.site.demo import load_demo
from tests.browser.serving import Server
from tests.browser.snapshot import Snapshot, take_snapshot
from tests.browser.watching import PHONE, WIDE, Visit

if TYPE_CHECKING:
    from playwright.sync_api import Browser

    Open = Callable[..., Visit]

_SHELL, _BROWSER = "/usr/bin/chromium-headless-shell", "/usr/bin/chromium"
CHROMIUM = Path(os.environ.get("WARPSHELF_CHROMIUM") or (_SHELL if Path(_SHELL).exists() else _BROWSER))
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
# Long enough for a machine that is busy with other things; a page of the demo takes a tenth of it.
PATIENCE_MS = 10_000
VISITS = pytest.StashKey[list[Visit]]()


HERE = Path(__file__).parent

# Journeys in which rows are locked, counted or taken by turns; pages alone say the same whatever keeps the books.
ON_BOTH_DATABASES = {
    "test_a_project_finds_its_yarn",
    "test_an_order_comes_in_parts",
    "test_import",
    "test_stocktake",
    "test_two_projects_compete",
    "test_two_windows",
    "test_warping_ticket",
}


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if item.path.parent == HERE and item.path.stem not in ON_BOTH_DATABASES:
            item.add_marker("once")


def _missing(why: str) -> None:
    if os.environ.get("WARPSHELF_TEST_ALL") == "1":
        pytest.fail(f"{why} WARPSHELF_TEST_ALL=1 asks for every test.")
    pytest.skip(why)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """One browser for the whole run."""
    try:
        from playwright.sync_api import expect, sync_playwright
    except ImportError:
        _missing(
            "Playwright is not installed, so no journey through the pages is made: pip install '.[test]'."
        )
    if not CHROMIUM.exists():
        _missing(f"There is no Chromium at {CHROMIUM}: install it, or name another by WARPSHELF_CHROMIUM.")
    expect.set_options(timeout=PATIENCE_MS)
    with sync_playwright() as playwright:
        # Playwright runs a loop of its own in this thread; Django would take our queries for its.
        os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()
    del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


@pytest.fixture(scope="session")
def server(django_db_setup: None) -> Iterator[Server]:
    """The site as it is served: static files by the site itself, named by hash."""
    running = Server()
    yield running
    running.stop()


@pytest.fixture(scope="session")
def demo_snapshot(django_db_setup: None, django_db_blocker: Any) -> Snapshot:
    """The demo, loaded once: its load takes seconds, its copy milliseconds."""
    with django_db_blocker.unblock():
        load_demo()
        snapshot = take_snapshot(connection)
        _without_guards()
        call_command("flush", interactive=False, verbosity=0)
    return snapshot


def _without_guards() -> None:
    """Flush installs the guards anew, and the next flush is stopped by them."""
    for name in guards.NAMES:
        guards.drop(connection.alias, name)


@pytest.fixture
def empty_site(server: Server, transactional_db: None) -> Iterator[Server]:
    """The running site over an empty database."""
    yield server
    server.wait_until_idle()
    _without_guards()


@pytest.fixture
def site(demo_snapshot: Snapshot, empty_site: Server) -> Server:
    """The running site with the demo studio in it."""
    _without_guards()
    demo_snapshot.restore(connection)
    return empty_site


@pytest.fixture
def visit(request: pytest.FixtureRequest, chromium: Browser, empty_site: Server) -> Iterator[Open]:
    """Opens a browser window of its own: `visit()`, `visit(phone=True)`, `visit(script=False)`."""
    visits = request.node.stash.setdefault(VISITS, [])

    def open_window(*, phone: bool = False, script: bool = True, dark: bool = False) -> Visit:
        context = chromium.new_context(
            base_url=empty_site.url,
            viewport=PHONE if phone else WIDE,
            is_mobile=phone,
            has_touch=phone,
            java_script_enabled=script,
            color_scheme="dark" if dark else "light",
            locale="en-GB",
        )
        context.set_default_timeout(PATIENCE_MS)
        visits.append(Visit(context, empty_site.url))
        return visits[-1]

    yield open_window
    for one in visits:
        one.context.close()
    empty_site.wait_until_idle()


@pytest.hookimpl(wrapper=True)
def pytest_pyfunc_call(pyfuncitem: pytest.Function) -> Iterator[None]:
    """A journey that arrives has still failed if something went wrong on the way."""
    result = yield
    for visit in pyfuncitem.stash.get(VISITS, []):
        visit.check()
    return result


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]) -> Iterator[None]:
    """What stood on the screen when a journey failed, as pictures in a temporary folder."""
    report = yield
    if report.when == "call" and report.failed:
        for visit in item.stash.get(VISITS, []):
            folder = Path(tempfile.mkdtemp(prefix="warpshelf-screens-"))
            report.sections.append((f"On the screen at {visit.page.url}", visit.photograph(folder)))
    return report
