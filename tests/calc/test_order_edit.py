"""Orders changed row by row: what a button does to the line, and what it leaves alone."""

from collections import Counter

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from stash.calc.colour_order import MOST_THREADS, Run, read_order
from stash.calc.errors import CalcError
from stash.calc.order_edit import (
    added,
    at,
    is_symmetrical,
    mirror_balance,
    moved,
    placed,
    removed,
    repeated,
    rows_of,
    symmetrical,
    symmetrical_repeat,
    unwrapped,
    with_key,
    with_number,
)
from tests.calc.plans import orders

pytestmark = pytest.mark.once

MIXED = "8 A, 4 B, 3 times (1 A, 1 B), 2 C"


def order(text=MIXED):
    return read_order(text)


def test_rows_stand_from_top_to_bottom_those_of_a_repeat_one_step_in():
    assert [(row.path, row.number, row.key, row.depth, row.length) for row in rows_of(order())] == [
        ((0,), 8, "A", 0, 8),
        ((1,), 4, "B", 0, 4),
        ((2,), 3, "", 0, 6),
        ((2, 0), 1, "A", 1, 1),
        ((2, 1), 1, "B", 1, 1),
        ((3,), 2, "C", 0, 2),
    ]


def test_a_row_says_at_which_thread_it_begins():
    assert [row.begins_at for row in rows_of(order())] == [1, 9, 13, 13, 14, 19]


def test_only_the_ends_of_the_list_have_nowhere_to_go():
    assert [(row.first, row.last) for row in rows_of(order("2 times (1 A, 1 B)"))] == [
        (True, True),
        (False, False),
        (False, False),
    ]


def test_number_and_shade_are_changed_where_they_stand():
    assert with_number(order(), (1,), 6).text == "8 A, 6 B, 3 times (1 A, 1 B), 2 C"
    assert with_number(order(), (2,), 5).text == "8 A, 4 B, 5 times (1 A, 1 B), 2 C"
    assert with_key(order(), (2, 1), "D").text == "8 A, 4 B, 3 times (1 A, 1 D), 2 C"


def test_a_row_is_added_below_another_or_at_the_end():
    assert added(order(), None, Run(1, "D"))[0].text == f"{MIXED}, 1 D"
    below, path = added(order(), (2, 0), Run(1, "D"))
    assert below.text == "8 A, 4 B, 3 times (1 A, 1 D, 1 B), 2 C"
    assert path == (2, 1)


def test_a_row_begins_an_order_that_was_empty():
    assert added(None, None, Run(8, "A"))[0].text == "8 A"


def test_a_row_is_taken_out_and_a_repeat_left_empty_goes_with_it():
    assert removed(order(), (0,)).text == "4 B, 3 times (1 A, 1 B), 2 C"
    assert removed(order(), (2,)).text == "8 A, 4 B, 2 C"
    assert removed(order("1 A, 2 times (3 times (1 B))"), (1, 0, 0)).text == "1 A"


def test_the_last_row_cannot_be_taken_out():
    for text, path in (("8 A", (0,)), ("2 times (1 A)", (0,)), ("2 times (1 A)", (0, 0))):
        with pytest.raises(CalcError, match="only row"):
            removed(order(text), path)


def test_a_row_going_up_passes_through_a_repeat_row_by_row():
    line, path, seen = order("4 B, 3 times (1 A, 1 B), 2 C"), (2,), []
    for _ in range(5):
        line, path = moved(line, path, "up")
        seen.append(line.text)
    assert seen == [
        "4 B, 3 times (1 A, 1 B, 2 C)",
        "4 B, 3 times (1 A, 2 C, 1 B)",
        "4 B, 3 times (2 C, 1 A, 1 B)",
        "4 B, 2 C, 3 times (1 A, 1 B)",
        "2 C, 4 B, 3 times (1 A, 1 B)",
    ]


def test_a_row_going_down_takes_the_same_way_back():
    line, path, seen = order("2 C, 3 times (1 A, 1 B), 4 B"), (0,), []
    for _ in range(6):
        line, path = moved(line, path, "down")
        seen.append(line.text)
    assert seen == [
        "3 times (2 C, 1 A, 1 B), 4 B",
        "3 times (1 A, 2 C, 1 B), 4 B",
        "3 times (1 A, 1 B, 2 C), 4 B",
        "3 times (1 A, 1 B), 2 C, 4 B",
        "3 times (1 A, 1 B), 4 B, 2 C",
        "3 times (1 A, 1 B), 4 B, 2 C",
    ]


def test_a_row_is_put_before_any_other():
    assert placed(order(), (3,), (0,))[0].text == "2 C, 8 A, 4 B, 3 times (1 A, 1 B)"
    assert placed(order(), (0,), (4,))[0].text == "4 B, 3 times (1 A, 1 B), 2 C, 8 A"
    assert placed(order(), (0,), (2, 1)) == (order("4 B, 3 times (1 A, 8 A, 1 B), 2 C"), (1, 1))
    assert placed(order(), (2, 0), (0,)) == (order("1 A, 8 A, 4 B, 3 times (1 B), 2 C"), (0,))


def test_the_only_row_of_a_repeat_leaves_no_empty_repeat_behind():
    assert placed(order("4 B, 3 times (1 A)"), (1, 0), (0,))[0].text == "1 A, 4 B"


def test_a_repeat_cannot_be_put_into_itself():
    with pytest.raises(CalcError, match="into itself"):
        placed(order(), (2,), (2, 1))


@pytest.mark.parametrize("path", [(), (4,), (0, 0), (2, 2), (2, 0, 0), (-1,)])
def test_a_row_that_is_no_longer_there_is_refused(path):
    for change in (
        lambda: removed(order(), path),
        lambda: moved(order(), path, "up"),
        lambda: with_number(order(), path, 3),
        lambda: placed(order(), path, (0,)),
        lambda: unwrapped(order(), path),
    ):
        with pytest.raises(CalcError):
            change()


def test_ticked_rows_become_one_repeat():
    found, path = repeated(order(), [(1,), (0,)])
    assert (found.text, path) == ("2 times (8 A, 4 B), 3 times (1 A, 1 B), 2 C", (0,))
    assert repeated(order(), [(2, 1)], times=4)[0].text == "8 A, 4 B, 3 times (1 A, 4 times (1 B)), 2 C"


def test_rows_of_a_ticked_repeat_come_with_it():
    assert repeated(order(), [(1,), (2,), (2, 0), (2, 1)])[0].text == (
        "8 A, 2 times (4 B, 3 times (1 A, 1 B)), 2 C"
    )


@pytest.mark.parametrize("paths", [[(0,), (2,)], [(1,), (2, 0)], []])
def test_rows_that_do_not_stand_side_by_side_are_no_repeat(paths):
    with pytest.raises(CalcError):
        repeated(order(), paths)


def test_a_repeat_undone_leaves_its_rows_once():
    assert unwrapped(order(), (2,)).text == "8 A, 4 B, 1 A, 1 B, 2 C"
    with pytest.raises(CalcError, match="no repeat"):
        unwrapped(order(), (0,))


@pytest.mark.parametrize("number", [0, -1, MOST_THREADS + 1])
def test_a_number_that_cannot_be_laid_is_refused(number):
    with pytest.raises(CalcError):
        with_number(order(), (0,), number)


def test_what_would_come_to_too_many_threads_is_refused():
    with pytest.raises(CalcError):
        with_number(order("2 times (10000 A)"), (0,), 3)


def test_repeats_nest_no_deeper_than_the_line_can_be_read():
    deep = order("1 times (" * 8 + "1 A" + ")" * 8)
    with pytest.raises(CalcError, match="8 deep"):
        repeated(deep, [(0,)])
    beside = order("2 times (1 B), " + "1 times (" * 8 + "1 A" + ")" * 8)
    assert moved(beside, (1,), "up")[0].text.endswith(", 2 times (1 B)")


def test_a_mirrored_order_has_its_middle_once_or_twice():
    assert symmetrical(order("8 A, 4 B"), middle_twice=False).sequence() == tuple("AAAAAAAABBBBBBBAAAAAAAA")
    assert symmetrical(order("1 A, 1 B, 1 C"), middle_twice=False).text == "1 A, 1 B, 1 C, 1 B, 1 A"
    assert symmetrical(order("1 A, 1 B, 1 C"), middle_twice=True).text == "1 A, 1 B, 1 C, 1 C, 1 B, 1 A"


def test_repeats_are_mirrored_inside_as_well():
    assert symmetrical(order("1 C, 2 times (1 A, 2 B)"), middle_twice=True).text == (
        "1 C, 2 times (1 A, 2 B), 2 times (2 B, 1 A), 1 C"
    )


@pytest.mark.parametrize(
    ("text", "balance"),
    [
        ("1 A", 0),
        ("1 A, 1 B", 1),
        ("8 A, 4 B", 8),
        ("4 A, 8 B, 4 A", 0),
        ("1 A, 1 B, 1 C, 1 B", 1),
        ("1 A, 1 B, 2 C", None),
        ("3 A, 2 B, 1 A", 2),
    ],
)
def test_the_balance_that_makes_both_edges_alike_is_found(text, balance):
    """Common practice, no source: the first ends come once more at the right."""
    assert mirror_balance(order(text)) == balance


def test_a_repeat_is_turned_back_only_if_no_balance_evens_it():
    assert symmetrical_repeat(order("1 A, 1 B"), middle_twice=False) == (order("1 A, 1 B"), 1)
    assert symmetrical_repeat(order("1 A, 1 B, 1 C"), middle_twice=False) == (
        order("1 A, 1 B, 1 C, 1 B"),
        1,
    )
    assert symmetrical_repeat(order("1 A, 1 B, 1 C"), middle_twice=True) == (
        order("1 A, 1 B, 1 C, 1 C, 1 B, 1 A"),
        0,
    )


def some_path(line, data):
    return data.draw(st.sampled_from([row.path for row in rows_of(line)]))


def runs_without(line, path):
    """How many rows of each number and shade there are beside those at and under `path`."""
    return Counter(
        (row.number, row.key) for row in rows_of(line) if row.key and row.path[: len(path)] != path
    )


@given(orders, st.data())
@settings(max_examples=60)
def test_changing_one_row_leaves_all_others_as_they_were(line, data):
    path = some_path(line, data)
    assume(line.length * 2 < MOST_THREADS)
    item = at(line, path)
    changed = with_number(line, path, 2)
    assert next(row for row in rows_of(changed) if row.path == path).number == 2
    assert runs_without(changed, path) == runs_without(line, path)
    if isinstance(item, Run):
        assert runs_without(with_key(line, path, "Z"), path) == runs_without(line, path)


@given(orders, st.data())
@settings(max_examples=60)
def test_what_any_button_makes_reads_back_the_same(line, data):
    path = some_path(line, data)
    assume(line.length * 2 < MOST_THREADS)
    made = [
        added(line, path, Run(1, "Z"))[0],
        moved(line, path, "up")[0],
        moved(line, path, "down")[0],
        symmetrical(line, middle_twice=data.draw(st.booleans())),
    ]
    for change in (lambda: removed(line, path), lambda: repeated(line, [path])[0]):
        try:
            made.append(change())
        except CalcError:
            continue
    for one in made:
        assert read_order(one.text) == one


@given(orders, st.data())
@settings(max_examples=60)
def test_moving_a_row_keeps_every_run_and_answers_where_it_went(line, data):
    path = some_path(line, data)
    before = [row.path for row in rows_of(line)]
    target = data.draw(st.sampled_from([*before, (len(line.items),)]))
    try:
        after, place = placed(line, path, target)
    except CalcError:
        return
    assert at(after, place) == at(line, path)
    count = Counter((row.number, row.key) for row in rows_of(line) if row.key)
    assert Counter((row.number, row.key) for row in rows_of(after) if row.key) == count


@given(orders, st.data())
@settings(max_examples=60)
def test_a_repeat_made_and_undone_is_the_same_line(line, data):
    path = some_path(line, data)
    try:
        wrapped, place = repeated(line, [path], times=1)
    except CalcError:
        return
    assert wrapped.sequence() == line.sequence()
    assert unwrapped(wrapped, place) == line


@given(orders, st.booleans())
@settings(max_examples=60)
def test_mirrored_twice_is_mirrored_once(line, middle_twice):
    assume(line.length * 2 < MOST_THREADS)
    once = symmetrical(line, middle_twice=middle_twice)
    assert is_symmetrical(once)
    assert symmetrical(once, middle_twice=middle_twice) == once


@given(orders, st.booleans(), st.integers(1, 4))
@settings(max_examples=60)
def test_a_symmetrical_repeat_fills_any_width_symmetrically(line, middle_twice, times):
    assume(line.length * 10 < MOST_THREADS)
    repeat, balance = symmetrical_repeat(line, middle_twice=middle_twice)
    assert is_symmetrical(repeat.filled(times, balance))


@given(orders)
@settings(max_examples=60)
def test_the_mirrors_balance_is_the_least_there_is(line):
    assume(line.length < 300)
    found = [ends for ends in range(line.length) if is_symmetrical(line.filled(2, ends))]
    assert mirror_balance(line) == (found[0] if found else None)
