"""Which parcel yarn came in."""

from django.db import models
from django.db.models import Q

from stash.models.order import Order
from stash.models.supplier import Supplier


class DeliveryQuerySet(models.QuerySet["Delivery"]):
    def with_count(self) -> "DeliveryQuerySet":
        """Adds `came`: how many of its cones have come so far."""
        return self.annotate(came=models.Count("cones"))

    def open(self) -> "DeliveryQuerySet":
        return self.filter(closed_at=None)


class Delivery(models.Model):
    """Cones that came together. `expected_cones` says how many should come, in one parcel or several; what is ordered
    here comes by an `order`, a parcel of it at a time."""

    supplier = models.ForeignKey(
        Supplier, on_delete=models.PROTECT, null=True, blank=True, related_name="deliveries"
    )
    order = models.ForeignKey(
        Order, on_delete=models.PROTECT, null=True, blank=True, related_name="deliveries"
    )
    received_on = models.DateField()
    expected_cones = models.PositiveIntegerField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    made_at = models.DateTimeField()

    objects = DeliveryQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "deliveries"
        ordering = ["-received_on", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(expected_cones__isnull=True) | Q(expected_cones__gt=0),
                name="stash_delivery_expects_something",
                violation_error_message="Expect one cone at least, or leave it empty.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.supplier or 'unknown supplier'}, {self.received_on}"
