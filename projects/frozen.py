"""Who goes on reckoning with another length per mass than a yarn has now."""

from projects.models import Project, ProjectShade
from stash.models import Yarn
from stash.services.measuring import reserved_otherwise


def reckons_otherwise(yarn: Yarn) -> list[str]:
    """Names of the projects that froze another figure, by the day they need their yarn, whether they hold any or not;
    then of other claims that reserved with another one. Three queries.
    """
    rows = ProjectShade.objects.filter(shade__yarn=yarn, frozen_um__isnull=False)
    moved = {
        project_id
        for project_id, um, mg in rows.values_list("project_id", "frozen_um", "frozen_mg")
        if um * yarn.grist_mg != yarn.grist_um * mg
    }
    names = [
        f"{name} (put away)" if closed else name
        for name, closed in Project.objects.filter(pk__in=moved).by_need().values_list("name", "closed_at")
    ]
    known = {name.removesuffix(" (put away)") for name in names}
    return names + [name for name in reserved_otherwise(yarn) if name not in known]
