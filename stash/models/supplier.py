"""Suppliers, and the put-ups in which they sell."""

from django.db import models
from django.db.models import Q

from stash.models.form import Form
from stash.models.studio import CURRENCY
from stash.models.yarn import Shade, Yarn

MOST_DAYS = 730


class SupplierQuerySet(models.QuerySet["Supplier"]):
    def live(self) -> "SupplierQuerySet":
        return self.filter(retired_at=None)


class Supplier(models.Model):
    """`lead_days` are from the order to the parcel, None where nobody knows; `late_days` the usual delay on top of
    them. All amounts are hundredths of its `currency`; without one of its own it is the studio's.
    """

    name = models.CharField(
        max_length=80, unique=True, error_messages={"unique": "Another supplier has this name."}
    )
    note = models.CharField(max_length=500, blank=True)
    lead_days = models.PositiveSmallIntegerField(null=True, blank=True)
    late_days = models.PositiveSmallIntegerField(default=0)
    minimum_cents = models.BigIntegerField(null=True, blank=True)
    """Least value of an order, without carriage."""
    carriage_cents = models.BigIntegerField(null=True, blank=True)
    """Carriage of one order."""
    carriage_free_cents = models.BigIntegerField(null=True, blank=True)
    """Value of an order from which on carriage costs nothing."""
    currency = models.CharField(max_length=3, blank=True, validators=[CURRENCY])
    version = models.PositiveIntegerField(default=1)
    retired_at = models.DateTimeField(null=True, blank=True)

    objects = SupplierQuerySet.as_manager()

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=(Q(lead_days__isnull=True) | Q(lead_days__lte=MOST_DAYS))
                & Q(late_days__lte=MOST_DAYS),
                name="stash_supplier_days_of_two_years",
                violation_error_message="A parcel takes two years at most.",
            ),
            models.CheckConstraint(
                condition=(Q(minimum_cents__isnull=True) | Q(minimum_cents__gt=0))
                & (Q(carriage_cents__isnull=True) | Q(carriage_cents__gte=0))
                & (Q(carriage_free_cents__isnull=True) | Q(carriage_free_cents__gt=0)),
                name="stash_supplier_amounts_positive",
                violation_error_message="Leave an amount empty where there is none.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class PutUpQuerySet(models.QuerySet["PutUp"]):
    def sold(self) -> "PutUpQuerySet":
        """What can be had still, of suppliers that are still asked."""
        return self.filter(retired_at=None, supplier__retired_at=None)


class PutUp(models.Model):
    """A form in which a supplier sells a yarn: so much net, in all its shades or in one.

    `price_cents` is for one; `PriceBreak` has what one costs from some number on. A put-up that is sold no more is
    retired, since orders name it.
    """

    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="put_ups")
    yarn = models.ForeignKey(Yarn, on_delete=models.PROTECT, related_name="put_ups")
    shade = models.ForeignKey(Shade, on_delete=models.PROTECT, null=True, blank=True, related_name="put_ups")
    form = models.CharField(max_length=6, choices=Form, default=Form.CONE)
    mass_mg = models.BigIntegerField()
    price_cents = models.BigIntegerField(null=True, blank=True)
    least = models.PositiveSmallIntegerField(default=1)
    """So many of one shade at least."""
    version = models.PositiveIntegerField(default=1)
    retired_at = models.DateTimeField(null=True, blank=True)

    objects = PutUpQuerySet.as_manager()

    class Meta:
        ordering = ["supplier", "yarn", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(mass_mg__gt=0) & (Q(price_cents__isnull=True) | Q(price_cents__gte=0)),
                name="stash_putup_weighs_something",
                violation_error_message="A put-up weighs more than nothing, and costs no less than nothing.",
            ),
            models.CheckConstraint(
                condition=Q(least__gte=1),
                name="stash_putup_one_at_least",
                violation_error_message="One at least is sold.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.mass_mg} mg of {self.yarn_id} from {self.supplier_id}"


class PriceBreak(models.Model):
    """From so many on, of one shade in one order, one costs this much: all of them, not those beyond alone."""

    put_up = models.ForeignKey(PutUp, on_delete=models.CASCADE, related_name="breaks")
    number = models.PositiveSmallIntegerField()
    price_cents = models.BigIntegerField()

    class Meta:
        ordering = ["put_up", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["put_up", "number"],
                name="stash_pricebreak_number_once",
                violation_error_message="Two prices stand for the same number.",
            ),
            models.CheckConstraint(
                condition=Q(number__gte=2, price_cents__gte=0),
                name="stash_pricebreak_from_two",
                violation_error_message="A price break begins at two, and costs no less than nothing.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.price_cents} from {self.number}"
