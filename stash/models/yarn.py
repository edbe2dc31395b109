"""Yarn, its shades and their dye lots."""

from datetime import datetime
from fractions import Fraction

from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models import Count, F, OuterRef, Q, Subquery, Sum
from django.db.models.functions import Coalesce
from django.utils.translation import gettext_lazy as _

from stash.calc.counts import Count as YarnCount
from stash.calc.counts import CountSystem
from stash.calc.grist import Grist
from stash.models.condition import USABLE
from stash.models.folding import FoldedField, words_of

HEX_COLOUR = RegexValidator(
    r"\A#[0-9a-f]{6}\Z", _("Give the colour as # and six figures 0-9 a-f, e.g. #2f5d50.")
)


class GristSource(models.TextChoices):
    """Where a length per mass comes from, in the order in which it is trusted."""

    MEASURED = "measured", "measured here"
    STATED = "stated", "stated by the seller"
    COMPUTED = "computed", "computed from the count"


class YarnQuerySet(models.QuerySet["Yarn"]):
    def live(self) -> "YarnQuerySet":
        return self.filter(retired_at=None)

    def retired(self) -> "YarnQuerySet":
        return self.exclude(retired_at=None)

    def matching(self, text: str) -> "YarnQuerySet":
        """Yarns whose name, count, fibre or note holds every word of a searched text."""
        found = self
        for word in words_of(text):
            found = found.filter(Q(search__contains=word) | Q(note_folded__contains=word))
        return found

    def of_fibre(self, fibre: str) -> "YarnQuerySet":
        return self.filter(pk__in=FibreShare.objects.filter(fibre=fibre).values("yarn"))

    def with_stock(self) -> "YarnQuerySet":
        """Adds shade_count and on_hand_mg of what is in use, each by a grouped subquery of its own."""
        shades = Shade.objects.live().filter(yarn=OuterRef("pk")).order_by()
        standing = shades.filter(cones__retired_at=None)
        return self.annotate(
            shade_count=Coalesce(Subquery(shades.values("yarn").annotate(n=Count("pk")).values("n")), 0),
            on_hand_mg=Coalesce(
                Subquery(standing.values("yarn").annotate(mg=Sum("cones__on_hand_mg")).values("mg")), 0
            ),
        )


class Yarn(models.Model):
    """A kind of yarn. Its lengths per mass are pairs: so many um weigh so many mg, exactly.

    `grist_um` and `grist_mg` repeat the figure in use, so that lists need no decision a row; the service
    that writes a yarn sets them.
    """

    name = models.CharField(max_length=80)
    count_system = models.CharField(
        max_length=20, choices=[(system.value, system.label) for system in CountSystem], blank=True
    )
    count_numerator = models.BigIntegerField(null=True, blank=True)
    count_denominator = models.BigIntegerField(null=True, blank=True)
    count_ply = models.PositiveSmallIntegerField(null=True, blank=True)
    count_written = models.CharField(max_length=40, blank=True)
    measured_um = models.BigIntegerField(null=True, blank=True)
    measured_mg = models.BigIntegerField(null=True, blank=True)
    stated_um = models.BigIntegerField(null=True, blank=True)
    stated_mg = models.BigIntegerField(null=True, blank=True)
    grist_choice = models.CharField(max_length=10, choices=GristSource, blank=True)
    grist_source = models.CharField(max_length=10, choices=GristSource)
    grist_um = models.BigIntegerField()
    grist_mg = models.BigIntegerField()
    note = models.CharField(max_length=500, blank=True)
    note_folded = FoldedField("note")
    search = models.CharField(max_length=200, editable=False)
    version = models.PositiveIntegerField(default=1)
    retired_at = models.DateTimeField(null=True, blank=True)

    objects = YarnQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["name"],
                name="stash_yarn_name_once",
                violation_error_code="unique",
                violation_error_message="Another yarn has this name.",
            ),
            models.CheckConstraint(
                condition=Q(grist_um__gt=0, grist_mg__gt=0),
                name="stash_yarn_grist_positive",
                violation_error_message="The length per mass must be more than nothing.",
            ),
            models.CheckConstraint(
                condition=Q(measured_um__isnull=True, measured_mg__isnull=True)
                | Q(
                    measured_um__gt=0, measured_mg__gt=0, measured_um__isnull=False, measured_mg__isnull=False
                ),
                name="stash_yarn_measured_pair",
                violation_error_message="Measured: give a length and its mass, both more than nothing.",
            ),
            models.CheckConstraint(
                condition=Q(stated_um__isnull=True, stated_mg__isnull=True)
                | Q(stated_um__gt=0, stated_mg__gt=0, stated_um__isnull=False, stated_mg__isnull=False),
                name="stash_yarn_stated_pair",
                violation_error_message="Stated: give a length and its mass, both more than nothing.",
            ),
            models.CheckConstraint(
                condition=Q(count_system="", count_numerator__isnull=True)
                | Q(
                    count_numerator__gt=0,
                    count_denominator__gt=0,
                    count_ply__gt=0,
                    count_numerator__isnull=False,
                    count_denominator__isnull=False,
                    count_ply__isnull=False,
                )
                & ~Q(count_system=""),
                name="stash_yarn_count_whole",
                violation_error_message="A count has a system, a number and plies, or there is none.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def grist(self) -> Grist:
        return Grist(self.grist_um, self.grist_mg)

    @property
    def count(self) -> YarnCount | None:
        if not self.count_system:
            return None
        number = Fraction(self.count_numerator, self.count_denominator)
        return YarnCount(CountSystem(self.count_system), number, self.count_ply)


class FibreShare(models.Model):
    """So many hundredths of a yarn's mass are this fibre. The shares of one yarn add up to 100."""

    yarn = models.ForeignKey(Yarn, on_delete=models.CASCADE, related_name="fibres")
    fibre = models.CharField(max_length=40)
    percent = models.PositiveSmallIntegerField(validators=[MinValueValidator(1), MaxValueValidator(100)])

    class Meta:
        ordering = ["-percent", "fibre"]
        constraints = [
            models.UniqueConstraint(
                fields=["yarn", "fibre"],
                name="stash_fibreshare_fibre_once",
                violation_error_message="The same fibre stands twice.",
            ),
            models.CheckConstraint(
                condition=Q(percent__gte=1, percent__lte=100),
                name="stash_fibreshare_percent",
                violation_error_message="A fibre's share is from 1 to 100 %.",
            ),
        ]

    def __str__(self) -> str:
        return self.fibre if self.percent == 100 else f"{self.percent} % {self.fibre}"


class ShadeQuerySet(models.QuerySet["Shade"]):
    def live(self) -> "ShadeQuerySet":
        return self.filter(retired_at=None)

    def retired(self) -> "ShadeQuerySet":
        return self.exclude(retired_at=None)

    def matching(self, text: str) -> "ShadeQuerySet":
        """Shades whose own name or note, or whose yarn's, holds every word of a searched text."""
        found = self
        for word in words_of(text):
            found = found.filter(
                Q(search__contains=word)
                | Q(yarn__search__contains=word)
                | Q(note_folded__contains=word)
                | Q(yarn__note_folded__contains=word)
            )
        return found

    def sought(self, text: str) -> "ShadeQuerySet":
        """As `matching`, or where a cone on the shelf has the word in its code, lot, place or note."""
        found = self
        for word in words_of(text):
            of_cones = Shade.objects.filter(
                Q(cones__search__contains=word) | Q(cones__note_folded__contains=word), cones__retired_at=None
            )
            found = found.filter(
                Q(search__contains=word)
                | Q(yarn__search__contains=word)
                | Q(note_folded__contains=word)
                | Q(yarn__note_folded__contains=word)
                | Q(pk__in=of_cones.values("pk"))
            )
        return found

    def of_fibre(self, fibre: str) -> "ShadeQuerySet":
        return self.filter(yarn__in=Yarn.objects.filter(fibres__fibre=fibre))

    def of_count(self, written: str) -> "ShadeQuerySet":
        return self.filter(yarn__count_written=written)

    def at_place(self, place_id: int) -> "ShadeQuerySet":
        """Shades of which a cone stands there."""
        there = Shade.objects.filter(cones__retired_at=None, cones__place=place_id)
        return self.filter(pk__in=there.values("pk"))

    def no_more_made(self) -> "ShadeQuerySet":
        return self.exclude(no_more_on=None)

    def of_unknown_lot(self) -> "ShadeQuerySet":
        """Shades of which a cone of unknown lot is on the shelf."""
        return self.filter(
            pk__in=Shade.objects.filter(cones__retired_at=None, cones__isnull=False, cones__lot=None).values(
                "pk"
            )
        )

    def unchecked_since(self, moment: datetime) -> "ShadeQuerySet":
        """Shades of which a cone on the shelf came before it and was not weighed since."""
        old = Shade.objects.filter(
            Q(cones__weighed_at=None) | Q(cones__weighed_at__lt=moment),
            cones__retired_at=None,
            cones__received_at__lt=moment,
        )
        return self.filter(pk__in=old.values("pk"))

    def at_or_below_keep(self) -> "ShadeQuerySet":
        """Live shades that ask to be ordered, with their stock."""
        return self.live().exclude(keep_mg=None).with_stock().select_related("yarn").at_keep_level()

    def with_stock(self) -> "ShadeQuerySet":
        """Adds on_hand_mg, reserved_mg, free_mg, undercut_mg, cone_count, lot_count and unknown_count of the
        cones on the shelf, by one grouped join and without touching the ledger; and on_order_mg, by a subquery.

        Free is summed cone by cone: what one cone is undercut by is not taken from another, and what is in
        quarantine, weak or an oddment is on hand and not free.
        """
        # An order names shades, so its module needs this one.
        from stash.models.order import on_order_mg

        standing = Q(cones__retired_at=None)
        gap = F("cones__on_hand_mg") - F("cones__reserved_mg")
        over = standing & Q(cones__condition__in=USABLE, cones__on_hand_mg__gte=F("cones__reserved_mg"))
        under = standing & Q(cones__on_hand_mg__lt=F("cones__reserved_mg"))
        return self.annotate(
            on_hand_mg=Coalesce(Sum("cones__on_hand_mg", filter=standing), 0),
            reserved_mg=Coalesce(Sum("cones__reserved_mg", filter=standing), 0),
            free_mg=Coalesce(Sum(gap, filter=over), 0),
            undercut_mg=Coalesce(Sum(-gap, filter=under), 0),
            cone_count=Count("cones", filter=standing),
            lot_count=Count("cones__lot", filter=standing, distinct=True),
            unknown_count=Count("cones", filter=standing & Q(cones__lot=None)),
            on_order_mg=on_order_mg(OuterRef("pk")),
        )

    def free(self) -> "ShadeQuerySet":
        """Of those with their stock, the shades of which something is free."""
        return self.filter(free_mg__gt=0)

    def at_keep_level(self) -> "ShadeQuerySet":
        """Of those with their stock, the shades that ask to be ordered: free and on order, together at or below the
        keep level."""
        return self.filter(keep_mg__isnull=False, keep_mg__gte=F("free_mg") + F("on_order_mg"))


class Shade(models.Model):
    """One colour of a yarn: what is planned with and what is ordered again."""

    yarn = models.ForeignKey(Yarn, on_delete=models.PROTECT, related_name="shades")
    name = models.CharField(max_length=60)
    colour = models.CharField(max_length=7, blank=True, validators=[HEX_COLOUR])
    keep_mg = models.BigIntegerField(null=True, blank=True)
    no_more_on = models.DateField(null=True, blank=True)
    """Since when it is known that it is no more made."""
    one_more = models.BooleanField(default=False)
    """Is one put-up more ordered than is needed, so that a lot lasts?"""
    note = models.CharField(max_length=500, blank=True)
    note_folded = FoldedField("note")
    search = models.CharField(max_length=200, editable=False)
    version = models.PositiveIntegerField(default=1)
    retired_at = models.DateTimeField(null=True, blank=True)

    objects = ShadeQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["yarn", "name"],
                name="stash_shade_name_once_a_yarn",
                violation_error_message="This yarn has a shade of that name already.",
            ),
            models.CheckConstraint(
                condition=Q(keep_mg__isnull=True) | Q(keep_mg__gt=0),
                name="stash_shade_keep_positive",
                violation_error_message="The keep level is more than nothing; leave it empty for none.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Lot(models.Model):
    """One dyeing of a shade. A cone whose lot is not known has none, and matches no other."""

    shade = models.ForeignKey(Shade, on_delete=models.PROTECT, related_name="lots")
    name = models.CharField(max_length=40)

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["shade", "name"],
                name="stash_lot_name_once_a_shade",
                violation_error_message="This shade has a lot of that name already.",
            )
        ]

    def __str__(self) -> str:
        return self.name
