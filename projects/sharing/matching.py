"""Finding a file's shades on this studio's shelf: the same by name, else those that come near it.

Near is: of a yarn with the same count, or of the same chief fibre within a tenth in length per mass; then by the colour
on the screen, which is a hint and no more (trade practice: a shade is judged by eye, in daylight).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from projects.sharing.reading import ShadeInFile
from stash.calc.colour import apart
from stash.calc.counts import difference_in_grist
from stash.models import Shade, Yarn
from stash.models.folding import fold

MOST_NEAR = 8
NEAR_IN_GRIST = Fraction(1, 10)
NO_COLOUR = 1000.0
"""A shade without a colour for the screen comes after all that have one."""


@dataclass(frozen=True, slots=True)
class Matched:
    """What the shelf has for a shade of a file. `same` is of its own name and yarn; `near` the nearest first."""

    wanted: ShadeInFile
    same: Shade | None
    near: tuple[Shade, ...]

    @property
    def offered(self) -> tuple[Shade, ...]:
        return (self.same, *self.near) if self.same else self.near


def matched(wanted: Sequence[ShadeInFile]) -> list[Matched]:
    """One for each shade of the file; three queries, however many."""
    yarns = list(Yarn.objects.live().prefetch_related("fibres"))
    alike = {one.key: {yarn.pk for yarn in yarns if _alike(one, yarn)} for one in wanted}
    named = {yarn.pk for yarn in yarns if fold(yarn.name) in {fold(one.yarn) for one in wanted}}
    of_yarns = named.union(*alike.values()) if wanted else set()
    shades = list(Shade.objects.live().filter(yarn__in=of_yarns).select_related("yarn"))
    found: list[Matched] = []
    taken: set[int] = set()
    for one in wanted:
        same = next(
            (
                shade
                for shade in shades
                if fold(shade.name) == fold(one.name)
                and fold(shade.yarn.name) == fold(one.yarn)
                and shade.pk not in taken
            ),
            None,
        )
        if same:
            taken.add(same.pk)
        near = [shade for shade in shades if shade.yarn_id in alike[one.key] and shade is not same]
        near.sort(key=lambda shade: (_apart(one, shade), shade.name, shade.pk))
        found.append(Matched(one, same, tuple(near[:MOST_NEAR])))
    return found


def _alike(wanted: ShadeInFile, yarn: Yarn) -> bool:
    if wanted.count and yarn.count and yarn.count.written == wanted.count:
        return True
    own = {one.fibre: one.percent for one in yarn.fibres.all()}
    if (
        not own
        or not wanted.fibres
        or max(own, key=own.__getitem__) != max(wanted.fibres, key=wanted.fibres.__getitem__)
    ):
        return False
    return abs(difference_in_grist(wanted.grist, yarn.grist)) <= NEAR_IN_GRIST


def _apart(wanted: ShadeInFile, shade: Shade) -> float:
    return apart(wanted.colour, shade.colour) if wanted.colour and shade.colour else NO_COLOUR
