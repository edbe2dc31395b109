"""Figures in templates, written in the studio's units: `{{ cone.free_mg|mass:measures }}`.

What is there or free is rounded down, what is needed or missing is rounded up: `|long_up:measures`.
"""

from fractions import Fraction

from django import template

from stash.calc.density import Density
from stash.calc.grist import Grist
from stash.calc.money import write_price
from stash.calc.writing import Measures
from stash.models import Yarn

register = template.Library()


@register.filter
def long(um: int | Fraction, measures: Measures) -> str:
    return measures.long_length(um)


@register.filter
def long_up(um: int | Fraction, measures: Measures) -> str:
    return measures.long_length(um, "up")


@register.filter
def long_down(um: int | Fraction, measures: Measures) -> str:
    return measures.long_length(um, "down")


@register.filter
def warp(um: int | Fraction, measures: Measures) -> str:
    return measures.warp_length(um)


@register.filter
def short(um: int | Fraction, measures: Measures) -> str:
    return measures.short_length(um)


@register.filter
def warp_down(um: int | Fraction, measures: Measures) -> str:
    """A length that is there: 2.10 yd, never more than it is."""
    return measures.warp_length(um, "down")


@register.filter
def dents(value: Density, measures: Measures) -> str:
    """A reed as it is stamped: 10 dents per in, 50 dents per 10 cm."""
    return measures.density(value, "dents")


@register.filter
def mass(mg: int | Fraction, measures: Measures) -> str:
    return measures.mass(mg)


@register.filter
def mass_up(mg: int | Fraction, measures: Measures) -> str:
    return measures.mass(mg, "up")


@register.filter
def signed_mass(mg: int, measures: Measures) -> str:
    """A change of mass, with its sign also where it is a plus."""
    return f"+{measures.mass(mg)}" if mg > 0 else measures.mass(mg)


@register.filter
def money(cents: int, currency: str) -> str:
    """A price: 12.50 EUR."""
    return write_price(cents, currency)


@register.filter
def length_of(mg: int, yarn: Yarn) -> Fraction:
    """How long so many mg of a yarn are, in um, exactly: `{{ cone.free_mg|length_of:yarn|long_down:measures }}`."""
    return yarn.grist.length_um_of(mg)


@register.filter
def grist(value: Grist, measures: Measures) -> str:
    """A length per weight."""
    return measures.grist(value)
