"""How near one shade is to another, in words."""

from stash.calc.colour import in_words
from stash.calc.grist import Grist
from stash.calc.writing import Measures


def how_near(gap: float | None) -> str:
    """`gap` is CIEDE2000; None where one of the two has no colour."""
    return "one of the two has no screen colour" if gap is None else f"on the screen {in_words(gap)}"


def finer(own: Grist, other: Grist, measures: Measures) -> str:
    """as fine; 4.2 % finer."""
    apart = other.um_per_mg / own.um_per_mg - 1
    if not apart:
        return "as fine"
    return f"{measures.percent(abs(apart))} {'finer' if apart > 0 else 'heavier'}"
