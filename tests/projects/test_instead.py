"""Another shade in place of one: the page of a project's shade, what is tried from there, and the page of a shade."""

from datetime import date
from fractions import Fraction

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from projects.models import Project
from projects.models.shade import LotWish
from stash.calc.colour import apart
from stash.calc.colour_order import read_order
from stash.calc.density import Density
from stash.models import PutUp, Shade
from tests.factories import make_cone, make_shade, make_supplier
from tests.projects.factories import YARD
from tests.projects.shortages import mats, mats_plan, yard_yarn
from tests.stash.reading import Read

pytestmark = pytest.mark.django_db

RUST, BRICK = "#8c4030", "#8f4636"


@pytest.fixture
def yarn(owner):
    return yard_yarn(fibres={"cotton": 100})


@pytest.fixture
def finer(owner):
    """Of the same fibre, 8 % finer."""
    return yard_yarn("Finer cotton", um=YARD * 108 // 100, fibres={"cotton": 100})


@pytest.fixture
def shades(yarn, owner):
    found = {"A": make_shade("Spruce", yarn), "B": make_shade("Rust", yarn, colour=RUST)}
    make_cone(found["A"], grams=200, lot="1", by=owner)
    make_cone(found["B"], grams=30, lot="1", by=owner)
    return found


@pytest.fixture
def short(shades):
    """Five mats take 50 yd of Rust as weft; 30 yd are there."""
    return mats(shades, piece_name="mats", need_on=date(2031, 3, 1))


def address(project: Project, key: str = "B") -> str:
    return reverse("project-instead", args=[project.pk, key])


def offers(answer) -> dict:
    found = answer.context["found"]
    return {offer.shade.name: offer for offer in (*found.on_shelf, *found.known)}


def test_the_nearest_on_the_shelf_says_how_near_how_much_and_whether_it_serves(as_owner, short, yarn, owner):
    make_cone(make_shade("Brick", yarn, colour=BRICK), grams=90, lot="7", by=owner)
    offer = offers(as_owner.get(address(short)))["Brick"]
    assert offer.gap == f"{apart(RUST, BRICK):.1f} by CIEDE2000"
    assert (offer.free, offer.flag_text, offer.grist) == ("90.0 yd free", "enough", "as fine")
    assert offer.serves
    assert [(need.name, need.before, need.after) for need in offer.needs] == [
        ("Brick", "50.0 yd (50 g) of Rust", "50.0 yd (50 g)")
    ]
    assert offer.sett.endswith("it is in the weft alone.")


def test_only_the_same_fibres_within_10_percent_are_offered(as_owner, short, finer, owner):
    linen = yard_yarn("Yard linen", fibres={"linen": 100})
    thick = yard_yarn("Thick cotton", um=YARD * 8 // 10, fibres={"cotton": 100})
    for one in (linen, thick, finer):
        make_cone(make_shade(f"Brick {one.name}", one, colour=BRICK), grams=90, by=owner)
    assert set(offers(as_owner.get(address(short)))) == {"Brick Finer cotton"}


def test_a_finer_yarn_in_the_warp_says_what_the_square_root_rule_does(as_owner, shades, finer, owner):
    plan = mats_plan(sett=Density(Fraction(20)))
    project = mats(shades, plan=plan)
    make_cone(make_shade("Fir", finer, colour="#2f5d52"), grams=500, by=owner)
    offer = offers(as_owner.get(address(project, "A")))["Fir"]
    # 20 x sqrt(1.08) = 20.785; ten inches of it are 208 ends.
    assert offer.sett == "Sett 20.8 epi instead of 20 epi: 208 ends instead of 200."
    assert [word for word, _ in offer.choices] == ["new", "old"]
    fir = Shade.objects.get(name="Fir")
    as_owner.post(address(project, "A"), {"shade": fir.pk, "sett": "new", "version": project.version})
    assert Project.objects.get(trial_of=project).ends == 208
    assert offer.grist == "8 % finer"


def test_a_sett_that_hardly_moves_stays_and_says_what_the_rule_gives(as_owner, shades, finer, owner):
    # A half of the ends is 8 % finer: 20 / (0.5 + 0.5 / 1.0392) = 20.39, within 2.5 % of 20.
    plan = mats_plan(sett=Density(Fraction(20)), order=read_order("1 A, 1 B"))
    project = mats(shades, plan=plan)
    make_cone(make_shade("Fir", finer, colour="#2f5d52"), grams=500, by=owner)
    offer = offers(as_owner.get(address(project, "A")))["Fir"]
    assert offer.sett == "The sett stays at 20 epi: by the rule 20.4, which is called the same."
    assert [word for word, _ in offer.choices] == ["old"]


def test_a_shade_that_is_known_says_what_to_buy_and_from_whom(as_owner, short, yarn):
    brick = make_shade("Brick", yarn, colour=BRICK)
    PutUp.objects.create(supplier=make_supplier("Example Yarns"), yarn=yarn, mass_mg=40_000, price_cents=900)
    offer = offers(as_owner.get(address(short)))["Brick"]
    assert offer.flag_text == "none on the shelf"
    assert offer.buy == ["2 × 40 g from Example Yarns"]
    Shade.objects.filter(pk=brick.pk).update(no_more_on=date(2030, 1, 1))
    assert "Brick" not in offers(as_owner.get(address(short)))


def test_a_put_up_that_nobody_knows_is_not_guessed(as_owner, short, yarn):
    make_shade("Brick", yarn, colour=BRICK)
    (line,) = offers(as_owner.get(address(short)))["Brick"].buy
    assert line.endswith("in what it is sold and by whom is not known here")


def test_a_warp_that_would_mix_yarns_is_warned_of(as_owner, shades, finer, owner):
    project = mats(shades, plan=mats_plan(order=read_order("1 A, 1 B"), pick_order=read_order("1 A")))
    make_cone(make_shade("Fine brick", finer, colour=BRICK), grams=90, by=owner)
    assert offers(as_owner.get(address(project)))["Fine brick"].stretch
    assert "Different stretch in one warp makes trouble" in as_owner.get(address(project)).content.decode()


def test_the_page_says_that_a_screen_colour_is_a_hint(as_viewer, short):
    assert "A colour on the screen is a hint only" in Read(as_viewer.get(address(short))).text


def test_trying_one_makes_a_trial_beside_the_plan(as_owner, short, yarn, owner):
    brick = make_shade("Brick", yarn, colour=BRICK)
    make_cone(brick, grams=90, lot="7", by=owner)
    answer = as_owner.post(address(short), {"shade": brick.pk, "sett": "old", "version": short.version})
    trial = Project.objects.get(trial_of=short)
    assert answer.url == reverse("project-beside", args=[trial.pk])
    assert trial.name == "Plain mats, Brick for Rust"
    assert {row.key: row.shade.name for row in trial.shades.all()} == {"A": "Spruce", "B": "Brick"}


def test_a_wish_for_a_lot_of_the_old_shade_does_not_go_along(as_owner, short, shades, yarn, owner):
    lot = shades["B"].lots.get()
    short.shades.filter(key="B").update(wish=LotWish.LOT, wish_lot=lot)
    brick = make_shade("Brick", yarn, colour=BRICK)
    make_cone(brick, grams=90, lot="7", by=owner)
    assert offers(as_owner.get(address(short)))["Brick"].serves
    as_owner.post(address(short), {"shade": brick.pk, "sett": "old", "version": short.version})
    row = Project.objects.get(trial_of=short).shades.get(key="B")
    assert (row.wish, row.wish_lot) == (LotWish.ANY, None)


@pytest.mark.parametrize(
    "sent, said",
    [
        ({"shade": "0", "sett": "old"}, "cannot stand for it any more"),
        ({"shade": "brick", "sett": "old"}, "cannot stand for it any more"),
        ({"sett": "old"}, "cannot stand for it any more"),
        ({"shade": "own", "sett": "closer"}, "cannot stand for it any more"),
        ({"shade": "own", "sett": "new"}, "cannot stand for it any more"),
        ({"shade": "own", "sett": "old", "version": "7"}, "changed in another window"),
    ],
)
def test_what_is_no_substitute_is_refused_and_nothing_is_made(as_owner, short, yarn, owner, sent, said):
    brick = make_shade("Brick", yarn, colour=BRICK)
    make_cone(brick, grams=90, by=owner)
    facts = {"version": short.version} | sent
    if facts.get("shade") == "own":
        facts["shade"] = brick.pk
    answer = as_owner.post(address(short), facts, follow=True)
    assert said in answer.content.decode()
    assert not Project.objects.filter(trial_of=short).exists()


def test_a_key_that_the_plan_has_not_is_not_found(as_owner, short):
    assert as_owner.get(address(short, "Z")).status_code == 404


def test_a_plan_with_a_key_that_has_no_shade_yet_is_shown_too(as_owner, short, yarn, owner):
    make_cone(make_shade("Brick", yarn, colour=BRICK), grams=90, by=owner)
    short.shades.filter(key="A").delete()
    Project.objects.filter(pk=short.pk).update(open_keys="A")
    assert offers(as_owner.get(address(short)))["Brick"].serves


def test_a_shade_that_the_orders_do_not_use_has_no_substitutes(as_owner, short, yarn):
    short.shades.create(key="C", shade=make_shade("Spare", yarn))
    answer = as_owner.get(address(short, "C"), follow=True)
    assert "Spare is not used in this plan" in answer.content.decode()


def test_who_may_not_change_reads_and_is_offered_no_button(as_viewer, as_helper, short, yarn, owner):
    make_cone(make_shade("Brick", yarn, colour=BRICK), grams=90, by=owner)
    for client in (as_viewer, as_helper):
        page = client.get(address(short)).content.decode()
        assert "Brick" in page
        assert 'name="sett"' not in page
        assert client.post(address(short), {}).status_code == 403


def test_the_page_asks_the_same_for_twice_the_shades(as_owner, short, yarn, owner):
    """The project and its shades; fibres of yarns, alike shades, what is reserved, cones, looms, put-ups and what they
    are labelled as, who sells them."""

    def asked() -> int:
        as_owner.get(address(short))
        with CaptureQueriesContext(connection) as caught:
            as_owner.get(address(short))
        return len(caught)

    for number in range(2):
        make_cone(make_shade(f"Brick {number}", yarn, colour=BRICK), grams=90, by=owner)
        make_shade(f"Known {number}", yarn, colour=BRICK)
    before = asked()
    for number in range(2, 4):
        make_cone(make_shade(f"Brick {number}", yarn, colour=BRICK), grams=90, by=owner)
        make_shade(f"Known {number}", yarn, colour=BRICK)
    assert asked() == before


# Of a shade


def test_a_shade_lists_what_is_like_it_and_who_needs_it(as_viewer, short, shades, yarn, owner):
    make_cone(make_shade("Brick", yarn, colour=BRICK), grams=90, by=owner)
    make_shade("Tile", yarn, colour="#8c4031")
    answer = as_viewer.get(reverse("shade-instead", args=[shades["B"].pk]))
    brick, _ = answer.context["on_shelf"]
    (tile,) = answer.context["known"]
    assert (brick.shade.name, brick.free, brick.wanted) == ("Brick", "90.0 yd (90 g) free", "50.0 yd (50 g)")
    assert brick.suffices
    assert tile.free == "none on the shelf"
    assert [(row.project.name, row.need) for row in answer.context["rows"]] == [("Plain mats", "50.0 yd")]
    assert address(short) in answer.content.decode()


def test_a_finer_shade_says_what_becomes_of_a_sett(as_viewer, shades, finer, owner):
    make_cone(make_shade("Fine brick", finer, colour=BRICK), grams=90, by=owner)
    answer = as_viewer.get(reverse("shade-instead", args=[shades["B"].pk]))
    one = next(one for one in answer.context["on_shelf"] if one.shade.name == "Fine brick")
    assert one.sett == "20 ends become 20.8"


def test_a_shades_page_asks_the_same_for_twice_of_everything(as_owner, shades, yarn, owner):
    def asked() -> int:
        as_owner.get(reverse("shade-instead", args=[shades["B"].pk]))
        with CaptureQueriesContext(connection) as caught:
            as_owner.get(reverse("shade-instead", args=[shades["B"].pk]))
        return len(caught)

    counts = []
    for number in range(2):
        mats(shades, name=f"Mats {number}")
        make_cone(make_shade(f"Brick {number}", yarn, colour=BRICK), grams=90, by=owner)
        make_shade(f"Known {number}", yarn, colour=BRICK)
        counts.append(asked())
    assert counts[0] == counts[1]
