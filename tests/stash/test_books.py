"""The book check finds every fault that is planted, names it, and says which a rebuilding mends."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from stash.models import Cone, Entry, FibreShare, Lot, Reservation, guards
from stash.services.books import check_books, rebuild_balances
from stash.services.cones import retire_cone
from stash.services.reserving import Wanted, reserve
from stash.services.weighing import weigh
from tests.factories import ClaimFactory, make_cone, make_shade, make_yarn


@pytest.fixture
def cone(guarded, owner, settings, tmp_path) -> Cone:
    """500 g, of which 200 g are reserved, in a data folder without the files of other tests."""
    settings.DATA = tmp_path
    cone = make_cone(grams=500, lot="A1", by=owner)
    reserve(claim_id=ClaimFactory().pk, wanted=[Wanted(cone.pk, "weft", 0, 1, 200_000)])
    return cone


@pytest.fixture
def unguarded(cone) -> Cone:
    """The same with the guards taken away, so that the ledger itself can be tampered with."""
    for name in guards.NAMES:
        guards.drop("default", name)
    return cone


def faults() -> list[str]:
    return [fault.words for fault in check_books() if "guard" not in fault.words]


def mendable() -> list[int]:
    return [fault.cone_id for fault in check_books() if fault.cone_id]


def plant(cone: Cone, **changes) -> None:
    Cone.objects.filter(pk=cone.pk).update(**changes)


def test_books_that_agree_have_no_fault_and_nothing_to_rebuild(cone):
    assert check_books() == []
    assert rebuild_balances() == 0


def test_a_balance_changed_around_the_model_is_found_and_mended(cone):
    plant(cone, on_hand_mg=499_999)
    assert faults() == ["Cone K-001 shows 499999 mg, its ledger adds up to 500000 mg."]
    assert mendable() == [cone.pk]
    assert rebuild_balances() == 1
    assert check_books() == []
    assert rebuild_balances() == 0


def test_a_reservation_removed_around_the_service_is_found_and_mended(cone):
    Reservation.objects.all().delete()
    assert faults() == ["Cone K-001 shows 200000 mg reserved, its reservations add up to 0 mg."]
    assert rebuild_balances() == 1
    assert check_books() == []
    assert Cone.objects.get(pk=cone.pk).free_mg == 500_000


def test_a_reservation_changed_around_the_service_is_found_and_mended(cone):
    Reservation.objects.update(mass_mg=150_000)
    assert mendable() == [cone.pk]
    rebuild_balances()
    assert check_books() == []
    assert Cone.objects.get(pk=cone.pk).reserved_mg == 150_000


def test_both_balances_wrong_are_two_faults_of_one_cone_and_mended_at_once(cone):
    plant(cone, on_hand_mg=1, reserved_mg=0)
    assert mendable() == [cone.pk, cone.pk]
    assert rebuild_balances() == 1
    assert check_books() == []


def test_a_sound_cone_is_left_alone_by_the_mending_of_another(cone, owner):
    sound = make_cone(grams=300, by=owner)
    before = Cone.objects.filter(pk=sound.pk).values().get()
    plant(cone, on_hand_mg=7)
    rebuild_balances()
    assert Cone.objects.filter(pk=sound.pk).values().get() == before


def test_an_entry_that_contradicts_the_ones_before_is_found_but_no_balance_mends_it(unguarded, owner):
    Entry.objects.bulk_create(
        [
            Entry(cone=unguarded, kind="weighed", change_mg=-100, after_mg=after, by=owner, at=timezone.now())
            for after in (499_950, 499_800)
        ]
    )
    plant(unguarded, on_hand_mg=499_800)
    (words,) = faults()
    assert words.startswith("Cone K-001: the entry of ")
    assert words.endswith("says 499950 mg were left; the changes up to it add up to 499900 mg.")
    assert mendable() == []
    assert rebuild_balances() == 0


def test_an_entry_taken_out_of_the_middle_is_found(unguarded, owner):
    for scale in (400_000, 300_000):
        weigh(cone_id=unguarded.pk, scale_mg=scale, gross=False, by=owner)
    Entry.objects.filter(after_mg=400_000).delete()
    assert len(faults()) == 2
    assert rebuild_balances() == 1
    (words,) = faults()
    assert "says 300000 mg were left; the changes up to it add up to 400000 mg" in words


def test_a_cone_without_any_entry_is_found_and_its_balance_left_alone(unguarded):
    Entry.objects.all().delete()
    assert faults() == ["Cone K-001 has no entry in the ledger."]
    assert mendable() == []
    assert rebuild_balances() == 0
    assert Cone.objects.get().on_hand_mg == 500_000


def test_a_ledger_below_nothing_is_told_and_not_made_a_balance(unguarded):
    Entry.objects.update(change_mg=-5)
    assert faults()[-1] == "Cone K-001 shows 500000 mg, its ledger adds up to -5 mg."
    assert mendable() == []
    assert rebuild_balances() == 0


def test_a_retired_cone_that_is_still_reserved_is_found(cone, owner):
    other = make_cone(grams=300, by=owner)
    retire_cone(pk=other.pk, by=owner, reason="sold")
    Reservation.objects.update(cone=other)
    words = faults()
    assert f"Cone {other.code} is retired, but 200000 mg of it are reserved." in words
    assert mendable() == [cone.pk]
    assert rebuild_balances() == 1
    assert Cone.objects.get(pk=other.pk).reserved_mg == 0


def test_a_lot_of_another_shade_is_found(cone):
    rust = make_shade("Rust", yarn=cone.shade.yarn)
    plant(cone, lot=Lot.objects.create(shade=rust, name="R7"))
    assert faults() == ["Cone K-001 is of the shade Spruce, its lot R7 is of another."]


def test_fibres_that_are_not_a_hundred_are_found(cone):
    yarn = make_yarn("Blend", fibres={"wool": 70, "silk": 30})
    FibreShare.objects.filter(yarn=yarn, fibre="silk").update(percent=31)
    assert faults() == ["The fibres of Blend add up to 101 %."]


def test_the_check_costs_as_many_queries_for_many_cones_as_for_one(cone, owner):
    counts = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as queries:
            check_books()
        counts.append(len(queries))
        for _ in range(5):
            plant(make_cone(by=owner, lot="A1"), on_hand_mg=3)
    # guards, entries against running sums, cones against sums, entries that undo, entries with a partner, counts
    # against entries, lots, fibres, lines of orders against cones, shades of cones against those of their lines
    assert counts == [10, 10]


def test_the_command_is_content_with_books_that_agree(cone):
    out = StringIO()
    call_command("check_books", stdout=out)
    assert "The books agree." in out.getvalue()


def test_the_command_fails_on_a_fault_and_names_the_cure(cone):
    plant(cone, on_hand_mg=1)
    out = StringIO()
    with pytest.raises(CommandError, match=r"1 fault found\. `rebuild_balances`"):
        call_command("check_books", stdout=out)
    assert "Cone K-001 shows 1 mg" in out.getvalue()
    call_command("rebuild_balances", stdout=out)
    assert "1 cone changed." in out.getvalue()
    call_command("check_books", stdout=out)


def test_the_command_names_no_cure_where_rebuilding_is_none(cone):
    FibreShare.objects.create(yarn=cone.shade.yarn, fibre="cotton", percent=99)
    with pytest.raises(CommandError) as refused:
        call_command("check_books", stdout=StringIO())
    assert str(refused.value) == "1 fault found."
