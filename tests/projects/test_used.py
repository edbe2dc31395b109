"""What a project really took: marked as wound, weighed back, told against the plan."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from projects.models import Project
from projects.services.reserving import reserve_project
from projects.used import used_of
from stash.models import Cone, Person, Reservation, Role
from stash.services.refusal import Refusal
from stash.services.undoing import latest, take_back
from tests.factories import make_cone, make_shade
from tests.projects.factories import make_project
from tests.stash.reading import Read
from tests.stash.sending import send


@pytest.fixture
def cone(owner):
    return make_cone(make_shade("Spruce"), 500, by=owner, lot="7", code="K-1")


@pytest.fixture
def project(cone):
    project = make_project({"A": cone.shade})
    reserve_project(pk=project.pk)
    project.refresh_from_db()
    return project


def said(client, answer):
    assert answer.status_code == 302, Read(answer).errors
    return Read(client.get(answer.url)).text


def wound(client, project):
    return send(client, "project-wound", project.pk)


def reserved(use):
    return sum(line.mass_mg for line in Reservation.objects.filter(use=use))


def test_marking_says_first_what_goes_and_then_counts_it_once(as_helper, project, cone):
    warp, weft = reserved("warp"), reserved("weft")
    page = Read(as_helper.get(reverse("project-wound", args=[project.pk])))
    assert "so that it counts once" in page.text and page.row("K-1")
    assert "The weft stays reserved." in said(as_helper, wound(as_helper, project))
    cone.refresh_from_db()
    assert (cone.on_hand_mg, cone.reserved_mg) == (500_000 - warp, weft)
    again = wound(as_helper, project)
    assert again.status_code == 422
    assert "No warp is reserved" in Read(again).text
    assert Cone.objects.get().on_hand_mg == 500_000 - warp


def test_weighing_back_tells_what_it_took_against_the_plan(as_helper, project, cone):
    wound(as_helper, project)
    text = said(as_helper, send(as_helper, "project-weigh-back", project.pk, **{f"cone-{cone.pk}": "490"}))
    assert "1 cone is weighed back." in text
    assert "What it took" in text and "Spruce 10 g" in text
    assert Cone.objects.get().reserved_mg == 0
    (line,) = used_of(Project.objects.with_shades().get())
    assert line.used_mg == 10_000
    row = line.row
    assert line.plan_um == row.ends * project.warp_um + row.need().weft_um(project.pieces)


def test_once_yarn_was_taken_nothing_is_reserved_anew(as_helper, project, cone):
    wound(as_helper, project)
    page = Read(as_helper.get(reverse("project-page", args=[project.pk])))
    assert not {"Reserve", "Reserve again"} & set(page.buttons)
    assert "Yarn was taken for this project." in page.text
    with pytest.raises(Refusal, match="it would count twice"):
        reserve_project(pk=project.pk)
    take_back(entry_id=latest(cone).pk, by=cone.entries.first().by)
    reserve_project(pk=project.pk)


def test_today_asks_no_yarn_for_what_is_wound(as_helper, project, cone):
    assert project in Project.objects.to_weave()
    wound(as_helper, project)
    assert project not in Project.objects.to_weave()
    take_back(entry_id=latest(cone).pk, by=cone.entries.first().by)
    assert project in Project.objects.to_weave()


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("", "what the scale says of one cone at least"),
        ("501", "more yarn than was on the cone before"),
        ("a lot", "cannot be read as a number"),
        ("-1", "less than nothing"),
    ],
)
def test_what_cannot_be_weighed_back_is_refused_and_kept(as_helper, project, cone, typed, says):
    refused = send(as_helper, "project-weigh-back", project.pk, **{f"cone-{cone.pk}": typed})
    assert refused.status_code == 422
    assert says in Read(refused).text
    assert Read(refused).value(f"cone-{cone.pk}") == typed
    assert Cone.objects.get().on_hand_mg == 500_000


def test_a_project_that_holds_nothing_says_so(as_helper, cone):
    project = make_project({"A": cone.shade})
    for name in ("project-wound", "project-weigh-back"):
        page = Read(as_helper.get(reverse(name, args=[project.pk])))
        assert page.changing_forms() == []
        assert send(as_helper, name, project.pk).status_code == 422


def test_a_viewer_reads_what_it_took_and_finds_no_way_to_change_it(as_viewer, project):
    links = Read(as_viewer.get(reverse("project-page", args=[project.pk]))).links
    assert not {"Mark the warp as wound", "Weigh back"} & set(links)


@pytest.mark.parametrize("name", ["project-page", "project-wound", "project-weigh-back"])
def test_twice_the_cones_take_the_same_number_of_queries(as_helper, owner, name):
    shade = make_shade("Rust")
    for code in ("K-5", "K-6"):
        make_cone(shade, 4, by=owner, lot="7", code=code)
    project = make_project({"A": shade})
    reserve_project(pk=project.pk)
    counts = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as caught:
            as_helper.get(reverse(name, args=[project.pk]))
        counts.append(len(caught))
        for _ in range(4):
            make_cone(shade, 2, by=owner, lot="7")
        reserve_project(pk=project.pk)
    assert counts[0] == counts[1], [query["sql"] for query in caught]


def test_the_list_says_how_far_it_is_in_place_of_a_shortage_ahead(as_helper, project, cone):
    def row():
        return Read(as_helper.get(reverse("projects"))).row("Plain mats")[4]

    before = row()
    wound(as_helper, project)
    assert row().startswith("Wound: the yarn of its warp is taken")
    assert "Short" not in row() and before not in row()
    assert Read(as_helper.get(reverse("projects"))).links["What it took by Plain mats"].endswith("#took")
    take_back(entry_id=latest(cone).pk, by=project_owner())
    assert row().startswith(before.removesuffix("Yarn is put aside.").strip())


def project_owner():
    return Person.objects.get(role=Role.OWNER)
