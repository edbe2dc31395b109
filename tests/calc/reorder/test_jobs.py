"""Jobs served in order from packages, and the put-ups that let all of them have enough of one lot."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stash.calc.grist import Grist
from stash.calc.packing import Need
from stash.calc.reorder.jobs import New, Package, Wanting, enough_for, serve
from stash.calc.verdict import Verdict

TODAY = date(2031, 7, 7)
LATER = date(2031, 8, 4)
GRIST = Grist(1_000_000, 1_000)
METRE = 1_000_000
GRAM = 1_000


def job(pk=1, ends=10, buffered=None, metres=1, on=LATER, held=None, **wish) -> Wanting:
    """So many ends of a metre each, a metre to the gram."""
    need = Need("A", ends, buffered or ends, 0, 0, 0, 0, **wish)
    return Wanting(pk, f"Job {pk}", on, need, metres * METRE, 1, 0, GRIST, held or {})


def cone(pk, grams, lot=None, from_day=None) -> Package:
    return Package(pk, lot, grams * GRAM, from_day)


def states(found):
    return [one.state for one in found]


def test_the_first_job_takes_what_the_second_then_lacks():
    found = serve([job(1), job(2)], [cone(1, 15, lot=1)], today=TODAY)
    assert states(found) == [Verdict.ENOUGH, Verdict.SHORT]
    assert found[1].verdict.short_ends == 5


def test_a_job_that_holds_its_need_takes_nothing_more():
    found = serve([job(1, held={1: 10 * GRAM}), job(2)], [cone(1, 10, lot=1)], today=TODAY)
    assert states(found) == [Verdict.ENOUGH, Verdict.ENOUGH] and found[0].verdict is None


def test_what_a_claim_holds_beyond_its_need_is_free_again():
    found = serve(
        [job(1, held={1: 6 * GRAM, 2: 9 * GRAM}), job(2, ends=4)], [cone(1, 0, 1), cone(2, 0, 2)], today=TODAY
    )
    assert found[0].state == Verdict.ENOUGH and found[1].verdict.short_ends <= 4


def test_usual_use_goes_on_until_the_winding_day():
    shelf = [cone(1, 12, lot=1)]
    assert serve([job()], shelf, today=TODAY)[0].state == Verdict.ENOUGH
    assert serve([job()], shelf, today=TODAY, week_mg=GRAM)[0].state == Verdict.SHORT


def test_what_comes_after_the_winding_day_does_not_help_it():
    late = [cone(1, 20, lot=1, from_day=date(2031, 8, 5))]
    assert serve([job()], late, today=TODAY)[0].state == Verdict.SHORT
    assert serve([job(on=date(2031, 8, 5))], late, today=TODAY)[0].state == Verdict.ENOUGH
    assert serve([job(on=None)], late, today=TODAY)[0].state == Verdict.ENOUGH


def test_new_put_ups_are_of_one_lot_so_that_the_warp_does_not_mix():
    """Four of ten ends stand on the shelf in another lot: one cone of 6 would do by mass, two are needed for the warp."""
    found = enough_for([job()], [cone(1, 4, lot=7)], 6 * GRAM, today=TODAY)
    assert (found.number, found.matched, found.matched_lot) == (2, 1, 7)


def test_ends_are_cut_whole_from_each_put_up():
    """Five cones of 1.9 g are 9.5 g, but give five whole ends of a metre."""
    assert enough_for([job()], [], 1_900, today=TODAY).number == 10


def test_all_jobs_that_lack_something_are_served_and_the_buffer_with_them():
    found = enough_for([job(1, buffered=12), job(2, buffered=12)], [], 6 * GRAM, today=TODAY)
    assert found.number == 4


def test_a_wish_for_a_lot_is_served_by_that_lot_alone():
    found = enough_for([job(wish="lot", wish_lot_id=7)], [cone(1, 4, lot=7)], 3 * GRAM, today=TODAY)
    assert (found.number, found.matched, found.matched_lot) == (2, 2, 7)


def test_of_two_lots_that_are_wished_for_the_first_is_bought():
    jobs = [job(1, wish="lot", wish_lot_id=7), job(2, wish="lot", wish_lot_id=8), job(3, ends=2)]
    found = enough_for(jobs, [], 6 * GRAM, today=TODAY)
    assert (found.number, found.matched_lot) == (2, 7)


def test_a_wish_for_one_very_cone_cannot_be_bought():
    assert enough_for([job(wish="cone", wish_cone_id=1)], [cone(1, 4, lot=7)], 3 * GRAM, today=TODAY) is None


def test_nothing_is_bought_where_nothing_is_lacking():
    assert enough_for([job()], [cone(1, 10)], 3 * GRAM, today=TODAY) is None


shelves = st.lists(st.tuples(st.integers(0, 20), st.sampled_from([None, 1, 2])), max_size=4)


@given(shelves, st.lists(st.integers(1, 12), min_size=1, max_size=3), st.integers(2, 9), st.integers(0, 3))
def test_the_number_serves_and_one_fewer_does_not(shelf, ends, grams, week):
    packages = [cone(pk, mass, lot) for pk, (mass, lot) in enumerate(shelf, start=1)]
    jobs = [job(pk, count) for pk, count in enumerate(ends, start=1)]
    base = serve(jobs, packages, today=TODAY, week_mg=week * GRAM)
    lacking = {one.job.id for one in base if one.state != Verdict.ENOUGH}
    found = enough_for(jobs, packages, grams * GRAM, today=TODAY, week_mg=week * GRAM)
    if not lacking:
        assert found is None
        return

    def served(number):
        new = New(number, grams * GRAM)
        after = serve(jobs, packages, today=TODAY, week_mg=week * GRAM, new=new if number else None)
        return all(one.state == Verdict.ENOUGH and not one.mixed for one in after if one.job.id in lacking)

    assert served(found.number) and not served(found.number - 1)


@pytest.mark.parametrize("number", [1, 3])
def test_new_put_ups_never_serve_fewer_jobs(number):
    jobs = [job(1, 5), job(2, 5), job(3, 5)]
    before = sum(one.state == Verdict.ENOUGH for one in serve(jobs, [cone(1, 8, 1)], today=TODAY))
    after = serve(jobs, [cone(1, 8, 1)], today=TODAY, new=New(number, 5 * GRAM))
    assert sum(one.state == Verdict.ENOUGH for one in after) >= before
