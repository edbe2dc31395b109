"""Measuring a yarn: weighings taken together exactly, and where which figure is used."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from stash.calc.grist import Grist
from stash.models import Yarn
from stash.services.measuring import reserved_otherwise, together
from stash.services.reserving import Wanted, reserve
from stash.services.yarns import YarnFacts, save_yarn
from tests.factories import ClaimFactory, make_cone, make_shade, make_yarn
from tests.stash.reading import Read
from tests.stash.sending import send

YARD = 914_400


@pytest.fixture
def yarn(owner):
    """8/2 cotton, 3,360 yd/lb: 840 yd are 113,398.0925 mg."""
    return make_yarn()


def test_weighings_are_taken_together_exactly():
    assert together([(50 * YARD, 6_750), (100 * YARD, 13_600), (50 * YARD, 6_800)]) == Grist(
        200 * YARD, 27_150
    )


def test_what_was_measured_is_in_use_from_then_on(as_owner, yarn):
    fields = {"version": "1", "length-1": "50", "mass-1": "6.75", "length-3": "100 yd", "mass-3": "13,6"}
    answer = send(as_owner, "yarn-measure", yarn.pk, **fields)
    assert "it is in use from now on." in Read(as_owner.get(answer.url)).text
    yarn.refresh_from_db()
    assert (yarn.grist, yarn.grist_source) == (Grist(150 * YARD, 20_350), "measured")


def test_a_figure_chosen_by_hand_stays(as_owner, yarn):
    facts = YarnFacts(name=yarn.name, count=yarn.count, choice="computed")
    save_yarn(facts=facts, pk=yarn.pk)
    before = Yarn.objects.get()
    answer = send(
        as_owner,
        "yarn-measure",
        yarn.pk,
        **{"version": str(before.version), "length-1": "50", "mass-1": "6.75"},
    )
    assert "chosen by hand stays in use" in Read(as_owner.get(answer.url)).text
    after = Yarn.objects.get()
    assert (after.grist, after.grist_source) == (before.grist, "computed")
    assert Grist(after.measured_um, after.measured_mg) == Grist(50 * YARD, 6_750)


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({}, "length-1"),
        ({"length-2": "50"}, "mass-2"),
        ({"mass-1": "5"}, "length-1"),
        ({"length-1": "0", "mass-1": "5"}, "length-1"),
        ({"length-1": "50", "mass-1": "heavy"}, "mass-1"),
        ({"length-1": "50 g", "mass-1": "5"}, "length-1"),
    ],
)
def test_what_is_no_weighing_is_refused_at_its_field(as_owner, yarn, fields, field):
    refused = send(as_owner, "yarn-measure", yarn.pk, **{"version": "1"} | fields)
    assert refused.status_code == 422
    assert field in Read(refused).errors
    assert Yarn.objects.get().measured_um is None


def test_a_second_save_is_refused(as_owner, yarn):
    fields = {"version": "1", "length-1": "50", "mass-1": "6.75"}
    send(as_owner, "yarn-measure", yarn.pk, **fields)
    refused = send(as_owner, "yarn-measure", yarn.pk, **fields | {"mass-1": "7"})
    assert refused.status_code == 422
    assert "changed by someone else" in Read(refused).text


def test_who_reserved_with_another_figure_is_named(as_owner, yarn, owner):
    cone = make_cone(make_shade(yarn=yarn), 500)
    reserve(
        claim_id=ClaimFactory(name="Class kits").pk, wanted=[Wanted(cone.pk, "weft", 0, 840 * YARD, 113_399)]
    )
    assert reserved_otherwise(yarn) == []
    send(as_owner, "yarn-measure", yarn.pk, **{"version": "1", "length-1": "50", "mass-1": "6"})
    assert reserved_otherwise(Yarn.objects.get()) == ["Class kits"]
    text = Read(as_owner.get(reverse("yarn-measure", args=[yarn.pk]))).text
    assert "Class kits reckons with another one." in text


def test_twice_the_reservations_take_the_same_number_of_queries(as_owner, yarn, owner):
    cone = make_cone(make_shade(yarn=yarn), 500)
    counts = []
    for _ in range(2):
        reserve(claim_id=ClaimFactory().pk, wanted=[Wanted(cone.pk, "weft", 0, YARD, 500)])
        with CaptureQueriesContext(connection) as caught:
            as_owner.get(reverse("yarn-measure", args=[yarn.pk]))
        counts.append(len(caught))
    assert counts[0] == counts[1]
