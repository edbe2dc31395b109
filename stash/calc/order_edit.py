"""An order as rows that are changed one at a time: what stands behind the buttons beside the typed line.

The line stays the one truth: an order is read from it, one row is changed, and the new line is written. A row is
named by its path: (2,) is the third item of the line, (2, 0) the first item inside it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

from stash.calc.borders import mirrored, without_first
from stash.calc.colour_order import (
    DEEPEST_NESTING,
    MOST_CHARACTERS,
    MOST_THREADS,
    Item,
    Order,
    Repeat,
    Run,
)
from stash.calc.errors import CalcError

Path: TypeAlias = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the list: a run, or a repeat whose rows follow it, one step further in."""

    path: Path
    number: int
    """Threads of a run, or how often a repeat comes."""
    key: str
    """Shade of a run; empty for a repeat."""
    length: int
    """Threads in all, each time that what it stands in comes round."""
    begins_at: int
    """The thread, counted from 1, with which it begins the first time."""
    first: bool
    """Nothing stands above it: it cannot go up."""
    last: bool

    @property
    def depth(self) -> int:
        return len(self.path) - 1

    @property
    def is_repeat(self) -> bool:
        return not self.key


def rows_of(order: Order) -> tuple[Row, ...]:
    """The rows from top to bottom."""
    return tuple(_rows(order.items, (), 1))


def with_number(order: Order, path: Path, number: int) -> Order:
    """With another number of threads, or of times, in that row. Raises CalcError."""
    if number < 1:
        raise CalcError("Give 1 or more; to be rid of the row, take it out.", field="number")
    if number > MOST_THREADS:
        raise CalcError(f"An order holds at most {MOST_THREADS:,} threads.", field="number")
    return _changed(
        order,
        path,
        lambda item: Run(number, item.key) if isinstance(item, Run) else Repeat(number, item.items),
    )


def with_key(order: Order, path: Path, key: str) -> Order:
    """With another shade in that row. Raises CalcError."""

    def change(item: Item) -> Item:
        if isinstance(item, Repeat):
            raise CalcError("A repeat has no shade of its own.", field="key")
        return Run(item.number, key)

    return _changed(order, path, change)


def added(order: Order | None, path: Path | None, run: Run) -> tuple[Order, Path]:
    """With a run below that row, or at the end, and where it stands. Raises CalcError."""
    if order is None:
        return Order((run,)), (0,)
    if path is None:
        return _order((*order.items, run)), (len(order.items),)
    at(order, path)
    place = (*path[:-1], path[-1] + 1)
    return _order(_inserted(order.items, place, run)), place


def removed(order: Order, path: Path) -> Order:
    """Without that row and what stands in it; a repeat left empty goes too. Raises CalcError for the last one."""
    at(order, path)
    gone = _gone_from(order.items, path)
    if len(gone) == 1 and len(order.items) == 1:
        raise CalcError("This is the only row: an order holds at least 1 thread.", field="path")
    return _order(_without(order.items, gone))


def moved(order: Order, path: Path, way: Literal["up", "down"]) -> tuple[Order, Path]:
    """One row up or down, into and out of repeats as it comes to them, and where the row stands then.

    At the end of the list it stays where it is. Raises CalcError if it would nest too deep.
    """
    at(order, path)
    siblings = _children(order, path[:-1])
    here = path[-1]
    beside = here - 1 if way == "up" else here + 1
    if not 0 <= beside < len(siblings):
        if len(path) == 1:
            return order, path
        return placed(order, path, path[:-1] if way == "up" else (*path[:-2], path[-2] + 1))
    neighbour = siblings[beside]
    if isinstance(neighbour, Repeat) and _depth(siblings[here]) + len(path) <= DEEPEST_NESTING:
        inside = len(neighbour.items) if way == "up" else 0
        return placed(order, path, (*path[:-1], beside, inside))
    return placed(order, path, (*path[:-1], beside if way == "up" else beside + 1))


def placed(order: Order, path: Path, before: Path) -> tuple[Order, Path]:
    """With that row moved before the one at `before`, which may be one past the last of its group.

    Answers where the row stands then. Raises CalcError if there is no such place.
    """
    item = at(order, path)
    if before[: len(path)] == path:
        if before == path:
            return order, path
        raise CalcError("A repeat cannot be moved into itself.", field="path")
    siblings = _children(order, before[:-1])
    if not before or not 0 <= before[-1] <= len(siblings):
        raise CalcError("There is no such place in this order.", field="path")
    items = _inserted(order.items, before, item)
    old = _after_insertion(path, before)
    gone = _gone_from(items, old)
    return _order(_without(items, gone)), _after_removal(before, gone)


def repeated(order: Order, paths: Sequence[Path], times: int = 2) -> tuple[Order, Path]:
    """With those rows, which must follow each other, made into one repeat, and where that stands."""
    if not paths:
        raise CalcError("Tick the rows that are to come again.", field="path")
    chosen = sorted(set(paths))
    for path in chosen:
        at(order, path)
    # A row inside a repeat that is chosen itself comes along with it.
    chosen = [path for path in chosen if not any(path[:length] in chosen for length in range(1, len(path)))]
    parent, start = chosen[0][:-1], chosen[0][-1]
    if chosen != [(*parent, start + step) for step in range(len(chosen))]:
        raise CalcError(
            "These rows do not follow each other in one group: tick rows that stand side by side.",
            field="path",
        )
    siblings = _children(order, parent)
    end = start + len(chosen)
    group = Repeat(times, siblings[start:end])
    items = (*siblings[:start], group, *siblings[end:])
    return _order(_with_children(order.items, parent, items)), (*parent, start)


def unwrapped(order: Order, path: Path) -> Order:
    """With what stands in that repeat in its place, once. Raises CalcError."""
    item = at(order, path)
    if isinstance(item, Run):
        raise CalcError("This row is no repeat.", field="path")
    siblings = _children(order, path[:-1])
    items = (*siblings[: path[-1]], *item.items, *siblings[path[-1] + 1 :])
    return _order(_with_children(order.items, path[:-1], items))


def is_symmetrical(order: Order) -> bool:
    """True if it reads the same from either end."""
    keys = order.sequence()
    return keys == keys[::-1]


def symmetrical(order: Order, *, middle_twice: bool) -> Order:
    """The order and then the same back to its start, the thread in the middle once or twice.

    One that reads the same from either end already stays as it is. Raises CalcError beyond 20,000 threads.
    """
    if is_symmetrical(order):
        return order
    back = mirrored(order) if middle_twice else without_first(mirrored(order), 1)
    return _order((*order.items, *back.items))


def symmetrical_repeat(order: Order, *, middle_twice: bool) -> tuple[Order, int]:
    """An order that fills the width, and the balance with which the whole warp reads the same from either side.

    One that comes out even with some balance stays as it is. Otherwise it goes back to its start: with its
    first and last thread once where it turns, and one end for balance; or with both of them twice.
    """
    balance = mirror_balance(order)
    if balance is not None:
        return order, balance
    if middle_twice:
        return symmetrical(order, middle_twice=True), 0
    there_and_back = symmetrical(order, middle_twice=False)
    return _order(there_and_back.first(there_and_back.length - 1).items), 1


def mirror_balance(order: Order) -> int | None:
    """The fewest ends for balance with which any number of repeats reads the same from either side, if any do.

    So `1 A, 1 B` wants one end; `8 A, 4 B` eight; `1 A, 1 B, 2 C` has no such number.
    """
    signs: dict[str, str] = {}
    line = "".join(signs.setdefault(key, chr(0x100 + len(signs))) for key in order.sequence())
    place = (line[::-1] * 2).rfind(line)
    return None if place < 0 else len(line) - place


def at(order: Order, path: Path) -> Item:
    """The item in that row. Raises CalcError if the order has none there."""
    if path:
        siblings = _children(order, path[:-1])
        if 0 <= path[-1] < len(siblings):
            return siblings[path[-1]]
    raise CalcError("This row is no longer there: the line was changed meanwhile.", field="path")


def _rows(items: tuple[Item, ...], parent: Path, begins_at: int) -> Iterator[Row]:
    top = not parent
    for place, item in enumerate(items):
        path = (*parent, place)
        first, last = top and place == 0, top and place == len(items) - 1
        if isinstance(item, Run):
            yield Row(path, item.number, item.key, item.length, begins_at, first, last)
        else:
            yield Row(path, item.times, "", item.length, begins_at, first, last)
            yield from _rows(item.items, path, begins_at)
        begins_at += item.length


def _order(items: tuple[Item, ...]) -> Order:
    """An order that can be written as a line and read again. Raises CalcError."""
    order = Order(items)
    if max(map(_depth, items)) > DEEPEST_NESTING:
        raise CalcError(f"Repeats may stand inside each other {DEEPEST_NESTING} deep.", field="path")
    if len(order.text) > MOST_CHARACTERS:
        raise CalcError(
            f"Written as a line this order has more than {MOST_CHARACTERS:,} characters. Make what comes again "
            "into a repeat.",
            field="path",
        )
    return order


def _depth(item: Item) -> int:
    return 1 + max(map(_depth, item.items)) if isinstance(item, Repeat) else 0


def _children(order: Order, parent: Path) -> tuple[Item, ...]:
    items = order.items
    for place in parent:
        found = items[place] if 0 <= place < len(items) else None
        if not isinstance(found, Repeat):
            raise CalcError("This row is no longer there: the line was changed meanwhile.", field="path")
        items = found.items
    return items


def _with_children(items: tuple[Item, ...], parent: Path, children: tuple[Item, ...]) -> tuple[Item, ...]:
    if not parent:
        return children
    group = items[parent[0]]
    assert isinstance(group, Repeat)  # _children has walked the same way
    inner = Repeat(group.times, _with_children(group.items, parent[1:], children))
    return (*items[: parent[0]], inner, *items[parent[0] + 1 :])


def _changed(order: Order, path: Path, change: Callable[[Item], Item]) -> Order:
    item = at(order, path)
    siblings = _children(order, path[:-1])
    items = (*siblings[: path[-1]], change(item), *siblings[path[-1] + 1 :])
    return _order(_with_children(order.items, path[:-1], items))


def _inside(items: tuple[Item, ...], parent: Path) -> tuple[Item, ...]:
    for place in parent:
        group = items[place]
        assert isinstance(group, Repeat)  # _children has walked the same way
        items = group.items
    return items


def _inserted(items: tuple[Item, ...], place: Path, item: Item) -> tuple[Item, ...]:
    siblings = _inside(items, place[:-1])
    return _with_children(items, place[:-1], (*siblings[: place[-1]], item, *siblings[place[-1] :]))


def _without(items: tuple[Item, ...], path: Path) -> tuple[Item, ...]:
    siblings = _inside(items, path[:-1])
    return _with_children(items, path[:-1], (*siblings[: path[-1]], *siblings[path[-1] + 1 :]))


def _gone_from(items: tuple[Item, ...], path: Path) -> Path:
    """The row itself, or the outermost repeat that would be left empty without it."""
    while len(path) > 1 and len(_inside(items, path[:-1])) == 1:
        path = path[:-1]
    return path


def _after_insertion(path: Path, place: Path) -> Path:
    """Where a row stands once another was put at `place`."""
    level = len(place) - 1
    if len(path) > level and path[:level] == place[:level] and path[level] >= place[level]:
        return (*path[:level], path[level] + 1, *path[level + 1 :])
    return path


def _after_removal(path: Path, gone: Path) -> Path:
    """Where a row stands once the one at `gone` was taken out."""
    level = len(gone) - 1
    if len(path) > level and path[:level] == gone[:level] and path[level] > gone[level]:
        return (*path[:level], path[level] - 1, *path[level + 1 :])
    return path
