"""Rows with sensible defaults. Cones come from the service, so that their ledger is true."""

from fractions import Fraction
from io import BytesIO
from typing import Any

import factory
from django.utils import timezone
from PIL import Image

from projects.models import Project
from projects.services.planning import ProjectFacts, save_project
from stash.calc.colour_order import read_order
from stash.calc.counts import CountSystem, read_count
from stash.calc.density import UM_PER_INCH as INCH
from stash.calc.density import Density
from stash.calc.plan import Plan
from stash.models import Claim, Cone, Order, Person, Role, Shade, Studio, Supplier, Yarn
from stash.services.ordering import NewLine, mark_ordered, write_order
from stash.services.receiving import receive_cone
from stash.services.yarns import YarnFacts, save_shade, save_yarn

GRAM = 1_000


class StudioFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Studio
        django_get_or_create = ("pk",)

    pk = 1
    name = "Test studio"
    made_at = factory.LazyFunction(timezone.now)


class PersonFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Person
        django_get_or_create = ("username",)
        skip_postgeneration_save = True

    username = factory.Sequence(lambda number: f"person{number}")
    role = Role.OWNER
    password = factory.django.Password("a long enough word")


class ClaimFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Claim

    name = factory.Sequence(lambda number: f"claim {number}")
    made_at = factory.LazyFunction(timezone.now)


def make_yarn(
    name: str = "Plain cotton", count: str = "8/2", system: CountSystem = CountSystem.COTTON, **facts: Any
) -> Yarn:
    """A yarn by the service; 8/2 cotton, 3,360 yd/lb, unless told otherwise."""
    return save_yarn(facts=YarnFacts(name=name, count=read_count(count, system) if count else None, **facts))


def make_shade(name: str = "Spruce", yarn: Yarn | None = None, **facts: Any) -> Shade:
    if yarn is None:
        yarn = Yarn.objects.filter(name="Plain cotton").first() or make_yarn()
    return save_shade(yarn_id=yarn.pk, name=name, colour=facts.pop("colour", "#2f5d50"), **facts)


def make_cone(shade: Shade | None = None, grams: int = 500, by: Person | None = None, **facts: Any) -> Cone:
    """A cone by the service, of so many grams of yarn; of Spruce unless told otherwise."""
    facts = {"scale_mg": grams * GRAM} | facts
    shade = shade or Shade.objects.filter(name="Spruce").first() or make_shade()
    return receive_cone(shade=shade, by=by or PersonFactory(username="stock"), **facts)


def a_photo(width: int = 8, height: int = 6, kind: str = "JPEG", **facts: Any) -> bytes:
    """The bytes of a picture in plain green."""
    out = BytesIO()
    Image.new("RGB", (width, height), "#2f5d50").save(out, kind, **facts)
    return out.getvalue()


def make_project(name: str = "Lantern mats", shade: Shade | None = None, **facts: Any) -> Project:
    """Four mats of one shade by the service: 12 epi, 10 ppi, no losses, half a yard of waste."""
    shade = shade or make_shade(f"Shade of {name}")
    plan = Plan(
        pieces=4,
        across_um=14 * INCH,
        along_um=20 * INCH,
        losses_across=(Fraction(0),),
        losses_along=(Fraction(0),),
        take_up=Fraction(0),
        waste_um=18 * INCH,
        sett=Density(Fraction(12)),
        picks=Density(Fraction(10)),
        order=read_order("1 A"),
        order_fills=True,
        pick_order=read_order("1 A", word="picks"),
    )
    return save_project(
        facts=ProjectFacts(name=name, plan=plan, structure="plain", shades={"A": shade.pk}, **facts)
    )


def make_supplier(name: str = "Example Yarns", **facts: Any) -> Supplier:
    return Supplier.objects.create(name=name, **facts)


def make_order(
    shade: Shade | None = None,
    number: int = 2,
    grams: int = 454,
    supplier: Supplier | None = None,
    by: Person | None = None,
    sent: bool = True,
    **line: Any,
) -> Order:
    """An order of one line by the service, sent today unless told otherwise; of Spruce."""
    StudioFactory()
    shade = shade or Shade.objects.filter(name="Spruce").first() or make_shade()
    supplier = (
        supplier or Supplier.objects.filter(name="Example Yarns").first() or make_supplier(lead_days=18)
    )
    order = write_order(
        supplier_id=supplier.pk,
        lines=[NewLine(shade.pk, number, grams * GRAM, **line)],
        by=by or PersonFactory(username="stock"),
    )
    return mark_ordered(pk=order.pk, version=1, on=timezone.localdate()) if sent else order
