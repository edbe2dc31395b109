"""A studio full of everything, made by chance: rows that every rule of the books lets through, and odd texts."""

from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from random import Random

from projects.models import Fair, ProjectBeam, ProjectNote, ProjectPhoto
from stash.models import (
    Board,
    Claim,
    ColumnReading,
    Condition,
    Cone,
    CoreKind,
    Count,
    CountKey,
    Delivery,
    Entry,
    EntryKind,
    FibreShare,
    Finding,
    Form,
    Loom,
    Lot,
    Order,
    OrderLine,
    Person,
    Photo,
    Place,
    PriceBreak,
    PutUp,
    Reed,
    Reservation,
    Role,
    SavedView,
    Shade,
    ShaftHeddles,
    Shortage,
    Stocktake,
    Studio,
    Supplier,
    Tool,
    Yarn,
)
from stash.models.folding import fold
from stash.site.folders import photos_folder
from tests.factories import make_project

SIGNS = "aäßœЖ漢 \"\\/\n\t\u2028\u200b🧶'<&%=+-@{},:[]"
BEGAN = datetime(1999, 12, 31, 23, 59, 59, 999_999, UTC)


class Chance(Random):
    def text(self, most: int, least: int = 0) -> str:
        return "".join(self.choice(SIGNS) for _ in range(self.randint(least, most)))

    def name(self, most: int, number: int) -> str:
        return f"{self.text(most - 8)} {number}"

    def moment(self) -> datetime:
        return BEGAN + timedelta(microseconds=self.randrange(10**15))

    def day(self) -> date:
        return date(2020, 1, 1) + timedelta(days=self.randrange(3_000))

    def maybe(self, value):
        return value if self.random() < 0.5 else None


def random_studio(seed: int, folder: Path | None = None) -> None:
    """Fill an empty database, with gaps between keys; photos go where the studio keeps them."""
    chance = Chance(seed)
    Studio.objects.create(
        pk=1,
        name=chance.name(60, 1),
        currency="CHF",
        label_address=chance.text(50),
        order_cost_cents=chance.maybe(chance.randint(1, 9_999)),
        holding_ppm=chance.maybe(chance.randint(1, 10**6)),
        quarantine_days=chance.randrange(60),
        made_at=BEGAN,
    )
    people = [
        Person.objects.create(
            username=f"person{number}", name=chance.text(40), role=role, password="!", is_active=number < 3
        )
        for number, role in enumerate([Role.OWNER, *chance.choices([Role.HELPER, Role.VIEWER], k=3)])
    ]
    shades = _shades(chance)
    cones = _cones(chance, shades)
    claims = [
        Claim.objects.create(
            name=chance.name(100, number),
            need_on=chance.maybe(chance.day()),
            rank=chance.randint(1, 9),
            made_at=BEGAN,
        )
        for number in range(4)
    ]
    for cone in cones:
        _ledger(chance, cone, people, claims)
    _wind_over(chance, cones, people[0])
    _reserve(chance, cones, claims, shades)
    _stocktake(chance, cones, people)
    _photos(chance, cones, shades)
    _orders(chance, cones, shades, people[0])
    for number, person in enumerate(people):
        SavedView.objects.create(person=person, name=chance.name(40, number), query="yarn=3&q=%C3%A4")
    ColumnReading.objects.create(
        headings=chance.name(40, 1),
        reading={"z": [1, 2.5, None, True, {"y": chance.text(9), "a": -1}], "a": "ä"},
        used_at=chance.moment(),
    )
    project = make_project(chance.name(60, 1), shade=shades[0], occasion="Fair", need_on=chance.day())
    project.claim = claims[0]
    project.loom, project.reed, project.board = _equipment(chance)
    project.threading, project.sley, project.kit_students = "1 2 3 4", "1-2", 3
    project.fair = Fair.objects.create(
        name=chance.name(60, 1),
        begins_on=date(2030, 5, 1),
        ends_on=chance.maybe(date(2030, 5, 3)),
        made_at=BEGAN,
    )
    project.save()
    lot = Lot.objects.create(shade=shades[0], name=chance.name(20, 99))
    project.shades.update(wish="lot", wish_lot=lot)
    trial = make_project(chance.name(60, 2), shade=shades[1])
    trial.trial_of = project
    trial.save()
    ProjectBeam.objects.create(project=project, number=2, take_up_ppm=chance.randrange(10**6))
    ProjectNote.objects.create(
        project=project, text=chance.text(90, 1), by=people[0], made_at=chance.moment()
    )
    ProjectPhoto.objects.create(
        project=project, file=f"p{seed}.jpg", width=3, height=4, made_at=chance.moment()
    )


def _equipment(chance: Chance) -> tuple[Loom, Reed, Board]:
    place = Place.objects.first()
    loom = Loom.objects.create(
        name=chance.name(30, 1),
        place=place,
        weaving_width_um=900_000,
        shafts=8,
        waste_um=700_000,
        waste_tied_on_um=chance.maybe(300_000),
        left_um=chance.randrange(10**6),
        busy_until=chance.maybe(chance.day()),
        retired_at=chance.maybe(chance.moment()),
    )
    ShaftHeddles.objects.create(loom=loom, shaft=2, number=chance.randrange(400))
    reed = Reed.objects.create(
        name=chance.name(30, 2),
        lent_to=chance.text(20, 1) + "x",
        back_on=chance.maybe(chance.day()),
        dents_numerator=25,
        dents_denominator=2,
        dents_per_um=25_400,
        length_um=800_000,
    )
    board = Board.objects.create(name=chance.name(30, 3), step_um=914_400, longest_um=10**7, kind="mill")
    Tool.objects.create(name=chance.name(30, 4), kind="bobbin", number=12, holds_mg=chance.maybe(11_000))
    return loom, reed, board


def _shades(chance: Chance) -> list[Shade]:
    shades = []
    for number in range(3):
        length, mass = chance.randint(1, 10**12), chance.randint(1, 10**9)
        yarn = Yarn.objects.create(
            pk=10 * number + chance.randint(1, 9),
            name=chance.name(60, number),
            stated_um=length,
            stated_mg=mass,
            grist_source="stated",
            grist_um=length,
            grist_mg=mass,
            note=chance.text(300),
            retired_at=chance.maybe(chance.moment()),
        )
        split = chance.randint(1, 99)
        FibreShare.objects.create(yarn=yarn, fibre="flax", percent=split)
        FibreShare.objects.create(yarn=yarn, fibre="hemp & ß", percent=100 - split)
        yarn.search = fold(yarn.name, "", "flax", "hemp & ß")
        yarn.save()
        for at in range(2):
            name = chance.name(40, at)
            shades.append(
                Shade.objects.create(
                    yarn=yarn,
                    name=name,
                    colour=chance.choice(["", "#00ff7f"]),
                    keep_mg=chance.maybe(chance.randint(1, 10**9)),
                    no_more_on=chance.maybe(chance.day()),
                    one_more=chance.random() < 0.5,
                    note=chance.text(100),
                    search=fold(name),
                )
            )
    return shades


def _cones(chance: Chance, shades: list[Shade]) -> list[Cone]:
    places = [Place.objects.create(name=chance.name(30, number)) for number in range(3)]
    kinds = [
        CoreKind.objects.create(name=chance.name(30, n), mass_mg=chance.randrange(10**6)) for n in range(2)
    ]
    supplier = Supplier.objects.create(
        name=chance.name(50, 1),
        note=chance.text(60),
        lead_days=chance.maybe(chance.randrange(90)),
        late_days=chance.randrange(30),
        minimum_cents=chance.maybe(chance.randint(1, 10**6)),
        currency=chance.choice(["", "SEK"]),
    )
    deliveries = [
        Delivery.objects.create(
            supplier=chance.maybe(supplier),
            received_on=chance.day(),
            expected_cones=chance.maybe(chance.randint(1, 9)),
            made_at=chance.moment(),
        )
        for _ in range(2)
    ]
    cones = []
    for number in range(12):
        shade = chance.choice(shades)
        lot = Lot.objects.create(shade=shade, name=chance.name(20, number))
        cone = Cone(
            pk=100 + 7 * number,
            code=f"Q-{number}",
            shade=shade,
            lot=chance.maybe(lot),
            form=chance.choice(Form.values),
            core_mg=chance.maybe(chance.randrange(10**6)),
            core_kind=chance.maybe(chance.choice(kinds)),
            place=chance.maybe(chance.choice(places)),
            condition=chance.choice(Condition.values),
            condition_on=chance.maybe(chance.day()),
            labelled_mg=chance.maybe(chance.randint(1, 10**9)),
            price_cents=chance.maybe(chance.randrange(10**6)),
            delivery=chance.maybe(chance.choice(deliveries)),
            note=chance.text(200),
            received_at=chance.moment(),
            weighed_at=chance.maybe(chance.moment()),
            estimated=chance.random() < 0.5,
            version=chance.randint(1, 99),
        )
        cone.search = cone.search_words()
        cone.save()
        cones.append(cone)
    return cones


def _enter(chance: Chance, cone: Cone, kind: str, change: int, by: Person, **facts) -> Entry:
    cone.on_hand_mg += change
    cone.save()
    core = chance.maybe(chance.randrange(10**6))
    return Entry.objects.create(
        cone=cone,
        kind=kind,
        change_mg=change,
        after_mg=cone.on_hand_mg,
        core_mg=core,
        gross_mg=None if core is None else core + cone.on_hand_mg,
        reason=chance.text(150),
        by=by,
        at=chance.moment(),
        is_estimate=chance.random() < 0.5,
        key=chance.maybe(f"{chance.getrandbits(64):x}"),
        **facts,
    )


def _ledger(chance: Chance, cone: Cone, people: list[Person], claims: list[Claim]) -> None:
    by = chance.choice(people)
    _enter(chance, cone, EntryKind.RECEIVED, chance.randint(10**5, 10**9), by)
    for _ in range(chance.randrange(5)):
        kind = chance.choice([EntryKind.WEIGHED, EntryKind.CORRECTED, EntryKind.WOUND])
        change = chance.randint(-min(cone.on_hand_mg, 10_000), 10_000)
        entry = _enter(chance, cone, kind, change, by, claim=chance.maybe(chance.choice(claims)))
        if cone.on_hand_mg >= change and chance.random() < 0.3:
            _enter(chance, cone, EntryKind.UNDONE, -change, by, undoes=entry)


def _wind_over(chance: Chance, cones: list[Cone], by: Person) -> None:
    given, taken = cones[0], cones[1]
    gone = _enter(chance, given, EntryKind.OVER, -500, by)
    _enter(chance, taken, EntryKind.OVER, 490, by, partner=gone)


def _reserve(chance: Chance, cones: list[Cone], claims: list[Claim], shades: list[Shade]) -> None:
    for cone in cones[:6]:
        mass = chance.randint(1, 10**4)
        Reservation.objects.create(
            claim=chance.choice(claims),
            cone=cone,
            use="warp",
            ends=chance.randint(1, 99),
            length_um=chance.randint(1, 10**9),
            mass_mg=mass,
            made_at=chance.moment(),
        )
        cone.reserved_mg = mass
        cone.save()
    Shortage.objects.create(
        claim=claims[1], shade=shades[0], length_um=5, mass_mg=chance.randint(1, 10**9), made_at=BEGAN
    )


def _stocktake(chance: Chance, cones: list[Cone], people: list[Person]) -> None:
    done = Stocktake.objects.create(
        place=Place.objects.first(), began_at=BEGAN, closed_at=BEGAN, closed_by=people[0], by=people[0]
    )
    Stocktake.objects.create(began_at=chance.moment(), by=people[1], note=chance.text(100))
    for cone in cones[:4]:
        entry = _enter(chance, cone, EntryKind.COUNTED, chance.randint(-99, 99), people[0])
        count = Count.objects.create(
            stocktake=done,
            cone=cone,
            books_mg=cone.on_hand_mg,
            scale_mg=cone.on_hand_mg,
            is_gross=False,
            net_mg=cone.on_hand_mg,
            counted_at=BEGAN,
            by=people[0],
            settled_at=BEGAN,
            settled_by=people[0],
            entry=entry,
        )
        CountKey.objects.create(key=f"{chance.getrandbits(64):x}", count=count)
    Count.objects.create(
        stocktake=done,
        cone=cones[5],
        finding=Finding.ABSENT,
        books_mg=1,
        counted_at=BEGAN,
        by=people[0],
        reason=chance.text(50),
    )


def _photos(chance: Chance, cones: list[Cone], shades: list[Shade]) -> None:
    folder = photos_folder()
    folder.mkdir(parents=True, exist_ok=True)
    for number, of in enumerate([{"cone": cones[0]}, {"shade": shades[0]}, {"cone": cones[2]}]):
        name = f"{chance.getrandbits(64):016x}.jpg"
        Photo.objects.create(file=name, width=3, height=2, made_at=BEGAN, **of)
        if number < 2:
            (folder / name).write_bytes(chance.randbytes(10_000))


def _orders(chance: Chance, cones: list[Cone], shades: list[Shade], by: Person) -> None:
    supplier = Supplier.objects.get()
    put_up = PutUp.objects.create(
        supplier=supplier,
        yarn=shades[0].yarn,
        shade=chance.maybe(shades[0]),
        mass_mg=chance.randint(1, 10**6),
        price_cents=chance.maybe(chance.randrange(10**4)),
    )
    PriceBreak.objects.create(put_up=put_up, number=chance.randint(2, 9), price_cents=chance.randrange(10**4))
    order = Order.objects.create(
        supplier=supplier,
        ordered_on=date(2026, 3, 1),
        due_on=chance.maybe(date(2026, 3, 20)),
        reference=chance.text(50),
        currency="SEK",
        by=by,
        made_at=BEGAN,
    )
    line = OrderLine.objects.create(
        order=order,
        shade=cones[3].shade,
        put_up=chance.maybe(put_up),
        mass_mg=put_up.mass_mg,
        number=5,
        reason=chance.text(200),
        came=1,
        cancelled=chance.randrange(4),
    )
    Delivery.objects.update(order=order)
    Cone.objects.filter(pk=cones[3].pk).update(order_line=line)
