"""The plan of one warp: everything a person decides before anything is reckoned."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from stash.calc.colour_order import Order
from stash.calc.density import Density
from stash.calc.errors import CalcError
from stash.calc.losses import share_left

KM_UM = 1_000_000_000
MOST_PIECES = 100_000
MOST_LOSS = Fraction(9, 10)

_TENTH = Fraction(1, 10)


@dataclass(frozen=True, slots=True)
class Plan:
    """One warp of like pieces. Lengths in um; shares as exact fractions (10 % is Fraction(1, 10)).

    Raises CalcError whose `field` is the attribute to change and whose message says what is accepted.
    """

    pieces: int
    across_um: int
    """Finished size of a piece across the warp."""
    along_um: int
    """Finished size of a piece along the warp, hems sewn."""
    losses_across: tuple[Fraction, ...]
    """One: total loss, a share of the width in the reed. Two: draw-in, a share of the width in the reed,
    then shrinkage, a share of the width off the loom."""
    losses_along: tuple[Fraction, ...]
    """One: total loss, a share of the length woven under tension. Two: relaxation, a share of that length,
    then shrinkage, a share of the length off the loom."""
    take_up: Fraction
    """Warp take-up, a share of the woven length (as crimp in ISO 7211-3). Set it to 0 where the total loss
    was measured from warp actually used, since that holds it already."""
    waste_um: int
    """Loom waste, front and back together, once per warp."""
    sett: Density
    """Ends to the length in the reed."""
    picks: Density
    """Picks to the length on the loom."""
    order: Order
    """Colour order of the ends: a repeat that fills the width, or the whole warp."""
    order_fills: bool
    """True: `order` is repeated until the piece is as wide as asked, then balanced. False: it is the warp."""
    pick_order: Order
    """Colour order of the picks, repeated over a piece and begun anew with each piece."""
    balance_ends: int = 0
    """So many ends from the start of the order once more at the right, so that both edges match."""
    hem_um: int = 0
    """Hem cloth of one piece, both ends together, finished measure."""
    gap_um: int = 12_700
    """Between two pieces, on the loom: the cut line (half an inch), or two fringes."""
    sample_um: int = 0
    """Woven for a sample, on the loom. It takes weft too."""
    header_um: int = 0
    """Header of waste yarn that spreads the warp, on the loom. It takes no weft of the plan."""
    weft_take_up: Fraction = _TENTH
    """A share of the width in the reed; 5 to 10 % is seen, 10 % is the usual allowance (common practice)."""
    tail_um: int = 177_800
    """Weft for the tail each time a shuttle begins (7 in; common practice)."""
    carry_picks: int = 4
    """A shuttle that rests so many picks or fewer is carried along the selvedge and needs no new tail
    (common practice)."""
    warp_buffer: Fraction = Fraction(5, 100)
    """A share of the ends of each shade."""
    weft_buffer: Fraction = Fraction(8, 100)
    """A share of the weft of each shade."""
    board_um: int = 228_600
    """What the warping board measures in (a quarter yard); 0 does not round up to it."""
    keep_back: int = 0
    """Warp lengths kept back on every cone for knots."""

    def __post_init__(self) -> None:
        _within("pieces", self.pieces, 1, MOST_PIECES, "pieces")
        for name in ("across_um", "along_um"):
            _length(name, getattr(self, name), least=1)
        for name in ("waste_um", "hem_um", "gap_um", "sample_um", "header_um", "tail_um", "board_um"):
            _length(name, getattr(self, name), least=0)
        _losses("losses_across", self.losses_across)
        _losses("losses_along", self.losses_along)
        for name in ("take_up", "weft_take_up", "warp_buffer", "weft_buffer"):
            _share(name, getattr(self, name))
        _within("carry_picks", self.carry_picks, 0, 1_000, "picks")
        _within("keep_back", self.keep_back, 0, 1_000, "warp lengths")
        if self.order_fills:
            _within(
                "balance_ends", self.balance_ends, 0, self.order.length, "ends: no more than one repeat holds"
            )
        elif self.balance_ends:
            raise CalcError(
                "An order that is the whole warp holds its balance already: write the ends into the "
                "order and leave this at 0.",
                field="balance_ends",
            )


def _within(name: str, value: int, least: int, most: int, what: str) -> None:
    if not least <= value <= most:
        raise CalcError(f"Give from {least:,} to {most:,} {what}.", field=name)


def _length(name: str, value: int, least: int) -> None:
    if value < least:
        raise CalcError(
            "Give a length of more than nothing." if least else "A length cannot be below 0.", field=name
        )
    if value >= KM_UM:
        raise CalcError("Give a length below 1 km (1,093 yd).", field=name)


def _share(name: str, value: Fraction) -> None:
    if not 0 <= value <= 1:
        raise CalcError("Give a share from 0 to 100 %.", field=name)


def _losses(name: str, losses: tuple[Fraction, ...]) -> None:
    if len(losses) not in (1, 2):
        raise CalcError("Give one total loss, or two losses that follow each other.", field=name)
    if not all(0 <= loss < 1 for loss in losses):
        raise CalcError("Give each loss as a share from 0 % to less than 100 %.", field=name)
    if 1 - share_left(losses) > MOST_LOSS:
        raise CalcError(
            "The losses together come to more than 90 %; give losses of at most 90 % in all.", field=name
        )
