"""A spreadsheet into the books: the dry run tells it beforehand, all of it comes in or nothing, and nothing twice."""

from datetime import date

import pytest
from django.db import IntegrityError
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from stash.calc.writing import Measures
from stash.models import (
    ColumnReading,
    Cone,
    CoreKind,
    Delivery,
    Entry,
    EntryKind,
    Lot,
    Place,
    Shade,
    Supplier,
    Yarn,
)
from stash.services.cones import move_cone, retire_cone
from stash.services.import_plan import DOUBLE, ERROR, LEFT, NEW
from stash.services.importing import (
    remember_reading,
    remembered_reading,
    run_waiting,
)
from stash.services.refusal import Refusal
from stash.services.weighing import weigh
from stash.services.yarns import retire_shade, retire_yarn
from stash.spreadsheets.columns import table_of
from stash.spreadsheets.reading import read_sheet
from tests.books import assert_books_agree
from tests.factories import make_cone, make_shade, make_yarn
from tests.stash.sheets import IMPORTS, bring, plan_of, reading_of, sheet_of, states, waiting_of

pytestmark = pytest.mark.django_db

FULL = "E-1,Mat cotton,8/2,cotton,Spruce,A17,450,32,Shelf 2,18.50,Invented Mill,3.4.2024,for mats"


@pytest.fixture(autouse=True)
def _studio(studio):
    return studio


def kept():
    """How much of everything an import can make there is."""
    models = (Yarn, Shade, Lot, Place, Supplier, Delivery, Cone, Entry)
    return {model.__name__: model.objects.count() for model in models}


def problems(plan):
    return [(problem.row, problem.column) for line in plan.lines for problem in line.problems]


# --- What comes in ------------------------------------------------------------------------------------------
def test_a_row_makes_its_yarn_shade_lot_place_delivery_and_cone(owner):
    outcome = bring(sheet_of(FULL), owner)
    cone = Cone.objects.select_related("shade__yarn", "lot", "place", "delivery__supplier").get()
    assert (cone.code, cone.shade.yarn.name, cone.shade.name) == ("E-1", "Mat cotton", "Spruce")
    assert (cone.lot.name, cone.place.name, cone.note) == ("A17", "Shelf 2", "for mats")
    assert (cone.on_hand_mg, cone.core_mg, cone.price_cents) == (450_000, 32_000, 1850)
    assert (cone.delivery.supplier.name, cone.delivery.received_on) == ("Invented Mill", date(2024, 4, 3))
    assert cone.delivery.closed_at and "list.csv" in cone.delivery.note
    assert timezone.localdate(cone.received_at) == date(2024, 4, 3)
    assert cone.shade.yarn.count_written == "8/2 cotton"
    assert list(Cone.objects.matching("e-1 a17 shelf spruce mat")) == [cone]
    assert (outcome.cones, outcome.yarns, outcome.shades, outcome.lots, outcome.places) == (1, 1, 1, 1, 1)
    assert outcome.yarn_ids == (cone.shade.yarn_id,)
    assert_books_agree()


def test_the_ledger_tells_it_as_received_with_what_the_scale_said(owner):
    sheet = sheet_of("a,8/2,cotton,b,482,32", headings="Yarn,Count,System,Shade,Gross (g),Core (g)")
    bring(sheet, owner)
    entry = Entry.objects.get()
    assert (entry.kind, entry.change_mg, entry.after_mg) == (EntryKind.RECEIVED, 450_000, 450_000)
    assert (entry.gross_mg, entry.core_mg, entry.by) == (482_000, 32_000, owner)
    assert entry.at == entry.cone.received_at == entry.cone.weighed_at
    assert_books_agree()


def test_an_estimate_stays_one_in_the_books(owner):
    bring(sheet_of("a,8/2,cotton,b,~200", headings="Yarn,Count,System,Shade,Net (g)"), owner)
    assert Entry.objects.get().is_estimate and Cone.objects.get().estimated


def test_what_is_known_is_found_in_any_capitals_and_not_made_again(owner):
    shade = make_shade("Spruce", make_yarn("Mat cotton"))
    cone = make_cone(shade, lot="a17", place="shelf 2", code="K-007")
    outcome = bring(
        sheet_of(",MAT COTTON,,,SPRUCE,A17,300,,SHELF 2,,,,", ",mat cotton,,,Rust,A17,300,,Box,,,,"), owner
    )
    assert (outcome.yarns, outcome.shades, outcome.lots, outcome.places) == (0, 1, 1, 1)
    first = Cone.objects.get(on_hand_mg=300_000, shade=shade)
    assert (first.lot, first.place, first.code) == (cone.lot, cone.place, "K-008")
    assert (outcome.first_code, outcome.last_code) == ("K-008", "K-009")


def test_codes_are_given_out_beside_those_of_the_books_and_of_the_file(owner):
    make_cone(make_shade("b", make_yarn("a")), code="K-002")
    bring(sheet_of("k-004,a,,,b,,1,,,,,,", ",a,,,b,,2,,,,,,", ",a,,,b,,3,,,,,,"), owner)
    assert list(Cone.objects.values_list("code", flat=True)) == ["K-002", "k-004", "K-005", "K-006"]


def test_all_rows_of_a_new_yarn_together_say_what_it_is(owner):
    sheet = sheet_of(
        "a,,,,b,1", "a,8/2,cotton,,c,2", "a,,,\"60 % cotton, 40 % linen\",d,3",
        headings="Yarn,Count,System,Fibre,Shade,Net (g)",
    )  # fmt: skip
    bring(sheet, owner)
    yarn = Yarn.objects.get()
    assert (yarn.count_written, sorted(share.percent for share in yarn.fibres.all())) == (
        "8/2 cotton",
        [40, 60],
    )


def test_a_core_named_by_its_kind_keeps_the_kind(owner):
    kind = CoreKind.objects.create(name="Paper cone", mass_mg=31_000)
    bring(sheet_of("a,8/2,cotton,b,450,paper cone", headings="Yarn,Count,System,Shade,Net,Core"), owner)
    cone = Cone.objects.get()
    assert (cone.core_kind, cone.core_mg) == (kind, 31_000)


def test_a_condition_is_kept_with_the_day_it_is_known_since(owner):
    bring(sheet_of("a,8/2,cotton,b,450,weak", headings="Yarn,Count,System,Shade,Net,Condition"), owner)
    cone = Cone.objects.get()
    assert (cone.condition, cone.condition_on) == ("weak", timezone.localdate())
    assert not Cone.objects.usable().exists()


def test_one_delivery_for_each_supplier_and_day(owner):
    Supplier.objects.create(name="invented mill")
    bring(
        sheet_of(
            ",a,8/2,cotton,b,,1,,,,Invented Mill,2024-04-03,", ",a,,,b,,2,,,,INVENTED MILL,3.4.2024,",
            ",a,,,b,,3,,,,Invented Mill,2024-04-04,", ",a,,,b,,4,,,,,2024-04-04,",
        ),
        owner,
    )  # fmt: skip
    assert Supplier.objects.count() == 1 and Delivery.objects.count() == 2
    assert Cone.objects.filter(delivery=None).count() == 1


def test_progress_is_told_and_ends_at_the_whole(owner):
    told = []
    bring(
        sheet_of(*(f",a,8/2,cotton,b,{n},{n},,,,,," for n in range(1, 601))),
        owner,
        progress=lambda *at: told.append(at),
    )
    assert told[0] == (0, 600) and told[-1] == (600, 600) and len(told) >= 3


# --- Rows that stand for several cones ------------------------------------------------------------------------
SEVERAL = "Yarn,Count,System,Shade,Qty,Net (g)"


def test_a_row_of_several_cones_brings_each_of_them_with_a_code_and_an_entry(owner):
    outcome = bring(sheet_of("a,8/2,cotton,b,3,1000", headings=SEVERAL), owner, several="together")
    cones = Cone.objects.order_by("code")
    assert [(cone.code, cone.on_hand_mg, cone.estimated) for cone in cones] == [
        ("K-001", 333_334, True),
        ("K-002", 333_333, True),
        ("K-003", 333_333, True),
    ]
    assert (outcome.cones, outcome.yarns, outcome.first_code, outcome.last_code) == (3, 1, "K-001", "K-003")
    assert_books_agree()


def test_the_cones_of_one_row_are_not_asked_about_as_rows_that_are_alike(owner):
    plan = plan_of(sheet_of("a,8/2,cotton,b,3,450", headings=SEVERAL), several="each")
    assert plan.is_ready and [line.facts.place_in_row for line in plan.new] == [1, 2, 3]


def test_a_second_row_of_as_many_cones_is_asked_about_and_left_out_whole(owner):
    sheet = sheet_of("a,8/2,cotton,b,2,450", "a,8/2,cotton,b,2,450", headings=SEVERAL)
    plan = plan_of(sheet, several="each")
    assert plan.asks_alike and plan.alike_rows == (3,)
    assert states(plan_of(sheet, several="each", alike="once")) == [(2, NEW), (2, NEW), (3, LEFT), (3, LEFT)]
    assert bring(sheet, owner, several="each", alike="each").cones == 4
    assert_books_agree()


def test_a_row_of_several_cones_brought_in_again_brings_nothing_and_of_more_only_the_rest(owner):
    bring(sheet_of("a,8/2,cotton,b,3,450", headings=SEVERAL), owner, several="each")
    weigh(cone_id=Cone.objects.all()[1].pk, scale_mg=100_000, gross=False, by=owner)
    again = plan_of(sheet_of("a,8/2,cotton,b,3,450", headings=SEVERAL), several="each")
    assert [line.state for line in again.lines] == [DOUBLE] * 3
    more = plan_of(sheet_of("a,8/2,cotton,b,5,450", headings=SEVERAL), several="each")
    assert [line.state for line in more.lines] == [DOUBLE, DOUBLE, DOUBLE, NEW, NEW]


def test_a_problem_of_a_row_of_several_cones_is_told_once(owner):
    plan = plan_of(sheet_of("a,,,b,3,450", headings=SEVERAL), several="each")
    assert states(plan) == [(2, ERROR)]
    assert len(problems(plan)) == 1


# --- The fixtures ---------------------------------------------------------------------------------------------
def test_the_example_comes_in_as_it_is(owner):
    sheet = read_sheet((IMPORTS / "example.csv").read_bytes())
    assert states(plan_of(sheet)) == [(row, NEW) for row in range(2, 7)]
    assert bring(sheet, owner).cones == 5
    assert_books_agree()


def messy():
    return read_sheet((IMPORTS / "messy.csv").read_bytes())


def messy_answers():
    """What a person says of it: one column that no heading gives away, and rows to leave out."""
    reading = reading_of(messy())
    columns = [[column.role.value, column.unit] for column in reading.columns]
    columns[2] = ["system", ""]
    return {"columns": columns, "system": "cotton"}


def test_a_messy_sheet_shows_what_is_wrong_with_it_and_nothing_else():
    plan = plan_of(messy(), **messy_answers())
    assert problems(plan) == [
        (58, "Size (column B)"),
        (59, "Weight with cone (g) (column G)"),
        (60, "Weight with cone (g) (column G)"),
        (60, "Bought (column M)"),
        (61, "Colour (column E)"),
        (61, "Core (column H)"),
    ]
    assert (plan.count(NEW), plan.count(LEFT), plan.asks_alike, plan.alike_rows) == (48, 1, True, (6,))
    assert not plan.is_ready


def test_a_messy_sheet_comes_in_with_its_wrong_rows_left_out(owner):
    answers = messy_answers() | {"left_out": [58, 59, 60, 61], "alike": "each"}
    assert bring(messy(), owner, **answers).cones == 48
    assert_books_agree()
    green = Cone.objects.get(shade__name="Grün")
    assert (green.on_hand_mg, green.place.name, green.price_cents) == (378_000, "Höhe 2", 1850)
    fog = Cone.objects.get(shade__name="Fog")
    assert fog.on_hand_mg == 992_233 - 38_000  # 2 lb 3 oz less its core
    assert Cone.objects.get(shade__name="Plum").estimated
    assert Cone.objects.filter(lot=None, shade__name="Rust").count() == 2
    days = Cone.objects.filter(shade__name="Spruce").order_by("pk").values_list("received_at", flat=True)
    assert [timezone.localdate(day) for day in days] == [
        date(2021, 11, 25),
        date(2021, 11, 25),
        date(2022, 3, 12),
    ]
    assert Yarn.objects.get(name="Sewing warp").count_written == "74 tex x 2"
    assert Yarn.objects.get(name="Fine merino").count_written == "Nm 2/48"
    again = plan_of(messy(), **answers)
    assert (again.count(NEW), again.count(DOUBLE)) == (0, 48)


# --- Doubles ----------------------------------------------------------------------------------------------------
LIST = [
    FULL,
    ",Mat cotton,,,Rust,,300,,Box,,,,",
    ",Mat cotton,,,Rust,,300,,Box,,,,",
    ",Mat cotton,,,Ochre,,310,,Box,,,,",
]


def test_the_same_file_again_brings_nothing(owner):
    bring(sheet_of(*LIST), owner, alike="each")
    before = kept()
    plan = plan_of(sheet_of(*LIST), alike="each")
    assert [line.state for line in plan.lines] == [DOUBLE] * 4 and not plan.is_ready
    with pytest.raises(Refusal):
        bring(sheet_of(*LIST), owner, alike="each")
    assert kept() == before


def test_a_cone_that_was_weighed_moved_recoded_or_retired_since_is_still_known(owner):
    bring(sheet_of(*LIST), owner, alike="each")
    first, second, third, fourth = Cone.objects.order_by("pk")
    weigh(cone_id=first.pk, scale_mg=120_000, gross=False, by=owner)
    weigh(cone_id=second.pk, scale_mg=10_000, gross=False, by=owner)
    move_cone(pk=third.pk, place="Elsewhere")
    retire_cone(pk=fourth.pk, by=owner, reason="sold")
    Cone.objects.filter(pk=first.pk).update(code="New-1")
    plan = plan_of(sheet_of(*LIST), alike="each")
    assert [line.state for line in plan.lines] == [DOUBLE] * 4
    assert "brought in before, as New-1" in plan.lines[0].reason


def test_only_what_is_new_in_a_longer_list_comes_in(owner):
    bring(sheet_of(*LIST), owner, alike="each")
    longer = sheet_of(*LIST, ",Mat cotton,,,Rust,,300,,Box,,,,", ",Mat cotton,,,Weld,,200,,Box,,,,")
    assert states(plan_of(longer, alike="each"))[4:] == [(6, NEW), (7, NEW)]
    assert bring(longer, owner, alike="each").cones == 2
    assert_books_agree()


def test_a_cone_typed_by_hand_is_met_by_one_row_only(owner):
    shade = make_shade("Rust", make_yarn("Mat cotton"))
    make_cone(shade, grams=300, place="Box", code="K-009")
    plan = plan_of(sheet_of(*LIST[1:3]), alike="each")
    assert [line.state for line in plan.lines] == [DOUBLE, NEW]
    assert "K-009 is the same yarn, shade, lot, weight and place" in plan.lines[0].reason


@pytest.mark.parametrize(
    "row",
    [
        ",Mat cotton,,,Rust,,301,,Box,,,,",
        ",Mat cotton,,,Rust,7,300,,Box,,,,",
        ",Mat cotton,,,Rust,,300,,,,,,",
        "X-1,Mat cotton,,,Rust,,300,,Box,,,,",
    ],
)
def test_a_cone_that_differs_in_one_thing_or_has_a_code_of_its_own_is_another(row):
    make_cone(make_shade("Rust", make_yarn("Mat cotton")), grams=300, place="Box", code="K-009")
    assert states(plan_of(sheet_of(row))) == [(2, NEW)]


def test_a_code_of_the_books_is_a_double_whatever_it_weighs_and_an_error_for_another_shade():
    shade = make_shade("Spruce", make_yarn("Mat cotton"))
    make_shade("Rust", shade.yarn)
    make_cone(shade, code="E-1")
    plan = plan_of(sheet_of("e-1,Mat cotton,,,Spruce,,7,,,,,,", "E-1,Mat cotton,,,Rust,,7,,,,,,"))
    assert states(plan) == [(2, DOUBLE), (3, ERROR)]
    assert problems(plan) == [(3, "Code (column A)"), (3, "Code (column A)")]


def test_a_code_that_stands_twice_in_the_file_names_the_first_row():
    plan = plan_of(sheet_of("E-1,a,8/2,cotton,b,,1,,,,,,", "e-1,a,,,b,,2,,,,,,"))
    assert states(plan) == [(2, NEW), (3, ERROR)]
    assert "Row 2 has this code too" in plan.lines[1].problems[0].message


def test_rows_that_are_alike_are_asked_about_and_each_answer_is_kept_to(owner):
    sheet = sheet_of(*LIST)
    plan = plan_of(sheet)
    assert (plan.asks_alike, plan.alike_rows, plan.is_ready) == (True, (4,), False)
    with pytest.raises(Refusal):
        bring(sheet, owner)
    assert states(plan_of(sheet, alike="once"))[1:3] == [(3, NEW), (4, LEFT)]
    assert plan_of(sheet, alike="once").lines[2].reason == "the same as row 3, written twice"
    assert bring(sheet, owner, alike="once").cones == 3


# --- What is refused ----------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("row", "column", "words"),
    [
        (",New yarn,,,b,,1,,,,,,", "Count (column C)", "neither a count with its system"),
        (f",{'y' * 81},8/2,cotton,b,,1,,,,,,", "Yarn (column B)", "at most 80"),
        (f",a,8/2,cotton,{'s' * 61},,1,,,,,,", "Shade (column E)", "at most 60"),
        (f",a,8/2,cotton,b,{'l' * 41},1,,,,,,", "Lot (column F)", "at most 40"),
        (f",a,8/2,cotton,b,,1,,{'p' * 41},,,,", "Place (column I)", "at most 40"),
        (f",a,8/2,cotton,b,,1,,,,{'m' * 81},,", "Supplier (column K)", "at most 80"),
        (f",a,8/2,cotton,b,,1,,,,,,{'n' * 501}", "Note (column M)", "500"),
        ("thirteen-long,a,8/2,cotton,b,,1,,,,,,", "Code (column A)", "12"),
        (",a,8/2,cotton,b,,101 kg,,,,,,", "Net (g) (column G)", "More than 100 kg"),
        (",a,8/2,cotton,b,,1,6 kg,,,,,", "Core (g) (column H)", "more than 5 kg"),
    ],
)
def test_what_the_services_would_refuse_is_told_at_its_column(row, column, words):
    plan = plan_of(sheet_of(row))
    (problem,) = plan.lines[0].problems
    assert (problem.row, problem.column) == (2, column)
    assert words in problem.message


def test_a_row_that_contradicts_an_earlier_one_of_its_new_yarn_names_it():
    plan = plan_of(sheet_of(",a,8/2,cotton,b,,1,,,,,,", ",a,10/2,cotton,b,,2,,,,,,"))
    assert states(plan) == [(2, NEW), (3, ERROR)]
    assert "Row 2 says otherwise" in plan.lines[1].problems[0].message


def test_a_yarn_of_the_books_keeps_its_count():
    make_yarn("a", "8/2")
    plan = plan_of(sheet_of(",a,10/2,cotton,b,,1,,,,,,", ",a,8/2,cotton,b,,1,,,,,,"))
    assert states(plan) == [(2, ERROR), (3, NEW)]
    assert "In the books a is 8/2 cotton" in plan.lines[0].problems[0].message


def test_nothing_comes_to_a_retired_yarn_or_shade():
    retire_yarn(pk=make_yarn("gone").pk)
    yarn = make_yarn("a", "10/2")
    retire_shade(pk=make_shade("b", yarn).pk)
    plan = plan_of(sheet_of(",gone,,,b,,1,,,,,,", ",a,,,b,,1,,,,,,"))
    assert problems(plan) == [(2, "Yarn (column B)"), (3, "Shade (column E)")]


def test_the_dry_run_writes_nothing():
    before = kept()
    plan_of(sheet_of(*LIST))
    assert kept() == before


# --- All or nothing -------------------------------------------------------------------------------------------------
MANY = [
    f",a{n % 7},8/2,cotton,b{n},L{n % 50},{n + 1},,P{n % 9},,Mill {n % 3},2024-04-03," for n in range(500)
]


def test_five_hundred_rows_come_in_whole(owner):
    outcome = bring(sheet_of(*MANY), owner)
    assert (outcome.cones, outcome.yarns, outcome.shades) == (500, 7, 500)
    assert (outcome.first_code, outcome.last_code) == ("K-001", "K-500")
    assert_books_agree()


def test_twice_the_rows_cost_no_more_queries_for_the_dry_run(django_assert_num_queries):
    from django.db import connection

    counted = []
    for rows in (MANY[:20], MANY[:40]):
        with CaptureQueriesContext(
            connection,
        ) as queries:
            plan_of(sheet_of(*rows))
        counted.append(len(queries))
    assert counted[0] == counted[1]


@pytest.mark.parametrize("at", [1, 2])
def test_an_error_midway_leaves_nothing(owner, monkeypatch, at):
    """The second round of entries fails, as a database does that runs out of room."""
    before = kept()
    real, rounds = Entry.objects.bulk_create, []

    def failing(entries, **facts):
        rounds.append(len(entries))
        if len(rounds) == at:
            raise RuntimeError("no room")
        return real(entries, **facts)

    monkeypatch.setattr(Entry.objects, "bulk_create", failing)
    with pytest.raises(RuntimeError):
        bring(sheet_of(*MANY), owner)
    assert len(rounds) == at
    assert kept() == before


def test_a_rule_of_the_database_that_refuses_leaves_nothing_and_is_said(owner, monkeypatch):
    before = kept()
    monkeypatch.setattr(
        Entry.objects, "bulk_create", lambda *_: (_ for _ in ()).throw(IntegrityError("twice"))
    )
    with pytest.raises(Refusal, match="Nothing was brought in"):
        bring(sheet_of(*MANY[:5]), owner)
    assert kept() == before


def test_what_changed_since_the_dry_run_is_refused_and_not_done_otherwise(owner):
    sheet = sheet_of(",Mat cotton,8/2,cotton,Rust,,300,,Box,,,,")
    shown = plan_of(sheet).digest
    make_cone(make_shade("Rust", make_yarn("Mat cotton")), grams=300, place="Box")
    before = kept()
    with pytest.raises(Refusal, match="changed since"):
        bring(sheet, owner, digest=shown)
    assert kept() == before


# --- At the desk ------------------------------------------------------------------------------------------------------
def run(waiting, by, studio, digest=None):
    assert waiting.begin()
    plan = waiting.plan()
    run_waiting(
        waiting,
        by=by,
        digest=plan["digest"] if digest is None else digest,
        studio=studio,
        measures=Measures(),
    )
    return waiting.progress()


def test_what_waits_comes_in_and_only_the_outcome_stays(owner, studio):
    waiting = waiting_of(sheet_of(FULL), owner)
    told = run(waiting, owner, studio)
    assert (told["state"], told["outcome"]["cones"]) == ("done", 1)
    assert sorted(path.name for path in waiting.folder.iterdir()) == ["about.json", "progress.json"]
    assert not waiting.begin()


def test_a_refusal_is_told_with_a_new_list_and_may_be_tried_again(owner, studio):
    waiting = waiting_of(sheet_of(FULL), owner)
    make_cone(make_shade("Spruce", make_yarn("Mat cotton")), code="E-1")
    told = run(waiting, owner, studio)
    assert told["state"] == "failed" and "changed since" in told["message"]
    assert waiting.plan()["counts"] == {"new": 0, "double": 1, "left": 0, "error": 0}
    assert waiting.begin()


def test_an_error_of_ours_is_told_without_its_insides(owner, studio, monkeypatch, caplog):
    waiting = waiting_of(sheet_of(FULL), owner)
    monkeypatch.setattr(Cone.objects, "bulk_create", lambda *_: 1 / 0)
    told = run(waiting, owner, studio)
    assert told["state"] == "failed" and "division" not in told["message"]
    assert "ZeroDivisionError" in caplog.text
    assert not Yarn.objects.exists()


def test_how_columns_were_read_is_remembered_by_their_headings(owner):
    sheet = sheet_of(FULL)
    table, reading = table_of(sheet), reading_of(sheet, core_mg=32_000, alike="each", left_out=[7])
    assert remembered_reading(table) is None
    remember_reading(table, reading)
    remember_reading(table, reading)
    found = remembered_reading(table_of(sheet_of("other,,,,,,,,,,,,")))
    assert (found.core_mg, found.columns, found.alike, found.left_out) == (
        32_000,
        reading.columns,
        "",
        frozenset(),
    )
    assert remembered_reading(table_of(sheet_of("a,b", headings="Yarn,Shade"))) is None
    ColumnReading.objects.update(reading={"columns": [["rune", ""]]})
    assert remembered_reading(table) is None
