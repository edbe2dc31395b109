"""Adding a cone: yarn, shade and weight suffice; everything else may wait."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from stash.models import Cone, Lot, Place, Shade
from stash.services.yarns import retire_shade
from tests.factories import GRAM, make_cone, make_shade, make_yarn
from tests.stash.reading import Read
from tests.stash.sending import send

ADD = reverse("cone-add")


@pytest.fixture
def yarn(owner):
    return make_yarn()


def add(client, yarn, /, **fields):
    return send(client, "cone-add", **{"yarn": str(yarn.pk), "shade": "Spruce", "weight": "250"} | fields)


def message_after(client, answer):
    return Read(client.get(answer.url)).text


def test_yarn_shade_and_weight_suffice(as_owner, yarn):
    answer = add(as_owner, yarn)
    cone = Cone.objects.get()
    assert (cone.code, cone.shade.name, cone.on_hand_mg) == ("K-001", "Spruce", 250 * GRAM)
    assert (cone.lot, cone.place, cone.core_mg, cone.form) == (None, None, None, "cone")
    assert answer.url == reverse("cone-page", args=[cone.pk])
    # 250 g of 3,360 yd/lb are 1,851.88 yd.
    assert (
        "Cone K-001 is on the shelf: 250 g of Spruce, 1,851 yd. It is the first cone of Spruce."
        in message_after(as_owner, answer)
    )


def test_a_shade_that_is_known_is_used_in_whatever_letters_it_is_typed(as_owner, yarn):
    spruce = make_shade("Spruce", yarn)
    add(as_owner, yarn, shade=" sPRUCE ")
    assert Cone.objects.get().shade == spruce
    assert Shade.objects.count() == 1


def test_all_else_may_be_given_at_once(as_owner, yarn):
    add(
        as_owner, yarn, weight="9 oz", scale="gross", core="34", lot="7", place="B2",
        form="skein", code="OLD-1", colour="#2F5D50", note="from the mill",
    )  # fmt: skip
    cone = Cone.objects.get()
    # 9 oz are 255,145.7 mg.
    assert (cone.on_hand_mg, cone.core_mg) == (255_146 - 34 * GRAM, 34 * GRAM)
    assert (cone.lot.name, cone.place.name, cone.form, cone.code) == ("7", "B2", "skein", "OLD-1")
    assert (cone.shade.colour, cone.note) == ("#2f5d50", "from the mill")


def test_keep_and_add_another_keeps_yarn_shade_lot_and_place(as_owner, yarn):
    answer = add(as_owner, yarn, lot="7", place="B2", again="1")
    page = Read(as_owner.get(answer.url))
    assert answer.url.startswith(ADD)
    assert [page.value(name) for name in ("yarn", "shade", "lot", "place", "weight")] == [
        str(yarn.pk), "Spruce", "7", "B2", "",
    ]  # fmt: skip
    assert "Cone K-001 is on the shelf" in page.text


def test_the_address_chooses_yarn_or_shade_beforehand(as_owner, yarn):
    shade = make_shade("Spruce", yarn)
    make_shade("Oat", yarn)
    by_yarn = as_owner.get(ADD, {"yarn": yarn.pk})
    assert Read(by_yarn).value("yarn") == str(yarn.pk)
    assert by_yarn.context["shade_names"] == ["Oat", "Spruce"]
    assert Read(as_owner.get(ADD, {"shade": shade.pk})).value("shade") == "Spruce"


@pytest.mark.parametrize("key", ["moon", "-1", "0", "9" * 30, "²"])
def test_a_key_that_nothing_has_chooses_nothing(as_owner, yarn, key):
    page = as_owner.get(ADD, {"yarn": key, "shade": key})
    assert page.status_code == 200
    assert Read(page).value("shade") == ""


def test_another_yarn_offers_its_own_shades(as_owner, yarn):
    other = make_yarn("Line linen", "16/2")
    make_shade("Spruce", yarn)
    make_shade("Flax", other)
    answer = as_owner.get(ADD, {"yarn": other.pk}, headers={"hx-request": "true", "hx-target": "known-names"})
    assert (answer.context["shade_names"], answer.context["lot_names"]) == (["Flax"], [])


@pytest.mark.parametrize("page", ["cone-add", "receive"])
def test_shades_and_lots_are_offered_while_a_shade_is_typed(as_owner, yarn, owner, page):
    make_cone(make_shade("Spruce", yarn), lot="A17", by=owner)
    make_cone(make_shade("Oat", yarn), lot="B2", by=owner)
    asked = {"hx-request": "true", "hx-target": "known-names"}

    def offered(**typed):
        answer = as_owner.get(reverse(page), typed, headers=asked)
        assert answer.content.decode().count("<datalist") == 2
        return answer.context["shade_names"], answer.context["lot_names"]

    assert offered(yarn=yarn.pk, shade="spr") == (["Spruce"], [])
    assert offered(yarn=yarn.pk, shade="SPRUCE") == (["Spruce"], ["A17"])
    assert offered(yarn=yarn.pk, shade="a\x00b") == ([], [])
    assert offered(yarn="", shade="Spruce") == ([], [])


@pytest.mark.parametrize("page", ["cone-add", "receive"])
def test_the_names_stand_in_the_page_for_those_without_script(as_owner, yarn, owner, page):
    make_cone(make_shade("Spruce", yarn), lot="A17", by=owner)
    text = as_owner.get(reverse(page), {"yarn": yarn.pk, "shade": "Spruce"}).content.decode()
    assert '<option value="Spruce">' in text
    fields = {"yarn": yarn.pk, "shade": "Spruce", "weight": "heavy", "weight-1": "heavy"}
    assert '<option value="A17">' in as_owner.post(reverse(page), fields).content.decode()


def test_without_any_yarn_the_page_leads_to_the_first_one(as_owner):
    page = Read(as_owner.get(ADD))
    assert page.links["New yarn"] == reverse("yarn-new")
    assert page.changing_forms() == []


def test_retired_yarns_and_shades_are_not_offered(as_owner, yarn):
    gone = make_shade("Gone", yarn)
    retire_shade(pk=gone.pk)
    assert as_owner.get(ADD, {"yarn": yarn.pk}).context["shade_names"] == []
    refused = add(as_owner, yarn, shade="Gone")
    assert "Gone is retired. Bring the shade back" in Read(refused).errors["shade"][0]


@pytest.mark.parametrize(
    ("changes", "field", "says"),
    [
        ({"yarn": ""}, "yarn", "Choose one"),
        ({"yarn": "999"}, "yarn", "This yarn is not in use. Choose one of the list."),
        ({"shade": ""}, "shade", "Fill in"),
        ({"shade": "x" * 61}, "shade", "at most 60"),
        ({"weight": ""}, "weight", "Fill in"),
        ({"weight": "0"}, "weight", "more than 0"),
        ({"weight": "-250"}, "weight", "cannot be less than nothing"),
        ({"weight": "250 yd"}, "weight", "a weight is needed"),
        ({"weight": "250 stone"}, "weight", "“stone” is not a unit that is read here"),
        ({"weight": "101 kg"}, "weight", "at most 100 kg"),
        ({"scale": "gross"}, "core", "Say what the empty core weighs"),
        ({"scale": "gross", "core": "250"}, "weight", "no yarn is left"),
        ({"scale": "moon"}, "scale", "moon is not one of the available choices"),
        ({"core": "6 kg"}, "core", "at most 5 kg"),
        ({"lot": "x" * 41}, "lot", "at most 40"),
        ({"place": "x" * 41}, "place", "at most 40"),
        ({"form": "bale"}, "form", "bale is not one of the available choices"),
        ({"code": "k-900"}, "code", "Another cone has this code."),
        ({"code": "x" * 13}, "code", "at most 12"),
        ({"colour": "green"}, "colour", "“green” is no colour"),
        ({"colour": "#ffffff", "shade": "Oat"}, "colour", "Oat has the colour #2f5d50 already."),
        ({"note": "x" * 501}, "note", "at most 500"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field_and_nothing_is_half_written(
    as_owner, yarn, changes, field, says
):
    make_cone(make_shade("Oat", yarn), 100, code="K-900")
    before = [model.objects.count() for model in (Cone, Shade, Lot, Place)]
    refused = add(as_owner, yarn, **{"lot": "7", "place": "B2"} | changes)
    page = Read(refused)
    assert refused.status_code == 422
    assert says in page.errors[field][0]
    assert [model.objects.count() for model in (Cone, Shade, Lot, Place)] == before
    for name, text in changes.items():
        assert name in ("yarn", "scale", "form") or page.value(name) == text


def test_a_refused_field_among_those_that_may_wait_is_unfolded(as_owner, yarn):
    assert "<details open" not in as_owner.get(ADD).content.decode().replace(' class="waiting"', "")
    refused = add(as_owner, yarn, code="x" * 13)
    assert "<details open" in refused.content.decode().replace(' class="waiting"', "")


# Studio, session, person; yarns, kinds of core, shades of the chosen yarn, places.
def test_twice_the_yarns_shades_and_places_take_the_same_number_of_queries(as_owner, yarn):
    queries = []
    for number in range(2):
        make_cone(make_shade(f"Shade {number}", yarn), 100, place=f"B{number}")
        make_yarn(f"Yarn {number}", f"{number + 3}/2")
        with CaptureQueriesContext(connection) as caught:
            as_owner.get(ADD, {"yarn": yarn.pk})
        queries.append(len(caught))
    assert queries == [7, 7], [query["sql"] for query in caught]
