"""The scale that all stock bars of one list share."""

from math import ceil

from stash.calc.quantity import UNIT_OF_WORD
from stash.calc.writing import Measures


def shared_scale(most_um: int, measures: Measures) -> int:
    """A length in um that holds `most_um`: two figures and noughts, in the studio's own unit."""
    unit = UNIT_OF_WORD[measures.long_unit].size
    whole = max(1, ceil(most_um / unit))
    step = 10 ** max(0, len(str(whole)) - 2)
    return int(-(-whole // step) * step * unit)
