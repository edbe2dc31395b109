"""Drafts typed in: threading, tie-up and treadling, or a lift plan, as lines that are read aloud at the loom.

All four lines have one grammar. Each says what comes after what, with commas or spaces between: `1, 2, 3, 4`.
A straight run may be written `1-4` or `4-1`, and what comes again `3 times (1, 2, 3, 4)`. Things that happen
together are joined by a plus: `1+2` in a tie-up is a treadle that lifts shafts 1 and 2.

threading   the shaft of every end, from the left, begun again until the warp is threaded
tie-up      treadle by treadle from the first, the shafts that it lifts
treadling   the treadles pressed, pick by pick from the first, begun again until the piece is woven
lift plan   the shafts lifted, pick by pick: instead of tie-up and treadling
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from itertools import chain
from typing import Protocol, TypeAlias

from stash.calc.colour_order import DEEPEST_NESTING, MOST_CHARACTERS, MOST_THREADS
from stash.calc.errors import CalcError
from stash.calc.structure import Structure, structure

DRAFT = "draft"
"""The key under which a plan says that its structure is a draft of its own."""
MOST_SHAFTS = 40
MOST_TREADLES = 40

_DIGITS = frozenset("0123456789")
_LETTERS = frozenset("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ")
# As it is copied from a printed page, a dash between figures may be any of these.
_DASHES = frozenset("-–—‐‑−")


@dataclass(frozen=True, slots=True)
class Step:
    """What happens at once: one shaft, or several shafts or treadles together, in rising order."""

    numbers: tuple[int, ...]

    @property
    def length(self) -> int:
        return 1

    @property
    def text(self) -> str:
        return "+".join(map(str, self.numbers))


@dataclass(frozen=True, slots=True)
class Straight:
    """A straight run from one number to another, rising or falling."""

    first: int
    last: int

    @property
    def length(self) -> int:
        return abs(self.last - self.first) + 1

    @property
    def text(self) -> str:
        return f"{self.first}-{self.last}"

    @property
    def numbers(self) -> range:
        step = 1 if self.last >= self.first else -1
        return range(self.first, self.last + step, step)


@dataclass(frozen=True, slots=True)
class Again:
    """`parts`, in their order, so many `times`."""

    times: int
    parts: tuple[Part, ...]
    length: int = field(init=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "length", self.times * sum(part.length for part in self.parts))

    @property
    def text(self) -> str:
        return f"{self.times} times ({_text_of(self.parts)})"


Part: TypeAlias = Step | Straight | Again


@dataclass(frozen=True, slots=True)
class Line:
    """One typed line; `text` is how it would be typed, and reading that gives an equal line."""

    parts: tuple[Part, ...]

    @property
    def length(self) -> int:
        return sum(part.length for part in self.parts)

    @property
    def text(self) -> str:
        return _text_of(self.parts)

    def steps(self) -> tuple[tuple[int, ...], ...]:
        """What happens at once, one after the other, repeats written out."""
        return tuple(_expanded(self.parts))


class Interlacing(Protocol):
    """What a cloth picture and a threading list ask of a structure, whether it is a common one or typed in."""

    @property
    def name(self) -> str: ...

    @property
    def threading(self) -> Sequence[int]:
        """The shaft of every end of the repeat from the left, counted from 1."""
        ...

    @property
    def lifts(self) -> Sequence[frozenset[int]]:
        """The shafts lifted on every pick of the repeat."""
        ...


@dataclass(frozen=True, slots=True)
class Draft:
    """A draft that can be woven: every end is bound by some pick and every pick by some end.

    `written` holds the four lines as they would be typed, empty where a line is not used.
    """

    threading: tuple[int, ...]
    lifts: tuple[frozenset[int], ...]
    written: tuple[str, str, str, str] = ("", "", "", "")
    name: str = "a draft of its own"

    @property
    def ends(self) -> int:
        """Ends in the repeat of the threading."""
        return len(self.threading)

    @property
    def picks(self) -> int:
        """Picks in the repeat of the treadling or lift plan."""
        return len(self.lifts)

    @property
    def shafts(self) -> int:
        """Shafts that the loom must have: the highest one threaded."""
        return max(self.threading)

    def up(self, end: int, pick: int) -> bool:
        """True where that end lies over that pick, both counted from 0 anywhere in the cloth."""
        return self.threading[end % self.ends] in self.lifts[pick % self.picks]


@dataclass(frozen=True, slots=True)
class Floats:
    """The longest floats in threads passed over: of the warp, counted in picks, of the weft, in ends."""

    warp_picks: int
    weft_ends: int


def read_draft(threading: str, tie_up: str = "", treadling: str = "", lift_plan: str = "") -> Draft:
    """A draft from its typed lines: tie-up and treadling, or a lift plan.

    Raises CalcError whose `field` is threading, tie_up, treadling or lift_plan; what cannot be read comes
    with the 1-based `position` of the character.
    """
    threaded = read_line(threading, "threading")
    shafts = tuple(numbers[0] for numbers in threaded.steps())
    if lift_plan.strip():
        if tie_up.strip() or treadling.strip():
            raise CalcError(
                "Give a lift plan, or a tie-up with its treadling: one of the two is enough.",
                field="lift_plan",
            )
        lifted = read_line(lift_plan, "lift_plan")
        lifts = tuple(frozenset(step) for step in lifted.steps())
        written = threaded.text, "", "", lifted.text
        _check_threaded(lifts, shafts, "lift_plan", "Pick")
        _check_bound(shafts, lifts, "lift_plan")
        return Draft(shafts, lifts, written)
    if not tie_up.strip() and not treadling.strip():
        raise CalcError(
            "Give a tie-up, such as 1+2, 2+3, 3+4, 1+4, and the treadling; or a lift plan.", field="tie_up"
        )
    tied, trodden = read_line(tie_up, "tie_up"), read_line(treadling, "treadling")
    treadles = tuple(frozenset(step) for step in tied.steps())
    _check_threaded(treadles, shafts, "tie_up", "Treadle")
    lifts = _lifts(treadles, trodden)
    _check_bound(shafts, lifts, "treadling")
    return Draft(shafts, lifts, (threaded.text, tied.text, trodden.text, ""))


def interlacing(
    key: str, *, threading: str = "", tie_up: str = "", treadling: str = "", lift_plan: str = ""
) -> Structure | Draft:
    """The structure of that key, or the draft typed in where the key says so. Raises CalcError."""
    if key == DRAFT:
        return read_draft(threading, tie_up, treadling, lift_plan)
    return structure(key)


def threading_of(weave: Interlacing, ends: int) -> tuple[int, ...]:
    """The shaft of each of so many ends that stand in a heddle, from the left, counted from 1.

    A common structure is threaded straight on the fewest shafts that weave it: plain weave on two.
    """
    repeat = tuple(weave.threading)
    whole, rest = divmod(ends, len(repeat))
    return repeat * whole + repeat[:rest]


def heddles_by_shaft(weave: Interlacing, ends: int) -> dict[int, int]:
    """Heddles on each shaft for so many ends that stand in a heddle; a shaft left out of the threading has 0."""
    counts = dict.fromkeys(range(1, max(weave.threading) + 1), 0)
    whole, rest = divmod(ends, len(weave.threading))
    for place, shaft in enumerate(weave.threading):
        counts[shaft] += whole + (place < rest)
    return counts


def check_shafts(weave: Interlacing, shafts: int, loom: str = "The loom") -> None:
    """Raises CalcError naming the first end that is threaded on a shaft that the loom has not."""
    for place, shaft in enumerate(weave.threading):
        if shaft > shafts:
            raise CalcError(
                f"{loom} has {shafts} shafts; end {place + 1:,} of the threading stands on shaft {shaft}. "
                f"Thread on shafts 1 to {shafts}, or choose a loom with {max(weave.threading)}.",
                field="threading" if isinstance(weave, Draft) else "structure",
                position=place + 1,
            )


def longest_floats(weave: Interlacing) -> Floats:
    """The longest float of each system on either side, the repeat going on around its end."""
    used = sorted(set(weave.threading))
    warp = max(_longest_run(bytes(shaft in lift for lift in weave.lifts)) for shaft in used)
    threads = bytes(weave.threading)
    weft = max(
        _longest_run(threads.translate(bytes(shaft in lift for shaft in range(256))))
        for lift in set(weave.lifts)
    )
    return Floats(warp, weft)


def read_line(text: str, field_name: str) -> Line:
    """One line of a draft. `field_name` is threading, tie_up, treadling or lift_plan; see `read_draft`."""
    words = _WORDS[field_name]
    if len(text) > MOST_CHARACTERS:
        raise CalcError(
            f"{words.line} has at most {MOST_CHARACTERS:,} characters; this one has {len(text):,}. Write what "
            "comes again as a repeat: 3 times (1, 2, 3, 4).",
            field=field_name,
            position=MOST_CHARACTERS + 1,
        )
    return _Reader(text, field_name, words).read()


@dataclass(frozen=True, slots=True)
class _Words:
    """How a line is spoken of, and what it takes."""

    line: str
    one: str
    step: str
    example: str
    together: bool
    repeats: bool
    most: int
    most_steps: int = MOST_THREADS


_WORDS = {
    "threading": _Words(
        "A threading", "shaft", "end", "1, 2, 3, 4", together=False, repeats=True, most=MOST_SHAFTS
    ),
    "tie_up": _Words(
        "A tie-up", "shaft", "treadle", "1+2, 2+3, 3+4, 1+4", together=True, repeats=False,
        most=MOST_SHAFTS, most_steps=MOST_TREADLES,
    ),
    "treadling": _Words(
        "A treadling", "treadle", "pick", "1, 2, 3, 4", together=True, repeats=True, most=MOST_TREADLES
    ),
    "lift_plan": _Words(
        "A lift plan", "shaft", "pick", "1+2, 2+3, 3+4, 1+4", together=True, repeats=True, most=MOST_SHAFTS
    ),
}  # fmt: skip


class _Reader:
    """One pass over a line; `at` is the index of the next character."""

    def __init__(self, text: str, field_name: str, words: _Words) -> None:
        self.text = text
        self.field = field_name
        self.words = words
        self.at = 0

    def read(self) -> Line:
        if not self.text.strip():
            raise CalcError(
                f"{self.words.line} is missing: write it as {self.words.example}.",
                field=self.field,
                position=1,
            )
        line = Line(self.parts(opened_at=None, depth=0))
        if len(line.text) > MOST_CHARACTERS:
            raise self.error(
                f"Written out this line has more than {MOST_CHARACTERS:,} characters. Write what comes again as "
                "a repeat: 3 times (1, 2, 3, 4).",
                0,
            )
        return line

    def parts(self, opened_at: int | None, depth: int) -> tuple[Part, ...]:
        """Parts up to the closing bracket of the one at `opened_at`, or up to the end of the line."""
        found: list[Part] = []
        length = 0
        while True:
            self.skip_spaces()
            start = self.at
            part = self.part(depth)
            length += part.length
            self.refuse_too_many(length, start)
            found.append(part)
            spaced = self.skip_spaces()
            sign = self.peek()
            if sign == ",":
                self.at += 1
            elif sign == ")" and opened_at is not None:
                self.at += 1
                return tuple(found)
            elif sign == ")":
                raise self.error("“)” closes a bracket that was never opened.")
            elif not sign and opened_at is not None:
                raise self.error("This bracket “(” is not closed: write “)” after its last part.", opened_at)
            elif not sign:
                return tuple(found)
            elif not (spaced and sign in _DIGITS):
                raise self.error(f"“{sign}” cannot stand here: {self.expected}.")

    def part(self, depth: int) -> Part:
        start = self.at
        number = self.number(times=True)
        after_number = self.at
        self.skip_spaces()
        word_start = self.at
        word = self.letters()
        if word.lower() == "times":
            return self.again(number, depth, start)
        if word:
            raise self.error(f"“{word}” cannot be read: {self.expected}.", word_start)
        if self.peek() == "(":
            raise self.error(f"Write “times” before the bracket: {number} times ({self.words.example}).")
        self.check(number, start)
        if self.peek() in _DASHES and self.peek():
            return self.straight(number)
        if self.peek() == "+":
            return self.together(number)
        self.at = after_number
        return Step((number,))

    def straight(self, first: int) -> Straight:
        self.at += 1
        self.skip_spaces()
        start = self.at
        last = self.number()
        self.check(last, start)
        return Straight(first, last)

    def together(self, first: int) -> Step:
        if not self.words.together:
            raise self.error("An end stands on one shaft: write 1, 2 for two ends on shafts 1 and 2.")
        numbers = [first]
        while self.peek() == "+":
            self.at += 1
            self.skip_spaces()
            start = self.at
            number = self.number()
            self.check(number, start)
            if number in numbers:
                raise self.error(f"{self.words.one.capitalize()} {number} stands here twice.", start)
            numbers.append(number)
            after = self.at
            self.skip_spaces()
            if self.peek() != "+":
                self.at = after
        return Step(tuple(sorted(numbers)))

    def again(self, times: int, depth: int, start: int) -> Again:
        if not self.words.repeats:
            raise self.error(
                f"A tie-up is written {self.words.step} by {self.words.step}, without repeats.", start
            )
        self.skip_spaces()
        if self.peek() != "(":
            raise self.error(f"After “times” comes a bracket: 3 times ({self.words.example}).")
        if not times:
            raise self.error("What is repeated comes at least once.", start)
        if depth == DEEPEST_NESTING:
            raise self.error(
                f"Brackets may stand inside each other {DEEPEST_NESTING} deep; this is one more."
            )
        opened_at = self.at
        self.at += 1
        parts = self.parts(opened_at, depth + 1)
        self.refuse_too_many(times * sum(part.length for part in parts), start)
        return Again(times, parts)

    def number(self, *, times: bool = False) -> int:
        start = self.at
        while self.at < len(self.text) and self.text[self.at] in _DIGITS:
            self.at += 1
        if start == self.at:
            sign = self.peek()
            if not sign:
                raise self.error(f"The line ends where a number is expected: {self.expected}.")
            raise self.error(f"“{sign}” cannot stand here: {self.expected}.")
        digits = self.text[start : self.at].lstrip("0")
        if len(digits) > len(str(MOST_THREADS)):
            raise self.too_many(start) if times else self.unknown(self.text[start : self.at], start)
        return int(digits or "0")

    def check(self, number: int, start: int) -> None:
        if not number and self.words.one == "shaft" and self.words.together:
            raise self.error(
                f"A {self.words.step} that lifts nothing leaves its weft over all ends, unbound: name the "
                "shafts that it lifts.",
                start,
            )
        if not 1 <= number <= self.words.most:
            raise self.unknown(str(number), start)

    def unknown(self, number: str, start: int) -> CalcError:
        return self.error(f"There is no {self.words.one} {number}: give 1 to {self.words.most}.", start)

    @property
    def expected(self) -> str:
        return f"a {self.words.one} is expected, as in {self.words.example}"

    def letters(self) -> str:
        start = self.at
        while self.at < len(self.text) and self.text[self.at] in _LETTERS:
            self.at += 1
        return self.text[start : self.at]

    def skip_spaces(self) -> bool:
        start = self.at
        while self.at < len(self.text) and self.text[self.at].isspace():
            self.at += 1
        return self.at > start

    def peek(self) -> str:
        return self.text[self.at] if self.at < len(self.text) else ""

    def refuse_too_many(self, length: int, start: int) -> None:
        if length > self.words.most_steps:
            raise self.too_many(start)

    def too_many(self, start: int) -> CalcError:
        return self.error(
            f"From here on it comes to more than {self.words.most_steps:,} {self.words.step}s, the most that "
            "can be planned.",
            start,
        )

    def error(self, message: str, at: int | None = None) -> CalcError:
        return CalcError(message, field=self.field, position=(self.at if at is None else at) + 1)


def _text_of(parts: tuple[Part, ...]) -> str:
    return ", ".join(part.text for part in parts)


def _expanded(parts: tuple[Part, ...]) -> list[tuple[int, ...]]:
    steps: list[tuple[int, ...]] = []
    for part in parts:
        if isinstance(part, Step):
            steps.append(part.numbers)
        elif isinstance(part, Straight):
            steps += ((number,) for number in part.numbers)
        else:
            steps += _expanded(part.parts) * part.times
    return steps


def _check_threaded(
    lifts: Sequence[frozenset[int]], shafts: Collection[int], field_name: str, word: str
) -> None:
    threaded = frozenset(shafts)
    for place, lift in enumerate(lifts):
        if not lift <= threaded:
            shaft = min(lift - threaded)
            raise CalcError(
                f"{word} {place + 1:,} lifts shaft {shaft}, and no end is threaded on it. Threaded are "
                f"{', '.join(map(str, sorted(threaded)))}.",
                field=field_name,
            )


def _lifts(treadles: Sequence[frozenset[int]], trodden: Line) -> tuple[frozenset[int], ...]:
    made: dict[tuple[int, ...], frozenset[int]] = {}
    lifts = []
    for pick, step in enumerate(trodden.steps()):
        if step not in made:
            if max(step) > len(treadles):
                tied = f"{len(treadles)} treadles" if len(treadles) > 1 else "1 treadle"
                raise CalcError(
                    f"Pick {pick + 1:,} presses treadle {max(step)}; the tie-up has {tied}.",
                    field="treadling",
                )
            made[step] = frozenset(chain.from_iterable(treadles[number - 1] for number in step))
        lifts.append(made[step])
    return tuple(lifts)


def _check_bound(shafts: Collection[int], lifts: Sequence[frozenset[int]], field_name: str) -> None:
    """Refuse a cloth that would fall apart: a thread that always lies on one side is not woven in."""
    threaded = frozenset(shafts)
    for place, lift in enumerate(lifts):
        if lift == threaded:
            raise CalcError(
                f"Pick {place + 1:,} lifts every shaft: its weft lies under all ends and is not bound.",
                field=field_name,
            )
    lifted = frozenset(chain.from_iterable(set(lifts)))
    down = threaded - lifted
    if down:
        raise CalcError(
            f"Shaft {min(down)} is never lifted: its ends lie under the cloth and are not bound.",
            field=field_name,
        )
    always = frozenset.intersection(*lifts)
    if always:
        raise CalcError(
            f"Shaft {min(always)} is lifted on every pick: its ends lie over the cloth and are not bound.",
            field=field_name,
        )


def _longest_run(sides: bytes) -> int:
    """The longest run of one side in a line that goes on around its end."""
    round_twice = sides + sides
    longest = max(len(run) for other in (b"\x00", b"\x01") for run in round_twice.split(other))
    return min(longest, len(sides))
