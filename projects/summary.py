"""The chief verdict: what a person should hear first."""

from projects.judging import judge_all
from projects.models import Project
from projects.wording import most_sentence, one_line, verdict_sentences
from stash.calc.most import most_pieces
from stash.calc.verdict import Verdict
from stash.measuring import measures_of
from stash.models import Lot, Studio


def chief_project() -> Project | None:
    """The open project that needs its yarn first and has not enough; else the one that needs it first."""
    judged = judge_all(Project.objects.open().by_need()[:50])
    wanting = [project for project, found in judged if found.state != Verdict.ENOUGH]
    return next(iter(wanting), judged[0][0] if judged else None)


def chief_verdict() -> str | None:
    """`Lantern mats: Short of Spruce by …` for the terminal; None in an empty studio."""
    project = chief_project()
    if project is None:
        return None
    measures = measures_of(Studio.objects.filter(pk=1).first())
    ((_, judged),) = judge_all([project])
    if judged.open_keys:
        return f"{project.name}: {one_line(judged, measures)}"
    shades = [line.shade.pk for line in judged.lines]
    names = dict(Lot.objects.filter(shade__in=shades).values_list("pk", "name"))
    most = most_sentence(
        most_pieces(project.plan, judged.stock),
        judged,
        measures,
        project.pieces,
        project.piece_name,
        project.warps,
    )
    return f"{project.name}: {verdict_sentences(judged, measures, names, [most]).whole}"
