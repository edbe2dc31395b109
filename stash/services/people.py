"""Who may come in."""

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction

from stash.models import Person, Role
from stash.services.refusal import Refusal


@transaction.atomic
def add_person(*, username: str, name: str, role: str, password: str) -> Person:
    """Raises ValidationError naming the field."""
    person = Person(username=username.strip(), name=name.strip(), role=role)
    _check_password(password, person)
    person.set_password(password)
    person.full_clean()
    person.save()
    return person


@transaction.atomic
def change_person(*, pk: int, name: str, role: str, is_active: bool, password: str = "") -> Person:
    """Raises Refusal when the studio would be left without an owner who can sign in. "" keeps the password."""
    # All owners are locked, so that two owners cannot demote each other at once.
    owners = list(Person.objects.select_for_update().filter(role=Role.OWNER, is_active=True).order_by("pk"))
    person = Person.objects.select_for_update().get(pk=pk)
    stays = role == Role.OWNER and is_active
    if not stays and [owner.pk for owner in owners] == [pk]:
        raise Refusal(
            "The studio needs an owner who can sign in. Make someone else owner first.", field="role"
        )
    person.name, person.role, person.is_active = name.strip(), role, is_active
    if password:
        _check_password(password, person)
        person.set_password(password)
    person.full_clean()
    person.save()
    return person


@transaction.atomic
def set_password(*, pk: int, password: str) -> Person:
    person = Person.objects.select_for_update().get(pk=pk)
    _check_password(password, person)
    person.set_password(password)
    person.save(update_fields=["password"])
    return person


def _check_password(password: str, person: Person) -> None:
    try:
        validate_password(password, person)
    except ValidationError as error:
        raise ValidationError({"password": error.messages}) from error
