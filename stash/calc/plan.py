"""The plan of one warp: everything a person decides before anything is reckoned."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from stash.calc.accents import Accent, AccentWay, check_accents
from stash.calc.beams import Beam, check_beams
from stash.calc.colour_order import Order
from stash.calc.density import Density
from stash.calc.errors import CalcError
from stash.calc.fringe import Fringe
from stash.calc.hems import Hem
from stash.calc.limits import check_length, check_share, check_within
from stash.calc.losses import share_left
from stash.calc.lot_wish import ShadeWish
from stash.calc.selvedges import Selvedges
from stash.calc.sley import Sleyed

MOST_WARPS = 600
MOST_PIECES = 100_000
MOST_LOSS = Fraction(9, 10)

_LENGTHS = (
    "waste_um",
    "waste_front_um",
    "hem_um",
    "gap_um",
    "sample_um",
    "header_um",
    "tail_um",
    "board_um",
)
_TENTH = Fraction(1, 10)
NO_HEM = Hem()
NO_FRINGE = Fringe()
PLAIN_SELVEDGES = Selvedges()


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
    """Hem cloth of one piece, both ends together, finished measure; asked where `hem.kind` is `given`."""
    gap_um: int = 12_700
    """Between two pieces, on the loom: the cut line (half an inch). Fringed pieces have two fringes there."""
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
    hem: Hem = NO_HEM
    fringe: Fringe = NO_FRINGE
    waste_front_um: int = 0
    """Of the loom waste, what lies at the front; the rest lies at the back. Only fringes ask for it."""
    selvedges: Selvedges = PLAIN_SELVEDGES
    border: Order | None = None
    """At the left edge, and mirrored at the right; beside an order that fills the width."""
    accents: tuple[Accent, ...] = ()
    accent_way: AccentWay = "replaces"
    """Whether an accent stands instead of ends or in addition to them."""
    accents_in_weft: bool = False
    """Whether the accents come in the weft of each piece too, as far from its ends as from the edges."""
    whole_pick_repeats: bool = False
    """Whether the body of a piece is woven in whole repeats of the pick order, rounded up."""
    warps: int = 1
    """So many like warps are wound, as for the kits of a class: every need comes so often."""
    beams: tuple[Beam, ...] = ()
    """Further beams and the shades on them."""
    wishes: tuple[ShadeWish, ...] = ()
    """Of which lots a shade is taken; one that is not named here may be of any."""
    sleyed: Sleyed | None = None
    """The sley chosen, if one was: the width in the reed then is that of the dents used."""

    def __post_init__(self) -> None:
        check_within("pieces", self.pieces, 1, MOST_PIECES, "pieces")
        check_within("warps", self.warps, 1, MOST_WARPS, "warps")
        for name in ("across_um", "along_um"):
            check_length(name, getattr(self, name), least=1)
        for name in _LENGTHS:
            check_length(name, getattr(self, name), least=0)
        _losses("losses_across", self.losses_across)
        _losses("losses_along", self.losses_along)
        for name in ("take_up", "weft_take_up", "warp_buffer", "weft_buffer"):
            check_share(name, getattr(self, name))
        check_within("carry_picks", self.carry_picks, 0, 1_000, "picks")
        check_within("keep_back", self.keep_back, 0, 1_000, "warp lengths")
        check_accents(self.accents)
        check_beams(self.beams)
        self._check_order()
        self._check_edges()

    def _check_order(self) -> None:
        if self.order_fills:
            check_within(
                "balance_ends", self.balance_ends, 0, self.order.length, "ends: no more than one repeat holds"
            )
        elif self.balance_ends:
            raise CalcError(
                "An order that is the whole warp holds its balance already: write the ends into the "
                "order and leave this at 0.",
                field="balance_ends",
            )
        elif self.border:
            raise CalcError(
                "An order that is the whole warp holds its borders already: write them into the order and "
                "leave the border empty.",
                field="border_order",
            )

    def _check_edges(self) -> None:
        given = self.hem.kind == "given"
        if self.hem_cloth_um > 2 * self.along_um or (not given and 2 * self.hem.depth_um > self.along_um):
            raise CalcError(
                "The hems are longer than the piece: give less hem, or a longer piece.",
                field="hem_um" if given else "hem_depth_um",
            )
        if not self.fringe:
            return
        if self.hem_cloth_um:
            raise CalcError(
                "A piece ends in a hem or in a fringe: set the hem or the fringe to 0.", field="fringe_um"
            )
        if self.waste_front_um > self.waste_um:
            raise CalcError(
                "The waste at the front is a part of the loom waste: give no more than all of it.",
                field="waste_front_um",
            )

    @property
    def hem_cloth_um(self) -> int:
        """Hem cloth of one piece, both ends together, in finished um."""
        return self.hem.cloth_um(self.hem_um)

    @property
    def between_um(self) -> int | Fraction:
        """Between two pieces on the loom: the cut line, or two fringes."""
        return 2 * self.fringe.on_loom_um if self.fringe else self.gap_um

    @property
    def fringe_excess_um(self) -> Fraction:
        """What the two outer fringes need beyond the loom waste at their end."""
        back_um = self.waste_um - self.waste_front_um
        return self.fringe.beyond_um(self.waste_front_um) + self.fringe.beyond_um(back_um)

    @property
    def sett_to_fill(self) -> Density:
        """The sett by which the asked width is filled with ends: the sley's own where it keeps the width."""
        return self.sleyed.sett if self.sleyed and self.sleyed.keeps == "width" else self.sett

    def width_um(self, places: int) -> Fraction:
        """Width in the reed of so many places: places / sett, once sleyed dents used / dents per length."""
        if self.sleyed:
            return self.sleyed.width_um(places, self.selvedges.floating)
        return self.sett.length_um_of(places)

    def beam_of(self, key: str) -> int:
        """The beam on which a shade is wound."""
        return next((beam.number for beam in self.beams if key in beam.keys), 1)

    def wish_of(self, key: str) -> ShadeWish | None:
        """What is wished of the lots of a shade; None for nothing in particular."""
        return next((one for one in self.wishes if one.key == key), None)

    def take_up_of(self, beam: int) -> Fraction:
        return next((one.take_up for one in self.beams if one.number == beam), self.take_up)


def _losses(name: str, losses: tuple[Fraction, ...]) -> None:
    if len(losses) not in (1, 2):
        raise CalcError("Give one total loss, or two losses that follow each other.", field=name)
    if not all(0 <= loss < 1 for loss in losses):
        raise CalcError("Give each loss as a share from 0 % to less than 100 %.", field=name)
    if 1 - share_left(losses) > MOST_LOSS:
        raise CalcError(
            "The losses together come to more than 90 %; give losses of at most 90 % in all.", field=name
        )
