"""Room on a warp beam: how long a warp may be before the roll is too thick."""

from __future__ import annotations

from fractions import Fraction

from stash.calc.errors import CalcError

_PI = Fraction(3_141_592_653_589_793, 10**15)


def beam_room_um(full_um: int, bare_um: int, layer_um: int) -> Fraction:
    """Warp length in um on a beam that may grow from the bare diameter to the full one.

    pi x (D^2 - d^2) / (4 x t): the roll's side, spread out to the thickness of one layer, which is yarn and paper
    or sticks together. Raises CalcError unless full is above bare and the layer more than nothing.
    """
    if layer_um < 1:
        raise CalcError("A layer is thicker than nothing.", field="layer")
    if not 0 < bare_um < full_um:
        raise CalcError("The full roll is thicker than the bare beam.", field="full")
    return _PI * (full_um**2 - bare_um**2) / (4 * layer_um)
