"""No deadline for one example: the first to ask for a unit builds pint's registry, and machines are shared."""

from hypothesis import settings

settings.register_profile("shared machine", deadline=None)
settings.load_profile("shared machine")
