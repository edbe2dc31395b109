"""Losses: what draw-in, relaxation and shrinkage take off, divided out and never added."""

from __future__ import annotations

from fractions import Fraction


def share_left(losses: tuple[Fraction, ...]) -> Fraction:
    """What is left of 1 when each loss has been taken, one after the other, off what the last one left."""
    left = Fraction(1)
    for loss in losses:
        left *= 1 - loss
    return left


def before_losses(finished_um: int | Fraction, losses: tuple[Fraction, ...]) -> Fraction:
    """The measure on the loom, in um, that comes down to `finished_um`.

    10 in at 20 % is 12.5 in: a loss is a share of the measure before it (W. H. Dooley, Textiles, 1910,
    defines shrinkage so), and adding the 20 % would give 12 in and a piece of 9.6 in.
    """
    return finished_um / share_left(losses)


def after_losses(on_loom_um: int | Fraction, losses: tuple[Fraction, ...]) -> Fraction:
    """The finished measure, in um, of what measures `on_loom_um` on the loom."""
    return on_loom_um * share_left(losses)
