"""Several cones at once, and deliveries that come in parts."""

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from stash.models import Cone, CoreKind, Delivery, Shade, Supplier
from stash.services.deliveries import Package, close_delivery, find_supplier, receive_several
from stash.services.refusal import Refusal
from tests.factories import GRAM, make_yarn
from tests.stash.reading import Read
from tests.stash.sending import send


@pytest.fixture
def yarn(owner):
    return make_yarn()


@pytest.fixture
def paper(db):
    return CoreKind.objects.create(name="Paper cone", mass_mg=34_000)


def several(yarn, by, *packages, **facts):
    return receive_several(yarn_id=yarn.pk, shade="Spruce", packages=packages, by=by, **facts)


def said(client, answer):
    assert answer.status_code == 302, Read(answer).errors
    return Read(client.get(answer.url)).text


def test_each_cone_has_its_own_weight_core_and_place(yarn, owner, paper):
    delivery, (first, second) = several(
        yarn,
        owner,
        Package(1, scale_mg=534 * GRAM, core_kind_id=paper.pk, place="B2"),
        Package(2, scale_mg=400 * GRAM, core_mg=20 * GRAM, labelled_mg=390 * GRAM),
        gross=True,
        lot="7",
    )
    assert delivery is None
    assert (first.on_hand_mg, first.core_mg, first.core_kind, first.place.name) == (
        500_000,
        34_000,
        paper,
        "B2",
    )
    assert (second.on_hand_mg, second.labelled_mg, second.core_kind) == (380_000, 390_000, None)
    assert first.lot == second.lot and first.shade == second.shade


def test_a_label_alone_is_a_guess(yarn, owner):
    _, (cone,) = several(yarn, owner, Package(1, labelled_mg=500 * GRAM), gross=True)
    assert (cone.on_hand_mg, cone.estimated, cone.entries.get().is_estimate) == (500_000, True, True)


@pytest.mark.parametrize(("each", "prices"), [(True, [1000, 1000, 1000]), (False, [334, 333, 333])])
def test_a_price_is_of_each_or_shared_in_whole_cents(yarn, owner, each, prices):
    packages = [Package(at, scale_mg=GRAM) for at in (1, 2, 3)]
    _, cones = several(yarn, owner, *packages, price_cents=1000, price_is_each=each)
    assert [cone.price_cents for cone in cones] == prices


def test_a_delivery_comes_in_parts_and_is_closed(yarn, owner):
    delivery, _ = several(yarn, owner, Package(1, scale_mg=GRAM), supplier=" Hill shop ", expected_cones=3)
    assert (delivery.supplier.name, delivery.expected_cones) == ("Hill shop", 3)
    again, _ = several(yarn, owner, Package(1, scale_mg=GRAM), delivery_id=delivery.pk)
    assert again == delivery
    assert Delivery.objects.with_count().get().came == 2
    close_delivery(pk=delivery.pk)
    with pytest.raises(Refusal, match="closed already"):
        close_delivery(pk=delivery.pk)
    with pytest.raises(Refusal, match="delivery is closed"):
        several(yarn, owner, Package(1, scale_mg=GRAM), delivery_id=delivery.pk)
    with pytest.raises(Refusal, match="no such delivery"):
        close_delivery(pk=9_999)


def test_a_supplier_is_one_whatever_the_case(db):
    one = find_supplier("Hill shop")
    assert find_supplier(" hill SHOP ") == one and find_supplier(" ") is None
    assert Supplier.objects.count() == 1
    with pytest.raises(ValidationError, match="at most 80"):
        find_supplier("x" * 81)


@pytest.mark.parametrize(
    ("packages", "field", "says"),
    [
        ([], "weight-1", "one cone at least"),
        (
            [Package(1, scale_mg=GRAM, core_mg=0), Package(4, scale_mg=30 * GRAM, core_mg=34 * GRAM)],
            "weight-4",
            "no yarn is left",
        ),
        ([Package(2, scale_mg=GRAM)], "core-2", "what the empty core weighs"),
        ([Package(2, scale_mg=GRAM, core_kind_id=99)], "core-2", "no such kind of core"),
        ([Package(3)], "weight-3", "what its label says"),
    ],
)
def test_one_line_that_cannot_be_keeps_all_from_the_shelf(yarn, owner, packages, field, says):
    with pytest.raises(Refusal, match=says) as refused:
        several(yarn, owner, *packages, gross=True, supplier="Hill shop")
    assert refused.value.field == field
    assert (Cone.objects.count(), Delivery.objects.count(), Shade.objects.count()) == (0, 0, 0)


def test_the_page_takes_several_and_goes_on_with_the_same_yarn(as_owner, yarn, paper):
    fields = {
        "yarn": str(yarn.pk),
        "shade": "Spruce",
        "lot": "7",
        "scale": "gross",
        "core": "20",
        "rows": "6",
    }
    lines = {"weight-1": "534", "core-1": str(paper.pk), "weight-3": "220", "label-3": "190", "place-3": "B2"}
    bought = {"price": "25,01", "price_of": "all", "supplier": "Hill shop", "expected": "5", "again": "1"}
    answer = send(as_owner, "receive", **fields, **lines, **bought)
    assert "2 cones are on the shelf, 700 g together: K-001, K-002." in said(as_owner, answer)
    page = Read(as_owner.get(answer.url))
    assert (page.value("shade"), page.value("lot"), page.value("yarn")) == ("Spruce", "7", str(yarn.pk))
    assert "supplier" not in page.fields
    delivery = Delivery.objects.get()
    text = said(as_owner, send(as_owner, "receive", **fields | {"scale": "net", "weight-1": "100"}))
    assert "1 cone is on the shelf" in text
    text = Read(as_owner.get(reverse("delivery-page", args=[delivery.pk]))).text
    assert "2 cones came of 5. 3 still awaited. Together 25.01 EUR." in text
    further = as_owner.post(f"{reverse('receive')}?delivery={delivery.pk}", fields | {"weight-1": "54"})
    assert "3 cones came of 5. 2 still awaited." in said(as_owner, further)


def test_label_and_scale_stand_side_by_side_on_the_cones_page(as_owner, yarn, owner):
    _, (one, two) = several(
        yarn,
        owner,
        Package(1, scale_mg=480 * GRAM, labelled_mg=500 * GRAM),
        Package(2, labelled_mg=500 * GRAM),
        supplier="Hill shop",
        price_cents=1250,
    )
    text = Read(as_owner.get(reverse("cone-page", args=[one.pk]))).text
    assert "On its label when it came, weighed 480 g 500 g" in text
    assert "Price 12.50 EUR" in text and "Hill shop" in text
    text = Read(as_owner.get(reverse("cone-page", args=[two.pk]))).text
    assert "when it came, not weighed 500 g" in text and "Net now about 500 g" in text


def test_more_lines_keep_what_was_typed(as_owner, yarn):
    answer = send(
        as_owner, "receive", yarn=str(yarn.pk), shade="Spruce", rows="6", more="1", **{"weight-2": "x"}
    )
    page = Read(answer)
    assert (answer.status_code, page.value("shade"), page.value("weight-2")) == (200, "Spruce", "x")
    assert "weight-12" in page.fields
    assert not Cone.objects.exists()


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({}, "yarn"),
        ({"weight-2": "heavy"}, "weight-2"),
        ({"weight-2": "5", "core-2": "x"}, "core-2"),
        ({"weight-1": "5", "price": "12.505"}, "price"),
        ({"weight-1": "5", "expected": "0"}, "expected"),
        ({"weight-1": "5", "received_on": "soon"}, "received_on"),
        ({"weight-1": "5", "supplier": "x" * 81}, "supplier"),
        ({"weight-1": "5", "rows": "9" * 30, "shade": ""}, "shade"),
        ({"rows": "0"}, "weight-1"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field_and_nothing_is_kept(as_owner, yarn, fields, field):
    typed = ({"yarn": str(yarn.pk), "shade": "Spruce"} | fields) if fields else {}
    refused = send(as_owner, "receive", **typed)
    assert refused.status_code == 422
    assert field in Read(refused).errors
    assert not Cone.objects.exists()


def test_a_delivery_that_is_closed_or_not_there_takes_no_more(as_owner, yarn, owner):
    delivery, _ = several(yarn, owner, Package(1, scale_mg=GRAM), expected_cones=2)
    assert "Close the delivery" in Read(as_owner.get(reverse("delivery-page", args=[delivery.pk]))).buttons
    assert "is closed" in said(as_owner, send(as_owner, "delivery-page", delivery.pk))
    for key in (str(delivery.pk), "9999", "9" * 30):
        answer = as_owner.get(reverse("receive"), {"delivery": key})
        assert answer.status_code == (200 if len(key) > 19 else 404)


@pytest.mark.parametrize("name", ["receive", "deliveries", "delivery-page", "cone-page"])
def test_twice_the_cones_take_the_same_number_of_queries(as_owner, yarn, owner, name):
    delivery, cones = several(yarn, owner, Package(1, scale_mg=GRAM), supplier="Hill shop")
    args = {"delivery-page": [delivery.pk], "cone-page": [cones[0].pk]}.get(name, [])
    counts = []
    for number in range(2):
        with CaptureQueriesContext(connection) as caught:
            as_owner.get(reverse(name, args=args))
        counts.append(len(caught))
        several(yarn, owner, *[Package(at, scale_mg=GRAM) for at in (1, 2)], delivery_id=delivery.pk)
        several(yarn, owner, Package(1, scale_mg=GRAM), supplier=f"Shop {number}")
    assert counts[0] == counts[1], [query["sql"] for query in caught]
