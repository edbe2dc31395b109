"""The demo's equipment: read whole, noted once, and what it cannot mean is said with its entry."""

from datetime import date

import pytest

from projects.services.planning import Gear
from stash.calc.writing import Measures
from stash.models import Loom, Reed
from stash.site.demo_equipment import (
    EQUIPMENT_FILE,
    EquipmentFileError,
    gear_of,
    load_equipment,
    read_equipment,
)

pytestmark = pytest.mark.django_db

TODAY = date(2027, 3, 1)
LOOM = '[[looms]]\nname = "Big loom"\nwidth = "36 in"\nshafts = "4"\nwaste = "27 in"\n'
REED = '[[reeds]]\nname = "Ten"\ndents = "10"\nlength = "30 in"\nlent_to = "Ana"\nback_in = 9\n'
WANT = '[[wants]]\nproject = "Mats"\nloom = "Big loom"\nreed = "Ten"\nsley = "1-2"\noff_in = 20\n'


def read(folder, text):
    (folder / EQUIPMENT_FILE).write_text(text)
    return read_equipment(folder)


def load(folder, text):
    found = read(folder, text)
    load_equipment(found, Measures(), TODAY)
    return found


def test_things_are_noted_once_and_loans_count_from_the_day_of_loading(tmp_path):
    for _ in range(2):
        load(tmp_path, LOOM + REED)
    assert Loom.objects.get().weaving_width_um == 36 * 25_400
    assert (Reed.objects.get().lent_to, Reed.objects.get().back_on) == ("Ana", date(2027, 3, 10))


def test_a_want_is_the_gear_of_its_project(tmp_path):
    found = load(tmp_path, LOOM + REED + WANT)
    assert gear_of(found, "Mats", TODAY) == Gear(
        loom_id=Loom.objects.get().pk, reed_id=Reed.objects.get().pk, sley="1-2", off_on=date(2027, 3, 21)
    )
    assert gear_of(found, "Towels", TODAY) is None


def test_a_demo_without_the_file_has_no_equipment(tmp_path):
    assert read_equipment(tmp_path).things == {}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[[carts]]\n", "“carts” is no kind of equipment"),
        ("looms = [", "is not TOML"),
        (LOOM + 'wheels = "4"\n', "looms, “Big loom”: “wheels” is no key here"),
        (LOOM.replace("36 in", "wide"), "looms, “Big loom”: width:"),
        ('[[wants]]\nloom = "Big loom"\n', "a want has a project"),
    ],
)
def test_what_the_file_cannot_mean_is_said_with_its_entry(tmp_path, text, said):
    with pytest.raises(EquipmentFileError, match=said):
        load(tmp_path, text)


def test_a_want_of_what_is_not_there_names_it(tmp_path):
    with pytest.raises(EquipmentFileError, match="there is no “Big loom”"):
        gear_of(read(tmp_path, WANT), "Mats", TODAY)
