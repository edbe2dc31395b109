"""Claims, and what they hold. A claim knows a name, a day and a rank, and nothing of what is woven."""

from django.db import models
from django.db.models import F, Q

from stash.models.cone import Cone
from stash.models.yarn import Shade


class Use(models.TextChoices):
    WARP = "warp", "warp"
    WEFT = "weft", "weft"


class Claim(models.Model):
    """Who a reservation is for, when it is needed, and who goes first (rank 1 before rank 2)."""

    name = models.CharField(max_length=120)
    need_on = models.DateField(null=True, blank=True)
    rank = models.PositiveSmallIntegerField(default=5)
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["need_on", "rank", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(rank__gte=1, rank__lte=9),
                name="stash_claim_rank_1_to_9",
                violation_error_message="A rank is from 1, who goes first, to 9.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class ReservationQuerySet(models.QuerySet["Reservation"]):
    def by_need(self) -> "ReservationQuerySet":
        """With its claim, who needs it first stands first; a claim without a day comes last."""
        return self.select_related("claim").order_by(
            F("claim__need_on").asc(nulls_last=True), "claim__rank", "claim_id", "cone_id", "use"
        )


class Reservation(models.Model):
    """So much of this cone for that claim: warp in whole ends, weft by length."""

    claim = models.ForeignKey(Claim, on_delete=models.PROTECT, related_name="reservations")
    cone = models.ForeignKey(Cone, on_delete=models.PROTECT, related_name="reservations")
    use = models.CharField(max_length=4, choices=Use)
    ends = models.PositiveIntegerField(default=0)
    length_um = models.BigIntegerField()
    mass_mg = models.BigIntegerField()
    made_at = models.DateTimeField()

    objects = ReservationQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["claim", "cone", "use"],
                name="stash_reservation_use_once_a_cone",
                violation_error_message="This cone is reserved for the same use already.",
            ),
            models.CheckConstraint(
                condition=Q(length_um__gt=0, mass_mg__gte=0),
                name="stash_reservation_amount_positive",
                violation_error_message="Reserve more than nothing.",
            ),
            models.CheckConstraint(
                condition=Q(use="warp", ends__gt=0) | Q(use="weft", ends=0),
                name="stash_reservation_ends_of_warp",
                violation_error_message="Warp is reserved in whole ends, weft without ends.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.mass_mg} mg of {self.cone_id} for {self.claim_id}"


class Shortage(models.Model):
    """What a claim wanted and the shelf did not have when it was reserved: kept, not reserved."""

    claim = models.ForeignKey(Claim, on_delete=models.CASCADE, related_name="shortages")
    shade = models.ForeignKey(Shade, on_delete=models.PROTECT, related_name="shortages")
    ends = models.PositiveIntegerField(default=0)
    length_um = models.BigIntegerField()
    mass_mg = models.BigIntegerField()
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["claim", "shade"],
                name="stash_shortage_shade_once_a_claim",
                violation_error_message="What is missing of this shade is noted already.",
            ),
            models.CheckConstraint(
                condition=Q(length_um__gt=0, mass_mg__gt=0),
                name="stash_shortage_amount_positive",
                violation_error_message="A shortage is of more than nothing.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.mass_mg} mg of shade {self.shade_id} missing for {self.claim_id}"
