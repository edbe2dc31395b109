"""Invented askers and cones for the tests, in yards: a gram is a yard."""

from datetime import date, timedelta

from stash.calc.allot import Asked, Package
from stash.calc.grist import Grist
from stash.calc.packing import Need
from tests.calc.plans import YD

YARD_A_GRAM = Grist(YD, 1000)
SHADE = 1
FIRST_DAY = date(2027, 1, 4)


def package(number, yards, lot=None, shade=SHADE):
    return Package(number, shade, lot, yards * 1000)


def asks(
    project,
    ends=0,
    *,
    warp=10,
    piece=0,
    pieces=1,
    sample=0,
    spare=0,
    buffer=0,
    wish="any",
    lot=None,
    cone=None,
    day=None,
    rank=5,
    shade=SHADE,
    key="A",
    **others,
):
    """Warp, weft a piece and sample in yards; `spare` ends and `buffer` yards a piece are the buffer. `day` counts from
    the first; unless it is said, projects are wanted in the order of their numbers."""
    need = Need(
        key,
        ends,
        ends + spare,
        piece * YD,
        (piece + buffer) * YD,
        sample * YD,
        sample * YD,
        wish,
        lot,
        cone,
    )
    return Asked(
        project_id=project,
        shade_id=shade,
        need=need,
        warp_um=warp * YD,
        pieces=pieces,
        keep_back=others.pop("keep_back", 0),
        grist=YARD_A_GRAM,
        need_on=FIRST_DAY + timedelta(project if day is None else day),
        rank=rank,
        **others,
    )


def given(found, project, key="A"):
    """What a project gets of a shade: {(cone, use): ends or yards}."""
    share = share_of(found, project, key)
    return {(line.cone_id, line.use): line.ends or line.length_um / YD for line in share.lines}


def share_of(found, project, key="A"):
    return next(share for share in found.shares if share.id == (project, key))
