"""A project: a plan to weave a number of pieces from one warp."""

from fractions import Fraction

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from stash.calc.colour_order import read_order
from stash.calc.density import Density
from stash.calc.plan import Plan
from stash.models import Claim, Entry, EntryKind, Reservation
from stash.models.folding import FoldedField

PPM = 1_000_000


class LossWay(models.TextChoices):
    SIMPLE = "simple", "one total loss each way"
    SPLIT = "split", "losses apart"


# The needs that are stored with each shade are for lists; a page works the plan out.
_SHADE_COLUMNS = (
    "project_id",
    "key",
    "frozen_um",
    "frozen_mg",
    "shade__name",
    "shade__colour",
    "shade__retired_at",
    "shade__yarn__name",
    "shade__yarn__grist_um",
    "shade__yarn__grist_mg",
)


def _taken(**which: object) -> models.Exists:
    """Does an entry stand by which the project of a row took yarn?"""
    entries = Entry.objects.filter(claim=models.OuterRef("claim"), undone_by=None, **which)
    return models.Exists(entries.exclude(kind=EntryKind.UNDONE))


class ProjectQuerySet(models.QuerySet["Project"]):
    def open(self) -> "ProjectQuerySet":
        return self.filter(closed_at=None)

    def to_weave(self) -> "ProjectQuerySet":
        """Open ones for which no yarn was taken yet: those whose need still lies ahead."""
        return self.open().exclude(_taken())

    def with_taking(self) -> "ProjectQuerySet":
        """Adds `was_taken`: was any yarn taken for it, and not taken back? and `was_wound`: was it for the warp?"""
        return self.annotate(was_taken=_taken(), was_wound=_taken(kind=EntryKind.WOUND))

    def by_need(self) -> "ProjectQuerySet":
        """Who needs yarn first comes first; without a day comes last."""
        return self.order_by(models.F("need_on").asc(nulls_last=True), "rank", "pk")

    def with_shades(self) -> "ProjectQuerySet":
        """With the shades of the plan and what pages say of them and their yarns, by one further query."""
        rows = self.model._meta.get_field("shades").related_model.objects.select_related("shade__yarn")
        return self.prefetch_related(models.Prefetch("shades", rows.only(*_SHADE_COLUMNS)))

    def listed(self) -> "ProjectQuerySet":
        """Only what a list says of a project and its verdict needs: the plan itself is four times as long."""
        return self.only(
            "name",
            "piece_name",
            "occasion",
            "need_on",
            "rank",
            "structure",
            "pieces",
            "warp_um",
            "keep_back",
            "claim_id",
            "version",
            "closed_at",
        )

    def with_holding(self) -> "ProjectQuerySet":
        """Adds `holds`: is any yarn put aside for it?"""
        return self.annotate(holds=models.Exists(Reservation.objects.filter(claim=models.OuterRef("claim"))))


class Project(models.Model):
    """Sizes are finished sizes, lengths whole um, shares millionths; `calc.plan.Plan` says what each means.

    `warp_um`, and the needs on each ProjectShade, repeat what calc makes of the plan, so that lists need
    not work it out; the service that writes the plan sets them, `recompute_plans` sets them anew.
    """

    name = models.CharField(max_length=120)
    piece_name = models.CharField(max_length=40, default="pieces")
    occasion = models.CharField(max_length=120, blank=True)
    need_on = models.DateField(null=True, blank=True)
    rank = models.PositiveSmallIntegerField(
        default=5,
        validators=[
            MinValueValidator(1, "A rank is from 1, who goes first, to 9."),
            MaxValueValidator(9, "A rank is from 1, who goes first, to 9."),
        ],
    )
    note = models.CharField(max_length=1000, blank=True)
    note_folded = FoldedField("note", max_length=2000)
    structure = models.CharField(max_length=20)

    pieces = models.PositiveIntegerField()
    across_um = models.BigIntegerField()
    along_um = models.BigIntegerField()
    hem_um = models.BigIntegerField(default=0)
    gap_um = models.BigIntegerField(default=12_700)
    sample_um = models.BigIntegerField(default=0)
    header_um = models.BigIntegerField(default=0)
    loss_way = models.CharField(max_length=6, choices=LossWay, default=LossWay.SIMPLE)
    loss_across_ppm = models.PositiveIntegerField(default=0)
    draw_in_ppm = models.PositiveIntegerField(default=0)
    shrinkage_across_ppm = models.PositiveIntegerField(default=0)
    loss_along_ppm = models.PositiveIntegerField(default=0)
    relaxation_ppm = models.PositiveIntegerField(default=0)
    shrinkage_along_ppm = models.PositiveIntegerField(default=0)
    take_up_ppm = models.PositiveIntegerField(default=0)
    waste_um = models.BigIntegerField()
    sett_numerator = models.BigIntegerField()
    sett_denominator = models.BigIntegerField(default=1)
    sett_per_um = models.PositiveIntegerField()
    picks_numerator = models.BigIntegerField()
    picks_denominator = models.BigIntegerField(default=1)
    picks_per_um = models.PositiveIntegerField()
    colour_order = models.CharField(max_length=2000)
    order_fills = models.BooleanField(default=True)
    balance_ends = models.PositiveIntegerField(default=0)
    pick_order = models.CharField(max_length=2000)
    weft_take_up_ppm = models.PositiveIntegerField(default=0)
    tail_um = models.BigIntegerField(default=177_800)
    carry_picks = models.PositiveIntegerField(default=4)
    warp_buffer_ppm = models.PositiveIntegerField(default=50_000)
    weft_buffer_ppm = models.PositiveIntegerField(default=80_000)
    board_um = models.BigIntegerField(default=228_600)
    keep_back = models.PositiveSmallIntegerField(default=0)

    ends = models.PositiveIntegerField(default=0)
    warp_um = models.BigIntegerField(default=0)

    claim = models.OneToOneField(
        Claim, on_delete=models.PROTECT, null=True, blank=True, related_name="project"
    )
    search = models.CharField(max_length=200, editable=False)
    version = models.PositiveIntegerField(default=1)
    made_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)

    objects = ProjectQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["name"],
                name="projects_project_name_once",
                violation_error_code="unique",
                violation_error_message="Another project has this name.",
            ),
            models.CheckConstraint(
                condition=Q(pieces__gte=1, across_um__gt=0, along_um__gt=0),
                name="projects_project_size_positive",
                violation_error_message="A project has at least one piece, of more than no size.",
            ),
            models.CheckConstraint(
                condition=Q(
                    hem_um__gte=0, gap_um__gte=0, sample_um__gte=0, header_um__gte=0, waste_um__gte=0
                ),
                name="projects_project_lengths_not_negative",
                violation_error_message="A length cannot be below 0.",
            ),
            models.CheckConstraint(
                condition=Q(
                    sett_numerator__gt=0,
                    sett_denominator__gt=0,
                    sett_per_um__gt=0,
                    picks_numerator__gt=0,
                    picks_denominator__gt=0,
                    picks_per_um__gt=0,
                ),
                name="projects_project_densities_positive",
                violation_error_message="Sett and picks are more than nothing.",
            ),
            models.CheckConstraint(
                condition=Q(rank__gte=1, rank__lte=9),
                name="projects_project_rank_1_to_9",
                violation_error_message="A rank is from 1, who goes first, to 9.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def plan(self) -> Plan:
        """The plan as calc takes it. Raises CalcError only if the row was written around the service."""
        split = self.loss_way == LossWay.SPLIT
        across = (self.draw_in_ppm, self.shrinkage_across_ppm) if split else (self.loss_across_ppm,)
        along = (self.relaxation_ppm, self.shrinkage_along_ppm) if split else (self.loss_along_ppm,)
        return Plan(
            pieces=self.pieces,
            across_um=self.across_um,
            along_um=self.along_um,
            hem_um=self.hem_um,
            gap_um=self.gap_um,
            sample_um=self.sample_um,
            header_um=self.header_um,
            losses_across=tuple(Fraction(part, PPM) for part in across),
            losses_along=tuple(Fraction(part, PPM) for part in along),
            take_up=Fraction(self.take_up_ppm, PPM),
            waste_um=self.waste_um,
            sett=Density(Fraction(self.sett_numerator, self.sett_denominator), self.sett_per_um),
            picks=Density(Fraction(self.picks_numerator, self.picks_denominator), self.picks_per_um),
            order=read_order(self.colour_order),
            order_fills=self.order_fills,
            balance_ends=self.balance_ends,
            pick_order=read_order(self.pick_order, word="picks"),
            weft_take_up=Fraction(self.weft_take_up_ppm, PPM),
            tail_um=self.tail_um,
            carry_picks=self.carry_picks,
            warp_buffer=Fraction(self.warp_buffer_ppm, PPM),
            weft_buffer=Fraction(self.weft_buffer_ppm, PPM),
            board_um=self.board_um,
            keep_back=self.keep_back,
        )
