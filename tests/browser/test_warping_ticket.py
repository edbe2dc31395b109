"""From a plan to the paper beside the board, and from the board to the phone."""

from __future__ import annotations

import re

import pypdfium2
import pytest
from django.urls import reverse

from projects.models import Project
from stash.models import Person
from stash.site.demo import DEMO_OWNER
from tests.browser.steps import expect
from tests.browser.test_every_page import enter

pytestmark = [pytest.mark.browser, pytest.mark.once]


def test_a_plan_from_nothing_becomes_a_printed_ticket(site, visit):
    mine = visit()
    page = mine.enter_demo()
    mine.room("Projects")
    page.get_by_role("link", name="New project").click()
    page.get_by_label("Name", exact=True).fill("Gate mats")
    page.get_by_label("Pieces", exact=True).fill("2")
    page.get_by_label("Finished size across the warp").fill("4 in")
    page.get_by_label("Finished size along the warp").fill("6 in")
    page.get_by_label("Sett").fill("12")
    page.get_by_label("Picks", exact=True).fill("10")
    page.get_by_label("Colour order of the warp").fill("4 times (1 A, 1 B), 4 times (1 B, 1 A)")
    mine.type_into(page.get_by_label("Pick order of the weft"), "1 B")
    for key, shade in (("A", "Juniper"), ("B", "Flax")):
        page.locator(f"[name=shade_{key}]").fill(shade)
        option = page.locator(f"#known-shades option[value^='{shade}']").first
        option.wait_for(state="attached")
        mine.type_into(page.locator(f"[name=shade_{key}]"), option.get_attribute("value"))
    page.locator("#project-tools").get_by_role("button", name="Keep the plan").click()
    page.wait_for_url(re.compile(r"/projects/\d+/$"))
    page.locator("#project-tools").get_by_role("button", name="Reserve").click()
    expect(page.locator("#messages")).to_contain_text("Yarn for Gate mats is put aside.")

    ticket = page.locator("#at-the-loom")
    expect(ticket).to_contain_text("2 at once")
    ticket.get_by_role("link", name="Warping ticket").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Gate mats")
    # Blocks of whole pairs: one cone of each shade, and no pass needs two of one.
    passes = page.locator("table.passes")
    expect(passes).to_contain_text("Juniper")
    expect(passes).to_contain_text("Flax")
    expect(page.locator("main")).not_to_contain_text("like pair")

    paper = pypdfium2.PdfDocument(page.pdf(prefer_css_page_size=True, format="A4"))
    assert len(paper) == 1
    words = paper[0].get_textpage().get_text_bounded()
    code = re.search(r"K-\d+", passes.inner_text())[0]
    for part in ("Gate mats", "Have ready", "Left package", "Juniper", "Flax", code, "Mind your hands"):
        assert part in words
    assert "Print this sheet" not in words and "How it is wound" not in words


@pytest.mark.parametrize(
    ("route", "project", "parts"),
    [
        ("project-ticket", "Hearth mats", ["Wind over first", "Left after", "far peg"]),
        ("project-ticket", "Ferry towels", ["all alike", "Left after"]),
        (
            "project-threading",
            "Ferry towels",
            ["Each shaft lifted alone", "Along the reed", "Where dressing can hurt"],
        ),
        ("project-weft-sheet", "Hearth mats", ["Woven to here", "First hem", "On the tape"]),
    ],
)
def test_every_sheet_is_whole_on_paper_and_reads_without_colour(site, visit, route, project, parts):
    mine = visit()
    enter(mine, Person.objects.get(username=DEMO_OWNER))
    found = Project.objects.get(name=project)
    mine.page.goto(reverse(route, args=[found.pk]), wait_until="load")
    paper = pypdfium2.PdfDocument(mine.page.pdf(prefer_css_page_size=True, format="A4"))
    words = " ".join(page.get_textpage().get_text_bounded() for page in paper)
    for part in (project, *parts):
        assert part in words
    assert len(paper) <= (1 if route == "project-ticket" else 3)
    for page in paper:
        # Nothing but black, white and greys: what is said is not said by a colour.
        picture = page.render(scale=1).to_pil().convert("RGB")
        assert all(max(colour) - min(colour) < 12 for _, colour in picture.getcolors(1 << 20))


def test_the_ticket_is_wound_on_a_phone_line_by_line(site, visit):
    mine = visit(phone=True)
    page = mine.enter_demo()
    mine.room("Projects")
    page.get_by_role("link", name="Ferry towels").tap()
    page.get_by_role("link", name="Wind from the phone").tap()
    place, button = page.locator(".step-place"), page.get_by_role("button", name="Wound", exact=True)
    expect(place).to_contain_text("Line 1 of")
    page.wait_for_load_state()
    assert button.bounding_box()["height"] >= 80
    assert mine.sideways() <= 0

    for number in (2, 3, 4):
        button.tap()
        expect(place).to_contain_text(f"Line {number} of")
    expect(button).to_be_in_viewport()
    mine.settle()
    page.get_by_role("button", name="One line back").tap()
    expect(place).to_contain_text("Line 3 of")

    # The phone was put away, and another hand takes it up.
    page.goto("/")
    page.go_back()
    page.reload()
    expect(place).to_contain_text("Line 3 of")
    found = Project.objects.get(name="Ferry towels")
    assert found.ticket_done == 2
    assert mine.sideways() <= 0


def test_the_last_line_leads_to_marking_the_warp_as_wound(site, visit):
    found = Project.objects.get(name="Ferry towels")
    mine = visit(phone=True)
    page = mine.enter_demo()
    page.goto(reverse("project-ticket-phone", args=[found.pk]))
    last = int(page.locator("progress").get_attribute("max"))
    Project.objects.filter(pk=found.pk).update(ticket_done=last - 1)
    page.reload()
    expect(page.locator(".step")).to_contain_text("This is the last line.")
    page.get_by_role("button", name="Wound", exact=True).tap()
    page.get_by_role("link", name="Mark the warp as wound").tap()
    page.get_by_role("button", name="The warp is wound").tap()
    expect(page.locator("#messages")).to_contain_text("The warp is wound")


def test_the_ticket_is_wound_without_script(site, visit):
    mine = visit(script=False)
    page = mine.enter_demo()
    found = Project.objects.get(name="Ferry towels")
    page.goto(reverse("project-ticket-phone", args=[found.pk]) + "?k=1")
    page.get_by_role("button", name="Wound", exact=True).click()
    expect(page.locator(".step-place")).to_contain_text("Line 2 of")
    assert page.url.endswith("?k=1")
