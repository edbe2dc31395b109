"""What the studio owns, and what has happened to it."""

from stash.models.claim import Claim, Reservation, Shortage
from stash.models.cone import Condition, Cone, Place
from stash.models.core import CoreKind
from stash.models.delivery import Delivery
from stash.models.equipment import Board, BoardKind, Loom, Reed, ShaftHeddles, Tool, ToolKind
from stash.models.form import Form
from stash.models.ledger import Entry, EntryKind
from stash.models.order import Order, OrderLine, OrderLot
from stash.models.person import Person, Role
from stash.models.photo import Photo
from stash.models.saved import CalendarAddress, ColumnReading, PhoneCode, SavedView
from stash.models.stocktake import Count, CountKey, Finding, Stocktake
from stash.models.studio import Studio
from stash.models.supplier import PriceBreak, PutUp, Supplier
from stash.models.yarn import FibreShare, GristSource, Lot, Shade, Yarn

__all__ = [
    "Board",
    "BoardKind",
    "CalendarAddress",
    "Claim",
    "ColumnReading",
    "Condition",
    "Cone",
    "CoreKind",
    "Count",
    "CountKey",
    "Delivery",
    "Entry",
    "EntryKind",
    "FibreShare",
    "Finding",
    "Form",
    "GristSource",
    "Loom",
    "Lot",
    "Order",
    "OrderLine",
    "OrderLot",
    "Person",
    "PhoneCode",
    "Photo",
    "Place",
    "PriceBreak",
    "PutUp",
    "Reed",
    "Reservation",
    "Role",
    "SavedView",
    "Shade",
    "ShaftHeddles",
    "Shortage",
    "Stocktake",
    "Studio",
    "Supplier",
    "Tool",
    "ToolKind",
    "Yarn",
]
