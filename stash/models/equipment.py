"""What the studio weaves with: looms and their heddles, reeds, warping boards, and what lies in the drawer."""

from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from stash.calc.density import Density
from stash.models.cone import Place

MOST_SHAFTS = 40


class EquipmentQuerySet(models.QuerySet[Any]):
    def live(self) -> "EquipmentQuerySet":
        return self.filter(retired_at=None)

    def lent(self) -> "EquipmentQuerySet":
        """What is out of the studio; what is to be back first comes first."""
        return self.live().exclude(lent_to="").order_by(models.F("back_on").asc(nulls_last=True), "name")


class Equipment(models.Model):
    """What all equipment has: a name, a place, and perhaps somebody who has it on loan."""

    name = models.CharField(max_length=80, unique=True)
    place = models.ForeignKey(Place, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    lent_to = models.CharField(max_length=80, blank=True)
    back_on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=500, blank=True)
    version = models.PositiveIntegerField(default=1)
    retired_at = models.DateTimeField(null=True, blank=True)

    objects = EquipmentQuerySet.as_manager()

    class Meta:
        abstract = True
        ordering = ["name", "pk"]

    def __str__(self) -> str:
        return self.name

    @property
    def is_lent(self) -> bool:
        return bool(self.lent_to)


def _back_needs_lent(name: str) -> models.CheckConstraint:
    return models.CheckConstraint(
        condition=Q(back_on=None) | ~Q(lent_to=""),
        name=name,
        violation_error_message="Only what is lent to somebody has a day to be back.",
    )


class Loom(Equipment):
    """`waste_um` is lost on each warp tied to the rods, front and back together; the two others are what is lost
    when it is laced on at the front, or tied on to the warp that is there. `left_um` of a warp is still on it."""

    weaving_width_um = models.BigIntegerField()
    shafts = models.PositiveSmallIntegerField(
        validators=[
            MinValueValidator(1, "A loom has 1 to 40 shafts."),
            MaxValueValidator(MOST_SHAFTS, "A loom has 1 to 40 shafts."),
        ]
    )
    reed_height_um = models.BigIntegerField(null=True, blank=True)
    """The highest reed that the beater takes."""
    waste_um = models.BigIntegerField()
    waste_laced_um = models.BigIntegerField(null=True, blank=True)
    waste_tied_on_um = models.BigIntegerField(null=True, blank=True)
    longest_warp_um = models.BigIntegerField(null=True, blank=True)
    """The longest warp so far that went well: how much the beam is known to take."""
    busy_with = models.CharField(max_length=80, blank=True)
    """What is on it that is no project here: a class, a friend's warp."""
    busy_until = models.DateField(null=True, blank=True)
    left_um = models.BigIntegerField(default=0)
    left_ends = models.PositiveIntegerField(default=0)
    left_of = models.CharField(max_length=120, blank=True)
    """Of which warp the rest is, and in which order its ends stand."""

    class Meta(Equipment.Meta):
        constraints = [
            _back_needs_lent("stash_loom_back_needs_lent"),
            models.CheckConstraint(
                condition=Q(weaving_width_um__gt=0, shafts__gte=1, shafts__lte=MOST_SHAFTS),
                name="stash_loom_width_and_shafts",
                violation_error_message="A loom has a weaving width, and 1 to 40 shafts.",
            ),
            models.CheckConstraint(
                condition=Q(waste_um__gte=0, left_um__gte=0)
                & (Q(waste_laced_um=None) | Q(waste_laced_um__gte=0))
                & (Q(waste_tied_on_um=None) | Q(waste_tied_on_um__gte=0))
                & (Q(longest_warp_um=None) | Q(longest_warp_um__gt=0))
                & (Q(reed_height_um=None) | Q(reed_height_um__gt=0)),
                name="stash_loom_lengths_not_negative",
                violation_error_message="A length cannot be below 0.",
            ),
        ]


class ShaftHeddles(models.Model):
    """How many heddles hang on one shaft, counted from the front."""

    loom = models.ForeignKey(Loom, on_delete=models.CASCADE, related_name="heddles")
    shaft = models.PositiveSmallIntegerField()
    number = models.PositiveIntegerField()

    class Meta:
        ordering = ["loom", "shaft"]
        constraints = [
            models.UniqueConstraint(
                fields=["loom", "shaft"],
                name="stash_heddles_shaft_once",
                violation_error_message="A shaft is listed twice.",
            ),
            models.CheckConstraint(
                condition=Q(shaft__gte=1, shaft__lte=MOST_SHAFTS),
                name="stash_heddles_shaft_known",
                violation_error_message="Shafts are counted from 1 to 40.",
            ),
        ]

    def __str__(self) -> str:
        return f"shaft {self.shaft}: {self.number}"


class Reed(Equipment):
    dents_numerator = models.BigIntegerField()
    dents_denominator = models.BigIntegerField(default=1)
    dents_per_um = models.PositiveIntegerField()
    """An inch or ten centimetres, as it is stamped on the reed."""
    length_um = models.BigIntegerField()
    height_um = models.BigIntegerField(null=True, blank=True)

    class Meta(Equipment.Meta):
        constraints = [
            _back_needs_lent("stash_reed_back_needs_lent"),
            models.CheckConstraint(
                condition=Q(dents_numerator__gt=0, dents_denominator__gt=0, dents_per_um__gt=0),
                name="stash_reed_dents_positive",
                violation_error_message="A reed has more than no dents.",
            ),
            models.CheckConstraint(
                condition=Q(length_um__gt=0) & (Q(height_um=None) | Q(height_um__gt=0)),
                name="stash_reed_size_positive",
                violation_error_message="A reed is longer and higher than nothing.",
            ),
        ]

    @property
    def dents(self) -> Density:
        return Density(Fraction(self.dents_numerator, self.dents_denominator), self.dents_per_um)


class BoardKind(models.TextChoices):
    BOARD = "board", "warping board"
    MILL = "mill", "warping mill"


class Board(Equipment):
    """`step_um` is what one width really measures from peg to peg, or one turn of a mill round."""

    kind = models.CharField(max_length=5, choices=BoardKind, default=BoardKind.BOARD)
    step_um = models.BigIntegerField()
    longest_um = models.BigIntegerField()
    most_ends = models.PositiveIntegerField(null=True, blank=True)
    """Ends that fit on its pegs in one chain without layers that change the length."""

    class Meta(Equipment.Meta):
        constraints = [
            _back_needs_lent("stash_board_back_needs_lent"),
            models.CheckConstraint(
                condition=Q(step_um__gt=0, longest_um__gte=models.F("step_um")),
                name="stash_board_path_positive",
                violation_error_message="A board measures more than nothing, and its longest path is no shorter "
                "than one width.",
            ),
            models.CheckConstraint(
                condition=Q(kind__in=BoardKind.values),
                name="stash_board_kind_known",
                violation_error_message="It is a warping board or a warping mill.",
            ),
            models.CheckConstraint(
                condition=Q(most_ends=None) | Q(most_ends__gte=1),
                name="stash_board_holds_ends",
                violation_error_message="A chain has at least one end.",
            ),
        ]


class ToolKind(models.TextChoices):
    SHUTTLE = "shuttle", "shuttle"
    BOBBIN = "bobbin", "bobbin or pirn"
    TEMPLE = "temple", "temple"
    OTHER = "other", "other"


class Tool(Equipment):
    """Small things of one kind, so many of them. A bobbin has the mass of yarn that it holds, a temple the widths."""

    kind = models.CharField(max_length=8, choices=ToolKind)
    number = models.PositiveIntegerField(default=1)
    holds_mg = models.BigIntegerField(null=True, blank=True)
    narrowest_um = models.BigIntegerField(null=True, blank=True)
    widest_um = models.BigIntegerField(null=True, blank=True)

    class Meta(Equipment.Meta):
        constraints = [
            _back_needs_lent("stash_tool_back_needs_lent"),
            models.CheckConstraint(
                condition=Q(kind__in=ToolKind.values),
                name="stash_tool_kind_known",
                violation_error_message="It is a shuttle, a bobbin, a temple or something else.",
            ),
            models.CheckConstraint(
                condition=Q(holds_mg=None) | Q(holds_mg__gt=0),
                name="stash_tool_holds_something",
                violation_error_message="A bobbin holds more than nothing.",
            ),
            models.CheckConstraint(
                condition=(Q(narrowest_um=None) & Q(widest_um=None))
                | Q(
                    narrowest_um__isnull=False,
                    widest_um__isnull=False,
                    narrowest_um__gt=0,
                    widest_um__gte=models.F("narrowest_um"),
                ),
                name="stash_tool_widths_in_order",
                violation_error_message="A temple has a narrowest width and a widest, which is no less.",
            ),
        ]


@dataclass(frozen=True, slots=True)
class Loan:
    """Something that should be back by now."""

    kind: str
    pk: int
    name: str
    lent_to: str
    back_on: date


def due_back(day: date) -> list[Loan]:
    """What is lent out and was to be back by that day, the longest overdue first. One query over all kinds."""
    kinds = (("looms", Loom), ("reeds", Reed), ("boards", Board), ("tools", Tool))
    first, *others = (
        model.objects.live()
        .exclude(lent_to="")
        .filter(back_on__lte=day)
        .order_by()
        .values_list(models.Value(kind), "pk", "name", "lent_to", "back_on")
        for kind, model in kinds
    )
    found = [Loan(*row) for row in first.union(*others, all=True)]
    return sorted(found, key=lambda loan: (loan.back_on, loan.name))
