"""Reserve, release, put away, take the new figure: from the page, with what it says."""

import pytest
from django.urls import reverse

from projects.models import Project
from stash.calc.grist import Grist
from stash.models import Cone, Yarn
from stash.services.yarns import YarnFacts, save_yarn
from tests.factories import make_cone, make_shade
from tests.projects.factories import make_project


@pytest.fixture
def spruce(owner):
    return make_shade("Spruce")


@pytest.fixture
def project(spruce, owner):
    make_cone(spruce, grams=5, by=owner, lot="7")
    return make_project({"A": spruce})


def act(client, name, project, **data):
    return client.post(reverse(name, args=[project.pk]), data, follow=True).content.decode()


def test_a_helper_reserves_and_hears_that_the_buffer_is_in_it(as_helper, project):
    assert "The buffer is in it." in act(as_helper, "project-reserve", project, version="1")
    assert Cone.objects.get().reserved_mg > 0


def test_what_did_not_suffice_is_said_and_kept_as_a_shortage(as_owner, spruce, owner):
    make_cone(spruce, grams=1, by=owner)
    project = make_project({"A": spruce})
    said = act(as_owner, "project-reserve", project)
    assert "Spruce did not suffice" in said
    assert "Shortage kept:" in said


def test_release_makes_all_of_it_free_again(as_owner, project):
    act(as_owner, "project-reserve", project)
    assert "free again" in act(as_owner, "project-release", project)
    assert Cone.objects.get().reserved_mg == 0


def test_reserving_a_plan_that_changed_meanwhile_is_refused(as_owner, project):
    Project.objects.update(version=7)
    assert "changed in another window" in act(as_owner, "project-reserve", project, version="1")
    assert Cone.objects.get().reserved_mg == 0


@pytest.mark.parametrize("version", ["", "x", "-1", "9" * 30])
def test_a_version_that_cannot_be_read_is_no_crash(as_owner, project, version):
    answer = as_owner.post(reverse("project-reserve", args=[project.pk]), {"version": version})
    assert answer.status_code == 302


def test_a_project_that_holds_yarn_is_not_put_away(as_owner, project):
    act(as_owner, "project-reserve", project)
    assert "Release it first" in act(as_owner, "project-put-away", project)
    project.refresh_from_db()
    assert project.closed_at is None


def test_a_project_is_put_away_and_taken_out_again(as_owner, project):
    act(as_owner, "project-put-away", project)
    listed = as_owner.get(reverse("projects")).content.decode()
    assert reverse("project-page", args=[project.pk]) not in listed
    put_away = as_owner.get(reverse("projects"), {"away": "1"}).content.decode()
    assert reverse("project-page", args=[project.pk]) in put_away
    act(as_owner, "project-put-away", project, back="1")
    project.refresh_from_db()
    assert project.closed_at is None


def test_the_figure_of_the_first_reservation_stays_until_a_person_takes_the_new_one(as_owner, project):
    act(as_owner, "project-reserve", project)
    yarn = Yarn.objects.get()
    save_yarn(
        facts=YarnFacts(name=yarn.name, count=yarn.count, measured=Grist.from_yd_per_lb(3200)), pk=yarn.pk
    )
    page = as_owner.get(reverse("project-page", args=[project.pk])).content.decode()
    assert "is now put at 3,200 yd/lb" in page
    assert "reckons with 3,360 yd/lb" in page
    act(as_owner, "project-new-grist", project)
    assert project.shades.get().grist == Grist.from_yd_per_lb(3200)


@pytest.mark.parametrize(
    "name", ["project-reserve", "project-release", "project-new-grist", "project-put-away"]
)
def test_actions_are_sent_never_opened(as_owner, project, name):
    assert as_owner.get(reverse(name, args=[project.pk])).status_code == 405


@pytest.mark.parametrize(
    "name", ["project-reserve", "project-release", "project-new-grist", "project-put-away"]
)
def test_an_action_on_a_project_that_is_gone_is_not_found(as_owner, name):
    assert as_owner.post(reverse(name, args=[999])).status_code == 404
