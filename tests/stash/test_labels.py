"""Labels: what stands on them, what their QR codes hold, the address they lead to."""

import re

import pytest
import zxingcpp
from django.urls import reverse
from PIL import Image, ImageDraw

from stash.forms.labels import SIZES
from stash.label_address import label_text, read_scanned
from stash.models import Studio
from stash.qr import qr_svg
from tests.factories import make_cone, make_shade, make_yarn
from tests.stash.reading import Read

# Pages and forms: what they say does not hang on what keeps the books.
pytestmark = pytest.mark.once

ROOT = "http://loft.example:8000"
PIXELS = 4


@pytest.fixture
def cone(owner):
    yarn = make_yarn("Half linen", fibres={"cotton": 60, "linen": 40})
    shade = make_shade("Spruce", yarn=yarn)
    return make_cone(
        shade,
        lot="A17",
        place="North shelf",
        code="K-053",
        by=owner,
        scale_mg=600_000,
        gross=True,
        core_mg=62_000,
    )


@pytest.fixture
def with_address(studio):
    Studio.objects.update(label_address=ROOT)


def labels(client, **query):
    return client.get(reverse("labels", query=query))


def drawn(svg):
    """The picture of a code, drawn from its runs as a browser would."""
    size = int(re.search(r'viewBox="0 0 (\d+) ', svg)[1]) * PIXELS
    picture = Image.new("L", (size, size), 255)
    pen = ImageDraw.Draw(picture)
    for x, y, wide in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\3z", svg):
        left, top = int(x) * PIXELS, int(y) * PIXELS
        pen.rectangle((left, top, left + int(wide) * PIXELS - 1, top + PIXELS - 1), fill=0)
    return picture


def codes_in(page):
    """What a phone reads from every QR code of a page."""
    found = re.findall(r'<svg class="qr".*?</svg>', page.content.decode(), re.S)
    return [zxingcpp.read_barcode(drawn(svg)).text for svg in found]


def test_a_label_says_all_that_is_known_of_its_cone(as_viewer, cone, with_address):
    page = labels(as_viewer, cones=cone.pk)
    assert page.status_code == 200
    said = Read(page).text
    for words in (
        "K-053",
        "Spruce",
        "Half linen",
        "8/2",
        "cotton",
        "3,360 yd/lb, computed from the count",
        "60 % cotton, 40 % linen",
        "A17",
        "62 g",
        "North shelf",
        f"{cone.received_at:%Y}",
    ):
        assert words in said


def test_what_is_not_known_is_said_so(as_viewer, owner):
    cone = make_cone(by=owner)
    said = Read(labels(as_viewer, cones=cone.pk)).text
    for words in ("Lot unknown", "Core not known", "Place no place", "Fibre not noted"):
        assert words in said


@pytest.mark.parametrize("key", SIZES)
def test_every_size_is_laid_out_with_lines_for_the_pencil(as_viewer, cone, key):
    text = labels(as_viewer, cones=cone.pk, size=key).content.decode()
    assert f'class="labels {key}"' in text
    assert text.count("<span>weighed</span>") == SIZES[key].pencil


def test_the_code_opens_the_cones_page_at_the_label_address(as_viewer, cone, with_address):
    (text,) = codes_in(labels(as_viewer, cones=cone.pk))
    assert text == f"{ROOT}/k/K-053/"
    answer = as_viewer.get(text.removeprefix(ROOT))
    assert (answer.status_code, answer.url) == (302, f"/yarn/cones/{cone.pk}/")


def test_without_an_address_the_code_is_bare_and_the_page_says_so(as_viewer, cone):
    page = labels(as_viewer, cones=cone.pk)
    assert codes_in(page) == ["K-053"]
    assert "hold the bare code and no address" in Read(page).text


def test_behind_a_proxy_its_address_serves_until_another_is_set(as_viewer, cone, settings):
    settings.BEHIND_PROXY, settings.SITE_URL = True, "https://shelf.example"
    assert codes_in(labels(as_viewer, cones=cone.pk)) == ["https://shelf.example/k/K-053/"]
    settings.SITE_URL = "http://127.0.0.1"
    assert codes_in(labels(as_viewer, cones=cone.pk)) == ["K-053"]


def test_a_number_as_address_is_warned_of_on_the_sheet(as_viewer, cone):
    Studio.objects.update(label_address="http://192.168.1.20:8000")
    assert "leads nowhere" in Read(labels(as_viewer, cones=cone.pk)).text


@pytest.mark.parametrize("code", ["K 5", "5%", "A?b", "a#1", "Ä7", "A&B", "x" * 12])
def test_codes_of_any_signs_come_back_from_their_label(as_viewer, owner, code):
    cone = make_cone(by=owner, code=code)
    address = label_text(cone, ROOT)
    assert read_scanned(address).find() == cone
    assert as_viewer.get(address.removeprefix(ROOT)).url == f"/yarn/cones/{cone.pk}/"
    assert zxingcpp.read_barcode(drawn(qr_svg(address, "it"))).text == address


@pytest.mark.parametrize("code", ["A/1", "..", ".", "a\\b"])
def test_a_code_that_browsers_would_take_for_a_step_leads_by_the_cones_key(owner, code):
    cone = make_cone(by=owner, code=code)
    assert label_text(cone, ROOT) == f"{ROOT}/yarn/cones/{cone.pk}/"


def test_a_code_that_no_cone_has_is_not_found(as_viewer):
    assert as_viewer.get("/k/K-999/").status_code == 404


def test_somebody_who_is_not_signed_in_comes_back_to_the_label(client, cone):
    assert client.get("/k/K-053/").url == "/sign-in/?next=/k/K-053/"


def test_cones_are_chosen_by_key_code_shade_and_place(as_viewer, cone, owner):
    other = make_cone(make_shade("Rust"), by=owner, code="K-100", place="South shelf")
    retired = make_cone(other.shade, by=owner, code="K-101", place="South shelf")
    type(cone).objects.filter(pk=retired.pk).update(retired_at=cone.received_at, on_hand_mg=0)

    def chosen(query):
        return codes_in(as_viewer.get(f"/yarn/labels/?{query}"))

    assert chosen(f"cones={cone.pk},{other.pk}") == ["K-053", "K-100"]
    assert chosen(f"cones={other.pk}&cones={cone.pk}") == ["K-053", "K-100"]
    assert chosen("codes=k-100,%20K-053") == ["K-053", "K-100"]
    assert chosen(f"shade={other.shade_id}") == ["K-100"]
    assert chosen(f"place={other.place_id}&codes=K-053") == ["K-053", "K-100"]
    assert chosen(f"cones={retired.pk}") == ["K-101"]


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("codes=K-777", "There is no cone K-777."),
        ("cones=1;drop", "“1;drop” is no key of the shelf"),
        ("cones=" + "9" * 30, "is no key of the shelf"),
        ("cones=999999", "None of these cones is there"),
        ("place=999", "There is no such place"),
        ("shade=red", "“red” is no key"),
        ("codes=K-053&size=poster", "no label of this size"),
        ("codes=" + "%2C".join(f"K-{n}" for n in range(501)), "At most 500 labels"),
        ("codes=%00", "Null characters"),
    ],
)
def test_what_is_no_cone_is_refused_in_words(as_viewer, cone, query, words):
    page = as_viewer.get(f"/yarn/labels/?{query}")
    assert page.status_code == 422
    assert words in Read(page).text


def test_more_labels_than_a_sheet_should_bear_are_refused(as_viewer, cone, owner, monkeypatch):
    from stash.views import labels as view

    monkeypatch.setattr(view, "MOST", 1)
    make_cone(cone.shade, by=owner)
    page = labels(as_viewer, shade=cone.shade_id)
    assert page.status_code == 422
    assert "more than 1 labels" in Read(page).text


def test_twice_the_labels_ask_no_more_of_the_database(as_viewer, owner, cone, django_assert_num_queries):
    def ask():
        # session, person, studio, cones with their names, fibres, places to choose from
        with django_assert_num_queries(6):
            assert labels(as_viewer, shade=cone.shade_id).status_code == 200

    ask()
    for _ in range(3):
        make_cone(cone.shade, by=owner)
    ask()


def test_nothing_on_the_sheet_breaks_the_policy(as_viewer, cone):
    text = labels(as_viewer, cones=cone.pk).content.decode()
    assert " style=" not in text and "<style" not in text and "onclick" not in text


@pytest.mark.parametrize(
    "template",
    [
        "{}",
        " {}\n",
        "http://192.168.1.20:8000/k/{}/",
        "https://old-name.example/k/{}",
        "HTTP://LOFT.EXAMPLE/k/{}/?x=1",
        "loft.example:8000/k/{}/",
        "http://127.0.0.1:8000/yarn/cones/{pk}/",
    ],
)
@pytest.mark.parametrize("page", ["/find/", "/yarn/"])
def test_search_takes_what_a_scanner_types(as_viewer, cone, page, template):
    answer = as_viewer.get(page, {"q": template.format("K-053", pk=cone.pk)})
    if page == "/yarn/" and "/" not in template:
        assert "Spruce" in answer.content.decode()  # on the list, a code narrows
    else:
        assert (answer.status_code, answer.url) == (302, f"/yarn/cones/{cone.pk}/")


def test_search_while_a_scanner_types_goes_to_the_cone(as_viewer, cone):
    headers = {"HX-Request": "true", "HX-Target": "shelf-list"}
    answer = as_viewer.get("/yarn/", {"q": f"{ROOT}/k/K-053/"}, headers=headers)
    assert answer["HX-Redirect"] == f"/yarn/cones/{cone.pk}/"


@pytest.mark.parametrize(
    "text", ["http://loft.example/k/K-999/", "/yarn/cones/999/", "http://loft.example/", "8/2", "a/k/b/c/d"]
)
def test_what_leads_to_no_cone_is_searched_as_words(as_viewer, cone, text):
    assert as_viewer.get("/find/", {"q": text}).status_code == 200
    assert as_viewer.get("/yarn/", {"q": text}).status_code == 200


def test_pages_of_the_shelf_lead_to_labels(as_viewer, cone):
    assert Read(as_viewer.get(f"/yarn/cones/{cone.pk}/")).links["Label"] == f"/yarn/labels/?cones={cone.pk}"
    shade = Read(as_viewer.get(f"/yarn/shades/{cone.shade_id}/"))
    assert shade.links["Labels"] == f"/yarn/labels/?shade={cone.shade_id}"
    assert Read(as_viewer.get("/yarn/")).links["Labels"] == "/yarn/labels/"
