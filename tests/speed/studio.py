"""An invented studio of the size at which slowness would be felt; the same at every run.

Shelf and ledger are written in bulk, for speed, and must satisfy the book check at the end. Projects and what they
hold come from the services, so that needs and reservations are what the program itself makes of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from random import Random

from django.db import connection, models, transaction
from django.utils import timezone

from projects.models import Project
from projects.services.planning import ProjectFacts, save_project
from projects.services.reserving import reserve_project
from stash.calc.colour_order import read_order
from stash.calc.counts import CountSystem, read_count
from stash.calc.density import UM_PER_INCH as INCH
from stash.calc.density import Density
from stash.calc.plan import Plan
from stash.models import Cone, Entry, EntryKind, Lot, Person, Place, Role, Shade, Studio
from stash.models.folding import fold
from stash.services.books import check_books
from stash.services.weighing import weigh
from stash.services.yarns import YarnFacts, save_yarn

LETTERS = "ABCDEFGHIJKL"
COUNTS = ("4/2", "5/2", "6/2", "8/2", "10/2", "12/2", "16/2", "20/2", "24/2", "30/2")
FIBRES = ({"cotton": 100}, {"wool": 100}, {"flax": 100}, {"cotton": 60, "flax": 40}, {"silk": 100})
TONES = ("Spruce", "Rust", "Fen", "Ash", "Plum", "Straw", "Slate", "Madder", "Reed", "Ink")
OPENED = datetime(2024, 1, 1, 9, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Size:
    yarns: int = 50
    shades: int = 3_000
    cones: int = 10_000
    entries: int = 200_000
    projects: int = 500

    def __str__(self) -> str:
        return (
            f"{self.cones:,} cones, {self.shades:,} shades, {self.entries:,} ledger entries, "
            f"{self.projects:,} projects"
        )


FULL = Size()
SMALL = Size(yarns=10, shades=300, cones=1_000, entries=20_000, projects=150)
UNDERCUT = 12
"""Reserved cones of which a last weighing finds less than is promised."""


def build(size: Size) -> Person:
    """Fill an empty database; returns its owner. Raises AssertionError where the books do not agree."""
    chance = Random(1786)
    with transaction.atomic():
        Studio.objects.create(pk=1, name="Bench studio, invented", made_at=timezone.now())
        owner = Person.objects.create(username="owner", name="Owner", role=Role.OWNER, password="!")
        shades = _shelf(size, chance)
        cones = _cones(size, shades, chance)
        _write(Entry, _life(cones, size.entries // size.cones, owner, chance))
        Cone.objects.bulk_update(cones, ["on_hand_mg", "weighed_at"], batch_size=500)
        projects = [_project(number, shades, chance) for number in range(size.projects)]
    # Who needs yarn first has reserved it, as a studio does; the rest is judged against what is free.
    for project in projects[: size.projects // 2]:
        reserve_project(pk=project.pk)
    for cone in Cone.objects.filter(reserved_mg__gt=0).order_by("pk")[:UNDERCUT]:
        weigh(cone_id=cone.pk, scale_mg=cone.reserved_mg // 2, gross=False, by=owner)
    check(size)
    return owner


def typical_project() -> Project:
    """One with five shades and a reservation."""
    return Project.objects.exclude(claim=None).annotate(n=models.Count("shades")).filter(n=5).earliest("pk")


def widest_project() -> Project:
    return Project.objects.annotate(n=models.Count("shades")).order_by("-n", "pk")[0]


def double_ledger(size: Size, owner: Person) -> None:
    """As many entries again, which leave every cone as it was: now a gram is missing, now it is found again."""
    cones = list(Cone.objects.order_by("pk"))
    at = timezone.now()

    def entries() -> Iterator[Entry]:
        for number in range(size.entries // size.cones):
            change = 1_000 if number % 2 else -1_000
            for cone in cones:
                cone.on_hand_mg += change
                yield Entry(
                    cone=cone,
                    kind=EntryKind.CORRECTED,
                    change_mg=change,
                    after_mg=cone.on_hand_mg,
                    by=owner,
                    at=at,
                )

    with transaction.atomic():
        _write(Entry, entries())
    check(Size(size.yarns, size.shades, size.cones, 2 * size.entries, size.projects))


def check(size: Size) -> None:
    """The studio has the size it should have, its books agree, and the database knows its own statistics."""
    there = (Shade, Cone, Entry, Project)
    counts = tuple(model.objects.count() for model in there)
    assert counts == (size.shades, size.cones, size.entries + UNDERCUT, size.projects), counts
    faults = check_books()
    assert not faults, faults[:3]
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def _shelf(size: Size, chance: Random) -> list[Shade]:
    yarns = [
        save_yarn(
            facts=YarnFacts(
                name=f"{TONES[number % 10]} yarn {number + 1}",
                count=read_count(COUNTS[number % len(COUNTS)], CountSystem.COTTON),
                fibres=FIBRES[number % len(FIBRES)],
            )
        )
        for number in range(size.yarns)
    ]
    shades = []
    for number in range(size.shades):
        name = f"{TONES[number // size.yarns % 10]} {number // size.yarns + 1}"
        shades.append(
            Shade(
                yarn=yarns[number % size.yarns],
                name=name,
                colour=f"#{chance.randrange(0x1000000):06x}",
                # One shade in five is kept in stock, and some of those have run low.
                keep_mg=chance.randrange(100_000, 1_000_000) if not number % 5 else None,
                search=fold(name),
                **_note(number),
            )
        )
    return Shade.objects.bulk_create(shades)


def _note(number: int) -> dict[str, str]:
    """One in twenty has a note."""
    note = "" if number % 20 else f"Sunny side of the loft, {number}"
    return {"note": note, "note_folded": fold(note)}


def _cones(size: Size, shades: list[Shade], chance: Random) -> list[Cone]:
    places = Place.objects.bulk_create(Place(name=f"Shelf {number:02}") for number in range(1, 25))
    lots = Lot.objects.bulk_create(
        Lot(shade=shade, name=f"{number}{letter}")
        for number, shade in enumerate(shades, 1)
        for letter in "AB"
    )
    cones = []
    for number in range(size.cones):
        at = number % size.shades
        # One cone in seven is of unknown lot, and one in nine has a core that nobody weighed.
        lot = lots[2 * at + chance.randrange(2)] if number % 7 else None
        cone = Cone(
            code=f"K-{number + 1:03d}",
            shade=shades[at],
            **_note(number),
            lot=lot,
            core_mg=None if not number % 9 else chance.randrange(20_000, 60_000),
            place=places[number % len(places)],
            received_at=OPENED,
        )
        cone.search = cone.search_words()
        cones.append(cone)
    return Cone.objects.bulk_create(cones, batch_size=500)


def _life(cones: list[Cone], entries_a_cone: int, owner: Person, chance: Random) -> Iterator[Entry]:
    """Received full, then weighed again and again with something less on it, in the order of time."""
    for number in range(entries_a_cone):
        at = OPENED + timedelta(days=20 * number)
        for cone in cones:
            change = chance.randrange(300_000, 1_500_000) if not number else -chance.randrange(1_000, 12_000)
            cone.on_hand_mg += change
            cone.weighed_at = at
            yield Entry(
                cone=cone,
                kind=EntryKind.WEIGHED if number else EntryKind.RECEIVED,
                change_mg=change,
                after_mg=cone.on_hand_mg,
                gross_mg=None if cone.core_mg is None else cone.core_mg + cone.on_hand_mg,
                core_mg=cone.core_mg,
                by=owner,
                at=at,
            )


def _project(number: int, shades: list[Shade], chance: Random) -> Project:
    """Two to eight shades, the first of all with twelve: runner sets, towels and the like, invented."""
    keys = LETTERS if not number else LETTERS[: chance.randrange(2, 9)]
    order = ", ".join(f"{chance.randrange(2, 17)} {key}" for key in keys)
    picks = ", ".join(f"{chance.randrange(2, 25)} {key}" for key in keys[: max(1, len(keys) // 2)])
    plan = Plan(
        pieces=chance.randrange(2, 25),
        across_um=chance.randrange(12, 45) * INCH,
        along_um=chance.randrange(18, 72) * INCH,
        losses_across=(Fraction(12, 100),),
        losses_along=(Fraction(9, 100),),
        take_up=Fraction(4, 100),
        waste_um=27 * INCH,
        sett=Density(Fraction(chance.randrange(12, 31))),
        picks=Density(Fraction(chance.randrange(10, 27))),
        order=read_order(order),
        order_fills=True,
        pick_order=read_order(picks, word="picks"),
        hem_um=2 * INCH,
        sample_um=8 * INCH,
    )
    return save_project(
        facts=ProjectFacts(
            name=f"Bench project {number + 1}",
            plan=plan,
            structure=("plain", "twill-2-2")[number % 2],
            shades={key: shade.pk for key, shade in zip(keys, chance.sample(shades, len(keys)), strict=True)},
            occasion="Invented fair" if number % 3 else "",
            need_on=timezone.localdate() + timedelta(days=number // 5) if number % 10 else None,
            rank=1 + number % 9,
        )
    )


def _write(model: type[models.Model], rows: Iterable[models.Model]) -> None:
    batch: list[models.Model] = []
    for row in rows:
        batch.append(row)
        if len(batch) == 5_000:
            model.objects.bulk_create(batch, batch_size=1_000)  # type: ignore[attr-defined]
            batch.clear()
    model.objects.bulk_create(batch, batch_size=1_000)  # type: ignore[attr-defined]
