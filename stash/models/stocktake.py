"""Stocktakes: going along a place, one number per cone."""

from django.conf import settings
from django.db import models
from django.db.models import F, OuterRef, Q, Subquery, Value
from django.db.models.functions import Coalesce

from stash.models.cone import Cone, ConeQuerySet, Place
from stash.models.ledger import Entry


class StocktakeQuerySet(models.QuerySet["Stocktake"]):
    def open(self) -> "StocktakeQuerySet":
        return self.filter(closed_at=None)

    def closed(self) -> "StocktakeQuerySet":
        return self.exclude(closed_at=None)

    def with_names(self) -> "StocktakeQuerySet":
        return self.select_related("place", "by", "closed_by")


class Stocktake(models.Model):
    """One round. `place` None is the whole shelf. It is open until it is closed, however long that takes."""

    place = models.ForeignKey(
        Place, on_delete=models.PROTECT, null=True, blank=True, related_name="stocktakes"
    )
    began_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="stocktakes")
    closed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    note = models.CharField(max_length=200, blank=True)

    objects = StocktakeQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            # The whole shelf, which is no place, counts as one: of it, too, one stocktake is open at a time.
            models.UniqueConstraint(
                Coalesce(F("place"), Value(0)),
                condition=Q(closed_at=None),
                name="stash_stocktake_one_open_a_place",
                violation_error_message="A stocktake of this place is open already. Go on with that one.",
            ),
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True, closed_by__isnull=True)
                | Q(closed_at__isnull=False, closed_by__isnull=False),
                name="stash_stocktake_closed_by_someone",
                violation_error_message="A closed stocktake says when it was closed, and by whom.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.where}, {self.began_at:%Y-%m-%d}"

    @property
    def where(self) -> str:
        return self.place.name if self.place else "the whole shelf"

    def cones(self) -> ConeQuerySet:
        """What it goes along: the cones that stand there, and those counted that do not stand there (any more).

        By place and code, as one goes along the shelf. A closed one has written down all of its cones.
        """
        counted = Q(pk__in=self.counts.values("cone"))
        standing = Q(retired_at=None) if self.place_id is None else Q(retired_at=None, place=self.place_id)
        wanted = counted if self.closed_at else counted | standing
        return Cone.objects.filter(wanted).order_by(F("place__name").asc(nulls_last=True), "search", "pk")


class Finding(models.TextChoices):
    """What going along the shelf gave of one cone. Cones that nobody counted are written down at the closing."""

    WEIGHED = "weighed", "weighed"
    ABSENT = "absent", "not here"
    PASSED = "passed", "not counted"


class CountQuerySet(models.QuerySet["Count"]):
    def unsettled(self) -> "CountQuerySet":
        return self.filter(settled_at=None)

    def with_names(self) -> "CountQuerySet":
        """With all that a row or a sentence about a count names."""
        return self.select_related(
            "cone__shade__yarn", "cone__lot", "cone__place", "by", "settled_by", "entry__undone_by"
        )

    def with_changes(self) -> "CountQuerySet":
        """Adds changed_at and changed_kind of the last entry of the cone that was made after it was counted."""
        later = Entry.objects.filter(cone=OuterRef("cone"), at__gt=OuterRef("counted_at")).order_by("-pk")
        return self.annotate(
            changed_at=Subquery(later.values("at")[:1]), changed_kind=Subquery(later.values("kind")[:1])
        )


class Count(models.Model):
    """What was found of one cone. `books_mg` is what the books said when it was counted.

    `scale_mg` is what the scale said, with the core (`is_gross`) or of the yarn alone, and `net_mg` the yarn of
    it; both are None where nothing was weighed. A later count of the same cone takes its place until it is
    settled. Once settled, `entry` is what brought the books to it, or None where nothing was changed.
    """

    stocktake = models.ForeignKey(Stocktake, on_delete=models.PROTECT, related_name="counts")
    cone = models.ForeignKey(Cone, on_delete=models.PROTECT, related_name="counts")
    finding = models.CharField(max_length=7, choices=Finding, default=Finding.WEIGHED)
    books_mg = models.BigIntegerField()
    scale_mg = models.BigIntegerField(null=True, blank=True)
    is_gross = models.BooleanField(default=True)
    net_mg = models.BigIntegerField(null=True, blank=True)
    is_estimate = models.BooleanField(default=False)
    note = models.CharField(max_length=200, blank=True)
    counted_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="counts")
    reason = models.CharField(max_length=200, blank=True)
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    entry = models.OneToOneField(Entry, on_delete=models.PROTECT, null=True, blank=True, related_name="count")

    objects = CountQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["stocktake", "cone"],
                name="stash_count_once_a_cone",
                violation_error_message="This cone is counted already.",
            ),
            models.CheckConstraint(
                condition=Q(
                    finding=Finding.WEIGHED,
                    scale_mg__isnull=False,
                    net_mg__isnull=False,
                    net_mg__gte=0,
                    net_mg__lte=F("scale_mg"),
                )
                | Q(
                    finding__in=[Finding.ABSENT, Finding.PASSED],
                    scale_mg__isnull=True,
                    net_mg__isnull=True,
                ),
                name="stash_count_net_of_a_scale",
                violation_error_message="What the scale said gives a net weight of nothing or more.",
            ),
            models.CheckConstraint(
                condition=Q(settled_at__isnull=True, settled_by__isnull=True, entry__isnull=True)
                | Q(settled_at__isnull=False, settled_by__isnull=False),
                name="stash_count_settled_by_someone",
                violation_error_message="A settled count says when it was settled, and by whom.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.cone_id}: {self.net_mg} mg"

    @property
    def core_mg(self) -> int | None:
        """What was taken off the scale's figure for the core."""
        if self.scale_mg is None or self.net_mg is None or not self.is_gross:
            return None
        return self.scale_mg - self.net_mg


class CountKey(models.Model):
    """A key made by a counting page, kept so that a count sent twice is one count, whatever came between.

    `pk` numbers what came in, so that a page can ask for what it has not seen yet.
    """

    key = models.CharField(max_length=40, unique=True)
    count = models.ForeignKey(Count, on_delete=models.PROTECT, related_name="keys")

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.key
