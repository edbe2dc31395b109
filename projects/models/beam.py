"""Further beams of a project: each has a take-up of its own, and so a warp length of its own."""

from django.db import models
from django.db.models import Q

from projects.models.project import Project
from stash.calc.beams import MOST_BEAMS


class ProjectBeam(models.Model):
    """Beam 2, 3 or 4; the first beam's take-up stands in the project. `ProjectShade.beam` says who is wound on it."""

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="beams")
    number = models.PositiveSmallIntegerField()
    take_up_ppm = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["project", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["project", "number"],
                name="projects_beam_number_once",
                violation_error_message="A beam is listed twice.",
            ),
            models.CheckConstraint(
                condition=Q(number__gte=2, number__lte=MOST_BEAMS),
                name="projects_beam_number_2_to_4",
                violation_error_message="Further beams are numbered from 2 to 4.",
            ),
        ]

    def __str__(self) -> str:
        return f"beam {self.number}"
