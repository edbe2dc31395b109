"""The differences that a stocktake found, each with what may explain it, in words."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from django.utils import timezone

from stash.calc.difference import Held, Likely, Neighbour, Weighed, Why, likely_reasons, noise_mg, noise_share
from stash.calc.writing import Measures, percent
from stash.models import Cone, Count, EntryKind, Finding, Reservation, Stocktake
from stash.services.stocktaking import as_weighed, is_stale, net_now_mg
from stash.tables.stocktakes import count_words, division_mg

# Offered where a reason is asked for; any other may be typed.
FOR_LESS = ("used and not noted", "given away", "dried out", "moth", "core was wrong", "mistake in the books")
FOR_MORE = ("damp", "wound back", "core was wrong", "mistake in the books")
FOR_ABSENT = ("used up", "given away", "sold", "moth")
FOR_LEAVING = ("to be weighed again", "counted wrongly", "stands elsewhere")


@dataclass(slots=True)
class Difference:
    """One count that waits, as it is read. `state`: noise, less, more, absent, stale or cannot."""

    count: Count
    state: str
    found: str
    books: str
    net: str = ""
    change: str = ""
    change_length: str = ""
    share: str = ""
    limit: str = ""
    reasons: list[str] = field(default_factory=list)
    suggestion: str = ""
    warnings: list[str] = field(default_factory=list)
    is_less: bool = False
    form: Any = None

    @property
    def offers(self) -> str:
        """Which list of reasons its field offers."""
        return {"more": "for-more", "absent": "for-absent"}.get(self.state, "for-less")


OFFERS = {
    "for-less": (*FOR_LESS, *FOR_LEAVING),
    "for-more": (*FOR_MORE, *FOR_LEAVING),
    "for-absent": (*FOR_ABSENT, *FOR_LEAVING),
}


class Differences:
    """All counts of a stocktake that wait to be settled: those within noise apart from those to look at.

    Three queries for the counts; `rows_of` adds two for the reasons of the rows that are shown.
    """

    def __init__(self, stocktake: Stocktake, measures: Measures) -> None:
        self.stocktake, self.measures = stocktake, measures
        self.noise: list[Count] = []
        self.to_look_at: list[Count] = []
        counts = stocktake.counts.unsettled().with_names().with_changes()
        for count in counts.prefetch_related("cone__shade__yarn__fibres"):
            weighed = as_weighed(count, division_mg(measures))
            calm = weighed and weighed.is_noise and not is_stale(count) and not count.cone.retired_at
            (self.noise if calm else self.to_look_at).append(count)
        self.to_look_at.sort(key=self._size, reverse=True)

    def _size(self, count: Count) -> tuple[bool, int]:
        """Cones that were not there first, then the greatest difference."""
        net_mg = net_now_mg(count)
        absent = count.finding == Finding.ABSENT
        return absent, abs((net_mg or 0) - count.cone.on_hand_mg)

    def rows_of(self, counts: Iterable[Count]) -> list[Difference]:
        counts = list(counts)
        held = _held(counts)
        neighbours = _neighbours(counts)
        return [self._row(count, held[count.cone_id], neighbours) for count in counts]

    def _row(
        self, count: Count, held: list[Reservation], neighbours: dict[int | None, list[tuple[int, Neighbour]]]
    ) -> Difference:
        cone, measures = count.cone, self.measures
        weighed = as_weighed(count, division_mg(measures))
        row = Difference(
            count=count,
            state="absent" if count.finding == Finding.ABSENT else "cannot",
            found=count_words(count, measures),
            books=measures.mass(cone.on_hand_mg),
        )
        net_mg = net_now_mg(count)
        if net_mg is not None:
            self._write_change(row, net_mg)
            row.warnings += self._undercut(cone, net_mg, held)
        if weighed:
            row.state = "noise" if weighed.is_noise else "more" if weighed.difference_mg > 0 else "less"
            row.limit = self._limit(weighed)
            others = [other for pk, other in neighbours[cone.place_id] if pk != cone.pk]
            claims = [Held(line.claim.name, line.mass_mg) for line in held]
            likely = likely_reasons(weighed, held=claims, neighbours=others)
            row.reasons = [reason_words(one, weighed, measures) for one in likely]
            row.suggestion = _suggestion(likely, weighed)
        if is_stale(count):
            row.state = "stale"
            row.warnings.insert(0, self._what_changed(count))
        if cone.retired_at:
            row.warnings.append("It was retired meanwhile: its books can only be left as they are.")
        if row.state == "cannot":
            row.warnings.append("Its core is heavier than the whole cone was when counted. Count it again.")
        if self.stocktake.place_id and cone.place_id != self.stocktake.place_id:
            where = f"its place is {cone.place}" if cone.place else "it has no place"
            row.warnings.append(f"By the books {where}.")
        row.suggestion = count.note or row.suggestion
        return row

    def _write_change(self, row: Difference, net_mg: int) -> None:
        cone, measures = row.count.cone, self.measures
        change_mg = net_mg - cone.on_hand_mg
        row.is_less = change_mg <= 0 and row.state != "absent"
        sign = "+" if change_mg > 0 else ""
        row.net = measures.mass(net_mg)
        if not change_mg:
            row.change = "none"
            return
        row.change = f"{sign}{measures.mass(change_mg)}"
        row.change_length = f"{sign}{measures.long_length(cone.shade.yarn.grist.length_um_of(change_mg))}"
        if cone.on_hand_mg:
            row.share = share_words(change_mg, cone.on_hand_mg)

    def _limit(self, weighed: Weighed) -> str:
        limit_mg = noise_mg(weighed.books_mg, weighed.fibres, weighed.division_mg)
        share = noise_share(weighed.fibres)
        of = (
            f"{percent(share)} of what the books have"
            if limit_mg == share * weighed.books_mg
            else "two divisions of the scale"
        )
        return f"{self.measures.mass(limit_mg)} ({of})"

    def _undercut(self, cone: Cone, net_mg: int, held: list[Reservation]) -> list[str]:
        missing_mg = cone.reserved_mg - net_mg
        if missing_mg <= 0:
            return []
        names = " and ".join(dict.fromkeys(line.claim.name for line in held))
        length = self.measures.long_length(cone.shade.yarn.grist.length_um_of(missing_mg), "up")
        mass = self.measures.mass(missing_mg, "up")
        return [f"Accepted, it undercuts what is reserved for {names} by {length} ({mass})."]

    def _what_changed(self, count: Count) -> str:
        if count.changed_at is None:
            return "The books changed after it was counted."
        at = timezone.localtime(count.changed_at)
        what = EntryKind(count.changed_kind).label
        return f"The books changed after it was counted: {what}, {at.day} {at:%B}, {at:%H:%M}."


def share_words(change_mg: int, books_mg: int) -> str:
    """+1.4 %; of what the books had."""
    words = percent(Fraction(change_mg, books_mg))
    return f"+{words}" if change_mg > 0 else words


def reason_words(likely: Likely, weighed: Weighed, measures: Measures) -> str:
    """One likely reason as a sentence with its figures."""
    mass = measures.mass(likely.mass_mg)
    if likely.why == Why.MOISTURE:
        if likely.low_mg is None:
            return "Moisture, or the scale: a difference as small as this means nothing."
        return (
            f"Moisture: what weighs {measures.mass(weighed.books_mg)} weighs {measures.mass(likely.low_mg)} to "
            f"{measures.mass(likely.high_mg)} as its regain goes from {percent(likely.low)} to "
            f"{percent(likely.high)}."
        )
    return {
        Why.ESTIMATE: "It was judged by eye.",
        Why.CORE_LEFT_ON: f"The core was weighed as yarn: it weighs {mass}.",
        Why.CORE_OFF_TWICE: f"The yarn alone was weighed, and the core of {mass} taken off once more.",
        Why.USED: f"Used already: {mass} are put aside for {likely.name}.",
        Why.OUNCES: f"Ounces were typed as grams: then the scale said {mass}.",
        Why.GRAMS: f"Grams were typed as ounces: then the scale said {mass}.",
        Why.OTHER_CONE: f"Another cone was on the scale: {likely.name} weighs so much by the books.",
    }[likely.why]


def _suggestion(likely: Iterable[Likely], weighed: Weighed) -> str:
    """What stands in the field for the reason at first: only what would be true if the books followed."""
    for one in likely:
        if one.why == Why.MOISTURE:
            return "damp" if weighed.difference_mg > 0 else "dried out"
        if one.why == Why.USED:
            return f"used for {one.name}"[:200]
    return ""


def _held(counts: list[Count]) -> dict[int, list[Reservation]]:
    """What is put aside of each cone, by claim: warp and weft of one claim are one sum."""
    found: dict[int, dict[int, Reservation]] = defaultdict(dict)
    lines = Reservation.objects.filter(cone__in=[count.cone_id for count in counts]).select_related("claim")
    for line in lines:
        known = found[line.cone_id].setdefault(line.claim_id, line)
        if known is not line:
            known.mass_mg += line.mass_mg
    return defaultdict(list, {cone: list(claims.values()) for cone, claims in found.items()})


def _neighbours(counts: list[Count]) -> dict[int | None, list[tuple[int, Neighbour]]]:
    """The cones of the places concerned, by place."""
    found: dict[int | None, list[tuple[int, Neighbour]]] = defaultdict(list)
    places = {count.cone.place_id for count in counts if count.cone.place_id}
    for pk, place, code, net_mg, core_mg in (
        Cone.objects.live()
        .filter(place__in=places)
        .values_list("pk", "place", "code", "on_hand_mg", "core_mg")
    ):
        found[place].append((pk, Neighbour(code, net_mg, core_mg)))
    return found
