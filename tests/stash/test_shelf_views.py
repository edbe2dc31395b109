"""Views of the Yarn page under a name: each person's own."""

import pytest
from django.urls import reverse

from stash.models import SavedView
from stash.services.shelf_views import MOST, keep_view, tidy_query
from tests.factories import make_cone
from tests.stash.reading import Read

ADDRESS = "/yarn/views/"


def test_a_view_is_kept_from_the_list_and_stands_above_the_filters(as_viewer, viewer):
    make_cone()
    page = Read(as_viewer.get("/yarn/?q=spruce&sort=-free&page=2"))
    way = page.links["Keep this view under a name"]
    assert way.startswith(ADDRESS)
    assert "Keep this view" in as_viewer.get(way).content.decode()
    answer = as_viewer.post(way, {"name": " Spruce first "})
    assert answer.url == "/yarn/?q=spruce&sort=-free"
    assert SavedView.objects.get().person == viewer
    assert Read(as_viewer.get("/yarn/")).links["Spruce first"] == "/yarn/?q=spruce&sort=-free"


def test_a_list_that_is_not_narrowed_offers_no_name(as_viewer):
    make_cone()
    assert "Keep this view under a name" not in Read(as_viewer.get("/yarn/")).links


def test_nobody_sees_or_removes_another_persons_view(as_viewer, owner):
    theirs = keep_view(person=owner, name="Mine", query="q=x")
    assert "Mine" not in as_viewer.get("/yarn/").content.decode()
    assert "Mine" not in as_viewer.get(ADDRESS).content.decode()
    as_viewer.post(ADDRESS, {"remove": theirs.pk})
    assert SavedView.objects.get() == theirs


def test_ones_own_view_is_removed(as_owner, owner):
    view = keep_view(person=owner, name="Mine", query="q=x")
    assert as_owner.post(ADDRESS, {"remove": view.pk}).url == ADDRESS
    assert not SavedView.objects.exists()
    assert "No view is kept yet" in as_owner.get(ADDRESS).content.decode()


def test_two_people_may_use_one_name(owner, viewer):
    for person in (owner, viewer):
        keep_view(person=person, name="Mine", query="q=x")


@pytest.mark.parametrize(
    ("query", "name", "said"),
    [
        ("q=x", "", "it cannot be left empty."),
        ("q=x", "  ", "it cannot be left empty."),
        ("q=x", "x" * 61, "at most 60"),
        ("q=x", "mine", "You have a view of this name already"),
        ("", "Other", "the whole list needs no name"),
        ("page=3&moon=light", "Other", "the whole list needs no name"),
        ("q=" + "x" * 600, "Other", "at most 500"),
        ("&".join(["q=x"] * 60), "Other", "the whole list needs no name"),
    ],
)
def test_what_cannot_be_kept_is_refused_in_words(as_owner, owner, query, name, said):
    keep_view(person=owner, name="Mine", query="q=x")
    answer = as_owner.post(f"{ADDRESS}?{query}", {"name": name})
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert SavedView.objects.count() == 1


def test_there_is_an_end_to_views(owner, as_owner):
    SavedView.objects.bulk_create(SavedView(person=owner, name=f"V{n}", query="q=x") for n in range(MOST))
    answer = as_owner.post(f"{ADDRESS}?q=x", {"name": "One more"})
    assert f"You have {MOST} views. Remove one first." in answer.content.decode()


@pytest.mark.parametrize("key", ["moonlight", "-1", "9" * 30, "", "\x00"])
def test_removing_nothing_breaks_nothing(as_owner, key):
    assert as_owner.post(ADDRESS, {"remove": key}).status_code == 302


def test_only_search_filters_and_order_are_kept():
    assert tidy_query("by=cone&page=3&next=//x&sort=-free&q=a+b%26c&q=") == "by=cone&sort=-free&q=a+b%26c"


def test_the_page_of_views_is_reached_by_name(as_owner):
    assert as_owner.get(reverse("shelf-views")).status_code == 200
