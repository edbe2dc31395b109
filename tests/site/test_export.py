"""Tables to take away: what stands in them, that they come back in, and that nothing in them runs."""

import csv
from datetime import date
from io import BytesIO, StringIO

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from openpyxl import load_workbook

from stash.calc.grist import Grist
from stash.calc.quantity import read_grist
from stash.models import (
    Board,
    Cone,
    Delivery,
    Entry,
    FibreShare,
    Loom,
    Lot,
    Place,
    PriceBreak,
    PutUp,
    Reed,
    Reservation,
    Shade,
    ShaftHeddles,
    Studio,
    Supplier,
    Tool,
    Yarn,
)
from stash.services.cones import retire_cone
from stash.services.reserving import Wanted, reserve
from stash.services.weighing import weigh
from stash.site.views.exporting import TABLES
from stash.spreadsheets.reading import read_sheet
from tests.books import assert_books_agree
from tests.factories import (
    ClaimFactory,
    make_cone,
    make_order,
    make_project,
    make_shade,
    make_supplier,
    make_yarn,
)
from tests.stash.sheets import bring, plan_of

pytestmark = pytest.mark.django_db

HOSTILE = '=HYPERLINK("http://elsewhere.example","x")'


def fetched(client, file):
    answer = client.get(reverse("export-table", args=[file]))
    assert answer.status_code == 200
    return b"".join(answer.streaming_content)


def table(client, key):
    """The CSV as dicts by heading."""
    text = fetched(client, f"{key}.csv").decode("utf-8-sig")
    return list(csv.DictReader(StringIO(text, newline="")))


@pytest.fixture
def shelf(owner):
    """Three cones with all that can be said of one, and yarns whose figures are not round."""
    cotton = make_yarn("Mat cotton", fibres={"cotton": 60, "linen": 40})
    slub = make_yarn("Slub", count="", stated=read_grist("677 m/100 g"), measured=Grist(1_234_567, 1_001))
    supplier = Supplier.objects.create(name="Invented Mill")
    delivery = Delivery.objects.create(
        supplier=supplier, received_on=date(2024, 4, 3), made_at=timezone.now()
    )
    spruce = make_shade("Spruce", cotton, keep_mg=100_000)
    first = make_cone(
        spruce, scale_mg=482_001, gross=True, core_mg=31_999, lot="A17", place="Shelf 2", by=owner, note=HOSTILE,
        code="+1", labelled_mg=500_000, price_cents=1850, delivery=delivery,
        at=timezone.make_aware(timezone.datetime(2024, 4, 3, 12)),
    )  # fmt: skip
    second = make_cone(
        make_shade("Höhe, grün", slub, colour=""), scale_mg=123_457, form="skein", is_estimate=True, by=owner
    )
    third = make_cone(spruce, scale_mg=7, by=owner)
    return first, second, third


def emptied():
    for model in (Entry, Reservation, Cone, Delivery, Supplier, Lot, Place, Shade, FibreShare, Yarn):
        model.objects.all().delete()


def described():
    """All that the table of cones says, as the books have it."""
    cones = Cone.objects.select_related("shade__yarn", "lot", "place", "delivery__supplier").order_by("code")
    return [
        (
            cone.code, cone.on_hand_mg, cone.core_mg, cone.form, cone.labelled_mg, cone.price_cents, cone.note,
            cone.estimated, cone.condition, cone.lot and cone.lot.name, cone.place and cone.place.name,
            cone.shade.name, cone.shade.colour, cone.shade.yarn.name, cone.shade.yarn.count_written,
            cone.shade.yarn.grist, cone.shade.yarn.grist_source,
            sorted(cone.shade.yarn.fibres.values_list("fibre", "percent")),
            cone.delivery and cone.delivery.supplier.name, timezone.localdate(cone.received_at),
        )
        for cone in cones
    ]  # fmt: skip


@pytest.mark.parametrize("measuring", ["inch-g", "inch-oz", "metric"])
@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_the_cones_come_back_into_an_empty_studio_as_they_were(as_owner, owner, shelf, measuring, kind):
    Studio.objects.update(measuring=measuring)
    before = described()
    sheet = read_sheet(fetched(as_owner, f"cones.{kind}"))
    assert plan_of(sheet).count("double") == 3
    emptied()
    assert bring(sheet, owner).cones == 3
    assert described() == before
    assert_books_agree()


def test_a_retired_cone_is_told_and_does_not_come_back(as_owner, owner, shelf):
    retire_cone(pk=shelf[2].pk, by=owner, reason="sold")
    assert [row["retired"][:10] for row in table(as_owner, "cones")] == [
        "",
        "",
        timezone.localdate().isoformat(),
    ]
    sheet = read_sheet(fetched(as_owner, "cones.csv"))
    emptied()
    assert bring(sheet, owner).cones == 2


def test_figures_are_numbers_with_their_unit_in_the_heading(as_owner, shelf):
    (first, second, _) = table(as_owner, "cones")
    assert (first["net (g)"], first["core (g)"], first["price (EUR)"], first["received"]) == (
        "450.002", "31.999", "18.5", "2024-04-03",
    )  # fmt: skip
    assert first["length free (yd)"] == "3333.4"
    assert second["length per weight, stated (yd/lb)"] == "6770 m/kg"
    assert second["estimate"] == "yes"
    Studio.objects.update(measuring="inch-oz")
    assert table(as_owner, "cones")[0]["net (oz)"] == "15.873353"
    Studio.objects.update(measuring="metric")
    assert table(as_owner, "cones")[1]["length per weight, stated (m/kg)"] == "6770"


def test_a_workbook_has_true_numbers_days_and_texts(as_owner, shelf):
    sheet = load_workbook(BytesIO(fetched(as_owner, "cones.xlsx"))).active
    headings = [cell.value for cell in sheet[1]]
    row = dict(zip(headings, sheet[2], strict=True))
    assert (row["net (g)"].value, row["net (g)"].data_type) == (450.002, "n")
    assert row["received"].is_date and row["note"].value == HOSTILE and row["note"].data_type == "s"
    assert (row["code"].value, row["code"].data_type) == ("+1", "s")


def test_no_cell_of_any_table_begins_like_a_formula(as_owner, owner, shelf):
    weigh(cone_id=shelf[0].pk, scale_mg=100_000, gross=False, by=owner, reason="")
    weigh(cone_id=shelf[0].pk, scale_mg=200_000, gross=False, by=owner, reason="@wound back")
    claim = ClaimFactory(name="-claim")
    reserve(claim_id=claim.pk, wanted=[Wanted(shelf[0].pk, "warp", 10, 1_000_000, 1_000)])
    make_project("=project", Shade.objects.get(name="Spruce"), note="+note")
    a_loom("@loom")
    order = make_order(
        Shade.objects.get(name="Spruce"), supplier=make_supplier("=supplier"), by=owner, reason="-reason"
    )
    PutUp.objects.create(supplier=order.supplier, yarn=make_yarn("@yarn"), mass_mg=454_000)
    found = 0
    for key in TABLES:
        rows = table(as_owner, key)
        assert rows, key
        for row in rows:
            for cell in (*row, *row.values()):
                assert not cell.startswith(("=", "+", "-", "@", "\t", "\r")), (key, cell)
                found += cell.startswith("'")
    assert found >= 6


def test_the_ledger_tells_what_was_added_and_taken(as_owner, owner, shelf):
    weigh(cone_id=shelf[0].pk, scale_mg=100_000, gross=False, by=owner)
    rows = table(as_owner, "ledger")
    assert [row["what"] for row in rows] == ["received", "received", "received", "weighed"]
    assert (rows[0]["added (g)"], rows[0]["taken (g)"], rows[0]["on the scale (g)"]) == (
        "450.002",
        "",
        "482.001",
    )
    assert (rows[3]["added (g)"], rows[3]["taken (g)"], rows[3]["left (g)"]) == ("", "350.002", "100")
    assert rows[3]["by"] == "Mara"


def test_shades_yarns_reservations_and_projects_say_what_the_books_say(as_owner, shelf):
    claim = ClaimFactory(name="Lantern mats", need_on=date(2027, 1, 2))
    reserve(claim_id=claim.pk, wanted=[Wanted(shelf[0].pk, "warp", 10, 9_144_000, 100_000)])
    make_project("Mats", Shade.objects.get(name="Spruce"))
    spruce = table(as_owner, "shades")[0]
    assert (spruce["on hand (g)"], spruce["reserved (g)"], spruce["free (g)"]) == (
        "450.009",
        "100",
        "350.009",
    )
    assert (spruce["keep level (g)"], spruce["cones"], spruce["lots"], spruce["cones of unknown lot"]) == (
        "100",
        "2",
        "1",
        "1",
    )
    cotton = table(as_owner, "yarns")[0]
    assert (cotton["count"], cotton["fibre content"], cotton["shades"]) == (
        "8/2 cotton",
        "60 % cotton, 40 % linen",
        "1",
    )
    (held,) = table(as_owner, "reservations")
    assert (held["for"], held["ends"], held["length (yd)"], held["weight (g)"]) == (
        "Lantern mats",
        "10",
        "10",
        "100",
    )
    (project,) = table(as_owner, "projects")
    assert (project["pieces"], project["finished across (in)"], project["sett (ends per in)"]) == (
        "4",
        "14",
        "12",
    )
    assert project["step"] == "planned"
    assert project["shades"] == "A Spruce" and float(project["need of warp (yd)"]) > 0 < float(
        project["need of weft (yd)"]
    )


def a_loom(name):
    loom = Loom.objects.create(
        name=name,
        weaving_width_um=914_400,
        shafts=2,
        waste_um=685_800,
        longest_warp_um=10 * 914_400,
        left_ends=0,
    )
    ShaftHeddles.objects.bulk_create(ShaftHeddles(loom=loom, shaft=shaft, number=100) for shaft in (1, 2))
    return loom


def test_orders_and_put_ups_say_what_was_ordered_and_what_came(as_owner, owner):
    order = make_order(number=3, by=owner, price_cents=1850)
    order.lines.update(came=1)
    (line,) = table(as_owner, "orders")
    assert (line["order"], line["supplier"], line["shade"]) == (str(order.pk), "Example Yarns", "Spruce")
    assert (line["number"], line["came"], line["awaited"]) == ("3", "1", "2")
    assert (line["price of one"], line["currency"], line["due"]) == ("18.5", "EUR", order.due_on.isoformat())
    put_up = PutUp.objects.create(
        supplier=order.supplier, yarn=order.lines.get().shade.yarn, mass_mg=454_000, price_cents=1850
    )
    PriceBreak.objects.create(put_up=put_up, number=6, price_cents=1700)
    (sold,) = table(as_owner, "put-ups")
    assert (sold["net (g)"], sold["cheaper from a number on"]) == ("454", "6: 17")
    assert sold["from order to parcel (days)"] == "18"


def test_equipment_is_one_table_with_the_figures_of_each_kind(as_owner, studio):
    a_loom("Big loom")
    Reed.objects.create(name="Ten", dents_numerator=10, dents_per_um=25_400, length_um=762_000, lent_to="Ana")
    Board.objects.create(name="Board", step_um=914_400, longest_um=12 * 914_400)
    Tool.objects.create(name="Pirn", kind="bobbin", number=24, holds_mg=14_000)
    loom, reed, board, tool = table(as_owner, "equipment")
    size = "weaving width, length or peg to peg (in)"
    assert (loom["kind"], loom[size], loom["heddles by shaft"]) == ("loom", "36", "100, 100")
    assert (loom["loom waste (in)"], loom["longest warp or path (yd)"]) == ("27", "10")
    assert (reed["dents"], reed[size], reed["lent to"]) == ("10 dents per in", "30", "Ana")
    assert (board["kind"], board[size], board["longest warp or path (yd)"]) == ("warping board", "36", "12")
    assert (tool["kind"], tool["how many"], tool["holds (g)"]) == ("bobbin or pirn", "24", "14")


@pytest.mark.parametrize("file", ["cones", "cones.pdf", "people.csv", "cones.csv.csv", ".csv", "..csv"])
def test_there_are_no_other_tables(as_owner, file):
    assert as_owner.get(f"/studio/export/{file}").status_code == 404


def test_the_page_names_every_table_and_is_found_from_the_studio(as_helper):
    assert reverse("export") in as_helper.get(reverse("studio")).content.decode()
    page = as_helper.get(reverse("export")).content.decode()
    for key in TABLES:
        for kind in ("csv", "xlsx"):
            assert reverse("export-table", args=[f"{key}.{kind}"]) in page


def test_a_viewer_takes_nothing_away(as_viewer):
    assert reverse("export") not in as_viewer.get(reverse("studio")).content.decode()
    assert as_viewer.get(reverse("export-table", args=["cones.csv"])).status_code == 403


@pytest.mark.parametrize("key", TABLES)
def test_twice_the_rows_cost_the_same_queries(as_owner, owner, key):
    counted = []
    for turn in range(2):
        for number in range(3):
            shade = make_shade(
                f"Shade {turn} {number}", make_yarn(f"Yarn {turn} {number}", fibres={"wool": 100})
            )
            cone = make_cone(shade, lot="L", place=f"P{turn}{number}", by=owner)
            claim = ClaimFactory()
            reserve(claim_id=claim.pk, wanted=[Wanted(cone.pk, "weft", 0, 1_000, 1_000)])
            make_project(f"Project {turn} {number}", shade)
            a_loom(f"Loom {turn} {number}")
            order = make_order(shade, supplier=make_supplier(f"Supplier {turn} {number}"), by=owner)
            put_up = PutUp.objects.create(
                supplier=order.supplier, yarn=shade.yarn, mass_mg=454_000, price_cents=9
            )
            PriceBreak.objects.create(put_up=put_up, number=3, price_cents=8)
        with CaptureQueriesContext(connection) as queries:
            fetched(as_owner, f"{key}.csv")
        counted.append(len(queries))
    assert counted[0] == counted[1]
