"""The pages of fairs: the list, one with its projects, the form, the choice, and the line on a project's page."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from projects.models import Fair, Project
from projects.services.fairs import set_fair
from tests.factories import make_shade
from tests.projects.factories import make_project
from tests.projects.test_fairs import make_fair
from tests.stash.reading import Read

DAY = timezone.localdate()
TYPED = {
    "name": "Spring fair",
    "place": "Market hall",
    "begins_on": "2027-06-19",
    "ends_on": "",
    "clear_days": "7",
}


def test_an_empty_list_offers_the_first_step_to_who_may_take_it(as_owner):
    assert Read(as_owner.get("/fairs/")).links["Note a fair"] == "/fairs/new/"


def test_a_viewer_is_told_and_offered_nothing(as_viewer):
    page = Read(as_viewer.get("/fairs/"))
    assert "When the owner has noted a fair" in page.text
    assert "/fairs/new/" not in page.links.values()


def test_the_next_stands_first_and_those_that_are_over_are_folded(as_viewer):
    make_fair("Late one", DAY + timedelta(days=90))
    make_fair("Next one", DAY + timedelta(days=9), ends_on=DAY + timedelta(days=10))
    make_fair("Old one", DAY - timedelta(days=9))
    make_fair("Going on", DAY - timedelta(days=1), ends_on=DAY)
    text = Read(as_viewer.get("/fairs/")).text
    order = [text.index(name) for name in ("Going on", "Next one", "Late one", "Past fairs: 1", "Old one")]
    assert order == sorted(order)
    assert "In 9 days" in text and "It has begun" in text


def test_a_fair_is_noted_by_its_form(as_owner):
    answer = as_owner.post("/fairs/new/", TYPED, follow=True)
    fair = Fair.objects.get()
    assert answer.redirect_chain == [(f"/fairs/{fair.pk}/", 302)]
    assert "Saturday 12 June 2027" in Read(answer).text


@pytest.mark.parametrize(
    ("typed", "field", "says"),
    [
        ({"begins_on": "next week"}, "begins_on", "Give a day of the calendar"),
        ({"begins_on": ""}, "begins_on", "Fill in"),
        ({"ends_on": "2027-06-18"}, "ends_on", "ends on the day it begins, or later"),
        ({"begins_on": "2072-06-19"}, "begins_on", "Check the year"),
        ({"begins_on": "0001-01-01"}, "begins_on", "all calendars"),
        ({"clear_days": "a week"}, "clear_days", ""),
        ({"clear_days": "121"}, "clear_days", "120"),
        ({"name": ""}, "name", "Fill in"),
        ({"name": "x" * 81}, "name", "80"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field_and_stays_typed(as_owner, typed, field, says):
    answer = as_owner.post("/fairs/new/", TYPED | typed)
    assert answer.status_code == 422
    assert says in " ".join(answer.context["form"].errors[field])
    assert Read(answer).fields["place"]["value"] == "Market hall"
    assert not Fair.objects.exists()


def test_a_past_fair_is_kept_and_said_to_be_over(as_owner):
    answer = as_owner.post("/fairs/new/", TYPED | {"begins_on": "2020-06-19"}, follow=True)
    assert "over already" in Read(answer).text


def test_a_fair_changed_elsewhere_shows_both_texts(as_owner):
    fair = make_fair(place="Hall")
    Fair.objects.update(version=2, place="Barn")
    answer = as_owner.post(f"/fairs/{fair.pk}/edit/", TYPED | {"place": "Tent", "version": "1"})
    assert answer.status_code == 422
    assert "Stands there now: Barn" in Read(answer).text
    page = Read(answer)
    assert (
        as_owner.post(
            f"/fairs/{fair.pk}/edit/", TYPED | {"place": "Tent", "version": page.fields["version"]["value"]}
        ).status_code
        == 302
    )
    assert Fair.objects.get().place == "Tent"


def test_removing_says_first_what_it_does(as_owner):
    fair, project = make_fair(), make_project({"A": make_shade("Oat")}, "Oat mats")
    set_fair(project_id=project.pk, fair_id=fair.pk)
    page = Read(as_owner.get(f"/fairs/{fair.pk}/remove/"))
    assert "These projects stay as they are" in page.text and "Oat mats" in page.text
    assert as_owner.post(f"/fairs/{fair.pk}/remove/").url == "/fairs/"
    assert not Fair.objects.exists() and Project.objects.get().fair is None


def test_projects_are_chosen_by_ticks_and_taken_out_again(as_owner):
    fair = make_fair()
    a, b = (make_project({"A": make_shade(name)}, f"{name} mats") for name in ("Oat", "Rye"))
    offered = [a.pk, b.pk]
    there = f"/fairs/{fair.pk}/projects/"
    answer = as_owner.post(there, {"offered": offered, "projects": [b.pk]}, follow=True)
    assert "1 project added" in Read(answer).text
    assert list(fair.projects.all()) == [b]
    assert "Rye mats" in [row[0] for row in Read(answer).rows if row]
    answer = as_owner.post(there, {"offered": offered, "was": [b.pk]}, follow=True)
    assert "1 project taken out" in Read(answer).text
    for wrong in ({"offered": "x"}, {"offered": [999], "projects": [999]}):
        assert "Read the page again" in Read(as_owner.post(there, wrong, follow=True)).text
    assert not fair.projects.exists()


def test_a_second_window_does_not_take_out_what_the_first_put_in(as_owner):
    fair = make_fair()
    a, b, c = (make_project({"A": make_shade(name)}, f"{name} mats") for name in ("Oat", "Rye", "Elm"))
    set_fair(project_id=c.pk, fair_id=fair.pk)
    page = as_owner.get(f"/fairs/{fair.pk}/").content.decode()
    assert re.findall(r'name="was" value="(\d+)"', page) == [str(c.pk)]
    opened = {"offered": [a.pk, b.pk, c.pk], "was": [c.pk]}
    as_owner.post(f"/fairs/{fair.pk}/projects/", opened | {"projects": [a.pk, c.pk]})
    as_owner.post(f"/fairs/{fair.pk}/projects/", opened | {"projects": [b.pk]})
    assert set(fair.projects.all()) == {a, b}


def test_a_trial_is_not_counted_with_the_projects_of_a_past_fair(as_viewer):
    fair = make_fair("Old one", DAY - timedelta(days=9))
    project = make_project({"A": make_shade("Oat")}, "Oat mats")
    trial = make_project({"A": make_shade("Rye")}, "Oat mats, 3 mats")
    Project.objects.update(fair=fair)
    Project.objects.filter(pk=trial.pk).update(trial_of=project)
    assert "1 project" in Read(as_viewer.get("/fairs/")).text


def test_a_project_is_given_to_a_fair_on_its_own_page(as_owner):
    fair, project = make_fair(), make_project({"A": make_shade("Oat")}, "Oat mats")
    page = as_owner.get(f"/projects/{project.pk}/")
    assert "For a fair?" in Read(page).text
    answer = as_owner.post(f"/projects/{project.pk}/fair/", {"fair": fair.pk}, follow=True)
    assert "Oat mats must be ready for Spring fair." in Read(answer).text
    assert Project.objects.get().version == project.version
    answer = as_owner.post(f"/projects/{project.pk}/fair/", {"fair": "77"}, follow=True)
    assert "not in the list any more" in Read(answer).text
    as_owner.post(f"/projects/{project.pk}/fair/", {"fair": ""})
    assert Project.objects.get().fair is None


def test_a_projects_page_says_when_its_days_lie_too_late_for_its_fair(as_viewer):
    fair = make_fair(clear_days=7)
    project = make_project({"A": make_shade("Oat")}, need_on=DAY + timedelta(days=20))
    Project.objects.update(fair=fair, off_on=fair.begins_on)
    there = f"/projects/{project.pk}/"
    assert "It comes off the loom 7 days after the day to be ready." in Read(as_viewer.get(there)).text
    Project.objects.update(off_on=fair.begins_on - timedelta(days=20))
    assert "after the day to be ready" not in Read(as_viewer.get(there)).text


def test_a_viewer_reads_for_which_fair_it_is_and_may_not_choose(as_viewer):
    fair, project = make_fair(), make_project({"A": make_shade("Oat")})
    set_fair(project_id=project.pk, fair_id=fair.pk)
    page = Read(as_viewer.get(f"/projects/{project.pk}/"))
    assert "Must be ready for Spring fair" in page.text
    assert f"/projects/{project.pk}/fair/" not in [form.get("action") for form in page.forms]
    page = Read(as_viewer.get(f"/fairs/{fair.pk}/"))
    assert "Plain mats" in page.text and "Choose the projects" not in page.text


def test_without_fairs_a_project_says_nothing_of_them(as_owner):
    project = make_project({"A": make_shade("Oat")})
    text = Read(as_owner.get(f"/projects/{project.pk}/")).text
    assert "For a fair?" not in text and "Must be ready for" not in text


@pytest.mark.parametrize("there", ["/fairs/", "/fairs/{}/"])
def test_twice_the_fairs_and_projects_ask_the_database_no_more(as_owner, there):
    def asked():
        with CaptureQueriesContext(connection) as caught:
            assert as_owner.get(there.format(first.pk)).status_code == 200
        return len(caught)

    first = make_fair()
    make_project({"A": make_shade("A")}, "A")
    Project.objects.update(fair=first)
    asked()
    few = asked()
    for name in "BCD":
        make_fair(name)
        make_project({"A": make_shade(name)}, name)
    Project.objects.update(fair=first)
    assert asked() == few
