"""Without the sample or the header. Each of 36 ends is 5 yd, and a yard for either."""

import pytest

from stash.calc.ways.leaner import leaner
from stash.calc.ways.tried import try_plan
from tests.calc.plans import YD
from tests.calc.ways.shelves import scarves, shelf

pytestmark = pytest.mark.once

PLAN = scarves(sample_um=YD, header_um=YD)
"""36 ends of 7 yd, 252 yd; weft of six yards of cloth, 216 yd."""


def test_the_header_alone_goes_first_since_it_is_no_cloth():
    (way,) = leaner(try_plan(PLAN, shelf(A=216, B=216)))
    assert way.without == ("header",)
    assert way.cures
    assert way.effects[0].after_um == 216 * YD


def test_the_sample_goes_where_weft_is_short_too():
    (way,) = leaner(try_plan(PLAN, shelf(A=252, B=215)))
    assert way.without == ("sample",)
    assert way.cures


def test_both_go_where_neither_suffices():
    (way,) = leaner(try_plan(PLAN, shelf(A=180, B=180)))
    assert way.without == ("header", "sample")
    assert way.cures


def test_where_both_do_not_suffice_it_is_said_what_both_leave():
    (way,) = leaner(try_plan(PLAN, shelf(A=179, B=180)))
    assert way.without == ("header", "sample")
    assert not way.cures
    assert way.helps
    assert way.after.verdicts["A"].short_ends == 1


def test_a_plan_without_either_has_nothing_to_leave_out():
    assert leaner(try_plan(scarves(), {})) == []
