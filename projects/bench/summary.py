"""What the project's page says of the sheets for board and loom: a line of figures each."""

from dataclasses import dataclass

from projects.bench.ticket import passes_and_bouts
from projects.models import Project
from projects.wording import counted
from stash.calc.needs import WorkedPlan
from stash.calc.writing import Measures


@dataclass(frozen=True, slots=True)
class BenchLines:
    ticket: str
    threading: str
    weft: str


def bench_of(project: Project, worked: WorkedPlan, measures: Measures) -> BenchLines:
    """No query: the ticket itself looks for the packages."""
    passes, bouts = passes_and_bouts(worked, project.at_once)
    layout, weft = worked.layout, worked.weft
    at_once = "one by one" if project.at_once == 1 else f"{project.at_once} at once"
    done = f"; {counted(project.ticket_done, 'line')} wound" if project.ticket_done else ""
    warps = f", {worked.plan.warps} times over" if worked.plan.warps > 1 else ""
    lengths = " and ".join(measures.warp_length(length.warp_um) for length in worked.lengths.values())
    hems = sum(section.part == "hem" for section in weft.sections)
    return BenchLines(
        ticket=f"{counted(passes, 'pass', 'passes')}, {at_once}, in {counted(bouts, 'bout')} of {lengths}{warps}{done}",
        threading=f"{counted(layout.heddles, 'heddle')}, {measures.short_length(worked.width.in_reed_um)} wide in the reed",
        weft=f"{counted(weft.picks_per_piece, 'pick')} a piece, {counted(len(weft.piece.picks), 'shuttle')}"
        f"{', ' + counted(hems, 'hem') if hems else ''}",
    )
