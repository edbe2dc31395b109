"""The page of the ways out, and what follows from it: a trial, two plans side by side, a reservation that moves."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from projects.models import Project
from projects.services.planning import put_away
from projects.services.reserving import reserve_project
from stash.calc.colour import apart
from stash.calc.colour_order import read_order
from stash.models import Cone, Loom, PutUp
from stash.services.using import take_as_wound
from tests.factories import make_cone, make_shade, make_supplier
from tests.projects.factories import INCH, YARD
from tests.projects.shortages import mats, mats_plan, yard_yarn
from tests.stash.reading import Read

pytestmark = pytest.mark.django_db


@pytest.fixture
def yarn(owner):
    return yard_yarn(fibres={"cotton": 100})


@pytest.fixture
def shades(yarn, owner):
    found = {"A": make_shade("Spruce", yarn), "B": make_shade("Rust", yarn, colour="#8c4030")}
    make_cone(found["A"], grams=200, lot="1", by=owner)
    make_cone(found["B"], grams=30, lot="1", by=owner)
    return found


@pytest.fixture
def short(shades):
    """Five mats; Rust gives three."""
    return mats(shades, piece_name="mats", need_on=date(2031, 3, 1))


def address(project: Project) -> str:
    return reverse("project-ways", args=[project.pk])


def names(answer) -> list[str]:
    return [told.name for told in answer.context["ways"].told]


def told(answer, start: str):
    return next(one for one in answer.context["ways"].told if one.name.startswith(start))


def test_a_short_project_loads_its_ways_apart_and_has_a_plain_link(as_owner, short):
    page = as_owner.get(reverse("project-page", args=[short.pk])).content.decode()
    assert f'hx-get="{address(short)}" hx-trigger="load"' in page
    assert f'<a href="{address(short)}">See what would make it suffice</a>' in page


def test_a_project_that_has_enough_shows_no_ways(as_owner, shades):
    enough = mats(shades, plan=mats_plan(pieces=2))
    assert "ways-out" not in as_owner.get(reverse("project-page", args=[enough.pk])).content.decode()
    assert "no way out is wanted" in as_owner.get(address(enough)).content.decode()


def test_the_part_comes_without_the_page_around_it(as_owner, short):
    part = as_owner.get(address(short), headers={"HX-Request": "true"})
    assert "<html" not in part.content.decode()
    assert part["Vary"].count("HX-Request") == 1
    assert "Weave 3 mats instead of 5" in part.content.decode()


def test_fewer_pieces_say_what_they_come_to_and_what_stops_the_next(as_owner, short):
    way = told(as_owner.get(address(short)), "Weave 3 mats")
    assert way.effect == "The warp is 3.00 yd instead of 5.00 yd. One more would lack 10.0 yd of Rust."
    assert way.verdict == "Enough, with the buffer."
    assert [(one.name, one.before, one.after) for one in way.effects] == [
        ("Spruce", "50.0 yd", "30.0 yd"),
        ("Rust", "50.0 yd", "30.0 yd"),
    ]


def test_buying_says_how_much_and_by_when(as_owner, short, shades):
    way = told(as_owner.get(address(short)), "Buy")
    assert way.name == "Buy 20 g of Rust"
    assert "Order by 1 March 2031, the winding day, less your supplier’s time." in way.effect
    Cone.objects.filter(shade=shades["B"]).update(labelled_mg=15_000)
    assert told(as_owner.get(address(short)), "Buy").name == "Buy 2 × 15 g of Rust"


def test_what_is_sold_names_the_seller_the_price_and_the_last_day(as_owner, short, shades, yarn):
    """20 g are missing: two of 15 g, or one of 25 g that is cheaper in all and 25 days away."""
    supplier = make_supplier("Example Yarns", lead_days=18, late_days=7)
    for mass_mg, price in ((15_000, 300), (25_000, 500)):
        PutUp.objects.create(supplier=supplier, yarn=yarn, mass_mg=mass_mg, price_cents=price)
    page = as_owner.get(address(short))
    way = told(page, "Buy")
    assert way.name == "Buy 1 × 25 g of Rust"
    assert "Rust from Example Yarns for 5.00 EUR: order by 4 February 2031." in way.effect
    assert "less your supplier’s time" not in way.effect
    assert f"{reverse('order-new')}?shade={shades['B'].pk}" in page.content.decode()


def test_what_comes_too_late_is_said_with_the_usual_delay(as_owner, short, yarn):
    supplier = make_supplier("Example Yarns", lead_days=18, late_days=7)
    PutUp.objects.create(supplier=supplier, yarn=yarn, mass_mg=25_000)
    Project.objects.filter(pk=short.pk).update(need_on=timezone.localdate() + timedelta(days=19))
    way = told(as_owner.get(address(short)), "Buy")
    assert "Rust from Example Yarns: too late by 6 days with usual delay." in way.effect


def test_a_supplier_whose_time_nobody_knows_gives_no_day(as_owner, short, yarn):
    PutUp.objects.create(supplier=make_supplier("Example Yarns"), yarn=yarn, mass_mg=25_000)
    assert "how long they take is not known" in told(as_owner.get(address(short)), "Buy").effect


def test_near_shades_are_named_with_what_is_free_and_how_near_they_look(as_owner, short, yarn, owner):
    near = make_shade("Brick", yarn, colour="#8f4434")
    make_cone(near, grams=60, lot="9", by=owner)
    finer = yard_yarn("Fine cotton", um=YARD * 105 // 100, fibres={"cotton": 100})
    make_cone(make_shade("Clay", finer, colour="#b06050"), grams=60, lot="9", by=owner)
    other_fibre = yard_yarn("Yard wool", fibres={"wool": 100})
    make_cone(make_shade("Madder", other_fibre, colour="#8c4030"), grams=60, lot="9", by=owner)
    too_fine = yard_yarn("Thread", um=YARD * 12 // 10, fibres={"cotton": 100})
    make_cone(make_shade("Russet", too_fine, colour="#8c4030"), grams=60, lot="9", by=owner)
    answer = as_owner.get(address(short))
    assert [name for name in names(answer) if "in place of" in name] == [
        "Brick in place of Rust",
        "Clay in place of Rust",
    ]
    assert told(answer, "Brick").effect == (
        f"On the screen very near ({apart('#8c4030', '#8f4434'):.1f} by CIEDE2000); 60.0 yd free."
    )
    assert told(answer, "Brick").colours == ("#8c4030", "#8f4434")
    assert told(answer, "Clay").effect.endswith("; 63.0 yd free; Fine cotton, 5 % finer.")


def test_what_is_reserved_of_a_near_shade_is_not_free(as_owner, short, yarn, owner, shades):
    near = make_shade("Brick", yarn, colour="#8f4434")
    make_cone(near, grams=60, lot="9", by=owner)
    other = mats(
        {"A": shades["A"], "B": near}, name="Other", plan=mats_plan(pieces=2), need_on=date(2031, 1, 1)
    )
    reserve_project(pk=other.pk)
    assert not [name for name in names(as_owner.get(address(short))) if "in place of" in name]


def test_looms_say_what_is_lost_on_them(as_owner, shades, owner):
    # Ten ends of 4 yd and a yard of waste; 45 yd of Moss give nine ends of 5 yd, but ten of 4 yd and a third.
    moss = make_shade("Moss", shades["A"].yarn)
    make_cone(moss, grams=45, lot="1", by=owner)
    plan = mats_plan(pieces=4, waste_um=36 * INCH, pick_order=read_order("1 B"))
    make_cone(shades["B"], grams=100, lot="1", by=owner)
    project = mats({"A": moss, "B": shades["B"]}, plan=plan)
    Loom.objects.create(
        name="Small loom",
        weaving_width_um=20 * INCH,
        shafts=4,
        waste_um=20 * INCH,
        waste_tied_on_um=12 * INCH,
    )
    Loom.objects.create(name="Narrow loom", weaving_width_um=10 * INCH, shafts=4, waste_um=8 * INCH)
    answer = as_owner.get(address(project))
    assert told(answer, "Tie on to the warp that is there, on Small loom").effect == (
        "12.00 in of loom waste instead of 36.00 in, on every end."
    )
    assert not any("Narrow loom" in name for name in names(answer))
    loom = Loom.objects.get(name="Small loom")
    as_owner.post(address(project), {"way": f"waste-{loom.pk}-tied_on"})
    trial = Project.objects.get(trial_of=project)
    assert (trial.loom, trial.dressing, trial.waste_um) == (loom, "tied_on", 12 * INCH)
    assert trial.name == "Plain mats, Small loom, tied on"


def test_a_visitor_reads_the_ways_and_is_offered_no_button(as_viewer, short):
    page = as_viewer.get(address(short)).content.decode()
    assert "Weave 3 mats instead of 5" in page
    assert "Try it" not in page
    assert as_viewer.post(address(short), {"way": "pieces-3"}).status_code == 403


def test_a_helper_tries_nothing_but_may_look_at_a_move(as_helper, short, shades):
    later = mats(shades, name="Later", plan=mats_plan(pieces=1), need_on=date(2031, 5, 1))
    reserve_project(pk=later.pk)
    page = as_helper.get(address(short)).content.decode()
    assert "Try it" not in page
    assert "Look: Move the reservation of “Later”" in page


def test_trying_it_makes_a_trial_and_shows_the_two_side_by_side(as_owner, short):
    answer = as_owner.post(address(short), {"way": "pieces-3", "version": short.version}, follow=True)
    trial = Project.objects.get(trial_of=short)
    assert answer.redirect_chain == [(reverse("project-beside", args=[trial.pk]), 302)]
    assert [(pair.label, pair.first, pair.trial) for pair in answer.context["facts"]] == [
        ("Pieces", "5 mats", "3 mats")
    ]
    assert {pair.label: (pair.first, pair.trial) for pair in answer.context["figures"] if pair.differs} == {
        "Warp length": ("5.00 yd", "3.00 yd"),
        "Yarn in all, without buffer": ("100 yd", "60.0 yd"),
    }
    assert [out.sentences.state for _, _, out in answer.context["sides"]] == ["short", "enough"]


def test_a_trial_is_listed_under_its_project_and_nowhere_else(as_owner, short):
    as_owner.post(address(short), {"way": "pieces-3"})
    name = "Plain mats, 3 mats"
    assert name in as_owner.get(address(short)).content.decode()
    assert name not in as_owner.get(reverse("projects")).content.decode()
    assert name not in as_owner.get(reverse("today")).content.decode()
    assert name not in as_owner.get(reverse("weavable")).content.decode()


def test_the_page_of_a_trial_says_so_and_does_not_reserve(as_owner, short):
    as_owner.post(address(short), {"way": "pieces-3"})
    trial = Project.objects.get(trial_of=short)
    page = as_owner.get(reverse("project-page", args=[trial.pk])).content.decode()
    assert "A trial of" in page
    assert reverse("project-reserve", args=[trial.pk]) not in page
    as_owner.post(reverse("project-reserve", args=[trial.pk]))
    trial.refresh_from_db()
    assert trial.claim is None


def test_a_shade_that_comes_in_is_told_beside_the_one_that_goes(as_owner, short, yarn, owner):
    brick = make_shade("Brick", yarn, colour="#8f4434")
    make_cone(brick, grams=60, lot="9", by=owner)
    answer = as_owner.post(address(short), {"way": f"shade-B-{brick.pk}"}, follow=True)
    assert [(pair.shade.name, bool(pair.first), bool(pair.trial)) for pair in answer.context["needs"]] == [
        ("Spruce", True, True),
        ("Rust", True, False),
        ("Brick", False, True),
    ]


def test_kept_instead_the_first_project_has_the_plan(as_owner, short):
    as_owner.post(address(short), {"way": "pieces-3"})
    trial = Project.objects.get(trial_of=short)
    beside = reverse("project-beside", args=[trial.pk])
    answer = as_owner.post(beside, {"choice": "instead", "version": short.version}, follow=True)
    assert answer.redirect_chain == [(reverse("project-page", args=[short.pk]), 302)]
    short.refresh_from_db()
    assert short.pieces == 3
    assert "has the plan that was tried" in Read(answer).text


@pytest.mark.parametrize(
    ("choice", "left", "said"),
    [("both", 2, "is a project of its own now"), ("drop", 1, "is dropped"), ("", 2, "Choose what becomes")],
)
def test_both_are_kept_or_the_trial_is_dropped(as_owner, short, choice, left, said):
    as_owner.post(address(short), {"way": "pieces-3"})
    trial = Project.objects.get(trial_of=short)
    answer = as_owner.post(reverse("project-beside", args=[trial.pk]), {"choice": choice}, follow=True)
    assert Project.objects.count() == left
    assert said in Read(answer).text


def test_two_who_decide_at_once_are_told(as_owner, short):
    as_owner.post(address(short), {"way": "pieces-3"})
    trial = Project.objects.get(trial_of=short)
    beside = reverse("project-beside", args=[trial.pk])
    as_owner.post(beside, {"choice": "both"})
    assert as_owner.get(beside).status_code == 302
    Project.objects.filter(pk=trial.pk).update(trial_of=short)
    Project.objects.filter(pk=short.pk).update(version=9)
    answer = as_owner.post(beside, {"choice": "instead", "version": "1"}, follow=True)
    assert "changed in another window" in Read(answer).text


@pytest.mark.parametrize("data", [{"way": "pieces-4"}, {"way": ""}, {}, {"way": "pieces-3", "version": "x"}])
def test_what_is_no_way_out_any_more_is_refused_with_the_ways_now(as_owner, short, data):
    answer = as_owner.post(address(short), data, follow=True)
    assert answer.redirect_chain == [(address(short), 302)]
    assert Project.objects.count() == 1
    assert "These are the ways" in Read(answer).text


def test_a_project_put_away_offers_no_trial(as_owner, short):
    put_away(pk=short.pk)
    assert "Try it" not in as_owner.get(address(short)).content.decode()


def test_a_move_is_asked_before_it_is_done(as_helper, short, shades, owner):
    make_cone(shades["B"], grams=40, lot="1", by=owner)
    later = mats(shades, name="Later", plan=mats_plan(pieces=3), need_on=date(2031, 5, 1))
    reserve_project(pk=later.pk)
    later.refresh_from_db()
    move = reverse("project-move", args=[short.pk, later.claim_id])
    asked = as_helper.get(move)
    assert "It gives 10.0 yd of Rust and winds on 1 May 2031, rank 5. It would then lack" in Read(asked).text
    answer = as_helper.post(move, {"version": short.version}, follow=True)
    assert answer.redirect_chain == [(reverse("project-page", args=[short.pk]), 302)]
    assert "10.0 yd of Rust went from Later to Plain mats, and is put aside for it." in Read(answer).text
    assert "it is noted as its shortage" in Read(answer).text


def test_a_move_that_is_not_wanted_any_more_leads_back_to_the_ways(as_owner, short):
    for gone in (999, 10**30):
        move = reverse("project-move", args=[short.pk, gone])
        for answer in (as_owner.get(move, follow=True), as_owner.post(move, follow=True)):
            assert answer.redirect_chain == [(address(short), 302)]


def queries(client, at: str) -> int:
    client.get(at)
    with CaptureQueriesContext(connection) as caught:
        assert client.get(at).status_code == 200
    return len(caught)


def test_the_ways_ask_the_same_for_twice_the_shades_yarns_cones_looms_and_later_projects(
    as_owner, short, yarn, shades, owner
):
    """Studio, session, person; the project; its shades; fibres; shades near; reservations; cones; later projects;
    looms; put-ups; labels; what later projects need; trials."""
    counts = []
    for number in range(2):
        for at in range(1 + number):
            name = f"{number}{at}"
            other = yard_yarn(f"Cotton {name}", fibres={"cotton": 100})
            make_cone(make_shade(f"Shade {name}", other), grams=100, lot="1", by=owner)
            make_cone(shades["B"], grams=3, lot=name, by=owner)
            later = mats(shades, name=f"Later {name}", plan=mats_plan(pieces=1), need_on=date(2031, 5, 1))
            reserve_project(pk=later.pk)
            Loom.objects.create(name=f"Loom {name}", weaving_width_um=YARD, shafts=4, waste_um=20 * INCH)
        counts.append(queries(as_owner, address(short)))
    assert counts == [3 + 12] * 2


def test_two_plans_side_by_side_ask_the_same_for_twice_the_shades(as_owner, owner, yarn):
    counts = []
    for number in (2, 4):
        found = {}
        for key in "ABCD"[:number]:
            found[key] = make_shade(f"Of {number} {key}", yarn)
            make_cone(found[key], grams=30, lot="1", by=owner)
        order = read_order(", ".join(f"1 {key}" for key in found))
        project = mats(found, name=f"Of {number}", plan=mats_plan(order=order, pick_order=order, pieces=9))
        as_owner.post(address(project), {"way": as_owner.get(address(project)).context["ways"].told[0].token})
        trial = Project.objects.get(trial_of=project)
        counts.append(queries(as_owner, reverse("project-beside", args=[trial.pk])))
    assert counts[0] == counts[1]


def test_a_loom_that_is_too_narrow_wants_a_way_though_the_yarn_is_enough(as_owner, shades):
    """Ten ends at an end an inch, on eight inches of loom: seven repeats stand with a quarter inch at each side."""
    project = mats(shades, plan=mats_plan(pieces=1), piece_name="mats")
    narrow = Loom.objects.create(name="Small loom", weaving_width_um=8 * INCH, shafts=4, waste_um=0)
    Loom.objects.create(name="Great loom", weaving_width_um=40 * INCH, shafts=4, waste_um=24 * INCH)
    Project.objects.filter(pk=project.pk).update(loom=narrow)
    assert "ways-out" in as_owner.get(reverse("project-page", args=[project.pk])).content.decode()
    answer = as_owner.get(address(project))
    assert told(answer, "Weave them 7.00 in wide").effect == (
        "7 repeats across instead of 10, 7 ends instead of 10."
    )
    assert told(answer, "Weave it on Great loom").cures
    assert not [one for one in answer.context["ways"].told if "sett" in one.name]


def test_a_plan_within_the_clearance_of_its_loom_is_not_refused_for_it(as_owner, short):
    loom = Loom.objects.create(name="Just enough", weaving_width_um=10 * INCH, shafts=4, waste_um=0)
    Project.objects.filter(pk=short.pk).update(loom=loom)
    assert told(as_owner.get(address(short)), "Weave 3 mats").cures


def test_a_plan_whose_shades_are_not_all_named_asks_for_them_first(as_owner, short):
    short.shades.filter(key="B").delete()
    Project.objects.filter(pk=short.pk).update(open_keys="B")
    assert "ways-out" not in as_owner.get(reverse("project-page", args=[short.pk])).content.decode()
    for at in (address(short), reverse("project-more", args=[short.pk]), reverse("weavable")):
        assert as_owner.get(at).status_code == 200
    assert "A key of the plan has no shade yet" in as_owner.get(address(short)).content.decode()


def test_a_plan_for_which_yarn_was_taken_shows_no_ways(as_owner, owner, short):
    reserve_project(pk=short.pk)
    short.refresh_from_db()
    take_as_wound(claim_id=short.claim_id, by=owner)
    assert "ways-out" not in as_owner.get(reverse("project-page", args=[short.pk])).content.decode()
