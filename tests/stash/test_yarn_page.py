"""A kind of yarn: its page, and the form that makes and changes it."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from stash.calc.counts import CountSystem
from stash.calc.quantity import read_grist
from stash.models import Yarn
from tests.factories import make_cone, make_shade, make_yarn
from tests.stash.reading import Read
from tests.stash.sending import send, typed

FILLED = {
    "name": "Cottolin",
    "count": "22/2",
    "system": "lea",
    "fibres": "60 % cotton, 40 % linen",
    "measured": "",
    "stated": "",
    "choice": "",
    "note": "",
}


def page_of(client, yarn):
    return Read(client.get(reverse("yarn-page", args=[yarn.pk])))


def test_the_page_says_count_system_fibres_and_which_length_is_used_and_why(as_viewer, studio):
    yarn = make_yarn(
        "Cottolin",
        "22/2",
        CountSystem.LEA,
        fibres={"cotton": 60, "linen": 40},
        stated=read_grist("3200 yd/lb"),
    )
    text = page_of(as_viewer, yarn).text
    assert "22/2 linen lea. Fibre: 60 % cotton, 40 % linen." in text
    assert (
        "Measured here none Stated by the seller in use, the most trusted of those known 3,200 yd/lb "
        "Computed from the count 3,300 yd/lb"
    ) in text
    assert "linen lea (300 yd/lb)" in text


def test_a_length_chosen_by_hand_says_so(as_viewer, studio):
    yarn = make_yarn(stated=read_grist("3200 yd/lb"), choice="computed")
    assert "Computed from the count in use, chosen by hand 3,360 yd/lb" in page_of(as_viewer, yarn).text


def test_its_shades_stand_with_their_stock_on_one_scale(as_viewer, owner):
    yarn = make_yarn()
    make_cone(make_shade("Spruce", yarn), 500)
    page = page_of(as_viewer, yarn)
    assert page.row("Spruce")[2] == "3,703 yd500 g"
    assert "bars share one scale: 3,800 yd" in page.text


# Studio, session, person; the yarn, its fibres; sums and names of its shades; retired shades.
def test_twice_the_shades_take_the_same_number_of_queries(as_viewer, owner):
    yarn, queries = make_yarn(fibres={"cotton": 100}), []
    for number in range(2):
        make_cone(make_shade(f"Shade {number}", yarn), 100)
        with CaptureQueriesContext(connection) as caught:
            page_of(as_viewer, yarn)
        queries.append(len(caught))
    assert queries == [8, 8], [query["sql"] for query in caught]


def test_a_viewer_is_offered_nothing_to_change(as_viewer, studio):
    page = page_of(as_viewer, make_yarn())
    assert page.changing_forms() == []
    assert not {"Add a cone", "New shade", "Edit", "Retire"} & set(page.links)


def test_a_new_yarn_is_kept_as_typed(as_owner):
    answer = send(as_owner, "yarn-new", **FILLED | {"measured": "50 yd = 6.75 g", "stated": "3200"})
    yarn = Yarn.objects.get()
    assert answer.url == reverse("yarn-page", args=[yarn.pk])
    assert (yarn.count_written, yarn.count_system) == ("22/2 linen lea", "lea")
    assert {share.fibre: share.percent for share in yarn.fibres.all()} == {"cotton": 60, "linen": 40}
    assert yarn.grist_source == "measured"
    assert yarn.stated_um is not None


def test_a_yarn_without_a_count_needs_a_length_per_weight(as_owner):
    slub = FILLED | {"name": "Slub", "count": "", "system": ""}
    refused = send(as_owner, "yarn-new", **slub)
    assert refused.status_code == 422
    assert "Give a count with its system, or a length per mass" in Read(refused).errors["count"][0]
    assert send(as_owner, "yarn-new", **slub | {"stated": "900 yd/lb"}).status_code == 302


def test_a_count_that_states_its_own_system_needs_no_choice(as_owner):
    send(as_owner, "yarn-new", **FILLED | {"count": "Nm 2/28", "system": ""})
    assert Yarn.objects.get().count_system == "metric"


@pytest.mark.parametrize(
    ("changes", "field", "says"),
    [
        ({"name": ""}, "name", "Fill in"),
        ({"name": "x" * 81}, "name", "at most 80"),
        ({"name": "Plain cotton"}, "name", "There is a yarn Plain cotton already."),
        ({"count": "8/2", "system": ""}, "system", "State the count system"),
        ({"count": "8/2 cotton", "system": "lea"}, "count", "Which is it? Change one of them."),
        ({"count": "8 2"}, "count", "Two numbers stand side by side"),
        ({"count": "-8/2"}, "count", ""),
        ({"count": "0/2"}, "count", "more than 0"),
        ({"count": "9999999999/2"}, "count", "No yarn is as fine as that"),
        ({"count": ""}, "count", "A count system is chosen"),
        ({"system": "moon"}, "system", "moon is not one of the available choices"),
        ({"fibres": "60 % cotton, 30 % linen"}, "fibres", "add up to 90 %"),
        ({"fibres": "cotton, linen"}, "fibres", "How many per cent are “cotton”"),
        ({"measured": "0 yd = 5 g"}, "measured", "Neither the length nor the weight can be 0"),
        ({"measured": "50 yd = 5 yd"}, "measured", "a length and a weight are needed"),
        ({"stated": "-3200"}, "stated", ""),
        ({"stated": "99999999999 yd/lb"}, "stated", "No yarn is as fine as that"),
        (
            {"choice": "stated"},
            "choice",
            "You chose the length per mass stated by the seller, but there is none.",
        ),
        ({"choice": "moon"}, "choice", "moon is not one of the available choices"),
        ({"note": "x" * 501}, "note", "at most 500"),
    ],
)
def test_what_a_yarn_cannot_be_is_refused_at_its_field(as_owner, changes, field, says):
    make_yarn()
    refused = send(as_owner, "yarn-new", **FILLED | changes)
    page = Read(refused)
    assert refused.status_code == 422
    assert says in page.errors[field][0]
    for name, text in changes.items():
        assert name in ("system", "choice") or page.value(name) == text
    assert Yarn.objects.count() == 1


def test_saving_what_stands_there_changes_nothing_but_the_version(as_owner, studio):
    yarn = make_yarn(
        "Cottolin", "22/2", CountSystem.LEA,
        fibres={"cotton": 60, "linen": 40}, choice="stated",
        measured=read_grist("50 yd = 6.75 g"), stated=read_grist("3200 yd/lb"),
    )  # fmt: skip
    before = Yarn.objects.filter(pk=yarn.pk).values().get()
    assert send(as_owner, "yarn-edit", yarn.pk, **typed(as_owner, "yarn-edit", yarn.pk)).status_code == 302
    after = Yarn.objects.filter(pk=yarn.pk).values().get()
    assert after == before | {"version": 2}
    assert {share.fibre: share.percent for share in yarn.fibres.all()} == {"cotton": 60, "linen": 40}
