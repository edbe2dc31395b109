"""What lies ahead of a shade, gathered from jobs, claims, orders and the shelf."""

from datetime import date, datetime, time, timedelta

import pytest
from django.db import connection
from django.db.models import Sum
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from projects.models import Project
from projects.outlook import outlooks
from projects.services.planning import Kits
from projects.services.reserving import reserve_project
from stash.calc.outlook import Arrival, Clearing, Job
from stash.models import Cone, Order, OrderLine, Shade, Studio
from stash.models.condition import Condition
from stash.services.changing import set_condition
from stash.services.weighing import weigh
from tests.factories import make_cone, make_order, make_shade, make_supplier, make_yarn
from tests.projects.factories import make_project, plain_plan

pytestmark = pytest.mark.django_db

# 20 yd at 3,360 yd/lb are 2,699.95 mg: masses of needs are rounded up.
PIECE_MG = 2_700
# One spare end, since ten ends are few: a yard of it a piece.
SPARE_MG = 135
TODAY = date(2026, 8, 3)
SOON = TODAY + timedelta(days=20)


def of(shade: Shade):
    return outlooks([shade.pk], today=TODAY)[shade.pk]


def in_quarantine(cone: Cone, until: date | None, owner) -> None:
    set_condition(pk=cone.pk, condition=Condition.QUARANTINE, on=until, by=owner)


def test_a_plan_that_holds_nothing_wants_all_of_its_need_on_its_winding_day(db):
    shade = make_shade(keep_mg=400_000)
    make_cone(shade, grams=9)
    project = make_project({"A": shade}, plan=plain_plan(pieces=2), need_on=SOON, rank=3)
    found = of(shade)
    assert found.jobs == (Job(project.pk, "Plain mats", SOON, 3, 2 * PIECE_MG, 2 * PIECE_MG + 2 * SPARE_MG),)
    assert (found.free_mg, found.keep_mg) == (9_000, 400_000)


def test_what_is_reserved_is_neither_free_nor_wanted_again(db):
    shade = make_shade()
    make_cone(shade, grams=9)
    project = make_project({"A": shade}, plan=plain_plan(pieces=2), need_on=SOON)
    before = of(shade)
    reserve_project(pk=project.pk)
    after = of(shade)
    assert after.jobs == ()
    assert after.free_mg == before.free_mg - 2 * PIECE_MG - 2 * SPARE_MG


def test_what_is_missing_of_a_reservation_is_still_wanted(db):
    shade = make_shade()
    make_cone(shade, grams=4)
    project = make_project({"A": shade}, plan=plain_plan(pieces=2), need_on=SOON)
    reserve_project(pk=project.pk)
    [job] = of(shade).jobs
    held = sum(line.mass_mg for line in project_claim(project).reservations.all())
    assert 0 < held <= 4_000
    assert job.bare_mg == 2 * PIECE_MG - held


def project_claim(project: Project):
    return Project.objects.select_related("claim").get(pk=project.pk).claim


def test_of_a_cone_that_was_weighed_below_its_reservations_the_last_to_need_it_lack(owner):
    shade = make_shade()
    cone = make_cone(shade, grams=7)
    first = make_project({"A": shade}, name="First", need_on=SOON)
    last = make_project({"A": shade}, name="Last", need_on=SOON + timedelta(days=9))
    for project in (last, first):
        reserve_project(pk=project.pk)
    assert of(shade).jobs == ()
    weigh(cone_id=cone.pk, scale_mg=3_000, gross=False, by=owner)
    found = of(shade)
    assert [(job.name, job.bare_mg) for job in found.jobs] == [
        ("Last", PIECE_MG - (3_000 - PIECE_MG - SPARE_MG))
    ]
    assert found.free_mg == 0


def test_yarn_held_on_a_weak_cone_is_wanted_anew(owner):
    shade = make_shade()
    cone = make_cone(shade, grams=9)
    project = make_project({"A": shade}, need_on=SOON)
    reserve_project(pk=project.pk)
    set_condition(pk=cone.pk, condition=Condition.WEAK, on=None, by=owner)
    found = of(shade)
    assert [job.bare_mg for job in found.jobs] == [PIECE_MG]
    assert found.free_mg == 0


def test_what_a_weigh_in_lost_of_a_weak_cone_takes_nothing_from_what_is_held_on_a_sound_one(owner):
    shade = make_shade()
    project = make_project({"A": shade}, plan=plain_plan(pieces=2), need_on=SOON)
    sound, weak = make_cone(shade, grams=3), make_cone(shade, grams=3)
    reserve_project(pk=project.pk)
    held = dict(project_claim(project).reservations.values_list("cone").annotate(Sum("mass_mg")))
    assert set(held) == {sound.pk, weak.pk}
    set_condition(pk=weak.pk, condition=Condition.WEAK, on=None, by=owner)
    weigh(cone_id=weak.pk, scale_mg=1_000, gross=False, by=owner)
    [job] = of(shade).jobs
    assert job.bare_mg == 2 * PIECE_MG - held[sound.pk]


@pytest.mark.parametrize("days, wanted", [(20, []), (21, [PIECE_MG])])
def test_yarn_held_in_quarantine_counts_if_that_ends_by_the_winding_day(owner, days, wanted):
    shade = make_shade()
    cone = make_cone(shade, grams=9)
    project = make_project({"A": shade}, need_on=SOON)
    reserve_project(pk=project.pk)
    in_quarantine(cone, TODAY + timedelta(days=days), owner)
    found = of(shade)
    assert [job.bare_mg for job in found.jobs] == wanted
    assert found.clearings == (Clearing(cone.pk, TODAY + timedelta(days=days), 9_000 - PIECE_MG - SPARE_MG),)


def test_a_quarantine_that_is_over_counts_from_today_and_one_without_an_end_never(owner):
    shade = make_shade()
    over, unknown = make_cone(shade, grams=5), make_cone(shade, grams=7)
    in_quarantine(over, TODAY - timedelta(days=3), owner)
    in_quarantine(unknown, None, owner)
    found = of(shade)
    assert (found.free_mg, found.clearings) == (0, (Clearing(over.pk, TODAY, 5_000),))


def test_what_is_on_order_is_due_on_its_day_and_later_with_the_usual_delay(db):
    shade = make_shade()
    order = make_order(
        shade, number=3, grams=454, supplier=make_supplier("Slow Yarns", lead_days=18, late_days=4)
    )
    Order.objects.filter(pk=order.pk).update(ordered_on=TODAY, due_on=SOON)
    line = order.lines.get()
    OrderLine.objects.filter(pk=line.pk).update(came=1)
    found = of(shade)
    assert found.arrivals == (Arrival(line.pk, SOON, SOON + timedelta(days=4), 2 * 454_000),)
    assert found.on_order_mg == 908_000


@pytest.mark.parametrize("days, apart", [(10, 10), (0, 0)])
def test_animal_yarn_on_order_is_free_when_its_quarantine_is_over(db, days, apart):
    fibres = {"silk": 30, "wool": 20, "cotton": 50}
    wool, plain = make_shade("Moss", yarn=make_yarn("Tweed", fibres=fibres)), make_shade()
    lines = [make_order(shade).lines.get() for shade in (wool, plain)]
    Order.objects.update(ordered_on=TODAY, due_on=SOON, late_days=4)
    Studio.objects.update(quarantine_days=days)
    late = SOON + timedelta(days=4)
    assert of(wool).arrivals == (Arrival(lines[0].pk, SOON, late, 908_000, apart),)
    assert of(wool).arrivals[0].free_on == late + timedelta(days=apart)
    assert of(plain).arrivals == (Arrival(lines[1].pk, SOON, late, 908_000),)


def test_an_order_of_no_known_day_is_on_order_and_no_arrival(db):
    shade = make_shade()
    order = make_order(shade, number=1)
    Order.objects.filter(pk=order.pk).update(due_on=None)
    found = of(shade)
    assert (found.arrivals, found.undated_mg, found.on_order_mg) == ((), 454_000, 454_000)


def test_an_order_that_was_not_sent_is_not_on_order(db):
    shade = make_shade()
    make_order(shade, sent=False)
    assert of(shade).on_order_mg == 0


def test_the_job_needed_first_stands_first_and_the_one_without_a_day_last(db):
    shade = make_shade()
    for name, on, rank in (
        ("No day", None, 1),
        ("Later", SOON, 5),
        ("Sooner", SOON - timedelta(days=1), 9),
        ("Later, before", SOON, 2),
    ):
        make_project({"A": shade}, name=name, need_on=on, rank=rank)
    assert [job.name for job in of(shade).jobs] == ["Sooner", "Later, before", "Later", "No day"]


def test_a_class_wants_the_yarn_of_all_its_kits(db):
    shade = make_shade()
    make_project({"A": shade}, plan=plain_plan(warps=3), kits=Kits(2, 1, 0), need_on=SOON)
    [job] = of(shade).jobs
    assert job.bare_mg == 3 * PIECE_MG


def test_a_put_away_project_wants_nothing(db):
    shade = make_shade()
    project = make_project({"A": shade}, need_on=SOON)
    Project.objects.filter(pk=project.pk).update(closed_at=timezone.now())
    assert of(shade).jobs == ()


def test_asked_for_all_it_leaves_out_shades_of_which_nothing_is_to_be_said(db):
    quiet, kept, ordered, wanted = (make_shade(name) for name in ("Quiet", "Kept", "Ordered", "Wanted"))
    Shade.objects.filter(pk=kept.pk).update(keep_mg=1_000)
    make_order(ordered)
    make_project({"A": wanted}, need_on=SOON)
    make_cone(quiet)
    assert set(outlooks(None, today=TODAY)) == {kept.pk, ordered.pk, wanted.pk}
    assert set(outlooks([quiet.pk], today=TODAY)) == {quiet.pk}


def test_asked_for_all_it_says_of_each_what_it_says_of_it_alone(owner):
    fill(owner, "a")
    every = outlooks(None, today=TODAY)
    assert every
    for pk, found in every.items():
        assert outlooks([pk], today=TODAY) == {pk: found}


def fill(owner, name: str) -> None:
    """Two shades, each with a plan that lacks yarn, an undercut cone, one in quarantine and an order."""
    for at in "12":
        shade = make_shade(f"{name}{at}", yarn=make_yarn(f"Yarn {name}{at}"), keep_mg=1_000)
        cone = make_cone(shade, grams=4)
        project = make_project({"A": shade}, name=f"For {name}{at}", need_on=SOON)
        reserve_project(pk=project.pk)
        weigh(cone_id=cone.pk, scale_mg=1_000, gross=False, by=owner)
        make_project({"A": shade}, name=f"More {name}{at}", need_on=SOON)
        in_quarantine(make_cone(shade, grams=5), SOON, owner)
        make_order(shade)


def test_usual_use_comes_from_what_was_taken_for_no_project(owner):
    shade = make_shade()
    cone = make_cone(shade, grams=900, at=at(26))
    for weeks in (20, 12, 4):
        weigh(cone_id=cone.pk, scale_mg=cone_mg(cone) - 40_000, gross=False, by=owner, at=at(weeks))
    found = of(shade)
    # The weeks of the takings are the 7th, the 15th and the 23rd of 27: first 7, then 8 and 8 apart.
    assert (found.taken.weeks, found.taken.times, found.taken.ago) == (27, 3, 4)
    assert found.use.week_mg == round(40_000 * 0.95 / (7 * 0.81 + 8 * 0.19))
    assert outlooks([shade.pk], today=TODAY, with_use=False)[shade.pk].use is None


def at(weeks: int) -> datetime:
    """At noon of today, so many weeks ago."""
    return timezone.make_aware(datetime.combine(TODAY - timedelta(weeks=weeks), time(12)))


def cone_mg(cone: Cone) -> int:
    cone.refresh_from_db()
    return cone.on_hand_mg


def test_twice_the_shades_ask_the_same_queries(owner):
    """The shades; what is free; claims' holdings; what weigh-ins lost of them; jobs; orders; quarantine;
    the last entry of the ledger, if many are asked for; what was taken week by week; when their first cones came."""

    def queries(which) -> int:
        with CaptureQueriesContext(connection) as caught:
            outlooks(which, today=TODAY)
        return len(caught.captured_queries)

    fill(owner, "a")
    once = [queries(None), queries(list(Shade.objects.values_list("pk", flat=True)))]
    fill(owner, "b")
    assert [queries(None), queries(list(Shade.objects.values_list("pk", flat=True)))] == once == [10, 9]
