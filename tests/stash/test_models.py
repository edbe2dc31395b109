"""Every named rule of the database, attacked around the models: no clean, no service, straight at the rows."""

from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass
from datetime import date
from typing import Any

import pytest
from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, models, transaction
from django.db.models import F
from django.utils import timezone

from projects.models import Fair, Project, ProjectBeam, ProjectNote, ProjectShade
from stash.models import (
    Board,
    Claim,
    Cone,
    CoreKind,
    Count,
    Delivery,
    Entry,
    FibreShare,
    Loom,
    Lot,
    Order,
    OrderLine,
    Person,
    PhoneCode,
    Photo,
    Place,
    PriceBreak,
    PutUp,
    Reed,
    Reservation,
    Role,
    SavedView,
    Shade,
    ShaftHeddles,
    Shortage,
    Stocktake,
    Studio,
    Supplier,
    Tool,
    Yarn,
)
from tests.factories import (
    ClaimFactory,
    PersonFactory,
    StudioFactory,
    make_cone,
    make_project,
    make_shade,
    make_yarn,
)

pytestmark = pytest.mark.django_db


@dataclass
class World:
    """One row of every model, and a second where two are needed to clash."""

    yarn: Yarn
    shade: Shade
    cone: Cone
    claim: Claim
    reservation: Reservation
    shortage: Shortage
    project: Project
    row: ProjectShade


@pytest.fixture(scope="module")
def rows_of_all(shared_rows) -> World:
    StudioFactory()
    owner = PersonFactory(username="mara", name="Mara", role=Role.OWNER)
    yarn = make_yarn(fibres={"cotton": 60, "linen": 40})
    make_yarn("Other cotton")
    shade, rust = make_shade(yarn=yarn), make_shade("Rust", yarn=yarn)
    cone = make_cone(shade, lot="A1", by=owner, scale_mg=600_000, gross=True, core_mg=100_000)
    make_cone(shade, lot="B2", by=owner)
    claim = ClaimFactory()
    now = timezone.now()
    of_claim: dict[str, Any] = {"claim": claim, "made_at": now}
    Reservation.objects.bulk_create(
        [
            Reservation(cone=cone, use="warp", ends=2, length_um=10, mass_mg=5, **of_claim),
            Reservation(cone=cone, use="weft", ends=0, length_um=10, mass_mg=5, **of_claim),
        ]
    )
    Cone.objects.filter(pk=cone.pk).update(reserved_mg=10)
    Shortage.objects.bulk_create(
        [Shortage(shade=one, length_um=10, mass_mg=5, **of_claim) for one in (shade, rust)]
    )
    project = make_project(shade=shade)
    make_project("Second mats", shade=rust)
    return World(
        yarn,
        shade,
        cone,
        claim,
        Reservation.objects.get(use="warp"),
        Shortage.objects.get(shade=shade),
        project,
        project.shades.get(),
    )


@pytest.fixture
def world(db, rows_of_all) -> World:
    return deepcopy(rows_of_all)


def rows(row: models.Model) -> models.QuerySet[Any]:
    return type(row)._default_manager.filter(pk=row.pk)


def twin(row: models.Model, **changes: Any) -> None:
    """Insert the same row once more, without its key."""
    fields = [field for field in row._meta.concrete_fields if not field.primary_key]
    copy = type(row)(**{field.attname: getattr(row, field.attname) for field in fields} | changes)
    type(row)._default_manager.bulk_create([copy])


def a_count(world: World, place: Place | None = None) -> Count:
    """A count of the cone, in an open stocktake of the whole shelf unless told otherwise."""
    by = Person.objects.get(username="mara")
    stocktake = Stocktake.objects.create(place=place, by=by, began_at=timezone.now())
    return Count.objects.create(
        stocktake=stocktake,
        cone=world.cone,
        books_mg=5,
        scale_mg=9,
        net_mg=4,
        counted_at=timezone.now(),
        by=by,
    )


def a_loom() -> Loom:
    return Loom.objects.create(name="Big loom", weaving_width_um=900_000, shafts=4, waste_um=700_000)


def a_reed() -> Reed:
    return Reed.objects.create(name="A 12", dents_numerator=12, dents_per_um=25_400, length_um=600_000)


def a_board() -> Board:
    return Board.objects.create(name="Board", step_um=914_400, longest_um=9_144_000)


def a_tool() -> Tool:
    return Tool.objects.create(name="Bobbins", kind="bobbin", number=12, holds_mg=11_000)


def a_put_up(world: World) -> PutUp:
    supplier = Supplier.objects.create(name="Hill shop")
    return PutUp.objects.create(supplier=supplier, yarn=world.yarn, mass_mg=454_000)


def some_breaks(world: World, *numbers: int, price_cents: int = 100) -> None:
    put_up = a_put_up(world)
    PriceBreak.objects.bulk_create(
        PriceBreak(put_up=put_up, number=number, price_cents=price_cents) for number in numbers
    )


def an_order(world: World) -> Order:
    return Order.objects.create(
        supplier=a_put_up(world).supplier,
        currency="EUR",
        by=Person.objects.get(username="mara"),
        made_at=timezone.now(),
    )


def an_order_line(world: World) -> OrderLine:
    return OrderLine.objects.create(order=an_order(world), shade=world.shade, mass_mg=454_000, number=2)


def some_fairs(*days: date, **changes: Any) -> None:
    Fair.objects.bulk_create(
        Fair(name="Spring fair", begins_on=day, made_at=timezone.now(), **changes) for day in days
    )


def some_heddles(*shafts: int) -> None:
    loom = a_loom()
    ShaftHeddles.objects.bulk_create(ShaftHeddles(loom=loom, shaft=shaft, number=100) for shaft in shafts)


def a_beam(world: World, *numbers: int) -> None:
    ProjectBeam.objects.bulk_create(ProjectBeam(project=world.project, number=number) for number in numbers)


def a_photo_row(**of: Any) -> Photo:
    """A photo of these things, past every check of the model."""
    row = Photo(file=f"{len(of)}.jpg", width=1, height=1, made_at=timezone.now(), **of)
    return Photo.objects.bulk_create([row])[0]


Attack = Callable[[World], Any]

ATTACKS: dict[str, list[Attack]] = {
    "stash_studio_only_one": [
        lambda _: Studio.objects.bulk_create([Studio(pk=2, name="Second", made_at=timezone.now())]),
        lambda _: Studio.objects.update(id=7),
    ],
    "stash_studio_measuring_known": [lambda _: Studio.objects.update(measuring="cubits")],
    "stash_studio_spelling_known": [lambda _: Studio.objects.update(spelling="runes")],
    "stash_studio_division_of_a_scale": [
        lambda _: Studio.objects.update(division_mg=9),
        lambda _: Studio.objects.update(division_mg=100_001),
    ],
    "stash_studio_buying_costs": [
        lambda _: Studio.objects.update(order_cost_cents=0),
        lambda _: Studio.objects.update(holding_ppm=0),
        lambda _: Studio.objects.update(holding_ppm=1_000_001),
    ],
    "stash_studio_sure_and_quarantine": [
        lambda _: Studio.objects.update(sure_ppm=499_999),
        lambda _: Studio.objects.update(sure_ppm=1_000_000),
        lambda _: Studio.objects.update(quarantine_days=366),
    ],
    "stash_person_role_known": [lambda _: Person.objects.update(role="guest")],
    "stash_person_username_any_case": [
        lambda _: Person.objects.bulk_create([Person(username="MARA", password="x")])
    ],
    "stash_yarn_name_once": [lambda _: Yarn.objects.update(name="One")],
    "stash_yarn_grist_positive": [
        lambda _: Yarn.objects.update(grist_um=0),
        lambda _: Yarn.objects.update(grist_mg=-1),
    ],
    "stash_yarn_measured_pair": [
        lambda _: Yarn.objects.update(measured_um=5),
        lambda _: Yarn.objects.update(measured_mg=5),
        lambda _: Yarn.objects.update(measured_um=5, measured_mg=0),
    ],
    "stash_yarn_stated_pair": [
        lambda _: Yarn.objects.update(stated_um=5),
        lambda _: Yarn.objects.update(stated_mg=5),
        lambda _: Yarn.objects.update(stated_um=-5, stated_mg=5),
    ],
    "stash_yarn_count_whole": [
        lambda _: Yarn.objects.update(count_system=""),
        lambda _: Yarn.objects.update(count_numerator=None),
        lambda _: Yarn.objects.update(count_denominator=None),
        lambda _: Yarn.objects.update(count_ply=None),
        lambda _: Yarn.objects.update(count_ply=0),
    ],
    "stash_fibreshare_fibre_once": [lambda _: FibreShare.objects.update(fibre="cotton")],
    "stash_fibreshare_percent": [
        lambda _: FibreShare.objects.update(percent=0),
        lambda _: FibreShare.objects.update(percent=101),
    ],
    "stash_shade_name_once_a_yarn": [lambda _: Shade.objects.update(name="Spruce")],
    "stash_shade_keep_positive": [lambda _: Shade.objects.update(keep_mg=0)],
    "stash_lot_name_once_a_shade": [lambda _: Lot.objects.update(name="A1")],
    "stash_cone_code_any_case": [lambda world: twin(world.cone, code=world.cone.code.lower())],
    "stash_cone_on_hand_not_negative": [lambda world: rows(world.cone).update(on_hand_mg=-1)],
    "stash_cone_reserved_not_negative": [
        lambda world: rows(world.cone).update(reserved_mg=F("reserved_mg") - 11)
    ],
    "stash_cone_core_not_negative": [lambda world: rows(world.cone).update(core_mg=-1)],
    "stash_cone_form_known": [lambda world: rows(world.cone).update(form="hank")],
    "stash_cone_retired_is_empty": [
        lambda world: rows(world.cone).update(retired_at=timezone.now(), reserved_mg=0)
    ],
    "stash_cone_retired_holds_nothing": [
        lambda world: rows(world.cone).update(retired_at=timezone.now(), on_hand_mg=0)
    ],
    "stash_cone_condition_known": [lambda world: rows(world.cone).update(condition="shabby")],
    "stash_cone_label_and_price": [
        lambda world: rows(world.cone).update(labelled_mg=0),
        lambda world: rows(world.cone).update(price_cents=-1),
    ],
    "stash_corekind_mass_not_negative": [
        lambda _: CoreKind.objects.bulk_create([CoreKind(name="Paper", mass_mg=-1)])
    ],
    "stash_delivery_expects_something": [
        lambda _: Delivery.objects.bulk_create(
            [Delivery(received_on=date(2026, 3, 1), expected_cones=0, made_at=timezone.now())]
        )
    ],
    "stash_supplier_days_of_two_years": [
        lambda world: rows(a_put_up(world).supplier).update(lead_days=731),
        lambda world: rows(a_put_up(world).supplier).update(late_days=731),
    ],
    "stash_supplier_amounts_positive": [
        lambda world: rows(a_put_up(world).supplier).update(minimum_cents=0),
        lambda world: rows(a_put_up(world).supplier).update(carriage_cents=-1),
        lambda world: rows(a_put_up(world).supplier).update(carriage_free_cents=0),
    ],
    "stash_putup_weighs_something": [
        lambda world: rows(a_put_up(world)).update(mass_mg=0),
        lambda world: rows(a_put_up(world)).update(price_cents=-1),
    ],
    "stash_putup_one_at_least": [lambda world: rows(a_put_up(world)).update(least=0)],
    "stash_pricebreak_number_once": [lambda world: some_breaks(world, 6, 6)],
    "stash_pricebreak_from_two": [
        lambda world: some_breaks(world, 1),
        lambda world: some_breaks(world, 6, price_cents=-1),
    ],
    "stash_order_due_after_ordered": [
        lambda world: rows(an_order(world)).update(due_on=date(2026, 3, 1)),
        lambda world: rows(an_order(world)).update(ordered_on=date(2026, 3, 2), due_on=date(2026, 3, 1)),
    ],
    "stash_order_carriage_not_negative": [lambda world: rows(an_order(world)).update(carriage_cents=-1)],
    "stash_orderline_weighs_something": [
        lambda world: rows(an_order_line(world)).update(mass_mg=0),
        lambda world: rows(an_order_line(world)).update(price_cents=-1),
    ],
    "stash_orderline_1_to_1000": [
        lambda world: rows(an_order_line(world)).update(number=0),
        lambda world: rows(an_order_line(world)).update(number=1_001),
    ],
    "stash_orderline_cancelled_within": [lambda world: rows(an_order_line(world)).update(cancelled=3)],
    "stash_orderline_lot_of_a_match": [
        lambda world: rows(an_order_line(world)).update(lot_wish="match"),
        lambda world: rows(an_order_line(world)).update(lot=world.cone.lot),
    ],
    "stash_orderline_lot_wish_known": [lambda world: rows(an_order_line(world)).update(lot_wish="best")],
    "stash_entry_after_not_negative": [
        lambda _: Entry.objects.update(after_mg=-1, gross_mg=None),
        lambda world: twin(world.cone.entries.get(), after_mg=-1, gross_mg=None),
    ],
    "stash_entry_kind_known": [lambda _: Entry.objects.update(kind="guessed")],
    "stash_entry_gross_is_core_and_net": [
        lambda _: Entry.objects.filter(gross_mg__isnull=False).update(core_mg=None),
        lambda _: Entry.objects.filter(gross_mg__isnull=False).update(gross_mg=F("gross_mg") + 1),
        lambda _: Entry.objects.filter(gross_mg__isnull=False).update(core_mg=-1, gross_mg=F("after_mg") - 1),
    ],
    "stash_stocktake_one_open_a_place": [
        lambda world: twin(a_count(world).stocktake),
        lambda world: twin(a_count(world, place=Place.objects.create(name="Loft")).stocktake),
    ],
    "stash_stocktake_closed_by_someone": [
        lambda world: rows(a_count(world).stocktake).update(closed_at=timezone.now()),
        lambda world: rows(a_count(world).stocktake).update(closed_by=F("by")),
    ],
    "stash_count_once_a_cone": [lambda world: twin(a_count(world))],
    "stash_count_net_of_a_scale": [
        lambda world: rows(a_count(world)).update(scale_mg=None),
        lambda world: rows(a_count(world)).update(net_mg=None),
        lambda world: rows(a_count(world)).update(net_mg=-1),
        lambda world: rows(a_count(world)).update(net_mg=F("scale_mg") + 1),
        lambda world: rows(a_count(world)).update(finding="absent"),
        lambda world: rows(a_count(world)).update(finding="guessed", scale_mg=None, net_mg=None),
    ],
    "stash_count_settled_by_someone": [
        lambda world: rows(a_count(world)).update(settled_at=timezone.now()),
        lambda world: rows(a_count(world)).update(settled_by=F("by")),
        lambda world: rows(a_count(world)).update(entry=world.cone.entries.get()),
    ],
    "stash_claim_rank_1_to_9": [
        lambda _: Claim.objects.update(rank=0),
        lambda _: Claim.objects.update(rank=10),
    ],
    "stash_reservation_use_once_a_cone": [lambda world: twin(world.reservation)],
    "stash_reservation_amount_positive": [
        lambda world: rows(world.reservation).update(length_um=0),
        lambda world: rows(world.reservation).update(mass_mg=-1),
    ],
    "stash_reservation_ends_of_warp": [
        lambda world: rows(world.reservation).update(ends=0),
        lambda _: Reservation.objects.filter(use="weft").update(ends=3),
        lambda world: rows(world.reservation).update(use="both"),
    ],
    "stash_shortage_shade_once_a_claim": [lambda world: twin(world.shortage)],
    "stash_shortage_amount_positive": [
        lambda world: rows(world.shortage).update(length_um=0),
        lambda world: rows(world.shortage).update(mass_mg=0),
    ],
    "stash_photo_of_one_thing": [
        lambda world: a_photo_row(shade=world.shade, cone=world.cone),
        lambda _: a_photo_row(),
        lambda world: Photo.objects.filter(pk=a_photo_row(cone=world.cone).pk).update(shade=world.shade),
        lambda world: Photo.objects.filter(pk=a_photo_row(cone=world.cone).pk).update(cone=None),
    ],
    "stash_savedview_name_once_a_person": [
        lambda _: SavedView.objects.bulk_create(
            SavedView(person=Person.objects.get(username="mara"), name="Mine", query="q=x") for _ in range(2)
        )
    ],
    "projects_project_name_once": [lambda _: Project.objects.update(name="One")],
    "projects_project_size_positive": [
        lambda _: Project.objects.update(pieces=0),
        lambda _: Project.objects.update(across_um=0),
        lambda _: Project.objects.update(along_um=-1),
    ],
    "projects_project_lengths_not_negative": [
        lambda _, name=name: Project.objects.update(**{name: -1})
        # A waste below 0 is less than its part at the front too, and a database names whichever rule it tries first.
        for name in ("hem_um", "gap_um", "sample_um", "header_um")
    ],
    "projects_project_densities_positive": [
        lambda _, name=name: Project.objects.update(**{name: 0})
        for name in ("sett_numerator", "sett_denominator", "sett_per_um", "picks_numerator", "picks_per_um")
    ],
    "projects_project_rank_1_to_9": [
        lambda _: Project.objects.update(rank=0),
        lambda _: Project.objects.update(rank=10),
    ],
    "projects_shade_key_once": [lambda world: twin(world.row, shade_id=Shade.objects.get(name="Rust").pk)],
    "projects_shade_shade_once": [lambda world: twin(world.row, key="B")],
    "projects_shade_frozen_pair": [
        lambda world: rows(world.row).update(frozen_um=5),
        lambda world: rows(world.row).update(frozen_mg=5),
        lambda world: rows(world.row).update(frozen_um=0, frozen_mg=5),
    ],
    "projects_shade_beam_1_to_4": [
        lambda world: rows(world.row).update(beam=0),
        lambda world: rows(world.row).update(beam=5),
    ],
    "projects_shade_wish_names_its_lot": [
        lambda world: rows(world.row).update(wish="lot"),
        lambda world: rows(world.row).update(wish="cone"),
        lambda world: rows(world.row).update(wish_lot=world.cone.lot),
        lambda world: rows(world.row).update(wish="lot", wish_cone=world.cone),
        lambda world: rows(world.row).update(wish="best"),
    ],
    "projects_fair_name_and_day_once": [lambda _: some_fairs(date(2026, 5, 1), date(2026, 5, 1))],
    "projects_fair_ends_after_it_begins": [lambda _: some_fairs(date(2026, 5, 1), ends_on=date(2026, 4, 30))],
    "projects_fair_clear_120_days": [lambda _: some_fairs(date(2026, 5, 1), clear_days=121)],
    "projects_beam_number_once": [lambda world: a_beam(world, 2, 2)],
    "projects_beam_number_2_to_4": [lambda world: a_beam(world, 1), lambda world: a_beam(world, 5)],
    "projects_note_says_something": [
        lambda world: ProjectNote.objects.bulk_create(
            [
                ProjectNote(
                    project=world.project,
                    text="",
                    by=Person.objects.get(username="mara"),
                    made_at=timezone.now(),
                )
            ]
        )
    ],
    "projects_note_stage_known": [
        lambda world: ProjectNote.objects.bulk_create(
            [
                ProjectNote(
                    project=world.project,
                    text="Dreamt.",
                    by=Person.objects.get(username="mara"),
                    made_at=timezone.now(),
                    stage="dreamt",
                )
            ]
        )
    ],
    "projects_project_edges_not_negative": [
        *(
            lambda _, name=name: Project.objects.update(**{name: -1})
            for name in ("hem_depth_um", "hem_fold_um", "fringe_um", "fringe_knot_um", "waste_front_um")
        ),
        lambda _: Project.objects.update(waste_front_um=F("waste_um") + 1),
    ],
    "projects_project_hem_picks_positive": [
        lambda _: Project.objects.update(hem_picks_numerator=0),
        lambda _: Project.objects.update(hem_picks_numerator=1, hem_picks_denominator=0),
        lambda _: Project.objects.update(hem_picks_numerator=1, hem_picks_per_um=0),
    ],
    "projects_project_at_once_1_to_24": [
        lambda _: Project.objects.update(at_once=0),
        lambda _: Project.objects.update(at_once=25),
    ],
    "projects_project_stage_known": [lambda _: Project.objects.update(stage="dreamt")],
    "projects_project_trial_holds_nothing": [
        lambda world: rows(world.project).update(claim=world.claim, trial_of=world.project)
    ],
    "projects_project_off_after_wound": [
        lambda _: Project.objects.update(need_on=date(2026, 3, 2), off_on=date(2026, 3, 1))
    ],
    "projects_project_kits_at_most_200": [
        lambda _, name=name: Project.objects.update(**{name: 201})
        for name in ("kit_students", "kit_demo", "kit_spare")
    ],
    **{
        f"stash_{name}_back_needs_lent": [lambda _, make=make: rows(make()).update(back_on=date(2026, 3, 1))]
        for name, make in (
            ("loom", lambda: a_loom()),
            ("reed", lambda: a_reed()),
            ("board", lambda: a_board()),
            ("tool", lambda: a_tool()),
        )
    },
    "stash_loom_width_and_shafts": [
        lambda _: rows(a_loom()).update(weaving_width_um=0),
        lambda _: rows(a_loom()).update(shafts=0),
        lambda _: rows(a_loom()).update(shafts=41),
    ],
    "stash_loom_lengths_not_negative": [
        *(
            lambda _, name=name: rows(a_loom()).update(**{name: -1})
            for name in ("waste_um", "left_um", "waste_laced_um", "waste_tied_on_um")
        ),
        lambda _: rows(a_loom()).update(longest_warp_um=0),
        lambda _: rows(a_loom()).update(reed_height_um=0),
    ],
    "stash_heddles_shaft_once": [lambda _: some_heddles(1, 1)],
    "stash_heddles_shaft_known": [lambda _: some_heddles(0), lambda _: some_heddles(41)],
    "stash_reed_dents_positive": [
        lambda _, name=name: rows(a_reed()).update(**{name: 0})
        for name in ("dents_numerator", "dents_denominator", "dents_per_um")
    ],
    "stash_reed_size_positive": [
        lambda _: rows(a_reed()).update(length_um=0),
        lambda _: rows(a_reed()).update(height_um=0),
    ],
    "stash_board_path_positive": [
        lambda _: rows(a_board()).update(step_um=0),
        lambda _: rows(a_board()).update(longest_um=F("step_um") - 1),
    ],
    "stash_board_kind_known": [lambda _: rows(a_board()).update(kind="shelf")],
    "stash_board_holds_ends": [lambda _: rows(a_board()).update(most_ends=0)],
    "stash_tool_kind_known": [lambda _: rows(a_tool()).update(kind="loom")],
    "stash_tool_holds_something": [lambda _: rows(a_tool()).update(holds_mg=0)],
    "stash_tool_widths_in_order": [
        lambda _: rows(a_tool()).update(narrowest_um=5),
        lambda _: rows(a_tool()).update(narrowest_um=5, widest_um=4),
    ],
}
OURS = [*apps.get_app_config("stash").get_models(), *apps.get_app_config("projects").get_models()]
CONSTRAINTS = {one.name: one for model in OURS for one in model._meta.constraints}
SINGLE = [
    pytest.param(name, attack, id=f"{name}-{at}")
    for name, attacks in ATTACKS.items()
    for at, attack in enumerate(attacks)
]


def test_every_named_rule_is_attacked():
    assert set(ATTACKS) == set(CONSTRAINTS)


@pytest.mark.parametrize(("name", "attack"), SINGLE)
def test_the_database_itself_refuses(world, name, attack):
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        attack(world)
    unnamed = connection.vendor == "sqlite" and isinstance(CONSTRAINTS[name], models.UniqueConstraint)
    assert ("UNIQUE" if unnamed else name) in str(refused.value)


def test_a_name_that_is_unique_by_its_column_is_refused_twice(world):
    Place.objects.bulk_create([Place(name="Shelf")])
    for attack in (
        lambda: Place.objects.bulk_create([Place(name="Shelf")]),
        lambda: twin(world.cone),
        lambda: PersonFactory._meta.model.objects.bulk_create([Person(username="mara", password="x")]),
        lambda: Project.objects.update(claim=world.claim),
        lambda: CoreKind.objects.bulk_create([CoreKind(name="Paper", mass_mg=1) for _ in range(2)]),
        lambda: Supplier.objects.bulk_create([Supplier(name="Hill shop") for _ in range(2)]),
        lambda: Entry.objects.update(undoes=world.cone.entries.get()),
        lambda: Entry.objects.update(key="once"),
        lambda: [a_photo_row(cone=world.cone) for _ in range(2)],
        lambda: PhoneCode.objects.bulk_create(
            [PhoneCode(person=world.cone.entries.get().by, code_hash="x", made_at=timezone.now())] * 2
        ),
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            attack()


@pytest.mark.parametrize("name", sorted(CONSTRAINTS))
def test_every_rule_speaks_a_plain_sentence(name):
    message = str(CONSTRAINTS[name].violation_error_message)
    assert message.endswith(".") and message[0].isupper()
    assert "onstraint" not in message and "_" not in message


@pytest.mark.parametrize(
    ("field", "change"),
    [
        ("rank", lambda world: (world.project, {"rank": 10})),
        ("name", lambda world: (world.project, {"name": "Second mats"})),
        ("name", lambda world: (world.yarn, {"name": "Other cotton"})),
        ("code", lambda world: (world.cone, {"code": Cone.objects.exclude(pk=world.cone.pk).get().code})),
    ],
)
def test_what_people_can_meet_points_at_its_field(world, field, change):
    row, changes = change(world)
    for name, value in changes.items():
        setattr(row, name, value)
    with pytest.raises(ValidationError) as refused:
        row.full_clean()
    assert list(refused.value.message_dict) == [field]
    assert all("onstraint" not in message for message in refused.value.message_dict[field])


def test_what_has_a_history_is_not_deleted_through_the_models(world, owner):
    for row in (world.cone, world.shade, world.yarn, world.claim, owner):
        with pytest.raises(models.ProtectedError):
            row.delete()


def test_shade_totals_leave_no_cone_pay_for_another(world):
    """One cone undercut by 90 g, another free by 500 g: free stays 500 g."""
    rows(world.cone).update(on_hand_mg=10_000, reserved_mg=100_000)
    shade = Shade.objects.with_stock().get(pk=world.shade.pk)
    assert (shade.on_hand_mg, shade.reserved_mg) == (510_000, 100_000)
    assert (shade.free_mg, shade.undercut_mg) == (500_000, 90_000)
    assert (shade.cone_count, shade.lot_count, shade.unknown_count) == (2, 2, 0)
    assert all(type(figure) is int for figure in (shade.on_hand_mg, shade.free_mg, shade.undercut_mg))


def test_a_shade_without_cones_totals_nothing(world):
    shade = Shade.objects.with_stock().get(name="Rust")
    assert (shade.on_hand_mg, shade.free_mg, shade.undercut_mg, shade.cone_count) == (0, 0, 0, 0)


def test_the_greatest_masses_that_are_taken_add_up(world, owner):
    """10,000 kg a cone is absurd and accepted: a shelf of them still fits the database's whole numbers."""
    for _ in range(3):
        make_cone(world.shade, scale_mg=10_000_000_000, by=owner)
    shade = Shade.objects.with_stock().get(pk=world.shade.pk)
    assert shade.free_mg == 30_000_000_000 + 1_000_000 - 10
