"""Labels as the printer gets them: every code is read back from the paper, none is cut."""

from __future__ import annotations

import re
from io import BytesIO

import pypdfium2
import pytest
import zxingcpp
from django.urls import reverse
from PIL import Image

from stash.forms.labels import SIZES
from stash.models import Cone, Person, Shade, Studio
from stash.site.demo import DEMO_OWNER
from tests.browser.test_every_page import enter

pytestmark = [pytest.mark.browser, pytest.mark.once]

LOFT = "http://loft.example:8000"
MM = 72 / 25.4
OFFICE_PRINTER_DPI = 300
# Outer sizes in mm as the list of sizes says them; a slip takes its page.
OUTER = {"card": (50, 75), "strip": (90, 38), "card-in": (50.8, 76.2), "strip-in": (88.9, 38.1)}


@pytest.fixture
def printed(site, visit):
    """Chromium's PDF of a sheet of labels, by its query."""

    def print_sheet(**query):
        mine = visit()
        enter(mine, Person.objects.get(username=DEMO_OWNER))
        mine.page.goto(reverse("labels", query=query), wait_until="load")
        return pypdfium2.PdfDocument(mine.page.pdf(prefer_css_page_size=True, format="A4"))

    return print_sheet


def codes_on(pdf):
    found = []
    for page in pdf:
        picture = page.render(scale=OFFICE_PRINTER_DPI / 72, grayscale=True).to_pil()
        found.append([code.text for code in zxingcpp.read_barcodes(picture)])
    return found


@pytest.mark.parametrize("key", SIZES)
def test_every_label_is_whole_on_paper_and_leads_to_its_cone(printed, key):
    Studio.objects.update(label_address=LOFT)
    cones = list(Cone.objects.live().order_by("code")[:20])
    pdf = printed(cones=",".join(str(cone.pk) for cone in cones), size=key)
    pages = codes_on(pdf)
    assert sorted(code for page in pages for code in page) == [f"{LOFT}/k/{cone.code}/" for cone in cones]
    assert all(pages)  # no empty sheet
    if key == "slip":
        assert {len(page) for page in pages} == {1}
    words = [page.get_textpage().get_text_bounded() for page in pdf]
    for codes, text in zip(pages, words, strict=True):
        # What belongs to a label stands on the same sheet as its code.
        assert text.count("Fibre") == text.count("Core") == len(codes)
        assert text.count("weighed") == len(codes) * SIZES[key].pencil
        assert "Lay out" not in text and "Print this sheet" not in text


@pytest.mark.parametrize("key", OUTER)
def test_labels_have_the_size_that_the_list_says(site, visit, key):
    mine = visit()
    enter(mine, Person.objects.get(username=DEMO_OWNER))
    mine.page.goto(reverse("labels", query={"cones": Cone.objects.live().first().pk, "size": key}))
    mine.page.emulate_media(media="print")
    box = mine.page.locator(".label").bounding_box()
    for side, wanted in zip((box["width"], box["height"]), OUTER[key], strict=True):
        assert side * 25.4 / 96 == pytest.approx(wanted, abs=0.3)


@pytest.mark.parametrize("key", SIZES)
def test_long_names_stay_within_their_label(site, visit, key):
    cone = Cone.objects.live().with_names().exclude(place=None).first()
    Cone.objects.filter(pk=cone.pk).update(code="KEGELWEIT-12")
    Shade.objects.filter(pk=cone.shade_id).update(name="Evening blue with a touch of copper " * 2)
    type(cone.shade.yarn).objects.filter(pk=cone.shade.yarn_id).update(name="Mercerised combed cotton " * 3)
    type(cone.place).objects.filter(pk=cone.place_id).update(name="The box under the stairs, at the back")
    mine = visit()
    enter(mine, Person.objects.get(username=DEMO_OWNER))
    mine.page.goto(reverse("labels", query={"cones": cone.pk, "size": key}))
    mine.page.emulate_media(media="print")
    spilled = mine.page.evaluate(
        """() => {
          const label = document.querySelector(".label").getBoundingClientRect();
          const names = ["qr", "name", "code", "shade", "facts", "facts > div", "pencil > div"];
          const parts = names.flatMap(name => [...document.querySelectorAll(`.label-${name}`)]);
          const boxes = parts.map(one => [one.className, one.getBoundingClientRect()]);
          const out = boxes.filter(([, box]) => box.bottom > label.bottom + 1 || box.right > label.right + 1)
            .map(([name]) => `${name} leaves the label`);
          const box = name => document.querySelector(name).getBoundingClientRect();
          const last = box(".label-facts > div:last-child").bottom;
          if (last > box(".label-pencil").top + 1) out.push("facts run into the lines");
          if (box(".label-name").bottom > box(".label-facts").top + 1) out.push("the name runs into the facts");
          return out;
        }"""
    )
    assert spilled == []


@pytest.mark.parametrize("key", SIZES)
def test_nothing_of_the_demos_labels_is_cut_short(site, visit, key):
    """A length per weight without its source would be half the truth."""
    mine = visit()
    enter(mine, Person.objects.get(username=DEMO_OWNER))
    keys = ",".join(str(pk) for pk in Cone.objects.live().values_list("pk", flat=True)[:60])
    mine.page.goto(reverse("labels", query={"cones": keys, "size": key}))
    mine.page.emulate_media(media="print")
    cut = mine.page.evaluate(
        """() => [...document.querySelectorAll(".label-facts dd, .label-shade")]
          .filter(one => one.scrollWidth > one.clientWidth + 1 || one.scrollHeight > one.clientHeight + 2)
          .map(one => one.textContent)"""
    )
    assert cut == []


def test_a_phone_comes_from_its_camera_to_the_cone(site, visit):
    """The desk shows a code; the phone opens it, presses once, and from then on its camera opens cones."""
    desk = visit()
    enter(desk, Person.objects.get(username=DEMO_OWNER))
    Studio.objects.update(label_address=LOFT)
    desk.page.goto("/studio/")
    desk.page.get_by_role("link", name="Sign in a phone").click()
    desk.page.get_by_role("button", name="Show a code").click()
    picture = desk.page.locator(".phone-code svg").screenshot()

    scanned = zxingcpp.read_barcode(Image.open(BytesIO(picture))).text
    assert scanned.startswith(f"{LOFT}/sign-in/phone/")

    phone = visit(phone=True)
    phone.page.goto(scanned.removeprefix(LOFT))
    phone.page.get_by_role("button", name=re.compile("Sign in as")).click()
    phone.page.wait_for_url("**/")
    phone.page.goto("/k/K-053/")
    assert "K-053" in phone.page.locator("main").inner_text()
    assert phone.page.url.endswith(reverse("cone-page", args=[Cone.objects.get(code="K-053").pk]))
