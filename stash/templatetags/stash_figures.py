"""Figures in templates, written in the studio's units: `{{ cone.free_mg|mass:measures }}`.

What is there or free is rounded down, what is needed or missing is rounded up: `|long_up:measures`.
"""

from fractions import Fraction

from django import template

from stash.calc.writing import Measures

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
def mass(mg: int | Fraction, measures: Measures) -> str:
    return measures.mass(mg)


@register.filter
def mass_up(mg: int | Fraction, measures: Measures) -> str:
    return measures.mass(mg, "up")
