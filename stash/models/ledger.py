"""The ledger: what changed the mass of a cone. It only grows (see `guards`)."""

from datetime import datetime

from django.conf import settings
from django.db import models
from django.db.models import F, Func, Q

from stash.models.cone import Cone


class EntryKind(models.TextChoices):
    RECEIVED = "received", "received"
    WEIGHED = "weighed", "weighed"
    CORRECTED = "corrected", "corrected"
    RETIRED = "retired", "written off"
    COUNTED = "counted", "found at a stocktake"
    OVER = "over", "wound over"
    WOUND = "wound", "wound for a warp"
    UNDONE = "undone", "taken back"
    MOVED = "moved", "moved"
    STATED = "stated", "condition noted"
    BROUGHT = "brought", "brought back"


NOTES = (EntryKind.MOVED, EntryKind.STATED)
"""Entries that change no weight: they say who did what to the cone, and when."""


WEEK_SECONDS = 7 * 24 * 60 * 60


class WeekAfter(Func):
    """In which week after a moment an entry was made, counted from 0.

    By each database's own arithmetic: Django's dates are reckoned in Python on SQLite, row by row.
    """

    output_field = models.IntegerField()

    def __init__(self, since: datetime, column: str = "at") -> None:
        super().__init__(F(column), since=int(since.timestamp()), week=WEEK_SECONDS)

    def as_sqlite(self, compiler, connection, **extra):
        template = "((CAST(strftime('%%%%s', %(expressions)s) AS INTEGER) - %(since)s) / %(week)s)"
        return self.as_sql(compiler, connection, template=template, **extra)

    def as_postgresql(self, compiler, connection, **extra):
        template = "FLOOR((EXTRACT(EPOCH FROM %(expressions)s) - %(since)s) / %(week)s)::integer"
        return self.as_sql(compiler, connection, template=template, **extra)


class EntryQuerySet(models.QuerySet["Entry"]):
    def of_no_project(self) -> "EntryQuerySet":
        """Entries that say what classes and small work took of a cone, or brought back; those that were taken back
        themselves are among them.

        Weighings by nobody's claim; what a stocktake found less without a reason, or as used; and what was written off
        as empty, used or sampled, unless the whole cone was and came back. Not what was received, wound over, put right,
        given away, sold or eaten by moth: that is no use, or none to be expected again.
        """
        used = (
            Q(reason__istartswith="used") | Q(reason__istartswith="empty") | Q(reason__istartswith="sampled")
        )
        return self.filter(
            Q(kind=EntryKind.WEIGHED)
            | Q(kind=EntryKind.COUNTED) & (used | Q(reason=""))
            | Q(kind=EntryKind.RETIRED) & used & (Q(after_mg__gt=0) | Q(cone__retired_at__isnull=False)),
            kind__in=(EntryKind.WEIGHED, EntryKind.COUNTED, EntryKind.RETIRED),
            claim=None,
        )

    def by_week(self, since: datetime) -> "EntryQuerySet":
        """Rows of shade, week after a moment, and the sum of the changes in mg: grouped in the database."""
        return (
            self.filter(at__gte=since)
            .order_by()
            .annotate(week=WeekAfter(since))
            .values_list("cone__shade", "week")
            .annotate(mg=models.Sum("change_mg"))
        )


class Entry(models.Model):
    """One change: `change_mg` of net mass, after which the cone held `after_mg`.

    `gross_mg` and `core_mg` keep what the scale said and what was taken off, where it was so weighed.
    `claim` is who the yarn was used for; `undoes` the entry that this one takes back, `partner` the entry on
    the other cone when yarn is wound over. `is_estimate` marks a figure that no scale gave. `key` is made by
    the page that sends a weighing, so that one sent twice counts once.
    """

    cone = models.ForeignKey(Cone, on_delete=models.PROTECT, related_name="entries")
    kind = models.CharField(max_length=10, choices=EntryKind)
    change_mg = models.BigIntegerField()
    after_mg = models.BigIntegerField()
    gross_mg = models.BigIntegerField(null=True, blank=True)
    core_mg = models.BigIntegerField(null=True, blank=True)
    reason = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="entries")
    at = models.DateTimeField()
    claim = models.ForeignKey(
        "stash.Claim", on_delete=models.PROTECT, null=True, blank=True, related_name="entries"
    )
    undoes = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="undone_by"
    )
    partner = models.ForeignKey("self", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    is_estimate = models.BooleanField(default=False)
    key = models.CharField(max_length=40, null=True, blank=True, unique=True)

    objects = EntryQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "entries"
        ordering = ["-pk"]
        indexes = [
            models.Index(fields=["cone", "-id"], name="stash_entry_cone_latest"),
            # Most entries are of no claim. An index that holds those too looks useless to SQLite once it has counted,
            # and it reads the whole ledger for every claim instead.
            models.Index(
                fields=["claim", "kind"], condition=Q(claim__isnull=False), name="stash_entry_of_a_claim"
            ),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(after_mg__gte=0),
                name="stash_entry_after_not_negative",
                violation_error_message="No less than nothing can be left on a cone.",
            ),
            models.CheckConstraint(
                condition=Q(kind__in=EntryKind.values),
                name="stash_entry_kind_known",
                violation_error_message="The ledger has no entries of this kind.",
            ),
            models.CheckConstraint(
                condition=Q(gross_mg__isnull=True)
                | Q(core_mg__isnull=False, core_mg__gte=0, gross_mg=F("after_mg") + F("core_mg")),
                name="stash_entry_gross_is_core_and_net",
                violation_error_message="With its core a cone weighs what core and yarn weigh together.",
            ),
        ]

    @property
    def is_note(self) -> bool:
        """Does it say something of the cone, and change no weight?"""
        return self.kind in NOTES

    def __str__(self) -> str:
        return f"{self.cone_id}: {self.kind} {self.change_mg:+} mg"
