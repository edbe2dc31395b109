"""Kinds of core, with what an empty one weighs."""

from django.db import models
from django.db.models import Q


class CoreKind(models.Model):
    """A kind of core that several cones share, so that one empty core is weighed for all of them."""

    name = models.CharField(
        max_length=40, unique=True, error_messages={"unique": "Another kind of core has this name."}
    )
    mass_mg = models.BigIntegerField()
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(mass_mg__gte=0),
                name="stash_corekind_mass_not_negative",
                violation_error_message="A core weighs nothing or more.",
            )
        ]

    def __str__(self) -> str:
        return self.name
