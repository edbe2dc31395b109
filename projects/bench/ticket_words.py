"""The warping ticket in words: shades written out and packages named, so that it reads without colour."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.utils.translation import gettext as _

from projects.bench.packages import TicketCone
from projects.bench.ticket import BeamTicket, Block, Line, Row, Ticket
from projects.wording import counted
from stash.calc.grist import Grist
from stash.calc.serving import Package, Thread
from stash.calc.writing import Measures


@dataclass(frozen=True, slots=True)
class Named:
    """A thread: its shade and its package. Two spools of one cone are told apart by their number."""

    shade: str
    package: str
    missing: bool = False


@dataclass(frozen=True, slots=True)
class ReadyCone:
    """What to fetch, and what should be left of it."""

    cone: TicketCone
    shade: str
    ends: int
    """Warp lengths that leave it for good."""
    ready: str
    remains: str
    gross: str
    """With its core; "" where the core is not known."""
    undercut: str
    """What it lacks by the books now; "" if nothing."""


@dataclass(frozen=True, slots=True)
class PaperLine:
    passes: int
    threads: Sequence[Named]

    @property
    def left(self) -> Named:
        return self.threads[0]

    @property
    def right(self) -> Named | None:
        return self.threads[1] if len(self.threads) > 1 else None


@dataclass(frozen=True, slots=True)
class PaperRow:
    row: Row
    lines: Sequence[PaperLine]

    @property
    def number(self) -> str:
        return str(self.row.first) if self.row.first == self.row.last else f"{self.row.first}–{self.row.last}"


@dataclass(frozen=True, slots=True)
class PaperBlock:
    block: Block
    rows: Sequence[PaperRow]

    @property
    def words(self) -> str:
        """Bouts 1 to 9, each of 48 ends; the first two are "Bouts 1 and 2"."""
        block = self.block
        between = "and" if block.times == 2 else "to"
        return f"Bouts {block.first} {between} {block.last}, all alike, each of {counted(block.ends, 'end')}"


class TicketWords:
    """Built from a ticket, the shades' names and grists by key, and the studio's units."""

    def __init__(
        self, ticket: Ticket, names: Mapping[str, str], grists: Mapping[str, Grist], measures: Measures
    ) -> None:
        self.ticket = ticket
        self.names = names
        self.grists = grists
        self.measures = measures
        spools = [over.taker for over in ticket.overs if over.taker.spool]
        self._several = {spool.cone_id for spool in spools if spool.spool > 1}

    def shade(self, key: str) -> str:
        return self.names.get(key, f"shade {key}, not named yet")

    def thread(self, thread: Thread) -> Named:
        if thread.package is None:
            return Named(self.shade(thread.key), "none put aside", missing=True)
        return Named(self.shade(thread.key), self.package(thread.package))

    def package(self, package: Package) -> str:
        code = self.ticket.cones[package.cone_id].code
        if not package.spool:
            return code
        number = f" {package.spool}" if package.cone_id in self._several else ""
        return f"spool{number} from {code}"

    def blocks(self, beam: BeamTicket) -> list[PaperBlock]:
        return [
            PaperBlock(block, [PaperRow(row, [self.line(line) for line in row.lines]) for row in block.rows])
            for block in beam.blocks
        ]

    def line(self, line: Line) -> PaperLine:
        return PaperLine(line.passes, [self.thread(thread) for thread in line.threads])

    def overs(self) -> list[str]:
        """What to do at the scale before the start."""
        said = []
        for over in self.ticket.overs:
            length = over.ends * self.ticket.warps_um[over.key]
            grist = self.grists[over.key]
            taker = self.package(over.taker)
            where = f"on to an empty spool, the {taker}" if over.taker.spool else f"on to {taker}"
            said.append(
                f"From {self.package(over.giver)} ({self.shade(over.key)}) {where}: "
                f"{counted(over.ends, 'warp length')}, {self.measures.long_length(length, 'up')} "
                f"({self.measures.mass(grist.mass_mg_of(length), 'up')})."
            )
        return said

    def ready(self) -> list[ReadyCone]:
        found = []
        for cone in self.ticket.packages.cones:
            drawn = self.ticket.serving.drawn(cone.pk)
            used = self.ticket.serving.ends.get(Package(cone.pk), 0)
            if not drawn and not used:
                continue
            mass = self.grists[cone.key].mass_mg_of(drawn * self.ticket.warps_um[cone.key])
            left: Fraction = cone.on_hand_mg - mass
            found.append(
                ReadyCone(
                    cone=cone,
                    shade=self.shade(cone.key),
                    ends=drawn,
                    ready=self.measures.mass(max(mass, 0), "up"),
                    remains=self.measures.mass(max(left, 0), "down"),
                    gross="" if cone.core_mg is None else self.measures.mass(max(left, 0) + cone.core_mg),
                    undercut=self.measures.mass(-left, "up") if left < 0 else "",
                )
            )
        return found

    def missing(self) -> list[str]:
        return [
            f"{counted(ends, 'end')} of {self.shade(key)}"
            for key, ends in self.ticket.serving.missing.items()
        ]

    def mixed(self) -> list[str]:
        """What is to be said of shades whose packages are of more than one lot; each lot not known is its own."""
        lots = {cone.pk: cone.lot or f"unknown {cone.code}" for cone in self.ticket.packages.cones}
        by_key: dict[str, set[str]] = {}
        side_by_side: set[str] = set()
        for threads in self.ticket.serving.passes:
            of_pass: dict[str, set[str]] = {}
            for thread in threads:
                if thread.package:
                    of_pass.setdefault(thread.key, set()).add(lots[thread.package.cone_id])
            for key, found in of_pass.items():
                by_key.setdefault(key, set()).update(found)
                if len(found) > 1:
                    side_by_side.add(key)
        return [
            f"{self.shade(key)} comes from {len(found)} lots. "
            + (
                "They lie side by side in its passes, end by end, which hides where one begins."
                if key in side_by_side
                else "Where the lot changes a line may show."
            )
            for key, found in by_key.items()
            if len(found) > 1
        ]

    def skeins(self) -> list[ReadyCone]:
        return [one for one in self.ready() if one.cone.is_skein]

    def apart(self, beam: BeamTicket) -> list[str]:
        said = []
        for group in beam.apart:
            what = _("floating selvedge") if group.floating else "accent"
            packages = [self.package(one) if one else "none put aside" for one in group.packages]
            said.append(
                f"{counted(group.ends, what)} of {self.shade(group.key)} from {', '.join(packages)}: "
                f"end{'' if group.ends == 1 else 's'} {_numbers(group.numbers)} of the warp."
            )
        return said

    def bouts(self, beam: BeamTicket) -> str:
        """Each of 44 ends; 66, 66 and 64 ends; 42 to 44 ends."""
        sizes = [bout.ends for bout in beam.bouts]
        if len(set(sizes)) == 1:
            return f"{'each of ' if len(sizes) > 1 else ''}{counted(sizes[0], 'end')}"
        if len(sizes) > 3:
            return f"{min(sizes)} to {max(sizes)} ends"
        return f"{', '.join(map(str, sizes[:-1]))} and {sizes[-1]} ends"

    def far(self, beam: BeamTicket) -> str:
        """Which bouts end at the far peg, since their passes are odd in number."""
        far = [str(number) for number, bout in enumerate(beam.bouts, start=1) if bout.ends_at_far_peg]
        if not far:
            return ""
        if len(far) == len(beam.bouts):
            return "Every bout ends at the far peg." if len(far) > 1 else "The last pass ends at the far peg."
        many = len(far) > 1
        listed = f"{', '.join(far[:-1])} and {far[-1]}" if many else far[0]
        return f"Bout{'s' if many else ''} {listed} end{'' if many else 's'} at the far peg; the others at the first."

    def path(self, beam: BeamTicket, mill: bool) -> str:
        """11 widths and 25.00 in."""
        if beam.path is None:
            return ""
        whole = counted(beam.path.widths, "turn" if mill else "width")
        if not beam.path.part_um:
            return whole
        return f"{whole} and {self.measures.short_length(beam.path.part_um)}"

    def like(self, beam: BeamTicket) -> str:
        """How many passes need more than one package of a shade, and whether a single end first makes them fewer."""
        starts, chosen = beam.starts, beam.winding
        if not chosen.like:
            return ""
        if self.ticket.choices.at_once == 2:
            what = counted(chosen.like, "like pair")
        else:
            what = counted(chosen.like, "pass with like ends", "passes with like ends")
        other, how = (
            (starts.full_first.like, "a full pass")
            if self.ticket.choices.single_first
            else (starts.single_first.like, "a single end")
        )
        needs = "It needs" if chosen.like == 1 else "Each needs"
        said = f"{what}. {needs} two packages of one shade or more."
        return said if other == chosen.like else f"{said} Begun with {how} there would be {other:,}."

    def other_start_is_better(self, beam: BeamTicket) -> bool:
        starts = beam.starts
        return (
            starts.full_first.like < starts.single_first.like
            if self.ticket.choices.single_first
            else starts.single_is_better
        )


def _numbers(numbers: Sequence[int]) -> str:
    """1, 17 and 33; runs as 40 to 44."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    words = [str(a) if a == b else f"{a} to {b}" for a, b in runs]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
