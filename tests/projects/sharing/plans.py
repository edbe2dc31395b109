"""A plan that uses all that a file can say: invented."""

from fractions import Fraction

from stash.calc.accents import read_accents
from stash.calc.beams import Beam
from stash.calc.colour_order import read_order
from stash.calc.density import Density
from stash.calc.hems import Hem
from stash.calc.plan import Plan
from stash.calc.selvedges import Selvedges
from tests.projects.factories import INCH, plain_plan


def full_plan(**changes) -> Plan:
    facts = {
        "pieces": 5,
        "across_um": 12 * INCH + 1,
        "losses_across": (Fraction(1, 10), Fraction(333_333, 1_000_000)),
        "losses_along": (Fraction(1, 20), Fraction(7, 100)),
        "take_up": Fraction(1, 8),
        "waste_um": 30 * INCH,
        "waste_front_um": 9 * INCH,
        "sett": Density(Fraction(20, 3)),
        "picks": Density(Fraction(7), 10_000),
        "order": read_order("4 A, 2 times (1 B, 1 A)"),
        "balance_ends": 2,
        "pick_order": read_order("3 A, 1 B", word="picks"),
        "border": read_order("2 B"),
        "accents": read_accents("1 B at 9, 2 C in the middle"),
        "accent_way": "added",
        "whole_pick_repeats": True,
        "hem": Hem("small", INCH, 6_350, Density(Fraction(12)), read_order("1 A", word="picks")),
        "selvedges": Selvedges(True, "A", 2, "dent"),
        "sample_um": 9 * INCH,
        "header_um": 2 * INCH,
        "warps": 9,
        "beams": (Beam(2, Fraction(1, 5), ("B",)),),
        "warp_buffer": Fraction(5, 100),
        "keep_back": 1,
    }
    return plain_plan(**(facts | changes))
