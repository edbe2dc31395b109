"""Stocktakes: going along a place, one number per cone."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from stash.models.cone import Cone, Place
from stash.models.ledger import Entry


class Stocktake(models.Model):
    """One round. `place` None is the whole shelf. It is open until it is closed, however long that takes."""

    place = models.ForeignKey(
        Place, on_delete=models.PROTECT, null=True, blank=True, related_name="stocktakes"
    )
    began_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="stocktakes")
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["place"],
                condition=Q(closed_at=None),
                name="stash_stocktake_one_open_a_place",
                violation_error_message="A stocktake of this place is open already. Go on with that one.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.place or 'whole shelf'}, {self.began_at:%Y-%m-%d}"


class Count(models.Model):
    """What was found of one cone. `books_mg` is what the books said when it was counted.

    `scale_mg` None means that the cone was not there, or was passed over. `key` is made by the page, so
    that a count sent twice is one count. Once settled, `entry` is what brought the books to it, or None
    where nothing was changed.
    """

    stocktake = models.ForeignKey(Stocktake, on_delete=models.PROTECT, related_name="counts")
    cone = models.ForeignKey(Cone, on_delete=models.PROTECT, related_name="counts")
    key = models.CharField(max_length=40, unique=True)
    books_mg = models.BigIntegerField()
    scale_mg = models.BigIntegerField(null=True, blank=True)
    is_gross = models.BooleanField(default=True)
    net_mg = models.BigIntegerField(null=True, blank=True)
    is_estimate = models.BooleanField(default=False)
    counted_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="counts")
    reason = models.CharField(max_length=200, blank=True)
    settled_at = models.DateTimeField(null=True, blank=True)
    entry = models.OneToOneField(Entry, on_delete=models.PROTECT, null=True, blank=True, related_name="count")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["stocktake", "cone"],
                name="stash_count_once_a_cone",
                violation_error_message="This cone is counted already.",
            ),
            models.CheckConstraint(
                condition=Q(scale_mg__isnull=True, net_mg__isnull=True)
                | Q(scale_mg__isnull=False, net_mg__isnull=False, net_mg__gte=0),
                name="stash_count_net_of_a_scale",
                violation_error_message="What the scale said gives a net weight of nothing or more.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.cone_id}: {self.net_mg} mg"
