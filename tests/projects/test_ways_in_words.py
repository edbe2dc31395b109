"""Every kind of way out in words, and as a plan that can be tried. Figures invented and reckoned in the head."""

from datetime import date

import pytest

from projects.around import around
from projects.models import Project
from projects.services.trials import make_trial
from projects.ways import change_by, ways_of
from stash.calc.colour_order import read_order
from stash.calc.writing import Measures
from stash.models import Loom
from tests.factories import make_cone, make_shade
from tests.projects.factories import INCH
from tests.projects.shortages import mats, mats_plan, yard_yarn

pytestmark = pytest.mark.django_db

INCHES = Measures("imperial", "g")


@pytest.fixture
def shades(owner):
    yarn = yard_yarn()
    return {"A": make_shade("Spruce", yarn), "B": make_shade("Rust", yarn)}


def stand(shade, *yards: int, owner) -> None:
    """A cone of so many yards of each lot: lot 1, lot 2, and so on."""
    for number, grams in enumerate(yards, start=1):
        make_cone(shade, grams=grams, lot=str(number), by=owner)


def ways(project: Project):
    project = Project.objects.with_shades().get(pk=project.pk)
    return ways_of(project, around(project, INCHES), INCHES)


def told(project: Project, start: str):
    return next(one for one in ways(project).told if one.name.startswith(start))


def tried(project: Project, token: str) -> Project:
    project = Project.objects.with_shades().get(pk=project.pk)
    near = around(project, INCHES)
    change = change_by(token, ways_of(project, near, INCHES).found, project, near)
    return make_trial(pk=project.pk, change=change)


def test_a_lot_may_change_inside_a_piece(shades, owner):
    # 10 yd of Rust a mat: of 26 and 24 yd two mats each, and the fifth of both.
    stand(shades["A"], 100, owner=owner)
    stand(shades["B"], 26, 24, owner=owner)
    way = told(mats(shades, piece_name="mats"), "Let the lot of Rust change inside a piece")
    assert way.effect == "The yarn is there, in several lots: 1 piece would hold two of them."
    assert "never in plain ground" in way.hint
    assert way.token == ""
    assert way.cures


def test_two_warps_keep_two_lots_apart(shades, owner):
    # Ten ends of 5 yd: six of 30 yd and four of 21 yd. As two warps: 3 mats of 30 yd, 2 of 20 yd.
    stand(shades["A"], 30, 21, owner=owner)
    stand(shades["B"], 200, owner=owner)
    way = told(mats(shades, piece_name="mats"), "Two warps")
    assert way.name == "Two warps, of 3 and 2 mats"
    assert way.effect == "Spruce of lot 1 in the one, of lot 2 in the other: no piece mixes lots."
    assert way.token == ""


def test_turned_the_plan_has_its_sizes_and_orders_turned(shades, owner):
    # 10 in by 36: ten ends of 6 yd of Spruce, 60 yd, and 5 x 36 picks of 10 in of Rust, 50 yd. Turned: 36 ends of
    # 86 in of Rust, 86 yd, and 5 x 10 picks of a yard of Spruce, 50 yd.
    stand(shades["A"], 55, owner=owner)
    stand(shades["B"], 100, owner=owner)
    project = mats(shades, plan=mats_plan(waste_um=36 * INCH), piece_name="mats")
    way = told(project, "Turn the mats by 90 degrees")
    assert way.effect == (
        "36.00 in across and 10.00 in along the warp: 36 ends, 36.00 in in the reed, a warp of 2.39 yd."
    )
    assert "with its warp lying the other way" in way.hint
    assert [(one.name, one.before, one.after) for one in way.effects] == [
        ("Spruce", "60.0 yd", "50.0 yd"),
        ("Rust", "50.0 yd", "86.0 yd"),
    ]
    trial = tried(project, way.token)
    assert (trial.across_um, trial.along_um) == (36 * INCH, 10 * INCH)
    assert (trial.colour_order, trial.pick_order) == ("1 B", "1 A")


def test_sample_and_header_are_left_out(shades, owner):
    # Ten ends of 5 yd and two yards of header: 70 yd; without it 50 yd, and a spare end.
    stand(shades["A"], 60, owner=owner)
    stand(shades["B"], 200, owner=owner)
    project = mats(shades, plan=mats_plan(header_um=72 * INCH))
    way = told(project, "Leave out the header")
    assert way.effect == "Saves 72.00 in of header on the loom."
    assert way.verdict == "Enough, with the buffer."
    trial = tried(project, way.token)
    assert (trial.header_um, trial.name) == (0, "Plain mats, without header")


def test_kits_go_spare_ones_first_then_those_to_show(shades, owner):
    # A kit of one mat takes ten ends of a yard and a spare one: 11 yd of Spruce; 10 yd of Rust.
    stand(shades["A"], 200, owner=owner)
    stand(shades["B"], 45, owner=owner)
    project = mats(shades, plan=mats_plan(pieces=1))
    Project.objects.filter(pk=project.pk).update(kit_students=4, kit_demo=1, kit_spare=2)
    way = told(project, "Wind 4 warps instead of 7")
    assert way.effect == "3 kits fewer: spare ones first, then those to show."
    trial = tried(project, way.token)
    assert (trial.kit_students, trial.kit_demo, trial.kit_spare) == (4, 0, 0)
    assert trial.plan.warps == 4


def test_fewer_repeats_become_a_narrower_plan(shades, owner):
    stand(shades["A"], 40, owner=owner)
    stand(shades["B"], 200, owner=owner)
    project = mats(shades, piece_name="mats")
    way = told(project, "Weave them 8.00 in wide instead of 10.00 in")
    trial = tried(project, way.token)
    assert (trial.across_um, trial.ends, trial.sett_numerator) == (8 * INCH, 8, project.sett_numerator)


def test_a_shade_in_the_weft_takes_a_key_of_its_own(shades, owner):
    # Spruce alone: ten ends of 5 yd and 50 yd of weft; 60 yd are there.
    stand(shades["A"], 60, owner=owner)
    stand(shades["B"], 200, owner=owner)
    project = mats({"A": shades["A"]}, plan=mats_plan(pick_order=read_order("1 A")))
    way = told(project, "Rust in the weft, Spruce in the warp")
    assert [(one.name, one.before, one.after) for one in way.effects] == [
        ("Spruce", "100 yd", "50.0 yd"),
        ("Rust", "", "50.0 yd"),
    ]
    trial = tried(project, way.token)
    assert trial.pick_order == "1 B"
    assert {row.key: row.shade for row in trial.shades.all()} == shades


def test_the_usual_figure_of_tying_on_says_that_it_is_one(shades, owner):
    stand(shades["A"], 56, owner=owner)
    stand(shades["B"], 200, owner=owner)
    project = mats(shades, plan=mats_plan(waste_um=36 * INCH))
    way = told(project, "Tie on to the warp that is there")
    assert way.effect == (
        "12.00 in of loom waste instead of 36.00 in (usual figure; 10 to 14 in are common practice), on every end."
    )
    assert "as many ends, in the same order and at the same sett" in way.hint


def test_a_loom_that_is_lent_is_no_way_out(shades, owner):
    stand(shades["A"], 56, owner=owner)
    stand(shades["B"], 200, owner=owner)
    project = mats(shades, plan=mats_plan(waste_um=36 * INCH))
    loom = Loom.objects.create(name="Small loom", weaving_width_um=30 * INCH, shafts=4, waste_um=10 * INCH)
    assert any(one.name == "Weave it on Small loom" for one in ways(project).told)
    Loom.objects.filter(pk=loom.pk).update(lent_to="the guild")
    assert not any("Small loom" in one.name for one in ways(project).told)


def test_a_plan_without_a_winding_day_says_when_to_order_all_the_same(shades, owner):
    stand(shades["A"], 100, owner=owner)
    way = told(mats(shades), "Buy")
    assert way.effect.endswith("Order by the winding day, once there is one, less your supplier’s time.")
    dated = told(mats(shades, name="Dated", need_on=date(2031, 3, 1)), "Buy")
    assert dated.effect.endswith("Order by 1 March 2031, the winding day, less your supplier’s time.")


def test_what_does_not_cure_says_what_remains(shades, owner):
    # Ten ends of 6 yd are 60 yd, tied on 53 1/3; of 50 yd nine ends come of the one and eight of the other.
    stand(shades["A"], 50, owner=owner)
    stand(shades["B"], 200, owner=owner)
    way = told(mats(shades, plan=mats_plan(waste_um=36 * INCH)), "Tie on")
    assert not way.cures
    assert way.verdict == "Short of Spruce by 1 warp end, 5.4 yd (5.4 g)."
