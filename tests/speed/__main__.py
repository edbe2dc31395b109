"""How quick is Warpshelf, and how quick could it be?

    python -m tests.speed                  from the folder of manage.py; three to six minutes
    python -m tests.speed --rounds 10      fewer rounds, a rougher figure
    python -m tests.speed --small          a tenth of the studio: does the benchmark itself still run?

An invented studio is built in a data folder that is thrown away (with DATABASE_URL, in a database beside the one it
names, whose name ends in _speed and which is dropped at the end). Then each page is asked for through the whole stack,
in turns with its floor: the least code that prints the same (see `floors`). The table gives the middle of all rounds in
ms, the ratio, the number of queries, and how many of the page's words the floor prints too. Then the ledger is doubled
and the pages are timed again: none may grow with the length of the ledger. Ends with status 1 if a page asks other
queries after that, a floor prints less than 97 of 100 words, or the books do not agree. Ratios are printed, not judged:
they hold on a machine with nothing else to do.
"""

from __future__ import annotations

import gc
import os
import sys
from argparse import ArgumentParser, Namespace
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tests.speed.stack import Browser, Timing

PAGES = {
    "Yarn by shade": ("/yarn/", "/floor/yarn/"),
    "Yarn by cone": ("/yarn/?by=cone", "/floor/yarn/cones/"),
    "Yarn, searched": ("/yarn/?q=spruce", "/floor/yarn/?q=spruce"),
    "Project, {few} shades": ("/projects/{few_pk}/", "/floor/projects/{few_pk}/"),
    "Project, {most} shades": ("/projects/{most_pk}/", "/floor/projects/{most_pk}/"),
    "Projects": ("/projects/", "/floor/projects/"),
    "Today": ("/", "/floor/today/"),
}
LEAST_SAID = 0.97


def main() -> int:
    parser = ArgumentParser(prog="python -m tests.speed", description=__doc__.partition("\n")[0])
    parser.add_argument("--rounds", type=int, default=40, help="default 40")
    parser.add_argument("--small", action="store_true", help="a tenth of the studio")
    asked = parser.parse_args()
    if asked.rounds < 1:
        parser.error("--rounds is 1 or more")
    with TemporaryDirectory(prefix="warpshelf-speed-") as folder:
        return in_folder(Path(folder), asked)


def in_folder(folder: Path, asked: Namespace) -> int:
    """Settings are read once, from the environment: it is set before Django is."""
    os.environ |= {"DJANGO_SETTINGS_MODULE": "stash.site.settings", "WARPSHELF_DATA": str(folder)}
    for name in ("SITE_URL", "WARPSHELF_DEBUG"):
        os.environ.pop(name, None)
    import django
    from django.conf import settings

    settings.ROOT_URLCONF = "tests.speed.urls"
    django.setup()
    from django.core.management import call_command
    from django.db import connection

    name = str(connection.settings_dict["NAME"])
    sqlite = connection.vendor == "sqlite"
    connection.settings_dict["TEST"]["NAME"] = str(folder / "speed.sqlite3") if sqlite else f"{name}_speed"
    connection.creation.create_test_db(verbosity=0, autoclobber=True, serialize=False)
    try:
        call_command("collectstatic", interactive=False, verbosity=0)
        return measure(asked)
    finally:
        connection.close()
        connection.creation.destroy_test_db(name, verbosity=0)


def measure(asked: Namespace) -> int:
    from django.db import connection

    from stash.services.books import check_books
    from tests.speed import archive, calc, imports, studio
    from tests.speed.stack import Browser, side_by_side

    size = studio.SMALL if asked.small else studio.FULL
    start = perf_counter()
    owner = studio.build(size)
    say(
        f"{size} on {connection.vendor}, built and checked in {perf_counter() - start:.0f} s; {asked.rounds} rounds.\n"
    )
    few, most = studio.typical_project(), studio.widest_project()
    names = {
        "few": few.shades.count(), "few_pk": few.pk, "most": most.shades.count(), "most_pk": most.pk,
    }  # fmt: skip
    pages = {
        label.format(**names): (page.format(**names), floor.format(**names))
        for label, (page, floor) in PAGES.items()
    }
    browser = Browser(owner)
    # As the server does once it is started: what is there now need not be looked through at every collection.
    gc.collect()
    gc.freeze()
    say(
        f"{'ms, middle of all rounds':26}{'page':>8}{'floor':>8}{'ratio':>7}{'queries':>9}{'floor’s':>9}{'words':>8}"
    )
    before = {}
    faults = []
    for label, (page, floor) in pages.items():
        before[label] = time_page(browser, page, floor, asked.rounds)
        found = before[label]
        say(
            f"{label:26}{found.ms:8.1f}{found.floor_ms:8.1f}{found.ms / found.floor_ms:7.2f}{found.queries:9}"
            f"{found.floor_queries:9}{found.said:8.1%}"
        )
        if found.said < LEAST_SAID:
            faults.append(f"{label}: the floor prints only {found.said:.1%} of the page's words.")
    ms, floor_ms = side_by_side(
        asked.rounds,
        lambda: browser.post(f"/projects/{few.pk}/reserve/"),
        lambda: browser.post(f"/floor/projects/{few.pk}/reserve/"),
        between=lambda: browser.get("/studio/password/"),  # shows the message, so that none are piled up
    )
    say(f"{'Reserve, 5 shades':26}{ms:8.1f}{floor_ms:8.1f}{ms / floor_ms:7.2f}\n")

    for label, call in calc.calls().items():
        (ms,) = side_by_side(asked.rounds, call)
        say(f"{f'calc: {label}':26}{ms:8.2f}   of 2,000 ends, 12 shades")

    studio.double_ledger(size, owner)
    say(f"\n{'with the ledger doubled':26}{'page':>8}{'before':>8}{'ratio':>7}{'queries':>9}")
    for label, (page, floor) in pages.items():
        found = time_page(browser, page, floor, asked.rounds)
        say(
            f"{label:26}{found.ms:8.1f}{before[label].ms:8.1f}{found.ms / before[label].ms:7.2f}{found.queries:9}"
        )
        if found.queries != before[label].queries:
            faults.append(f"{label}: {before[label].queries} queries became {found.queries}.")
    faults += [fault.words for fault in check_books()]

    # Last of all, since it signs everyone out.
    say(f"\n{'with the ledger doubled':26}")
    for rate in archive.rates():
        say(rate)
    for rate in imports.rates(small=asked.small):
        say(rate)
    for fault in faults:
        say(fault)
    return 1 if faults else 0


def time_page(browser: Browser, page: str, floor: str, rounds: int) -> Timing:
    from tests.speed.stack import Timing, side_by_side
    from tests.speed.words import share_said

    ms, floor_ms = side_by_side(rounds, lambda: browser.get(page), lambda: browser.get(floor))
    queries, floor_queries = len(browser.queries(page)), len(browser.queries(floor))
    return Timing(ms, floor_ms, queries, floor_queries, share_said(browser.get(page), browser.get(floor)))


def say(text: str) -> None:
    print(text, flush=True)


if __name__ == "__main__":
    sys.exit(main())
