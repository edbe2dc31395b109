"""The plan's page where it is about edges and ends: hems, fringes, selvedges, borders, accents, kits and beams."""

from fractions import Fraction

import pytest
from django.urls import reverse

from projects.forms.plan import PlanForm, initial_of_new
from projects.judging import judge_all
from projects.models import Project, ProjectShade
from projects.services.planning import recompute
from stash.calc.colour_order import read_order
from stash.calc.needs import work_out
from stash.calc.writing import Measures
from tests.factories import make_cone, make_shade
from tests.projects.factories import make_project, plain_plan
from tests.projects.pages import typed_plan

# Pages and forms: what they say does not hang on what keeps the books.
pytestmark = pytest.mark.once

IN = 25_400
YD = 914_400


@pytest.fixture
def project(db):
    """Eight ends of A, four of B, end for end: a yard of warp a piece."""
    shades = {"A": make_shade("Spruce"), "B": make_shade("Chalk")}
    for shade in shades.values():
        make_cone(shade)
    plan = plain_plan(order=read_order("8 A, 4 B"), order_fills=False, waste_um=30 * IN)
    return make_project(shades, plan=plan)


def save(client, project, **changes):
    return client.post(
        reverse("project-page", args=[project.pk]), typed_plan(client, project, **changes), follow=True
    )


def saved(client, project, **changes):
    answer = save(client, project, **changes)
    assert answer.status_code == 200, answer.context["form"].errors
    return Project.objects.get(pk=project.pk)


def errors(client, project, **changes):
    answer = save(client, project, **changes)
    assert answer.status_code == 422
    return answer.context["form"].errors


EDGES = {
    "hem turned twice": ({"ends_as": "double", "hem_depth": "3/4 in"}, lambda p: p.hem_cloth_um == 3 * IN),
    "small first fold": (
        {"ends_as": "small", "hem_depth": "3/4 in", "hem_fold": "1/2 in"},
        lambda p: p.hem_cloth_um == 5 * IN // 2,
    ),
    "hem of its own": (
        {"ends_as": "strip", "hem_depth": "1 in", "hem_picks": "32", "hem_pick_order": "1 B"},
        lambda p: (p.hem.picks.count, p.hem.pick_order.text) == (32, "1 B"),
    ),
    "fringe": (
        {"ends_as": "fringe", "fringe": "4 in", "fringe_twisted": "twisted", "fringe_loss": "20"},
        lambda p: p.fringe.on_loom_um == 5 * IN and p.fringe.twisted and p.hem_cloth_um == 0,
    ),
    "selvedges": (
        {"floating_selvedges": "on", "floating_key": "b", "doubled_ends": "2", "doubled_way": "dent"},
        lambda p: (
            (p.selvedges.floating_key, p.selvedges.doubled_ends, p.selvedges.doubled_way) == ("B", 2, "dent")
        ),
    ),
    "border": ({"order_fills": "fills", "border_order": "2 B, 1 A"}, lambda p: p.border.text == "2 B, 1 A"),
    "accents": (
        {"accents": "1 B at 3, 1 B in the middle", "accent_way": "added", "accents_in_weft": "on"},
        lambda p: len(p.accents) == 2 and p.accent_way == "added" and p.accents_in_weft,
    ),
    "whole repeats": ({"whole_pick_repeats": "on"}, lambda p: p.whole_pick_repeats),
    "kits": ({"kit_students": "6", "kit_demo": "1", "kit_spare": "1"}, lambda p: p.warps == 8),
    "beam": (
        {"beam_2_keys": "b", "beam_2_take_up": "12"},
        lambda p: (
            [(one.number, one.take_up, one.keys) for one in p.beams] == [(2, Fraction(12, 100), ("B",))]
        ),
    ),
}


@pytest.mark.parametrize(("changes", "holds"), EDGES.values(), ids=EDGES)
def test_what_is_typed_is_in_the_plan_and_comes_back_unchanged(as_owner, project, changes, holds):
    kept = saved(as_owner, project, **changes)
    assert holds(kept.plan)
    again = saved(as_owner, kept)
    assert again.plan == kept.plan
    assert not recompute(pk=project.pk), "the stored needs are what calc makes of the stored plan"


def test_needs_of_a_beam_are_stored_with_its_own_length(as_owner, project):
    kept = saved(as_owner, project, board="0", beam_2_keys="B", beam_2_take_up="100")
    rows = {row.key: row for row in ProjectShade.objects.filter(project=project)}
    worked = work_out(kept.plan)
    assert (rows["A"].beam, rows["B"].beam) == (1, 2)
    assert (rows["A"].warp_um, rows["B"].warp_um) == (worked.warps_um[1], worked.warps_um[2])
    assert rows["B"].warp_um > rows["A"].warp_um == kept.warp_um


def test_taking_the_further_beam_away_winds_all_on_one(as_owner, project):
    saved(as_owner, project, beam_2_keys="B", beam_2_take_up="100")
    kept = saved(as_owner, project, beam_2_keys="")
    assert kept.plan.beams == ()
    assert not kept.beams.exists()


def test_kits_multiply_what_is_stored_and_what_is_said(as_owner, project):
    before = {row.key: row.ends for row in project.shades.all()}
    kept = saved(as_owner, project, kit_students="3")
    assert {row.key: row.ends for row in kept.shades.all()} == {key: 3 * ends for key, ends in before.items()}
    page = as_owner.get(reverse("project-page", args=[project.pk])).content.decode()
    assert "3 like warps" in page
    assert "on each of 3 warps" in page
    listed = as_owner.get(reverse("projects")).content.decode()
    assert "1 × 3</td>" in listed


def test_the_folds_say_what_is_set_in_them(as_owner, project):
    saved(as_owner, project, floating_selvedges="on", doubled_ends="1", accents="1 B at 3")
    page = as_owner.get(reverse("project-page", args=[project.pk])).content.decode()
    assert "floating ends; 1 end doubled on each side, in heddle and dent; 1 accent instead of ends" in page
    assert page.count("nothing set") == 1  # of the weft


BAD = {
    "hem_depth": ({"ends_as": "double", "hem_depth": ""}, "how deep"),
    "hem_picks": ({"hem_picks": "zero"}, ""),
    "fringe": ({"ends_as": "fringe", "fringe": "0"}, "how long"),
    "fringe_loss": ({"ends_as": "fringe", "fringe": "4", "fringe_loss": "100"}, "%"),
    "waste_front": ({"ends_as": "fringe", "fringe": "4", "waste_front": "40 yd"}, "part of the loom waste"),
    "doubled_ends": ({"doubled_ends": "60"}, "each side"),
    "floating_key": ({"floating_selvedges": "on", "floating_key": "A, B"}, "one key"),
    "border_order": ({"order_fills": "fills", "border_order": "2"}, "character"),
    "accents": ({"accents": "1 B at 400"}, "beyond"),
    "beam_2_keys": ({"beam_2_keys": "Z"}, "no ends in the warp"),
    "kit_students": ({"kit_students": "201"}, "200"),
    "loss_across": ({"loss_across": "100"}, "less than 100"),
    "sett": ({"sett": "0"}, ""),
}


@pytest.mark.parametrize(("changes", "words"), BAD.values(), ids=BAD)
def test_what_cannot_be_woven_says_which_figure_to_change(as_owner, project, changes, words, request):
    field = request.node.callspec.id
    found = errors(as_owner, project, **changes)
    assert list(found) == [field]
    assert words in found[field][0]


def test_hems_longer_than_the_piece_are_refused_at_the_hem(as_owner, project):
    found = errors(as_owner, project, ends_as="double", hem_depth="5 yd")
    assert list(found) == ["hem_depth"]


def test_a_shade_cannot_be_wound_on_two_beams(as_owner, project):
    found = errors(as_owner, project, beam_2_keys="B", beam_3_keys="B")
    assert list(found) == ["beam_2_keys"]


def test_what_the_chosen_kind_does_not_use_stands_in_nobodys_way(as_owner, project):
    kept = saved(as_owner, project, ends_as="given", hem="1 in", hem_depth="rubbish", fringe="rubbish")
    assert kept.plan.hem_cloth_um == IN
    assert not kept.plan.fringe


def test_an_order_that_is_the_whole_warp_takes_no_border_and_no_balance(as_owner, project):
    kept = saved(as_owner, project, order_fills="whole", border_order="2 B", balance_ends="1")
    assert (kept.plan.border, kept.plan.balance_ends) == (None, 0)


def test_a_fringe_that_is_not_used_offers_what_is_usual(as_owner, project):
    form = as_owner.get(reverse("project-page", args=[project.pk])).context["form"]
    assert form["fringe_knot"].value() == "3"
    assert PlanForm(measures=Measures(), initial=initial_of_new(Measures()))["ends_as"].value() == "given"


def test_a_key_of_an_accent_gets_a_field_for_its_shade(as_owner, project):
    make_cone(make_shade("Ember"))
    found = errors(as_owner, project, accents="1 R at 2")
    assert list(found) == ["shade_R"]
    kept = saved(as_owner, project, accents="1 R at 2", shade_R="Ember")
    assert {row.key: row.shade.name for row in kept.shades.all()}["R"] == "Ember"


def test_the_preview_says_what_is_set_and_what_an_accent_does(as_owner, project):
    data = typed_plan(
        as_owner, project, accents="1 B after 2", accent_way="added", ends_as="fringe", fringe="4"
    )
    answer = as_owner.post(reverse("project-preview", args=[project.pk]), data).content.decode()
    assert '<span class="set" id="set-across" hx-swap-oob="true">1 accent added</span>' in answer
    assert "added after end 2" in answer
    assert Project.objects.get(pk=project.pk).plan.accents == ()


def test_who_may_only_read_reads_the_edges_too(as_owner, viewer, project):
    saved(
        as_owner,
        project,
        **{"ends_as": "double", "hem_depth": "3/4 in", "floating_selvedges": "on", "kit_students": "2"},
        **{"accents": "1 B at 3", "beam_2_keys": "B", "beam_2_take_up": "12"},
    )
    as_owner.force_login(viewer)
    page = as_owner.get(reverse("project-page", args=[project.pk])).content.decode()
    for words in (
        "hems of 0.75 in, turned twice",
        "floating ends",
        "1 B at 3; instead of ends",
        "B on beam 2, take-up 12 %",
        "2: 2 for students",
    ):
        assert words in page


def test_the_figures_open_into_the_new_parts(as_owner, project):
    saved(
        as_owner,
        project,
        **{
            "ends_as": "fringe",
            "fringe": "4 in",
            "doubled_ends": "1",
            "floating_selvedges": "on",
            "pieces": "3",
        },
    )
    page = as_owner.get(reverse("project-page", args=[project.pk])).content.decode()
    for words in (
        "doubled: 1 outermost end on each side",
        "floating selvedges, in no heddle",
        "ends that share a dent with the one beside them",
        "2 gaps of two fringes, 8.89 in",
    ):
        assert words in page


def test_what_kits_on_two_beams_need_is_put_aside_and_fits_the_plan(as_owner, project):
    saved(as_owner, project, kit_students="2", beam_2_keys="B", beam_2_take_up="50", board="0")
    as_owner.post(reverse("project-reserve", args=[project.pk]), {"version": "2"})
    page = as_owner.get(reverse("project-page", args=[project.pk]))
    assert page.context["holding_fits"]
    held = {one.shade.name: one for one in page.context["holding"].shades}
    rows = {row.key: row for row in ProjectShade.objects.filter(project=project)}
    assert sum(line.length_um for line in held["Chalk"].lines if line.use == "warp") == (
        held["Chalk"].ends * rows["B"].warp_um
    )
    assert held["Chalk"].ends == rows["B"].ends_buffered == 10, "four ends and a spare one, twice"


def test_a_list_judges_kits_and_beams_as_the_page_does(as_owner, project):
    saved(as_owner, project, kit_students="4", beam_2_keys="B", beam_2_take_up="50", pieces="30")
    project = Project.objects.get(pk=project.pk)
    ((_, listed),) = judge_all([project])
    paged = as_owner.get(reverse("project-page", args=[project.pk])).context["out"].judged
    assert {line.key: (line.need, line.warp_um, line.pieces) for line in listed.lines} == {
        line.key: (line.need, line.warp_um, line.pieces) for line in paged.lines
    }
    assert listed.state == paged.state
    assert {line.pieces for line in listed.lines} == {120}
