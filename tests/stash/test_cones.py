"""Putting right what is written about a cone, moving it, retiring it, bringing it back."""

import pytest
from django.core.exceptions import ValidationError

from stash.models import Cone, EntryKind
from stash.services.cones import bring_back_cone, change_cone, move_cone, retire_cone
from stash.services.refusal import ChangedMeanwhile, Refusal
from stash.services.reserving import Wanted, release, reserve
from stash.services.weighing import weigh
from stash.services.yarns import retire_shade
from tests.books import assert_books_agree, told
from tests.factories import ClaimFactory, make_cone

pytestmark = pytest.mark.django_db


@pytest.fixture
def cone(owner) -> Cone:
    """540 g of yarn on a core believed to weigh 60 g."""
    return make_cone(scale_mg=600_000, gross=True, core_mg=60_000, lot="A1", place="Shelf", by=owner)


def written(cone: Cone, **changes):
    """What a form about the cone sends."""
    return {
        "pk": cone.pk,
        "version": cone.version,
        "code": cone.code,
        "lot": cone.lot.name if cone.lot else "",
        "form": cone.form,
        "core_mg": cone.core_mg,
        "place": cone.place.name if cone.place else "",
        "note": cone.note,
    } | changes


def test_a_core_weighed_again_corrects_the_books_by_an_entry_of_its_own(cone, owner):
    """The core is 75 g: of the 600 g on the scale 525 g were yarn, not 540 g."""
    told(change_cone, by=owner, **written(cone, core_mg=75_000))
    cone.refresh_from_db()
    entry = cone.entries.first()
    assert (cone.on_hand_mg, cone.core_mg) == (525_000, 75_000)
    assert (entry.kind, entry.change_mg, entry.after_mg) == (EntryKind.CORRECTED, -15_000, 525_000)
    assert (entry.gross_mg, entry.core_mg, entry.reason) == (600_000, 75_000, "core weighed again")
    assert cone.entries.count() == 2


def test_a_core_corrected_there_and_back_leaves_the_balance_and_three_entries(cone, owner):
    told(change_cone, by=owner, **written(cone, core_mg=75_000))
    cone.refresh_from_db()
    told(change_cone, by=owner, **written(cone, core_mg=60_000))
    cone.refresh_from_db()
    assert (cone.on_hand_mg, cone.entries.count()) == (540_000, 3)


def test_the_correction_starts_from_the_last_gross_weighing(cone, owner):
    told(weigh, cone_id=cone.pk, scale_mg=400_000, gross=True, by=owner)
    told(change_cone, by=owner, **written(cone, core_mg=50_000))
    assert Cone.objects.get(pk=cone.pk).on_hand_mg == 350_000


def test_a_core_says_nothing_about_yarn_that_was_weighed_alone(cone, owner):
    told(weigh, cone_id=cone.pk, scale_mg=333_000, gross=False, by=owner)
    told(change_cone, by=owner, **written(cone, core_mg=80_000))
    cone.refresh_from_db()
    assert (cone.on_hand_mg, cone.core_mg, cone.entries.count()) == (333_000, 80_000, 2)


def test_a_core_taken_away_and_given_again_corrects_once(cone, owner):
    told(change_cone, by=owner, **written(cone, core_mg=None))
    cone.refresh_from_db()
    assert (cone.on_hand_mg, cone.entries.count()) == (540_000, 1)
    told(change_cone, by=owner, **written(cone, core_mg=62_000))
    cone.refresh_from_db()
    assert (cone.on_hand_mg, cone.entries.count()) == (538_000, 2)


def test_a_core_heavier_than_the_whole_is_refused_and_nothing_is_written(cone, owner):
    with pytest.raises(Refusal) as refused:
        change_cone(by=owner, **written(cone, core_mg=600_001, note="new"))
    assert refused.value.field == "core"
    cone.refresh_from_db()
    assert (cone.core_mg, cone.note, cone.entries.count()) == (60_000, "", 1)


def test_words_alone_write_no_entry(cone, owner):
    changed = told(
        change_cone,
        by=owner,
        **written(cone, code="Tall", lot="B2", form="skein", place="Box", note=" soft "),
    )
    assert (changed.code, changed.lot.name, changed.form) == ("Tall", "B2", "skein")
    assert (changed.place.name, changed.note, changed.version) == ("Box", "soft", cone.version + 1)
    assert changed.entries.count() == 1
    assert list(Cone.objects.matching("tall")) == [changed]


@pytest.mark.parametrize("code", ["", "   ", "K-002", "k-002", "thirteen-long"])
def test_a_code_must_be_given_short_and_its_own(cone, owner, code):
    make_cone(cone.shade, code="K-002", by=owner)
    with pytest.raises(ValidationError) as refused:
        change_cone(by=owner, **written(cone, code=code))
    assert list(refused.value.message_dict) == ["code"]
    assert Cone.objects.get(pk=cone.pk).code == cone.code


def test_a_cone_keeps_its_own_code_in_other_capitals(cone, owner):
    assert change_cone(by=owner, **written(cone, code=cone.code.lower())).code == "k-001"


def test_a_second_save_of_an_older_form_is_refused_with_what_stands_there(cone, owner):
    stale = written(cone, note="mine")
    change_cone(by=owner, **written(cone, note="theirs"))
    with pytest.raises(ChangedMeanwhile) as refused:
        change_cone(by=owner, **stale)
    assert refused.value.current.note == "theirs"
    assert Cone.objects.get(pk=cone.pk).note == "theirs"


def test_moving_makes_older_forms_stale_too(cone, owner):
    move_cone(pk=cone.pk, place="Box")
    with pytest.raises(ChangedMeanwhile):
        change_cone(by=owner, **written(cone))
    assert move_cone(pk=cone.pk, place="").place is None


def test_retiring_writes_off_what_is_left_and_coming_back_is_a_further_entry(cone, owner):
    told(weigh, cone_id=cone.pk, scale_mg=100_000, gross=True, by=owner)
    gone = told(retire_cone, pk=cone.pk, by=owner, reason=" moth ")
    assert gone.on_hand_mg == 0 and gone.retired_at
    entry = gone.entries.first()
    assert (entry.kind, entry.change_mg, entry.reason) == (EntryKind.RETIRED, -40_000, "moth")

    back = told(bring_back_cone, pk=cone.pk, by=owner)
    assert back.on_hand_mg == 40_000 and back.retired_at is None
    entry = back.entries.first()
    assert (entry.kind, entry.change_mg, entry.after_mg) == (EntryKind.BROUGHT, 40_000, 40_000)
    assert cone.entries.count() == 4


def test_a_cone_may_go_and_come_back_twice(cone, owner):
    for _ in range(2):
        told(retire_cone, pk=cone.pk, by=owner, reason="given away")
        told(bring_back_cone, pk=cone.pk, by=owner)
    assert Cone.objects.get(pk=cone.pk).on_hand_mg == 540_000


def test_an_empty_cone_retires_with_an_entry_of_nothing(cone, owner):
    told(weigh, cone_id=cone.pk, scale_mg=0, gross=False, by=owner)
    assert told(retire_cone, pk=cone.pk, by=owner, reason="empty").entries.first().change_mg == 0


def test_a_retired_cone_is_neither_weighed_nor_retired_again(cone, owner):
    retire_cone(pk=cone.pk, by=owner, reason="sold")
    with pytest.raises(Refusal, match="Bring it back before weighing it"):
        weigh(cone_id=cone.pk, scale_mg=1, gross=False, by=owner)
    with pytest.raises(Refusal, match="retired already"):
        retire_cone(pk=cone.pk, by=owner, reason="sold")
    assert_books_agree()


def test_retiring_asks_for_a_reason(cone, owner):
    with pytest.raises(Refusal) as refused:
        retire_cone(pk=cone.pk, by=owner, reason=" ")
    assert refused.value.field == "reason"


def test_a_reserved_cone_is_not_retired_and_says_for_whom(cone, owner):
    claim = ClaimFactory(name="Lantern mats")
    reserve(claim_id=claim.pk, wanted=[Wanted(cone.pk, "weft", 0, 1, 0)])
    with pytest.raises(Refusal, match="reserved for Lantern mats"):
        retire_cone(pk=cone.pk, by=owner, reason="sold")
    release(claim_id=claim.pk)
    told(retire_cone, pk=cone.pk, by=owner, reason="sold")


def test_a_cone_on_the_shelf_is_not_brought_back(cone, owner):
    with pytest.raises(Refusal, match="stands on the shelf already"):
        bring_back_cone(pk=cone.pk, by=owner)
    with pytest.raises(Refusal, match="no such cone"):
        bring_back_cone(pk=cone.pk + 1, by=owner)


def test_a_cone_of_a_retired_shade_waits_for_its_shade(cone, owner):
    retire_cone(pk=cone.pk, by=owner, reason="sold")
    retire_shade(pk=cone.shade_id)
    with pytest.raises(Refusal, match="The shade Spruce is retired"):
        bring_back_cone(pk=cone.pk, by=owner)
    retire_shade(pk=cone.shade_id, back=True)
    told(bring_back_cone, pk=cone.pk, by=owner)
