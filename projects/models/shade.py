"""The shades of a project under its own keys, with what the plan needs of each."""

from django.core.validators import RegexValidator
from django.db import models
from django.db.models import Q

from projects.models.project import Project
from stash.calc.beams import MOST_BEAMS
from stash.calc.grist import Grist
from stash.calc.packing import Need
from stash.models import Cone, Lot, Shade

KEY = RegexValidator(r"\A[A-Z]{1,2}\Z", "A key is one or two capital letters, e.g. A.")


class LotWish(models.TextChoices):
    """Which lots a project takes of a shade."""

    ANY = "any", "any lot, rather one"
    SAME = "same", "one lot for warp and weft"
    LOT = "lot", "this lot"
    CONE = "cone", "this very cone"


class ProjectShade(models.Model):
    """`key` stands for `shade` in this project's colour order. Needs are in ends and lengths, so that they
    hold whatever the yarn's grist; `frozen_um` and `frozen_mg` keep the grist of the first reservation."""

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="shades")
    key = models.CharField(max_length=2, validators=[KEY])
    shade = models.ForeignKey(Shade, on_delete=models.PROTECT, related_name="project_shades")
    frozen_um = models.BigIntegerField(null=True, blank=True)
    frozen_mg = models.BigIntegerField(null=True, blank=True)

    wish = models.CharField(max_length=4, choices=LotWish, default=LotWish.ANY)
    wish_lot = models.ForeignKey(Lot, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    wish_cone = models.ForeignKey(Cone, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    beam = models.PositiveSmallIntegerField(default=1)
    warp_um = models.BigIntegerField(default=0)
    """Length of one end, which is that of its beam."""
    ends = models.PositiveIntegerField(default=0)
    ends_buffered = models.PositiveIntegerField(default=0)
    picks = models.PositiveIntegerField(default=0)
    weft_piece_um = models.BigIntegerField(default=0)
    weft_piece_buffered_um = models.BigIntegerField(default=0)
    weft_sample_um = models.BigIntegerField(default=0)
    weft_sample_buffered_um = models.BigIntegerField(default=0)

    class Meta:
        ordering = ["key"]
        constraints = [
            models.UniqueConstraint(
                fields=["project", "key"],
                name="projects_shade_key_once",
                violation_error_message="Two shades have the same key.",
            ),
            models.UniqueConstraint(
                fields=["project", "shade"],
                name="projects_shade_shade_once",
                violation_error_message="The same shade stands under two keys.",
            ),
            models.CheckConstraint(
                condition=Q(frozen_um__isnull=True, frozen_mg__isnull=True)
                | Q(frozen_um__isnull=False, frozen_mg__isnull=False, frozen_um__gt=0, frozen_mg__gt=0),
                name="projects_shade_frozen_pair",
                violation_error_message="A frozen length per mass has both parts, more than nothing.",
            ),
            models.CheckConstraint(
                condition=Q(beam__gte=1, beam__lte=MOST_BEAMS),
                name="projects_shade_beam_1_to_4",
                violation_error_message="A shade is wound on beam 1, 2, 3 or 4.",
            ),
            models.CheckConstraint(
                condition=Q(wish__in=["any", "same"], wish_lot__isnull=True, wish_cone__isnull=True)
                | Q(wish="lot", wish_lot__isnull=False, wish_cone__isnull=True)
                | Q(wish="cone", wish_lot__isnull=True, wish_cone__isnull=False),
                name="projects_shade_wish_names_its_lot",
                violation_error_message="Say which lot or which cone, or wish for none in particular.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.key}: {self.shade}"

    @property
    def grist(self) -> Grist:
        """The length per mass that this project reckons with."""
        if self.frozen_um and self.frozen_mg:
            return Grist(self.frozen_um, self.frozen_mg)
        return self.shade.yarn.grist

    @property
    def grist_moved(self) -> bool:
        """Has the yarn's figure changed since it was frozen here?"""
        return self.frozen_um is not None and self.grist != self.shade.yarn.grist

    def need(self) -> Need:
        return Need(
            key=self.key,
            ends=self.ends,
            ends_buffered=self.ends_buffered,
            weft_piece_um=self.weft_piece_um,
            weft_piece_buffered_um=self.weft_piece_buffered_um,
            weft_sample_um=self.weft_sample_um,
            weft_sample_buffered_um=self.weft_sample_buffered_um,
            wish=self.wish,
            wish_lot_id=self.wish_lot_id,
            wish_cone_id=self.wish_cone_id,
        )
