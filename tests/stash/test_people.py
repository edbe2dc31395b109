"""Who may come in: names, passwords, roles, and always one owner who can sign in."""

import pytest
from django.contrib.auth import authenticate
from django.core.exceptions import ValidationError

from stash.models import Person, Role
from stash.services.people import add_person, change_person, set_password
from stash.services.refusal import Refusal
from tests.factories import PersonFactory

pytestmark = pytest.mark.django_db

WORD = "spindle-and-whorl"


def add(**facts) -> Person:
    return add_person(**{"username": "ines", "name": "Ines", "role": Role.HELPER, "password": WORD} | facts)


@pytest.mark.parametrize("typed", ["ines", "INES", "Ines"])
def test_a_person_signs_in_by_the_name_in_any_capitals(rf, typed):
    person = add(username=" ines ")
    assert authenticate(rf.post("/"), username=typed, password=WORD) == person


def test_a_name_is_stored_as_signing_in_normalises_it():
    """Typed with a combining accent, as some keyboards do: the sign-in form composes it."""
    assert add(username="rene\u0301").username == "ren\u00e9"
    assert Person.objects.get_by_natural_key("ren\u00e9")


def test_two_names_that_only_one_database_takes_for_one_stay_two():
    dotted, dotless = add(username="i"), add(username="\u0131")
    assert Person.objects.get_by_natural_key("i") == dotted
    assert Person.objects.get_by_natural_key("\u0131") == dotless


@pytest.mark.parametrize("username", ["ines", "INES", " Ines "])
def test_a_sign_in_name_is_its_own(username):
    add()
    with pytest.raises(ValidationError) as refused:
        add(username=username)
    assert refused.value.message_dict == {"username": ["This sign-in name is taken."]}
    assert Person.objects.count() == 1


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        ({"username": ""}, "username"),
        ({"username": "u" * 41}, "username"),
        ({"name": "n" * 61}, "name"),
        ({"role": "guest"}, "role"),
        ({"password": "short"}, "password"),
        ({"password": "password123"}, "password"),
        ({"username": "weaverbird", "password": "weaverbird1"}, "password"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(facts, field):
    with pytest.raises(ValidationError) as refused:
        add(**facts)
    assert list(refused.value.message_dict) == [field]
    assert not Person.objects.exists()


def change(person: Person, **facts) -> Person:
    return change_person(
        **{"pk": person.pk, "name": person.name, "role": person.role, "is_active": person.is_active} | facts
    )


@pytest.mark.parametrize("facts", [{"role": Role.HELPER}, {"role": Role.VIEWER}, {"is_active": False}])
def test_the_only_owner_stays_an_owner_who_can_sign_in(owner, helper, facts):
    with pytest.raises(Refusal, match="needs an owner who can sign in") as refused:
        change(owner, **facts)
    assert refused.value.field == "role"
    owner.refresh_from_db()
    assert (owner.role, owner.is_active) == (Role.OWNER, True)


def test_an_owner_who_cannot_sign_in_does_not_count(owner):
    PersonFactory(username="gone", role=Role.OWNER, is_active=False)
    with pytest.raises(Refusal):
        change(owner, role=Role.HELPER)


def test_of_two_owners_one_may_step_down(owner, helper):
    change(helper, role=Role.OWNER)
    assert change(owner, role=Role.VIEWER).role == Role.VIEWER
    with pytest.raises(Refusal):
        change(Person.objects.get(pk=helper.pk), is_active=False)


def test_the_only_owner_may_change_the_name_shown(owner):
    assert change(owner, name=" Mara M. ").name == "Mara M."


def test_a_role_that_does_not_exist_is_refused(owner, helper):
    with pytest.raises(ValidationError) as refused:
        change(helper, role="guest")
    assert list(refused.value.message_dict) == ["role"]


def test_a_password_is_changed_and_checked(rf, owner):
    set_password(pk=owner.pk, password=WORD)
    assert authenticate(rf.post("/"), username="mara", password=WORD) == owner
    for call in (
        lambda: set_password(pk=owner.pk, password="mara"),
        lambda: change(owner, password="mara"),
    ):
        with pytest.raises(ValidationError) as refused:
            call()
        assert list(refused.value.message_dict) == ["password"]
    assert authenticate(rf.post("/"), username="mara", password=WORD) == owner


def test_roles_reach_as_far_as_their_rank():
    reach = {role: [needed for needed in Role if role.reaches(needed)] for role in Role}
    assert reach == {
        Role.VIEWER: [Role.VIEWER],
        Role.HELPER: [Role.VIEWER, Role.HELPER],
        Role.OWNER: [Role.VIEWER, Role.HELPER, Role.OWNER],
    }
