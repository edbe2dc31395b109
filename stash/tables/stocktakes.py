"""Stocktakes in rows: the list of them, and the cones to go along."""

from dataclasses import dataclass

from django.db.models import Count as CountOf
from django.db.models import Q

from stash.calc.difference import DIVISION_MG
from stash.calc.writing import Measures
from stash.models import Cone, Count, Finding, Form, Place, Stocktake
from stash.models.stocktake import CountQuerySet
from stash.services.stocktaking import as_weighed

CORELESS = (Form.SKEIN, Form.BALL)


@dataclass(frozen=True, slots=True)
class OpenRound:
    """An open stocktake and how far it is; `cones` stand there now."""

    stocktake: Stocktake
    counted: int
    waiting: int
    cones: int


def places_with_cones() -> list[tuple[int, str, int]]:
    """Key, name and number of cones of every place on which one stands."""
    standing = CountOf("cones", filter=Q(cones__retired_at=None))
    places = Place.objects.annotate(standing=standing).filter(standing__gt=0).order_by("name")
    return list(places.values_list("pk", "name", "standing"))


def open_rounds() -> list[OpenRound]:
    """All that are open, by two queries however many they are."""
    waiting = CountOf("counts", filter=Q(counts__settled_at=None))
    rounds = Stocktake.objects.open().with_names().order_by("pk")
    rounds = rounds.annotate(counted=CountOf("counts"), waiting=waiting)
    by_place = Cone.objects.live().order_by().values("place").annotate(cones=CountOf("pk"))
    standing = {row["place"]: row["cones"] for row in by_place}
    return [
        OpenRound(
            stocktake=one,
            counted=one.counted,
            waiting=one.waiting,
            cones=sum(standing.values()) if one.place_id is None else standing.get(one.place_id, 0),
        )
        for one in rounds
    ]


@dataclass(frozen=True, slots=True)
class CountLine:
    """One cone to count: `about` is what to know it by, `found` what was found of it, "" as yet.

    `look_again` says that the figure is further from the books than noise: the moment to notice a slip is
    while the cone is at hand. What the books say is not shown, so that nobody reads it off.
    """

    cone: Cone
    about: str
    found: str
    look_again: bool


def count_lines(stocktake: Stocktake, measures: Measures) -> list[CountLine]:
    """Every cone that the stocktake goes along, by three queries."""
    counts = {count.cone_id: count for count in with_fibres(stocktake.counts.all())}
    whole_shelf = stocktake.place_id is None
    lines = []
    for cone in stocktake.cones().with_names():
        count = counts.get(cone.pk)
        lines.append(
            CountLine(
                cone=cone,
                about=cone_about(
                    cone, measures, with_place=whole_shelf or cone.place_id != stocktake.place_id
                ),
                found=count_words(count, measures) if count else "",
                look_again=bool(count and looks_off(count, measures)),
            )
        )
    return lines


def with_fibres(counts: CountQuerySet) -> CountQuerySet:
    """With what tells whether a figure is within noise."""
    return counts.select_related("cone__shade__yarn").prefetch_related("cone__shade__yarn__fibres")


def cone_about(cone: Cone, measures: Measures, *, with_place: bool) -> str:
    """Yarn, lot, form and what the label says, in one line."""
    yarn = cone.shade.yarn
    said = [
        yarn.count_written or yarn.name,
        f"lot {cone.lot}" if cone.lot else "unknown lot",
        cone.get_form_display(),
    ]
    if with_place:
        said.append(f"place: {cone.place}" if cone.place else "no place noted")
    if cone.labelled_mg:
        said.append(f"label {measures.mass(cone.labelled_mg)}")
    if cone.core_mg is not None:
        said.append(f"core {measures.mass(cone.core_mg)}")
    elif cone.form not in CORELESS:
        said.append("core not known")
    return ", ".join(said)


def count_words(count: Count, measures: Measures) -> str:
    """431 g; 431 g, yarn only; about 400 g; not here."""
    if count.finding != Finding.WEIGHED or count.scale_mg is None:
        return count.get_finding_display()
    words = measures.mass(count.scale_mg)
    if count.is_estimate:
        words = f"about {words}"
    return words if count.is_gross else f"{words}, yarn only"


def looks_off(count: Count, measures: Measures) -> bool:
    """Was a figure given that is further from the books than noise? Settled counts need no second look."""
    if count.settled_at or count.finding != Finding.WEIGHED:
        return False
    weighed = as_weighed(count, division_mg(measures))
    return weighed is None or not weighed.is_noise


def division_mg(measures: Measures) -> int:
    """What the last figure of the studio's scale steps by, or is taken to where the studio does not say."""
    return measures.scale_step_mg or DIVISION_MG[measures.mass_in]
