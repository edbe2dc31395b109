"""The Yarn page: what is on the shelf, by shade, by cone and by kind of yarn."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from stash.calc.counts import CountSystem
from stash.models import Place, Shade
from stash.services.cones import retire_cone
from stash.services.reserving import Wanted, reserve
from stash.services.weighing import weigh
from stash.services.yarns import retire_shade
from tests.factories import GRAM, ClaimFactory, make_cone, make_shade, make_yarn
from tests.stash.reading import Read

YARD = 914_400


def read(client, **asked):
    return Read(client.get(reverse("yarn"), asked))


def hold(cone, grams, name="Class kits"):
    claim = ClaimFactory(name=name)
    reserve(claim_id=claim.pk, wanted=[Wanted(cone.pk, "weft", 0, 100 * YARD, grams * GRAM)])


def test_a_shade_stands_with_its_yarn_and_every_amount_in_both_faces(as_viewer):
    cone = make_cone(make_shade("Spruce"), 500, lot="7")
    hold(cone, 200)
    # 3,360 yd to 453.59237 g: 300 g are 2,222.26 yd, 500 g 3,703.76, 200 g 1,481.5; what is there is rounded down.
    assert read(as_viewer).row("Spruce") == [
        "Spruce8/2 cotton",
        "2,222 yd300 g",
        "3,703 yd500 g",
        "1,481 yd200 g",
        "",
        "1 lot",
        "",
    ]


def test_the_bar_says_its_figures_in_words(as_viewer):
    cone = make_cone(make_shade("Spruce", keep_mg=100 * GRAM), 500)
    hold(cone, 200)
    assert "free 2,222 yd, reserved 1,481 yd, keep level 740 yd" in read(as_viewer).labels


def test_all_bars_share_one_scale_which_the_lede_names(as_viewer):
    make_cone(make_shade("Spruce"), 500, lot="7")
    make_cone(make_shade("Oat"), 100, lot="1")
    make_cone(make_shade("Oat2"), 100)
    page = read(as_viewer)
    assert "3 shades on 3 cones in 2 known lots. Bars share one scale: 3,800 yd." in page.text


def test_lots_are_said_in_words_and_unknown_ones_are_counted_apart(as_viewer):
    spruce, oat, moss, ink = (make_shade(name) for name in ("Spruce", "Oat", "Moss", "Ink"))
    make_cone(spruce, lot="7")
    make_cone(spruce, lot="9")
    make_cone(spruce)
    make_cone(oat)
    make_cone(moss)
    make_cone(moss)
    page = read(as_viewer)
    assert [page.row(name)[5] for name in ("Spruce", "Oat", "Moss", ink.name)] == [
        "2 lots and 1 unknown",
        "unknown lot",
        "2 unknown lots",
        "no cone",
    ]


def test_a_shade_says_when_it_is_at_or_below_its_keep_level(as_viewer):
    make_cone(make_shade("Below", keep_mg=200 * GRAM), 100)
    make_cone(make_shade("At", keep_mg=100 * GRAM), 100)
    make_cone(make_shade("Above", keep_mg=99 * GRAM), 100)
    hold(make_cone(make_shade("Gone", keep_mg=1 * GRAM), 100), 100)
    page = read(as_viewer)
    flags = [page.row(name)[6] for name in ("Below", "At", "Above", "Gone")]
    assert flags == ["Below keep level", "At keep level", "", "All reserved, below keep level"]


def test_a_shade_undercut_by_a_weighing_says_by_how_much(as_viewer, helper):
    cone = make_cone(make_shade("Spruce"), 500)
    hold(cone, 400)
    weigh(cone_id=cone.pk, scale_mg=390 * GRAM, gross=False, by=helper)
    row = read(as_viewer).row("Spruce")
    # 10 g are 74.07 yd; what is missing is rounded up.
    assert row[1] == "0 yd0 g"
    assert row[6] == "Undercut by 74.1 yd"


def test_a_studio_in_ounces_reads_ounces(as_viewer, studio):
    studio.measuring = "inch-oz"
    studio.save()
    make_cone(make_shade("Spruce"), 500)
    assert read(as_viewer).row("Spruce")[1] == "3,703 yd1 lb 1.6 oz"


def shades_named(page):
    return [row[0].removesuffix("8/2 cotton") for row in page.rows[1:]]


@pytest.fixture
def shelf(owner):
    """Three shades: cotton spruce on B2 in lot 7, linen oat on C1, cotton ink all reserved."""
    linen = make_yarn("Line linen", "16/2", CountSystem.LEA, fibres={"linen": 100})
    cotton = make_yarn(fibres={"cotton": 100})
    make_cone(make_shade("Spruce", cotton, keep_mg=600 * GRAM), 500, lot="7", place="B2")
    make_cone(make_shade("Oat", linen), 300, place="C1", code="OAT-9")
    hold(make_cone(make_shade("Ink", cotton), 100, lot="4", place="C1"), 100)
    make_shade("Bare", cotton)


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ({}, ["Bare", "Ink", "Oat16/2 linen lea", "Spruce"]),
        ({"q": "spru"}, ["Spruce"]),
        ({"q": "SPRUCE"}, ["Spruce"]),
        ({"q": "linen"}, ["Oat16/2 linen lea"]),
        ({"q": "oat-9"}, ["Oat16/2 linen lea"]),
        ({"q": "c1"}, ["Ink", "Oat16/2 linen lea"]),
        ({"q": "c1 cotton"}, ["Ink"]),
        ({"q": "16/2"}, ["Oat16/2 linen lea"]),
        ({"fibre": "cotton"}, ["Bare", "Ink", "Spruce"]),
        ({"count": "16/2 linen lea"}, ["Oat16/2 linen lea"]),
        ({"show": "free"}, ["Oat16/2 linen lea", "Spruce"]),
        ({"show": "low"}, ["Spruce"]),
        ({"show": "low", "fibre": "linen"}, []),
        ({"sort": "-free"}, ["Spruce", "Oat16/2 linen lea", "Bare", "Ink"]),
        ({"sort": "on_hand"}, ["Bare", "Ink", "Oat16/2 linen lea", "Spruce"]),
        ({"sort": "-shade"}, ["Spruce", "Oat16/2 linen lea", "Ink", "Bare"]),
        ({"sort": "-lots"}, ["Ink", "Spruce", "Oat16/2 linen lea", "Bare"]),
    ],
)
def test_search_filters_and_order_stand_in_the_address(as_viewer, shelf, asked, found):
    page = read(as_viewer, **asked)
    assert shades_named(page) == found
    for name, value in asked.items():
        assert name == "sort" or page.value(name) == value


def test_a_place_is_chosen_from_those_that_there_are(as_viewer, shelf):
    assert shades_named(read(as_viewer, place=Place.objects.get(name="B2").pk)) == ["Spruce"]


def test_a_length_is_sorted_as_a_length_not_as_a_weight(as_viewer, owner):
    make_cone(make_shade("Thick", make_yarn("Rug linen", "4/2", CountSystem.LEA)), 500)
    make_cone(make_shade("Fine", make_yarn("Fine cotton", "20/2")), 400)
    rows = read(as_viewer, sort="-free").rows[1:]
    assert [row[0][:4] for row in rows] == ["Fine", "Thic"]


def test_retired_shades_and_cones_are_shown_only_when_asked_for(as_viewer, owner):
    kept, gone = make_shade("Kept"), make_shade("Gone")
    cone = make_cone(gone, 100, code="OLD-1")
    make_cone(kept, 100, code="NEW-1")
    retire_cone(pk=cone.pk, by=owner, reason="empty")
    retire_shade(pk=gone.pk)
    assert shades_named(read(as_viewer)) == ["Kept"]
    assert shades_named(read(as_viewer, show="retired"))[0].startswith("Gone")
    assert [row[0] for row in read(as_viewer, by="cone").rows[1:]] == ["NEW-1"]
    assert [row[0] for row in read(as_viewer, by="cone", show="retired").rows[1:]] == ["OLD-1"]


@pytest.mark.parametrize("name", ["fibre", "count", "place", "show"])
@pytest.mark.parametrize("by", ["shade", "cone", "kind"])
def test_an_unknown_filter_is_refused_at_its_field_and_narrows_nothing(as_viewer, shelf, name, by):
    response = as_viewer.get(reverse("yarn"), {"by": by, name: "moonlight"})
    page = Read(response)
    assert response.status_code == 422
    assert "There is no “moonlight” to choose by here" in page.errors[name][0]
    assert len(page.rows) > 1


def test_too_long_a_search_is_refused_and_kept(as_viewer, shelf):
    response = as_viewer.get(reverse("yarn"), {"q": "x" * 101})
    assert response.status_code == 422
    assert Read(response).value("q") == "x" * 101


@pytest.mark.parametrize("by", ["shade", "cone", "kind", "moon"])
@pytest.mark.parametrize(
    "asked",
    [
        {"sort": "moon"},
        {"sort": "-"},
        {"sort": "--free"},
        {"sort": "free,moon"},
        {"sort": "state"},
        {"sort": "'; drop table stash_cone"},
        {"page": "0"},
        {"page": "-3"},
        {"page": "moon"},
        {"page": "9" * 5000},
        {"page": "1.5"},
        {"per_page": "0"},
        {"per_page": "-5"},
        {"q": "%_\\'\""},
        {"q": "\x00"},
        {"place": "9" * 30},
        {"place": "-1"},
    ],
)
def test_nothing_in_the_address_breaks_the_page(as_viewer, shelf, by, asked):
    response = as_viewer.get(reverse("yarn"), {"by": by} | asked)
    assert response.status_code in (200, 422)
    assert Read(response).rows or "Nothing on the shelf" in Read(response).text


def test_a_page_behind_the_last_shows_the_last(as_viewer, studio):
    yarn = make_yarn()
    Shade.objects.bulk_create(Shade(yarn=yarn, name=f"S{n:03d}", search=f"s{n:03d}") for n in range(60))
    first, last = read(as_viewer), read(as_viewer, page=99)
    assert len(first.rows) == 51
    assert [row[0][:4] for row in last.rows[1:]] == [f"S{n:03d}" for n in range(50, 60)]
    assert "51 to 60 of 60 shades" in last.text


def test_an_empty_shelf_says_what_belongs_there_and_offers_the_first_step(as_owner, studio):
    page = read(as_owner)
    assert "The shelf is empty" in page.text
    assert page.links["Add a cone"] == reverse("cone-add")


def test_a_viewer_is_offered_no_step(as_viewer, shelf):
    page = read(as_viewer)
    assert page.changing_forms() == []
    assert not {"Add a cone", "New yarn"} & set(page.links)


def test_an_empty_shelf_offers_a_viewer_no_step(as_viewer):
    page = read(as_viewer)
    assert "The shelf is empty" in page.text
    assert "Add a cone" not in page.links


def test_nothing_found_offers_all(as_viewer, shelf):
    page = read(as_viewer, q="moonlight")
    assert page.links["Show all"] == reverse("yarn")


def test_by_cone_every_package_stands_with_core_net_and_free(as_viewer, owner):
    shade = make_shade("Spruce")
    cone = make_cone(
        shade, scale_mg=534 * GRAM, gross=True, core_mg=34 * GRAM, lot="7", place="B2", code="K-047"
    )
    hold(cone, 200)
    skein = make_cone(shade, 100, code="K-048", form="skein")
    long_ago = timezone.now() - timedelta(days=400)
    type(cone).objects.filter(pk=cone.pk).update(received_at=long_ago)
    page = read(as_viewer, by="cone")
    assert page.row("K-047")[1:7] == [
        "Spruce8/2 cotton",
        "7",
        "B2",
        "500 g3,703 yd",
        "534 gcore 34 g",
        "300 g2,222 yd",
    ]
    assert "not checked since it came" not in page.row("K-047")[7]
    assert page.row("K-048")[2:6] == ["unknown lot", "no place", "100 g740 yd", "core not known"]
    assert "not checked since it came" in page.row("K-048")[7]
    assert page.links["K-048"] == reverse("cone-page", args=[skein.pk])


def test_by_cone_unknown_lots_stand_last_whichever_way_they_are_sorted(as_viewer, owner):
    shade = make_shade("Spruce")
    for code, lot in (("A", "1"), ("B", ""), ("C", "2")):
        make_cone(shade, 100, code=code, lot=lot)
    assert [row[0] for row in read(as_viewer, by="cone", sort="lot").rows[1:]] == ["A", "C", "B"]
    assert [row[0] for row in read(as_viewer, by="cone", sort="-lot").rows[1:]] == ["C", "A", "B"]


@pytest.mark.parametrize("sort", ["code", "shade", "lot", "place", "net", "free", "weighed"])
def test_by_cone_every_heading_sorts(as_viewer, shelf, sort):
    codes = {row[0] for row in read(as_viewer, by="cone").rows[1:]}
    assert {row[0] for row in read(as_viewer, by="cone", sort=sort).rows[1:]} == codes
    assert read(as_viewer, by="cone", sort=f"-{sort}").rows != read(as_viewer, by="cone", sort=sort).rows


def test_by_kind_a_yarn_stands_with_fibres_length_per_weight_and_stock(as_viewer, shelf):
    assert read(as_viewer, by="kind").row("Plain cotton") == [
        "Plain cotton 8/2 cotton",
        "cotton",
        "3,360 yd/lbcomputed from the count",
        "3",
        "4,444 yd600 g",
    ]


def test_the_list_alone_follows_the_filters_and_the_address_stays_short(as_viewer, shelf):
    asked = {"q": "", "fibre": "cotton", "count": "", "place": "", "show": "free"}
    response = as_viewer.get(
        reverse("yarn"), asked, headers={"hx-request": "true", "hx-target": "shelf-list"}
    )
    page = Read(response)
    assert shades_named(page) == ["Spruce"]
    assert page.forms == []
    assert "1 shade on 1 cone in 1 known lot." in page.text
    assert response["HX-Push-Url"] == reverse("yarn") + "?fibre=cotton&show=free"
    assert page.links["Free"] == "?fibre=cotton&show=free&sort=free"
    assert "HX-Request" in response["Vary"]


# Studio, session, person; fibres, counts and, but for kinds, places on offer; then
#   by shade: sums of all, names of the page; by cone: sums, the page; by kind: the yarns, their fibres;
#   and the person's views.
@pytest.mark.parametrize(("by", "queries"), [("shade", 9), ("cone", 9), ("kind", 8)])
def test_twice_the_rows_take_the_same_number_of_queries(as_viewer, shelf, by, queries):
    def count():
        with CaptureQueriesContext(connection) as caught:
            as_viewer.get(reverse("yarn"), {"by": by})
        return len(caught), [query["sql"] for query in caught]

    before, _ = count()
    for number in range(4):
        shade = make_shade(f"More {number}", make_yarn(f"Yarn {number}", f"{number + 3}/2"))
        make_cone(shade, 100, lot="1", place=f"P{number}")
    after, statements = count()
    assert (before, after) == (queries, queries), statements
    assert not any("stash_entry" in statement for statement in statements)
