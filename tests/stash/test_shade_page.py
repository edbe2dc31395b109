"""A shade's page: stock, lots with their cones, who holds what; new, edited, retired."""

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from stash.models import Shade
from stash.services.changing import set_condition
from stash.services.reserving import Wanted, reserve
from tests.factories import GRAM, ClaimFactory, make_cone, make_shade, make_yarn
from tests.stash.reading import Read
from tests.stash.sending import send, typed

YARD = 914_400


def hold(cone, grams, name, **claim):
    made = ClaimFactory(name=name, **claim)
    reserve(claim_id=made.pk, wanted=[Wanted(cone.pk, "warp", 12, 144 * YARD, grams * GRAM)])
    return made


def page_of(client, shade):
    return Read(client.get(reverse("shade-page", args=[shade.pk])))


@pytest.fixture
def spruce(owner):
    return make_shade("Spruce", keep_mg=110 * GRAM)


def test_every_amount_stands_in_length_and_weight(as_viewer, spruce):
    hold(make_cone(spruce, 300, lot="7"), 100, "Class kits")
    make_cone(spruce, 200)
    text = page_of(as_viewer, spruce).text
    assert (
        "On hand, 2 cones 3,703 yd500 g Reserved 741 yd100 g Free 2,963 yd400 g Keep level 815 yd110 g"
        in text
    )
    assert "3,360 yd/lb, computed from the count" in text


def test_lots_are_lines_of_their_own_and_an_unknown_lot_matches_no_other(as_viewer, spruce):
    cones = [
        make_cone(spruce, 100, lot=lot, code=code)
        for code, lot in (("A", "9"), ("B", ""), ("C", "7"), ("D", ""), ("E", "9"))
    ]
    page = page_of(as_viewer, spruce)
    assert [row[0] for row in page.rows[1:]] == [
        "Lot 7", "C", "Lot 9 on hand 1,481 yd, free 1,481 yd", "A", "E", "Unknown lot", "B", "Unknown lot", "D",
    ]  # fmt: skip
    assert page.links["A"] == reverse("cone-page", args=[cones[0].pk])


def test_who_holds_it_stands_by_need_with_a_way_to_the_claim(as_viewer, spruce):
    cone = make_cone(spruce, 500, code="K-1")
    hold(cone, 50, "No day")
    late = hold(cone, 100, "Mats", need_on=date(2026, 12, 12))
    hold(cone, 100, "Class kits", need_on=date(2026, 12, 3))
    page = page_of(as_viewer, spruce)
    rows = [row for row in page.rows if row[0] in ("Mats", "Class kits", "No day")]
    assert rows[:2] == [
        ["Class kits", "3 Dec 2026", "12 warp ends", "K-1", "144 yd", "100 g"],
        ["Mats", "12 Dec 2026", "12 warp ends", "K-1", "144 yd", "100 g"],
    ]
    assert page.links["Mats"] == reverse("claim", args=[late.pk])


def test_a_cone_says_what_it_is_fit_for_and_whether_its_figure_is_a_guess(as_viewer, spruce, owner):
    cone = make_cone(spruce, 100, code="Q", is_estimate=True)
    make_cone(spruce, 100, code="S")
    set_condition(pk=cone.pk, condition="quarantine", on=date(2026, 12, 3), by=owner)
    by_code = {row[0]: row for row in page_of(as_viewer, spruce).rows if len(row) > 1}
    assert by_code["Q In quarantine until 3 Dec 2026"][2] == "about 740 ydabout 100 g"
    assert by_code["S"][2] == "740 yd100 g"
    listed = Read(as_viewer.get("/yarn/?by=cone"))
    assert listed.row("Q")[4] == "about 100 gabout 740 yd"
    assert listed.row("Q")[-1] == "In quarantine until 3 Dec 2026offered to no project"
    assert (listed.row("S")[4], listed.row("S")[-1]) == ("100 g740 yd", "")


def test_a_shade_without_cones_offers_the_first_step_to_the_owner_alone(as_owner, spruce):
    assert page_of(as_owner, spruce).links["Add a cone"] == reverse("cone-add") + f"?shade={spruce.pk}"


def test_a_viewer_is_offered_nothing_to_change(as_viewer, spruce):
    page = page_of(as_viewer, spruce)
    assert page.changing_forms() == []
    assert not {"Add a cone", "Edit", "Retire"} & set(page.links)


# Studio, session, person; the shade with its yarn; sums, names; cones; who holds them; retired cones.
def test_twice_the_cones_and_holders_take_the_same_number_of_queries(as_viewer, spruce):
    queries = []
    for number in range(2):
        for lot in ("7", "9", ""):
            hold(make_cone(spruce, 100, lot=lot), 50, f"Claim {number} {lot}")
        with CaptureQueriesContext(connection) as caught:
            page_of(as_viewer, spruce)
        queries.append(len(caught))
    assert queries == [10, 10], [query["sql"] for query in caught]
    assert not any("stash_entry" in query["sql"] for query in caught)


def test_a_new_shade_is_made_with_a_colour_and_a_keep_level(as_owner, studio):
    yarn = make_yarn()
    answer = send(as_owner, "shade-new", yarn.pk, name="Moss", colour="77814A", keep_mg="4 oz")
    shade = Shade.objects.get(name="Moss")
    assert answer.url == reverse("shade-page", args=[shade.pk])
    assert (shade.yarn, shade.colour, shade.keep_mg) == (yarn, "#77814a", 113_398)


def test_a_shade_may_have_no_colour_yet(as_owner, studio):
    send(as_owner, "shade-new", make_yarn().pk, name="Moss", colour="", keep_mg="")
    assert Shade.objects.get(name="Moss").colour == ""


@pytest.mark.parametrize(
    ("field", "text", "says"),
    [
        ("name", "", "Fill in"),
        ("name", "x" * 61, "at most 60"),
        ("name", "spruce", "This yarn has the shade Spruce already."),
        ("colour", "green", "“green” is no colour. Give # and six figures"),
        ("colour", "#12345", "“#12345” is no colour"),
        ("colour", "#2f5d5g", "“#2f5d5g” is no colour"),
        ("keep_mg", "-1", "cannot be less than nothing"),
        ("keep_mg", "0", "more than 0"),
        ("keep_mg", "5 yd", "a weight is needed"),
        ("keep_mg", "20000 kg", "at most 10,000 kg"),
        ("note", "x" * 501, "at most 500"),
    ],
)
def test_what_a_shade_cannot_be_is_refused_at_its_field(as_owner, spruce, field, text, says):
    fields = {"name": "Moss", "colour": "#77814a", "keep_mg": "100", "note": ""} | {field: text}
    refused = send(as_owner, "shade-new", spruce.yarn_id, **fields)
    assert refused.status_code == 422
    assert says in Read(refused).errors[field][0]
    assert Read(refused).value(field) == text
    assert Shade.objects.count() == 1


def test_saving_what_stands_there_changes_nothing_but_the_version(as_owner, spruce):
    assert (
        send(as_owner, "shade-edit", spruce.pk, **typed(as_owner, "shade-edit", spruce.pk)).status_code == 302
    )
    again = Shade.objects.get(pk=spruce.pk)
    assert (again.name, again.colour, again.keep_mg, again.version) == ("Spruce", "#2f5d50", 110 * GRAM, 2)
