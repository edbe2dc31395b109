"""The part of a project's page that holds the plan against the equipment."""

from projects.forms.plan import PlanForm
from projects.gear_check import GearView, gear_view
from projects.gear_days import Days
from projects.models import Project
from projects.outputs import Outputs
from projects.services.planning import Gear
from projects.sett_advice import sett_advice


def gear_part(project: Project | None, form: PlanForm, found: Outputs | None) -> GearView | None:
    """As typed where the form was sent, else as kept. None where the plan cannot be worked out yet."""
    shed = form.shed
    if found is None or shed is None or not (shed.looms or shed.reeds):
        return None
    if form.is_bound:
        cleaned = form.cleaned_data
        gear = form.gear(cleaned)
        days = Days(cleaned.get("need_on"), cleaned.get("off_on"))
        weave, only, lost = form.weave, form.reed_asked, form.lost_sley
    elif project:
        gear = gear_of(project)
        days = Days(project.need_on, project.off_on)
        weave, only, lost = project.weave, project.reed_id, bool(project.sley) and project.sleyed is None
    else:
        return None
    if gear is None or weave is None:
        return None
    return gear_view(
        worked=found.worked,
        weave=weave,
        gear=gear,
        shed=shed,
        days=days,
        measures=form.measures,
        only=only,
        lost_sley=lost,
    )


def gear_of(project: Project) -> Gear:
    return Gear(
        loom_id=project.loom_id,
        reed_id=project.reed_id,
        dressing=project.dressing,
        sley=project.sley,
        sley_keeps=project.sley_keeps,
        off_on=project.off_on,
    )


def advice_part(project: Project | None, form: PlanForm, found: Outputs | None) -> list[str]:
    """What is usual for the yarns of the warp in this structure."""
    weave = form.weave if form.is_bound else project.weave if project else None
    if found is None or weave is None:
        return []
    typed_k = form.cleaned_data.get("sett_k", "") if form.is_bound else ""
    return sett_advice(found.worked, weave, found.judged.lines, typed_k, form.measures)
