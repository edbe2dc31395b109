"""One step for many rows: by page, all or nothing, with every refusal named."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from stash.models import Cone, Entry, EntryKind, Shade
from stash.services.bulk import MOST, SomeRefused, move_cones, retire_cones, set_keep_levels
from stash.services.cones import retire_cone
from stash.services.reserving import Wanted, reserve
from stash.services.yarns import retire_shade
from tests.factories import GRAM, ClaimFactory, make_cone, make_shade
from tests.stash.reading import Read

YARD = 914_400


@pytest.fixture
def cones(owner):
    shade = make_shade("Spruce")
    return [make_cone(shade, 500, place="North", code=code) for code in ("A", "B", "C")]


def hold(cone, name="Class kits"):
    claim = ClaimFactory(name=name)
    reserve(claim_id=claim.pk, wanted=[Wanted(cone.pk, "weft", 0, 100 * YARD, 10 * GRAM)])


def pks(rows):
    return [row.pk for row in rows]


def says(page):
    return {row[0].partition("Spruce,")[0]: row[1] for row in page.rows[1:]}


def test_every_row_has_a_box_and_below_them_stands_what_can_be_done(as_owner, cones):
    for by, words in (
        ("cone", ["Move", "Condition", "Labels", "Retire"]),
        ("shade", ["Keep level", "Retire"]),
    ):
        html = as_owner.get(reverse("yarn"), {"by": by, "q": "spruce"}).content.decode()
        assert html.count(f'type="checkbox" name="{by}s"') == (3 if by == "cone" else 1)
        for word in words:
            assert f">{word}</button>" in html
        assert 'name="back" value="' in html


def test_a_helper_may_move_and_a_viewer_ticks_nothing(client, helper, viewer, cones):
    client.force_login(helper)
    html = client.get(reverse("yarn"), {"by": "cone"}).content.decode()
    assert ">Move</button>" in html and ">Retire</button>" not in html
    assert "checkbox" not in client.get(reverse("yarn")).content.decode()
    client.force_login(viewer)
    assert "checkbox" not in client.get(reverse("yarn"), {"by": "cone"}).content.decode()


def test_the_page_says_what_happens_to_each_and_asks_once(as_owner, cones):
    page = Read(as_owner.get(reverse("cones-move"), {"cones": pks(cones), "back": "by=cone&q=spruce"}))
    assert "3 cones ticked. All that are ticked below, or none." in page.text
    assert says(page) == dict.fromkeys("ABC", "moves from North")
    assert page.links["Leave it"] == "/yarn/?by=cone&q=spruce"


def test_all_that_are_ticked_move_and_the_list_comes_back_as_it_was_left(as_helper, cones):
    answer = as_helper.post(
        reverse("cones-move"), {"cones": pks(cones[:2]), "place": "South", "back": "by=cone&q=spruce&page=3"}
    )
    assert (answer.status_code, answer.url) == (302, "/yarn/?by=cone&q=spruce")
    assert [str(cone.place) for cone in Cone.objects.order_by("pk")] == ["South", "South", "North"]
    assert "2 cones moved." in Read(as_helper.get(answer.url)).text


@pytest.mark.parametrize(
    "back", ["//elsewhere.example", "https://elsewhere.example/?a=b", "x" * 9000, "%%%", "a=\r\nb"]
)
def test_no_other_address_is_led_to(as_owner, cones, back):
    answer = as_owner.post(reverse("cones-move"), {"cones": pks(cones), "place": "South", "back": back})
    assert answer.url.startswith("/yarn/")
    assert not answer.url.startswith("//")


def test_who_refuses_is_named_beforehand_without_a_box(as_owner, cones):
    hold(cones[1])
    retire_cone(pk=cones[2].pk, by=cones[0].entries.first().by, reason="empty")
    page = Read(as_owner.get(reverse("cones-retire"), {"cones": pks(cones)}))
    assert "1 of them can go" in page.text
    assert says(page) == {
        "A": "500 g written off, leaves the shelf",
        "B": "Stays is reserved for Class kits",
        "C": "Stays is retired already",
    }
    html = as_owner.get(reverse("cones-retire"), {"cones": pks(cones)}).content.decode()
    assert html.count('type="checkbox" name="cones"') == 1


def test_one_that_refuses_at_the_last_moment_keeps_all_as_they_were(as_owner, cones):
    hold(cones[1])
    before = Entry.objects.count()
    answer = as_owner.post(
        reverse("cones-retire"), {"cones": pks(cones), "shown": pks(cones), "reason": "moth", "back": ""}
    )
    page = Read(answer)
    assert answer.status_code == 422
    assert "Cone B is reserved for Class kits. Release that first." in page.text
    assert page.value("reason") == "moth"
    assert Entry.objects.count() == before
    assert not Cone.objects.retired().exists()


def test_retired_together_each_has_its_own_entry_with_the_reason(as_owner, owner, cones):
    assert as_owner.post(reverse("cones-retire"), {"cones": pks(cones), "reason": "moth"}).status_code == 302
    entries = Entry.objects.filter(kind=EntryKind.RETIRED)
    assert {(one.cone.code, one.change_mg, one.reason, one.by) for one in entries} == {
        (code, -500 * GRAM, "moth", owner) for code in "ABC"
    }


def test_a_reason_is_needed_and_ticks_are_kept(as_owner, cones):
    answer = as_owner.post(
        reverse("cones-retire"), {"cones": pks(cones[:1]), "shown": pks(cones), "reason": " "}
    )
    assert answer.status_code == 422
    html = answer.content.decode()
    assert html.count('type="checkbox" name="cones"') == 3
    assert html.count(" checked") == 1
    assert not Cone.objects.retired().exists()


def test_a_condition_is_noted_of_many_and_again_changes_nothing(as_helper, cones):
    asked = {"cones": pks(cones), "condition": "quarantine", "on": "2026-12-01", "reason": "moths nearby"}
    for _ in range(2):
        assert as_helper.post(reverse("cones-condition"), asked).status_code == 302
    assert set(Cone.objects.values_list("condition", flat=True)) == {"quarantine"}
    assert Entry.objects.filter(reason__contains="moths nearby").count() == 3


def test_reserved_cones_do_not_go_to_the_oddments_and_then_none_do(as_helper, cones):
    hold(cones[2])
    answer = as_helper.post(reverse("cones-condition"), {"cones": pks(cones), "condition": "oddment"})
    assert answer.status_code == 422
    assert "Cone C is reserved for Class kits" in answer.content.decode()
    assert set(Cone.objects.values_list("condition", flat=True)) == {"sound"}


def test_a_keep_level_is_set_for_many_shades_and_taken_away(as_owner, studio):
    shades = [make_shade("Oat"), make_shade("Rust", keep_mg=5 * GRAM)]
    page = Read(as_owner.get(reverse("shades-keep"), {"shades": pks(shades)}))
    assert [row[1] for row in page.rows[1:]] == ["no keep level now", "keep level now 5.0 g"]
    as_owner.post(reverse("shades-keep"), {"shades": pks(shades), "keep": "200 g"})
    assert set(Shade.objects.values_list("keep_mg", "version")) == {(200 * GRAM, 2)}
    as_owner.post(reverse("shades-keep"), {"shades": pks(shades), "keep": ""})
    assert set(Shade.objects.values_list("keep_mg", flat=True)) == {None}


def test_one_put_up_more_is_set_for_many_shades_or_left_as_it_is_with_each(as_owner, studio):
    shades = [make_shade("Oat"), make_shade("Rust", one_more=True)]
    page = Read(as_owner.get(reverse("shades-keep"), {"shades": pks(shades)}))
    assert [row[1] for row in page.rows[1:]] == ["no keep level now", "no keep level now, one put-up more"]
    for said, kept in (("", {False, True}), ("yes", {True}), ("no", {False}), ("perhaps", {False})):
        as_owner.post(reverse("shades-keep"), {"shades": pks(shades), "keep": "200 g", "one_more": said})
        assert set(Shade.objects.values_list("one_more", flat=True)) == kept


@pytest.mark.parametrize("keep", ["moonlight", "0", "-5", "5 yd"])
def test_an_unreadable_keep_level_is_refused_and_kept(as_owner, studio, keep):
    answer = as_owner.post(reverse("shades-keep"), {"shades": make_shade("Oat").pk, "keep": keep})
    assert answer.status_code == 422
    assert Read(answer).value("keep") == keep
    assert Shade.objects.get().keep_mg is None


def test_shades_retire_together_unless_a_cone_of_one_is_on_the_shelf(as_owner, cones):
    oat, rust = make_shade("Oat"), make_shade("Rust")
    spruce = cones[0].shade
    page = Read(as_owner.get(reverse("shades-retire"), {"shades": pks([oat, rust, spruce])}))
    assert page.row("Spruce")[1] == "Stays 3 cones stand on the shelf"
    assert as_owner.post(reverse("shades-retire"), {"shades": pks([oat, rust, spruce])}).status_code == 422
    assert not Shade.objects.retired().exists()
    assert as_owner.post(reverse("shades-retire"), {"shades": pks([oat, rust])}).status_code == 302
    assert set(Shade.objects.retired()) == {oat, rust}


NAMES = ["cones-move", "cones-condition", "cones-retire", "shades-keep", "shades-retire"]


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("keys", [[], ["moonlight"], ["-1"], ["9" * 30], ["99999"], ["\x00"], ["1.5"]])
def test_ticks_of_nothing_are_said_to_be_so(as_owner, cones, name, keys):
    key = name.partition("-")[0]
    answer = as_owner.get(reverse(name), {key: keys})
    assert answer.status_code == 200
    assert "Nothing is ticked" in answer.content.decode()
    answer = as_owner.post(
        reverse(name), {key: keys, "place": "South", "reason": "moth", "condition": "weak", "keep": "1 g"}
    )
    assert answer.status_code == 422


@pytest.mark.parametrize("name", NAMES)
def test_too_many_at_once_are_refused(as_owner, cones, name):
    key = name.partition("-")[0]
    answer = as_owner.post(reverse(name), {key: list(range(1, MOST + 2)), "reason": "moth", "place": "South"})
    assert answer.status_code == 422
    assert f"At most {MOST} at once." in answer.content.decode()
    assert {str(place) for place in Cone.objects.values_list("place__name", flat=True)} == {"North"}


def test_too_long_a_place_moves_nothing(as_owner, cones):
    answer = as_owner.post(reverse("cones-move"), {"cones": pks(cones), "place": "x" * 41})
    assert answer.status_code == 422
    assert {str(place) for place in Cone.objects.values_list("place__name", flat=True)} == {"North"}


def test_the_services_name_every_row_that_refuses(cones, owner):
    hold(cones[0])
    hold(cones[2], "Second kits")
    with pytest.raises(SomeRefused) as caught:
        retire_cones(pks=pks(cones), by=owner, reason="moth")
    assert caught.value.reasons == [
        "Cone A is reserved for Class kits. Release that first.",
        "Cone C is reserved for Second kits. Release that first.",
    ]
    retire_cone(pk=cones[1].pk, by=owner, reason="empty")
    with pytest.raises(SomeRefused, match="Cone B is retired"):
        move_cones(pks=pks(cones), place="South", by=owner)
    shade = make_shade("Oat")
    retire_shade(pk=shade.pk)
    with pytest.raises(SomeRefused, match="Oat is retired"):
        set_keep_levels(pks=[shade.pk], keep_mg=5)


@pytest.mark.parametrize("name", ["cones-move", "cones-retire"])
def test_twice_the_rows_are_told_with_the_same_number_of_queries(as_owner, cones, name):
    def count():
        with CaptureQueriesContext(connection) as caught:
            as_owner.get(reverse(name), {"cones": pks(Cone.objects.all())})
        return len(caught)

    hold(cones[0])
    before = count()
    for number in range(4):
        hold(make_cone(make_shade(f"More {number}"), 500, place=f"P{number}"), f"Kits {number}")
    assert count() == before


def test_ticked_cones_get_labels(as_owner, cones):
    answer = as_owner.get(reverse("labels"), {"cones": pks(cones[:2]), "back": "by=cone"})
    assert answer.status_code == 200
    assert len(answer.context["labels"]) == 2
