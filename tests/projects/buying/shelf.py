"""A studio that has to order, small enough to be reckoned in the head; all invented.

The yarn runs a yard a gram. Ten ends of one yard a piece and 10 yd of weft: a piece of the plain plan takes 20 g.
"""

from datetime import date, timedelta
from typing import Any

from django.utils import timezone

from projects.models import Project
from stash.models import PutUp, Shade, Supplier
from stash.services.suppliers import NewPutUp, save_put_up
from tests.factories import GRAM, make_shade, make_supplier
from tests.projects.factories import make_project, plain_plan
from tests.projects.shortages import yard_yarn


def a_shade(name: str = "Slate", **facts: Any) -> Shade:
    from stash.models import Yarn

    yarn = facts.pop("yarn", None) or Yarn.objects.filter(name="Yard cotton").first() or yard_yarn()
    return make_shade(name, yarn, **facts)


def in_days(days: int) -> date:
    return timezone.localdate() + timedelta(days=days)


def job(
    shade: Shade, name: str = "Plain mats", pieces: int = 1, days: int | None = 60, **plan: Any
) -> Project:
    """So many pieces of the plain plan, 20 g each; wound in so many days."""
    return make_project(
        {"A": shade},
        name=name,
        plan=plain_plan(pieces=pieces, **plan),
        need_on=None if days is None else in_days(days),
    )


def seller(
    name: str = "Example Yarns", lead_days: int | None = 18, late_days: int = 7, **facts: Any
) -> Supplier:
    return make_supplier(name, lead_days=lead_days, late_days=late_days, **facts)


def sold(
    shade: Shade,
    supplier: Supplier,
    grams: int = 50,
    price: int | None = 500,
    of_shade: bool = False,
    **facts: Any,
) -> PutUp:
    return save_put_up(
        supplier_id=supplier.pk,
        put_up=NewPutUp(
            yarn_id=shade.yarn_id,
            shade_id=shade.pk if of_shade else None,
            mass_mg=grams * GRAM,
            price_cents=price,
            **facts,
        ),
    )
