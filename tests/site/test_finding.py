"""One search over all that has a name, and where a claim is shown."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from stash.models import Claim, Cone, Place, Shade, Yarn
from stash.services.cones import change_cone
from stash.services.reserving import Wanted, reserve
from tests.factories import ClaimFactory, make_cone, make_project, make_shade, make_yarn


def titles(answer):
    return {group.title: [found.name for found in group.found] for group in answer.context["groups"]}


@pytest.fixture
def shelf(studio):
    spruce = make_shade("Spruce")
    make_shade("Maïs", make_yarn("Fine linen", "16/2"))
    return make_cone(spruce, lot="A17", place="North shelf", code="K-007")


def test_a_shade_is_found_by_its_name_whatever_capitals_and_accents(as_viewer, shelf):
    assert titles(as_viewer.get("/find/?q=SPRUCE"))["Shades"] == ["Spruce"]
    assert titles(as_viewer.get("/find/?q=mais"))["Shades"] == ["Maïs"]


def test_a_shade_is_found_by_its_yarn_and_all_words_must_fit(as_viewer, shelf):
    assert titles(as_viewer.get("/find/?q=linen+mais"))["Shades"] == ["Maïs"]
    assert titles(as_viewer.get("/find/?q=linen+spruce")) == {}


def test_a_lot_is_found_by_its_name_with_or_without_its_shade(as_viewer, shelf):
    assert titles(as_viewer.get("/find/?q=a17"))["Dye lots"] == ["Lot A17"]
    assert titles(as_viewer.get("/find/?q=spruce+a17"))["Dye lots"] == ["Lot A17"]
    assert "Dye lots" not in titles(as_viewer.get("/find/?q=spruce"))


def test_a_place_leads_to_what_stands_there(as_viewer, shelf):
    (group,) = as_viewer.get("/find/?q=north").context["groups"]
    assert group.found[0].href == f"/yarn/?place={Place.objects.get().pk}"


def test_a_whole_code_leads_straight_to_the_cone(as_viewer, shelf):
    answer = as_viewer.get("/find/?q=+k-007+")
    assert (answer.status_code, answer.url) == (302, f"/yarn/cones/{shelf.pk}/")


def test_a_part_of_a_code_lists_the_cones(as_viewer, shelf):
    (group,) = as_viewer.get("/find/?q=k-00").context["groups"]
    assert (group.title, group.found[0].name) == ("Cones", "K-007")
    assert group.found[0].about == "Spruce, Plain cotton, 500 g on hand, North shelf"


def test_projects_are_found_by_name_and_occasion_and_closed_ones_say_so(as_viewer, studio):
    make_project("Lantern mats", occasion="Harvest fair")
    closed = make_project("Tea towels", occasion="Harvest fair")
    type(closed).objects.filter(pk=closed.pk).update(closed_at=timezone.now())
    (group,) = as_viewer.get("/find/?q=harvest").context["groups"]
    assert {found.name: found.about for found in group.found} == {
        "Lantern mats": "Harvest fair",
        "Tea towels": "Harvest fair, put away",
    }


def test_notes_of_shades_cones_and_projects_are_searched(as_viewer, studio):
    make_cone(make_shade("Oat", note="washes soft"), code="X-1", note="Knots near the core")
    make_project("Towels", note="Warp the Knots side first")
    assert titles(as_viewer.get("/find/?q=washes")) == {"Shades": ["Oat"]}
    assert titles(as_viewer.get("/find/?q=knots")) == {"Cones": ["X-1"], "Projects": ["Towels"]}
    assert titles(as_viewer.get("/find/?q=knots+moon")) == {}


@pytest.mark.parametrize("typed", ["größe", "GRÖSSE", "grosse", "GroSSe"])
def test_notes_are_searched_whatever_capitals_and_accents(as_viewer, studio, typed):
    yarn = make_yarn(note="Größe M")
    cone = make_cone(make_shade("Oat", yarn, note="Größe S"), code="X-1", note="Größe L")
    make_project("Towels", cone.shade, note="GRÖSSE XL")
    assert titles(as_viewer.get("/find/", {"q": typed})) == {
        "Shades": ["Oat"],
        "Cones": ["X-1"],
        "Projects": ["Towels"],
    }
    assert [shade.name for shade in Shade.objects.sought(typed)] == ["Oat"]
    assert list(Yarn.objects.matching(typed)) == [yarn]


def test_a_note_that_is_changed_or_cleared_is_not_found_any_more(studio, owner):
    cone = make_cone(code="X-1", note="Knots")
    facts = {"code": "X-1", "lot": "", "form": "cone", "core_mg": None, "place": "", "by": owner}
    change_cone(pk=cone.pk, version=None, note="Slubs", **facts)
    assert not Cone.objects.matching("knots").exists()
    assert Cone.objects.matching("slubs").exists()


def test_the_page_names_notes_among_what_it_searches(as_viewer, studio):
    assert "a word of a note" in as_viewer.get("/find/").content.decode()
    assert "notes of all these" in as_viewer.get("/find/?q=zzzz").content.decode()


def test_ten_of_a_kind_are_shown_and_the_rest_stands_on_the_yarn_page(as_viewer, studio):
    yarn = make_yarn()
    for number in range(11):
        make_shade(f"Moss {number}", yarn)
    answer = as_viewer.get("/find/?q=moss")
    (group,) = answer.context["groups"]
    assert len(group.found) == 10
    assert group.more == "/yarn/?q=moss"
    assert 'href="/yarn/?q=moss"' in answer.content.decode()


def test_a_fuller_shelf_costs_no_more_queries(as_viewer, shelf):
    make_project("Spruce mats", shelf.shade)
    with CaptureQueriesContext(connection) as few:
        as_viewer.get("/find/?q=spruce")
    yarn = make_yarn("Spruce yarn")
    for number in range(5):
        shade = make_shade(f"Spruce {number}", yarn)
        make_cone(shade, lot="B", place=f"Box {number}")
        make_project(f"Spruce project {number}", shade)
    with CaptureQueriesContext(connection) as many:
        as_viewer.get("/find/?q=spruce")
    # session, person, studio; exact code; shades, lots, cones, places, projects
    assert len(few) == len(many) == 9


@pytest.mark.parametrize("text", ["", "   "])
def test_an_empty_search_says_what_can_be_found(as_viewer, studio, text):
    answer = as_viewer.get("/find/", {"q": text})
    assert answer.status_code == 200
    assert "Type what you look for" in answer.content.decode()


@pytest.mark.parametrize("text", ["%", "_", "'; drop table", "<script>", "\\", "ß" * 100])
def test_odd_signs_find_nothing_and_break_nothing(as_viewer, shelf, text):
    answer = as_viewer.get("/find/", {"q": text})
    assert answer.status_code == 200
    assert answer.context["groups"] == []
    assert "<script>" not in answer.content.decode()


@pytest.mark.parametrize("text", ["x" * 101, "a\x00b"])
def test_what_cannot_be_searched_is_refused_with_a_sentence(as_viewer, studio, text):
    answer = as_viewer.get("/find/", {"q": text})
    assert answer.status_code == 422
    assert answer.context["form"].errors["q"]


def test_a_claim_leads_to_the_project_that_holds_it(as_viewer, studio):
    project = make_project()
    claim = ClaimFactory()
    type(project).objects.filter(pk=project.pk).update(claim=claim)
    assert as_viewer.get(f"/claims/{claim.pk}/").url == f"/projects/{project.pk}/"


@pytest.mark.django_db(transaction=True)
def test_a_claim_without_a_project_says_what_it_holds(as_viewer, studio):
    cone, claim = make_cone(code="K-009"), ClaimFactory(name="Class in May")
    reserve(claim_id=claim.pk, wanted=[Wanted(cone.pk, "warp", 12, 914_400_0, 5_000)])
    page = as_viewer.get(f"/claims/{claim.pk}/").content.decode()
    assert "Class in May" in page
    assert "K-009" in page
    assert "warp, 12 ends" in page
    assert "10.0 yd" in page


def test_a_claim_that_holds_nothing_says_so(as_viewer, studio):
    claim = ClaimFactory()
    assert "no yarn reserved" in as_viewer.get(f"/claims/{claim.pk}/").content.decode()
    assert as_viewer.get(f"/claims/{Claim.objects.get().pk + 1}/").status_code == 404


def test_an_empty_find_is_spelt_as_the_studio_chose(as_viewer, studio):
    type(studio).objects.update(spelling="american")
    assert "counts and fibers" in as_viewer.get("/find/?q=zzzz").content.decode()
