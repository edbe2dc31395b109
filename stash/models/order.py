"""Orders of yarn, from the first line to the last cone that came."""

from datetime import date, timedelta

from django.conf import settings
from django.db import models
from django.db.models import Count, F, OuterRef, Q, Subquery, Sum
from django.db.models.functions import Coalesce, Greatest

from stash.models.form import Form
from stash.models.studio import CURRENCY
from stash.models.supplier import PutUp, Supplier
from stash.models.yarn import Lot, Shade

MOST_PACKAGES = 1_000


class OrderLot(models.TextChoices):
    """Which lot is asked for."""

    ANY = "any", "any lot"
    ONE = "one", "all of one lot"
    MATCH = "match", "the same lot as"


class OrderQuerySet(models.QuerySet["Order"]):
    def unsent(self) -> "OrderQuerySet":
        return self.filter(ordered_on=None, closed_at=None)

    def under_way(self) -> "OrderQuerySet":
        """Ordered, and something of it is awaited."""
        return self.filter(ordered_on__isnull=False, closed_at=None)

    def done(self) -> "OrderQuerySet":
        return self.filter(closed_at__isnull=False)

    def by_due_day(self) -> "OrderQuerySet":
        """The next to come first, those without a day last."""
        return self.order_by(F("due_on").asc(nulls_last=True), "pk")

    def with_sums(self) -> "OrderQuerySet":
        """With its supplier, and with line_count, package_count, came_count, awaited_count, awaited_mg, value_cents
        of what was not cancelled, and unpriced_count, the lines of which the price is not known."""
        left = Greatest(F("lines__number") - F("lines__came") - F("lines__cancelled"), 0)
        wanted = F("lines__number") - F("lines__cancelled")
        return self.select_related("supplier").annotate(
            line_count=Count("lines"),
            package_count=Coalesce(Sum("lines__number"), 0),
            came_count=Coalesce(Sum("lines__came"), 0),
            awaited_count=Coalesce(Sum(left), 0),
            awaited_mg=Coalesce(Sum(left * F("lines__mass_mg")), 0),
            value_cents=Coalesce(Sum(wanted * F("lines__price_cents")), 0),
            unpriced_count=Count("lines", filter=Q(lines__price_cents=None)),
        )


class Order(models.Model):
    """What is ordered of one supplier at once. Without `ordered_on` it is still being written; with `closed_at`
    nothing more is awaited. `due_on` is the day on which it should come, usual delay not counted, which
    `late_days` keeps as it was; amounts are hundredths of `currency`.
    """

    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="orders")
    ordered_on = models.DateField(null=True, blank=True)
    due_on = models.DateField(null=True, blank=True)
    late_days = models.PositiveSmallIntegerField(default=0)
    reference = models.CharField(max_length=60, blank=True)
    """How the supplier calls it."""
    note = models.CharField(max_length=500, blank=True)
    currency = models.CharField(max_length=3, validators=[CURRENCY])
    carriage_cents = models.BigIntegerField(null=True, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="orders")
    made_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    objects = OrderQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(due_on__isnull=True) | Q(ordered_on__isnull=False, due_on__gte=F("ordered_on")),
                name="stash_order_due_after_ordered",
                violation_error_message="An order comes on the day it was sent, or later.",
            ),
            models.CheckConstraint(
                condition=Q(carriage_cents__isnull=True) | Q(carriage_cents__gte=0),
                name="stash_order_carriage_not_negative",
                violation_error_message="Carriage costs no less than nothing.",
            ),
        ]

    def __str__(self) -> str:
        return f"Order {self.pk}"

    @property
    def sure_on(self) -> date | None:
        """By when it has come with the usual delay; None where it is not known when it is due."""
        return self.due_on and self.due_on + timedelta(days=self.late_days)

    def days_over(self, today: date) -> int:
        """How many days ago it was due while something of it is still awaited, usual delay not counted."""
        if self.due_on is None or self.closed_at:
            return 0
        return max(0, (today - self.due_on).days)

    def is_late(self, today: date) -> bool:
        """Is it over its day by more than its supplier usually is?"""
        return self.days_over(today) > self.late_days


class OrderLineQuerySet(models.QuerySet["OrderLine"]):
    def awaited(self) -> "OrderLineQuerySet":
        """Lines of orders that were sent, of which something should still come."""
        return self.filter(
            order__ordered_on__isnull=False, order__closed_at=None, number__gt=F("came") + F("cancelled")
        )

    def by_due_day(self) -> "OrderLineQuerySet":
        """The next to come first, those without a day last; with order, supplier and the lot to match."""
        found = self.select_related("order__supplier", "lot")
        return found.order_by(F("order__due_on").asc(nulls_last=True), "order", "pk")


class OrderLine(models.Model):
    """So many put-ups of one shade: each of `mass_mg` net, at `price_cents` where it is known.

    `came` repeats how many cones were taken in for it, and `cancelled` says how many will not come, so that lists of
    what is on order need count no cones; services alone write them, and the book check compares.
    """

    order = models.ForeignKey(Order, on_delete=models.CASCADE, related_name="lines")
    shade = models.ForeignKey(Shade, on_delete=models.PROTECT, related_name="order_lines")
    put_up = models.ForeignKey(
        PutUp, on_delete=models.PROTECT, null=True, blank=True, related_name="order_lines"
    )
    form = models.CharField(max_length=6, choices=Form, default=Form.CONE)
    mass_mg = models.BigIntegerField()
    number = models.PositiveSmallIntegerField()
    price_cents = models.BigIntegerField(null=True, blank=True)
    lot_wish = models.CharField(max_length=5, choices=OrderLot, default=OrderLot.ANY)
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, null=True, blank=True, related_name="order_lines")
    need_on = models.DateField(null=True, blank=True)
    reason = models.CharField(max_length=300, blank=True)
    """Why, in words, as it was when the line was written."""
    came = models.PositiveSmallIntegerField(default=0)
    cancelled = models.PositiveSmallIntegerField(default=0)

    objects = OrderLineQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(mass_mg__gt=0) & (Q(price_cents__isnull=True) | Q(price_cents__gte=0)),
                name="stash_orderline_weighs_something",
                violation_error_message="A package weighs more than nothing, and costs no less than nothing.",
            ),
            models.CheckConstraint(
                condition=Q(number__gte=1, number__lte=MOST_PACKAGES),
                name="stash_orderline_1_to_1000",
                violation_error_message="Order from 1 to 1000 packages.",
            ),
            models.CheckConstraint(
                condition=Q(cancelled__lte=F("number")),
                name="stash_orderline_cancelled_within",
                violation_error_message="No more can be cancelled than was ordered.",
            ),
            models.CheckConstraint(
                condition=Q(lot_wish="match", lot__isnull=False)
                | (~Q(lot_wish="match") & Q(lot__isnull=True)),
                name="stash_orderline_lot_of_a_match",
                violation_error_message="Name the lot to match, or ask for no lot in particular.",
            ),
            models.CheckConstraint(
                condition=Q(lot_wish__in=OrderLot.values),
                name="stash_orderline_lot_wish_known",
                violation_error_message="Choose from the list which lot is asked for.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.number} of {self.shade_id}"

    @property
    def awaited(self) -> int:
        """How many should still come, once it was ordered."""
        return max(0, self.number - self.came - self.cancelled)


def on_order_mg(shade: OuterRef) -> Coalesce:
    """The net mass of a shade that is ordered and has not come, as a subquery of the caller's row."""
    lines = OrderLine.objects.awaited().filter(shade=shade).order_by()
    masses = lines.values("shade").annotate(mg=Sum((F("number") - F("came") - F("cancelled")) * F("mass_mg")))
    return Coalesce(Subquery(masses.values("mg")), 0)
