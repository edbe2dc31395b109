"""What the studio owns, and what has happened to it."""

from stash.models.claim import Claim, Reservation, Shortage
from stash.models.cone import Cone, Form, Place
from stash.models.ledger import Entry, EntryKind
from stash.models.person import Person, Role
from stash.models.studio import Studio
from stash.models.yarn import FibreShare, GristSource, Lot, Shade, Yarn

__all__ = [
    "Claim",
    "Cone",
    "Entry",
    "EntryKind",
    "FibreShare",
    "Form",
    "GristSource",
    "Lot",
    "Person",
    "Place",
    "Reservation",
    "Role",
    "Shade",
    "Shortage",
    "Studio",
    "Yarn",
]
