"""Which shades of the shelf are offered for those of a file."""

import pytest
from django.utils import timezone

from projects.sharing.matching import MOST_NEAR, matched
from projects.sharing.reading import ShadeInFile
from stash.calc.grist import Grist
from stash.models import Shade, Yarn
from tests.factories import make_shade, make_yarn

pytestmark = pytest.mark.django_db

GRIST = Grist.from_yd_per_lb(3360)


def wanted(name="Spruce", yarn="Plain cotton", **facts) -> ShadeInFile:
    known = {
        "key": "A",
        "colour": "#2f5d50",
        "count": "8/2 cotton",
        "grist": GRIST,
        "fibres": {"cotton": 100},
    }
    return ShadeInFile(name=name, yarn=yarn, **(known | facts))


def one(shade: ShadeInFile):
    (found,) = matched([shade])
    return found


def test_the_same_name_and_yarn_are_the_same_shade_whatever_the_case():
    shade = make_shade("Spruce")
    assert one(wanted("SPRUCE", "plain Cotton")).same == shade


def test_the_same_name_of_another_yarn_is_only_near():
    shade = make_shade("Spruce", yarn=make_yarn("Fen cotton"))
    found = one(wanted())
    assert (found.same, found.near) == (None, (shade,))


def test_near_ones_of_the_same_count_come_by_their_colour_and_those_without_one_last():
    yarn = make_yarn("Fen cotton")
    make_shade("Brick", yarn=yarn, colour="#993322")
    make_shade("Raw", yarn=yarn, colour="")
    make_shade("Fir", yarn=yarn, colour="#30604f")
    assert [shade.name for shade in one(wanted()).near] == ["Fir", "Brick", "Raw"]


def test_a_like_fibre_within_a_tenth_in_length_per_weight_is_near():
    near = make_yarn("Near", count="", fibres={"cotton": 60, "linen": 40}, stated=Grist.from_yd_per_lb(3500))
    far = make_yarn("Far", count="", fibres={"cotton": 100}, stated=Grist.from_yd_per_lb(3900))
    wool = make_yarn("Wool", count="", fibres={"wool": 100}, stated=GRIST)
    for yarn in (near, far, wool):
        make_shade(f"{yarn.name} green", yarn=yarn)
    assert [shade.name for shade in one(wanted()).near] == ["Near green"]


def test_retired_shades_and_yarns_are_not_offered():
    make_shade("Spruce")
    Shade.objects.update(retired_at=timezone.now())
    other = make_shade("Fir", yarn=make_yarn("Fen cotton"))
    Yarn.objects.filter(pk=other.yarn_id).update(retired_at=timezone.now())
    assert one(wanted()).offered == ()


def test_no_more_are_offered_than_can_be_looked_through():
    yarn = make_yarn("Fen cotton")
    for number in range(MOST_NEAR + 3):
        make_shade(f"Green {number}", yarn=yarn)
    assert len(one(wanted()).near) == MOST_NEAR


def test_one_shade_is_not_taken_twice():
    make_shade("Spruce")
    first, second = matched([wanted(), wanted(key="B", name="spruce")])
    assert first.same and second.same is None


def test_an_empty_shelf_offers_nothing():
    assert one(wanted()).offered == ()


def test_more_shades_cost_no_more_queries(django_assert_num_queries):
    """Yarns, their fibres, shades of those that come near."""
    for number in range(4):
        make_shade(f"Green {number}", yarn=make_yarn(f"Yarn {number}"))
    for count in (1, 20):
        with django_assert_num_queries(3):
            matched([wanted(key="ABCDEFGHIJKLMNOPQRSTUVWXYZ"[at], name=f"Green {at}") for at in range(count)])
