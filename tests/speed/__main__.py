"""How quick is Warpshelf, and how quick could it be?

    python -m tests.speed                  from the folder of manage.py; three to six minutes
    python -m tests.speed --rounds 10      fewer rounds, a rougher figure
    python -m tests.speed --small          a tenth of the studio: does the benchmark itself still run?
    python -m tests.speed --cpu            counts this process's own work, not the clock: for a busy machine, and for
                                           SQLite, which works in this process; waiting for the disk is not in it

An invented studio is built in a data folder that is thrown away (with DATABASE_URL, in a database beside the one it
names, whose name ends in _speed and which is dropped at the end). Then each page is asked for through the whole stack,
in turns with its floor: the least code that prints the same (see `floors`). The table gives the middle of all rounds in
ms, the ratio, the number of queries, and how many of the page's words the floor prints too. Then the ledger is doubled
and the pages are timed again: no page reads the ledger, so none may grow with it. Ends with status 1 if a page asks other
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
from time import perf_counter, process_time

PAGES = {
    "Yarn by shade": ("/yarn/", "/floor/yarn/"),
    "Yarn by cone": ("/yarn/?by=cone", "/floor/yarn/cones/"),
    "Yarn, searched": ("/yarn/?q=spruce", "/floor/yarn/?q=spruce"),
    "Searched while typing": ("/yarn/?q=spru#shelf-list", "/floor/yarn/?q=spru#shelf-list"),
    "Searched in notes": ("/yarn/?q=sunny#shelf-list", "/floor/yarn/?q=sunny#shelf-list"),
    "Yarn near a colour": ("/yarn/?near=%232f5d50", "/floor/yarn/?near=%232f5d50"),
    "Yarn by whole ends": ("/yarn/?ends=12+yd", "/floor/yarn/?ends=12+yd"),
    "Project, {few} shades": ("/projects/{few}/", "/floor/projects/{few}/"),
    "Project, {most} shades": ("/projects/{most}/", "/floor/projects/{most}/"),
    "Projects": ("/projects/", "/floor/projects/"),
    "Today": ("/", "/floor/today/"),
}
LEAST_SAID = 0.97


def main() -> int:
    parser = ArgumentParser(prog="python -m tests.speed", description=__doc__.partition("\n")[0])
    parser.add_argument("--rounds", type=int, default=40, help="default 40")
    parser.add_argument("--small", action="store_true", help="a tenth of the studio")
    parser.add_argument(
        "--cpu",
        action="store_true",
        help="time of this process's own work, where others keep the machine busy",
    )
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
    from tests.speed import allot, archive, calc, cloth, imports, outlook, preview, studio, ways
    from tests.speed.stack import Browser, Watch

    size = studio.SMALL if asked.small else studio.FULL
    start = perf_counter()
    owner = studio.build(size)
    took = perf_counter() - start
    say(f"{size} on {connection.vendor}, built and checked in {took:.0f} s; {asked.rounds} rounds.")
    # As the server does once it is started: what is there now need not be looked through at every collection.
    gc.collect()
    gc.freeze()
    watch = Watch(Browser(owner), asked.rounds, process_time if asked.cpu else perf_counter)
    few, most = studio.typical_project(), studio.widest_project()
    pages = {
        label.format(few=few.shades.count(), most=most.shades.count()): (
            page.format(few=few.pk, most=most.pk),
            floor.format(few=few.pk, most=most.pk),
        )
        for label, (page, floor) in PAGES.items()
    }
    say(f"\n{'':26}{'page':>10}{'floor':>10}{'ratio':>7}{'queries':>9}{'floor’s':>9}{'words':>8}")
    faults = []
    before = {}
    for label, addresses in pages.items():
        found = before[label] = watch.pages(*addresses)
        say(f"{label:26}{found}{found.queries:9}{found.floor_queries:9}{found.said:8.1%}")
        if found.said < LEAST_SAID:
            faults.append(f"{label}: the floor prints only {found.said:.1%} of the page's words.")
    address = f"/projects/{few.pk}/reserve/"
    say(f"{f'Reserve, {few.shades.count()} shades':26}{watch.buttons(address, f'/floor{address}')}")

    say("\nwhile a plan of 1,000 ends is typed")
    for label, call in preview.calls(watch.browser, few).items():
        say(f"{label:26}{watch.call(call):7.2f} ms")
    say("\ncalc, 2,000 ends of 12 shades")
    for label, call in calc.calls().items():
        say(f"{label:26}{watch.call(call):7.2f} ms")
    say("\nways out, 1,000 ends of 6 shades over 1,000 cones")
    for label, call in ways.calls().items():
        say(f"{label:26}{watch.call(call):7.2f} ms")

    say(f"\n{'a year ahead':26}{'all':>10}{'floor':>10}{'ratio':>7}")
    with outlook.orders(owner):
        say(f"{f'{size.shades:,} shades':26}{watch.pair(outlook.ahead, outlook.floor())}")
        say(f"{'again, nothing entered':26}{watch.call(outlook.ahead_again):7.1f} ms")
    say(f"{'usual use of a full year':26}{watch.call(outlook.ledger):7.2f} ms")

    say(f"\nallotting, {allot.PROJECTS} projects over {allot.CONES:,} cones and {allot.SHADES} shades")
    for line in allot.rates():
        say(line)

    say("\ncloth, 1,000 ends by 1,500 picks")
    for label, call in cloth.calls().items():
        say(f"{label:26}{watch.call(call):7.2f} ms")

    studio.double_ledger(size, owner)
    say(f"\n{'with the ledger doubled':26}{'page':>10}{'floor':>10}{'ratio':>7}{'queries':>9}")
    for label, addresses in pages.items():
        found = watch.pages(*addresses)
        say(f"{label:26}{found}{found.queries:9}")
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


def say(text: str) -> None:
    print(text, flush=True)


if __name__ == "__main__":
    sys.exit(main())
