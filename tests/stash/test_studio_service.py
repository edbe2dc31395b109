"""The studio is founded once, whole or not at all."""

import pytest
from django.core.exceptions import ValidationError

from stash.models import Person, Role, Studio
from stash.models.studio import Measuring, Spelling
from stash.services.refusal import Refusal
from stash.services.studio import change_studio, found_studio

pytestmark = pytest.mark.django_db

FACTS = {
    "name": " Tidemill studio ",
    "measuring": Measuring.METRIC,
    "spelling": Spelling.BRITISH,
    "username": "mara",
    "owner_name": "Mara",
    "password": "spindle-and-whorl",
}


def test_founding_makes_the_studio_and_its_owner():
    owner = found_studio(**FACTS)
    studio = Studio.objects.get()
    assert (studio.pk, studio.name, studio.measuring) == (1, "Tidemill studio", Measuring.METRIC)
    assert (owner.role, owner.is_active, Person.objects.get()) == (Role.OWNER, True, owner)


def test_a_second_founding_is_refused_and_leaves_the_first():
    found_studio(**FACTS)
    with pytest.raises(Refusal, match="set up already"):
        found_studio(**FACTS | {"name": "Second", "username": "other"})
    assert Studio.objects.get().name == "Tidemill studio"
    assert Person.objects.get().username == "mara"


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"name": "  "}, "name"),
        ({"name": "n" * 81}, "name"),
        ({"measuring": "cubits"}, "measuring"),
        ({"spelling": "runes"}, "spelling"),
        ({"username": ""}, "username"),
        ({"password": "short"}, "password"),
    ],
)
def test_a_founding_that_cannot_be_leaves_nothing_behind(change, field):
    with pytest.raises(ValidationError) as refused:
        found_studio(**FACTS | change)
    assert list(refused.value.message_dict) == [field]
    assert not Studio.objects.exists() and not Person.objects.exists()


def test_name_and_units_are_changed_and_the_day_of_founding_stays():
    found_studio(**FACTS)
    made = Studio.objects.get().made_at
    change_studio(name=" Weir studio ", measuring=Measuring.INCHES_OUNCES, spelling=Spelling.AMERICAN)
    studio = Studio.objects.get()
    assert (studio.name, studio.measuring, studio.made_at) == ("Weir studio", Measuring.INCHES_OUNCES, made)
    with pytest.raises(ValidationError):
        change_studio(name="", measuring=Measuring.METRIC, spelling=Spelling.BRITISH)
