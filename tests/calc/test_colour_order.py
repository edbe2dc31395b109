"""The colour order: read as typed, kept as a tree, written back, counted without being laid out."""

from collections import Counter
from itertools import cycle, groupby, islice, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stash.calc.colour_order import MOST_CHARACTERS, Order, Repeat, Run, read_order
from stash.calc.errors import CalcError
from tests.calc.plans import orders

pytestmark = pytest.mark.once

MIXED = "8 A, 4 B, 3 times (1 A, 1 B), 2 C"


def refused(text, keys=None, word="ends"):
    with pytest.raises(CalcError) as caught:
        read_order(text, keys, word)
    return caught.value.position, caught.value.message


def test_a_plain_line_becomes_a_tree():
    assert read_order(MIXED).items == (
        Run(8, "A"),
        Run(4, "B"),
        Repeat(3, (Run(1, "A"), Run(1, "B"))),
        Run(2, "C"),
    )


def test_a_line_is_measured_counted_and_laid_out():
    order = read_order(MIXED)
    assert order.length == 20
    assert order.by_key == {"A": 11, "B": 7, "C": 2}
    assert "".join(order.sequence()) == "AAAAAAAABBBBABABABCC"


def test_like_neighbours_are_one_run():
    order = read_order("2 A, 3 times (1 A, 2 B, 1 A), 1 A, 1 B")
    assert list(order.runs()) == [
        (3, "A"),
        (2, "B"),
        (2, "A"),
        (2, "B"),
        (2, "A"),
        (2, "B"),
        (2, "A"),
        (1, "B"),
    ]


@pytest.mark.parametrize(
    "typed",
    [
        "8a,4b,3times(1a,1b),2c",
        " 8 A ,4 B,\n3 TIMES ( 1 A , 1 B ) , 2 C\t",
        "08 A, 4 b, 3 Times (1 A, 1 B), 2 C",
    ],
)
def test_spaces_and_lower_case_are_free(typed):
    assert read_order(typed).text == MIXED


def test_keys_have_one_letter_or_two():
    assert read_order("1 ab, 1 B").by_key == {"AB": 1, "B": 1}


@pytest.mark.parametrize(
    ("typed", "position", "part"),
    [
        ("", 1, "Write the order"),
        ("   ", 1, "Write the order"),
        ("8 A 4 B", 5, "A comma is missing before “4”"),
        ("8 A; 4 B", 4, "A comma is missing before “;”"),
        ("8 A,, 4 B", 5, "“,” cannot stand here"),
        ("8 A,", 5, "The line ends where a number is expected"),
        ("A", 1, "write 1 A"),
        ("8", 2, "The line ends after 8"),
        ("8 A, 4 -", 8, "“-” cannot stand here"),
        ("1.5 A", 2, "“.” cannot stand here"),
        ("-1 A", 1, "“-” cannot stand here"),
        ("² A", 1, "“²” cannot stand here"),
        ("1 Ä", 3, "“Ä” cannot stand here"),
        ("1 ABC", 3, "one or two letters"),
        ("0 A", 1, "0 ends cannot be laid"),
        ("1 A, 000 B", 6, "0 ends cannot be laid"),
        ("0 times (1 A)", 1, "give 1 or more"),
        ("3 (1 A)", 3, "Write “times” before the bracket"),
        ("3 times 1 A", 9, "After “times” comes a bracket"),
        ("(1 A)", 1, "say how often"),
        ("1 A)", 4, "never opened"),
        ("2 times (1 A", 9, "not closed"),
        ("2 times (3 times (1 A)", 9, "not closed"),
        ("2 times ()", 10, "“)” cannot stand here"),
    ],
)
def test_an_error_points_at_the_character(typed, position, part):
    found_position, message = refused(typed)
    assert found_position == position
    assert part in message


def test_an_unknown_shade_is_named_with_those_that_are_known():
    assert refused("8 A, 4 Q", keys={"B", "A", "AA"}) == (8, "There is no shade “Q” here; known: A, B, AA.")


def test_picks_are_called_picks():
    assert "20,000 picks" in refused("20001 A", word="picks")[1]


@pytest.mark.parametrize(
    ("typed", "position"),
    [
        ("1000000 times (1 A)", 1),
        ("10000 A, 10001 B", 10),
        ("1 B, 20000 times (20000 times (20000 A))", 19),
        ("1 B, 200 times (101 A)", 6),
        ("1 A, " + "9" * 1900 + " A", 6),
    ],
)
def test_more_than_can_be_planned_is_refused_at_once(typed, position):
    found_position, message = refused(typed)
    assert found_position == position
    assert "more than 20,000 ends" in message


def test_20_000_ends_are_accepted():
    assert read_order("100 times (100 A, 100 B)").length == 20_000


def test_brackets_nest_eight_deep_and_no_deeper():
    def nested(depth):
        return "1 times (" * depth + "1 A" + ")" * depth

    assert read_order(nested(8)).length == 1
    position, message = refused(nested(9))
    assert position == len("1 times (") * 9
    assert "8 deep" in message


def test_a_line_too_long_to_read_is_refused_before_it_is_read():
    position, message = refused("1 A, " * 1000)
    assert position == MOST_CHARACTERS + 1
    assert "5,000" in message


def test_a_line_that_grows_too_long_when_written_back_is_refused():
    """Whatever was accepted can be stored as it is written, and read again."""
    crowded = ",".join(["1A", "1B"] * 333)
    assert len(crowded) <= MOST_CHARACTERS
    assert "with its spaces" in refused(crowded)[1]


@pytest.mark.parametrize(
    "make", [lambda: Run(0, "A"), lambda: Run(1, "a"), lambda: Run(1, "ABC"), lambda: Run(1, "")]
)
def test_a_run_holds_threads_of_a_lettered_shade(make):
    with pytest.raises(CalcError):
        make()


@pytest.mark.parametrize(
    "make", [lambda: Repeat(0, (Run(1, "A"),)), lambda: Repeat(2, ()), lambda: Order(())]
)
def test_nothing_is_no_order(make):
    with pytest.raises(CalcError):
        make()


def test_an_order_longer_than_can_be_planned_cannot_be_made():
    with pytest.raises(CalcError):
        Order((Repeat(20_001, (Run(1, "A"),)),))


def test_the_first_threads_are_cut_out_of_the_tree():
    order = read_order("2 A, 3 times (2 B, 1 C), 4 A")
    assert order.first(1).text == "1 A"
    assert order.first(5).text == "2 A, 2 B, 1 C"
    assert order.first(9).text == "2 A, 2 times (2 B, 1 C), 1 B"
    assert order.first(15) == order


@pytest.mark.parametrize("number", [0, -1, 21])
def test_no_more_can_be_cut_out_than_there_is(number):
    with pytest.raises(CalcError):
        read_order(MIXED).first(number)


def test_a_filled_warp_is_repeats_and_balance():
    assert read_order("1 A, 1 B").filled(10, 1).text == "10 times (1 A, 1 B), 1 A"
    assert read_order("1 A, 1 B").filled(1).text == "1 A, 1 B"


def test_ten_repeats_of_a_two_shade_alternation_are_ten_ends_of_each():
    """Common practice, no source."""
    warp = read_order("1 A, 1 B").filled(10)
    assert warp.length == 20
    assert warp.by_key == {"A": 10, "B": 10}


def test_where_an_alternation_flips_two_like_ends_lie_side_by_side_and_each_shade_changes_shaft():
    """Common practice, no source. Plain weave on two shafts: ends alternate between them."""
    ends = read_order("4 times (1 A, 1 B), 4 times (1 B, 1 A)").sequence()
    like = [place for place, (left, right) in enumerate(pairwise(ends)) if left == right]
    assert like == [7]
    shafts_of_a_before = {place % 2 for place in range(8) if ends[place] == "A"}
    shafts_of_a_after = {place % 2 for place in range(8, 16) if ends[place] == "A"}
    assert (shafts_of_a_before, shafts_of_a_after) == ({0}, {1})


def test_one_end_for_balance_makes_an_even_total_odd_and_it_stays_odd():
    """Common practice, no source."""
    warp = read_order("1 A, 1 B").filled(10, 1)
    assert warp.length == 21
    assert warp.sequence()[0] == warp.sequence()[-1] == "A"


@given(orders)
@settings(max_examples=100)
def test_what_is_written_reads_back_the_same(order):
    assert read_order(order.text) == order
    assert read_order(order.text.lower().replace(" ", "")) == order


@given(orders)
@settings(max_examples=60)
def test_runs_are_the_sequence_with_like_neighbours_together(order):
    laid = order.sequence()
    assert len(laid) == order.length
    assert [(len(list(group)), key) for key, group in groupby(laid)] == list(order.runs())


@given(orders, st.data())
@settings(max_examples=60)
def test_first_and_counts_agree_with_the_sequence(order, data):
    laid = order.sequence()
    number = data.draw(st.integers(1, order.length))
    assert order.first(number).sequence() == laid[:number]
    over = data.draw(st.integers(0, 3 * order.length))
    assert order.counts_over(over) == Counter(islice(cycle(laid), over))


@given(st.text(alphabet="0123456789 aAbBtimesTIMES(),.;²Ä\n", max_size=60))
@settings(max_examples=200)
def test_any_text_is_read_or_refused_with_a_position(text):
    try:
        order = read_order(text)
    except CalcError as error:
        assert error.position is not None
        assert 1 <= error.position <= len(text) + 1
    else:
        assert order.length == len(order.sequence())
