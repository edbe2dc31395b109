"""The form in which yarn is wound."""

from django.db import models


class Form(models.TextChoices):
    CONE = "cone", "cone"
    SKEIN = "skein", "skein"
    SPOOL = "spool", "spool"
    TUBE = "tube", "tube"
    BALL = "ball", "ball"
    PIRN = "pirn", "pirn"
