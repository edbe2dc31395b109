"""Trials: a changed copy beside the first plan, which holds nothing, and the choice between the two."""

from dataclasses import replace

import pytest
from django.db import transaction
from django.utils import timezone

from projects.judging import judge_all
from projects.models import Project, Stage
from projects.services.fairs import set_fair
from projects.services.planning import put_away
from projects.services.reserving import reserve_project
from projects.services.trials import Change, drop_trial, keep_both, keep_instead, make_trial
from stash.calc.verdict import Verdict
from stash.models import Loom
from stash.services.refusal import Refusal
from tests.books import assert_books_agree
from tests.factories import make_cone, make_shade
from tests.projects.shortages import mats, mats_plan, yard_yarn
from tests.projects.test_fairs import make_fair

pytestmark = pytest.mark.django_db


@pytest.fixture
def shades(owner):
    yarn = yard_yarn()
    found = {"A": make_shade("Spruce", yarn), "B": make_shade("Rust", yarn)}
    make_cone(found["A"], grams=100, lot="1", by=owner)
    make_cone(found["B"], grams=30, lot="1", by=owner)
    return found


@pytest.fixture
def first(shades):
    return mats(shades, occasion="Spring fair", note="For the long table.", rank=3)


def fewer(project: Project, pieces: int = 3, **fields) -> Change:
    return Change(
        f"{pieces} mats",
        replace(project.plan, pieces=pieces),
        {row.key: row.shade_id for row in project.shades.all()},
        fields,
    )


def test_a_trial_is_a_changed_copy_marked_as_such(first):
    trial = make_trial(pk=first.pk, change=fewer(first))
    assert (trial.name, trial.trial_of) == ("Plain mats, 3 mats", first)
    assert trial.plan == replace(first.plan, pieces=3)
    assert (trial.occasion, trial.note, trial.rank) == ("Spring fair", "For the long table.", 3)
    first.refresh_from_db()
    assert (first.pieces, first.version) == (5, 1)


def test_the_needs_of_a_trial_are_its_own(first):
    trial = make_trial(pk=first.pk, change=fewer(first))
    ((_, judged),) = judge_all([trial])
    assert judged.state == Verdict.ENOUGH
    assert {row.key: row.ends for row in trial.shades.all()} == {"A": 10, "B": 0}


def test_a_trial_competes_with_nobody(first):
    trial = make_trial(pk=first.pk, change=fewer(first))
    for listed in (Project.objects.open(), Project.objects.to_weave(), Project.objects.no_trials()):
        assert list(listed) == [first]
    with pytest.raises(Refusal, match="A trial holds no yarn"):
        reserve_project(pk=trial.pk)
    trial.refresh_from_db()
    assert trial.claim is None
    assert_books_agree()


def test_a_trial_is_judged_as_its_project_so_that_what_that_holds_is_free_for_it(first):
    reserve_project(pk=first.pk)
    first.refresh_from_db()
    trial = Project.objects.get(pk=make_trial(pk=first.pk, change=fewer(first)).pk)
    assert trial.judged_as == first.claim_id


def test_a_frozen_length_per_mass_holds_for_the_trial_too(first, shades):
    reserve_project(pk=first.pk)
    frozen = list(first.shades.values_list("key", "frozen_um", "frozen_mg"))
    trial = make_trial(pk=first.pk, change=fewer(first))
    assert list(trial.shades.values_list("key", "frozen_um", "frozen_mg")) == frozen
    assert frozen[0][1] is not None


def test_a_loom_and_a_way_of_dressing_go_with_the_change(first):
    loom = Loom.objects.create(name="Great loom", weaving_width_um=1_000_000, shafts=4, waste_um=700_000)
    trial = make_trial(pk=first.pk, change=fewer(first, loom_id=loom.pk, dressing="tied_on"))
    trial.refresh_from_db()
    assert (trial.loom, trial.dressing) == (loom, "tied_on")


def test_another_trial_of_the_same_name_is_numbered(first):
    names = [make_trial(pk=first.pk, change=fewer(first)).name for _ in range(3)]
    assert names == ["Plain mats, 3 mats", "Plain mats, 3 mats (2)", "Plain mats, 3 mats (3)"]


def test_a_long_name_is_cut_and_stays_its_own(shades):
    project = mats(shades, name="x" * 120)
    names = [make_trial(pk=project.pk, change=fewer(project)).name for _ in range(2)]
    assert names == ["x" * 116 + " (2)", "x" * 116 + " (3)"]


def test_a_trial_of_a_trial_stands_under_the_same_project(first):
    trial = make_trial(pk=first.pk, change=fewer(first))
    second = make_trial(pk=trial.pk, change=fewer(trial, 2))
    assert second.trial_of == first
    assert second.pieces == 2


def test_a_plan_that_was_changed_meanwhile_is_not_tried(first):
    with pytest.raises(Refusal, match="changed in another window"):
        make_trial(pk=first.pk, change=fewer(first), version=7)
    assert Project.objects.count() == 1


def test_what_is_put_away_is_not_tried(first):
    put_away(pk=first.pk)
    with pytest.raises(Refusal, match="put away"):
        make_trial(pk=first.pk, change=fewer(first))


def test_kept_instead_the_first_has_the_plan_and_stays_who_it_is(first):
    reserve_project(pk=first.pk)
    first.refresh_from_db()
    Project.objects.filter(pk=first.pk).update(stage=Stage.PLANNED, ticket_done=2)
    trial = make_trial(pk=first.pk, change=fewer(first, dressing="laced"))
    kept = keep_instead(pk=trial.pk, version=first.version)
    kept = Project.objects.get(pk=kept.pk)
    assert kept == first
    assert kept.plan == replace(mats_plan(), pieces=3)
    assert (kept.name, kept.occasion, kept.claim_id, kept.dressing, kept.ticket_done) == (
        "Plain mats",
        "Spring fair",
        first.claim_id,
        "laced",
        2,
    )
    assert kept.version == first.version + 1
    assert not Project.objects.filter(pk=trial.pk).exists()
    assert_books_agree()


def test_kept_instead_the_first_is_still_for_the_fair_that_was_chosen_meanwhile(first):
    trial = make_trial(pk=first.pk, change=fewer(first))
    fair = make_fair()
    set_fair(project_id=first.pk, fair_id=fair.pk)
    assert Project.objects.get(pk=keep_instead(pk=trial.pk).pk).fair == fair


def test_kept_instead_a_shade_of_the_trial_stands_in_the_first(first, owner):
    moss = make_shade("Moss", first.shades.get(key="B").shade.yarn)
    change = Change("Moss for Rust", first.plan, {"A": first.shades.get(key="A").shade_id, "B": moss.pk}, {})
    keep_instead(pk=make_trial(pk=first.pk, change=change).pk)
    assert first.shades.get(key="B").shade == moss


def test_a_first_plan_that_was_changed_meanwhile_is_not_overwritten(first):
    trial = make_trial(pk=first.pk, change=fewer(first))
    with pytest.raises(Refusal, match="changed in another window"):
        keep_instead(pk=trial.pk, version=7)
    first.refresh_from_db()
    assert (first.pieces, first.version) == (5, 1)
    assert Project.objects.filter(pk=trial.pk).exists()


def test_kept_both_the_trial_is_a_project_of_its_own(first):
    trial = make_trial(pk=first.pk, change=fewer(first))
    keep_both(pk=trial.pk)
    assert list(Project.objects.open()) == [first, trial]
    reserve_project(pk=trial.pk)


def test_dropped_the_first_stands_as_it_was(first):
    trial = make_trial(pk=first.pk, change=fewer(first))
    assert drop_trial(pk=trial.pk) == first
    assert list(Project.objects.all()) == [first]


def test_what_was_noted_with_a_trial_is_the_firsts_when_it_goes(first, owner):
    trial = make_trial(pk=first.pk, change=fewer(first))
    trial.notes.create(text="Looks thin.", by=owner, made_at=timezone.now())
    drop_trial(pk=trial.pk)
    assert first.notes.get().text == "Looks thin."


@pytest.mark.parametrize("decide", [keep_instead, keep_both, drop_trial])
def test_what_is_no_trial_is_not_decided_on(first, decide):
    with pytest.raises(Refusal, match="no trial any more"):
        decide(pk=first.pk)


def test_a_trial_that_cannot_be_written_leaves_nothing(first):
    change = replace(fewer(first), shades={"A": first.shades.get(key="A").shade_id, "B": 10**6})
    with pytest.raises(Refusal, match="retired or gone"), transaction.atomic():
        make_trial(pk=first.pk, change=change)
    assert Project.objects.count() == 1
