"""One cell to one value: weights, commas, counts, lengths per weight, prices, days, words."""

from datetime import date

import pytest

from stash.calc.counts import CountSystem, read_count
from stash.calc.errors import CalcError
from stash.spreadsheets.cells import (
    commas_of,
    day_order_of,
    is_unknown,
    price_cents,
    read_choice,
    read_colour,
    read_count_cell,
    read_day,
    read_grist_cell,
    read_number,
    read_price,
    read_system,
    read_weight,
    settled,
    text_of,
)

TODAY = date(2026, 11, 25)


def refusal(read, *facts):
    with pytest.raises(CalcError) as refused:
        read(*facts)
    return refused.value.message


@pytest.mark.parametrize(
    ("cell", "text"),
    [
        ("482,5", "482,5"),
        (482, "482"),
        (482.5, "482.5"),
        (0.1 + 0.2, "0.3"),
        (1e-7, "0.0000001"),
        (2e6, "2000000"),
    ],
)
def test_a_number_of_the_file_is_written_as_a_spreadsheet_program_shows_it(cell, text):
    assert text_of(cell) == text


# --- Weights and commas -----------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("text", "unit", "mg"),
    [
        ("482", "g", 482_000),
        ("0.25", "kg", 250_000),
        ("0,25", "kg", 250_000),
        ("1 lb 3 oz", "g", 538_641),
        ("450g", "oz", 450_000),
        ("16", "oz", 453_592),
        ("½ kg", "g", 500_000),
        ("1 000 g", "g", 1_000_000),
    ],
)
def test_a_weight_is_in_its_own_unit_or_the_columns(text, unit, mg):
    assert read_weight(text, unit) == (mg, False)


@pytest.mark.parametrize(
    "text", ["~200", "ca. 200", "ca 200 g", "about 200", "approx. 200", "c. 200", "≈ 200", "est. 200"]
)
def test_what_is_written_as_an_estimate_is_one(text):
    assert read_weight(text, "g") == (200_000, True)


@pytest.mark.parametrize("text", ["heavy", "-5", "250 gr", "2 yd", "12 13", "x" * 50])
def test_what_is_no_weight_is_refused_with_what_would_be(text):
    assert refusal(read_weight, text, "g").endswith((".", "?"))


@pytest.mark.parametrize(
    ("texts", "told"),
    [
        (["1,250", "2,5"], ("decimal", False)),
        (["1,250", "0,5"], ("decimal", False)),
        (["1,250", "1.250,5"], ("decimal", False)),
        (["1,250", "1,250.5"], ("thousands", False)),
        (["1,250", "1,250,000"], ("thousands", False)),
        (["1,250", "12.5"], ("thousands", False)),
        (["1,250", "300"], ("", True)),
        (["1,250", "2,5", "12.5"], ("", True)),
        (["0,250", "300"], ("decimal", False)),
        (["300", "12.5"], ("thousands", False)),
        (["300"], ("", False)),
    ],
)
def test_what_a_comma_means_is_told_by_the_other_figures_or_asked(texts, told):
    assert commas_of(texts) == told


@pytest.mark.parametrize(
    ("text", "commas", "plain"),
    [
        ("1,250 kg", "decimal", "1.250 kg"),
        ("1.250,5", "decimal", "1250.5"),
        ("12.345.678,9", "decimal", "12345678.9"),
        ("1,250 g", "thousands", "1250 g"),
        ("1,250,000", "thousands", "1250000"),
        ("1,250.5", "thousands", "1250.5"),
        ("2,5", "thousands", "2,5"),
        ("1,250", "", "1,250"),
        ("2 lb, 3 oz", "decimal", "2 lb, 3 oz"),
    ],
)
def test_commas_are_settled_as_they_are_meant(text, commas, plain):
    assert settled(text, commas) == plain


def test_an_open_comma_is_asked_by_the_cell_itself_and_settled_by_an_answer():
    assert "1.250" in refusal(read_weight, "1,250", "kg")
    assert read_weight("1,250", "kg", "decimal") == (1_250_000, False)
    assert read_weight("1,250", "g", "thousands") == (1_250_000, False)


# --- Counts and lengths per weight --------------------------------------------------------------------------
@pytest.mark.parametrize("system", CountSystem)
def test_a_system_is_known_by_its_name_and_its_whole_label(system):
    assert (
        read_system(system.value) is read_system(system.label) is read_system(system.label.upper()) is system
    )


@pytest.mark.parametrize(
    ("word", "system"),
    [("Ne", "cotton"), ("NM", "metric"), ("lea", "lea"), ("linen", "lea"), ("den", "denier"), ("run", "run")],
)
def test_a_system_is_known_by_its_words(word, system):
    assert read_system(word) == CountSystem(system)


def test_an_unknown_system_is_refused_with_those_that_are_known():
    assert "metric count" in refusal(read_system, "gauge")


def test_a_count_goes_by_its_own_system_before_the_columns():
    assert read_count_cell("Nm 2/28", "cotton") == read_count("Nm 2/28")
    assert read_count_cell("8/2", "cotton") == read_count("8/2", CountSystem.COTTON)
    assert read_count_cell("8/2 cotton", "cotton") == read_count("8/2", CountSystem.COTTON)
    assert "Of which system" in refusal(read_count_cell, "8/2", "")
    assert "Of which system" in refusal(read_count_cell, "8/2 cotton", "")
    assert "Which is it" in refusal(read_count_cell, "8/2 cotton", "lea")


@pytest.mark.parametrize(
    ("text", "unit", "same"),
    [
        ("3360", "yd/lb", "3360 yd/lb"),
        ("677", "m/100 g", "6770 m/kg"),
        ("3,360", "yd/lb", "3360 yd/lb"),
        ("210 yd/oz", "m/kg", "3360 yd/lb"),
        ("50 yd = 6.75 g", "m/kg", "50 yd = 6.75 g"),
    ],
)
def test_a_length_per_weight_is_in_its_own_units_or_the_columns(text, unit, same):
    assert read_grist_cell(text, unit, "thousands") == read_grist_cell(same, "m/kg")


# --- Prices --------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("text", "currency", "cents"),
    [
        ("12.50", "EUR", 1250),
        ("12,50", "EUR", 1250),
        ("€ 9,90", "EUR", 990),
        ("18 EUR", "EUR", 1800),
        ("$14", "USD", 1400),
        ("$14", "CAD", 1400),
        ("£3.25", "GBP", 325),
        ("0", "EUR", 0),
    ],
)
def test_a_price_may_have_its_sign(text, currency, cents):
    assert read_price(text, currency) == cents


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("$14", "is not EUR"),
        ("14 USD", "not in USD"),
        ("-3", "less than nothing"),
        ("dear", "a price such as"),
        ("1.005", "two decimals"),
        ("99999999", "more than 1,000,000"),
    ],
)
def test_another_currency_or_no_price_is_refused(text, words):
    assert words in refusal(read_price, text, "EUR")


def test_a_price_by_weight_becomes_that_of_the_cone_rounded_once():
    assert price_cents(1850, "", 450_000) == price_cents(1850, "cone", 1) == 1850
    assert price_cents(4000, "kg", 450_000) == 1800
    assert price_cents(400, "100 g", 450_000) == 1800
    assert price_cents(1000, "lb", 453_592) == 1000
    assert price_cents(1, "kg", 500_000) == 1


# --- Days ----------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    "text",
    [
        "2024-04-03", "2024-4-3", "2024/04/03", "2024-04-03T10:00", "3.4.2024", "03.04.24", "3. 4. 2024",
        "3 April 2024", "3rd Apr 2024", "3-Apr-24", "April 3, 2024", "Apr. 3 2024", "3 apr. 2024",
    ],
)  # fmt: skip
def test_a_day_is_read_as_people_write_it(text):
    assert read_day(text, "", TODAY) == date(2024, 4, 3)


def test_strokes_are_read_as_was_said_once_for_all():
    assert read_day("3/4/2024", "day", TODAY) == date(2024, 4, 3)
    assert read_day("3/4/2024", "month", TODAY) == date(2024, 3, 4)
    assert read_day("25/4/2024", "month", TODAY) == read_day("4/25/2024", "day", TODAY) == date(2024, 4, 25)
    assert read_day("4/4/2024", "", TODAY) == date(2024, 4, 4)
    assert "Say so once for all rows" in refusal(read_day, "3/4/2024", "", TODAY)


@pytest.mark.parametrize(
    ("texts", "told"),
    [
        (["3/4/2024", "25/4/2024"], ("day", False)),
        (["3/4/2024", "4/25/2024"], ("month", False)),
        (["3/4/2024"], ("", True)),
        (["3/4/2024", "25/4/2024", "4/25/2024"], ("", True)),
        (["4/4/2024", "3.4.2024", "2019"], ("", False)),
    ],
)
def test_which_stands_first_is_told_by_the_other_days_or_asked(texts, told):
    assert day_order_of(texts) == told


def test_a_year_or_a_month_is_its_first_day():
    assert read_day("2019", "", TODAY) == date(2019, 1, 1)
    assert read_day("Oct 2021", "", TODAY) == date(2021, 10, 1)
    assert read_day("1.2.99", "", TODAY) == date(1999, 2, 1)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("31.2.2022", "no such day"),
        ("2022-13-01", "no such day"),
        ("26.11.2026", "not come yet"),
        ("1.1.1066", "too long ago"),
        ("spring", "cannot be read as a day"),
        ("45385", "cannot be read as a day"),
        ("3 Foo 2024", "cannot be read as a day"),
    ],
)
def test_what_is_no_day_is_refused_with_what_would_be(text, words):
    message = refusal(read_day, text, "day", TODAY)
    assert words in message and "2024-04-03" in message


# --- Words ---------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("text", ["", "?", " - ", "n/a", "Unknown", "–"])
def test_what_people_write_where_they_do_not_know_is_no_name(text):
    assert is_unknown(text)
    assert not is_unknown("A17")


def test_words_of_a_list_are_known_also_in_the_plural():
    choices = {"cone": "cone", "in quarantine": "quarantine"}
    assert read_choice("Cones", choices, "form") == "cone"
    assert read_choice("IN  quarantine", choices, "form") == "quarantine"
    assert "Accepted: cone, in quarantine" in refusal(read_choice, "bag", choices, "form")


def test_a_colour_is_six_figures():
    assert read_colour("#2F5D50") == read_colour("2f5d50") == "#2f5d50"
    assert "#2f5d50" in refusal(read_colour, "green")


@pytest.mark.parametrize(
    ("text", "number"), [("1", 1), ("1.0", 1), ("3,0", 3), ("6 cones", 6), ("2x", 2), ("100", 100)]
)
def test_a_row_stands_for_a_number_of_cones(text, number):
    assert read_number(text) == number


@pytest.mark.parametrize("text", ["two", "1/0", "1.5", "-3", "1,250", "٣"])
def test_what_is_no_number_of_cones_is_refused(text):
    assert "Give a whole number" in refusal(read_number, text)


def test_a_row_for_no_cone_or_for_far_too_many_is_refused():
    assert "stands for no cone" in refusal(read_number, "0")
    assert "At most 100" in refusal(read_number, "101")
