"""The cloth from near: front and back, on the loom and finished, in strips that fit together."""

from fractions import Fraction
from io import BytesIO
from itertools import pairwise

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from PIL import Image

from projects.cloth import Face, threads_of
from projects.cloth_view import MOST_CROSSINGS, cloth_view, zooms_of
from stash.calc.cloth import FLOATING_LEFT, FLOATING_RIGHT
from stash.calc.colour_order import read_order
from stash.calc.density import Density
from stash.calc.needs import work_out
from stash.calc.selvedges import Selvedges
from stash.calc.structure import structure
from tests.factories import make_shade
from tests.projects.factories import INCH, make_project, plain_plan
from tests.projects.plans import a_plan

PLAIN = structure("plain")


@pytest.fixture
def project(owner):
    shades = {"A": make_shade("Spruce", colour="#27314f"), "B": make_shade("Oat", colour="#f4f0e6")}
    plan = a_plan("8 A, 4 B", "1 A", losses_across=(Fraction(1, 5),), losses_along=(Fraction(1, 10),))
    return make_project(shades, plan=plan)


def page(client, project, query=""):
    return client.get(reverse("project-cloth-page", args=[project.pk]) + query)


def picture(client, project, query):
    answer = client.get(reverse("project-cloth", args=[project.pk]) + query)
    assert answer.status_code == 200
    return Image.open(BytesIO(answer.content))


def test_the_page_leads_to_strips_that_all_are_pictures_of_their_size(as_viewer, project):
    answer = page(as_viewer, project, "?zoom=4")
    assert answer.status_code == 200
    strips = answer.context["strips"]
    assert len(strips) > 1
    for strip, address in strips:
        found = Image.open(BytesIO(as_viewer.get(address).content))
        assert found.size == (strip.width_px, strip.height_px)


def test_each_way_of_looking_is_a_link_and_the_words_stand_for_the_picture(as_viewer, project):
    text = page(as_viewer, project).content.decode()
    for query in (
        "side=back&amp;cloth=woven&amp;zoom=1",
        "side=face&amp;cloth=finished&amp;zoom=1",
        "zoom=2",
    ):
        assert query in text
    assert 'alt="Plain weave. Warp from the left' in text
    assert "Longest floats" in text


def test_what_cannot_be_read_in_the_address_shows_the_face_as_woven(as_viewer, project):
    view = page(as_viewer, project, "?side=inside&cloth=¼&zoom=900").context["view"]
    assert (view.face, view.zoom) == (Face(), 1)


@pytest.mark.parametrize("strip", ["-99", "99999", "x", "", "1.5"])
def test_a_strip_that_is_not_there_is_not_found(as_viewer, project, strip):
    answer = as_viewer.get(reverse("project-cloth", args=[project.pk]) + f"?strip={strip}")
    assert answer.status_code == 404


def test_a_picture_is_kept_by_its_mark_and_not_drawn_again(as_viewer, project):
    address = page(as_viewer, project).context["strips"][0][1]
    answer = as_viewer.get(address)
    assert "immutable" in answer["Cache-Control"]
    again = as_viewer.get(address, headers={"If-None-Match": answer["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert as_viewer.get(address.partition("&v=")[0])["Cache-Control"] == "no-cache"


def test_the_back_is_the_face_turned_over_with_the_other_thread_on_top(as_viewer, project):
    front = picture(as_viewer, project, "?strip=0&zoom=4").convert("RGB")
    back = picture(as_viewer, project, "?strip=0&zoom=4&side=back").convert("RGB")
    assert front.size == back.size
    assert front.tobytes() != back.tobytes()
    # The stripe of Oat in a weft of Spruce: on either side half of its crossings show it.
    shown = [sum(red > 128 for red in one.tobytes()[::3]) for one in (front, back)]
    assert shown[0] == pytest.approx(shown[1], rel=0.05)


def test_finished_cloth_is_smaller_by_its_losses_in_both_ways():
    worked = work_out(
        a_plan(losses_across=(Fraction(1, 5),), losses_along=(Fraction(1, 10), Fraction(1, 10)))
    )
    woven, finished = (cloth_view(worked, PLAIN, Face(finished=one), 2) for one in (False, True))
    assert finished.across_um == woven.across_um * Fraction(4, 5)
    assert finished.along_um == woven.along_um * Fraction(81, 100)
    assert finished.width_px == pytest.approx(woven.width_px * 0.8, abs=1)
    heights = [sum(strip.height_px for strip in view.strips) for view in (woven, finished)]
    assert heights[1] == pytest.approx(heights[0] * 0.81, rel=0.01)


def test_strips_hold_every_pick_of_a_piece_once_hems_with_it():
    worked = work_out(a_plan(hem_um=2 * INCH))
    view = cloth_view(worked, PLAIN, Face(), 8)
    assert sum(strip.picks for strip in view.strips) == worked.weft.picks_per_piece
    parts = [worked.weft.sections[strip.section].part for strip in view.strips]
    assert (parts[0], parts[-1]) == ("hem", "hem")
    for at, section in enumerate(worked.weft.sections):
        own = sorted((strip.first, strip.picks) for strip in view.strips if strip.section == at)
        assert own[0][0] == 0
        assert all(first + picks == then for (first, picks), (then, _) in pairwise(own))
        assert sum(own[-1]) == section.picks


def test_a_piece_of_more_picks_than_can_be_shown_is_shown_from_its_first():
    plan = plain_plan(across_um=400 * INCH, along_um=900_000_000, sett=Density(Fraction(40)))
    worked = work_out(plan)
    view = cloth_view(worked, PLAIN, Face(), 1)
    assert view.picks * len(view.threads) <= MOST_CROSSINGS
    assert sum(strip.picks for strip in view.strips) == min(view.picks, worked.weft.picks_per_piece)


def test_a_zoom_that_would_show_nothing_more_is_not_offered():
    assert zooms_of(work_out(plain_plan()), PLAIN) == (1,)
    assert zooms_of(work_out(a_plan(across_um=60 * INCH)), PLAIN) == (1, 2, 4, 8)


def test_floating_selvedges_stand_in_no_heddle_and_doubled_ends_lie_as_one():
    plan = a_plan("1 A", "1 A", selvedges=Selvedges(floating=True, doubled_ends=2), across_um=INCH)
    threads = threads_of(work_out(plan), PLAIN)
    assert threads.shafts == (FLOATING_LEFT, *(1, 2) * 6, FLOATING_RIGHT)


def test_accents_and_hems_have_their_colours(as_viewer, owner):
    shades = {key: make_shade(name, colour=colour) for key, name, colour in
              [("A", "Spruce", "#000000"), ("B", "Oat", "#ff0000")]}  # fmt: skip
    plan = a_plan("12 A", "1 A", border=read_order("6 B"), across_um=3 * INCH)
    project = make_project(shades, plan=plan)
    found = picture(as_viewer, project, "?strip=0").convert("RGB")
    red = [found.getpixel((x, found.height // 2))[0] for x in range(found.width)]
    third = found.width // 4
    assert max(red[:third]) > 150 and max(red[-third:]) > 150
    assert max(red[third + 20 : -third - 20]) < 80


def test_a_page_of_a_project_that_is_not_there_is_not_found(as_viewer):
    assert as_viewer.get(reverse("project-cloth-page", args=[999])).status_code == 404


def test_page_and_strips_ask_the_same_for_twice_the_shades(as_viewer, owner):
    """The session and the person with the studio; the project; its shades with their yarns; beams."""
    counts = []
    for number in (2, 4):
        shades = {"ABCD"[at]: make_shade(f"Shade {number} {at}") for at in range(number)}
        order = read_order(", ".join(f"2 {key}" for key in shades))
        project = make_project(shades, name=f"Mats {number}", plan=a_plan(order=order, pick_order=order))
        for name in ("project-cloth-page", "project-cloth"):
            with CaptureQueriesContext(connection) as caught:
                assert as_viewer.get(reverse(name, args=[project.pk])).status_code == 200
            counts.append(len(caught))
    assert counts[:2] == counts[2:]
