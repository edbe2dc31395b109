"""The scale and the books, told as stories: after every step the balance is what the ledger adds up to."""

from datetime import UTC, datetime

import pytest
from django.core.exceptions import ValidationError
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from stash.models import Cone, EntryKind
from stash.services.refusal import Refusal
from stash.services.reserving import Wanted, reserve
from stash.services.weighing import weigh
from tests.books import assert_books_agree, told
from tests.factories import ClaimFactory, PersonFactory, make_cone

pytestmark = pytest.mark.django_db


def changes(cone: Cone) -> list[tuple[str, int, int]]:
    """The ledger from the beginning: kind, change and what was left, in grams."""
    return [
        (entry.kind, entry.change_mg // 1000, entry.after_mg // 1000) for entry in cone.entries.order_by("pk")
    ]


def test_a_cone_is_woven_from_and_wound_back_on(owner):
    """500 g come; 180 g are used; 20 g are wound back; the rest is weighed with its core of 60 g."""
    cone = make_cone(grams=500, by=owner)
    told(weigh, cone_id=cone.pk, scale_mg=320_000, gross=False, by=owner)
    told(weigh, cone_id=cone.pk, scale_mg=340_000, gross=False, by=owner, reason=" wound back ")
    told(weigh, cone_id=cone.pk, scale_mg=390_000, gross=True, core_mg=60_000, by=owner)
    told(weigh, cone_id=cone.pk, scale_mg=360_000, gross=True, by=owner)
    assert changes(cone) == [
        (EntryKind.RECEIVED, 500, 500),
        (EntryKind.WEIGHED, -180, 320),
        (EntryKind.WEIGHED, 20, 340),
        (EntryKind.WEIGHED, -10, 330),
        (EntryKind.WEIGHED, -30, 300),
    ]
    cone.refresh_from_db()
    assert (cone.on_hand_mg, cone.core_mg) == (300_000, 60_000)
    assert cone.entries.filter(reason="wound back").count() == 1


def test_what_was_used_is_gross_before_less_gross_after_whatever_the_core_weighs(owner):
    used = set()
    for core in (0, 40_000, 85_000):
        cone = make_cone(scale_mg=600_000, gross=True, core_mg=core, by=owner)
        used.add(told(weigh, cone_id=cone.pk, scale_mg=455_500, gross=True, by=owner).change_mg)
    assert used == {-144_500}


def test_more_yarn_than_the_books_know_needs_a_reason(owner):
    cone = make_cone(grams=500, by=owner)
    for reason in ("", "   "):
        with pytest.raises(Refusal) as refused:
            weigh(cone_id=cone.pk, scale_mg=500_001, gross=False, by=owner, reason=reason)
        assert refused.value.field == "reason"
    assert_books_agree()
    entry = told(weigh, cone_id=cone.pk, scale_mg=500_001, gross=False, by=owner, reason="damp")
    assert (entry.change_mg, entry.reason) == (1, "damp")


def test_the_same_weight_again_is_an_entry_of_nothing(owner):
    cone = make_cone(grams=500, by=owner)
    assert told(weigh, cone_id=cone.pk, scale_mg=500_000, gross=False, by=owner).change_mg == 0


def test_an_empty_cone_weighs_nothing_or_its_core(owner):
    cone = make_cone(scale_mg=300_000, gross=True, core_mg=50_000, by=owner)
    told(weigh, cone_id=cone.pk, scale_mg=50_000, gross=True, by=owner)
    told(weigh, cone_id=cone.pk, scale_mg=0, gross=False, by=owner)
    assert Cone.objects.get(pk=cone.pk).on_hand_mg == 0


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        ({"scale_mg": -1, "gross": False}, "scale"),
        ({"scale_mg": 2**63, "gross": False}, "scale"),
        ({"scale_mg": 100, "gross": True}, "core"),
        ({"scale_mg": 100, "gross": True, "core_mg": -1}, "core"),
        ({"scale_mg": 100, "gross": True, "core_mg": 101}, "scale"),
    ],
)
def test_a_weighing_that_cannot_be_is_refused_at_its_field(owner, facts, field):
    cone = make_cone(grams=500, by=owner)
    with pytest.raises(Refusal) as refused:
        weigh(cone_id=cone.pk, by=owner, **facts)
    assert refused.value.field == field
    cone.refresh_from_db()
    assert (cone.on_hand_mg, cone.core_mg) == (500_000, None)


def test_a_reason_too_long_is_refused_at_its_field(owner):
    cone = make_cone(grams=500, by=owner)
    with pytest.raises(ValidationError) as refused:
        weigh(cone_id=cone.pk, scale_mg=1, gross=False, by=owner, reason="r" * 201)
    assert list(refused.value.message_dict) == ["reason"]
    assert_books_agree()


def test_a_cone_that_is_gone_is_said(owner):
    with pytest.raises(Refusal, match="no such cone"):
        weigh(cone_id=404, scale_mg=1, gross=False, by=owner)


def test_a_new_core_makes_older_forms_of_the_cone_stale(owner):
    """Else a form opened before would write the old core back, and correct the books by mistake."""
    cone = make_cone(scale_mg=600_000, gross=True, core_mg=60_000, by=owner)
    weigh(cone_id=cone.pk, scale_mg=500_000, gross=True, by=owner)
    assert Cone.objects.get(pk=cone.pk).version == cone.version
    weigh(cone_id=cone.pk, scale_mg=500_000, gross=True, core_mg=70_000, by=owner)
    assert Cone.objects.get(pk=cone.pk).version == cone.version + 1


def test_a_weighing_told_afterwards_keeps_its_day(owner):
    cone = make_cone(grams=500, by=owner)
    day = datetime(2020, 2, 29, 12, tzinfo=UTC)
    entry = told(weigh, cone_id=cone.pk, scale_mg=400_000, gross=False, by=owner, at=day)
    cone.refresh_from_db()
    assert entry.at == cone.weighed_at == day


def test_a_weighing_may_undercut_what_is_promised(owner):
    """500 g, 400 g reserved; the scale says 350 g: nothing is free, 50 g are promised and not there."""
    cone, other = make_cone(grams=500, by=owner), make_cone(grams=500, by=owner)
    claim = ClaimFactory()
    told(reserve, claim_id=claim.pk, wanted=[Wanted(cone.pk, "weft", 0, 1000, 400_000)])
    told(weigh, cone_id=cone.pk, scale_mg=350_000, gross=False, by=owner)
    cone.refresh_from_db()
    assert (cone.on_hand_mg, cone.reserved_mg, cone.free_mg, cone.undercut_mg) == (
        350_000,
        400_000,
        0,
        50_000,
    )
    other.refresh_from_db()
    assert (other.free_mg, other.undercut_mg) == (500_000, 0)
    assert list(Cone.objects.undercut()) == [cone]


class AnyStory(TestCase):
    @settings(max_examples=12, deadline=None)
    @given(scales=st.lists(st.integers(0, 900_000), max_size=6), core=st.integers(0, 90_000))
    def test_after_any_weighings_the_balance_is_the_last_scale_less_the_core(self, scales, core):
        owner = PersonFactory(username="mara")
        cone = make_cone(scale_mg=950_000, gross=True, core_mg=core, by=owner)
        last = 950_000
        for scale in scales:
            if scale >= core:
                weigh(cone_id=cone.pk, scale_mg=scale, gross=True, by=owner, reason="told")
                last = scale
        assert Cone.objects.get(pk=cone.pk).on_hand_mg == last - core
        assert_books_agree()
