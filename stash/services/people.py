"""Who may come in."""

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Value
from django.db.models.functions import Lower

from stash.models import Person, PhoneCode, Role
from stash.services.refusal import Refusal
from stash.services.saving import save_checked
from stash.services.versions import lock_version


@transaction.atomic
def add_person(*, username: str, name: str, role: str, password: str) -> Person:
    """Raises ValidationError naming the field."""
    # Signing in normalises what is typed, so the stored name must be normalised as well.
    username = Person.normalize_username(username.strip())
    if Person.objects.alias(folded=Lower("username")).filter(folded=Lower(Value(username))).exists():
        raise ValidationError({"username": "This sign-in name is taken."})
    person = Person(username=username, name=name.strip(), role=role)
    _check_password(password, person)
    person.set_password(password)
    save_checked(person)
    return person


@transaction.atomic
def change_person(
    *, pk: int, name: str, role: str, is_active: bool, password: str = "", version: int | None = None
) -> Person:
    """An empty password keeps the one there is. Raises ChangedMeanwhile if the person is no longer at
    `version`, and Refusal when the studio would be left without an owner who can sign in.
    """
    locked = Person.objects.select_for_update(no_key=True)
    # All owners are locked, so that two owners cannot demote each other at once.
    owners = list(locked.filter(role=Role.OWNER, is_active=True).order_by("pk"))
    person = lock_version(Person.objects.all(), pk, version, "This person")
    stays = role == Role.OWNER and is_active
    if not stays and [owner.pk for owner in owners] == [pk]:
        raise Refusal(
            "The studio needs an owner who can sign in. Make someone else owner first.", field="role"
        )
    person.name, person.role, person.is_active = name.strip(), role, is_active
    if password:
        _give_password(password, person)
    person.full_clean()
    person.save()
    return person


@transaction.atomic
def set_password(*, pk: int, password: str) -> Person:
    person = Person.objects.select_for_update(no_key=True).get(pk=pk)
    _give_password(password, person)
    person.save(update_fields=["password"])
    return person


def _give_password(password: str, person: Person) -> None:
    """A new password ends what came in by the old one: sessions do by themselves, codes for phones here."""
    _check_password(password, person)
    person.set_password(password)
    PhoneCode.objects.filter(person=person).delete()


def _check_password(password: str, person: Person) -> None:
    try:
        validate_password(password, person)
    except ValidationError as error:
        raise ValidationError({"password": error.messages}) from error
