"""Fairs: kept and refused by the service, and each project counted back from its fair."""

from datetime import date, timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from projects.fairs import going_to, is_over, span
from projects.models import Fair, Project, Stage
from projects.services.fairs import FairFacts, choose_projects, remove_fair, save_fair, set_fair
from projects.services.planning import put_away
from projects.services.reserving import reserve_project
from projects.services.stages import set_stage, wind_warp
from stash.calc.writing import Measures
from stash.services.refusal import ChangedMeanwhile, Refusal
from tests.factories import make_cone, make_shade
from tests.projects.factories import make_project

pytestmark = pytest.mark.django_db

MEASURES = Measures(length="imperial", mass_in="g")
TODAY = date(2027, 3, 1)
NEXT_YEAR = timezone.localdate().year + 1


def make_fair(name="Spring fair", begins_on=None, **facts):
    facts = {"name": name, "begins_on": begins_on or timezone.localdate() + timedelta(days=60)} | facts
    return save_fair(facts=FairFacts(**facts))


def going(fair, today=TODAY, orders=None):
    return going_to([fair], orders or {}, MEASURES, today)[fair.pk]


def test_a_fair_is_kept_with_its_days_place_and_clear_days():
    fair = make_fair(
        "Spring fair",
        date(NEXT_YEAR, 6, 19),
        ends_on=date(NEXT_YEAR, 6, 20),
        place="Market hall",
        clear_days=5,
    )
    kept = Fair.objects.get()
    assert (kept.name, kept.place, kept.clear_days, kept.version) == ("Spring fair", "Market hall", 5, 1)
    assert (kept.begins_on, kept.ends_on) == (date(NEXT_YEAR, 6, 19), date(NEXT_YEAR, 6, 20))
    assert kept == fair


def test_a_last_day_that_is_the_first_is_none():
    assert make_fair(begins_on=date(NEXT_YEAR, 6, 19), ends_on=date(NEXT_YEAR, 6, 19)).ends_on is None


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        ({"begins_on": date(NEXT_YEAR, 6, 19), "ends_on": date(NEXT_YEAR, 6, 18)}, "ends_on"),
        ({"begins_on": date(NEXT_YEAR, 6, 19), "ends_on": date(NEXT_YEAR, 8, 19)}, "ends_on"),
        ({"begins_on": date(1979, 6, 19)}, "begins_on"),
        ({"begins_on": date.min}, "begins_on"),
        ({"begins_on": date.max}, "begins_on"),
        ({"begins_on": date(NEXT_YEAR + 10, 1, 1)}, "begins_on"),
        ({"clear_days": 121}, "clear_days"),
    ],
)
def test_days_that_cannot_be_meant_are_refused_at_their_field(facts, field):
    with pytest.raises(Refusal) as error:
        make_fair(**facts)
    assert error.value.field == field
    assert not Fair.objects.exists()


def test_the_same_name_on_the_same_day_is_refused_and_next_year_it_is_not():
    make_fair("Spring fair", date(NEXT_YEAR, 6, 19))
    with pytest.raises(Refusal, match="same day already") as error:
        make_fair("SPRING fair", date(NEXT_YEAR, 6, 19))
    assert error.value.field == "name"
    make_fair("Spring fair", date(NEXT_YEAR + 1, 6, 19))


def test_a_fair_without_a_name_is_refused():
    with pytest.raises(ValidationError) as error:
        make_fair("  ")
    assert list(error.value.error_dict) == ["name"]


def test_a_fair_that_is_past_may_be_noted():
    fair = make_fair(begins_on=date(2020, 6, 19))
    assert is_over(fair, timezone.localdate())


def test_a_second_save_of_an_old_form_is_refused():
    fair = make_fair()
    facts = FairFacts(name="Other", begins_on=fair.begins_on)
    save_fair(facts=facts, pk=fair.pk, version=1)
    with pytest.raises(ChangedMeanwhile):
        save_fair(facts=facts, pk=fair.pk, version=1)


def test_projects_of_a_removed_fair_stay_and_lose_the_link_alone():
    fair, project = make_fair(), make_project({"A": make_shade("Oat")})
    set_fair(project_id=project.pk, fair_id=fair.pk)
    assert remove_fair(pk=fair.pk) == "Spring fair"
    after = Project.objects.get()
    assert (after.fair, after.version, after.name) == (None, project.version, project.name)
    with pytest.raises(Refusal, match="no such fair"):
        remove_fair(pk=fair.pk)


def test_choosing_changes_what_was_offered_and_nothing_else():
    fair, other = make_fair(), make_fair("Autumn fair")
    a, b, c, d = (make_project({"A": make_shade(name)}, name) for name in "ABCD")
    set_fair(project_id=a.pk, fair_id=fair.pk)
    set_fair(project_id=b.pk, fair_id=other.pk)
    set_fair(project_id=d.pk, fair_id=fair.pk)
    # D came into the fair in another window after this list was read.
    said = choose_projects(pk=fair.pk, chosen={b.pk, c.pk}, offered={a.pk, b.pk, c.pk}, was={a.pk})
    assert said == (2, 1)
    assert set(fair.projects.values_list("name", flat=True)) == {"B", "C", "D"}
    assert not other.projects.exists()


def test_a_project_that_is_put_away_or_a_fair_that_is_gone_is_refused():
    fair, project = make_fair(), make_project({"A": make_shade("Oat")})
    with pytest.raises(Refusal) as error:
        set_fair(project_id=project.pk, fair_id=fair.pk + 9)
    assert error.value.field == "fair"
    put_away(pk=project.pk)
    with pytest.raises(Refusal, match="put away"):
        set_fair(project_id=project.pk, fair_id=fair.pk)


def test_a_project_is_counted_back_from_its_fair():
    fair = make_fair(begins_on=date(2027, 6, 19), clear_days=7)
    project = make_project({"A": make_shade("Oat")}, need_on=date(2027, 5, 3))
    Project.objects.update(fair=fair, off_on=date(2027, 6, 2))
    (one,) = going(fair)
    assert one.project == project
    assert one.flag == "short" and one.sentence.startswith("Short of Oat by")
    assert one.left == "30 days to dress the loom and weave, 10 days to finish it."
    assert one.troubles == ()


def test_days_that_lie_too_late_are_said():
    fair = make_fair(begins_on=date(2027, 6, 19), clear_days=7)
    project = make_project({"A": make_shade("Oat")}, need_on=date(2027, 6, 13))
    Project.objects.update(fair=fair, off_on=date(2027, 6, 15))
    (one,) = going(fair, orders={project.pk: date(2027, 2, 20)})
    assert one.troubles == (
        "What it lacks was to be ordered by 20 February.",
        "Its winding day lies 1 day after the day to be ready.",
        "It comes off the loom 3 days after the day to be ready.",
    )


def test_what_it_lacks_is_to_be_ordered_by_a_day_while_there_is_time():
    fair = make_fair(begins_on=date(2027, 6, 19))
    project = make_project({"A": make_shade("Oat")}, need_on=date(2027, 4, 1))
    Project.objects.update(fair=fair)
    for day, said in ((TODAY, TODAY), (TODAY - timedelta(days=1), None)):
        (one,) = going(fair, orders={project.pk: day})
        assert one.order_by == said
        assert bool(one.troubles) is (said is None)


def test_what_is_not_set_is_said():
    fair = make_fair(begins_on=date(2027, 6, 19))
    make_project({"A": make_shade("Oat")})
    Project.objects.update(fair=fair)
    (one,) = going(fair)
    assert one.left == "No winding day and no day off the loom are set."


def test_what_is_wound_has_no_winding_day_to_miss_and_what_is_finished_is_ready(owner):
    fair = make_fair(begins_on=date(2027, 6, 19))
    shade = make_shade("Oat")
    make_cone(shade, grams=500, by=owner)
    project = make_project({"A": shade}, need_on=date(2027, 2, 1))
    Project.objects.update(fair=fair)
    assert going(fair)[0].troubles == ("It was to be wound on 1 February.",)
    reserve_project(pk=project.pk)
    wind_warp(pk=project.pk, by=owner)
    (one,) = going(fair)
    assert (one.sentence, one.flag, one.troubles) == ("Under way.", "", ())
    set_stage(pk=project.pk, stage=Stage.FINISHED, by=owner)
    (one,) = going(fair, today=date(2027, 6, 18))
    assert (one.sentence, one.flag, one.troubles, one.left) == ("Ready.", "ok", (), "")


def test_twice_the_projects_ask_the_database_no_more():
    fair = make_fair()

    def asked():
        with CaptureQueriesContext(connection) as caught:
            going(fair)
        return len(caught)

    for name in "AB":
        make_project({"A": make_shade(name)}, name)
    Project.objects.update(fair=fair)
    # The projects with what was taken; their shades; the cones; what they hold.
    few = asked()
    for name in "CDEF":
        make_project({"A": make_shade(name)}, name)
    Project.objects.update(fair=fair)
    assert len(going(fair)) == 6
    assert asked() == few <= 4


@pytest.mark.parametrize(
    ("first", "last", "words"),
    [
        (date(2027, 6, 19), None, "19 June 2027"),
        (date(2027, 6, 19), date(2027, 6, 20), "19 and 20 June 2027"),
        (date(2027, 6, 19), date(2027, 6, 21), "19 to 21 June 2027"),
        (date(2027, 6, 30), date(2027, 7, 1), "30 June and 1 July 2027"),
        (date(2027, 12, 30), date(2028, 1, 2), "30 December 2027 to 2 January 2028"),
    ],
)
def test_the_days_of_a_fair_in_words(first, last, words):
    assert span(first, last) == words
