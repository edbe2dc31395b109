"""Photos of shades and cones, re-encoded here so that nothing but pixels is kept."""

from django.db import models
from django.db.models import Q

from stash.models.cone import Cone
from stash.models.yarn import Shade


class HasFile:
    """What has its photo in a file of its own, named by chance."""

    file: str

    @property
    def mark(self) -> str:
        """Tells this content from any other: a file has its name by chance and is never written over, while keys
        begin anew in books that were restored."""
        return self.file[:12]


class Photo(HasFile, models.Model):
    """A photo of one shade or of one cone; the file is `media/photos/<file>` in the data folder."""

    shade = models.ForeignKey(Shade, on_delete=models.CASCADE, null=True, blank=True, related_name="photos")
    cone = models.ForeignKey(Cone, on_delete=models.CASCADE, null=True, blank=True, related_name="photos")
    file = models.CharField(max_length=80, unique=True)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(shade__isnull=False, cone__isnull=True)
                | Q(shade__isnull=True, cone__isnull=False),
                name="stash_photo_of_one_thing",
                violation_error_message="A photo shows a shade or a cone.",
            )
        ]

    def __str__(self) -> str:
        return self.file
