"""A project moves along the trade's steps, and no step moves stock."""

import pytest
from django.urls import reverse

from projects.models import Project, ProjectNote, Stage
from projects.services.planning import put_away
from projects.services.reserving import release_project, reserve_project
from projects.services.stages import set_stage, step_after, weigh_cones_back, wind_warp
from projects.services.trials import Change, make_trial
from stash.models import Cone, Entry, Loom, Reservation
from stash.models.claim import Use
from stash.services.refusal import Refusal
from stash.services.using import Back
from tests.factories import GRAM, make_cone, make_project, make_shade

pytestmark = pytest.mark.django_db


@pytest.fixture
def project(owner):
    shade = make_shade("Spruce")
    make_cone(shade, by=owner)
    return make_project("Lantern mats", shade)


@pytest.fixture
def reserved(project):
    reserve_project(pk=project.pk)
    project.refresh_from_db()
    return project


@pytest.fixture
def loom():
    return Loom.objects.create(
        name="Floor loom", weaving_width_um=10**6, shafts=4, waste_um=700_000, left_um=2_000_000, left_ends=168,
        left_of="Last year's mats",
    )  # fmt: skip


def stock() -> list[tuple[int, int]]:
    return list(Cone.objects.order_by("pk").values_list("on_hand_mg", "reserved_mg"))


def test_the_steps_follow_each_other_to_the_last():
    found, step = [], Stage.PLANNED
    while step:
        found.append(step)
        step = step_after(step)
    assert found == list(Stage)


def test_a_step_is_written_with_its_day_and_who_took_it(project, owner):
    set_stage(pk=project.pk, stage=Stage.WEAVING, by=owner)
    project.refresh_from_db()
    note = ProjectNote.objects.get()
    assert project.stage == "weaving"
    assert (note.project, note.by, note.stage, note.text) == (project, owner, "weaving", "Being woven.")


@pytest.mark.parametrize("stage", [stage for stage in Stage if stage not in (Stage.PLANNED, Stage.DONE)])
def test_no_step_changes_stock(reserved, owner, stage):
    before, entries = stock(), Entry.objects.count()
    set_stage(pk=reserved.pk, stage=stage, by=owner)
    assert (stock(), Entry.objects.count()) == (before, entries)
    assert Reservation.objects.filter(claim=reserved.claim_id).exists()


def test_what_still_holds_yarn_is_not_done(reserved, owner):
    with pytest.raises(Refusal, match="still holds yarn"):
        set_stage(pk=reserved.pk, stage=Stage.DONE, by=owner)
    release_project(pk=reserved.pk)
    assert set_stage(pk=reserved.pk, stage=Stage.DONE, by=owner).stage == "done"


def test_two_who_press_the_same_button_move_it_once(project, owner, helper):
    set_stage(pk=project.pk, stage=Stage.WOUND, by=owner, stood="planned")
    with pytest.raises(Refusal, match="stands at “warp wound” already"):
        set_stage(pk=project.pk, stage=Stage.WOUND, by=helper, stood="planned")
    assert ProjectNote.objects.count() == 1


def test_a_step_that_it_stands_at_is_no_move(project, owner):
    with pytest.raises(Refusal, match="already"):
        set_stage(pk=project.pk, stage=Stage.PLANNED, by=owner)
    assert not ProjectNote.objects.exists()


def test_a_project_put_away_or_gone_does_not_move(project, owner):
    put_away(pk=project.pk)
    with pytest.raises(Refusal, match="put away"):
        set_stage(pk=project.pk, stage=Stage.WOUND, by=owner)
    with pytest.raises(Refusal, match="no such project"):
        set_stage(pk=0, stage=Stage.WOUND, by=owner)


def test_a_plan_that_is_being_tried_is_at_no_step(project, owner):
    shades = {row.key: row.shade_id for row in project.shades.all()}
    trial = make_trial(pk=project.pk, change=Change("another", project.plan, shades, {}))
    with pytest.raises(Refusal, match="being tried"):
        set_stage(pk=trial.pk, stage=Stage.WOUND, by=owner)


def test_a_step_leaves_the_version_alone_so_that_an_open_plan_form_still_saves(project, owner):
    set_stage(pk=project.pk, stage=Stage.WOUND, by=owner)
    assert Project.objects.get(pk=project.pk).version == project.version


def test_winding_turns_the_reserved_warp_into_use_and_the_plan_into_a_wound_warp(reserved, owner):
    (entry,) = wind_warp(pk=reserved.pk, by=owner)
    reserved.refresh_from_db()
    assert (entry.kind, reserved.stage) == ("wound", "wound")
    assert set(Reservation.objects.values_list("use", flat=True)) == {Use.WEFT}
    assert ProjectNote.objects.get().stage == "wound"


def test_winding_late_does_not_set_the_step_back(reserved, owner):
    set_stage(pk=reserved.pk, stage=Stage.WEAVING, by=owner)
    wind_warp(pk=reserved.pk, by=owner)
    reserved.refresh_from_db()
    assert reserved.stage == "weaving"


def test_a_warp_that_cannot_be_marked_as_wound_leaves_the_step(project, owner):
    with pytest.raises(Refusal, match="No warp is reserved"):
        wind_warp(pk=project.pk, by=owner)
    project.refresh_from_db()
    assert project.stage == "planned" and not ProjectNote.objects.exists()


def test_the_last_cone_weighed_back_ends_a_finished_project(reserved, owner):
    wind_warp(pk=reserved.pk, by=owner)
    set_stage(pk=reserved.pk, stage=Stage.FINISHED, by=owner)
    cone = Cone.objects.get()
    weigh_cones_back(pk=reserved.pk, backs={cone.pk: Back(100 * GRAM, gross=False)}, by=owner)
    reserved.refresh_from_db()
    assert reserved.stage == "done"


def test_a_cone_weighed_back_in_the_middle_ends_nothing(reserved, owner):
    wind_warp(pk=reserved.pk, by=owner)
    cone = Cone.objects.get()
    weigh_cones_back(pk=reserved.pk, backs={cone.pk: Back(100 * GRAM, gross=False)}, by=owner)
    reserved.refresh_from_db()
    assert reserved.stage == "wound"


@pytest.mark.parametrize(("dressing", "word"), [("tied_on", "were tied on to"), ("tied", "were taken off")])
def test_another_warp_on_the_loom_ends_what_was_left_there(project, owner, loom, dressing, word):
    Project.objects.update(loom=loom, dressing=dressing)
    set_stage(pk=project.pk, stage=Stage.DRESSED, by=owner)
    loom.refresh_from_db()
    assert (loom.left_um, loom.left_ends, loom.left_of, loom.version) == (0, 0, "", 2)
    text = ProjectNote.objects.get().text
    assert "168 ends of Last year's mats that were left on Floor loom" in text and word in text


# Pages


def page(client, project):
    return client.get(reverse("project-page", args=[project.pk]))


def test_the_page_marks_the_present_step_and_says_when_the_others_were(as_owner, project, owner):
    set_stage(pk=project.pk, stage=Stage.WOUND, by=owner)
    text = page(as_owner, project).content.decode()
    assert '<li class="now" aria-current="step"><span>warp wound</span><time' in text
    assert '<li class="past"><span>planned</span></li>' in text
    assert '<li class="ahead"><span>being woven</span></li>' in text


def test_the_button_leads_to_the_next_step(as_helper, project):
    onward = page(as_helper, project).context["steps"].onward
    assert (onward.stage, onward.href) == (Stage.WOUND, "")
    address = reverse("project-stage", args=[project.pk])
    answer = as_helper.post(address, {"stage": "wound", "stood": "planned"}, follow=True)
    assert "stands at “warp wound” now. Nothing changed on the shelf." in answer.content.decode()
    project.refresh_from_db()
    assert project.stage == "wound"


def test_the_button_of_a_reserved_warp_leads_to_marking_it_as_wound(as_helper, reserved):
    assert page(as_helper, reserved).context["steps"].onward.href == reverse(
        "project-wound", args=[reserved.pk]
    )
    as_helper.post(reverse("project-wound", args=[reserved.pk]))
    reserved.refresh_from_db()
    assert reserved.stage == "wound"


def test_the_button_of_a_finished_project_that_holds_yarn_leads_to_weighing_back(as_helper, reserved, owner):
    set_stage(pk=reserved.pk, stage=Stage.FINISHED, by=owner)
    onward = page(as_helper, reserved).context["steps"].onward
    assert onward.href == reverse("project-weigh-back", args=[reserved.pk])


def test_whoever_wants_to_cut_off_is_asked_what_is_left_first(as_helper, project):
    address = reverse("project-stage", args=[project.pk])
    answer = as_helper.post(address, {"stage": "cut_off", "stood": "planned"})
    assert answer.url == reverse("project-cut-off", args=[project.pk])
    project.refresh_from_db()
    assert project.stage == "planned"


@pytest.mark.parametrize(
    "data", [{}, {"stage": "sold"}, {"stage": ""}, {"stage": "wound", "stood": "weaving"}]
)
def test_a_step_that_is_none_is_refused_in_words(as_helper, project, data):
    answer = as_helper.post(reverse("project-stage", args=[project.pk]), data, follow=True)
    assert answer.status_code == 200 and 'class="error"' in answer.content.decode()
    project.refresh_from_db()
    assert project.stage == "planned"


def test_a_visitor_sees_the_steps_and_no_button(as_viewer, project):
    text = page(as_viewer, project).content.decode()
    assert 'aria-current="step"' in text
    assert reverse("project-stage", args=[project.pk]) not in text


def test_a_warp_left_on_the_loom_is_spoken_of_before_another_goes_on(as_owner, project, owner, loom):
    set_stage(pk=project.pk, stage=Stage.WOUND, by=owner)
    Project.objects.update(loom=loom)
    text = page(as_owner, project).content.decode()
    assert (
        "168 ends of Last year&#x27;s mats are left on Floor loom; this step says that they are used up."
        in text
    )


def test_the_list_shows_the_steps_and_keeps_the_filter_in_its_address(as_owner, project, owner):
    other = make_project("Heath scarves")
    set_stage(pk=project.pk, stage=Stage.WEAVING, by=owner)
    answer = as_owner.get(reverse("projects"), {"stage": "weaving", "q": "mats"})
    assert [row.project for row in answer.context["rows"]] == [project]
    text = answer.content.decode()
    assert '<option value="weaving" selected>being woven</option>' in text
    assert '<td data-l="step">being woven</td>' in text and "Under way." in text
    assert "stage=weaving" in text  # what sorts the list keeps the filter
    assert [
        row.project for row in as_owner.get(reverse("projects"), {"stage": "planned"}).context["rows"]
    ] == [other]


def test_a_step_that_nobody_is_at_says_so_and_an_unknown_one_filters_nothing(as_owner, project):
    assert (
        "No project stands at this step."
        in as_owner.get(reverse("projects"), {"stage": "done"}).content.decode()
    )
    assert len(as_owner.get(reverse("projects"), {"stage": "sold"}).context["rows"]) == 1


def test_a_project_under_way_waits_for_nothing(project, owner):
    assert project in Project.objects.to_weave()
    set_stage(pk=project.pk, stage=Stage.DRESSED, by=owner)
    assert project not in Project.objects.to_weave()
