"""Fit to width: how many repeats, balanced by how many ends, and the width that comes of each choice."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from stash.calc.errors import CalcError
from stash.calc.losses import after_losses
from stash.calc.order_edit import mirror_balance
from stash.calc.plan import Plan
from stash.calc.width import work_width


@dataclass(frozen=True, slots=True)
class WidthChoice:
    """So many repeats and so many ends for balance. Widths in um; `ends` counts selvedges and accents too."""

    repeats: int
    balance: int
    ends: int
    in_reed_um: Fraction
    finished_um: Fraction
    asks_um: int
    """The finished size across to ask for, so that it comes to these repeats: what stands there if that does."""
    first_key: str
    last_key: str
    symmetrical: bool
    """The order reads the same from either side."""
    chosen: bool
    """The plan as it stands comes to this."""

    @property
    def edges_match(self) -> bool:
        return self.first_key == self.last_key


def width_choices(plan: Plan, *, step_um: int = 1) -> tuple[WidthChoice, ...]:
    """The repeats that the plan comes to, one fewer and one more, each bare, with one end and with the mirror's ends.

    From the narrowest to the widest; empty for an order that is the whole warp. `asks_um` is rounded down to
    whole `step_um` where that comes to the same repeats. Raises CalcError as `work_width` does.
    """
    width = work_width(plan)
    if width.repeats is None:
        return ()
    keys = plan.order.sequence()
    mirror = mirror_balance(plan.order)
    balances = sorted({0, 1, plan.balance_ends} | ({mirror} if mirror is not None else set()))
    found: dict[int, WidthChoice] = {}
    for repeats in range(max(1, width.repeats - 1), width.repeats + 2):
        for balance in balances:
            more = (repeats - width.repeats) * len(keys) + balance - plan.balance_ends
            pattern = width.pattern_ends + more
            asks_um = width_to_ask(plan, repeats, balance, pattern, step_um)
            if asks_um is None:
                continue
            in_reed = plan.width_um(width.places + more)
            choice = WidthChoice(
                repeats=repeats,
                balance=balance,
                ends=width.ends + more,
                in_reed_um=in_reed,
                finished_um=after_losses(in_reed, plan.losses_across),
                asks_um=asks_um,
                first_key=keys[0],
                last_key=keys[(balance or len(keys)) - 1],
                symmetrical=mirror is not None and (balance - mirror) % len(keys) == 0,
                chosen=(repeats, balance) == (width.repeats, plan.balance_ends),
            )
            # A repeat and nothing, and one repeat fewer balanced by all its ends, are the same warp.
            if choice.ends not in found or choice.chosen:
                found[choice.ends] = choice
    return tuple(found[ends] for ends in sorted(found))


def width_to_ask(plan: Plan, repeats: int, balance: int, pattern: int, step_um: int) -> int | None:
    """A finished size across, in um, that comes to these repeats: the plan's own if it does, else the pattern's,
    rounded down to whole `step_um` if that does. None where no size does."""
    exact = int(after_losses(plan.sett_to_fill.length_um_of(pattern), plan.losses_across))
    for asked in (plan.across_um, exact // step_um * step_um, exact):
        try:
            if work_width(replace(plan, across_um=asked, balance_ends=balance)).repeats == repeats:
                return asked
        except CalcError:
            continue
    return None
