"""Sheets for the loom: threading and sley with their checks, and the weft sheet."""

from fractions import Fraction

import pytest
from django.urls import reverse

from projects.models import Project
from stash.calc.colour_order import read_order
from stash.calc.density import Density
from stash.calc.hems import Hem
from stash.calc.selvedges import Selvedges
from stash.models import Loom, Reed, Tool, ToolKind
from tests.factories import make_shade, make_yarn
from tests.projects.factories import INCH, YARD, make_project, plain_plan

pytestmark = pytest.mark.django_db


@pytest.fixture
def shades():
    return {"A": make_shade("Oat"), "B": make_shade("Spruce")}


def striped(shades, **changes):
    """24 Oat and 24 Spruce at 12 to the inch, plain weave."""
    known = {"order": read_order("24 A, 24 B"), "order_fills": False, "sett": Density(Fraction(12))}
    return make_project(shades, plan=plain_plan(**known | changes))


def sheet_of(client, name, project, **asked):
    return client.get(reverse(name, args=[project.pk]), asked)


def reed(project, dents="6", sley="", **facts):
    Project.objects.filter(pk=project.pk).update(
        reed=Reed.objects.create(
            name=f"{dents}-dent reed",
            dents_numerator=int(dents),
            dents_per_um=INCH,
            length_um=24 * INCH,
            **facts,
        ),
        sley=sley,
    )


def test_the_threading_comes_in_groups_with_shades_written_out(as_viewer, shades):
    text = sheet_of(as_viewer, "project-threading", striped(shades)).content.decode()
    for part in ("1–20", "21–40", "41–48", "10 times (1-2)", "4 Oat, 16 Spruce", "Shaft 1: <b>24</b>"):
        assert part in text


def test_without_a_reed_it_says_that_dents_go_by_the_sett(as_viewer, shades):
    assert (
        "No reed is chosen yet" in sheet_of(as_viewer, "project-threading", striped(shades)).content.decode()
    )


def test_with_a_reed_the_marks_are_those_of_its_dents(as_viewer, shades):
    """12 ends to the inch two in each dent of a 6-dent reed: at 2 in lies the 12th dent with ends 23 and 24."""
    project = striped(shades)
    reed(project)
    answer = sheet_of(as_viewer, "project-threading", project)
    found = answer.context["found"]
    assert (found.sleyed.sley.text, found.dents_used, found.in_reed_um) == ("2", 24, 4 * INCH)
    assert [(check.dent, check.first_end, check.last_end) for check in found.checks] == [
        (6, 11, 12), (12, 23, 24), (18, 35, 36), (24, 47, 48),
    ]  # fmt: skip
    assert "from dent 61 of the reed" in answer.content.decode()


def test_the_sley_that_was_chosen_is_used(as_viewer, shades):
    project = striped(shades)
    reed(project, "8", "1-2")
    found = sheet_of(as_viewer, "project-threading", project).context["found"]
    assert (found.sleyed.sley.text, found.dents_used) == ("1-2", 32)


def test_a_floating_selvedge_has_a_dent_of_its_own_and_no_heddle(as_viewer, shades):
    project = striped(shades, selvedges=Selvedges(floating=True))
    reed(project)
    found = sheet_of(as_viewer, "project-threading", project).context["found"]
    assert (found.ends[0].dent, found.ends[0].shaft, found.ends[1].dent) == (1, None, 2)
    assert sum(found.heddles.values()) == 48


def test_plain_weave_is_spread_over_a_loom_of_four_shafts(as_viewer, shades):
    project = striped(shades)
    loom = Loom.objects.create(name="Table loom", weaving_width_um=24 * INCH, shafts=4, waste_um=YARD // 2)
    Project.objects.filter(pk=project.pk).update(loom=loom)
    text = sheet_of(as_viewer, "project-threading", project).content.decode()
    assert "5 times (1-2-3-4)" in text
    assert "Table loom" in text


def test_each_shaft_lifted_alone_has_its_runs_of_shades(as_viewer, shades):
    project = striped(shades, order=read_order("4 times (1 A, 1 B), 4 times (1 B, 1 A)"))
    answer = sheet_of(as_viewer, "project-threading", project)
    assert answer.context["lifts"] == [(1, "4 Oat, 4 Spruce"), (2, "4 Spruce, 4 Oat")]


@pytest.mark.parametrize(
    ("asked", "said"), [({"group": "1"}, "at least 2 ends"), ({"group": "x"}, "x"), ({"mark": "0"}, "0")]
)
def test_groups_and_marks_that_cannot_be_are_said_and_the_sheet_is_there(as_viewer, shades, asked, said):
    answer = sheet_of(as_viewer, "project-threading", striped(shades), **asked)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert "Threading, from the left" in answer.content.decode()


def test_a_loom_with_too_few_shafts_is_said_at_the_end_that_has_none(as_viewer, shades):
    project = striped(shades)
    loom = Loom.objects.create(name="Small loom", weaving_width_um=24 * INCH, shafts=2, waste_um=YARD // 2)
    Project.objects.filter(pk=project.pk).update(loom=loom, structure="twill-2-2")
    answer = sheet_of(as_viewer, "project-threading", project)
    assert answer.status_code == 422
    assert "Small loom has 2 shafts; end 3 of the threading stands on shaft 3." in answer.content.decode()


def test_a_reed_with_no_sley_near_the_sett_is_said(as_viewer, shades):
    project = striped(shades, sett=Density(Fraction(100)))
    reed(project, "5")
    answer = sheet_of(as_viewer, "project-threading", project)
    assert answer.status_code == 422
    assert "choose another reed" in answer.content.decode()


def test_the_cautions_of_dressing_stand_on_the_sheet(as_viewer, shades):
    text = sheet_of(as_viewer, "project-threading", striped(shades)).content.decode()
    for part in ("Weights hung", "lifted by two", "is a spring"):
        assert part in text


# Weft


def test_the_weft_sheet_has_blocks_lengths_and_shades_written_out(as_viewer, shades):
    project = striped(shades, pick_order=read_order("10 A, 30 B", word="picks"), picks=Density(Fraction(10)))
    text = sheet_of(as_viewer, "project-weft-sheet", project).content.decode()
    assert "9 times (10 Oat, 30 Spruce)" in text
    assert "36.00 in" in text


def test_hem_and_body_stand_apart(as_viewer, shades):
    hem = Hem(pick_order=read_order("1 B", word="picks"), picks=Density(Fraction(2)))
    project = striped(shades, hem_um=4 * INCH, hem=hem)
    answer = sheet_of(as_viewer, "project-weft-sheet", project)
    assert [(section.part, section.picks) for section, _ in answer.context["sections"]] == [
        ("hem", 4), ("body", 36), ("hem", 4),
    ]  # fmt: skip
    assert "First hem: 4 picks" in answer.content.decode()


def test_bobbins_are_rounded_up_for_every_piece(as_viewer):
    """A yarn of a yard to the gram: 10 yd of weft in a piece, bobbins of 4 g, 3 pieces: 3 each, 9 in all."""
    from stash.calc.quantity import read_grist

    yarn = make_yarn("A yard to the gram", count="", stated=read_grist("1 yd = 1 g", "yd/lb"))
    project = make_project({"A": make_shade("Oat", yarn=yarn)}, plan=plain_plan(pieces=3))
    answer = sheet_of(as_viewer, "project-weft-sheet", project, bobbin="4 g")
    (one,) = answer.context["sheet"].shades
    assert (one.bobbins.per_piece, one.bobbins.in_all) == (3, 9)


def test_the_studios_smallest_bobbin_is_the_usual_one(as_viewer, shades):
    Tool.objects.create(name="Large pirn", kind=ToolKind.BOBBIN, holds_mg=20_000)
    Tool.objects.create(name="Small bobbin", kind=ToolKind.BOBBIN, holds_mg=7_000)
    assert sheet_of(as_viewer, "project-weft-sheet", striped(shades)).context["form"].value("bobbin") == 7_000


@pytest.mark.parametrize("bobbin", ["0", "x", "-3 g"])
def test_a_bobbin_that_holds_nothing_is_said_and_the_sheet_is_there(as_viewer, shades, bobbin):
    answer = sheet_of(as_viewer, "project-weft-sheet", striped(shades), bobbin=bobbin)
    assert answer.status_code == 422
    assert "Woven to here" in answer.content.decode()


def test_every_piece_has_its_marks_on_the_tape(as_viewer, shades):
    project = striped(shades, pieces=3, gap_um=INCH)
    answer = sheet_of(as_viewer, "project-weft-sheet", project)
    assert [mark.begins_um // INCH for mark in answer.context["sheet"].marks] == [0, 37, 74]


def test_the_projects_page_leads_to_the_sheets_with_a_line_of_figures_each(as_owner, shades):
    text = as_owner.get(reverse("project-page", args=[striped(shades).pk])).content.decode()
    for part in ("24 passes, 2 at once, in 1 bout", "48 heddles", "36 picks a piece, 1 shuttle"):
        assert part in text
