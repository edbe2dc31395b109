"""Advice on the sett in words: how close each yarn of the warp lies, and how close it is usually set."""

from collections.abc import Iterable
from decimal import Decimal, InvalidOperation
from fractions import Fraction

from projects.judging import ShadeLine
from stash.calc.density import UM_PER_CM, UM_PER_INCH
from stash.calc.draft import Interlacing
from stash.calc.errors import CalcError
from stash.calc.grist import Grist
from stash.calc.needs import WorkedPlan
from stash.calc.sett import USUAL_K, advise_sett, intersections_of
from stash.calc.writing import Measures, decimal

NO_K = "Write K as a figure such as 0.90."


def sett_advice(
    worked: WorkedPlan,
    weave: Interlacing,
    lines: Iterable[ShadeLine],
    typed_k: str,
    measures: Measures,
) -> list[str]:
    """A sentence for each yarn that has ends in the warp; one alone where K cannot be read."""
    try:
        k = _read_k(typed_k)
        inch = measures.density_base == "in"
        per_um, places, base = (UM_PER_INCH, 0, "inch") if inch else (UM_PER_CM, 1, "cm")
        yarns: dict[str, Grist] = {}
        for line in lines:
            if worked.ends_by_key.get(line.key):
                yarns.setdefault(line.shade.yarn.name, line.grist)
        said = []
        for name, grist in yarns.items():
            advice = advise_sett(grist, len(weave.threading), intersections_of(weave), k)
            side = decimal(advice.diameters * per_um / UM_PER_INCH, places)
            closest = decimal(advice.closest.number_in(per_um), places)
            soft = decimal(advice.soft.number_in(per_um), places)
            said.append(
                f"{name}, {measures.grist(grist)}: {side} lie side by side to the {base}; the closest balanced "
                f"{weave.name} has {closest}, and for a soft hand about {soft}. The plan has "
                f"{measures.density(worked.plan.sett)}."
            )
    except CalcError as error:
        return [error.message]
    return said


def _read_k(typed: str) -> Fraction:
    if not typed.strip():
        return USUAL_K
    try:
        value = Decimal(typed.strip().replace(",", "."))
        if not value.is_finite() or abs(value) > 100:
            raise CalcError(NO_K, field="k")
        return Fraction(value)
    except InvalidOperation:
        raise CalcError(NO_K, field="k") from None
