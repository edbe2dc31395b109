"""The warping ticket: the packages it names, what it says when they are not enough, and winding line by line."""

from datetime import date
from fractions import Fraction

import pytest
from django.db import connection
from django.db.models import Sum
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from projects.models import Project
from projects.services.planning import Kits, ProjectFacts, put_away, save_project
from projects.services.reserving import reserve_project
from projects.services.winding import mark_lines
from stash.calc.beams import Beam
from stash.calc.colour_order import read_order
from stash.calc.density import Density
from stash.models import Board, BoardKind, Cone, Reservation, Shortage
from stash.services.books import row_faults
from stash.services.refusal import Refusal
from stash.services.reserving import Wanted, make_claim
from stash.services.reserving import reserve as shelf_reserve
from stash.services.using import take_as_wound
from tests.factories import make_cone, make_shade
from tests.projects.factories import INCH, YARD, make_project, plain_plan

# Pages and sheets: what they say does not hang on what keeps the books.
pytestmark = [pytest.mark.django_db, pytest.mark.once]


@pytest.fixture
def oat():
    return make_shade("Oat")


@pytest.fixture
def spruce():
    return make_shade("Spruce")


def whole(order, **changes):
    """40 ends to the inch, so that all of it hangs in one bout."""
    return plain_plan(order=read_order(order), order_fills=False, sett=Density(Fraction(40)), **changes)


def ticket_of(client, project, **asked):
    return client.get(reverse("project-ticket", args=[project.pk]), asked)


def lines_of(answer):
    """(passes, what is wound, ends so far) of every line, the packages by their words."""
    words = answer.context["words"]
    return [
        (line.passes, [f"{one.shade} {one.package}" for one in words.line(line).threads], line.ends_so_far)
        for line in answer.context["ticket"].lines
    ]


@pytest.fixture
def mats(oat, spruce, owner):
    """Ten pairs of Oat and Spruce, from a cone of each."""
    make_cone(oat, code="O-1", lot="3", place="Top shelf", by=owner)
    make_cone(spruce, code="S-1", by=owner)
    return make_project({"A": oat, "B": spruce}, plan=whole("10 times (1 A, 1 B)"), need_on=date(2031, 5, 2))


def test_what_is_put_aside_is_named_pass_by_pass(as_viewer, mats):
    reserve_project(pk=mats.pk)
    answer = ticket_of(as_viewer, mats)
    assert lines_of(answer) == [(10, ["Oat O-1", "Spruce S-1"], 20)]
    text = answer.content.decode()
    for part in ("Have ready", "Top shelf", "10 pairs", "2 May 2031", "Left after"):
        assert part in text
    assert "Nothing is put aside" not in text


def test_without_a_reservation_it_names_what_the_shelf_could_give_and_says_so(as_viewer, mats):
    answer = ticket_of(as_viewer, mats)
    assert lines_of(answer) == [(10, ["Oat O-1", "Spruce S-1"], 20)]
    assert "Nothing is put aside for this warp yet" in answer.content.decode()


def test_once_wound_it_still_names_the_packages_that_it_was_taken_from(as_owner, owner, mats):
    reserve_project(pk=mats.pk)
    mats.refresh_from_db()
    take_as_wound(claim_id=mats.claim_id, by=owner)
    answer = ticket_of(as_owner, mats)
    assert lines_of(answer) == [(10, ["Oat O-1", "Spruce S-1"], 20)]
    assert "marked as wound" in answer.content.decode()


def test_the_order_within_a_pair_does_not_part_a_line(as_viewer, mats, oat, spruce):
    """The cross holds pairs: the threader picks the order (common practice)."""
    flipped = make_project(
        {"A": oat, "B": spruce}, "Flipped", plan=whole("4 times (1 A, 1 B), 4 times (1 B, 1 A)")
    )
    assert lines_of(ticket_of(as_viewer, flipped)) == [(8, ["Oat O-1", "Spruce S-1"], 16)]


def test_like_pairs_from_one_cone_are_wound_over_first(as_viewer, mats, oat):
    plain = make_project({"A": oat}, "Plain", plan=whole("8 A"))
    answer = ticket_of(as_viewer, plain)
    assert lines_of(answer) == [(4, ["Oat O-1", "Oat spool from O-1"], 8)]
    assert answer.context["words"].overs() == [
        "From O-1 (Oat) on to an empty spool, the spool from O-1: 4 warp lengths, 4.0 yd (0.6 g)."
    ]
    assert "4 like pairs." in answer.content.decode()


def test_like_ends_can_be_wound_one_by_one_from_one_package(as_viewer, mats, oat):
    plain = make_project({"A": oat}, "Plain", plan=whole("8 A"))
    answer = ticket_of(as_viewer, plain, singly="on")
    assert lines_of(answer) == [(8, ["Oat O-1"], 8)]
    assert not answer.context["words"].overs()


def test_it_says_when_a_single_end_first_gives_fewer_like_pairs(as_viewer, mats, oat, spruce):
    project = make_project({"A": oat, "B": spruce}, "Frames", plan=whole("5 times (1 B, 1 B, 1 A, 1 A)"))
    answer = ticket_of(as_viewer, project)
    assert (
        "10 like pairs. Each needs two packages of one shade or more. Begun with a single end there would be 0."
        in (answer.content.decode())
    )
    answer = ticket_of(as_viewer, project, single="on")
    assert lines_of(answer)[0][0] == 1
    assert "like pair" not in answer.content.decode()


def test_the_threads_at_once_the_board_and_the_bout_are_asked_for_in_the_address(as_viewer, mats):
    board = Board.objects.create(name="Wall board", step_um=37 * INCH, longest_um=10 * YARD)
    text = ticket_of(as_viewer, mats, k=1, board=board.pk, bout=8).content.decode()
    assert "one by one" in text
    assert "<dd>3<small>6, 7 and 7 ends</small>" in text
    assert "Wall board" in text


def test_a_warp_too_long_for_the_board_is_said(as_viewer, mats):
    board = Board.objects.create(
        name="Small mill", kind=BoardKind.MILL, step_um=10 * INCH, longest_um=20 * INCH
    )
    text = ticket_of(as_viewer, mats, board=board.pk).content.decode()
    assert "3 turns and 6.00 in" in text
    assert "Small mill takes at most 0.56 yd" in text


def test_spools_for_a_sectional_beam_are_reckoned_when_asked_for(as_viewer, mats):
    answer = ticket_of(as_viewer, mats, section="0.25 in")
    assert "On a sectional beam" in answer.content.decode()
    (beam,) = answer.context["beams"]
    assert [(shade, spool.number, spool.sections) for shade, spool in beam["spools"]] == [
        ("Oat", 5, 2), ("Spruce", 5, 2),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"k": "0"}, "at least 1 thread"),
        ({"k": "25"}, "24"),
        ({"k": "two"}, "two"),
        ({"bout": "1"}, "at least 2 ends"),
        ({"k": "4", "bout": "3"}, "give 4 ends or more"),
        ({"section": "wide"}, "wide"),
        ({"section": "0.01 in"}, "at least one end"),
        ({"board": "99"}, "Select a valid choice"),
    ],
)
def test_what_cannot_be_taken_is_said_at_its_field_and_the_ticket_is_there_all_the_same(
    as_viewer, mats, asked, said
):
    answer = ticket_of(as_viewer, mats, **asked)
    assert answer.status_code == 422
    text = answer.content.decode()
    assert said in text
    assert "Passes" in text and "Have ready" in text


def test_ends_for_which_nothing_is_there_come_last_and_are_named(as_viewer, oat, spruce, owner):
    make_cone(oat, grams=1, code="O-2", by=owner)
    project = make_project({"A": oat, "B": spruce}, plan=whole("20 A, 1 B"))
    answer = ticket_of(as_viewer, project)
    assert answer.context["words"].missing() == ["13 ends of Oat", "1 end of Spruce"]
    text = answer.content.decode()
    assert "Not enough on the shelf" in text
    assert "none put aside" in text


@pytest.mark.parametrize(("k", "said"), [(1, "Where the lot changes"), (2, "side by side in its passes")])
def test_a_warp_of_two_lots_says_how_they_lie(as_viewer, oat, owner, k, said):
    for number in (1, 2):
        make_cone(oat, grams=2, lot=str(number), code=f"O-{number}", by=owner)
    project = make_project({"A": oat}, plan=whole("20 A", picks=Density(Fraction(1, 36))))
    text = ticket_of(as_viewer, project, k=k).content.decode()
    assert "Oat comes from 2 lots." in text
    assert said in text


def test_a_skein_is_to_be_wound_into_a_ball_first(as_viewer, oat, owner):
    make_cone(oat, code="O-3", form="skein", by=owner)
    text = ticket_of(as_viewer, make_project({"A": oat}, plan=whole("4 A"))).content.decode()
    assert "Wind into balls first" in text


def test_what_should_be_left_is_said_with_the_core(as_viewer, oat, owner):
    """10 ends of a yard of 3,360 yd/lb take 1.35 g of 100 g; the core weighs 20 g."""
    make_cone(oat, grams=120, core_mg=20_000, gross=True, code="O-4", by=owner)
    (cone,) = ticket_of(as_viewer, make_project({"A": oat}, plan=whole("10 A"))).context["words"].ready()
    assert (cone.ends, cone.ready, cone.remains, cone.gross) == (10, "1.4 g", "98 g", "119 g")


def test_floating_selvedges_are_wound_apart(as_viewer, mats, oat, spruce):
    from stash.calc.selvedges import Selvedges

    plan = whole("10 times (1 A, 1 B)", selvedges=Selvedges(floating=True))
    project = make_project({"A": oat, "B": spruce}, "Edged", plan=plan)
    answer = ticket_of(as_viewer, project)
    assert lines_of(answer)[-1][2] == 20
    (beam,) = answer.context["beams"]
    assert beam["apart"] == [
        "1 floating selvedge of Oat from O-1: end 1 of the warp.",
        "1 floating selvedge of Spruce from S-1: end 22 of the warp.",
    ]


def test_accents_can_be_wound_apart(as_viewer, mats, oat, spruce):
    plan = whole("10 A, 1 B, 12 A, 1 B, 10 A")
    project = make_project({"A": oat, "B": spruce}, "Accented", plan=plan)
    (beam,) = ticket_of(as_viewer, project, apart="on").context["beams"]
    assert beam["apart"] == ["2 accents of Spruce from S-1: ends 11 and 24 of the warp."]


def test_like_warps_of_a_class_are_each_a_ticket(as_viewer, mats, oat, spruce):
    plan = whole("10 times (1 A, 1 B)", warps=3)
    project = make_project({"A": oat, "B": spruce}, "Kits", plan=plan, kits=Kits(students=3))
    answer = ticket_of(as_viewer, project, warp=2)
    assert "Warp 2 of 3 like ones." in answer.content.decode()
    assert [line[2] for line in lines_of(answer)] == [20, 20, 20]


def test_each_beam_has_a_ticket_of_its_own_with_its_own_length(as_viewer, mats, oat, spruce):
    """Spruce on a second beam takes up a tenth of the woven yard, Oat nothing."""
    plan = whole("10 times (1 A, 1 B)", beams=(Beam(2, Fraction(1, 10), ("B",)),))
    project = make_project({"A": oat, "B": spruce}, "Two beams", plan=plan)
    answer = ticket_of(as_viewer, project, singly="on")
    assert [(one["beam"].beam, one["beam"].warp_um, one["beam"].ends) for one in answer.context["beams"]] == [
        (1, YARD, 10),
        (2, YARD * 11 // 10, 10),
    ]
    assert lines_of(answer) == [(10, ["Oat O-1"], 10), (10, ["Spruce S-1"], 10)]
    assert [line.number for line in answer.context["ticket"].lines] == [1, 2]


@pytest.mark.parametrize("warp", ["0", "4", "x", "²", "9" * 9])
def test_a_warp_that_is_not_there_shows_one_that_is(as_viewer, mats, warp):
    assert ticket_of(as_viewer, mats, warp=warp).status_code == 200


def test_another_warp_is_wound_from_its_first_line_and_another_name_is_not(striped):
    Project.objects.filter(pk=striped.pk).update(ticket_done=2)
    shades = {row.key: row.shade_id for row in striped.shades.all()}

    def save(order, name):
        facts = ProjectFacts(
            name=name, plan=whole(order), shades=shades, structure="plain", piece_name="mats"
        )
        return save_project(facts=facts, pk=striped.pk, version=None).ticket_done

    assert save("4 A, 2 B, 4 A", "Renamed") == 2
    assert save("2 B, 4 A, 4 A", "Renamed") == 0


# Keeping how it is wound


def keep(client, project, **typed):
    return client.post(reverse("project-ticket-keep", args=[project.pk]), typed)


def test_threads_at_once_and_board_are_kept_and_the_rest_stays_in_the_address(as_helper, mats):
    board = Board.objects.create(name="Wall board", step_um=37 * INCH, longest_um=10 * YARD)
    Project.objects.filter(pk=mats.pk).update(ticket_done=1)
    answer = keep(as_helper, mats, k="1", board=board.pk, bout="8", section="")
    assert answer.url == f"/projects/{mats.pk}/ticket/?bout=8"
    mats.refresh_from_db()
    assert (mats.at_once, mats.board, mats.ticket_done) == (1, board, 0)
    text = as_helper.get(answer.url).content.decode()
    assert "are kept with the project" in text
    assert "Wall board" in text and "one by one" in text


def test_the_only_board_of_the_studio_is_taken_without_being_asked_for(as_viewer, mats):
    board = Board.objects.create(name="Wall board", step_um=37 * INCH, longest_um=10 * YARD)
    assert "Wall board" in ticket_of(as_viewer, mats).content.decode()
    assert ticket_of(as_viewer, mats, board="").context["board"] is None
    Board.objects.create(name="Mill", kind=BoardKind.MILL, step_um=3 * YARD, longest_um=30 * YARD)
    assert ticket_of(as_viewer, mats).context["board"] is None
    Project.objects.filter(pk=mats.pk).update(board=board)
    assert ticket_of(as_viewer, mats).context["board"] == board


def test_what_is_wound_otherwise_than_kept_is_offered_to_be_kept(as_helper, mats):
    assert "with the project</button>" not in ticket_of(as_helper, mats).content.decode()
    text = ticket_of(as_helper, mats, k=1, bout=8).content.decode()
    assert "Keep 1 at once and no board with the project" in text
    assert '<input type="hidden" name="bout" value="8">' in text


def test_kept_as_they_were_winding_does_not_begin_anew(as_helper, mats):
    Project.objects.filter(pk=mats.pk).update(ticket_done=1)
    keep(as_helper, mats, k="2", board="")
    mats.refresh_from_db()
    assert mats.ticket_done == 1


@pytest.mark.parametrize("typed", [{"k": "0"}, {"k": "x"}, {"k": "25"}, {"k": "2", "board": "77"}])
def test_what_cannot_be_kept_is_said_at_its_field_and_nothing_is_kept(as_helper, mats, typed):
    page = as_helper.get(keep(as_helper, mats, **typed).url)
    assert page.status_code == 422
    mats.refresh_from_db()
    assert (mats.at_once, mats.board) == (2, None)


def test_of_a_project_that_is_put_away_nothing_is_kept(as_helper, mats):
    put_away(pk=mats.pk)
    page = as_helper.get(keep(as_helper, mats, k="1").url)
    assert "put away" in page.content.decode()
    mats.refresh_from_db()
    assert mats.at_once == 2


# Sharing a warp out among the cones of a lot


@pytest.fixture
def two_cones(oat, owner):
    """40 ends of a yard, all put aside on the smaller of two cones of one lot."""
    make_cone(oat, grams=20, lot="3", code="O-1", by=owner)
    make_cone(oat, grams=30, lot="3", code="O-2", by=owner)
    project = make_project({"A": oat}, "Plain", plan=whole("40 A"))
    reserve_project(pk=project.pk)
    return project


def held(project):
    project.refresh_from_db()
    rows = Reservation.objects.filter(claim=project.claim_id).order_by("cone__code", "use")
    return [(line.cone.code, line.use, line.ends) for line in rows.select_related("cone")]


def test_a_ticket_that_winds_over_offers_to_share_the_ends_out(as_helper, two_cones):
    assert [line for line in held(two_cones) if line[1] == "warp"] == [("O-1", "warp", 40)]
    text = ticket_of(as_helper, two_cones).content.decode()
    assert "Wind over first" in text
    assert "if they give 20 of these ends, less has to be wound over" in text
    answer = as_helper.post(reverse("project-ticket-share", args=[two_cones.pk]) + "?bout=20")
    assert answer.url == f"/projects/{two_cones.pk}/ticket/?bout=20"
    assert [line for line in held(two_cones) if line[1] == "warp"] == [
        ("O-1", "warp", 20),
        ("O-2", "warp", 20),
    ]
    page = as_helper.get(answer.url)
    assert "20 ends moved to other cones of the same lot." in page.content.decode()
    assert lines_of(page)[0][1] == ["Oat O-1", "Oat O-2"]
    assert "Wind over first" not in page.content.decode()


def test_sharing_out_leaves_the_weft_the_sums_and_the_books_as_they_were(as_helper, two_cones):
    before = {line[1]: line for line in held(two_cones) if line[1] == "weft"}
    sums = Reservation.objects.aggregate(ends=Sum("ends"), um=Sum("length_um"))
    as_helper.post(reverse("project-ticket-share", args=[two_cones.pk]))
    assert {line[1]: line for line in held(two_cones) if line[1] == "weft"} == before
    assert Reservation.objects.aggregate(ends=Sum("ends"), um=Sum("length_um")) == sums
    for cone in Cone.objects.all():
        assert cone.reserved_mg == (cone.reservations.aggregate(sum=Sum("mass_mg"))["sum"] or 0)
    assert row_faults() == []


def test_what_is_shared_out_already_is_refused_with_a_sentence(as_helper, two_cones):
    for _ in range(2):
        as_helper.post(reverse("project-ticket-share", args=[two_cones.pk]))
    assert "shared out already" in ticket_of(as_helper, two_cones).content.decode()


def test_a_shortage_stays_noted_when_the_warp_is_shared_out(as_helper, oat, spruce, owner):
    make_cone(oat, grams=20, lot="3", code="O-1", by=owner)
    make_cone(oat, grams=30, lot="3", code="O-2", by=owner)
    project = make_project({"A": oat, "B": spruce}, "Short", plan=whole("40 A, 2 B"))
    reserve_project(pk=project.pk)
    before = list(Shortage.objects.values_list("shade", "ends", "length_um", "mass_mg"))
    as_helper.post(reverse("project-ticket-share", args=[project.pk]))
    assert len([line for line in held(project) if line[1] == "warp"]) == 2
    assert list(Shortage.objects.values_list("shade", "ends", "length_um", "mass_mg")) == before


def test_yarn_that_another_project_holds_is_not_asked_for(as_helper, two_cones, oat):
    cone = Cone.objects.get(code="O-2")
    claim = make_claim(name="Another")
    shelf_reserve(claim_id=claim.pk, wanted=[Wanted(cone.pk, "weft", 0, 1, cone.on_hand_mg)])
    assert "Share the ends out" not in ticket_of(as_helper, two_cones).content.decode()
    as_helper.post(reverse("project-ticket-share", args=[two_cones.pk]))
    assert [line for line in held(two_cones) if line[1] == "warp"] == [("O-1", "warp", 40)]


def test_without_a_reservation_there_is_nothing_to_share_out(as_helper, mats):
    as_helper.post(reverse("project-ticket-share", args=[mats.pk]))
    assert "No warp is put aside" in ticket_of(as_helper, mats).content.decode()


def test_a_proposal_is_shared_out_by_itself(as_viewer, oat, owner):
    make_cone(oat, grams=20, lot="3", code="O-1", by=owner)
    make_cone(oat, grams=30, lot="3", code="O-2", by=owner)
    answer = ticket_of(as_viewer, make_project({"A": oat}, "Plain", plan=whole("40 A")))
    assert lines_of(answer)[0][1] == ["Oat O-1", "Oat O-2"]


# Winding line by line


@pytest.fixture
def striped(oat, spruce, owner):
    make_cone(oat, code="O-1", by=owner)
    make_cone(spruce, code="S-1", by=owner)
    return make_project({"A": oat, "B": spruce}, "Striped", plan=whole("4 A, 2 B, 4 A"))


def done(client, project, number, **headers):
    address = reverse("project-ticket-done", args=[project.pk])
    return client.post(f"{address}?k=1", {"done": number}, **headers)


def test_one_tap_goes_one_line_on_and_the_place_is_kept(as_helper, striped):
    answer = done(as_helper, striped, 1)
    assert answer.status_code == 302
    assert answer.url == f"/projects/{striped.pk}/ticket/phone/?k=1"
    striped.refresh_from_db()
    assert striped.ticket_done == 1
    page = as_helper.get(answer.url)
    assert page.context["line"].number == 2
    assert "Line 2 of" in page.content.decode()


def test_with_script_only_the_line_in_hand_comes_back(as_helper, striped):
    answer = done(as_helper, striped, 2, headers={"HX-Request": "true"})
    text = answer.content.decode()
    assert "Line 3 of" in text
    assert "<html" not in text


def test_a_tap_twice_is_one(as_helper, striped):
    done(as_helper, striped, 1)
    done(as_helper, striped, 1)
    striped.refresh_from_db()
    assert striped.ticket_done == 1


def test_after_the_last_line_the_warp_can_be_marked_as_wound(as_helper, striped):
    reserve_project(pk=striped.pk)
    page = as_helper.get(reverse("project-ticket-phone", args=[striped.pk]))
    last = page.context["total"]
    as_helper.post(reverse("project-ticket-done", args=[striped.pk]), {"done": last})
    text = as_helper.get(reverse("project-ticket-phone", args=[striped.pk])).content.decode()
    assert f"All {last} lines are wound" in text
    assert reverse("project-wound", args=[striped.pk]) in text


@pytest.mark.parametrize("number", ["-1", "99", "", "x", "²", "1" * 9])
def test_a_line_that_is_not_there_is_refused(as_helper, striped, number):
    answer = done(as_helper, striped, number, headers={"HX-Request": "true"})
    assert answer.status_code == 422
    striped.refresh_from_db()
    assert striped.ticket_done == 0
    assert done(as_helper, striped, number).status_code == 302


def test_a_visitor_sees_the_line_and_no_button(as_viewer, striped):
    text = as_viewer.get(reverse("project-ticket-phone", args=[striped.pk])).content.decode()
    assert "Line 1 of" in text
    assert "step-next" not in text


def test_a_project_that_is_put_away_or_gone_is_not_wound(striped):
    put_away(pk=striped.pk)
    with pytest.raises(Refusal, match="put away"):
        mark_lines(pk=striped.pk, done=1, lines=3)
    with pytest.raises(Refusal, match="gone"):
        mark_lines(pk=striped.pk + 1, done=1, lines=3)


def test_lines_done_under_other_choices_do_not_go_beyond_the_ticket(as_helper, striped):
    Project.objects.filter(pk=striped.pk).update(ticket_done=500)
    text = as_helper.get(reverse("project-ticket-phone", args=[striped.pk])).content.decode()
    assert "lines are wound" in text


# Queries


def queries(client, address):
    client.get(address)
    with CaptureQueriesContext(connection) as caught:
        assert client.get(address).status_code == 200
    return len(caught.captured_queries)


def of_shades(count, owner, name):
    shades = {}
    for number in range(count):
        key = "ABCDEFGH"[number]
        shades[key] = make_shade(f"{name} {key}")
        for at in range(2):
            make_cone(shades[key], grams=1, lot=f"L{at}", code=f"{name}{key}{at}", by=owner)
    plan = whole(", ".join(f"{6 + at} {key}" for at, key in enumerate(shades)))
    return make_project(shades, name, plan=plan)


@pytest.mark.parametrize(
    ("name", "more"),
    [("project-ticket", 7), ("project-ticket-phone", 4), ("project-threading", 2), ("project-weft-sheet", 3)],
)
def test_a_sheet_asks_the_same_for_twice_the_shades(as_owner, owner, name, more):
    """Studio, session, person; the project with its shades (2); what is reserved (ticket, 1); whether there is but one
    board (ticket, 1); the boards to choose from (ticket, 1); where something is wound over, what else its
    lots hold (ticket, 2); the smallest bobbin (weft sheet, 1)."""
    two, four = of_shades(2, owner, "Two"), of_shades(4, owner, "Four")
    for project in (two, four):
        reserve_project(pk=project.pk)
    counts = [queries(as_owner, reverse(name, args=[project.pk])) for project in (two, four)]
    assert counts == [3 + more] * 2


def test_a_proposed_ticket_asks_the_same_for_twice_the_shades(as_owner, owner):
    counts = [
        queries(as_owner, reverse("project-ticket", args=[of_shades(number, owner, name).pk]))
        for number, name in ((2, "Two"), (4, "Four"))
    ]
    assert counts[0] == counts[1]
