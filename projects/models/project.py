"""A project: a plan to weave a number of pieces from one warp."""

from collections.abc import Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from projects.models.fair import Fair
from stash.calc.accents import read_accents
from stash.calc.beams import Beam
from stash.calc.colour_order import read_order
from stash.calc.density import Density
from stash.calc.draft import Draft, interlacing
from stash.calc.fringe import Fringe
from stash.calc.hems import Hem
from stash.calc.lot_wish import ShadeWish
from stash.calc.plan import Plan
from stash.calc.selvedges import Selvedges
from stash.calc.sley import Sleyed, read_sley
from stash.calc.sley_offers import near_enough
from stash.calc.structure import Structure
from stash.models import Board, Claim, Entry, EntryKind, Loom, Reed, Reservation
from stash.models.folding import FoldedField

if TYPE_CHECKING:
    from projects.models.shade import ProjectShade

PPM = 1_000_000
MOST_KITS = 200


class LossWay(models.TextChoices):
    SIMPLE = "simple", "one total loss each way"
    SPLIT = "split", "losses apart"


class HemKind(models.TextChoices):
    GIVEN = "given", "hem cloth as given"
    SINGLE = "single", "folded once"
    DOUBLE = "double", "turned twice, like folds"
    SMALL_FOLD = "small", "turned twice, first fold small"
    STRIP = "strip", "a plain-weave strip"


class DoubledWay(models.TextChoices):
    HEDDLE = "heddle", "in heddle and dent"
    DENT = "dent", "in the dent only"
    APART = "apart", "in neither"


class AccentWay(models.TextChoices):
    REPLACES = "replaces", "instead of an end"
    ADDED = "added", "in addition to the ends"


class Dressing(models.TextChoices):
    TIED = "tied", "tied to the rods"
    LACED = "laced", "laced on at the front"
    TIED_ON = "tied_on", "tied on to the warp that is there"


class SleyKeeps(models.TextChoices):
    ENDS = "ends", "keep the ends"
    WIDTH = "width", "keep the width"


class Stage(models.TextChoices):
    """The trade's own steps, in their order."""

    PLANNED = "planned", "planned"
    WOUND = "wound", "warp wound"
    DRESSED = "dressed", "on the loom"
    WEAVING = "weaving", "being woven"
    CUT_OFF = "cut_off", "cut off"
    FINISHED = "finished", "wet-finished and hemmed"
    DONE = "done", "weighed back and done"


# The needs that are stored with each shade are for lists; a page works the plan out.
_SHADE_COLUMNS = (
    "project_id",
    "key",
    "beam",
    "wish",
    "wish_lot_id",
    "wish_cone_id",
    "wish_lot__name",
    "wish_cone__code",
    "wish_cone__condition",
    "wish_cone__condition_on",
    "wish_cone__retired_at",
    "frozen_um",
    "frozen_mg",
    "shade__name",
    "shade__colour",
    "shade__retired_at",
    "shade__no_more_on",
    "shade__one_more",
    "shade__yarn__name",
    "shade__yarn__grist_um",
    "shade__yarn__grist_mg",
    "shade__yarn__grist_source",
)


def _taken(**which: object) -> models.Exists:
    """Does an entry stand by which the project of a row took yarn?"""
    entries = Entry.objects.filter(claim=models.OuterRef("claim"), undone_by=None, **which)
    return models.Exists(entries.exclude(kind=EntryKind.UNDONE))


class ProjectQuerySet(models.QuerySet["Project"]):
    def no_trials(self) -> "ProjectQuerySet":
        """Without the ways out that are being tried: those stand under their project."""
        return self.filter(trial_of=None)

    def open(self) -> "ProjectQuerySet":
        return self.no_trials().filter(closed_at=None)

    def to_weave(self) -> "ProjectQuerySet":
        """Open ones that are not on a loom and for which no yarn was taken yet: whose need still lies ahead."""
        return self.open().filter(stage__in=[Stage.PLANNED, Stage.WOUND]).exclude(_taken())

    def with_taking(self) -> "ProjectQuerySet":
        """Adds `was_taken`: was any yarn taken for it, and not taken back? and `was_wound`: was it for the warp?"""
        return self.annotate(was_taken=_taken(), was_wound=_taken(kind=EntryKind.WOUND))

    def by_need(self) -> "ProjectQuerySet":
        """Who needs yarn first comes first; without a day comes last."""
        return self.order_by(models.F("need_on").asc(nulls_last=True), "rank", "pk")

    def with_shades(self) -> "ProjectQuerySet":
        """With the shades of the plan and what pages say of them and their yarns, by one further query."""
        rows = self.model._meta.get_field("shades").related_model.objects
        rows = rows.select_related("shade__yarn", "wish_lot", "wish_cone")
        return self.prefetch_related(models.Prefetch("shades", rows.only(*_SHADE_COLUMNS)))

    def with_trials(self) -> "ProjectQuerySet":
        """Adds `has_trials`: is a way out of it being tried?"""
        trials = self.model._default_manager.filter(trial_of=models.OuterRef("pk"))
        return self.annotate(has_trials=models.Exists(trials))

    def listed(self) -> "ProjectQuerySet":
        """Only what a list says of a project and its verdict needs: the plan itself is four times as long."""
        return self.only(
            "name",
            "piece_name",
            "occasion",
            "need_on",
            "off_on",
            "fair_id",
            "rank",
            "structure",
            "pieces",
            "warp_um",
            "keep_back",
            "kit_students",
            "kit_demo",
            "kit_spare",
            "stage",
            "open_keys",
            "claim_id",
            "version",
            "closed_at",
        )

    def with_holding(self) -> "ProjectQuerySet":
        """Adds `holds`: is any yarn put aside for it?"""
        return self.annotate(holds=models.Exists(Reservation.objects.filter(claim=models.OuterRef("claim"))))


class Project(models.Model):
    """Sizes are finished sizes, lengths whole um, shares millionths; `calc.plan.Plan` says what each means.

    `warp_um`, `open_keys`, and the needs on each ProjectShade, repeat what calc makes of the plan, so that lists need
    not work it out; the service that writes the plan sets them, `recompute_plans` sets them anew.
    """

    name = models.CharField(max_length=120)
    piece_name = models.CharField(max_length=40, default="pieces")
    occasion = models.CharField(max_length=120, blank=True)
    need_on = models.DateField(null=True, blank=True)
    fair = models.ForeignKey(Fair, on_delete=models.SET_NULL, null=True, blank=True, related_name="projects")
    """The fair that it must be ready for."""
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

    hem_kind = models.CharField(max_length=6, choices=HemKind, default=HemKind.GIVEN)
    hem_depth_um = models.BigIntegerField(default=0)
    hem_fold_um = models.BigIntegerField(default=0)
    hem_picks_numerator = models.BigIntegerField(null=True, blank=True)
    hem_picks_denominator = models.BigIntegerField(default=1)
    hem_picks_per_um = models.PositiveIntegerField(default=25_400)
    hem_pick_order = models.CharField(max_length=2000, blank=True)
    fringe_um = models.BigIntegerField(default=0)
    fringe_twisted = models.BooleanField(default=False)
    fringe_loss_ppm = models.PositiveIntegerField(default=0)
    fringe_knot_um = models.BigIntegerField(default=0)
    waste_front_um = models.BigIntegerField(default=0)
    floating_selvedges = models.BooleanField(default=False)
    floating_key = models.CharField(max_length=2, blank=True)
    doubled_ends = models.PositiveSmallIntegerField(default=0)
    doubled_way = models.CharField(max_length=6, choices=DoubledWay, default=DoubledWay.HEDDLE)
    border_order = models.CharField(max_length=2000, blank=True)
    accents = models.CharField(max_length=500, blank=True)
    accent_way = models.CharField(max_length=8, choices=AccentWay, default=AccentWay.REPLACES)
    accents_in_weft = models.BooleanField(default=False)
    whole_pick_repeats = models.BooleanField(default=False)
    kit_students = models.PositiveSmallIntegerField(default=0)
    kit_demo = models.PositiveSmallIntegerField(default=0)
    kit_spare = models.PositiveSmallIntegerField(default=0)

    threading = models.CharField(max_length=2000, blank=True)
    tie_up = models.CharField(max_length=500, blank=True)
    treadling = models.CharField(max_length=2000, blank=True)
    lift_plan = models.CharField(max_length=2000, blank=True)

    loom = models.ForeignKey(Loom, on_delete=models.PROTECT, null=True, blank=True, related_name="projects")
    reed = models.ForeignKey(Reed, on_delete=models.PROTECT, null=True, blank=True, related_name="projects")
    board = models.ForeignKey(Board, on_delete=models.PROTECT, null=True, blank=True, related_name="projects")
    dressing = models.CharField(max_length=8, choices=Dressing, default=Dressing.TIED)
    sley = models.CharField(max_length=40, blank=True)
    sley_keeps = models.CharField(max_length=6, choices=SleyKeeps, default=SleyKeeps.ENDS)
    off_on = models.DateField(null=True, blank=True)
    """The day on which the warp is to be off the loom."""
    at_once = models.PositiveSmallIntegerField(default=2)
    """Threads wound at once."""
    ticket_done = models.PositiveIntegerField(default=0)
    """Lines of the warping ticket that are wound."""
    stage = models.CharField(max_length=8, choices=Stage, default=Stage.PLANNED)
    trial_of = models.ForeignKey(
        "self", on_delete=models.CASCADE, null=True, blank=True, related_name="trials"
    )
    """A way out that is being tried is a plan of its own beside the first; it holds nothing."""

    ends = models.PositiveIntegerField(default=0)
    warp_um = models.BigIntegerField(default=0)
    open_keys = models.CharField(max_length=200, blank=True)
    """Keys of the plan that have no shade yet, as in a plan that came from another studio: "B C"."""

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
            models.CheckConstraint(
                condition=Q(
                    hem_depth_um__gte=0,
                    hem_fold_um__gte=0,
                    fringe_um__gte=0,
                    fringe_knot_um__gte=0,
                    waste_front_um__gte=0,
                    waste_front_um__lte=models.F("waste_um"),
                ),
                name="projects_project_edges_not_negative",
                violation_error_message="A length cannot be below 0, nor the waste at the front above all waste.",
            ),
            models.CheckConstraint(
                condition=Q(hem_picks_numerator=None)
                | Q(hem_picks_numerator__gt=0, hem_picks_denominator__gt=0, hem_picks_per_um__gt=0),
                name="projects_project_hem_picks_positive",
                violation_error_message="Picks in the hem are more than nothing.",
            ),
            models.CheckConstraint(
                condition=Q(at_once__gte=1, at_once__lte=24),
                name="projects_project_at_once_1_to_24",
                violation_error_message="From 1 to 24 threads are wound at once.",
            ),
            models.CheckConstraint(
                condition=Q(stage__in=Stage.values),
                name="projects_project_stage_known",
                violation_error_message="A project stands at one of the trade's steps.",
            ),
            models.CheckConstraint(
                condition=Q(trial_of=None) | Q(claim=None),
                name="projects_project_trial_holds_nothing",
                violation_error_message="A plan that is being tried holds no yarn.",
            ),
            models.CheckConstraint(
                condition=Q(off_on=None) | Q(need_on=None) | Q(off_on__gte=models.F("need_on")),
                name="projects_project_off_after_wound",
                violation_error_message="A warp comes off the loom on its winding day or later.",
            ),
            models.CheckConstraint(
                condition=Q(kit_students__lte=MOST_KITS, kit_demo__lte=MOST_KITS, kit_spare__lte=MOST_KITS),
                name="projects_project_kits_at_most_200",
                violation_error_message="A class has at most 200 kits of each sort.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def judged_as(self) -> int | None:
        """The claim whose own reservations never make this plan short: a trial is judged as its project is."""
        return self.trial_of.claim_id if self.trial_of else self.claim_id

    @property
    def weave(self) -> Structure | Draft:
        """The structure, or the plan's own draft. Raises CalcError only if the row was written around the service."""
        return interlacing(
            self.structure,
            threading=self.threading,
            tie_up=self.tie_up,
            treadling=self.treadling,
            lift_plan=self.lift_plan,
        )

    @property
    def warps(self) -> int:
        """How many like warps are wound: one, or one for every kit of a class."""
        return max(1, self.kit_students + self.kit_demo + self.kit_spare)

    @property
    def pieces_in_all(self) -> int:
        """From all like warps: what the stored needs are for."""
        return self.warps * self.pieces

    @property
    def sett(self) -> Density:
        return Density(Fraction(self.sett_numerator, self.sett_denominator), self.sett_per_um)

    @property
    def sleyed(self) -> Sleyed | None:
        """The sley chosen in its reed; none if the sett was changed since, so that it is of no use any more."""
        if not self.reed_id or not self.sley:
            return None
        sley = read_sley(self.sley)
        if not near_enough(self.sett, self.reed.dents, sley):
            return None
        return Sleyed(self.reed.dents, sley, SleyKeeps(self.sley_keeps).value)

    @property
    def plan(self) -> Plan:
        """The plan as calc takes it. Raises CalcError only if the row was written around the service."""
        split = self.loss_way == LossWay.SPLIT
        across = (self.draw_in_ppm, self.shrinkage_across_ppm) if split else (self.loss_across_ppm,)
        along = (self.relaxation_ppm, self.shrinkage_along_ppm) if split else (self.loss_along_ppm,)
        rows = list(self.shades.all()) if self.pk else []
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
            sett=self.sett,
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
            hem=self._hem,
            fringe=Fringe(
                self.fringe_um, Fraction(self.fringe_loss_ppm, PPM), self.fringe_twisted, self.fringe_knot_um
            ),
            waste_front_um=self.waste_front_um,
            selvedges=Selvedges(
                self.floating_selvedges,
                self.floating_key,
                self.doubled_ends,
                DoubledWay(self.doubled_way).value,
            ),
            border=read_order(self.border_order) if self.border_order else None,
            accents=read_accents(self.accents),
            accent_way=AccentWay(self.accent_way).value,
            accents_in_weft=self.accents_in_weft,
            whole_pick_repeats=self.whole_pick_repeats,
            warps=self.warps,
            beams=self._further_beams(rows),
            wishes=tuple(
                ShadeWish(row.key, row.wish, row.wish_lot_id, row.wish_cone_id)
                for row in rows
                if row.wish != "any"
            ),
            sleyed=self.sleyed,
        )

    @property
    def _hem(self) -> Hem:
        picks = None
        if self.hem_picks_numerator:
            count = Fraction(self.hem_picks_numerator, self.hem_picks_denominator)
            picks = Density(count, self.hem_picks_per_um)
        order = read_order(self.hem_pick_order, word="picks") if self.hem_pick_order else None
        return Hem(HemKind(self.hem_kind).value, self.hem_depth_um, self.hem_fold_um, picks, order)

    def _further_beams(self, rows: "Sequence[ProjectShade]") -> tuple[Beam, ...]:
        """Their take-ups are asked for only where a shade is wound on one: most plans have one beam."""
        keys: dict[int, list[str]] = {}
        for row in rows:
            if row.beam > 1:
                keys.setdefault(row.beam, []).append(row.key)
        if not keys:
            return ()
        take_ups = {beam.number: beam.take_up_ppm for beam in self.beams.all()}
        return tuple(
            Beam(number, Fraction(take_ups.get(number, self.take_up_ppm), PPM), tuple(sorted(keys[number])))
            for number in sorted(keys)
        )
