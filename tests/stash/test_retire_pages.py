"""Retiring a cone, a shade, a yarn: what it will do is said first, a refusal is a sentence, all can be undone."""

import pytest
from django.urls import reverse

from stash.models import Cone, Shade, Yarn
from stash.services.cones import retire_cone
from stash.services.deliveries import Package, receive_several
from stash.services.reserving import Wanted, reserve
from stash.services.taking_in import OfOrder
from stash.services.yarns import retire_shade, retire_yarn
from tests.factories import GRAM, ClaimFactory, make_cone, make_order, make_shade, make_yarn
from tests.stash.reading import Read
from tests.stash.sending import send


@pytest.fixture
def cone(owner):
    return make_cone(make_shade("Spruce"), 142, code="K-047")


def page_of(client, name, key):
    return Read(client.get(reverse(name, args=[key])))


def test_a_cone_says_what_is_written_off_before_it_is(as_owner, cone):
    page = page_of(as_owner, "cone-retire", cone.pk)
    assert (
        "writes off the 142 g (1,051 yd) still on it, by an entry in the ledger with your reason" in page.text
    )
    assert "It can be brought back later" in page.text
    assert Cone.objects.get().retired_at is None


def test_a_cone_is_retired_with_its_reason_and_brought_back_with_its_weight(as_owner, cone):
    assert send(as_owner, "cone-retire", cone.pk, reason="given away").url == reverse(
        "cone-page", args=[cone.pk]
    )
    cone.refresh_from_db()
    assert (cone.on_hand_mg, cone.retired_at is None) == (0, False)
    page = page_of(as_owner, "cone-retire", cone.pk)
    assert "gives it the 142 g (1,051 yd) that were written off" in page.text
    send(as_owner, "cone-retire", cone.pk)
    cone.refresh_from_db()
    assert (cone.on_hand_mg, cone.retired_at) == (142 * GRAM, None)
    assert [entry.change_mg for entry in cone.entries.all()] == [142 * GRAM, -142 * GRAM, 142 * GRAM]


def test_a_cone_that_was_to_go_back_says_that_its_order_awaits_it_no_more(as_owner, owner):
    order = make_order(number=1, by=owner)
    said = OfOrder(order.lines.get().pk, came=0)
    package = Package(1, labelled_mg=454 * GRAM)
    _, (cone,) = receive_several(yarn_id=0, shade="", packages=[package], by=owner, of_order=said)
    send(as_owner, "cone-retire", cone.pk, reason="wet, goes back", is_awaited="on")
    page = page_of(as_owner, "cone-retire", cone.pk)
    assert "which awaits it again since it was to go back" in page.text
    assert page.links[f"order {order.pk}"] == reverse("order-page", args=[order.pk])
    done = send(as_owner, "cone-retire", cone.pk)
    assert (
        f"is back on the shelf, and order {order.pk} awaits it no more." in Read(as_owner.get(done.url)).text
    )
    assert f"order {order.pk}" not in page_of(as_owner, "cone-retire", cone.pk).text


@pytest.mark.parametrize(
    ("reason", "says"), [("", "Say why"), ("   ", "Say why"), ("x" * 201, "at most 200")]
)
def test_a_cone_is_not_retired_without_a_reason(as_owner, cone, reason, says):
    refused = send(as_owner, "cone-retire", cone.pk, reason=reason)
    assert refused.status_code == 422
    assert says in Read(refused).errors["reason"][0]
    assert Cone.objects.get().retired_at is None


def test_a_cone_that_is_reserved_is_refused_with_the_names_of_those_who_hold_it(as_owner, cone):
    claim = ClaimFactory(name="Class kits")
    reserve(claim_id=claim.pk, wanted=[Wanted(cone.pk, "weft", 0, 914_400, 100 * GRAM)])
    page = page_of(as_owner, "cone-retire", cone.pk)
    assert "K-047 cannot be retired now" in page.text
    assert page.links["Class kits"] == reverse("claim", args=[claim.pk])
    assert page.buttons == ["", "Sign out"]
    refused = send(as_owner, "cone-retire", cone.pk, reason="moth")
    assert refused.status_code == 422
    assert "Cone K-047 is reserved for Class kits. Release that first." in Read(refused).text


def test_a_shade_with_cones_is_refused_and_names_them(as_owner, cone):
    page = page_of(as_owner, "shade-retire", cone.shade_id)
    assert page.links["K-047"] == reverse("cone-page", args=[cone.pk])
    refused = send(as_owner, "shade-retire", cone.shade_id)
    assert refused.status_code == 422
    assert "Cones of Spruce stand on the shelf." in Read(refused).text


def test_a_shade_is_retired_says_so_and_is_brought_back(as_owner, cone, owner):
    retire_cone(pk=cone.pk, by=owner, reason="empty")
    assert "takes it from the lists" in page_of(as_owner, "shade-retire", cone.shade_id).text
    send(as_owner, "shade-retire", cone.shade_id)
    assert Shade.objects.get().retired_at
    assert "Retired on" in page_of(as_owner, "shade-page", cone.shade_id).text
    send(as_owner, "shade-retire", cone.shade_id)
    assert Shade.objects.get().retired_at is None


def test_a_cone_of_a_retired_shade_waits_for_its_shade(as_owner, cone, owner):
    retire_cone(pk=cone.pk, by=owner, reason="empty")
    retire_shade(pk=cone.shade_id)
    page = page_of(as_owner, "cone-retire", cone.pk)
    assert page.links["Bring the shade back"] == reverse("shade-retire", args=[cone.shade_id])
    refused = send(as_owner, "cone-retire", cone.pk)
    assert refused.status_code == 422
    assert "The shade Spruce is retired. Bring it back first." in Read(refused).text


def test_a_yarn_with_shades_in_use_is_refused_and_names_them(as_owner, cone):
    yarn = cone.shade.yarn
    assert "Spruce" in page_of(as_owner, "yarn-retire", yarn.pk).links
    refused = send(as_owner, "yarn-retire", yarn.pk)
    assert refused.status_code == 422
    assert "has shades in use" in Read(refused).text


def test_a_yarn_is_retired_says_so_and_is_brought_back(as_owner, studio):
    yarn = make_yarn()
    send(as_owner, "yarn-retire", yarn.pk)
    assert Yarn.objects.get().retired_at
    assert "Retired on" in page_of(as_owner, "yarn-page", yarn.pk).text
    send(as_owner, "yarn-retire", yarn.pk)
    assert Yarn.objects.get().retired_at is None


def test_a_shade_of_a_retired_yarn_waits_for_its_yarn(as_owner, studio):
    shade = make_shade("Spruce")
    retire_shade(pk=shade.pk)
    retire_yarn(pk=shade.yarn_id)
    assert "Bring the yarn back" in page_of(as_owner, "shade-retire", shade.pk).links
    refused = send(as_owner, "shade-retire", shade.pk)
    assert refused.status_code == 422
    assert "is retired" in Read(refused).text


@pytest.mark.parametrize(
    "name", ["cone-retire", "shade-retire", "yarn-retire", "cone-edit", "shade-edit", "yarn-edit"]
)
def test_helpers_neither_retire_nor_edit(as_helper, cone, name):
    key = {"cone": cone.pk, "shade": cone.shade_id, "yarn": cone.shade.yarn_id}[name.split("-")[0]]
    assert as_helper.get(reverse(name, args=[key])).status_code == 403
    assert send(as_helper, name, key, reason="moth").status_code == 403


@pytest.mark.parametrize(
    "name",
    ["cone-page", "cone-edit", "cone-move", "cone-retire", "cone-ledger", "shade-page", "shade-edit", "shade-retire",
     "yarn-page", "yarn-edit", "yarn-retire", "shade-new"],
)  # fmt: skip
def test_what_is_not_there_is_said_to_be_not_there(as_owner, name):
    assert as_owner.get(reverse(name, args=[999])).status_code == 404
    assert as_owner.post(reverse(name, args=[999]), {"reason": "x"}).status_code in (403, 404)
