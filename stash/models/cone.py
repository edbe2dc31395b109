"""Cones: single packages of yarn, whatever their form, with their balances."""

from collections.abc import Mapping
from datetime import datetime

from django.db import models
from django.db.models import Case, F, Q, Value, When
from django.db.models.functions import Lower
from django.utils.formats import date_format

from stash.models.condition import USABLE, Condition
from stash.models.core import CoreKind
from stash.models.delivery import Delivery
from stash.models.folding import FoldedField, fold, words_of
from stash.models.form import Form
from stash.models.order import OrderLine
from stash.models.yarn import Lot, Shade, Yarn


class Place(models.Model):
    """Where cones stand: a shelf, a box."""

    name = models.CharField(max_length=40, unique=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class ConeQuerySet(models.QuerySet["Cone"]):
    def live(self) -> "ConeQuerySet":
        return self.filter(retired_at=None)

    def retired(self) -> "ConeQuerySet":
        return self.exclude(retired_at=None)

    def usable(self) -> "ConeQuerySet":
        """Cones on the shelf that a project may be given."""
        return self.live().filter(condition__in=USABLE)

    def matching(self, text: str) -> "ConeQuerySet":
        """Cones whose code, lot, place, shade, yarn, count, fibre or notes hold every word of a searched text."""
        found = self
        for word in words_of(text):
            found = found.filter(
                Q(search__contains=word)
                | Q(shade__search__contains=word)
                | Q(shade__yarn__search__contains=word)
                | Q(note_folded__contains=word)
                | Q(shade__note_folded__contains=word)
                | Q(shade__yarn__note_folded__contains=word)
            )
        return found

    def with_names(self) -> "ConeQuerySet":
        """With all that a row or a sentence about a cone names."""
        return self.select_related("shade__yarn", "lot", "place")

    def of_fibre(self, fibre: str) -> "ConeQuerySet":
        return self.filter(shade__yarn__in=Yarn.objects.filter(fibres__fibre=fibre))

    def free(self) -> "ConeQuerySet":
        """Cones on which something is free."""
        return self.filter(on_hand_mg__gt=F("reserved_mg"))

    def of_unknown_lot(self) -> "ConeQuerySet":
        return self.filter(lot=None)

    def unchecked_since(self, moment: datetime) -> "ConeQuerySet":
        """Cones that came before it and were not weighed since."""
        return self.filter(received_at__lt=moment).filter(Q(weighed_at=None) | Q(weighed_at__lt=moment))

    def giving(self, least_mg: Mapping[int, list[int]]) -> "ConeQuerySet":
        """Usable cones of which that much is free at least; `least_mg` has the yarns' keys by the mg wanted.

        A product of length and grist may be more than the database's integers hold: what is wanted is worked
        out beforehand, yarn by yarn, and compared as it is.
        """
        wanted = Case(
            *(When(shade__yarn__in=yarns, then=Value(mg)) for mg, yarns in least_mg.items()),
            output_field=models.BigIntegerField(),
        )
        return self.usable().filter(on_hand_mg__gte=F("reserved_mg") + wanted)

    def undercut(self) -> "ConeQuerySet":
        """Cones of which more is reserved than is there."""
        return self.live().filter(reserved_mg__gt=F("on_hand_mg"))


class Cone(models.Model):
    """One package on the shelf: gross = core + net.

    `on_hand_mg` (net) and `reserved_mg` repeat what ledger and reservations add up to. Only services
    write them; the book check compares and rebuilds. A weigh-in may undercut reservations, so reserved
    may exceed on hand: free then reads 0, and `undercut_mg` says by how much. `labelled_mg` is the net mass
    that its label promised, `price_cents` what the whole cone cost, in the studio's currency;
    `condition_on` is since when it is so, for quarantine until when. `estimated` says that the last figure is
    none of a scale's.
    """

    code = models.CharField(
        max_length=12, unique=True, error_messages={"unique": "Another cone has this code."}
    )
    shade = models.ForeignKey(Shade, on_delete=models.PROTECT, related_name="cones")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="cones", null=True, blank=True)
    form = models.CharField(max_length=6, choices=Form, default=Form.CONE)
    core_mg = models.BigIntegerField(null=True, blank=True)
    core_kind = models.ForeignKey(
        CoreKind, on_delete=models.PROTECT, related_name="cones", null=True, blank=True
    )
    place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="cones", null=True, blank=True)
    condition = models.CharField(max_length=10, choices=Condition, default=Condition.SOUND)
    condition_on = models.DateField(null=True, blank=True)
    labelled_mg = models.BigIntegerField(null=True, blank=True)
    price_cents = models.BigIntegerField(null=True, blank=True)
    delivery = models.ForeignKey(
        Delivery, on_delete=models.PROTECT, related_name="cones", null=True, blank=True
    )
    order_line = models.ForeignKey(
        OrderLine, on_delete=models.PROTECT, related_name="cones", null=True, blank=True
    )
    on_hand_mg = models.BigIntegerField(default=0)
    reserved_mg = models.BigIntegerField(default=0)
    note = models.CharField(max_length=500, blank=True)
    note_folded = FoldedField("note")
    search = models.CharField(max_length=200, editable=False)
    received_at = models.DateTimeField()
    weighed_at = models.DateTimeField(null=True, blank=True)
    estimated = models.BooleanField(default=False)
    version = models.PositiveIntegerField(default=1)
    retired_at = models.DateTimeField(null=True, blank=True)

    objects = ConeQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["shade", "retired_at"], name="stash_cone_shade_live")]
        constraints = [
            models.UniqueConstraint(
                Lower("code"),
                name="stash_cone_code_any_case",
                violation_error_message="Another cone has this code.",
            ),
            models.CheckConstraint(
                condition=Q(on_hand_mg__gte=0),
                name="stash_cone_on_hand_not_negative",
                violation_error_message="A cone holds no less than nothing.",
            ),
            models.CheckConstraint(
                condition=Q(reserved_mg__gte=0),
                name="stash_cone_reserved_not_negative",
                violation_error_message="No less than nothing of a cone is reserved.",
            ),
            models.CheckConstraint(
                condition=Q(core_mg__isnull=True) | Q(core_mg__gte=0),
                name="stash_cone_core_not_negative",
                violation_error_message="A core weighs no less than nothing.",
            ),
            models.CheckConstraint(
                condition=Q(condition__in=Condition.values),
                name="stash_cone_condition_known",
                violation_error_message="Choose the cone's condition from the list.",
            ),
            models.CheckConstraint(
                condition=(Q(labelled_mg__isnull=True) | Q(labelled_mg__gt=0))
                & (Q(price_cents__isnull=True) | Q(price_cents__gte=0)),
                name="stash_cone_label_and_price",
                violation_error_message="A labelled weight is more than nothing, a price nothing or more.",
            ),
            models.CheckConstraint(
                condition=Q(form__in=Form.values),
                name="stash_cone_form_known",
                violation_error_message="Choose the form of the package from the list.",
            ),
            models.CheckConstraint(
                condition=Q(retired_at__isnull=True) | Q(on_hand_mg=0),
                name="stash_cone_retired_is_empty",
                violation_error_message="Yarn is left on this cone. Retiring the cone writes it off.",
            ),
            models.CheckConstraint(
                condition=Q(retired_at__isnull=True) | Q(reserved_mg=0),
                name="stash_cone_retired_holds_nothing",
                violation_error_message="Yarn of this cone is reserved. Release it before retiring the cone.",
            ),
        ]

    def __str__(self) -> str:
        return self.code

    def search_words(self) -> str:
        """What a search for cones looks through; services keep it in `search`."""
        return fold(self.code, self.lot.name if self.lot else "", self.place.name if self.place else "")

    @property
    def condition_words(self) -> str:
        """in quarantine until 3 Dec 2026; weak since 3 Dec 2026; "" for a sound one."""
        if self.condition == Condition.SOUND:
            return ""
        words = str(self.get_condition_display())
        if self.condition_on is None:
            return words
        turn = "until" if self.condition == Condition.QUARANTINE else "since"
        return f"{words} {turn} {date_format(self.condition_on, 'j M Y')}"

    @property
    def is_unweighed(self) -> bool:
        """Not checked since it came."""
        return self.weighed_at is None or self.weighed_at <= self.received_at

    @property
    def gross_mg(self) -> int | None:
        """What the scale should say of it with its core; None while the core's mass is not known."""
        return None if self.core_mg is None else self.core_mg + self.on_hand_mg

    @property
    def free_mg(self) -> int:
        return max(0, self.on_hand_mg - self.reserved_mg)

    @property
    def undercut_mg(self) -> int:
        return max(0, self.reserved_mg - self.on_hand_mg)
