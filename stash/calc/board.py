"""The warping board's path: so many full widths and a part, measured by a guide string."""

from __future__ import annotations

from dataclasses import dataclass

from stash.calc.errors import CalcError


@dataclass(frozen=True, slots=True)
class BoardPath:
    """A warp length on a board whose pegs, or a mill whose turns, are `step_um` apart; um."""

    warp_um: int
    step_um: int
    widths: int
    """Full widths of the board, or full turns of the mill."""
    part_um: int
    """What is left to go to the last peg."""

    @property
    def guide_um(self) -> int:
        """The guide string from first peg to last: as long as the warp. Its knots come on top."""
        return self.warp_um


def board_path(warp_um: int, step_um: int) -> BoardPath:
    """How the warp lies on the board. `step_um` is what the board really measures: pegs are a yard apart by
    name only (common practice). Raises CalcError unless both are more than nothing."""
    for name, length in (("warp_um", warp_um), ("step_um", step_um)):
        if length < 1:
            raise CalcError("Give a length of more than nothing.", field=name)
    widths, part = divmod(warp_um, step_um)
    return BoardPath(warp_um, step_um, widths, part)
