"""Headings to meanings: what is guessed, what is asked, and where the headings are."""

import pytest

from stash.spreadsheets.columns import ASK, Column, Reading, Role, guess, table_of
from stash.spreadsheets.sheet import Row, Sheet, SheetError


def sheet(*rows):
    return Sheet(tuple(Row(number, tuple(row)) for number, row in enumerate(rows, 1) if any(row)))


def guessed(*headings):
    found = guess(table_of(sheet(headings, ["x"] * len(headings))))
    return [column.role for column in found.columns]


@pytest.mark.parametrize(
    ("heading", "role"),
    [
        ("Code", "code"), ("Cone no.", "code"), ("YARN", "yarn"), ("Kind of yarn", "yarn"), ("Size", "count"),
        ("Yarn count", "count"), ("Count system", "system"), ("Fibre", "fibre"), ("Fiber content", "fibre"),
        ("Yards per pound", "stated"), ("yd/lb", "stated"), ("m/100g", "stated"), ("Grist, measured", "measured"),
        ("Shade", "shade"), ("Color", "shade"), ("Colour name", "shade"), ("Hex", "colour"), ("Dye lot", "lot"),
        ("Batch", "lot"), ("Put-up", "form"), ("Net weight (g)", "net"), ("weight without core", "net"),
        ("Gross [kg]", "gross"), ("Weight with cone", "gross"), ("Tare", "core"), ("Empty cone", "core"),
        ("Label weight", "labelled"), ("Estimated", "estimate"), ("Shelf", "place"), ("Where", "place"),
        ("Price paid", "price"), ("Cost per kg", "price"), ("Bought from", "supplier"), ("Mill", "supplier"),
        ("Date bought", "received"), ("Year", "received"), ("Qty", "packages"), ("Remarks", "note"),
        ("Condition", "condition"), ("Weight", "weight"), ("on hand", "weight"), ("oz", "weight"),
    ],
)  # fmt: skip
def test_a_heading_of_the_trade_is_known(heading, role):
    others = [("Yarn", Role.YARN), ("Shade", Role.SHADE), ("Dye lot", Role.LOT)]
    beside = [name for name, other in others if other != role]
    assert guessed(heading, *beside)[0] == Role(role)


@pytest.mark.parametrize("heading", ["Woven into", "Mood", "Zzz", "last weighed", "free (g)"])
def test_a_heading_that_says_nothing_of_it_is_not_used(heading):
    assert guessed(heading, "Yarn", "Shade")[0] is Role.NOTHING


def test_each_meaning_goes_to_the_column_that_fits_best_and_notes_to_all():
    assert guessed("Yarn", "Yarn type and finish", "Note", "Remarks", "Dye", "Dye lot no") == [
        Role.YARN, Role.NOTHING, Role.NOTE, Role.NOTE, Role.SHADE, Role.LOT,
    ]  # fmt: skip


def test_a_weight_beside_a_core_is_with_it_and_alone_it_is_a_question():
    assert guessed("Yarn", "Weight", "Core") == [Role.YARN, Role.GROSS, Role.CORE]
    assert guessed("Yarn", "Weight", "Place") == [Role.YARN, Role.WEIGHT, Role.PLACE]
    assert guessed("Yarn", "Weight", "Net") == [Role.YARN, Role.NOTHING, Role.NET]


@pytest.mark.parametrize(
    ("heading", "unit"),
    [
        ("Net (g)", "g"), ("Net [kg]", "kg"), ("net in oz", "oz"), ("Net wt lbs", "lb"), ("Net", ""),
        ("Net (gr)", ASK), ("Price", ""), ("Price / kg", "kg"), ("Price per 100g", "100 g"), ("Price a lb", "lb"),
        ("yards per pound", "yd/lb"), ("Grist m/kg", "m/kg"), ("m / 100 g", "m/100 g"), ("Grist", ""),
    ],
)  # fmt: skip
def test_the_unit_of_a_heading_is_taken(heading, unit):
    found = guess(table_of(sheet([heading, "Yarn", "Shade"], ["1", "a", "b"])))
    assert found.columns[0].unit == unit


def test_the_system_of_a_heading_holds_for_all_counts():
    assert guess(table_of(sheet(["Yarn", "Count (Nm)"], ["a", "2/28"]))).system == "metric"
    assert guess(table_of(sheet(["Yarn", "Count"], ["a", "2/28"]))).system == ""


def test_headings_are_found_below_a_title_and_above_rows_that_look_like_some():
    table = table_of(
        sheet(["Yarn list"], [], ["as of May"], ["Yarn", "Shade", "Place"], ["wool", "Natural", "shelf"])
    )
    assert (table.heading_row, table.above, table.headings) == (4, 2, ("Yarn", "Shade", "Place"))
    assert [row.number for row in table.rows] == [5]


def test_a_heading_that_stands_twice_is_refused_with_both_columns():
    with pytest.raises(SheetError) as refused:
        table_of(sheet(["Yarn", "Weight", "Shade", " WEIGHT"], ["a", "1", "b", "2"]))
    assert "“WEIGHT” stands twice, in column B and in column D" in refused.value.message


def test_headings_in_another_language_are_found_and_left_to_a_person():
    table = table_of(
        sheet(
            ["Liste vom 3.4.2024", "", "", ""],
            ["Garn", "Farbe", "Gewicht (g)", "Regal"],
            ["Leinen 16/2", "Moos", 450, "B2"],
        )
    )
    assert (table.heading_row, table.headings) == (2, ("Garn", "Farbe", "Gewicht (g)", "Regal"))
    assert {column.role for column in guess(table).columns} == {Role.NOTHING}


def test_rows_with_figures_in_them_are_no_headings_in_any_language():
    rows = [["Leinen 16/2", "Moos", "450 g"], ["Leinen 16/2", "Flachs", "200 g"]]
    with pytest.raises(SheetError, match="No row of headings was found"):
        table_of(sheet(*rows))


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ([["Yarn", "Shade", "Net"]], "Below the headings in row 1 there is no row"),
        ([["a", "b"], ["c", "d"]], "No row of headings was found"),
        ([[1, 2, 3], [4, 5, 6]], "No row of headings was found"),
    ],
)
def test_a_sheet_without_headings_or_without_rows_is_refused(rows, words):
    with pytest.raises(SheetError) as refused:
        table_of(sheet(*rows))
    assert words in refused.value.message


def test_a_column_without_a_heading_has_its_letter_and_is_not_used():
    table = table_of(sheet(["Yarn", "", "Shade"], ["a", "x", "b"], ["a", "y", "b"], ["a", "x", "b", "late"]))
    assert table.name(1) == "Column B" and table.name(2) == "Shade (column C)"
    assert table.samples(1) == ["x", "y"]
    assert [column.role for column in guess(table).columns] == [
        Role.YARN,
        Role.NOTHING,
        Role.SHADE,
        Role.NOTHING,
    ]


def test_the_same_headings_are_recognised_whatever_their_capitals_and_rows():
    one = table_of(sheet(["Yarn", "Shade"], ["a", "b"]))
    assert one.key == table_of(sheet(["title"], ["YARN", "shade "], ["c", "d"])).key
    assert one.key != table_of(sheet(["Shade", "Yarn"], ["a", "b"])).key


def test_a_reading_is_kept_and_found_again_without_what_was_said_of_rows():
    reading = Reading(
        (Column(Role.NET, "oz"), Column(Role.NOTHING)),
        "day",
        "decimal",
        "lea",
        32_000,
        "each",
        frozenset({4}),
    )
    assert Reading.from_data(reading.as_data()) == reading
    again = Reading.from_data(reading.for_next_time().as_data())
    assert (again.alike, again.left_out, again.core_mg) == ("", frozenset(), 32_000)
