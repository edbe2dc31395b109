"""The studio's own facts: name and units, chosen once."""

from django.db import IntegrityError, transaction
from django.utils import timezone

from stash.models import Person, Role, Studio
from stash.services.people import add_person
from stash.services.refusal import Refusal
from stash.services.suppliers import keep_currency
from stash.services.versions import lock_version

USUAL_QUARANTINE_DAYS = Studio._meta.get_field("quarantine_days").default
USUAL_SURE_PPM = Studio._meta.get_field("sure_ppm").default
MOST_QUARANTINE_DAYS = 365
LEAST_SURE_PPM, MOST_SURE_PPM = 500_000, 999_000


def _check_buying(studio: Studio) -> None:
    """What the constraints hold too, said at the field."""
    if studio.quarantine_days > MOST_QUARANTINE_DAYS:
        raise Refusal(f"Keep yarn apart for at most {MOST_QUARANTINE_DAYS} days.", field="quarantine_days")
    if not LEAST_SURE_PPM <= studio.sure_ppm <= MOST_SURE_PPM:
        raise Refusal("Be sure from 50 % to 99.9 %.", field="sure_ppm")
    for field in ("order_cost_cents", "holding_ppm"):
        if getattr(studio, field) == 0:
            raise Refusal("Leave it empty where it is not known: nothing costs nothing.", field=field)


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
    quarantine_days: int | None = None,
    sure_ppm: int | None = None,
    order_cost_cents: int | None = None,
    holding_ppm: int | None = None,
    version: int | None = None,
) -> Studio:
    """`label_address` and `currency` stay as they are unless given; without `division_mg` the scale is taken to step
    as is common for its units, and without `quarantine_days` and `sure_ppm` these are the usual ones. What an order
    and keeping yarn cost is not known unless given. Raises ChangedMeanwhile if the studio is no longer at `version`,
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
    studio.quarantine_days = USUAL_QUARANTINE_DAYS if quarantine_days is None else quarantine_days
    studio.sure_ppm = USUAL_SURE_PPM if sure_ppm is None else sure_ppm
    studio.order_cost_cents, studio.holding_ppm = order_cost_cents, holding_ppm
    _check_buying(studio)
    studio.full_clean()
    studio.save()
    return studio
