"""What is kept of a project as it goes on: dated notes, and photos."""

from django.db import models
from django.db.models import Q

from projects.models.project import Project, Stage
from stash.models import Person
from stash.models.photo import HasFile


class ProjectNote(models.Model):
    """`stage` is the step that the project came to, in a note that the move itself wrote; "" in all others."""

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="notes")
    text = models.CharField(max_length=2000)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    stage = models.CharField(max_length=8, choices=Stage, blank=True)

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(stage__in=["", *Stage.values]),
                name="projects_note_stage_known",
                violation_error_message="A note is of one of the trade's steps, or of none.",
            ),
            models.CheckConstraint(
                condition=~Q(text=""),
                name="projects_note_says_something",
                violation_error_message="A note says something.",
            ),
        ]

    def __str__(self) -> str:
        return self.text[:60]


class ProjectPhoto(HasFile, models.Model):
    """A photo of a project; the file is `media/photos/<file>` in the data folder."""

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="photos")
    file = models.CharField(max_length=80, unique=True)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.file
