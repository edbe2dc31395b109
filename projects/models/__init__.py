"""What is planned from the shelf."""

from projects.models.beam import ProjectBeam
from projects.models.fair import Fair
from projects.models.project import (
    AccentWay,
    DoubledWay,
    Dressing,
    HemKind,
    LossWay,
    Project,
    SleyKeeps,
    Stage,
)
from projects.models.record import ProjectNote, ProjectPhoto
from projects.models.shade import LotWish, ProjectShade

__all__ = [
    "AccentWay",
    "DoubledWay",
    "Dressing",
    "Fair",
    "HemKind",
    "LossWay",
    "LotWish",
    "Project",
    "ProjectBeam",
    "ProjectNote",
    "ProjectPhoto",
    "ProjectShade",
    "SleyKeeps",
    "Stage",
]
