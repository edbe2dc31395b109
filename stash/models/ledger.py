"""The ledger: what changed the mass of a cone. It only grows (see `guards`)."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

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
