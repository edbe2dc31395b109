"""Rows to what they say of cones, and what stands in the way, each at its row and column."""

from datetime import date

import pytest

from stash.calc.counts import read_count
from stash.spreadsheets.columns import Column, Reading, Role, guess, table_of
from stash.spreadsheets.rows import Words, questions, understand
from stash.spreadsheets.sheet import Row, Sheet

WORDS = Words(
    currency="EUR",
    mass_unit="g",
    grist_unit="yd/lb",
    today=date(2026, 11, 25),
    forms={"cone": "cone", "skein": "skein"},
    conditions={"sound": "sound", "weak": "weak"},
    cores={"paper cone": ("Paper cone", 31_000)},
)


def table(headings, *rows):
    return table_of(Sheet(tuple(Row(number, tuple(row)) for number, row in enumerate([headings, *rows], 1))))


def understood(headings, *rows, lost=frozenset(), **answers):
    found = table(headings, *rows)
    reading = guess(found)
    for name, value in answers.items():
        object.__setattr__(reading, name, value)
    assert questions(found, reading) == []
    return understand(found, reading, WORDS, lost)


def only(headings, row, **answers):
    result = understood(headings, row, **answers)
    assert result.problems == []
    return result.rows[0]


def problems(headings, *rows, **answers):
    result = understood(headings, *rows, **answers)
    return [(problem.row, problem.column, problem.typed) for problem in result.problems]


def test_a_full_row_says_all_it_can():
    cone = only(
        [
            "Code", "Yarn", "Count", "System", "Fibre", "yd/lb", "Shade", "Hex", "Lot", "Net (g)",
            "Core (g)", "Label weight", "Form", "Place", "Condition", "Price", "Supplier", "Bought", "Note", "Remarks",
        ],
        [
            "E-1", "Mat  cotton", "8/2", "cotton", "60 % cotton, 40 % linen", 3360, "Spruce", "2F5D50", "A17", 450.5,
            "31", "500", "Cones", "Shelf 2", "weak", "18,50", "Mill", "3.4.2024", "one", "two",
        ],
    )  # fmt: skip
    assert (cone.row, cone.code, cone.yarn, cone.shade, cone.lot) == (2, "E-1", "Mat cotton", "Spruce", "A17")
    assert cone.count == read_count("8/2", "cotton")
    assert cone.fibres == (("cotton", 60), ("linen", 40))
    assert round(cone.stated.yd_per_lb) == 3360
    assert (cone.scale_mg, cone.gross, cone.core_mg, cone.labelled_mg) == (450_500, False, 31_000, 500_000)
    assert (cone.form, cone.place, cone.condition, cone.colour) == ("cone", "Shelf 2", "weak", "#2f5d50")
    assert (cone.price_cents, cone.supplier, cone.received_on) == (1850, "Mill", date(2024, 4, 3))
    assert cone.note == "one; two"


def test_gross_less_core_is_net_and_a_core_may_be_named_by_its_kind():
    cone = only(["Yarn", "Shade", "Gross (g)", "Core"], ["a", "b", 482, "paper CONE"])
    assert (cone.scale_mg, cone.gross, cone.core_mg, cone.core_kind) == (482_000, True, 31_000, "Paper cone")
    assert cone.net_mg == 451_000


def test_a_core_for_rows_that_name_none_is_said_once():
    headings = ["Yarn", "Shade", "Gross (g)"]
    assert problems(headings, ["a", "b", 482]) == [(2, "Gross (g) (column C)", "482")]
    assert only(headings, ["a", "b", 482], core_mg=32_000).net_mg == 450_000


def test_net_and_gross_must_agree_with_the_core_to_the_gram():
    headings = ["Yarn", "Shade", "Net (g)", "Gross (g)", "Core (g)"]
    cone = only(headings, ["a", "b", 450, 482, 32])
    assert (cone.scale_mg, cone.gross, cone.core_mg) == (450_000, False, 32_000)
    assert only(headings, ["a", "b", 450, 483, 32]).net_mg == 450_000
    assert problems(headings, ["a", "b", 450, 490, 32]) == [(2, "Gross (g) (column D)", "490")]
    assert problems(headings, ["a", "b", 450, 440, ""]) == [(2, "Gross (g) (column D)", "440")]


def test_an_empty_cone_is_left_out_and_not_an_error():
    result = understood(["Yarn", "Shade", "Gross", "Core"], ["a", "b", 32, 32], ["a", "b", 33, 32])
    assert [(left.row, left.reason) for left in result.left_out] == [(2, "nothing is left on it")]
    assert [row.row for row in result.rows] == [3]
    assert understood(["Yarn", "Shade", "Net"], ["a", "b", 0]).left_out[0].row == 2


def test_rows_are_left_out_by_their_numbers_and_rows_of_other_columns_too():
    result = understood(
        ["Yarn", "Shade", "Net", "Woven"],
        ["a", "b", 1],
        ["?", "", ""],
        ["", "", "", "in May"],
        left_out=frozenset({3}),
    )
    assert [(left.row, left.reason) for left in result.left_out] == [
        (3, "left out as you said"),
        (4, "nothing in the columns that are used"),
    ]


def test_all_problems_of_a_row_are_told_at_once_each_at_its_column():
    found = problems(
        ["Yarn", "Shade", "Net (g)", "Price", "Bought", "Form", "Qty", "Fibre"],
        ["", "", "12x", "$5", "31.2.2022", "bag", "0", "60 % wool"],
    )
    assert found == [
        (2, "Yarn (column A)", ""),
        (2, "Shade (column B)", ""),
        (2, "Qty (column G)", "0"),
        (2, "Net (g) (column C)", "12x"),
        (2, "Price (column D)", "$5"),
        (2, "Fibre (column H)", "60 % wool"),
        (2, "Form (column F)", "bag"),
        (2, "Bought (column E)", "31.2.2022"),
    ]


def test_a_formula_without_a_value_is_a_problem_only_where_it_is_used():
    headings = ["Yarn", "Shade", "Net", "Woven"]
    row = ["a", "b", "=", "="]
    result = understood(headings, row, lost=frozenset({(2, 2), (2, 3)}))
    (problem,) = result.problems
    assert "does not hold what it comes to" in problem.message
    assert (problem.row, problem.column, problem.typed) == (2, "Net (column C)", "=")
    assert understood(headings, ["a", "b", 1, "="], lost=frozenset({(2, 3)})).problems == []


def test_an_unknown_lot_is_none_and_not_one_lot_of_that_name():
    for text in ("?", "-", "n/a", "unknown"):
        assert only(["Yarn", "Shade", "Net", "Lot"], ["a", "b", 1, text]).lot == ""


def test_an_estimate_is_marked_in_the_cell_or_in_its_column():
    headings = ["Yarn", "Shade", "Net", "Estimate"]
    assert only(headings, ["a", "b", "~200", ""]).is_estimate
    assert only(headings, ["a", "b", "200", "yes"]).is_estimate
    assert not only(headings, ["a", "b", "200", "no"]).is_estimate
    assert problems(headings, ["a", "b", "200", "perhaps"]) == [(2, "Estimate (column D)", "perhaps")]


def test_without_a_name_a_yarn_is_called_by_count_and_fibre():
    headings = ["Size", "Fibre", "Colour", "Net"]
    assert only(headings, ["8/2", "cotton", "b", 1], system="cotton").yarn == "8/2 cotton"
    assert only(headings, ["8/2 Cotton", "cotton", "b", 1], system="cotton").yarn == "8/2 Cotton"
    assert problems(headings, ["8/2", "", "b", 1], system="cotton") == [(2, "", "")]


def test_a_yarn_that_is_called_by_its_count_needs_no_column_for_it():
    assert only(["Yarn", "Shade", "Net"], ["Nm 2/28", "b", 1]).count == read_count("Nm 2/28")
    assert only(["Yarn", "Shade", "Net"], ["8/2 cotton", "b", 1], system="cotton").count.ply == 2
    assert only(["Yarn", "Shade", "Net"], ["Mat cotton", "b", 1], system="cotton").count is None


def test_the_system_of_a_row_goes_before_that_of_all():
    headings = ["Yarn", "Count", "System", "Shade", "Net"]
    assert only(headings, ["a", "16/2", "lea", "b", 1], system="cotton").count.system == "lea"
    assert only(headings, ["a", "16/2", "", "b", 1], system="cotton").count.system == "cotton"
    assert problems(headings, ["a", "16/2", "gauge", "b", 1], system="cotton") == [
        (2, "System (column C)", "gauge")
    ]


def test_commas_and_days_are_settled_by_the_other_rows():
    result = understood(
        ["Yarn", "Shade", "Net (kg)", "Bought"],
        ["a", "b", "1,250", "3/4/2024"],
        ["a", "b", "0,5", "25/4/2024"],
    )
    assert [row.scale_mg for row in result.rows] == [1_250_000, 500_000]
    assert [row.received_on for row in result.rows] == [date(2024, 4, 3), date(2024, 4, 25)]


def test_a_price_by_weight_is_worked_out_for_what_is_on_the_cone():
    assert only(["Yarn", "Shade", "Net", "Price per kg"], ["a", "b", "450", "40"]).price_cents == 1800


# --- What must be answered first --------------------------------------------------------------------------
def asked(reading, headings, *rows):
    return [(question.about, question.message) for question in questions(table(headings, *rows), reading)]


def columns(*roles, units=()):
    return Reading(
        tuple(Column(role, unit) for role, unit in zip(roles, units or [""] * len(roles), strict=True))
    )


def test_days_and_commas_that_can_be_read_both_ways_are_asked_once():
    headings, row = ["Yarn", "Shade", "Net", "Bought"], ["a", "b", "1,250", "3/4/2024"]
    reading = guess(table(headings, row))
    assert [about for about, _ in asked(reading, headings, row)] == ["days", "commas"]
    object.__setattr__(reading, "days", "day")
    object.__setattr__(reading, "commas", "decimal")
    assert asked(reading, headings, row) == []


def test_a_figure_that_the_file_marks_as_a_number_asks_nothing():
    headings, row = ["Yarn", "Shade", "Net"], ["a", "b", 1.25]
    assert asked(guess(table(headings, row)), headings, row) == []


@pytest.mark.parametrize(
    ("reading", "about"),
    [
        (columns(Role.YARN, Role.SHADE, Role.NOTHING), "columns"),
        (columns(Role.YARN, Role.NOTHING, Role.NET), "columns"),
        (columns(Role.NOTHING, Role.SHADE, Role.NET), "columns"),
        (columns(Role.COUNT, Role.SHADE, Role.NET), "columns"),
        (columns(Role.YARN, Role.SHADE, Role.WEIGHT), 2),
        (columns(Role.YARN, Role.SHADE, Role.NET, units=("", "", "?")), 2),
        (columns(Role.YARN, Role.SHADE, Role.NET, units=("", "", "yd/lb")), 2),
    ],
)
def test_what_is_missing_or_means_two_things_is_asked(reading, about):
    assert [about for about, _ in asked(reading, ["Yarn", "Shade", "Net"], ["a", "b", 1])] == [about]


def test_one_meaning_for_two_columns_is_asked_and_names_both():
    (question,) = asked(
        columns(Role.YARN, Role.SHADE, Role.NET, Role.NET), ["Yarn", "Shade", "Net", "Now"], ["a"]
    )
    assert question == (
        3,
        "Net (column C) is taken for the weight of the yarn alone already. Choose one of the two.",
    )
    assert (
        asked(
            columns(Role.YARN, Role.SHADE, Role.NET, Role.NOTE, Role.NOTE),
            ["Yarn", "Shade", "Net", "A", "B"],
            ["a"],
        )
        == []
    )


# --- Rows that stand for several cones ----------------------------------------------------------------------
SEVERAL = ["Yarn", "Shade", "Qty", "Net (g)"]


def test_a_row_of_several_cones_is_that_many_each_with_the_weight_it_says():
    rows = understood(SEVERAL, ["a", "b", "3", 450], several="each").rows
    assert [(row.row, row.place_in_row, row.of, row.net_mg, row.is_estimate) for row in rows] == [
        (2, 1, 3, 450_000, False),
        (2, 2, 3, 450_000, False),
        (2, 3, 3, 450_000, False),
    ]


def test_a_weight_of_all_together_is_shared_to_the_milligram_and_marked_as_an_estimate():
    rows = understood(SEVERAL, ["a", "b", 3, 1000], several="together").rows
    assert [row.net_mg for row in rows] == [333_334, 333_333, 333_333]
    assert all(row.is_estimate for row in rows)


def test_of_a_weight_with_cores_together_each_core_is_taken_off():
    rows = understood(
        ["Yarn", "Shade", "Qty", "Gross (g)", "Core (g)"], ["a", "b", 4, 1200, 30], several="together"
    ).rows
    assert [(row.scale_mg, row.core_mg, row.net_mg) for row in rows] == [(300_000, 30_000, 270_000)] * 4


def test_cores_heavier_than_their_share_are_refused():
    found = problems(
        ["Yarn", "Shade", "Qty", "Gross (g)", "Core (g)"], ["a", "b", 4, 100, 30], several="together"
    )
    assert found == [(2, "Gross (g) (column D)", "100")]


def test_a_weight_on_the_label_is_shared_as_the_weight_is():
    headings = ["Yarn", "Shade", "Qty", "Net (g)", "Label weight (g)"]
    rows = understood(headings, ["a", "b", 3, 900, 1000], several="together").rows
    assert [row.labelled_mg for row in rows] == [333_334, 333_333, 333_333]
    assert understood(headings, ["a", "b", 3, 900, 1000], several="each").rows[2].labelled_mg == 1_000_000


@pytest.mark.parametrize(
    ("unit", "cents"), [("cone", [1000, 1000, 1000]), ("row", [334, 333, 333]), ("kg", [450, 450, 450])]
)
def test_a_price_is_the_cones_the_rows_or_by_weight(unit, cents):
    found = table([*SEVERAL, "Price"], ["a", "b", 3, 450, "10.00"])
    guessed = guess(found)
    columns = (*guessed.columns[:4], Column(Role.PRICE, unit))
    rows = understood([*SEVERAL, "Price"], ["a", "b", 3, 450, "10.00"], several="each", columns=columns).rows
    assert [row.price_cents for row in rows] == cents


def test_a_row_of_several_cones_has_no_code():
    assert problems([*SEVERAL, "Code"], ["a", "b", 3, 450, "E-1"], several="each") == [
        (2, "Code (column E)", "E-1")
    ]


def test_a_row_of_one_cone_is_as_if_no_number_stood_there():
    (row,) = understood([*SEVERAL, "Code"], ["a", "b", 1, 450, "E-1"]).rows
    assert (row.code, row.of, row.is_estimate) == ("E-1", 1, False)


def test_a_file_stands_for_no_more_cones_than_it_may_have_rows(monkeypatch):
    monkeypatch.setattr("stash.spreadsheets.rows.MOST_CONES", 5)
    found = understood(SEVERAL, ["a", "b", 3, 450], ["a", "c", 3, 450], ["a", "d", 2, 450], several="each")
    assert [problem.row for problem in found.problems] == [3]
    assert len(found.rows) == 5


def of_several(headings, *rows):
    """What is asked of the guess."""
    return [about for about, _ in asked(guess(table(headings, *rows)), headings, *rows)]


def test_whose_the_weights_are_is_asked_only_where_a_row_is_of_several_cones():
    assert of_several(SEVERAL, ["a", "b", 1, 450]) == []
    assert of_several(SEVERAL, ["a", "b", 2, 450]) == ["several"]


def test_with_several_cones_it_is_asked_what_a_price_is_for():
    assert of_several([*SEVERAL, "Price"], ["a", "b", 2, 450, "10.00"]) == ["several", 4]
    assert of_several([*SEVERAL, "Price per cone"], ["a", "b", 2, 450, "10.00"]) == ["several"]
