"""A field of a plan is changed: what follows from it comes back. A plan of a thousand ends with all that a plan can have."""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import urlencode

from django.urls import reverse

from projects.forms.plan import PlanForm, initial_of
from projects.models import Project
from stash.calc.writing import Measures
from tests.speed.stack import Browser

PLAIN = {
    "across": "40 in",
    "sett": "25",
    "colour_order": "24 A, 2 B, 8 A, 12 B, 8 A, 2 B",
    "order_fills": "fills",
    "pick_order": "24 A, 12 B",
}
WHOLE = PLAIN | {
    "ends_as": "double",
    "hem_depth": "3/4 in",
    "hem_picks": "30",
    "hem_pick_order": "1 B",
    "whole_pick_repeats": "on",
    "floating_selvedges": "on",
    "doubled_ends": "2",
    "border_order": "12 B, 4 A",
    "accents": "1 B at 40, 1 B in the middle, 1 B at 600",
    "accents_in_weft": "on",
    "beam_2_keys": "B",
    "beam_2_take_up": "8",
}


def calls(browser: Browser, project: Project) -> dict[str, Callable[[], object]]:
    """What is timed, by name: the same project as it is typed with little and with everything."""
    address = reverse("project-preview", args=[project.pk])
    sent = {name: typed(project, changes) for name, changes in (("plain", PLAIN), ("everything", WHOLE))}
    for body in sent.values():
        answer = browser.send(address, body)
        assert 'id="figures"' in answer, "the plan of the measurement cannot be worked out"
    return {
        f"a field changed, {name}": lambda body=body: browser.send(address, body)
        for name, body in sent.items()
    }


def typed(project: Project, changes: dict[str, str]) -> str:
    """The form as it stands, with changes, as a browser sends it."""
    measures = Measures()
    keys = [row.key for row in project.shades.all()]
    known = {row.shade_id: row.shade for row in project.shades.all()}
    form = PlanForm(measures=measures, keys=keys, known=known, initial=initial_of(project, measures))
    values = {bound.html_name: bound.value() for bound in form}
    data = {name: str(value) for name, value in values.items() if value not in (None, "", False)}
    return urlencode(data | changes)
