"""The studio itself: one row, made at the first start."""

from django.core.validators import RegexValidator
from django.db import models
from django.db.models import Q


class Measuring(models.TextChoices):
    """Units are chosen once; every page, sheet and file follows."""

    INCHES_OUNCES = "inch-oz", "inches, yards and ounces"
    INCHES_GRAMS = "inch-g", "inches and yards, with grams on the scale"
    METRIC = "metric", "centimetres, metres and grams"


class Spelling(models.TextChoices):
    BRITISH = "british", "selvedge, colour"
    AMERICAN = "american", "selvage, color"


CURRENCY = RegexValidator(r"\A[A-Z]{3}\Z", "Give the currency by its three letters (ISO 4217), e.g. EUR.")


class Studio(models.Model):
    name = models.CharField(max_length=80)
    measuring = models.CharField(max_length=10, choices=Measuring, default=Measuring.INCHES_GRAMS)
    spelling = models.CharField(max_length=10, choices=Spelling, default=Spelling.BRITISH)
    label_address = models.CharField(max_length=200, blank=True)
    currency = models.CharField(max_length=3, default="EUR", validators=[CURRENCY])
    is_demo = models.BooleanField(default=False)
    made_at = models.DateTimeField()
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(pk=1),
                name="stash_studio_only_one",
                violation_error_message="There is one studio, and it has been set up.",
            ),
            models.CheckConstraint(
                condition=Q(measuring__in=Measuring.values),
                name="stash_studio_measuring_known",
                violation_error_message="Choose the units from the list.",
            ),
            models.CheckConstraint(
                condition=Q(spelling__in=Spelling.values),
                name="stash_studio_spelling_known",
                violation_error_message="Choose the spelling from the list.",
            ),
        ]

    def __str__(self) -> str:
        return self.name
