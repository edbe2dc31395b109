"""The studio page and its people."""

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from stash.measuring import measures_of
from stash.models import Person, Role, Studio
from stash.tables.stocktakes import division_mg
from tests.factories import PersonFactory

WORD = "a long enough word"
OTHER = "another long enough word"


def test_the_owner_changes_name_units_and_spelling(as_owner):
    facts = {"name": "Loft", "measuring": "metric", "spelling": "american"}
    assert as_owner.post("/studio/", facts).url == "/studio/"
    studio = Studio.objects.get()
    assert (studio.name, studio.measuring, studio.spelling) == ("Loft", "metric", "american")


def test_the_owner_says_the_currency_and_what_the_scale_steps_by(as_owner):
    facts = {"name": "Loft", "measuring": "inch-g", "spelling": "british"}
    assert as_owner.post("/studio/", facts | {"currency": "sek", "division_mg": "0.1 oz"}).status_code == 302
    studio = Studio.objects.get()
    assert (studio.currency, studio.division_mg) == ("SEK", 2_835)
    assert division_mg(measures_of(studio)) == 2_835
    as_owner.post("/studio/", facts | {"division_mg": ""})
    studio = Studio.objects.get()
    assert (studio.currency, studio.division_mg) == ("SEK", None)
    assert division_mg(measures_of(studio)) == 1_000


@pytest.mark.parametrize(
    ("field", "typed"),
    [("currency", "E1R"), ("currency", "EU"), ("division_mg", "0"), ("division_mg", "2 kg")],
)
def test_what_is_no_currency_and_no_step_of_a_scale_is_refused_at_its_field(as_owner, field, typed):
    facts = {"name": "Loft", "measuring": "inch-g", "spelling": "british"}
    answer = as_owner.post("/studio/", facts | {field: typed})
    assert answer.status_code == 422
    assert answer.context["form"].errors[field]
    assert typed in answer.content.decode()


FACTS = {"name": "Loft", "measuring": "inch-g", "spelling": "british"}


def test_the_owner_says_what_buying_goes_by(as_owner):
    said = {
        "quarantine_days": "3 weeks",
        "sure_ppm": "97.5 %",
        "order_cost_cents": "15,50",
        "holding_ppm": "20",
    }
    assert as_owner.post("/studio/", FACTS | said).status_code == 302
    studio = Studio.objects.get()
    assert (studio.quarantine_days, studio.sure_ppm) == (21, 975_000)
    assert (studio.order_cost_cents, studio.holding_ppm) == (1_550, 200_000)
    form = as_owner.get("/studio/").context["form"]
    assert [form[name].value() for name in said] == ["3 weeks", "97.5", "15.50", "20"]
    as_owner.post("/studio/", FACTS | dict.fromkeys(said, ""))
    studio = Studio.objects.get()
    assert (studio.quarantine_days, studio.sure_ppm) == (14, 950_000)
    assert (studio.order_cost_cents, studio.holding_ppm) == (None, None)


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("quarantine_days", "400"),
        ("quarantine_days", "a month"),
        ("sure_ppm", "100"),
        ("sure_ppm", "49"),
        ("order_cost_cents", "0"),
        ("order_cost_cents", "5 USD"),
        ("holding_ppm", "0 %"),
        ("holding_ppm", "200 %"),
    ],
)
def test_what_buying_cannot_go_by_is_refused_at_its_field(as_owner, field, typed):
    answer = as_owner.post("/studio/", FACTS | {field: typed})
    assert answer.status_code == 422
    assert answer.context["form"].errors[field] and typed in answer.content.decode()


def test_another_currency_is_taken_with_a_warning_of_what_keeps_its_own(as_owner):
    answer = as_owner.post("/studio/", FACTS | {"currency": "GBP"}, follow=True)
    assert "stay in EUR" in answer.content.decode()


def test_no_way_around_the_page_gives_a_scale_that_steps_by_nothing(studio):
    with pytest.raises(IntegrityError), transaction.atomic():
        Studio.objects.update(division_mg=0)


def test_a_studio_without_a_name_is_refused_and_stays_as_it_was(as_owner):
    answer = as_owner.post("/studio/", {"name": " ", "measuring": "metric", "spelling": "american"})
    assert answer.status_code == 422
    assert answer.context["form"].errors["name"]
    assert Studio.objects.get().measuring == "inch-g"


@pytest.mark.parametrize("who", ["as_helper", "as_viewer"])
def test_others_read_it_and_see_no_form_or_door_to_change(request, who, owner):
    page = request.getfixturevalue(who).get("/studio/").content.decode()
    assert "inches and yards, with grams on the scale" in page
    assert "Mara" in page
    assert "Add a person" not in page
    assert "/studio/people/" not in page
    assert page.count("<form") == 2  # search and sign-out, on every page


def test_every_role_says_in_words_what_it_may_do(as_viewer):
    page = as_viewer.get("/studio/").content.decode()
    for role in Role:
        assert role.label.capitalize() in page
    assert "weighs and moves cones" in page


def test_the_page_asks_as_much_of_the_database_for_twice_the_people(as_owner, django_assert_num_queries):
    # session, person, studio, people
    with django_assert_num_queries(4):
        as_owner.get("/studio/")
    PersonFactory.create_batch(5)
    with django_assert_num_queries(4):
        as_owner.get("/studio/")


def test_a_new_person_can_sign_in(as_owner, client):
    facts = {"username": "vida", "name": "Vida", "role": "helper", "password": WORD, "again": WORD}
    assert as_owner.post("/studio/people/new/", facts).url == "/studio/"
    person = Person.objects.get(username="vida")
    assert (person.name, person.role, person.check_password(WORD)) == ("Vida", Role.HELPER, True)


@pytest.mark.parametrize("name", ["mara", "MARA", "Mara "])
def test_a_sign_in_name_is_taken_in_whatever_capitals(as_owner, name):
    facts = {"username": name, "name": "", "role": "viewer", "password": WORD, "again": WORD}
    answer = as_owner.post("/studio/people/new/", facts)
    assert answer.status_code == 422
    assert "This sign-in name is taken." in answer.context["form"].errors["username"]
    assert Person.objects.count() == 1


def edit(client, person, **changes):
    facts = {"name": person.name, "role": person.role, "is_active": "on"} | changes
    return client.post(reverse("person-edit", args=[person.pk]), facts)


def test_a_second_save_of_the_studio_is_refused_and_shows_both(as_owner):
    opened = as_owner.get("/studio/").context["form"]["version"].value()
    facts = {"measuring": "inch-g", "spelling": "british", "version": opened}
    assert as_owner.post("/studio/", facts | {"name": "First"}).status_code == 302
    answer = as_owner.post("/studio/", facts | {"name": "Second"})
    assert answer.status_code == 422
    page = answer.content.decode()
    assert 'value="Second"' in page
    assert "Stands there now: <b>First</b>" in page
    assert Studio.objects.get().name == "First"
    again = answer.context["form"]["version"].value()
    assert as_owner.post("/studio/", facts | {"name": "Second", "version": again}).status_code == 302
    assert Studio.objects.get().name == "Second"


def test_a_second_save_of_a_person_is_refused_and_shows_no_password(as_owner, helper):
    opened = as_owner.get(reverse("person-edit", args=[helper.pk])).context["form"]["version"].value()
    assert edit(as_owner, helper, name="First", version=opened).status_code == 302
    answer = edit(as_owner, helper, name="Second", version=opened, password=OTHER, again=OTHER)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "Stands there now: <b>First</b>" in page
    assert page.count("Stands there now") == 1
    assert OTHER not in page
    helper.refresh_from_db()
    assert (helper.name, helper.check_password(WORD)) == ("First", True)


def test_an_owner_changes_role_and_password_of_another(as_owner, helper):
    assert edit(as_owner, helper, role="owner", password=OTHER, again=OTHER).url == "/studio/"
    helper.refresh_from_db()
    assert helper.role == Role.OWNER
    assert helper.check_password(OTHER)


def test_without_a_typed_password_the_old_one_stays(as_owner, helper):
    edit(as_owner, helper, name="Jonathan")
    helper.refresh_from_db()
    assert helper.name == "Jonathan"
    assert helper.check_password(WORD)


@pytest.mark.parametrize("again", ["", "something else here"])
def test_a_new_password_not_typed_twice_changes_nothing(as_owner, helper, again):
    answer = edit(as_owner, helper, name="Other", password=OTHER, again=again)
    assert answer.status_code == 422
    assert answer.context["form"].errors["again"]
    helper.refresh_from_db()
    assert helper.name == "Jon"
    assert helper.check_password(WORD)


def test_a_weak_new_password_keeps_the_other_changes_back_too(as_owner, helper):
    answer = edit(as_owner, helper, name="Other", password="short", again="short")
    assert answer.context["form"].errors["password"]
    helper.refresh_from_db()
    assert helper.name == "Jon"


@pytest.mark.parametrize("changes", [{"role": "helper"}, {"is_active": ""}])
def test_the_last_owner_stays_one(as_owner, owner, changes):
    answer = edit(as_owner, owner, **changes)
    assert answer.status_code == 422
    assert "needs an owner" in answer.context["form"].errors["role"][0]
    owner.refresh_from_db()
    assert (owner.role, owner.is_active) == (Role.OWNER, True)


def test_an_owner_who_gives_themselves_a_new_password_stays_signed_in(as_owner, owner):
    edit(as_owner, owner, password=OTHER, again=OTHER)
    assert as_owner.get("/studio/").status_code == 200


def test_a_new_password_ends_the_other_persons_sessions(as_owner, helper, django_user_model):
    from django.test import Client

    theirs = Client()
    theirs.force_login(helper)
    assert theirs.get("/studio/").status_code == 200
    edit(as_owner, helper, password=OTHER, again=OTHER)
    assert theirs.get("/studio/").status_code == 302


def test_nobody_of_that_number(as_owner):
    assert as_owner.get("/studio/people/999/").status_code == 404


@pytest.mark.parametrize("who", ["as_viewer", "as_helper", "as_owner"])
def test_everyone_changes_their_own_password_and_stays_signed_in(request, who):
    client = request.getfixturevalue(who)
    assert client.get("/studio/password/").status_code == 200
    answer = client.post("/studio/password/", {"current": WORD, "password": OTHER, "again": OTHER})
    assert answer.url == "/studio/"
    assert client.get("/studio/").status_code == 200
    assert Person.objects.get(pk=client.session["_auth_user_id"]).check_password(OTHER)


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"current": "wrong one"}, "current"),
        ({"again": "yet another word"}, "again"),
        ({"password": "short", "again": "short"}, "password"),
    ],
)
def test_a_slip_in_changing_the_own_password_changes_nothing(as_viewer, viewer, typed, field):
    facts = {"current": WORD, "password": OTHER, "again": OTHER} | typed
    answer = as_viewer.post("/studio/password/", facts)
    assert answer.status_code == 422
    assert answer.context["form"].errors[field]
    viewer.refresh_from_db()
    assert viewer.check_password(WORD)


def test_tries_at_the_own_password_are_limited_like_those_at_the_door(as_viewer):
    facts = {"current": "wrong one", "password": OTHER, "again": OTHER}
    answers = [as_viewer.post("/studio/password/", facts).status_code for _ in range(6)]
    assert answers == [422] * 5 + [429]
