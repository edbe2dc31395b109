"""The small pages of a cone, one for each change; and taking back from the cone's page."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from stash.models import Cone, Entry
from stash.services.cones import retire_cone
from stash.services.reserving import Wanted, reserve
from stash.services.weighing import weigh
from tests.factories import GRAM, ClaimFactory, make_cone, make_shade
from tests.stash.reading import Read
from tests.stash.sending import send

PAGES = ("cone-wind-over", "cone-split", "cone-join", "cone-condition", "cone-oddment", "cone-write-off")


@pytest.fixture
def pair(owner):
    shade = make_shade("Spruce")
    return make_cone(shade, 250, code="K-1", lot="7", place="B2"), make_cone(shade, 100, code="K-2", lot="7")


def page_of(client, name, cone):
    return Read(client.get(reverse(name, args=[cone.pk])))


def said(client, answer):
    assert answer.status_code == 302, Read(answer).errors
    return Read(client.get(answer.url)).text


def on_hand(*cones):
    return [Cone.objects.get(pk=cone.pk).on_hand_mg // GRAM for cone in cones]


def test_the_cone_page_leads_to_every_change(as_owner, pair):
    links = page_of(as_owner, "cone-page", pair[0]).links.values()
    assert {reverse(name, args=[pair[0].pk]) for name in PAGES} <= set(links)


def test_a_helper_finds_all_but_writing_off(as_helper, pair):
    links = page_of(as_helper, "cone-page", pair[0]).links
    assert "Wind over" in links and "Write off a part" not in links


def test_winding_over_says_first_what_it_does(as_helper, pair):
    page = page_of(as_helper, "cone-wind-over", pair[0])
    assert "takes no more than is free: 250 g." in page.text
    assert "K-2, 100 g" in page.text
    text = said(as_helper, send(as_helper, "cone-wind-over", pair[0].pk, target=str(pair[1].pk), amount="50"))
    assert "50 g went from K-1 to K-2, which holds 150 g now; 200 g are left here." in text
    assert on_hand(*pair) == [200, 150]


def test_a_guess_is_shown_as_about(as_helper, pair):
    send(as_helper, "cone-wind-over", pair[0].pk, target=str(pair[1].pk), amount="50", about="on")
    for cone, change in zip(pair, ("about −50 g", "about +50 g"), strict=True):
        page = page_of(as_helper, "cone-page", cone)
        assert "Net now about" in page.text
        assert page.rows[1][2] == change
    send(as_helper, "cone-page", pair[0].pk, scale="199", how="net")
    assert "Net now 199 g" in page_of(as_helper, "cone-page", pair[0]).text


def test_a_weighing_may_be_a_guess(as_helper, pair):
    send(as_helper, "cone-page", pair[0].pk, scale="120", how="net", about="on")
    assert "Net now about 120 g" in page_of(as_helper, "cone-page", pair[0]).text


@pytest.mark.parametrize(
    ("fields", "field", "says"),
    [
        ({"amount": "50"}, "target", "Choose one at “On to”."),
        ({"target": "999999", "amount": "50"}, "target", "same shade and lot from the list"),
        ({"target": "x", "amount": "50"}, "target", "same shade and lot from the list"),
        ({"target": "K-2", "amount": "251"}, "amount", "holds 250 g, 251 g were asked for"),
        ({"target": "K-2", "amount": "a lot"}, "amount", "cannot be read as a number"),
        ({"target": "K-2", "amount": "-5"}, "amount", "less than nothing"),
        ({"target": "K-2", "amount": "5", "reason": "x" * 151}, "reason", "at most 150"),
    ],
)
def test_what_cannot_be_wound_over_is_refused_at_its_field(as_helper, pair, fields, field, says):
    typed = fields | ({"target": str(pair[1].pk)} if fields.get("target") == "K-2" else {})
    refused = send(as_helper, "cone-wind-over", pair[0].pk, **typed)
    assert refused.status_code == 422
    assert says in Read(refused).errors[field][0]
    assert on_hand(*pair) == [250, 100]


def test_without_a_partner_the_page_says_why(as_helper, owner):
    alone = make_cone(make_shade("Spruce"), lot="7")
    unknown = make_cone(make_shade("Rust"))
    for name in ("cone-wind-over", "cone-join"):
        assert "No other cone of this shade and lot" in page_of(as_helper, name, alone).text
        assert "The dye lot of this cone is not known" in page_of(as_helper, name, unknown).text


def test_a_retired_cone_bars_every_page(as_owner, pair, owner):
    retire_cone(pk=pair[0].pk, by=owner, reason="moth")
    for name in PAGES:
        page = page_of(as_owner, name, pair[0])
        assert "is retired. Bring it back first." in page.text
        assert page.changing_forms() == []


def test_splitting_makes_a_spool(as_helper, pair):
    answer = send(as_helper, "cone-split", pair[0].pk, amount="30", form="spool", core="12", code="S-1")
    assert "Spool S-1 holds 30 g from K-1." in said(as_helper, answer)
    new = Cone.objects.get(code="S-1")
    assert (new.on_hand_mg, new.core_mg, new.place.name) == (30_000, 12_000, "B2")
    refused = send(as_helper, "cone-split", pair[0].pk, amount="30", form="spool", code="S-1")
    assert Read(refused).errors["code"] == ["Another cone has this code."]


def test_joining_retires_the_remnant_and_is_taken_back_from_the_other(as_helper, pair):
    text = said(as_helper, send(as_helper, "cone-join", pair[1].pk, target=str(pair[0].pk)))
    assert "K-2 is joined to K-1, which holds 350 g now." in text
    entry = pair[0].entries.first()
    text = said(as_helper, send(as_helper, "cone-take-back", pair[0].pk, entry=str(entry.pk)))
    assert "K-1 holds 250 g again." in text
    assert on_hand(*pair) == [250, 100]


def test_a_condition_is_shown_and_who_counts_on_the_cone_is_named(as_helper, pair):
    reserve(claim_id=ClaimFactory(name="Class kits").pk, wanted=[Wanted(pair[0].pk, "weft", 0, 1000, 5000)])
    answer = send(
        as_helper,
        "cone-condition",
        pair[0].pk,
        condition="quarantine",
        on="2026-12-03",
        reason="moth suspected",
    )
    text = said(as_helper, answer)
    assert "In quarantine until 3 December 2026. It is offered to no project." in text
    assert "reserved for Class kits. Reserve again there" in text
    refused = send(as_helper, "cone-condition", pair[0].pk, condition="oddment")
    assert "from the list" in Read(refused).errors["condition"][0]
    refused = send(as_helper, "cone-condition", pair[0].pk, condition="weak", on="someday")
    assert "on" in Read(refused).errors


def test_a_reserved_cone_is_not_put_with_the_oddments(as_helper, pair):
    reserve(claim_id=ClaimFactory(name="Class kits").pk, wanted=[Wanted(pair[0].pk, "weft", 0, 1000, 5000)])
    refused = send(as_helper, "cone-oddment", pair[0].pk)
    assert refused.status_code == 422
    assert "reserved for Class kits. Release that first." in Read(refused).text
    text = said(as_helper, send(as_helper, "cone-oddment", pair[1].pk, on="2026-03-01"))
    assert "Oddment since 1 March 2026. It is offered to no project." in text
    assert "To the oddments" not in page_of(as_helper, "cone-page", pair[1]).links


def test_writing_off_a_part_is_for_owners_and_needs_a_reason(as_owner, pair):
    refused = send(as_owner, "cone-write-off", pair[0].pk, amount="20")
    assert Read(refused).errors["reason"] == ["Say why: moth, soiled, given away, sold."]
    text = said(as_owner, send(as_owner, "cone-write-off", pair[0].pk, amount="20", reason="moth"))
    assert "20 g of K-1 are written off; it holds 230 g." in text


def test_a_weighing_is_taken_back_from_the_page_and_only_once(as_helper, pair, helper):
    assert "Take back" not in page_of(as_helper, "cone-page", pair[0]).buttons
    entry = weigh(cone_id=pair[0].pk, scale_mg=25 * GRAM, gross=False, by=helper)
    page = page_of(as_helper, "cone-page", pair[0])
    assert page.buttons.count("Take back") == 1
    assert page.value("entry") == str(entry.pk)
    assert "K-1 holds 250 g again." in said(
        as_helper, send(as_helper, "cone-take-back", pair[0].pk, entry=str(entry.pk))
    )
    assert "taken back already" in said(
        as_helper, send(as_helper, "cone-take-back", pair[0].pk, entry=str(entry.pk))
    )
    assert on_hand(pair[0]) == [250]


@pytest.mark.parametrize("entry", ["", "x", "-1", "9" * 30, "0"])
def test_an_entry_that_cannot_be_read_is_no_crash(as_helper, pair, entry):
    assert "Choose an entry of this cone" in said(
        as_helper, send(as_helper, "cone-take-back", pair[0].pk, entry=entry)
    )


def test_an_entry_of_another_cone_is_not_taken_back(as_helper, pair, helper):
    entry = weigh(cone_id=pair[1].pk, scale_mg=25 * GRAM, gross=False, by=helper)
    said(as_helper, send(as_helper, "cone-take-back", pair[0].pk, entry=str(entry.pk)))
    assert not Entry.objects.filter(undoes=entry).exists()


def test_a_helper_reads_why_a_write_off_stays(as_helper, pair, owner):
    from stash.calc.quantity import read_amount
    from stash.services.changing import write_off

    write_off(pk=pair[0].pk, amount=read_amount("20"), reason="moth", by=owner)
    page = page_of(as_helper, "cone-page", pair[0])
    assert "Take back" not in page.buttons
    assert "Only an owner takes back" in page.text


@pytest.mark.parametrize("name", ["cone-wind-over", "cone-join"])
def test_twice_the_cones_take_the_same_number_of_queries(as_helper, pair, name):
    counts = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as caught:
            page_of(as_helper, name, pair[0])
        counts.append(len(caught))
        for _ in range(4):
            make_cone(pair[0].shade, lot="7", place="B2")
    assert counts[0] == counts[1], [query["sql"] for query in caught]


def test_a_move_and_a_condition_read_as_such_in_the_ledger(as_helper, pair):
    send(as_helper, "cone-move", pair[0].pk, place="Box 9")
    send(as_helper, "cone-condition", pair[0].pk, condition="weak")
    rows = page_of(as_helper, "cone-page", pair[0]).rows
    assert [(row[1].split(" by ")[0], row[2], row[-1]) for row in rows[1:3]] == [
        ("condition noted", "", "weak"),
        ("moved", "", "to Box 9"),
    ]
