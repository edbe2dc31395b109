"""What a cone's yarn is fit for."""

from django.db import models


class Condition(models.TextChoices):
    """What a cone's yarn is fit for. Quarantined, weak and oddment cones are offered to no project."""

    SOUND = "sound", "sound"
    QUARANTINE = "quarantine", "in quarantine"
    WEAK = "weak", "weak"
    FADED = "faded", "faded"
    ODDMENT = "oddment", "oddment"


USABLE = (Condition.SOUND, Condition.FADED)
