"""Allotting: who should have which cone, over all projects that want a shade.

found = allot(asked, packages, deadline_s=30, told=print)
faults = check_allotment(asked, packages, found)              # none; asked again before anything is written
faults = check_allotment(asked, packages, found, only={7})    # if project 7 alone accepts and all others keep theirs
"""

from stash.calc.allot.allotment import (
    Allotment,
    Lacking,
    Progress,
    ProjectShare,
    ShadeReport,
    ShadeShare,
    Stop,
)
from stash.calc.allot.allotting import allot
from stash.calc.allot.asked import Asked, Package
from stash.calc.allot.check import Fault, check_allotment

__all__ = [
    "Allotment",
    "Asked",
    "Fault",
    "Lacking",
    "Package",
    "Progress",
    "ProjectShare",
    "ShadeReport",
    "ShadeShare",
    "Stop",
    "allot",
    "check_allotment",
]
