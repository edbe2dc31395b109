"""From the studio's choice of units to the writer of figures."""

from dataclasses import replace

from stash.calc.writing import Measures
from stash.models import Studio
from stash.models.studio import Measuring

_MEASURES = {
    Measuring.INCHES_OUNCES: Measures(length="imperial", mass_in="oz"),
    Measuring.INCHES_GRAMS: Measures(length="imperial", mass_in="g"),
    Measuring.METRIC: Measures(length="metric", mass_in="g"),
}


def measures_of(studio: Studio | None) -> Measures:
    measures = _MEASURES[Measuring(studio.measuring)] if studio else _MEASURES[Measuring.INCHES_GRAMS]
    return replace(measures, scale_step_mg=studio.division_mg) if studio and studio.division_mg else measures
