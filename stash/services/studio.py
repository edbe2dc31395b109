"""The studio's own facts: name and units, chosen once."""

from django.db import IntegrityError, transaction
from django.utils import timezone

from stash.models import Person, Role, Studio
from stash.services.people import add_person
from stash.services.refusal import Refusal
from stash.services.suppliers import keep_currency
from stash.services.versions import lock_version


def found_studio(
    *,
    name: str,
    measuring: str,
    spelling: str,
    username: str,
    owner_name: str,
    password: str,
    is_demo: bool = False,
) -> Person:
    """Make the studio and its owner, once. Raises Refusal if there is one already."""
    try:
        with transaction.atomic():
            studio = Studio(
                pk=1,
                name=name.strip(),
                measuring=measuring,
                spelling=spelling,
                is_demo=is_demo,
                made_at=timezone.now(),
            )
            studio.full_clean(validate_unique=False, validate_constraints=False)
            studio.save(force_insert=True)
            return add_person(username=username, name=owner_name, role=Role.OWNER, password=password)
    except IntegrityError as error:
        raise Refusal("This studio has been set up already. Sign in instead.") from error


@transaction.atomic
def change_studio(
    *,
    name: str,
    measuring: str,
    spelling: str,
    label_address: str | None = None,
    currency: str | None = None,
    division_mg: int | None = None,
    version: int | None = None,
) -> Studio:
    """`label_address` and `currency` stay as they are unless given; without `division_mg` the scale is taken to step
    as is common for its units. Raises ChangedMeanwhile if the studio is no longer at `version`,
    ValidationError naming the field.
    """
    studio = lock_version(Studio.objects.all(), 1, version, "The studio")
    studio.name, studio.measuring, studio.spelling = name.strip(), measuring, spelling
    if label_address is not None:
        studio.label_address = label_address
    if currency is not None and currency != studio.currency:
        keep_currency(studio.currency)
        studio.currency = currency
    studio.division_mg = division_mg
    studio.full_clean()
    studio.save()
    return studio
