"""A phone signs in once: by the code in the picture, or by the letters; never twice, never late, never by guessing."""

import re
from datetime import timedelta

import pytest
import zxingcpp
from django.test import Client
from django.utils import timezone

from stash.models import PhoneCode, Studio
from stash.services.people import change_person
from stash.services.phones import LETTERS, LIFE, find_code, make_codes, use_code
from tests.stash.reading import Read
from tests.stash.test_labels import drawn

LOFT = "http://loft.example:8000"


@pytest.fixture
def phone(studio):
    return Client()


@pytest.fixture
def reachable(studio):
    Studio.objects.update(label_address=LOFT)


def show(client, **more):
    """What the page shows after its button: the address in the picture, and the letters."""
    page = client.post("/studio/phone/", {"make": "1"} | more, headers={"Host": "127.0.0.1:8000"})
    text = page.content.decode()
    (svg,) = re.findall(r'<svg class="qr".*?</svg>', text, re.S)
    (typed,) = re.findall(r'<p class="big">(.*?)</p>', text)
    return zxingcpp.read_barcode(drawn(svg)).text, typed


def who_is(client):
    return client.session.get("_auth_user_id")


def test_the_camera_asks_and_the_button_signs_in(as_viewer, viewer, phone, reachable):
    address, _ = show(as_viewer)
    assert address.startswith(f"{LOFT}/sign-in/phone/")
    there = address.removeprefix(LOFT)
    for _ in range(3):  # a preview of the link, and the person
        page = phone.get(there)
        assert page.status_code == 200
        assert "Sign in as Vida?" in Read(page).text
        assert phone.head(there).status_code == 200
    assert who_is(phone) is None
    answer = phone.post(there)
    assert (answer.status_code, answer.url) == (302, "/")
    assert who_is(phone) == str(viewer.pk)
    assert phone.get("/yarn/").status_code == 200


@pytest.mark.parametrize("write", [str, str.lower, lambda code: code.replace("-", ""), lambda c: f" {c} "])
def test_the_letters_sign_in_however_they_are_typed(as_helper, helper, phone, reachable, write):
    _, typed = show(as_helper)
    assert phone.post("/sign-in/phone/", {"code": write(typed)}).url == "/"
    assert who_is(phone) == str(helper.pk)


def test_one_code_is_one_phone_whichever_of_its_two_ways_was_taken(as_owner, phone, reachable):
    address, typed = show(as_owner)
    there = address.removeprefix(LOFT)
    assert phone.post("/sign-in/phone/", {"code": typed}).status_code == 302
    second = Client()
    for answer in (second.get(there), second.post(there)):
        assert answer.status_code == 404
        assert "This code does not sign in" in Read(answer).text
    assert second.post("/sign-in/phone/", {"code": typed}).status_code == 422
    assert who_is(second) is None


def test_of_two_who_press_at_once_one_comes_in(owner):
    found = [find_code(make_codes(person=owner).in_address)] * 2
    assert [use_code(code) for code in found] == [True, False]


def test_after_five_minutes_a_code_is_over(as_owner, phone, reachable):
    address, typed = show(as_owner)
    PhoneCode.objects.update(made_at=timezone.now() - LIFE + timedelta(seconds=5))
    assert phone.get(address.removeprefix(LOFT)).status_code == 200
    PhoneCode.objects.update(made_at=timezone.now() - LIFE)
    assert phone.get(address.removeprefix(LOFT)).status_code == 404
    assert phone.post(address.removeprefix(LOFT)).status_code == 404
    assert phone.post("/sign-in/phone/", {"code": typed}).status_code == 422
    assert who_is(phone) is None


def test_time_may_run_out_between_looking_and_pressing(owner):
    found = find_code(make_codes(person=owner).in_address)
    PhoneCode.objects.update(made_at=timezone.now() - LIFE)
    assert not use_code(found)


def test_a_new_code_ends_the_one_before(as_owner, phone, reachable):
    first, _ = show(as_owner)
    second, _ = show(as_owner)
    assert phone.get(first.removeprefix(LOFT)).status_code == 404
    assert phone.get(second.removeprefix(LOFT)).status_code == 200


def test_old_codes_are_removed_and_other_peoples_good_ones_stay(owner, helper, viewer):
    make_codes(person=helper)
    PhoneCode.objects.update(made_at=timezone.now() - LIFE)
    make_codes(person=viewer)
    make_codes(person=owner)
    assert {code.person for code in PhoneCode.objects.all()} == {owner, viewer}


def test_somebody_who_may_no_longer_sign_in_does_not_by_a_code(owner, viewer, phone):
    code = make_codes(person=viewer).in_address
    change_person(pk=viewer.pk, name="Vida", role="viewer", is_active=False)
    assert phone.post(f"/sign-in/phone/{code}/").status_code == 404


def test_a_new_password_ends_codes_that_were_shown_before(owner, viewer, phone):
    code = make_codes(person=viewer).in_address
    change_person(pk=viewer.pk, name="Vida", role="viewer", is_active=True, password="quite another word")
    assert phone.post(f"/sign-in/phone/{code}/").status_code == 404


@pytest.mark.parametrize(
    ("wanted", "lands"),
    [
        ("/yarn/cones/3/", "/yarn/cones/3/"),
        ("", "/"),
        ("https://elsewhere.example/", "/"),
        ("//elsewhere.example/", "/"),
        ("/\\elsewhere.example/", "/"),
        ("javascript:alert(1)", "/"),
        ("/" + "x" * 300, "/"),
    ],
)
def test_it_lands_on_a_page_of_this_site(as_owner, phone, reachable, wanted, lands):
    address, _ = show(as_owner, next=wanted)
    assert phone.post(address.removeprefix(LOFT)).url == lands


def test_a_phone_that_read_a_label_lands_on_its_cone_by_the_typed_code(as_owner, phone, reachable):
    door = phone.get(phone.get("/k/K-113/").url)
    (there,) = re.findall(r'href="(/sign-in/phone/[^"]*)"', door.content.decode())
    page = phone.get(there)
    (wanted,) = re.findall(r'name="next" value="([^"]*)"', page.content.decode())
    _, typed = show(as_owner, next="/projects/")
    assert phone.post("/sign-in/phone/", {"code": typed, "next": wanted}).url == "/k/K-113/"


def test_a_phone_that_wanted_nothing_lands_where_the_code_leads(as_owner, phone, reachable):
    door = phone.get("/sign-in/").content.decode()
    assert 'href="/sign-in/phone/"' in door
    _, typed = show(as_owner, next="/projects/")
    assert phone.post("/sign-in/phone/", {"code": typed, "next": "//elsewhere.example/"}).url == "/projects/"


def test_an_address_that_was_put_into_the_table_is_looked_at_again(owner, phone):
    code = make_codes(person=owner, next_address="//elsewhere.example/").in_address
    assert phone.post(f"/sign-in/phone/{code}/").url == "/"


def test_only_a_hash_is_kept(owner):
    codes = make_codes(person=owner)
    kept = str(list(PhoneCode.objects.values()))
    assert codes.in_address not in kept and codes.typed not in kept
    assert {len(code.code_hash) for code in PhoneCode.objects.all()} == {64}


def test_the_hash_needs_the_studios_secret(owner, settings):
    code = make_codes(person=owner).in_address
    settings.SECRET_KEY = "another"
    assert find_code(code) is None


def test_codes_cannot_be_guessed(owner):
    """128 bits at least in the address: 27 signs of 64 are 162. The letters are 49 bits, and limited."""
    codes = [make_codes(person=owner) for _ in range(50)]
    assert all(re.fullmatch(r"[A-Za-z0-9_-]{27}", code.in_address) for code in codes)
    assert all(set(code.typed) <= set(LETTERS) and len(code.typed) == 10 for code in codes)
    assert len({code.in_address for code in codes} | {code.typed for code in codes}) == 100
    assert len(LETTERS) == len(set(LETTERS)) == 30
    assert not set(LETTERS) & set("ILOU01")


@pytest.mark.parametrize("way", ["address", "letters"])
def test_wrong_codes_close_the_door_as_wrong_passwords_do(as_owner, phone, reachable, way):
    def wrong(number):
        if way == "address":
            return phone.get(f"/sign-in/phone/guess{number}/").status_code
        return phone.post("/sign-in/phone/", {"code": f"GUESS{number}"}).status_code

    address, typed = show(as_owner)
    answers = [wrong(number) for number in range(7)]
    assert answers == [404 if way == "address" else 422] * 5 + [429, 429]
    # Nor does the right one open it then, by either way; nobody's password is touched by it.
    assert phone.post(address.removeprefix(LOFT)).status_code == 429
    assert phone.post("/sign-in/phone/", {"code": typed}).status_code == 429
    assert "wrong codes came from where you are" in Read(phone.get("/sign-in/phone/x/")).text
    assert phone.post("/sign-in/", {"username": "mara", "password": "a long enough word"}).status_code == 302


def test_a_right_code_does_not_forgive_the_wrong_ones(as_owner, phone, reachable):
    for number in range(5):
        phone.get(f"/sign-in/phone/guess{number}/")
    address, _ = show(as_owner)
    assert phone.post(address.removeprefix(LOFT)).status_code == 302
    assert Client().get("/sign-in/phone/guess/").status_code == 429


@pytest.mark.parametrize("code", ["", " ", "é" * 10, "\0", "x" * 101])
def test_odd_typing_is_refused_in_words(phone, code):
    answer = phone.post("/sign-in/phone/", {"code": code})
    assert answer.status_code == 422
    assert answer.context["form"].errors["code"]


def test_looking_makes_no_code_and_an_empty_post_none(as_viewer, reachable):
    assert as_viewer.get("/studio/phone/", headers={"Host": "127.0.0.1"}).status_code == 200
    as_viewer.post("/studio/phone/")
    assert not PhoneCode.objects.exists()


def test_where_no_phone_can_come_no_code_is_made(as_owner):
    page = as_owner.post("/studio/phone/", {"make": "1"}, headers={"Host": "localhost:8000"})
    assert "No phone can reach this studio now." in Read(page).text
    assert "--network" in Read(page).text
    assert not PhoneCode.objects.exists()


def test_the_picture_holds_the_address_at_which_the_page_is_open(as_owner, settings):
    settings.ALLOWED_HOSTS = ["192.168.1.20"]
    page = as_owner.post("/studio/phone/", {"make": "1"}, headers={"Host": "192.168.1.20:8000"})
    assert "http://192.168.1.20:8000/sign-in/phone/" in Read(page).text


def test_on_the_serving_machine_it_holds_the_network_address(as_owner, settings):
    settings.NETWORK, settings.NETWORK_HOSTS = True, ["192.168.1.20", "loft.local"]
    page = as_owner.post("/studio/phone/", {"make": "1"}, headers={"Host": "127.0.0.1:8123"})
    assert "http://192.168.1.20:8123/sign-in/phone/" in Read(page).text


def test_the_page_with_a_code_is_kept_by_no_browser(as_owner, phone, reachable):
    page = as_owner.post("/studio/phone/", {"make": "1"}, headers={"Host": "127.0.0.1"})
    assert "no-store" in page["Cache-Control"]
    code = make_codes(person=page.context["person"]).in_address
    assert "no-store" in phone.get(f"/sign-in/phone/{code}/")["Cache-Control"]


def test_a_form_from_elsewhere_signs_nobody_in(owner):
    code = make_codes(person=owner).in_address
    strict = Client(enforce_csrf_checks=True)
    assert strict.post(f"/sign-in/phone/{code}/").status_code == 403
    assert find_code(code) is not None


def test_the_doors_lead_there(as_viewer, phone):
    assert Read(as_viewer.get("/studio/")).links["Sign in a phone"] == "/studio/phone/"
    assert Read(phone.get("/sign-in/")).links["Sign in by a code"] == "/sign-in/phone/"
