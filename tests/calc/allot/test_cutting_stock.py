"""Whole lengths of the fewest rolls, against two published sets. What is tested is the flow over ways to cut a cone,
which in the stages says how many cones must be opened at least; the set's own source stands beside its figures."""

import json
from collections import Counter
from pathlib import Path

import pytest

from stash.calc.allot.patterns import fewest_cones

pytestmark = pytest.mark.once

SETS = json.loads((Path(__file__).parents[2] / "references" / "cutting-stock.json").read_text())["instances"]


def wanted(published):
    return [(item["length"], item["count"]) for item in published["demand"]]


@pytest.mark.parametrize("published", SETS, ids=lambda one: one["id"])
class TestPublished:
    def test_the_fewest_rolls_are_found_and_proven(self, published):
        found = fewest_cones(published["stock_length"], wanted(published), seconds=20)
        assert (found.cones, found.least) == (published["optimum_stock"], published["optimum_stock"])

    def test_the_patterns_give_every_length_that_is_wanted_and_fit_on_a_roll(self, published):
        found = fewest_cones(published["stock_length"], wanted(published), seconds=20)
        given = Counter()
        for pattern in found.patterns:
            assert sum(pattern.lengths) <= published["stock_length"]
            for length in pattern.lengths:
                given[length] += pattern.times
        assert all(given[length] >= number for length, number in wanted(published))

    def test_the_relaxation_alone_knows_the_least(self, published):
        found = fewest_cones(published["stock_length"], wanted(published), seconds=20, least_only=True)
        assert found.least == published["optimum_stock"]
        assert not found.patterns


def test_the_published_plan_of_453_rolls_serves_all():
    published = next(one for one in SETS if "optimal_plan" in one)
    given = Counter()
    for pattern in published["optimal_plan"]:
        for item in pattern["pattern"]:
            given[item["length"]] += item["count"] * pattern["times"]
    assert sum(pattern["times"] for pattern in published["optimal_plan"]) == published["optimum_stock"]
    assert all(given[length] >= number for length, number in wanted(published))


def test_too_many_ways_to_cut_are_not_looked_at():
    assert fewest_cones(10**9, [(7_000_001 + at, 90) for at in range(12)], seconds=1) is None


def test_no_end_needs_no_cone():
    assert fewest_cones(100, [(45, 0)], seconds=1).cones == 0
