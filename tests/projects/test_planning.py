"""Writing a plan: what is stored is what calc makes of it, and an edit keeps what was promised."""

from datetime import date
from fractions import Fraction

import pytest
from django.core.exceptions import ValidationError

from projects.models import LossWay, Project, ProjectShade
from projects.services.planning import put_away, recompute, save_project
from projects.services.reserving import release_project, reserve_project, take_new_grist
from stash.calc.density import Density
from stash.calc.errors import CalcError
from stash.calc.needs import work_out
from stash.models import Shortage
from stash.services.cones import retire_cone
from stash.services.refusal import ChangedMeanwhile, Refusal
from stash.services.yarns import YarnFacts, retire_shade, save_yarn
from tests.books import assert_books_agree
from tests.factories import make_cone, make_shade, make_yarn
from tests.projects.plans import INCH, a_plan, facts, plan_for

pytestmark = pytest.mark.django_db


@pytest.fixture
def spruce():
    return make_shade("Spruce")


@pytest.fixture
def rust(spruce):
    return make_shade("Rust", yarn=spruce.yarn)


def rows(project: Project) -> dict[str, ProjectShade]:
    return {row.key: row for row in project.shades.select_related("shade__yarn")}


def test_what_is_stored_gives_the_plan_back_and_the_needs_that_calc_makes_of_it(spruce, rust):
    plan = a_plan(
        losses_across=(Fraction("0.0625"), Fraction("0.1")),
        losses_along=(Fraction("0.035"), Fraction("0.12")),
        take_up=Fraction("0.08"),
        hem_um=3 * INCH,
        sample_um=6 * INCH,
        keep_back=1,
    )
    project = Project.objects.get(pk=plan_for(spruce, rust, plan=plan, loss_way=LossWay.SPLIT).pk)
    worked = work_out(plan)
    assert project.plan == plan
    assert (project.ends, project.warp_um) == (worked.width.ends, worked.length.warp_um)
    assert [row.need() for row in project.shades.all()] == [need.need for need in worked.needs]
    assert recompute(pk=project.pk) is False


def test_recomputing_mends_figures_that_were_changed_around_the_service(spruce):
    project = plan_for(spruce)
    needed = project.shades.get().need()
    ProjectShade.objects.update(ends=1)
    Project.objects.update(warp_um=1)
    assert recompute(pk=project.pk) is True
    assert Project.objects.get().warp_um == project.warp_um
    assert ProjectShade.objects.get().need() == needed


def test_a_key_that_the_order_does_not_use_keeps_its_shade_and_needs_nothing(spruce, rust):
    project = plan_for(spruce, rust, plan=a_plan("1 A", "1 A"))
    row = rows(project)["B"]
    assert (row.shade, row.ends, row.picks, row.need().weft_um(project.pieces)) == (rust, 0, 0, 0)


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"shades": {}}, "uses A, B"),
        ({"plan": a_plan("1 A, 1 C")}, "uses C"),
        ({"shades": {"A": 1, "B": 1}}, "same shade stands under two keys"),
        ({"shades": {"A": 404, "B": 405}}, "retired or gone"),
        ({"plan": a_plan("1 A", "1 A"), "shades": {"A": 1, "b": 2}}, "capital letters"),
        ({"plan": a_plan("1 A", "1 A"), "shades": {"A": 1, "ABC": 2}}, "capital letters"),
    ],
)
def test_shades_that_do_not_fit_the_orders_are_refused_at_their_field(spruce, rust, more, says):
    numbers = {1: spruce.pk, 2: rust.pk}
    if "shades" in more:
        more = more | {"shades": {key: numbers.get(pk, pk) for key, pk in more["shades"].items()}}
    with pytest.raises(Refusal, match=says) as refused:
        plan_for(spruce, rust, **more)
    assert refused.value.field == "shades"
    assert not Project.objects.exists() and not ProjectShade.objects.exists()


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"name": " "}, "name"),
        ({"name": "n" * 121}, "name"),
        ({"rank": 0}, "rank"),
        ({"rank": 10}, "rank"),
        ({"note": "n" * 1001}, "note"),
        ({"piece_name": "p" * 41}, "piece_name"),
    ],
)
def test_words_and_ranks_are_refused_at_their_field(spruce, more, field):
    with pytest.raises(ValidationError) as refused:
        plan_for(spruce, **more)
    assert list(refused.value.message_dict) == [field]
    assert not Project.objects.exists()


def test_a_structure_that_is_not_known_is_refused(spruce):
    with pytest.raises(CalcError):
        plan_for(spruce, structure="knotwork")
    assert not Project.objects.exists()


def test_two_projects_have_two_names(spruce):
    plan_for(spruce)
    with pytest.raises(ValidationError) as refused:
        plan_for(spruce)
    assert refused.value.message_dict == {"name": ["Another project has this name."]}


def test_a_plan_beyond_all_yarn_is_refused_before_a_figure_overflows(spruce):
    """90 m wide, 2 m long, a thousand of them: calc can work it out, no shelf can hold it."""
    plan = a_plan(
        "1 A", "1 A", pieces=1_000, across_um=90_000_000, along_um=2_000_000, sett=Density(Fraction(5))
    )
    with pytest.raises(Refusal, match="more than 10,000 km of A") as refused:
        plan_for(spruce, plan=plan)
    assert refused.value.field == "pieces"
    assert not Project.objects.exists()


@pytest.mark.parametrize("pieces", [1, 3_000])
def test_the_greatest_plans_that_are_taken_can_be_reserved(spruce, pieces):
    """Figures near the limit fit the columns: what is missing is kept in full."""
    plan = a_plan("1 A", "1 A", pieces=pieces, across_um=1_000_000, along_um=2_000_000)
    project = plan_for(spruce, plan=plan)
    reserve_project(pk=project.pk)
    short = Shortage.objects.get()
    row = project.shades.get()
    assert short.length_um == row.ends * project.warp_um + row.need().weft_um(pieces)


def test_a_second_save_of_an_older_form_is_refused_and_overwrites_nothing(spruce):
    project = plan_for(spruce)
    save_project(facts=facts(spruce, note="theirs"), pk=project.pk, version=1)
    with pytest.raises(ChangedMeanwhile) as refused:
        save_project(facts=facts(spruce, note="mine"), pk=project.pk, version=1)
    assert refused.value.current.note == "theirs"
    assert Project.objects.get().note == "theirs"


def test_keys_that_change_places_keep_the_frozen_grist_with_the_shade(rust):
    coarse = make_shade("Bark", yarn=make_yarn("Rug cotton", count="3/2"))
    project = plan_for(coarse, rust)
    reserve_project(pk=project.pk)
    frozen = {row.shade_id: (row.frozen_um, row.frozen_mg) for row in rows(project).values()}
    assert len(set(frozen.values())) == 2

    save_project(facts=facts(rust, coarse), pk=project.pk)

    after = rows(project)
    assert (after["A"].shade, after["B"].shade) == (rust, coarse)
    assert {row.shade_id: (row.frozen_um, row.frozen_mg) for row in after.values()} == frozen


def test_three_keys_turn_round_in_one_save(spruce, rust):
    bark = make_shade("Bark", yarn=spruce.yarn)
    plan = a_plan("1 A, 1 B, 1 C", "1 A")
    project = plan_for(spruce, rust, bark, plan=plan)
    save_project(facts=facts(bark, spruce, rust, plan=plan), pk=project.pk)
    assert [row.shade.name for row in project.shades.order_by("key")] == ["Bark", "Spruce", "Rust"]


def test_editing_a_yarn_changes_no_frozen_project_and_every_other(spruce):
    frozen, open_plan = plan_for(spruce), plan_for(spruce, name="Second mats")
    reserve_project(pk=frozen.pk)
    before = frozen.shades.get().grist

    save_yarn(facts=YarnFacts(name="Plain cotton", measured=_finer(before)), pk=spruce.yarn_id)

    assert frozen.shades.get().grist == before
    assert frozen.shades.get().grist_moved
    assert open_plan.shades.get().grist == _finer(before)
    assert not open_plan.shades.get().grist_moved


def _finer(grist):
    return type(grist)(grist.length_um * 11, grist.mass_mg * 10)


def test_a_frozen_project_takes_the_new_figure_when_told(spruce):
    project = plan_for(spruce)
    reserve_project(pk=project.pk)
    moved = _finer(spruce.yarn.grist)
    save_yarn(facts=YarnFacts(name="Plain cotton", measured=moved), pk=spruce.yarn_id)
    take_new_grist(pk=project.pk)
    row = project.shades.get()
    assert (row.grist, row.grist_moved) == (moved, False)
    assert Project.objects.get().version == project.version + 1


def test_name_day_and_rank_follow_to_the_claim_at_once(spruce):
    project = plan_for(spruce)
    reserve_project(pk=project.pk)
    save_project(facts=facts(spruce, name="Weir mats", need_on=date(2031, 5, 1), rank=2), pk=project.pk)
    claim = Project.objects.get().claim
    assert (claim.name, claim.need_on, claim.rank) == ("Weir mats", date(2031, 5, 1), 2)


def test_a_shade_that_was_retired_meanwhile_stays_in_the_plan_that_has_it(spruce, owner):
    cone = make_cone(spruce, by=owner)
    project = plan_for(spruce)
    retire_cone(pk=cone.pk, by=owner, reason="sold")
    retire_shade(pk=spruce.pk)

    save_project(facts=facts(spruce, note="still"), pk=project.pk)
    outcome = reserve_project(pk=project.pk)

    assert project.shades.select_related("shade").get().shade.retired_at
    assert outcome.short_keys == ["A"]
    with pytest.raises(Refusal, match="retired or gone"):
        plan_for(spruce, name="Second mats")


def test_a_project_that_holds_yarn_is_not_put_away(spruce):
    make_cone(spruce)
    project = plan_for(spruce)
    reserve_project(pk=project.pk)
    with pytest.raises(Refusal, match="Release it first"):
        put_away(pk=project.pk)
    release_project(pk=project.pk)
    assert put_away(pk=project.pk).closed_at
    assert not Project.objects.open().exists()
    assert put_away(pk=project.pk, back=True).closed_at is None


def test_a_project_that_only_misses_yarn_is_put_away_and_misses_it_no_more(spruce):
    project = plan_for(spruce)
    reserve_project(pk=project.pk)
    assert Shortage.objects.exists()
    put_away(pk=project.pk)
    assert not Shortage.objects.exists()
    assert_books_agree()


def test_who_needs_yarn_first_comes_first(spruce):
    for name, day, rank in (("C", None, 1), ("B", date(2031, 1, 2), 1), ("A", date(2031, 1, 1), 9)):
        plan_for(spruce, name=name, need_on=day, rank=rank)
    plan_for(spruce, name="D", need_on=date(2031, 1, 1), rank=1)
    assert [project.name for project in Project.objects.by_need()] == ["D", "A", "B", "C"]
