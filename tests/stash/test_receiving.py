"""New cones: what is written, which code they get, and what is refused before anything is written."""

import pytest
from django.core.exceptions import ValidationError

from stash.models import Cone, Entry, EntryKind, Lot, Place
from stash.services.receiving import find_shade, next_code, receive_cone
from stash.services.refusal import Refusal
from stash.services.yarns import retire_shade, retire_yarn
from tests.books import told
from tests.factories import make_cone, make_shade, make_yarn

pytestmark = pytest.mark.django_db


def test_a_cone_weighed_without_its_core_starts_with_one_entry(owner):
    shade = make_shade()
    cone = told(receive_cone, shade=shade, scale_mg=450_000, by=owner, lot=" A1 ", place="Shelf 2")
    entry = cone.entries.get()
    assert (cone.on_hand_mg, cone.reserved_mg, cone.core_mg) == (450_000, 0, None)
    assert (entry.kind, entry.change_mg, entry.after_mg) == (EntryKind.RECEIVED, 450_000, 450_000)
    assert (entry.gross_mg, entry.core_mg, entry.by) == (None, None, owner)
    assert (cone.lot.name, cone.place.name) == ("A1", "Shelf 2")
    assert cone.weighed_at == entry.at == cone.received_at


def test_gross_less_core_is_net_and_both_figures_are_kept(owner):
    cone = told(
        receive_cone, shade=make_shade(), scale_mg=512_000, gross=True, core_mg=62_000, by=owner, code="Tall"
    )
    entry = cone.entries.get()
    assert (cone.code, cone.on_hand_mg, cone.core_mg) == ("Tall", 450_000, 62_000)
    assert (entry.gross_mg, entry.core_mg) == (512_000, 62_000)


def test_a_net_weighing_keeps_the_core_with_the_cone_for_later(owner):
    cone = told(receive_cone, shade=make_shade(), scale_mg=450_000, core_mg=62_000, by=owner)
    assert (cone.on_hand_mg, cone.core_mg, cone.entries.get().gross_mg) == (450_000, 62_000, None)


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        ({"scale_mg": 0}, "weight"),
        ({"scale_mg": -5}, "weight"),
        ({"scale_mg": 10_000_000_001}, "weight"),
        ({"scale_mg": 2**63}, "weight"),
        ({"scale_mg": 500, "gross": True}, "core"),
        ({"scale_mg": 500, "gross": True, "core_mg": 500}, "weight"),
        ({"scale_mg": 500, "core_mg": -1}, "core"),
        ({"scale_mg": 500, "core_mg": 2**63}, "core"),
    ],
)
def test_a_weight_that_cannot_be_is_refused_at_its_field(owner, facts, field):
    with pytest.raises(Refusal) as refused:
        receive_cone(shade=make_shade(), by=owner, **facts)
    assert refused.value.field == field
    assert not Cone.objects.exists() and not Entry.objects.exists()


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        ({"code": "K-001"}, "code"),
        ({"code": "k-001"}, "code"),
        ({"code": "thirteen-long"}, "code"),
        ({"lot": "l" * 41}, "lot"),
        ({"place": "p" * 41}, "place"),
        ({"note": "n" * 501}, "note"),
        ({"form": "hank"}, "form"),
    ],
)
def test_a_word_that_cannot_be_is_refused_at_its_field_and_nothing_is_written(owner, facts, field):
    first = make_cone()
    with pytest.raises(ValidationError) as refused:
        receive_cone(shade=first.shade, scale_mg=500, by=owner, **facts)
    assert list(refused.value.message_dict) == [field]
    assert Cone.objects.get() == first
    assert not Lot.objects.exists() and not Place.objects.exists()


def test_codes_are_counted_on_from_the_highest_in_use():
    codes = [make_cone().code, make_cone(code="K-041").code, make_cone().code, make_cone().code]
    assert codes == ["K-001", "K-041", "K-042", "K-043"]


def test_the_highest_code_counts_however_long_ago_it_was_given():
    make_cone(code="K-900")
    for number in range(1, 12):
        make_cone(code=f"K-{number:03}")
    assert make_cone().code == "K-901"


def test_codes_of_other_kinds_are_not_counted():
    for code in ("K-", "K-9a", "KX-77", "K-9999999999", "K-٣٣", "k-7"):
        make_cone(code=code)
    assert next_code() == "K-008"


def test_a_code_past_three_figures_grows():
    make_cone(code="K-999")
    assert make_cone().code == "K-1000"


def test_one_lot_and_one_place_whatever_their_capitals():
    shade = make_shade()
    first, second = make_cone(shade, lot="Dye 7", place="Box"), make_cone(shade, lot="dye 7", place="BOX")
    assert (first.lot, first.place) == (second.lot, second.place)


def test_the_same_lot_name_of_two_shades_is_two_lots():
    shade = make_shade()
    first, second = make_cone(shade, lot="7"), make_cone(make_shade("Rust", yarn=shade.yarn), lot="7")
    assert first.lot != second.lot


def test_a_shade_is_found_in_any_capitals_or_made():
    spruce = make_shade("Spruce")
    assert find_shade(spruce.yarn_id, " spruce ") == spruce
    assert find_shade(spruce.yarn_id, "Rust", "#a04020").colour == "#a04020"


def test_no_cone_comes_of_a_retired_shade_or_yarn(owner):
    shade = make_shade()
    retire_shade(pk=shade.pk)
    with pytest.raises(Refusal, match="Spruce is retired") as refused:
        receive_cone(shade=shade, scale_mg=500, by=owner)
    assert refused.value.field == "shade"
    with pytest.raises(Refusal, match="Bring the shade back"):
        find_shade(shade.yarn_id, "spruce")
    retire_yarn(pk=shade.yarn_id)
    with pytest.raises(Refusal, match="Bring the yarn back"):
        find_shade(shade.yarn_id, "A new one")


def test_a_yarn_that_is_gone_is_said(owner):
    with pytest.raises(Refusal, match="no such yarn"):
        find_shade(make_yarn().pk + 1, "Spruce")
