"""The Yarn page, sought through: near a colour, whole ends, unknown lots, not checked since."""

from datetime import date, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from stash.calc.grist import Grist
from stash.forms.seeking import months_before
from stash.models import Condition, Cone
from stash.services.reserving import Wanted, reserve
from stash.services.weighing import weigh
from tests.factories import GRAM, ClaimFactory, make_cone, make_shade, make_yarn
from tests.stash.reading import Read

YARD = 914_400


def read(client, **asked):
    return Read(client.get(reverse("yarn"), asked))


def names(page):
    return [row[0].removesuffix("8/2 cotton") for row in page.rows[1:]]


@pytest.fixture
def colours(studio):
    for name, colour in (("Spruce", "#2f5d50"), ("Fir", "#30604f"), ("Rust", "#9c4a2f"), ("Bare", "")):
        make_shade(name, colour=colour)


@pytest.mark.parametrize("near", ["#2f5d50", "2F5D50", "Spruce", "spruce", " SPRUCE "])
def test_shades_stand_by_their_nearness_to_a_colour_and_those_without_one_last(as_viewer, colours, near):
    page = read(as_viewer, near=near)
    assert names(page) == ["Spruce", "Fir", "Rust", "Bare"]
    assert [row[1] for row in page.rows[1:]][::3] == ["as good as the same, 0.0", "colour not known"]
    assert page.row("Fir")[1].startswith(("as good as the same, ", "very near, "))
    assert page.row("Rust")[1].startswith("another colour, ")
    assert page.value("near") == near


def test_the_farthest_may_come_first_and_another_order_keeps_the_words(as_viewer, colours):
    assert names(read(as_viewer, near="spruce", sort="-near")) == ["Rust", "Fir", "Spruce", "Bare"]
    page = read(as_viewer, near="spruce", sort="shade")
    assert names(page) == ["Bare", "Fir", "Rust", "Spruce"]
    assert page.row("Spruce")[1] == "as good as the same, 0.0"


def test_a_colour_may_have_the_letters_of_a_shades_name(as_viewer, studio):
    make_shade("Fed", colour="#2f5d50")
    make_shade("Pink", colour="#ffeedd")
    assert names(read(as_viewer, near="fed")) == ["Fed", "Pink"]
    assert names(read(as_viewer, near="#fed")) == ["Pink", "Fed"]


def test_a_name_that_two_shades_have_is_refused_with_their_colours(as_viewer, colours):
    make_shade("Spruce", make_yarn("Wool", "12/2"), colour="#103020")
    response = as_viewer.get(reverse("yarn"), {"near": "Spruce"})
    assert response.status_code == 422
    assert Read(response).errors["near"] == [
        "There is more than one Spruce. Give the colour instead: #2f5d50 of Plain cotton, #103020 of Wool."
    ]


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("near", "moonlight", "neither a colour nor a shade"),
        ("near", "Bare", "neither a colour nor a shade"),
        ("near", "#12345", "neither a colour nor a shade"),
        ("ends", "moonlight", "a length such as"),
        ("ends", "0", ""),
        ("ends", "5 g", ""),
        ("lot", "moonlight", "There is no “moonlight” to choose by here"),
        ("since", "moonlight", "is no time"),
        ("since", "2025-02-30", "is no time"),
        ("since", "31.31.2025", "is no time"),
        ("since", "0001-01-01", "is no time"),
        ("since", "9999-12-31", "is no time"),
        ("since", "٣", "is no time"),
    ],
)
def test_what_cannot_be_read_is_refused_at_its_field_kept_and_narrows_nothing(
    as_viewer, colours, name, text, said
):
    response = as_viewer.get(reverse("yarn"), {name: text})
    page = Read(response)
    assert response.status_code == 422
    assert said in page.errors[name][0]
    assert len(page.rows) == 5
    if name != "lot":
        assert page.value(name) == text


@pytest.fixture
def cones(owner):
    """8/2 cotton is 3,360 yd/lb: 100 g are 740.75 yd, 50 g 370.4 yd, 30 g 222 yd."""
    spruce = make_shade("Spruce")
    make_cone(spruce, 100, lot="7", code="A")
    make_cone(spruce, 100, lot="7", code="B")
    make_cone(spruce, 50, lot="9", code="C")
    make_cone(spruce, 50, code="D")
    make_cone(spruce, 50, code="E")
    make_cone(make_shade("Oat"), 30, code="F")
    held = make_cone(make_shade("Ink"), 100, code="G")
    reserve(claim_id=ClaimFactory().pk, wanted=[Wanted(held.pk, "weft", 0, 100 * YARD, 90 * GRAM)])


def test_by_shade_whole_ends_are_summed_cone_by_cone_within_each_lot(as_viewer, cones):
    # 300 yd: two whole ends on each 100 g cone, not floor(1,481.5 / 300) = 4.94, and one on 50 g.
    page = read(as_viewer, ends="300")
    assert names(page) == ["Spruce"]
    assert page.row("Spruce")[1] == "4 in lot 7, 1 in unknown lot, 2 in 2 more"


def test_by_shade_the_best_lot_comes_first(as_viewer, cones):
    page = read(as_viewer, ends="200 yd")
    assert names(page) == ["Spruce", "Oat"]
    assert page.row("Oat")[1] == "1 in unknown lot"
    assert names(read(as_viewer, ends="200 yd", sort="ends")) == ["Oat", "Spruce"]


def test_by_cone_each_says_how_many_whole_ends_it_gives(as_viewer, cones):
    page = read(as_viewer, by="cone", ends="300 yd")
    assert {row[0]: row[7] for row in page.rows[1:]} == {"A": "2", "B": "2", "C": "1", "D": "1", "E": "1"}


def test_an_end_of_exactly_what_is_there_is_whole(as_viewer, owner):
    yarn = make_yarn("Even", "", stated=Grist(3_000_000, 1_000))
    make_cone(make_shade("Even", yarn), 100, code="EVEN")
    # 100 g are exactly 300 m.
    assert [row[0] for row in read(as_viewer, by="cone", ends="300 m").rows[1:]] == ["EVEN"]
    assert read(as_viewer, by="cone", ends="300.001 m").rows == []


def test_a_grist_beyond_all_measure_breaks_no_reckoning(as_viewer, owner):
    make_cone(make_shade("Fog", make_yarn("Fog", "", stated=Grist(2**62 - 1, 3))), 100_000, code="FOG")
    make_cone(make_shade("Bar", make_yarn("Bar", "", stated=Grist(3, 2**62 - 1))), 100_000, code="BAR")
    assert [row[0] for row in read(as_viewer, by="cone", ends="9000 km").rows[1:]] == ["FOG"]
    assert read(as_viewer, ends="9000 km").row("Fog")[1].endswith("in unknown lot")


@pytest.mark.parametrize("condition", [Condition.QUARANTINE, Condition.WEAK, Condition.ODDMENT])
def test_a_cone_that_no_project_is_given_has_no_whole_ends(as_viewer, cones, condition):
    Cone.objects.filter(code="A").update(condition=condition)
    assert [row[0] for row in read(as_viewer, by="cone", ends="400 yd").rows[1:]] == ["B"]


def test_a_shelf_without_yarns_gives_no_ends(as_viewer, studio):
    assert as_viewer.get(reverse("yarn"), {"ends": "5", "by": "cone"}).status_code == 200
    assert as_viewer.get(reverse("yarn"), {"ends": "5"}).status_code == 200


def test_unknown_lots_are_found_by_shade_and_by_cone(as_viewer, cones):
    make_cone(make_shade("Known"), 30, lot="1")
    make_shade("Nothing")
    assert names(read(as_viewer, lot="unknown")) == ["Ink", "Oat", "Spruce"]
    assert [row[0] for row in read(as_viewer, by="cone", lot="unknown").rows[1:]] == ["D", "E", "F", "G"]


def test_not_checked_since_counts_weighings_and_the_day_it_came(as_viewer, cones, owner):
    now = timezone.now()
    Cone.objects.update(received_at=now - timedelta(days=800), weighed_at=now - timedelta(days=800))
    Cone.objects.filter(code="A").update(received_at=now - timedelta(days=20))
    weigh(cone_id=Cone.objects.get(code="B").pk, scale_mg=90 * GRAM, gross=False, by=owner)
    Cone.objects.filter(code="C").update(weighed_at=None)
    assert [row[0] for row in read(as_viewer, by="cone", since="6").rows[1:]] == ["C", "D", "E", "F", "G"]
    assert read(as_viewer, by="cone", since="6 months").rows == read(as_viewer, by="cone", since="6").rows
    day = (now - timedelta(days=900)).date()
    assert read(as_viewer, by="cone", since=day.isoformat()).rows == []
    assert names(read(as_viewer, since="12 months")) == ["Ink", "Oat", "Spruce"]
    assert names(read(as_viewer, since=f"{day.day}.{day.month}.{day.year}")) == []


def test_a_cone_weighed_on_the_day_itself_is_checked_since_that_day(as_viewer, owner):
    make_cone(code="A")
    midnight = datetime(2026, 3, 1, tzinfo=timezone.get_current_timezone())
    Cone.objects.update(received_at=midnight - timedelta(days=9), weighed_at=midnight)
    assert read(as_viewer, by="cone", since="2026-03-01").rows == []
    Cone.objects.update(weighed_at=midnight - timedelta(seconds=1))
    assert len(read(as_viewer, by="cone", since="2026-03-01").rows) == 2


@pytest.mark.parametrize(
    ("day", "months", "before"),
    [
        (date(2026, 3, 31), 1, date(2026, 2, 28)),
        (date(2024, 3, 31), 1, date(2024, 2, 29)),
        (date(2026, 1, 15), 1, date(2025, 12, 15)),
        (date(2026, 12, 31), 12, date(2025, 12, 31)),
        (date(2026, 5, 31), 999, date(1943, 2, 28)),
        (date(2026, 5, 5), 0, date(2026, 5, 5)),
    ],
)
def test_months_are_counted_back_by_the_calendar(day, months, before):
    assert months_before(day, months) == before


def test_filters_go_together_and_their_state_stands_in_the_address(as_viewer, cones):
    asked = {"ends": "300", "lot": "unknown", "near": "spruce", "since": "1", "q": ""}
    response = as_viewer.get(
        reverse("yarn"), asked, headers={"hx-request": "true", "hx-target": "shelf-list"}
    )
    assert response["HX-Push-Url"] == reverse("yarn") + "?ends=300&lot=unknown&near=spruce&since=1"


def test_what_is_seldom_needed_is_folded_until_it_is_used(as_viewer, cones):
    assert '<details class="more"><summary>' in as_viewer.get(reverse("yarn")).content.decode()
    assert '<details class="more" open>' in as_viewer.get(reverse("yarn"), {"ends": "5"}).content.decode()
    assert "More filters" not in as_viewer.get(reverse("yarn"), {"by": "kind"}).content.decode()


@pytest.mark.parametrize(
    "asked",
    [
        {"near": "#2f5d50", "ends": "100", "lot": "unknown", "since": "0"},
        {"by": "cone", "ends": "100", "lot": "unknown", "since": "0"},
    ],
)
def test_twice_the_rows_take_the_same_number_of_queries(as_viewer, cones, asked):
    def count():
        with CaptureQueriesContext(connection) as caught:
            as_viewer.get(reverse("yarn"), asked)
        return len(caught)

    before = count()
    for number in range(5):
        make_cone(make_shade(f"More {number}", make_yarn(f"Yarn {number}", f"{number + 3}/2")), 500)
    assert count() == before


def test_notes_of_cones_shades_and_yarns_are_searched(as_viewer, owner):
    oat = make_shade("Oat", make_yarn("Line linen", "16/2", note="Retted in dew"), note="Called Maïs once")
    make_cone(oat, 100, code="A", note="Knots near the core")
    make_cone(make_shade("Ink"), 100, code="B")
    for text in ("DEW", "maïs", "knots", "dew knots oat"):
        assert [row[0] for row in read(as_viewer, by="cone", q=text).rows[1:]] == ["A"], text
        assert [row[0][:3] for row in read(as_viewer, q=text).rows[1:]] == ["Oat"], text
    assert len(read(as_viewer, by="kind", q="dew").rows) == 2
    assert read(as_viewer, q="dew ink").rows == []
