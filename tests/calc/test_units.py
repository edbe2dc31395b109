"""The registry: exact factors, built once and late."""

from __future__ import annotations

import subprocess
import sys
from fractions import Fraction

import pytest

from stash.calc import units
from stash.calc.density import UM_PER_CM, UM_PER_INCH
from stash.calc.grist import MG_PER_100_LB, UM_PER_YD

pytestmark = pytest.mark.once


@pytest.mark.parametrize(
    ("unit", "um"),
    [
        ("inch", 25_400),
        ("foot", 304_800),
        ("yard", 914_400),
        ("millimeter", 1_000),
        ("centimeter", 10_000),
        ("meter", 1_000_000),
        ("kilometer", 10**9),
    ],
)
def test_lengths_are_exact_micrometres(unit: str, um: int) -> None:
    # the international yard and pound agreement of 1959 (from memory): 1 yd = 0.9144 m, 1 lb = 0.45359237 kg
    assert units.um_per(unit) == um


@pytest.mark.parametrize(
    ("unit", "mg"),
    [
        ("pound", Fraction("453592.37")),
        ("ounce", Fraction("28349.523125")),
        ("grain", Fraction("64.79891")),
        ("gram", Fraction(1_000)),
        ("kilogram", Fraction(10**6)),
    ],
)
def test_masses_are_exact_milligrams(unit: str, mg: Fraction) -> None:
    assert units.mg_per(unit) == mg


def test_the_constants_of_grist_and_density_agree_with_the_registry() -> None:
    assert units.um_per("yard") == UM_PER_YD
    assert units.mg_per("pound") * 100 == MG_PER_100_LB
    assert units.um_per("inch") == UM_PER_INCH
    assert units.um_per("centimeter") == UM_PER_CM


def test_every_factor_is_a_fraction() -> None:
    assert type(units.um_per_mg_at("worsted_count")) is Fraction
    assert type(units.mg_per_um_at("denier")) is Fraction


def test_there_is_one_registry() -> None:
    assert units.registry() is units.registry()


def test_importing_the_readers_loads_no_pint() -> None:
    code = (
        "import sys\n"
        "import stash.calc.quantity, stash.calc.writing, stash.calc.counts\n"
        "assert 'pint' not in sys.modules, 'pint'\n"
        "assert 'django' not in sys.modules, 'django'\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_a_unit_of_another_kind_is_a_slip_that_is_not_hidden() -> None:
    with pytest.raises(Exception, match="Cannot convert"):
        units.um_per("pound")
