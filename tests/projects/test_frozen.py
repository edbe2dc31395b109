"""Who goes on reckoning with another length per mass than a yarn has now."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from projects.frozen import reckons_otherwise
from projects.services.planning import put_away
from projects.services.reserving import release_project, reserve_project, take_new_grist
from stash.calc.grist import Grist
from stash.models import Yarn
from stash.services.measuring import measure_yarn
from stash.services.reserving import Wanted, reserve
from tests.factories import ClaimFactory, make_cone, make_project, make_shade, make_yarn
from tests.stash.reading import Read

YARD = 914_400

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def shade(owner):
    shade = make_shade("Spruce", make_yarn())
    make_cone(shade, 5_000, by=owner)
    return shade


def measured_anew(shade):
    yarn = Yarn.objects.get(pk=shade.yarn_id)
    return measure_yarn(pk=yarn.pk, version=yarn.version, weighings=[(50 * YARD, 6_000)])


def test_a_project_that_holds_nothing_any_more_is_named_too(as_owner, shade):
    holder, done = make_project("Lantern mats", shade), make_project("Tea towels", shade)
    make_project("Never reserved", shade)
    for project in (holder, done):
        reserve_project(pk=project.pk)
    release_project(pk=done.pk)
    assert reckons_otherwise(Yarn.objects.get()) == []
    assert measured_anew(shade).grist == Grist(50 * YARD, 6_000)
    assert sorted(reckons_otherwise(Yarn.objects.get())) == ["Lantern mats", "Tea towels"]
    text = Read(as_owner.get(reverse("yarn-measure", args=[shade.yarn_id]))).text
    assert "Lantern mats, Tea towels reckon with another one." in text


def test_who_took_the_new_figure_is_not_named_and_who_is_put_away_says_so(shade):
    taker, done = make_project("Lantern mats", shade), make_project("Tea towels", shade)
    for project in (taker, done):
        reserve_project(pk=project.pk)
        release_project(pk=project.pk)
    put_away(pk=done.pk)
    measured_anew(shade)
    take_new_grist(pk=taker.pk)
    assert reckons_otherwise(Yarn.objects.get()) == ["Tea towels (put away)"]


def test_a_claim_of_no_project_is_named_as_well(shade):
    cone = shade.cones.get()
    reserve(
        claim_id=ClaimFactory(name="Class kits").pk, wanted=[Wanted(cone.pk, "weft", 0, 840 * YARD, 113_399)]
    )
    measured_anew(shade)
    assert reckons_otherwise(Yarn.objects.get()) == ["Class kits"]


def test_twice_the_projects_take_the_same_number_of_queries(shade):
    counts = []
    for name in ("Lantern mats", "Tea towels"):
        reserve_project(pk=make_project(name, shade).pk)
        yarn = measured_anew(shade)
        with CaptureQueriesContext(connection) as caught:
            reckons_otherwise(yarn)
        counts.append(len(caught))
    # shades of projects, projects, reservations
    assert counts == [3, 3]
