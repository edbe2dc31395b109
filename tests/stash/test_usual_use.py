"""Which entries of the ledger are use of no project, and in which week they fall."""

from datetime import datetime, time, timedelta

import pytest
from django.utils import timezone

from stash.calc.quantity import Amount
from stash.models import Entry
from stash.models.condition import Condition
from stash.models.usual_use import used_of
from stash.services.changing import join, set_condition, split, wind_over, write_off
from stash.services.cones import bring_back_cone, change_cone, move_cone, retire_cone
from stash.services.undoing import take_back
from stash.services.weighing import record, weigh
from tests.factories import ClaimFactory, make_cone, make_shade

pytestmark = pytest.mark.django_db

TODAY = timezone.localdate()


def ago(weeks: int, hour: int = 12) -> datetime:
    return timezone.make_aware(datetime.combine(TODAY - timedelta(weeks=weeks), time(hour)))


@pytest.fixture
def cone(owner):
    return make_cone(make_shade(), grams=500, core_mg=40_000, by=owner, lot="L1", at=ago(30))


def used_mg() -> int:
    entries = Entry.objects.of_no_project().filter(undone_by=None)
    return -sum(entries.values_list("change_mg", flat=True))


def counted(cone, after_mg, reason, by):
    cone.refresh_from_db()
    return record(cone=cone, kind="counted", after_mg=after_mg, reason=reason, by=by)


def test_a_weighing_for_nobody_is_use(owner, cone):
    weigh(cone_id=cone.pk, scale_mg=440_000, gross=False, by=owner)
    assert used_mg() == 60_000


def test_what_a_project_took_is_its_own(owner, cone):
    record(cone=cone, kind="weighed", after_mg=440_000, by=owner, claim_id=ClaimFactory().pk)
    record(cone=cone, kind="wound", after_mg=400_000, by=owner, claim_id=ClaimFactory().pk)
    assert used_mg() == 0


@pytest.mark.parametrize(
    "reason, mg",
    [("", 60_000), ("Used and not noted", 60_000), ("used up", 60_000), ("moth", 0), ("core was wrong", 0)],
)
def test_a_stocktake_counts_as_use_what_nobody_explains_otherwise(owner, cone, reason, mg):
    counted(cone, 440_000, reason, owner)
    assert used_mg() == mg


@pytest.mark.parametrize("reason, mg", [("empty", 500_000), ("Sampled", 500_000), ("sold", 0), ("moth", 0)])
def test_what_is_written_off_counts_if_it_was_used(owner, cone, reason, mg):
    retire_cone(pk=cone.pk, by=owner, reason=reason)
    assert used_mg() == mg


def test_a_part_that_was_sampled_is_use_and_one_given_away_is_not(owner, cone):
    write_off(pk=cone.pk, amount=Amount("mass", 30_000), reason="sampled", by=owner)
    write_off(pk=cone.pk, amount=Amount("mass", 20_000), reason="given away", by=owner)
    assert used_mg() == 30_000


def test_what_moves_between_cones_and_places_is_no_use(owner, cone):
    other = make_cone(cone.shade, grams=100, lot="L1", by=owner)
    wind_over(source_id=cone.pk, target_id=other.pk, amount=Amount("mass", 50_000), by=owner)
    bobbin = split(source_id=cone.pk, amount=Amount("mass", 20_000), by=owner)
    join(source_id=bobbin.pk, target_id=cone.pk, by=owner)
    move_cone(pk=cone.pk, place="Loft", by=owner)
    set_condition(pk=cone.pk, condition=Condition.FADED, on=None, by=owner)
    assert used_mg() == 0


def test_a_correction_of_the_core_is_no_use(owner, cone):
    weigh(cone_id=cone.pk, scale_mg=540_000, gross=True, by=owner)
    cone.refresh_from_db()
    change_cone(
        pk=cone.pk, version=cone.version, code=cone.code, lot="L1", form="cone", core_mg=60_000, place="", note="", by=owner
    )  # fmt: skip
    assert Entry.objects.filter(kind="corrected", change_mg=-20_000).exists()
    assert used_mg() == 0


def test_what_was_taken_back_was_never_taken(owner, cone):
    entry = weigh(cone_id=cone.pk, scale_mg=440_000, gross=False, by=owner)
    take_back(entry_id=entry.pk, by=owner)
    assert used_mg() == 0


def test_a_cone_that_was_called_empty_and_is_brought_back_was_not_used(owner, cone):
    retire_cone(pk=cone.pk, by=owner, reason="empty")
    bring_back_cone(pk=cone.pk, by=owner)
    assert used_mg() == 0


def test_weeks_end_with_today_and_begin_when_the_first_cone_came(owner, cone):
    for weeks, hour, left in ((9, 0, 400_000), (8, 12, 380_000), (0, 23, 300_000)):
        weigh(cone_id=cone.pk, scale_mg=left, gross=False, by=owner, at=ago(weeks, hour))
    found = used_of([cone.shade_id], today=TODAY)[cone.shade_id]
    assert (found.taken.weeks, found.taken.times, found.taken.ago) == (31, 3, 0)
    assert found.usual.weeks == 31
    earlier = used_of([cone.shade_id], today=TODAY - timedelta(weeks=9))[cone.shade_id]
    # What is dated ahead of its day falls in its last week.
    assert (earlier.taken.times, earlier.taken.ago) == (1, 0)


def test_what_came_back_was_not_used(owner, cone):
    weigh(cone_id=cone.pk, scale_mg=300_000, gross=False, by=owner, at=ago(5))
    weigh(cone_id=cone.pk, scale_mg=500_000, gross=False, by=owner, at=ago(3), reason="wound back")
    assert used_of(None, today=TODAY)[cone.shade_id].taken.times == 0


def test_of_many_shades_the_ledger_is_read_once_for_every_last_entry(owner, cone, django_assert_num_queries):
    """The last entry; the entries by week; when first cones came."""
    with django_assert_num_queries(3):
        before = used_of(None, today=TODAY)
    with django_assert_num_queries(1):
        assert used_of(None, today=TODAY) == before
    with django_assert_num_queries(1):
        assert used_of([cone.shade_id, *range(1_000, 1_100)], today=TODAY) == before
    weigh(cone_id=cone.pk, scale_mg=440_000, gross=False, by=owner)
    with django_assert_num_queries(3):
        after = used_of(None, today=TODAY)
    assert after[cone.shade_id].taken.times == before[cone.shade_id].taken.times + 1
    with django_assert_num_queries(3):
        used_of(None, today=TODAY + timedelta(days=1))
    assert after[cone.shade_id] == used_of([cone.shade_id], today=TODAY)[cone.shade_id]


def test_a_shade_of_which_nothing_came_has_no_weeks(db):
    shade = make_shade()
    assert used_of([shade.pk], today=TODAY) == {}
