"""A cone's page: weighing at the shelf, its figures, its last entries."""

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from stash.models import Cone, EntryKind
from stash.services.cones import retire_cone
from stash.services.reserving import Wanted, reserve
from stash.services.weighing import weigh
from tests.factories import GRAM, ClaimFactory, make_cone, make_shade
from tests.stash.reading import Read
from tests.stash.sending import send

YARD = 914_400


@pytest.fixture
def cone(owner):
    """250 g of Spruce on a core of 34 g, on B2, lot 7: code K-047."""
    return make_cone(
        make_shade("Spruce"),
        scale_mg=284 * GRAM,
        gross=True,
        core_mg=34 * GRAM,
        lot="7",
        place="B2",
        code="K-047",
    )


def hold(cone, grams, name="Class kits", **claim):
    reserve(
        claim_id=ClaimFactory(name=name, **claim).pk,
        wanted=[Wanted(cone.pk, "weft", 0, 640 * YARD, grams * GRAM)],
    )


def page_of(client, cone):
    return Read(client.get(reverse("cone-page", args=[cone.pk])))


def messages_of(client, response):
    return Read(client.get(response.url)).text


def test_the_head_says_where_it_stands_and_what_it_is(as_viewer, cone):
    page = page_of(as_viewer, cone)
    assert "Cone K-047, place: B2" in page.text
    assert "Spruce, 8/2 cotton" in page.text
    assert "lot 7, 3,360 yd/lb, computed from the count" in page.text


def test_figures_stand_in_mass_and_length_with_those_who_hold_it(as_viewer, cone, helper):
    hold(cone, 100, need_on=date(2026, 12, 3))
    weigh(cone_id=cone.pk, scale_mg=176 * GRAM, gross=True, by=helper)
    text = page_of(as_viewer, cone).text
    # 142 g of 3,360 yd/lb are 1,051.87 yd; 42 g are 311.1.
    assert "Net now 142 g Length left 1,051 yd" in text
    assert "−108 g" in text
    assert "Reserved for Class kits weft, needed 3 December 640 yd100 g" in text
    assert "Free 311 yd42 g" in text


def test_a_viewer_sees_figures_and_no_form(as_viewer, cone):
    page = page_of(as_viewer, cone)
    assert page.changing_forms() == []
    assert not {"Move", "Edit", "Retire"} & set(page.links)
    assert send(as_viewer, "cone-page", cone.pk, scale="100", how="net").status_code == 403


def test_a_helper_may_weigh_and_move_but_not_edit(as_helper, cone):
    page = page_of(as_helper, cone)
    assert len(page.changing_forms()) == 1
    assert "Move" in page.links
    assert not {"Edit", "Retire"} & set(page.links)


def test_keeping_the_weight_takes_the_core_off(as_helper, cone):
    answer = send(as_helper, "cone-page", cone.pk, scale="176", how="gross")
    assert answer.url == reverse("cone-page", args=[cone.pk])
    cone.refresh_from_db()
    assert cone.on_hand_mg == 142 * GRAM
    assert "K-047 holds 142 g of yarn, 1,051 yd. Change: −108 g." in messages_of(as_helper, answer)


def test_yarn_only_takes_nothing_off(as_helper, cone):
    send(as_helper, "cone-page", cone.pk, scale="142 g", how="net")
    cone.refresh_from_db()
    assert cone.on_hand_mg == 142 * GRAM


def test_enter_in_the_field_is_the_main_button(as_helper, cone):
    send(as_helper, "cone-page", cone.pk, scale="176")
    cone.refresh_from_db()
    assert cone.on_hand_mg == 142 * GRAM


def test_any_unit_may_be_typed(as_helper, cone):
    send(as_helper, "cone-page", cone.pk, scale="5 oz", how="net")
    cone.refresh_from_db()
    assert cone.on_hand_mg == 141_748


def test_a_core_not_known_is_asked_for_once(as_helper, owner):
    cone = make_cone(make_shade(), 250)
    page = page_of(as_helper, cone)
    assert "core" in page.fields
    refused = send(as_helper, "cone-page", cone.pk, scale="176", how="gross")
    assert refused.status_code == 422
    assert Read(refused).errors["core"] == ["Say what the empty core weighs, or weigh the yarn alone."]
    assert Read(refused).value("scale") == "176"
    send(as_helper, "cone-page", cone.pk, scale="176", core="34", how="gross")
    cone.refresh_from_db()
    assert (cone.on_hand_mg, cone.core_mg) == (142 * GRAM, 34 * GRAM)
    assert "core" not in page_of(as_helper, cone).fields


def test_more_than_the_books_know_needs_a_reason_and_keeps_what_was_typed(as_helper, cone):
    refused = send(as_helper, "cone-page", cone.pk, scale="300", how="gross")
    page = Read(refused)
    assert refused.status_code == 422
    assert "more yarn than the books know" in page.errors["reason"][0]
    assert page.value("scale") == "300"
    cone.refresh_from_db()
    assert cone.on_hand_mg == 250 * GRAM
    kept = send(as_helper, "cone-page", cone.pk, scale="300", reason="wound back", how="gross")
    assert "Change: +16 g." in messages_of(as_helper, kept)
    assert cone.entries.first().reason == "wound back"


@pytest.mark.parametrize(
    ("scale", "says"),
    [
        ("", "Give what the scale says."),
        ("-5", "cannot be less than nothing"),
        ("33", "With its core the cone cannot weigh less than the core alone."),
        ("1,234", "Is “1,234” meant as 1234 or as 1.234?"),
        ("176 gr", "grams or as grains"),
        ("176 yd", "“yd” is a length; a weight is needed"),
        ("176 kg", "That is more than can be taken here: a weight of at most 100 kg."),
        ("heavy", "cannot be read as a number"),
        ("9" * 41, "longer than 40 characters"),
    ],
)
def test_what_cannot_be_a_weight_is_refused_at_the_field(as_helper, cone, scale, says):
    refused = send(as_helper, "cone-page", cone.pk, scale=scale, how="gross")
    assert refused.status_code == 422
    assert says in Read(refused).errors["scale"][0]
    assert Read(refused).value("scale") == scale
    assert cone.entries.count() == 1


def test_a_weighing_that_undercuts_says_whose_yarn_is_missing(as_helper, cone):
    hold(cone, 100, "Class kits")
    hold(cone, 80, "Mats for the fair")
    text = messages_of(as_helper, send(as_helper, "cone-page", cone.pk, scale="150", how="net"))
    # 180 g reserved, 150 g there: 30 g are 222.2 yd of 3,360 yd/lb.
    assert "This undercuts what is reserved on cone K-047 by 223 yd (30 g)." in text
    assert "640 yd (100 g) for Class kits, 640 yd (80 g) for Mats for the fair" in text
    assert "Undercut by 223 yd (30 g). More is reserved on this cone than is on it." in text


def test_the_last_ten_entries_stand_below_and_lead_to_the_whole_ledger(as_helper, cone, helper):
    for grams in range(249, 238, -1):
        weigh(cone_id=cone.pk, scale_mg=grams * GRAM, gross=False, by=helper)
    page = page_of(as_helper, cone)
    assert len(page.rows) == 11
    assert page.rows[1][1:4] == ["weighed by Jon", "−1.0 g", "239 g"]
    ledger = Read(as_helper.get(page.links["The whole ledger"]))
    assert len(ledger.rows) == 13
    assert ledger.rows[-1][1:5] == ["received by stock", "+250 g", "250 g", "284 gcore 34 g"]


def test_a_long_ledger_is_cut_into_pages_of_fifty(as_viewer, cone, helper):
    for grams in range(249, 194, -1):
        weigh(cone_id=cone.pk, scale_mg=grams * GRAM, gross=False, by=helper)
    address = reverse("cone-ledger", args=[cone.pk])
    assert len(Read(as_viewer.get(address)).rows) == 51
    assert len(Read(as_viewer.get(address, {"page": 2})).rows) == 7
    assert len(Read(as_viewer.get(address, {"page": "moon"})).rows) == 51


def test_a_retired_cone_says_so_with_its_reason_and_takes_no_weight(as_owner, cone, owner):
    retire_cone(pk=cone.pk, by=owner, reason="moth")
    page = page_of(as_owner, cone)
    assert ": moth." in page.text and "Retired on" in page.text
    assert page.changing_forms() == []
    assert page.links["Bring back"] == reverse("cone-retire", args=[cone.pk])
    refused = send(as_owner, "cone-page", cone.pk, scale="100", how="net")
    assert refused.status_code == 422
    assert "Bring it back before weighing it." in Read(refused).text


def test_moving_names_the_place_and_makes_a_new_one(as_helper, cone):
    answer = send(as_helper, "cone-move", cone.pk, place="Box 9")
    cone.refresh_from_db()
    assert cone.place.name == "Box 9"
    assert "Cone K-047 stands on Box 9 now." in messages_of(as_helper, answer)
    send(as_helper, "cone-move", cone.pk, place="")
    cone.refresh_from_db()
    assert cone.place is None


def test_a_place_with_too_long_a_name_is_refused_and_kept(as_helper, cone):
    refused = send(as_helper, "cone-move", cone.pk, place="x" * 41)
    assert refused.status_code == 422
    assert "at most 40" in Read(refused).errors["place"][0]
    assert Read(refused).value("place") == "x" * 41


def test_a_cone_found_again_by_its_new_place(as_helper, cone):
    send(as_helper, "cone-move", cone.pk, place="Attic")
    assert list(Cone.objects.matching("attic spruce")) == [cone]


def test_editing_changes_what_is_written_and_never_the_weight(as_owner, cone):
    answer = send(
        as_owner, "cone-edit", cone.pk,
        version="1", code="K-100", lot="9", form="tube", core="34", place="C1", note="sun-bleached outside",
    )  # fmt: skip
    assert answer.status_code == 302
    cone.refresh_from_db()
    assert (cone.code, cone.lot.name, cone.form, cone.place.name) == ("K-100", "9", "tube", "C1")
    assert cone.entries.count() == 1


def test_another_core_changes_the_net_by_an_entry_and_says_what_it_undercuts(as_owner, cone):
    hold(cone, 250)
    answer = send(
        as_owner, "cone-edit", cone.pk, version="1", code="K-047", lot="7", form="cone", core="44", place="B2"
    )
    cone.refresh_from_db()
    assert cone.on_hand_mg == 240 * GRAM
    assert cone.entries.first().kind == EntryKind.CORRECTED
    assert "undercuts what is reserved on cone K-047" in messages_of(as_owner, answer)


@pytest.mark.parametrize("code", ["K-200", "k-200"])
def test_a_code_that_another_cone_has_is_refused_at_its_field(as_owner, cone, code):
    make_cone(cone.shade, 100, code="K-200")
    refused = send(as_owner, "cone-edit", cone.pk, version="1", code=code, form="cone")
    assert refused.status_code == 422
    assert Read(refused).errors["code"] == ["Another cone has this code."]
    assert Read(refused).value("code") == code


# Studio, session, person; the cone with its names, holders, last entries, the one that can be taken back, photo.
def test_twice_the_entries_and_holders_take_the_same_number_of_queries(as_helper, cone, helper):
    hold(cone, 50, "First")
    queries = []
    for number in range(2):
        with CaptureQueriesContext(connection) as caught:
            page_of(as_helper, cone)
        queries.append(len(caught))
        hold(cone, 50, f"Next {number}")
        for grams in (240, 230, 220):
            weigh(cone_id=cone.pk, scale_mg=(grams - 30 * number) * GRAM, gross=False, by=helper)
    assert queries == [8, 8], [query["sql"] for query in caught]


def test_a_figure_far_below_the_books_is_asked_about_once_with_the_figures(as_helper, owner):
    cone = make_cone(grams=480, by=owner, core_mg=40 * GRAM)
    asked = send(as_helper, "cone-page", cone.pk, scale="62", how="gross")
    assert asked.status_code == 422
    said = Read(asked)
    assert said.errors["scale"] == [
        "The books say 480 g, this leaves 22 g: 458 g less. Is that right? "
        "Then keep it once more, or put the figure right."
    ]
    assert said.value("scale") == "62"
    cone.refresh_from_db()
    assert cone.on_hand_mg == 480 * GRAM
    again = {"scale": "62", "sure": said.value("sure")}
    assert send(as_helper, "cone-page", cone.pk, **again, how="net").status_code == 422
    assert send(as_helper, "cone-page", cone.pk, **again | {"scale": "61"}, how="gross").status_code == 422
    assert send(as_helper, "cone-page", cone.pk, **again, how="gross").status_code == 302
    cone.refresh_from_db()
    assert cone.on_hand_mg == 22 * GRAM


@pytest.mark.parametrize("fields", [{"scale": "120"}, {"scale": "10", "reason": "most went to a class"}])
def test_a_quarter_of_the_books_and_a_figure_with_a_reason_are_taken_as_they_are(as_helper, owner, fields):
    cone = make_cone(grams=480, by=owner)
    assert send(as_helper, "cone-page", cone.pk, **fields, how="net").status_code == 302
