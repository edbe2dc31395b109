"""First run, signing in and out."""

import pytest
from django.urls import reverse

from stash.models import Person, Role, Studio
from stash.services.people import add_person
from tests.factories import PersonFactory, StudioFactory

WORD = "a long enough word"
FOUNDING = {
    "name": "Weavers' Loft",
    "measuring": "metric",
    "spelling": "british",
    "owner_name": "Ada",
    "username": "ada",
    "password": WORD,
    "again": WORD,
}


def test_without_a_studio_every_page_leads_to_its_founding(client, db):
    for name in ("today", "sign-in", "yarn"):
        answer = client.get(reverse(name))
        assert (answer.status_code, answer.url) == (302, "/welcome/")


def test_founding_makes_studio_and_owner_and_opens_today(client, db):
    assert client.get("/welcome/").status_code == 200
    answer = client.post("/welcome/", FOUNDING)
    assert (answer.status_code, answer.url) == (302, "/")
    studio = Studio.objects.get()
    assert (studio.name, studio.measuring, studio.is_demo) == ("Weavers' Loft", "metric", False)
    person = Person.objects.get()
    assert (person.username, person.name, person.role) == ("ada", "Ada", Role.OWNER)
    assert client.session["_auth_user_id"] == str(person.pk)


def test_a_studio_is_founded_once(client, studio):
    assert client.get("/welcome/").url == "/"
    assert client.post("/welcome/", FOUNDING).url == "/"
    assert not Person.objects.exists()


@pytest.mark.parametrize(
    ("change", "field", "words"),
    [
        ({"name": "  "}, "name", "Fill in"),
        ({"measuring": "cubits"}, "measuring", "valid choice"),
        ({"again": "another long word"}, "again", "not the same"),
        ({"password": "short", "again": "short"}, "password", "at least 10"),
        (
            {"password": "ada-ada-ada", "again": "ada-ada-ada", "username": "ada-ada-ad"},
            "password",
            "similar",
        ),
        ({"username": "x" * 41}, "username", "40"),
    ],
)
def test_a_founding_with_a_slip_is_refused_at_its_field_and_keeps_what_was_typed(
    client, db, change, field, words
):
    answer = client.post("/welcome/", FOUNDING | change)
    assert answer.status_code == 422
    assert words in " ".join(answer.context["form"].errors[field])
    assert 'value="Ada"' in answer.content.decode()
    assert not Studio.objects.exists() and not Person.objects.exists()


def test_signing_in_leads_to_the_page_that_was_asked_for(client, owner):
    asked = client.get("/studio/?x=1")
    assert asked.url == "/sign-in/?next=/studio/%3Fx%3D1"
    page = client.get(asked.url)
    assert page.context["onward"] == "/studio/?x=1"
    answer = client.post("/sign-in/", {"username": "MARA", "password": WORD, "next": "/studio/?x=1"})
    assert (answer.status_code, answer.url) == (302, "/studio/?x=1")
    assert client.get("/sign-in/").url == "/"


def test_an_accent_typed_as_a_sign_of_its_own_signs_in(client, studio):
    add_person(username="rené", name="", role=Role.VIEWER, password=WORD)
    assert client.post("/sign-in/", {"username": "rene\u0301", "password": WORD}).status_code == 302


@pytest.mark.parametrize("page", ["/welcome/", "/sign-in/"])
def test_an_empty_post_is_refused_like_any_other(client, db, page):
    if page == "/sign-in/":
        StudioFactory()
    assert client.post(page).status_code == 422


@pytest.mark.parametrize(
    "elsewhere",
    ["https://elsewhere.example/", "//elsewhere.example/", "javascript:alert(1)", "/\\elsewhere.example"],
)
def test_signing_in_never_leads_to_another_site(client, owner, elsewhere):
    answer = client.post("/sign-in/", {"username": "mara", "password": WORD, "next": elsewhere})
    assert answer.url == "/"


def test_a_wrong_password_says_so_and_keeps_the_name_but_not_the_password(client, owner):
    answer = client.post("/sign-in/", {"username": "mara", "password": "not the one"})
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "do not go together" in page
    assert 'value="mara"' in page
    assert "not the one" not in page


def test_the_sixth_wrong_password_closes_the_door_for_a_quarter_of_an_hour(client, owner):
    for spelling in ("mara", "Mara", "MARA", " mara", "mArA"):
        assert client.post("/sign-in/", {"username": spelling, "password": "no"}).status_code == 422
    answer = client.post("/sign-in/", {"username": "mara", "password": "no"})
    assert answer.status_code == 429
    assert answer["Retry-After"] == "900"
    assert "15 minutes" in answer.content.decode()
    # The right password does not open it now, and another person is not kept out.
    assert client.post("/sign-in/", {"username": "mara", "password": WORD}).status_code == 429
    PersonFactory(username="jon")
    assert client.post("/sign-in/", {"username": "jon", "password": WORD}).status_code == 302


def test_signing_out_is_a_post(as_owner):
    assert as_owner.get("/sign-out/").status_code == 405
    assert as_owner.post("/sign-out/").url == "/sign-in/"
    assert "_auth_user_id" not in as_owner.session


def test_a_person_who_may_no_longer_sign_in_loses_an_open_session(as_helper, helper):
    assert as_helper.get("/studio/password/").status_code == 200
    Person.objects.filter(pk=helper.pk).update(is_active=False)
    assert as_helper.get("/studio/password/").url.startswith("/sign-in/")
    answer = as_helper.post("/sign-in/", {"username": "jon", "password": WORD})
    assert answer.status_code == 422


def test_the_demo_opens_with_one_click(client, owner, studio):
    Studio.objects.update(is_demo=True)
    page = client.get("/sign-in/").content.decode()
    assert 'action="/sign-in/demo/"' in page
    assert client.get("/sign-in/demo/").status_code == 405
    answer = client.post("/sign-in/demo/")
    assert (answer.status_code, answer.url) == (302, "/")
    assert client.session["_auth_user_id"] == str(owner.pk)


def test_a_real_studio_has_no_such_door(client, owner, studio):
    assert "/sign-in/demo/" not in client.get("/sign-in/").content.decode()
    assert client.post("/sign-in/demo/").status_code == 404
    assert "_auth_user_id" not in client.session


def test_a_demo_without_an_owner_has_no_such_door(client, db):
    StudioFactory(is_demo=True)
    assert client.post("/sign-in/demo/").status_code == 404
