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

# From a scale for jewels to one for parcels (common practice, no source).
LEAST_DIVISION_MG = 10
MOST_DIVISION_MG = 100_000


class Studio(models.Model):
    """`division_mg` is what the last figure of its scale steps by; None: what is common for its units."""

    name = models.CharField(max_length=80)
    measuring = models.CharField(max_length=10, choices=Measuring, default=Measuring.INCHES_GRAMS)
    spelling = models.CharField(max_length=10, choices=Spelling, default=Spelling.BRITISH)
    label_address = models.CharField(max_length=200, blank=True)
    currency = models.CharField(max_length=3, default="EUR", validators=[CURRENCY])
    division_mg = models.BigIntegerField(null=True, blank=True)
    order_cost_cents = models.BigIntegerField(null=True, blank=True)
    """What writing an order and taking it in costs in work and trouble, for the economic quantity."""
    holding_ppm = models.PositiveIntegerField(null=True, blank=True)
    """What keeping yarn costs in a year, as a share of its price."""
    sure_ppm = models.PositiveIntegerField(default=950_000)
    """How sure it is to be that yarn lasts until more comes: the share of times between two orders."""
    quarantine_days = models.PositiveSmallIntegerField(default=14)
    """How long yarn of animal fibre is kept apart after it came."""
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
            models.CheckConstraint(
                condition=Q(division_mg__isnull=True)
                | Q(division_mg__gte=LEAST_DIVISION_MG, division_mg__lte=MOST_DIVISION_MG),
                name="stash_studio_division_of_a_scale",
                violation_error_message="A scale steps by 0.01 g at least and 100 g at most.",
            ),
            models.CheckConstraint(
                condition=(Q(order_cost_cents__isnull=True) | Q(order_cost_cents__gt=0))
                & (Q(holding_ppm__isnull=True) | Q(holding_ppm__gt=0, holding_ppm__lte=1_000_000)),
                name="stash_studio_buying_costs",
                violation_error_message="Leave what an order or keeping yarn costs empty where it is not known.",
            ),
            models.CheckConstraint(
                condition=Q(sure_ppm__gte=500_000, sure_ppm__lte=999_000, quarantine_days__lte=365),
                name="stash_studio_sure_and_quarantine",
                violation_error_message="Be sure from 50 % to 99.9 %, and keep yarn apart for at most 365 days.",
            ),
        ]

    def __str__(self) -> str:
        return self.name
