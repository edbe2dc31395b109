"""The pages of a stocktake: begun, counted along, settled, closed and printed; and who may."""

import json
from html.parser import HTMLParser

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from stash.models import Cone, Count, EntryKind, Finding, Stocktake
from stash.services.cones import retire_cone
from stash.services.reserving import Wanted, reserve
from stash.services.stocktaking import Figure, begin, close, count, settle
from stash.services.weighing import weigh
from tests.books import assert_books_agree
from tests.factories import GRAM, ClaimFactory, make_cone, make_shade, make_yarn

# Pages and forms: what they say does not hang on what keeps the books.
pytestmark = [pytest.mark.django_db, pytest.mark.once]

CORE = 30 * GRAM
_number = iter(range(10**6))


def key() -> str:
    return f"key-of-a-page-{next(_number):06d}"


class Words(HTMLParser):
    """The text of a page, with spaces only where a person sees them."""

    def __init__(self, response) -> None:
        super().__init__()
        self._words: list[str] = []
        self.links: set[str] = set()
        self.feed(response.content.decode())
        self.text = " ".join(" ".join(self._words).split())

    def handle_starttag(self, tag, attrs):
        if tag == "a":
            self.links.add(dict(attrs).get("href") or "")

    def handle_data(self, data):
        self._words.append(data)


@pytest.fixture
def shelf(owner):
    facts = {"scale_mg": 530 * GRAM, "gross": True, "core_mg": CORE, "place": "North shelf", "by": owner}
    return [make_cone(lot=f"A{number}", **facts) for number in range(3)]


@pytest.fixture
def stocktake(shelf, owner):
    return begin(place_id=shelf[0].place_id, by=owner, note="year's end")


def address(name, stocktake):
    return reverse(f"stocktake-{name}", args=[stocktake.pk])


def keep(stocktake, cone, grams, by, **figure):
    return count(
        stocktake_id=stocktake.pk,
        cone_id=cone.pk,
        key=key(),
        figure=Figure(scale_mg=grams * GRAM, **figure),
        by=by,
    )[1]


# --- The list -----------------------------------------------------------------------------------------------


def test_the_yarn_page_leads_to_the_stocktakes(as_viewer):
    assert reverse("stocktakes") in Words(as_viewer.get(reverse("yarn"))).links


def test_an_empty_shelf_has_nothing_to_count(as_owner):
    page = Words(as_owner.get(reverse("stocktakes")))
    assert "Nothing to count yet" in page.text
    assert "Begin to count" not in page.text


def test_a_helper_begins_and_is_led_to_the_first_cone(as_helper, shelf):
    page = Words(as_helper.get(reverse("stocktakes")))
    assert "North shelf, 3 cones" in page.text
    answer = as_helper.post(reverse("stocktakes"), {"place": shelf[0].place_id, "note": "spring"})
    begun = Stocktake.objects.get()
    assert (answer.url, begun.note) == (address("page", begun), "spring")
    page = Words(as_helper.get(answer.url))
    assert "0 counted, 3 left" in page.text
    assert ", lot A0, cone, core 30 g" in page.text


def test_the_whole_shelf_is_a_choice(as_helper, shelf):
    as_helper.post(reverse("stocktakes"), {"place": "all"})
    assert Stocktake.objects.get().place is None
    assert "The whole shelf" in Words(as_helper.get(reverse("stocktakes"))).text


@pytest.mark.parametrize("place", ["", "0", "404", "north", "9" * 30])
def test_a_place_that_is_not_offered_is_refused(as_helper, shelf, place):
    answer = as_helper.post(reverse("stocktakes"), {"place": place})
    assert answer.status_code == 422
    assert not Stocktake.objects.exists()


def test_a_second_stocktake_of_the_place_is_refused_in_words(as_helper, stocktake):
    answer = as_helper.post(reverse("stocktakes"), {"place": stocktake.place_id})
    assert answer.status_code == 422
    assert "open already. Go on with that one." in Words(answer).text


# --- Without script: a form a cone --------------------------------------------------------------------------


def form_for(cone, **facts):
    return {"cone": cone.pk, "key": key(), "scale": ""} | facts


def test_keep_leads_to_the_next_cone(as_helper, stocktake, shelf):
    answer = as_helper.post(address("page", stocktake), form_for(shelf[0], scale="431 g"))
    assert answer.url == f"{address('page', stocktake)}?after={shelf[0].pk}"
    found = Count.objects.get()
    assert (found.scale_mg, found.net_mg, found.by.username) == (431 * GRAM, 401 * GRAM, "jon")
    page = as_helper.get(answer.url)
    assert page.context["cone"] == shelf[1]
    assert "That is far from the books: look again" in Words(page).text
    assert_books_agree()
    assert Cone.objects.get(pk=shelf[0].pk).on_hand_mg == 500 * GRAM


def test_the_same_form_sent_twice_counts_once(as_helper, stocktake, shelf):
    form = form_for(shelf[0], scale="431")
    for _ in range(2):
        assert as_helper.post(address("page", stocktake), form).status_code == 302
    assert Count.objects.count() == 1


def test_after_the_last_cone_the_one_passed_over_comes_again(as_helper, stocktake, shelf):
    page = as_helper.get(f"{address('page', stocktake)}?after={shelf[0].pk}")
    assert page.context["cone"] == shelf[1]
    for cone in shelf[1:]:
        as_helper.post(address("page", stocktake), form_for(cone, scale="530"))
    assert as_helper.get(address("page", stocktake)).context["cone"] == shelf[0]
    as_helper.post(address("page", stocktake), form_for(shelf[0], finding="absent"))
    page = as_helper.get(address("page", stocktake))
    assert page.context["all_done"]
    assert "Every cone is counted." in Words(page).text


def test_a_cone_may_be_chosen_and_counted_anew(as_helper, stocktake, shelf):
    as_helper.post(address("page", stocktake), form_for(shelf[2], scale="530", yarn_only="on"))
    page = as_helper.get(f"{address('page', stocktake)}?cone={shelf[2].pk}")
    assert page.context["cone"] == shelf[2]
    assert "Counted as 530 g, yarn only . A new figure takes its place." in Words(page).text
    as_helper.post(
        address("page", stocktake), form_for(shelf[2], scale="540", is_estimate="on", note="damp corner")
    )
    found = Count.objects.get()
    assert (found.scale_mg, found.is_gross, found.is_estimate, found.note) == (
        540 * GRAM,
        True,
        True,
        "damp corner",
    )


def test_a_figure_that_cannot_be_read_comes_back_with_its_cone(as_helper, stocktake, shelf):
    answer = as_helper.post(address("page", stocktake), form_for(shelf[1], scale="43l g", note="edge"))
    assert answer.status_code == 422
    assert answer.context["cone"] == shelf[1]
    text = answer.content.decode()
    assert 'value="43l g"' in text and 'value="edge"' in text
    assert "not a unit" in Words(answer).text
    assert not Count.objects.exists()


def test_nothing_typed_is_no_weight_of_nothing(as_helper, stocktake, shelf):
    answer = as_helper.post(address("page", stocktake), form_for(shelf[1]))
    assert answer.status_code == 422
    assert "say that the cone is not here" in Words(answer).text


def test_a_form_of_a_closed_stocktake_says_so(as_helper, stocktake, shelf, owner):
    close(pk=stocktake.pk, by=owner)
    answer = as_helper.post(address("page", stocktake), form_for(shelf[0], scale="1"))
    assert answer.status_code == 422
    assert "was closed on" in Words(answer).text


@pytest.mark.parametrize("query", ["?cone=404", "?cone=x", "?after=-1", f"?after={'9' * 40}"])
def test_an_address_that_names_no_cone_shows_the_next(as_helper, stocktake, shelf, query):
    assert as_helper.get(address("page", stocktake) + query).context["cone"] == shelf[0]


def test_the_books_are_not_shown_while_counting(as_helper, stocktake, shelf):
    """Else the figure is read off the page, and not off the scale."""
    assert "500 g" not in Words(as_helper.get(address("page", stocktake))).text


# --- Counts that the page sends by itself -------------------------------------------------------------------


def send(client, stocktake, *items, seen=0):
    return client.post(
        address("counts", stocktake),
        json.dumps({"seen": seen, "counts": items}),
        content_type="application/json",
    )


def item(cone, scale="431", **facts):
    return {"key": key(), "cone": cone.pk, "finding": "weighed", "scale": scale, "age_ms": 10} | facts


def test_counts_are_kept_and_answered_by_their_keys(as_helper, stocktake, shelf):
    first, second = item(shelf[0], "529"), item(shelf[1], "", finding="absent")
    answer = send(as_helper, stocktake, first, second).json()
    assert [(one["key"], one["outcome"]) for one in answer["results"]] == [
        (first["key"], "kept"),
        (second["key"], "kept"),
    ]
    assert answer["news"] == [
        {"cone": shelf[0].pk, "code": "K-001", "shade": "Spruce", "found": "529 g", "again": False},
        {"cone": shelf[1].pk, "code": "K-002", "shade": "Spruce", "found": "not here", "again": False},
    ]
    assert Cone.objects.get(pk=shelf[0].pk).on_hand_mg == 500 * GRAM


def stray_item(scale, **facts):
    return {"key": key(), "cone": None, "finding": "weighed", "scale": scale} | facts


def test_a_cone_that_belongs_elsewhere_is_counted_by_its_code_or_its_label(as_helper, stocktake, owner):
    for code in ("Q-9", "Q-10"):
        make_cone(place="Attic", code=code, by=owner, grams=200)
    by_code = stray_item("199", code="q-9", yarn_only=True)
    by_label = stray_item("200", code="http://loft.example/k/Q-10/", yarn_only=True)
    nobody = stray_item("200", code="Q-99")
    answer = send(as_helper, stocktake, by_code, by_label, nobody, by_code).json()
    assert [one["outcome"] for one in answer["results"]] == ["kept", "kept", "refused", "again"]
    assert "No cone has the code Q-99." in answer["results"][2]["reason"]
    assert [(one["code"], one["found"]) for one in answer["news"]] == [
        ("Q-9", "199 g, yarn only"),
        ("Q-10", "200 g, yarn only"),
    ]
    page = Words(as_helper.get(address("page", stocktake))).text
    assert "Q-9" in page and "Q-10" in page
    differences = Words(as_helper.get(address("differences", stocktake))).text
    assert "Attic" in differences or "2 cones" in differences


def test_without_script_a_cone_is_named_by_its_code_as_well(as_helper, stocktake, owner):
    cone = make_cone(place="Attic", code="Q-9", by=owner, grams=200)
    page = as_helper.get(address("page", stocktake), {"code": " q-9 "})
    assert page.context["cone"] == cone
    fields = {"cone": cone.pk, "key": key(), "scale": "200", "yarn_only": "on"}
    assert as_helper.post(address("page", stocktake), fields).status_code == 302
    assert Count.objects.get().cone == cone


@pytest.mark.parametrize("typed", ["Q-99", "a\x00b", "x" * 400])
def test_a_code_that_no_cone_has_is_said(as_helper, stocktake, typed):
    page = as_helper.get(address("page", stocktake), {"code": typed})
    assert page.status_code == 200
    assert "No cone has the code" in Words(page).text


def test_a_sending_whose_answer_was_lost_is_sent_again_and_counts_once(as_helper, stocktake, shelf):
    sent = [item(shelf[0]), item(shelf[1])]
    send(as_helper, stocktake, *sent)
    before = list(Count.objects.order_by("pk").values())
    answer = send(as_helper, stocktake, *sent, item(shelf[2])).json()
    assert [one["outcome"] for one in answer["results"]] == ["again", "again", "kept"]
    assert list(Count.objects.order_by("pk").values())[:2] == before


def test_news_are_what_the_page_has_not_seen(as_helper, stocktake, shelf, owner):
    seen = send(as_helper, stocktake, item(shelf[0])).json()["seen"]
    keep(stocktake, shelf[1], 300, owner)
    answer = as_helper.get(f"{address('counts', stocktake)}?seen={seen}").json()
    assert answer["news"] == [
        {"cone": shelf[1].pk, "code": "K-002", "shade": "Spruce", "found": "300 g", "again": True}
    ]
    assert as_helper.get(f"{address('counts', stocktake)}?seen={answer['seen']}").json()["news"] == []


def test_one_that_cannot_be_kept_does_not_stop_the_others(as_helper, stocktake, shelf):
    answer = send(as_helper, stocktake, item(shelf[0], "4xx"), item(shelf[1], "430")).json()
    refused, kept = answer["results"]
    assert refused["outcome"] == "refused" and "not a unit" in refused["reason"]
    assert kept["outcome"] == "kept"


def test_a_count_for_what_is_closed_or_retired_says_why(as_helper, stocktake, shelf, owner):
    retire_cone(pk=shelf[0].pk, by=owner, reason="empty")
    (retired,) = send(as_helper, stocktake, item(shelf[0])).json()["results"]
    close(pk=stocktake.pk, by=owner)
    (closed,) = send(as_helper, stocktake, item(shelf[1])).json()["results"]
    assert (retired["outcome"], closed["outcome"]) == ("refused", "refused")
    assert "was retired on" in retired["reason"] and "was closed on" in closed["reason"]


HOSTILE_BODIES = [
    b"",
    b"{",
    b"null",
    b"[]",
    b'"counts"',
    b"{}",
    b'{"counts": {}}',
    b'{"counts": null}',
    b'{"counts": [' + b"{}," * 100 + b"{}]}",
    b'{"counts": [], "x": "\xff"}',
    b'{"counts": ["\\ud800"]}',
    b"[" * 100_000,
    b'{"seen": ' + b"9" * 5_000 + b', "counts": []}',
]


@pytest.mark.parametrize("body", HOSTILE_BODIES, ids=range(len(HOSTILE_BODIES)))
def test_what_no_page_sends_is_refused_whole(as_helper, stocktake, body):
    answer = as_helper.post(address("counts", stocktake), body, content_type="application/json")
    assert answer.status_code == 422
    assert answer.json()["error"].endswith(".")
    assert not Count.objects.exists()


HOSTILE = [
    {"key": None},
    {"key": ""},
    {"key": "short"},
    {"key": "k" * 41},
    {"key": "k" * 10_000},
    {"key": "nul\x00-in-the-key-of-it"},
    {"key": ["a list of a key"]},
    {"cone": 404},
    {"cone": -1},
    {"cone": 0},
    {"cone": 2**63},
    {"cone": 10**30},
    {"cone": True},
    {"cone": 1.5},
    {"cone": "one"},
    {"cone": None},
    {"cone": [1]},
    {"scale": "1000000000000"},
    {"scale": str(10**300)},
    {"scale": "-5"},
    {"scale": "−5"},
    {"scale": "29"},
    {"scale": "1,234"},
    {"scale": "9" * 10_000},
    {"scale": "\x00"},
    {"scale": ""},
    {"scale": None},
    {"scale": 431.5},
    {"scale": {"g": 431}},
    {"finding": "passed"},
    {"finding": "guessed"},
    {"note": "n" * 201},
    {"note": "nul \x00"},
]


@pytest.mark.parametrize("bad", HOSTILE, ids=range(len(HOSTILE)))
def test_what_is_hostile_is_refused_with_a_reason(as_helper, stocktake, shelf, bad):
    answer = send(as_helper, stocktake, item(shelf[0]) | bad)
    assert answer.status_code == 200
    (result,) = answer.json()["results"]
    assert result["outcome"] == "refused" and result["reason"].strip().endswith(".")
    assert not Count.objects.exists()


@pytest.mark.parametrize("age", [-5, 10**300, 1e308, float("inf"), float("nan"), True, "10", None, [], {}])
def test_an_age_that_is_nonsense_is_now_or_the_beginning(as_helper, stocktake, shelf, age):
    (result,) = send(as_helper, stocktake, item(shelf[0]) | {"age_ms": age}).json()["results"]
    assert result["outcome"] == "kept"
    found = Count.objects.get()
    assert stocktake.began_at <= found.counted_at


def test_what_is_too_much_is_refused(as_helper, stocktake):
    body = b'{"counts": ["' + b"x" * 1_100_000 + b'"]}'
    answer = as_helper.post(address("counts", stocktake), body, content_type="application/json")
    assert answer.status_code == 422


def test_an_item_that_is_no_object_is_refused_beside_the_others(as_helper, stocktake, shelf):
    answer = send(as_helper, stocktake, 7, None, "x", [], item(shelf[0])).json()
    assert [one["outcome"] for one in answer["results"]] == ["refused"] * 4 + ["kept"]


def test_a_stocktake_that_is_not_there_is_not_found(as_helper, studio):
    assert as_helper.get(reverse("stocktake-counts", args=[404])).status_code == 404


# --- Differences --------------------------------------------------------------------------------------------


def test_each_difference_stands_with_both_sides_and_what_may_explain_it(as_helper, stocktake, shelf, owner):
    reserve(
        claim_id=ClaimFactory(name="Lantern mats").pk,
        wanted=[Wanted(shelf[0].pk, "weft", 0, 1000, 200 * GRAM)],
    )
    keep(stocktake, shelf[0], 331, owner)
    page = Words(as_helper.get(address("differences", stocktake)))
    assert "1 to look at, 0 within noise" in page.text
    assert "Books 500 g" in page.text and "331 g yarn 301 g" in page.text
    # 199 g of 3,360 yd/lb are 1,474 yd.
    assert "−199 g −1,474 yd, −39.8 % of the books" in page.text
    assert "Used already: 200 g are put aside for Lantern mats." in page.text


def test_noise_is_named_and_accepted_at_once(as_helper, stocktake, shelf, owner):
    keep(stocktake, shelf[0], 525, owner)
    keep(stocktake, shelf[1], 530, owner)
    keep(stocktake, shelf[2], 400, owner)
    page = Words(as_helper.get(address("differences", stocktake)))
    assert "1 to look at, 2 within noise" in page.text
    assert "10 g (2 % of what the books have)" in page.text
    as_helper.post(address("differences", stocktake), {"what": "noise"})
    held = list(Cone.objects.order_by("pk").values_list("on_hand_mg", flat=True))
    assert held == [495 * GRAM, 500 * GRAM, 500 * GRAM]
    assert_books_agree()
    again = as_helper.post(address("differences", stocktake), {"what": "noise"}, follow=True)
    assert "Nothing within noise waits any more." in Words(again).text


def test_a_helper_accepts_with_a_reason_and_the_undercut_is_said(as_helper, stocktake, shelf, owner):
    reserve(
        claim_id=ClaimFactory(name="Lantern mats").pk,
        wanted=[Wanted(shelf[0].pk, "weft", 0, 1000, 450 * GRAM)],
    )
    found = keep(stocktake, shelf[0], 400, owner)
    page = Words(as_helper.get(address("differences", stocktake)))
    assert "undercuts what is reserved for Lantern mats by" in page.text
    answer = as_helper.post(
        address("differences", stocktake),
        {"count": found.pk, "what": "accept", "reason": "used and not noted"},
        follow=True,
    )
    text = Words(answer).text
    assert "the books say 370 g now" in text and "This undercuts what is reserved" in text
    entry = shelf[0].entries.first()
    assert (entry.kind, entry.by.username, entry.reason) == (EntryKind.COUNTED, "jon", "used and not noted")
    answer = as_helper.post(
        address("differences", stocktake), {"count": found.pk, "what": "accept"}, follow=True
    )
    assert "settled already" in Words(answer).text
    assert shelf[0].entries.count() == 2


def test_more_yarn_without_a_reason_is_refused_at_its_row(as_helper, stocktake, shelf, owner):
    found = keep(stocktake, shelf[0], 600, owner)
    keep(stocktake, shelf[1], 300, owner)
    answer = as_helper.post(
        address("differences", stocktake), {"count": found.pk, "what": "accept", "reason": " "}
    )
    assert answer.status_code == 422
    assert f'id="id_{found.pk}_reason_error"' in answer.content.decode()
    assert shelf[0].entries.count() == 1


def test_the_books_are_left_as_they_are_with_a_reason(as_helper, stocktake, shelf, owner):
    found = keep(stocktake, shelf[0], 300, owner)
    for reason, status in (("", 422), ("stands elsewhere", 302)):
        answer = as_helper.post(
            address("differences", stocktake), {"count": found.pk, "what": "leave", "reason": reason}
        )
        assert answer.status_code == status
    found.refresh_from_db()
    assert (found.reason, found.entry) == ("stands elsewhere", None)


def test_what_changed_since_is_said_and_has_to_be_confirmed(as_helper, stocktake, shelf, owner):
    found = keep(stocktake, shelf[0], 300, owner)
    weigh(cone_id=shelf[0].pk, scale_mg=400 * GRAM, gross=True, by=owner)
    page = Words(as_helper.get(address("differences", stocktake)))
    assert "The books changed after it was counted: weighed," in page.text
    form = {"count": found.pk, "what": "accept", "reason": "weighed wrongly"}
    assert as_helper.post(address("differences", stocktake), form).status_code == 422
    form["confirmed"] = "on"
    assert as_helper.post(address("differences", stocktake), form).status_code == 302
    assert Cone.objects.get(pk=shelf[0].pk).on_hand_mg == 270 * GRAM


@pytest.mark.parametrize("form", [{}, {"count": "x"}, {"count": "404", "what": "accept"}])
def test_a_count_that_is_not_there_is_said(as_helper, stocktake, form):
    answer = as_helper.post(address("differences", stocktake), form, follow=True)
    assert "not here any more" in Words(answer).text


def test_a_count_of_another_stocktake_is_not_settled_here(as_helper, stocktake, shelf, owner):
    other = begin(place_id=None, by=owner)
    found = keep(other, shelf[0], 300, owner)
    as_helper.post(address("differences", stocktake), {"count": found.pk, "what": "accept", "reason": "used"})
    found.refresh_from_db()
    assert found.settled_at is None


def test_a_viewer_reads_and_is_offered_nothing(as_viewer, stocktake, shelf, owner):
    keep(stocktake, shelf[0], 300, owner)
    for name in ("page", "differences", "report", "paper"):
        answer = as_viewer.get(address(name, stocktake))
        assert answer.status_code == 200
        assert "Keep, next" not in Words(answer).text and "Leave the books" not in Words(answer).text
    assert "data-stocktake" not in as_viewer.get(address("page", stocktake)).content.decode()


# --- Closing and the report ---------------------------------------------------------------------------------


def test_closing_shows_what_was_not_counted(as_helper, stocktake, shelf, owner):
    found = keep(stocktake, shelf[0], 300, owner)
    page = Words(as_helper.get(address("close", stocktake)))
    assert "1 of 3 cones are counted" in page.text and "1 count waits to be settled." in page.text
    assert "K-002" in page.text and "Not checked since" in page.text
    assert as_helper.post(address("close", stocktake)).status_code == 422
    settle(count_id=found.pk, accept=True, by=owner)
    assert as_helper.post(address("close", stocktake)).url == address("report", stocktake)
    stocktake.refresh_from_db()
    assert stocktake.closed_by.username == "jon"
    assert as_helper.get(address("close", stocktake)).url == address("report", stocktake)


def test_the_report_says_what_was_found_and_what_the_stock_is_worth(as_viewer, stocktake, shelf, owner):
    """500 g came for 25.00; 400 g are left: 20.00. The second, left as it is, is worth its whole price."""
    Cone.objects.filter(pk__in=[shelf[0].pk, shelf[1].pk]).update(price_cents=2500)
    settle(count_id=keep(stocktake, shelf[0], 430, owner).pk, accept=True, by=owner, reason="used")
    settle(
        count_id=keep(stocktake, shelf[1], 600, owner).pk, accept=False, by=owner, reason="counted wrongly"
    )
    close(pk=stocktake.pk, by=owner)
    text = Words(as_viewer.get(address("report", stocktake))).text
    assert "Cones counted 2 of 3" in text
    assert "Found less −100 g" in text and "The books changed by −100 g" in text
    assert "Value at cost 45.00 EUR" in text
    assert "2 cones with a price" in text and "1 with yarn on it has no price" in text
    assert "accepted: used" in text and "books left: counted wrongly" in text
    assert "year's end" in text


def test_the_report_of_a_closed_stocktake_does_not_change_afterwards(as_viewer, stocktake, shelf, owner):
    Cone.objects.filter(pk=shelf[0].pk).update(price_cents=2500)
    settle(count_id=keep(stocktake, shelf[0], 430, owner).pk, accept=True, by=owner)
    close(pk=stocktake.pk, by=owner)
    before = as_viewer.get(address("report", stocktake)).content
    for cone in shelf:
        weigh(cone_id=cone.pk, scale_mg=130 * GRAM, gross=True, by=owner)
    make_cone(place="North shelf", by=owner)
    assert as_viewer.get(address("report", stocktake)).content == before


def test_a_cone_that_was_not_there_is_told(as_viewer, stocktake, shelf, owner):
    found = count(
        stocktake_id=stocktake.pk,
        cone_id=shelf[0].pk,
        key=key(),
        figure=Figure(finding=Finding.ABSENT),
        by=owner,
    )[1]
    settle(count_id=found.pk, accept=True, by=owner, reason="given away")
    text = Words(as_viewer.get(address("report", stocktake))).text
    assert "Not there 1" in text and "−500 g" in text and "accepted: given away" in text


def test_the_list_for_a_pencil_has_a_line_for_every_cone(as_viewer, stocktake, shelf):
    answer = as_viewer.get(address("paper", stocktake))
    assert answer.content.decode().count('class="write-in"') == 3
    assert all(cone.code in Words(answer).text for cone in shelf)


# --- Bounded queries ----------------------------------------------------------------------------------------


def queries_of(client, page):
    client.get(page)
    with CaptureQueriesContext(connection) as captured:
        assert client.get(page).status_code == 200
    return len(captured)


@pytest.mark.parametrize("name", ["page", "differences", "close", "report", "paper"])
def test_twice_the_cones_need_no_more_queries(as_owner, owner, django_assert_num_queries, name):
    """Cones of shades and lots of their own, half of them counted, reserved for claims of their own."""

    def cones(number):
        for _ in range(number):
            shade = make_shade(f"Shade {Cone.objects.count()}")
            cone = make_cone(shade, lot="A1", place="North shelf", by=owner)
            if cone.pk % 2:
                keep(stocktake, cone, 300, owner, gross=False)
                wanted = [Wanted(cone.pk, "weft", 0, 1000, 20 * GRAM)]
                reserve(claim_id=ClaimFactory().pk, wanted=wanted)

    make_yarn()
    first = make_cone(make_shade("First"), place="North shelf", by=owner)
    stocktake = begin(place_id=first.place_id, by=owner)
    cones(6)
    before = queries_of(as_owner, address(name, stocktake))
    cones(6)
    with django_assert_num_queries(before):
        as_owner.get(address(name, stocktake))


def test_twice_the_stocktakes_need_no_more_queries_on_the_list(as_owner, owner, django_assert_num_queries):
    def begun(number):
        for _ in range(number):
            cone = make_cone(place=f"Shelf {Cone.objects.count()}", by=owner)
            keep(begin(place_id=cone.place_id, by=owner), cone, 300, owner, gross=False)
            other = make_cone(place=f"Shelf {Cone.objects.count()}", by=owner)
            close(pk=begin(place_id=other.place_id, by=owner).pk, by=owner)

    begun(2)
    before = queries_of(as_owner, reverse("stocktakes"))
    begun(2)
    with django_assert_num_queries(before):
        as_owner.get(reverse("stocktakes"))
