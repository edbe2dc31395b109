"""Colour order: which shade comes how often, as one line that people type and as a tree inside.

The line reads as it is spoken: `8 A, 4 B, 3 times (1 A, 1 B), 2 C`. A key is one or two letters and
stands for a shade of the project. The same line serves ends (from the left) and picks (from the first).
The tree is never expanded to be measured, so that a line of a million repeats is refused at once.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from typing import TypeAlias

from stash.calc.errors import CalcError

MOST_THREADS = 20_000
MOST_CHARACTERS = 2_000
DEEPEST_NESTING = 8

_DIGITS = frozenset("0123456789")
_LETTERS = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz")


@dataclass(frozen=True, slots=True)
class Run:
    """`number` threads of shade `key`, side by side."""

    number: int
    key: str

    def __post_init__(self) -> None:
        if self.number < 1:
            raise CalcError("A run holds at least 1 thread.", field="number")
        if not (1 <= len(self.key) <= 2 and _LETTERS.issuperset(self.key) and self.key.isupper()):
            raise CalcError("A shade is one or two letters from A to Z.", field="key")

    @property
    def length(self) -> int:
        return self.number

    @property
    def text(self) -> str:
        return f"{self.number} {self.key}"


@dataclass(frozen=True, slots=True)
class Repeat:
    """`items`, in their order, so many `times`."""

    times: int
    items: tuple[Item, ...]
    length: int = field(init=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        if self.times < 1:
            raise CalcError("What is repeated comes at least once.", field="times")
        if not self.items:
            raise CalcError("There is nothing to repeat.", field="items")
        object.__setattr__(self, "length", self.times * sum(item.length for item in self.items))

    @property
    def text(self) -> str:
        return f"{self.times} times ({_text_of(self.items)})"


Item: TypeAlias = Run | Repeat


@dataclass(frozen=True, slots=True)
class Order:
    """A whole colour order of 1 to 20,000 threads; raises CalcError beyond that."""

    items: tuple[Item, ...]
    length: int = field(init=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        if not self.items:
            raise CalcError("An order holds at least 1 thread.", field="items")
        length = sum(item.length for item in self.items)
        if length > MOST_THREADS:
            raise CalcError(f"An order holds at most {MOST_THREADS:,} threads.", field="items")
        object.__setattr__(self, "length", length)

    @property
    def text(self) -> str:
        """The line as it would be typed; reading it gives an equal order."""
        return _text_of(self.items)

    @property
    def by_key(self) -> dict[str, int]:
        """Threads of each shade, in the order in which the shades first appear."""
        return self.counts_over(self.length)

    def counts_over(self, number: int) -> dict[str, int]:
        """Threads of each shade in so many threads, the order begun again whenever it runs out."""
        counts: dict[str, int] = {}
        whole, rest = divmod(number, self.length)
        if whole:
            _count(self.items, whole, counts)
        if rest:
            _count(_first(self.items, rest), 1, counts)
        return counts

    def sequence(self) -> tuple[str, ...]:
        """The key of every thread, one by one."""
        return tuple(_expanded(self.items))

    def runs(self) -> Iterator[tuple[int, str]]:
        """(number, key) from the left, like neighbours merged, so that no key follows itself."""
        number, key = 0, ""
        for run in _flat(self.items):
            if run.key == key:
                number += run.number
                continue
            if number:
                yield number, key
            number, key = run.number, run.key
        yield number, key

    def first(self, number: int) -> Order:
        """The order of the first so many threads; CalcError unless 1 to `length`."""
        if not 1 <= number <= self.length:
            raise CalcError(
                f"From 1 to {self.length:,} threads can be taken from this order.", field="number"
            )
        return Order(_first(self.items, number))

    def filled(self, times: int, then_first: int = 0) -> Order:
        """The order so many `times` over, then its first `then_first` threads again for balance."""
        items = _repeated(times, self.items)
        return Order(items + _first(self.items, then_first) if then_first else items)


def read_order(text: str, keys: Collection[str] | None = None, word: str = "ends") -> Order:
    """Read a typed line; `keys` are the shades that exist (None: any), `word` says ends or picks.

    Lower case is taken as capitals and spaces are free; commas between the items are not.
    Raises CalcError with the 1-based `position` of the character that could not be read.
    """
    if len(text) > MOST_CHARACTERS:
        raise CalcError(
            f"An order has at most {MOST_CHARACTERS:,} characters; this one has {len(text):,}. "
            "Write what comes again as a repeat: 3 times (1 A, 1 B).",
            position=MOST_CHARACTERS + 1,
        )
    return _Reader(text, keys, word).read()


class _Reader:
    """One pass over the line, item by item; `at` is the index of the next character."""

    def __init__(self, text: str, keys: Collection[str] | None, word: str) -> None:
        self.text = text
        self.keys = keys
        self.word = word
        self.at = 0

    def read(self) -> Order:
        if not self.text.strip():
            raise CalcError("Write the order, such as 8 A, 4 B.", position=1)
        order = Order(self.items(opened_at=None, depth=0))
        if len(order.text) > MOST_CHARACTERS:
            raise CalcError(
                f"Written out with its spaces this order has more than {MOST_CHARACTERS:,} characters. "
                "Write what comes again as a repeat: 3 times (1 A, 1 B).",
                position=1,
            )
        return order

    def items(self, opened_at: int | None, depth: int) -> tuple[Item, ...]:
        """Items up to the closing bracket of the one at `opened_at`, or up to the end of the line."""
        found: list[Item] = []
        length = 0
        while True:
            self.skip_spaces()
            start = self.at
            item = self.item(depth)
            length += item.length
            self.refuse_too_many(length, start)
            found.append(item)
            self.skip_spaces()
            sign = self.peek()
            if sign == ",":
                self.at += 1
            elif sign == ")" and opened_at is not None:
                self.at += 1
                return tuple(found)
            elif sign == ")":
                raise self.error("“)” closes a bracket that was never opened.")
            elif sign:
                raise self.error(f"A comma is missing before “{sign}”: write 8 A, 4 B.")
            elif opened_at is not None:
                raise CalcError(
                    "This bracket “(” is not closed: write “)” after its last item.", position=opened_at + 1
                )
            else:
                return tuple(found)

    def item(self, depth: int) -> Item:
        start = self.at
        number = self.number()
        self.skip_spaces()
        word_start = self.at
        word = self.letters()
        if word.lower() == "times":
            return self.repeat(number, depth, start)
        if not word:
            raise self.missing_key(number)
        key = word.upper()
        if len(key) > 2:
            raise CalcError(
                f"“{word}” cannot be read: after a number comes a shade of one or two letters, or “times (”.",
                position=word_start + 1,
            )
        if self.keys is not None and key not in self.keys:
            known = ", ".join(sorted(self.keys, key=key_order))
            raise CalcError(
                f"There is no shade “{key}” here; known: {known or 'none yet'}.", position=word_start + 1
            )
        return Run(number, key)

    def repeat(self, times: int, depth: int, start: int) -> Repeat:
        self.skip_spaces()
        if self.peek() != "(":
            raise self.error("After “times” comes a bracket: 3 times (1 A, 1 B).")
        if depth == DEEPEST_NESTING:
            raise self.error(
                f"Brackets may stand inside each other {DEEPEST_NESTING} deep; this is one more."
            )
        opened_at = self.at
        self.at += 1
        items = self.items(opened_at, depth + 1)
        self.refuse_too_many(times * sum(item.length for item in items), start)
        return Repeat(times, items)

    def number(self) -> int:
        start = self.at
        while self.at < len(self.text) and self.text[self.at] in _DIGITS:
            self.at += 1
        digits = self.text[start : self.at].lstrip("0")
        if start == self.at:
            raise self.missing_number()
        if not digits:
            raise CalcError(f"0 {self.word} cannot be laid: give 1 or more.", position=start + 1)
        if len(digits) > len(str(MOST_THREADS)):
            raise self.too_many(start)
        self.refuse_too_many(int(digits), start)
        return int(digits)

    def letters(self) -> str:
        start = self.at
        while self.at < len(self.text) and self.text[self.at] in _LETTERS:
            self.at += 1
        return self.text[start : self.at]

    def skip_spaces(self) -> None:
        while self.at < len(self.text) and self.text[self.at].isspace():
            self.at += 1

    def peek(self) -> str:
        return self.text[self.at] if self.at < len(self.text) else ""

    def missing_number(self) -> CalcError:
        sign = self.peek()
        if not sign:
            return self.error("The line ends where a number is expected: go on with, for example, 4 B.")
        if sign in _LETTERS:
            return self.error(f"A number is missing before “{sign}”: write 1 {sign.upper()}.")
        if sign == "(":
            return self.error("Before “(” say how often: 3 times (1 A, 1 B).")
        return self.error(f"“{sign}” cannot stand here: a number is expected, as in 8 A.")

    def missing_key(self, number: int) -> CalcError:
        sign = self.peek()
        if not sign:
            return self.error(f"The line ends after {number}: say which shade, as in {number} A.")
        if sign == "(":
            return self.error(f"Write “times” before the bracket: {number} times (1 A, 1 B).")
        return self.error(
            f"“{sign}” cannot stand here: after {number} comes a shade, as in {number} A, or “times (”."
        )

    def refuse_too_many(self, length: int, start: int) -> None:
        if length > MOST_THREADS:
            raise self.too_many(start)

    def too_many(self, start: int) -> CalcError:
        return CalcError(
            f"From here on it comes to more than {MOST_THREADS:,} {self.word}, the most that can be planned.",
            position=start + 1,
        )

    def error(self, message: str) -> CalcError:
        return CalcError(message, position=self.at + 1)


def key_order(key: str) -> tuple[int, str]:
    """Sort keys as people count them: A to Z, then AA."""
    return len(key), key


def _text_of(items: tuple[Item, ...]) -> str:
    return ", ".join(item.text for item in items)


def _count(items: tuple[Item, ...], times: int, counts: dict[str, int]) -> None:
    for item in items:
        if isinstance(item, Run):
            counts[item.key] = counts.get(item.key, 0) + times * item.number
        else:
            _count(item.items, times * item.times, counts)


def _expanded(items: tuple[Item, ...]) -> list[str]:
    threads: list[str] = []
    for item in items:
        if isinstance(item, Run):
            threads += [item.key] * item.number
        else:
            threads += _expanded(item.items) * item.times
    return threads


def _flat(items: tuple[Item, ...]) -> Iterator[Run]:
    for item in items:
        if isinstance(item, Run):
            yield item
        else:
            for _ in range(item.times):
                yield from _flat(item.items)


def _repeated(times: int, items: tuple[Item, ...]) -> tuple[Item, ...]:
    return items if times == 1 else (Repeat(times, items),)


def _first(items: tuple[Item, ...], number: int) -> tuple[Item, ...]:
    """The items that make up the first `number` threads; `number` is from 1 to their length."""
    found: tuple[Item, ...] = ()
    for item in items:
        if number >= item.length:
            found += (item,)
            number -= item.length
        elif isinstance(item, Run):
            found += (Run(number, item.key),)
            number = 0
        else:
            whole, rest = divmod(number, item.length // item.times)
            if whole:
                found += _repeated(whole, item.items)
            if rest:
                found += _first(item.items, rest)
            number = 0
        if not number:
            break
    return found
