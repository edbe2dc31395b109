"""Locks. One order for all: cones by primary key, late, before the check they guard.

On PostgreSQL these are row locks; on SQLite every writer holds the whole database from its first
statement on (`transaction_mode: IMMEDIATE`), and `select_for_update` asks for nothing more.
"""

from stash.models import Cone
from stash.services.refusal import Refusal


def lock_cone(cone_id: int) -> Cone:
    """The cone, locked until the transaction ends. Raises Refusal if there is none."""
    cone = Cone.objects.select_for_update(of=("self",)).filter(pk=cone_id).first()
    if cone is None:
        raise Refusal("There is no such cone any more.")
    return cone
