"""Which shades ask for an order, of whom it is best made, and how much: every figure from the calculations of reorder."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from functools import lru_cache
from math import ceil

from projects.buying.gathering import Around, Scene
from stash.calc.reorder.consolidating import consolidate
from stash.calc.reorder.decision import Decision, Short, Times, decide, needed_for_level, wound_mg
from stash.calc.reorder.jobs import Enough, Served, enough_for, serve, wanting
from stash.calc.reorder.put_ups import MOST_NUMBER, Counted, Keeping, Offered, count
from stash.calc.verdict import Verdict


@dataclass(frozen=True, slots=True)
class Choice:
    """One put-up that would do: so many of it, decided by its supplier's times."""

    counted: Counted
    decision: Decision
    times: Times
    needed_for_jobs: int
    """0 where no job asks."""
    matched: int | None
    """So many would do if they could be had of `matched_lot`."""
    matched_lot: int | None
    late_days: int | None
    """Days by which it comes after the first job wants it, with usual delay; 0 in time, None where nobody knows."""

    @property
    def offered(self) -> Offered:
        return self.counted.offered


@dataclass(frozen=True, slots=True)
class Asking:
    """A shade that asks for an order. `choices` stand from the best to the worst; none where nobody sells it.

    `chosen` is the one that is proposed; None as well where orders being written cover all that is asked.
    """

    around: Around
    shorts: tuple[Short, ...]
    """Jobs that go without, those that are written down for an order among them."""
    choices: tuple[Choice, ...]
    decision: Decision
    chosen: Choice | None = None
    covered: bool = False
    """What orders hold that are being written, late, or of no known day, is enough: once they are sent, or come."""

    @property
    def shade_id(self) -> int:
        return self.around.shade_id

    @property
    def must(self) -> bool:
        """Something is missing. Else it is the buffer, or an estimate of usual use, for which it is offered."""
        level = self.decision.level
        kept = level is not None and level.kept and level.on is not None
        return any(not short.tight for short in self.shorts) or (self.decision.by == "level" and kept)

    @property
    def need_on(self) -> date | None:
        """The day on which the first of its jobs is wound."""
        return min((short.on for short in self.shorts if short.on), default=None)


@dataclass(frozen=True, slots=True)
class Coming:
    """A shade of which nothing is asked for yet, and the day on which its level is reached."""

    around: Around
    decision: Decision


def times_of(scene: Scene, around: Around, supplier_id: int) -> Times:
    them = scene.suppliers[supplier_id]
    return Times(them.lead_days, them.late_days, scene.studio.quarantine_days if around.animal else 0)


@dataclass(frozen=True, slots=True)
class _Given:
    """What else decides, beside what is around a shade: values, so that what was asked once need not be asked again."""

    today: date
    sure_ppm: int
    quarantine_days: int
    order_cost_cents: int | None
    holding_ppm: int | None
    currency: str
    sellers: tuple[tuple[int, Times, str], ...]
    """Key, times and currency of each who sells the shade."""

    def times(self, supplier_id: int) -> Times:
        return next(times for pk, times, _ in self.sellers if pk == supplier_id)

    def is_own_currency(self, supplier_id: int) -> bool:
        return any(pk == supplier_id and currency == self.currency for pk, _, currency in self.sellers)


# Every page that says a last day to order asks of all shades with a job, and from one page to the next little changes.
_REMEMBERED = 4096


def ask(scene: Scene, around: Around) -> Asking | Coming | None:
    """What is to be said of one shade; of whom it is bought is settled for all together by `settle`."""
    studio = scene.studio
    sellers = sorted({offer.supplier_id for offer in around.offers})
    given = _Given(
        scene.today,
        studio.sure_ppm,
        studio.quarantine_days,
        studio.order_cost_cents,
        studio.holding_ppm,
        studio.currency,
        tuple((pk, times_of(scene, around, pk), scene.currency_of(pk)) for pk in sellers),
    )
    return _ask(given, around)


@lru_cache(_REMEMBERED)
def _ask(given: _Given, around: Around) -> Asking | Coming | None:
    today, week_mg = given.today, around.outlook.use.week_mg if around.outlook.use else 0
    base = serve(around.jobs, around.packages, today=today, week_mg=week_mg)
    shorts = tuple(_short(one) for one in base if one.state != Verdict.ENOUGH)
    unsure = (*around.written_packages, *around.overdue_packages)
    stock = [*around.packages, *unsure]
    with_written = serve(around.jobs, stock, today=today, week_mg=week_mg) if unsure else base
    sizes: dict[int, Enough | None] = {}
    decided: dict[Times, Decision] = {}
    choices = []
    for offer in () if around.no_more_on else around.offers:
        times = given.times(offer.supplier_id)
        decision = decided.get(times) or _decided(given, around, shorts, times)
        decided[times] = decision
        if offer.mass_mg not in sizes:
            sizes[offer.mass_mg] = enough_for(
                around.jobs, stock, offer.mass_mg, today=today, week_mg=week_mg, without=with_written
            )
        made = _choice(given, around, offer, times, decision, sizes[offer.mass_mg], shorts)
        if made:
            choices.append(made)
    covered = bool(around.written or around.unsure) and not choices and not wanting(with_written)
    decision = _decision(given, around, shorts, choices, list(decided.values()))
    if not shorts and not (decision.by == "level" and decision.order_by and decision.order_by <= today):
        return Coming(around, decision) if decision.by == "level" and not around.no_more_on else None
    if not shorts and not choices and (around.no_more_on or around.offers) and not covered:
        return None
    return Asking(around, shorts, tuple(choices), decision, covered=covered)


def _decided(given: _Given, around: Around, shorts: Sequence[Short], times: Times) -> Decision:
    return decide(around.outlook, shorts, times, today=given.today, sure_ppm=given.sure_ppm)


def _decision(
    given: _Given,
    around: Around,
    shorts: Sequence[Short],
    choices: Sequence[Choice],
    decided: Sequence[Decision],
) -> Decision:
    """By whoever would do and leaves most time; where an order is being written, by whom that is to."""
    found = [choice.decision for choice in choices]
    if not found and around.written:
        quarantine = given.quarantine_days if around.animal else 0
        found = [
            _decided(given, around, shorts, Times(line.lead_days, line.late_days, quarantine))
            for line in around.written
        ]
    return _first(found or decided) or _decided(given, around, shorts, Times(None))


def _first(decisions: Sequence[Decision]) -> Decision | None:
    """Of the suppliers who would do, the one who leaves most time; a day that is known goes before none."""
    known = [one for one in decisions if one.order_by is not None]
    if known:
        return max(known, key=lambda one: one.order_by or date.min)
    return next(iter(decisions), None)


def _short(served: Served) -> Short:
    job, verdict = served.job, served.verdict
    assert verdict is not None, "a job that holds its need is not short"
    if verdict.state == Verdict.SHORT:
        return Short(job.id, job.name, job.on, verdict.short_mass_mg)
    # What its claim holds is free for it: so the whole need stands against it.
    length_um = job.need.ends_buffered * job.warp_um + job.need.weft_um(job.pieces, buffered=True)
    lacking_mg = ceil(job.grist.mass_mg_of(length_um)) - verdict.free_mg
    return Short(job.id, job.name, job.on, max(0, lacking_mg), tight=True)


def _choice(
    given: _Given,
    around: Around,
    offer: Offered,
    times: Times,
    decision: Decision,
    enough: Enough | None,
    shorts: Sequence[Short],
) -> Choice | None:
    """None where no put-up of it is needed."""
    outlook = around.outlook
    for_jobs, matched, matched_lot = (
        (enough.number, enough.matched, enough.matched_lot) if enough is not None else (0, None, None)
    )
    for_level = 0
    level = decision.level
    if level and level.on is not None and level.on <= given.today:
        counted = replace(outlook, undated_mg=outlook.undated_mg + around.written_mg)
        if for_jobs or shorts:
            taken_mg = sum(job.buffered_mg for job in outlook.jobs)
        else:
            taken_mg = wound_mg(outlook, given.today)
        for_level = needed_for_level(counted, level.mg, offer.mass_mg, taken_mg=taken_mg)
    needed = min(MOST_NUMBER, max(for_jobs, for_level))
    if not needed:
        return None
    keeping = None
    if given.order_cost_cents and given.holding_ppm and given.is_own_currency(offer.supplier_id):
        keeping = Keeping(given.order_cost_cents, Fraction(given.holding_ppm, 1_000_000))
    counted_up = count(
        offer, needed, one_more=around.one_more, use=outlook.use if for_level else None, keeping=keeping
    )
    return Choice(
        counted_up, decision, times, for_jobs, matched, matched_lot, _late(given.today, times, shorts)
    )


def _late(today: date, times: Times, shorts: Sequence[Short]) -> int | None:
    here = times.here_on(today)
    if here is None:
        return None
    wanted = [one.on for one in shorts if one.on and not one.tight] or [one.on for one in shorts if one.on]
    return max(0, (here - min(wanted)).days) if wanted else 0


def settle(scene: Scene, asking: Sequence[Asking]) -> list[Asking]:
    """Choose for each: what comes in time first, then what is paid in the studio's own currency, then what makes all
    orders together cheapest. Choices of each are put in that order.
    """
    groups: dict[int, list[Choice]] = {}
    ranked: dict[int, list[Choice]] = {}
    for one in asking:
        found = sorted(one.choices, key=lambda choice: (_rank(scene, choice), choice.counted.cost_cents or 0))
        ranked[one.shade_id] = found
        if found:
            best = _rank(scene, found[0])
            groups[one.shade_id] = [choice for choice in found if _rank(scene, choice) == best]
    by_currency: dict[str, dict[int, list[Counted]]] = {}
    for shade_id, choices in groups.items():
        currency = scene.currency_of(choices[0].offered.supplier_id)
        by_currency.setdefault(currency, {})[shade_id] = [choice.counted for choice in choices]
    terms = {pk: scene.terms_of(pk) for pk in scene.suppliers}
    chosen: dict[int, Counted] = {}
    for found in by_currency.values():
        chosen |= consolidate(found, terms, scene.begun)
    settled = []
    for one in asking:
        best_of = chosen.get(one.shade_id)
        choice = next((each for each in groups.get(one.shade_id, ()) if each.counted == best_of), None)
        decision = choice.decision if choice else one.decision
        settled.append(replace(one, choices=tuple(ranked[one.shade_id]), chosen=choice, decision=decision))
    return settled


def _rank(scene: Scene, choice: Choice) -> tuple[int, int, int, str]:
    """In time, then not known, then the least late; the studio's own currency; a price that is known."""
    currency = scene.currency_of(choice.offered.supplier_id)
    if choice.late_days is None:
        when = (1, 0)
    else:
        when = (2, choice.late_days) if choice.late_days else (0, 0)
    own = "" if currency == scene.studio.currency else currency
    return (*when, int(choice.counted.cost_cents is None), own)


def decide_all(scene: Scene) -> tuple[list[Asking], list[Coming]]:
    """All that asks for an order, settled, the most urgent first; and what does not ask yet, by day."""
    asking, coming = [], []
    for around in scene.shades.values():
        found = ask(scene, around)
        if isinstance(found, Asking):
            asking.append(found)
        elif found:
            coming.append(found)
    far = date.max
    settled = settle(scene, asking)
    settled.sort(key=lambda one: (not one.must, one.decision.order_by or one.need_on or far, one.shade_id))
    coming.sort(key=lambda one: (one.decision.order_by or far, one.around.shade_id))
    return settled, coming
