"""Fairs: days to sell on."""

from django.db import models
from django.db.models import F, Q


class FairQuerySet(models.QuerySet["Fair"]):
    def by_day(self) -> "FairQuerySet":
        return self.order_by("begins_on", "pk")


class Fair(models.Model):
    """A day, or several in a row, and by `clear_days` before it all is to be ready: labelled and packed."""

    name = models.CharField(max_length=80)
    place = models.CharField(max_length=80, blank=True)
    begins_on = models.DateField()
    ends_on = models.DateField(null=True, blank=True)
    clear_days = models.PositiveSmallIntegerField(default=7)
    note = models.CharField(max_length=500, blank=True)
    version = models.PositiveIntegerField(default=1)
    made_at = models.DateTimeField()

    objects = FairQuerySet.as_manager()

    class Meta:
        ordering = ["begins_on", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["name", "begins_on"],
                name="projects_fair_name_and_day_once",
                violation_error_message="A fair of this name begins on the same day already.",
            ),
            models.CheckConstraint(
                condition=Q(ends_on__isnull=True) | Q(ends_on__gte=F("begins_on")),
                name="projects_fair_ends_after_it_begins",
                violation_error_message="A fair ends on the day it begins, or later.",
            ),
            models.CheckConstraint(
                condition=Q(clear_days__lte=120),
                name="projects_fair_clear_120_days",
                violation_error_message="Keep at most 120 days clear before a fair.",
            ),
        ]

    def __str__(self) -> str:
        return self.name
