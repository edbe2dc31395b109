"""The demo studio: an invented one, loaded through the same services as a person's clicks.

Every step is one service call, and is known again by its name: a load that was cut short is completed by the
next one, and a complete one is left as it is, whatever visitors have done in it since. Not one transaction
for all, since a reservation is never part of a larger one.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import partial
from typing import Protocol

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Count
from django.utils import timezone

from projects.models import Fair, LotWish, Project
from projects.services.fairs import FairFacts, choose_projects, save_fair
from projects.services.planning import ProjectFacts, put_away, save_project
from projects.services.reserving import reserve_project
from projects.services.wishes import Wished, set_wishes
from stash.calc.writing import Measures
from stash.models import Cone, CountKey, EntryKind, Person, Place, Role, Shade, Stocktake, Studio, Yarn
from stash.models.studio import Measuring, Spelling
from stash.services.changing import set_condition
from stash.services.cones import move_cone, retire_cone
from stash.services.people import add_person
from stash.services.photos import take_photo
from stash.services.receiving import receive_cone
from stash.services.refusal import Refusal
from stash.services.shelf_views import keep_view
from stash.services.stocktaking import Figure, begin, close, count, settle
from stash.services.studio import found_studio
from stash.services.weighing import weigh
from stash.services.yarns import save_shade, save_yarn, say_no_more_made
from stash.site.demo_buying import BUYING_FILE, BuyingFileError, load_buying, read_buying
from stash.site.demo_data import (
    PROJECTS_FILE,
    SHELF_FILE,
    Demo,
    DemoCone,
    DemoFileError,
    DemoProject,
    Event,
    ShadeName,
    read_demo,
)
from stash.site.demo_equipment import (
    EQUIPMENT_FILE,
    EquipmentFileError,
    gear_of,
    load_equipment,
    read_equipment,
)
from stash.site.demo_record import keep_record

DEMO_FOLDER = settings.CODE / "fixtures" / "demo"
PICTURES_FOLDER = settings.CODE / "fixtures" / "pictures"
DEMO_NAME = "Larkshed, a demo studio"
DEMO_OWNER = "weaver"
DEMO_HELPER = "helper"
DEMO_VIEWER = "visitor"
# Shown on the sign-in page: nothing in the demo is worth guarding.
DEMO_PASSWORD = "nine ends and a pick"

DEMO_VIEW = "Lots to look up"
# As long as what came with moth is kept apart (common practice, no source).
_QUARANTINE_DAYS = 21

_FIRST_HOUR = time(9, 0)


class Out(Protocol):
    def write(self, text: str) -> object: ...


def load_demo(stdout: Out | None = None) -> bool:
    """Load the demo, or complete a load that was cut short; False if it is all there already.

    Raises Refusal in a studio that is not the demo, and DemoFileError for what a file of it cannot mean;
    what was loaded before that stays, and the next load goes on from there.
    """
    demo = read_demo(DEMO_FOLDER)
    studio = Studio.objects.filter(pk=1).first()
    if studio and not studio.is_demo:
        raise Refusal(
            f"“{studio.name}” is a studio with books of its own, and the demo is not mixed into them: nothing was "
            "changed. Give the demo a data folder of its own, named by WARPSHELF_DATA."
        )
    if studio and Person.objects.filter(username=DEMO_VIEWER).exists():
        _say(stdout, "The demo studio is loaded already. Nothing was changed.")
        return False
    _say(stdout, "Going on with the demo studio …" if studio else "Loading the demo studio …")
    _Loader(demo, stdout).run()
    return True


def _say(stdout: Out | None, text: str) -> None:
    if stdout is not None:
        stdout.write(f"{text}\n")


@dataclass(frozen=True, slots=True)
class _Step:
    """One event of one cone, its place in the cone's own row of events, and when it happened."""

    at: datetime | None
    number: int
    event: Event
    cone: DemoCone
    shade: ShadeName


class _Loader:
    def __init__(self, demo: Demo, stdout: Out | None) -> None:
        self.demo = demo
        self.stdout = stdout
        self.today = timezone.localdate()
        with _named(DEMO_FOLDER.name):
            self.gear = read_equipment(DEMO_FOLDER)
            self.buying = read_buying(DEMO_FOLDER)
        self.people: dict[str, Person] = {}
        self.shades: dict[ShadeName, Shade] = {}

    def run(self) -> None:
        self.found()
        self.yarns()
        steps = list(self.steps())
        self.ledger([step for step in steps if step.at])
        _say(self.stdout, f"{len(self.demo.cones)} cones with their history.")
        self.move()
        self.conditions()
        self.equipment()
        self.projects()
        self.fairs()
        self.ledger([step for step in steps if not step.at])
        self.orders()
        self.stocktake()
        self.view()
        self.photos()
        # Last of all: this sign-in is the mark of a complete load.
        add_person(username=DEMO_VIEWER, name="A visitor", role=Role.VIEWER, password=DEMO_PASSWORD)
        _say(self.stdout, f"Sign in as {DEMO_OWNER}, {DEMO_HELPER} or {DEMO_VIEWER}: “{DEMO_PASSWORD}”.")

    def found(self) -> None:
        studio = Studio.objects.filter(pk=1).first()
        if studio is None:
            with _named("the studio and its owner"):
                found_studio(
                    name=DEMO_NAME,
                    measuring=Measuring.INCHES_GRAMS,
                    spelling=Spelling.BRITISH,
                    username=DEMO_OWNER,
                    owner_name="The weaver",
                    password=DEMO_PASSWORD,
                    is_demo=True,
                )
        else:
            # Days are counted from the day on which the load began.
            self.today = timezone.localdate(studio.made_at)
        if not Person.objects.filter(username=DEMO_HELPER).exists():
            add_person(username=DEMO_HELPER, name="The helper", role=Role.HELPER, password=DEMO_PASSWORD)
        self.people = {person.username: person for person in Person.objects.all()}

    def yarns(self) -> None:
        for yarn in self.demo.yarns:
            where = f"{SHELF_FILE}, yarn “{yarn.facts.name}”"
            with _named(where):
                saved = Yarn.objects.filter(name=yarn.facts.name).first() or save_yarn(facts=yarn.facts)
            for shade in yarn.shades:
                with _named(f"{where}, shade “{shade.name}”"):
                    self.shades[yarn.facts.name, shade.name] = Shade.objects.filter(
                        yarn=saved, name=shade.name
                    ).first() or save_shade(
                        yarn_id=saved.pk,
                        name=shade.name,
                        colour=shade.colour,
                        keep_mg=shade.keep_mg,
                        note=shade.note,
                        one_more=shade.one_more,
                    )
                    known = self.shades[yarn.facts.name, shade.name]
                    if shade.no_more_ago is not None and known.no_more_on is None:
                        day = self.today - timedelta(days=shade.no_more_ago)
                        say_no_more_made(pk=known.pk, on=day)
        _say(self.stdout, f"{len(self.demo.yarns)} yarns in {len(self.shades)} shades.")

    def steps(self) -> Iterator[_Step]:
        """All that happened to all cones, in the order in which it happened, so that the ledger reads so."""
        rows = [
            (event.days_ago or 0, place, number, shade, cone, event)
            for place, (shade, cone) in enumerate(self.demo.cones)
            for number, event in enumerate(cone.events)
        ]
        rows.sort(key=lambda row: (-row[0], row[1], row[2]))
        day, minute = 0, 0
        for days_ago, _, number, shade, cone, event in rows:
            # A few minutes from one to the next, as at a shelf with the scale in front.
            day, minute = days_ago, minute + 4 if days_ago == day else 0
            at = None if event.days_ago is None else self.moment(days_ago, minute)
            yield _Step(at, number, event, cone, shade)

    def moment(self, days_ago: int, minute: int) -> datetime:
        first = datetime.combine(self.today - timedelta(days=days_ago), _FIRST_HOUR)
        return timezone.make_aware(first + timedelta(minutes=minute))

    def ledger(self, steps: list[_Step]) -> None:
        """Play what the cones' ledgers do not hold yet: each event is one entry."""
        held = dict(Cone.objects.annotate(number=Count("entries")).values_list("code", "number"))
        for step in steps:
            if step.number < held.get(step.cone.code, 0):
                continue
            with _named(
                f"{SHELF_FILE}, yarn “{step.shade[0]}”, shade “{step.shade[1]}”, cone “{step.cone.code}”"
            ):
                self.play(step)

    def play(self, step: _Step) -> None:
        cone, event = step.cone, step.event
        by = self.people[DEMO_HELPER if cone.by_helper else DEMO_OWNER]
        guess = cone.guess and event is cone.events[-1]
        if event.kind == EntryKind.RECEIVED:
            receive_cone(
                shade=self.shades[step.shade],
                scale_mg=event.scale_mg,
                by=by,
                gross=cone.core_mg is not None,
                core_mg=cone.core_mg,
                lot=cone.lot,
                form=cone.form,
                place=cone.place,
                code=cone.code,
                note=cone.note,
                at=step.at,
                is_estimate=guess,
            )
            return
        pk = Cone.objects.values_list("pk", flat=True).get(code=cone.code)
        if event.kind == EntryKind.RETIRED:
            retire_cone(pk=pk, by=by, reason=event.reason, at=step.at)
        else:
            weigh(
                cone_id=pk,
                scale_mg=event.scale_mg,
                gross=cone.core_mg is not None,
                by=by,
                reason=event.reason,
                at=step.at,
                is_estimate=guess,
            )

    def move(self) -> None:
        stands = dict(Cone.objects.values_list("code", "place__name"))
        for _, cone in self.demo.cones:
            if cone.moved_to and stands[cone.code] == (cone.place or None):
                with _named(f"{SHELF_FILE}, cone “{cone.code}”"):
                    move_cone(pk=Cone.objects.get(code=cone.code).pk, place=cone.moved_to)

    def conditions(self) -> None:
        for _, cone in self.demo.cones:
            known = Cone.objects.get(code=cone.code) if cone.condition else None
            if known and known.condition != cone.condition:
                with _named(f"{SHELF_FILE}, cone “{cone.code}”"):
                    on = self.today + timedelta(days=_QUARANTINE_DAYS)
                    by = self.people[DEMO_OWNER]
                    set_condition(pk=known.pk, condition=cone.condition, on=on, by=by)

    def stocktake(self) -> None:
        """Every cone of the place counted, settled, and the stocktake closed."""
        wanted = self.demo.stocktake
        if wanted is None or Stocktake.objects.closed().exists():
            return
        by = self.people[DEMO_HELPER]
        with _named(f"{SHELF_FILE}, stocktake of {wanted.place}"):
            place = Place.objects.filter(name=wanted.place).first()
            if place is None:
                raise Refusal("no cone stands there.")
            held = Stocktake.objects.open().filter(place=place).first() or begin(place_id=place.pk, by=by)
            for cone in held.cones():
                scale_mg, _ = wanted.differs.get(cone.code, (cone.on_hand_mg, ""))
                figure = Figure(scale_mg=scale_mg, gross=False, is_estimate=cone.estimated)
                key = f"demo-stocktake-{cone.code}"
                if not CountKey.objects.filter(key=key).exists():
                    count(stocktake_id=held.pk, cone_id=cone.pk, key=key, figure=figure, by=by)
            for found in held.counts.unsettled().select_related("cone"):
                reason = wanted.differs.get(found.cone.code, (0, ""))[1]
                settle(count_id=found.pk, accept=True, by=by, reason=reason)
            close(pk=held.pk, by=by)
        _say(self.stdout, f"A stocktake of {wanted.place}.")

    def view(self) -> None:
        owner = self.people[DEMO_OWNER]
        if not owner.views.exists():
            keep_view(person=owner, name=DEMO_VIEW, query="by=cone&lot=unknown")

    def equipment(self) -> None:
        with _named(EQUIPMENT_FILE):
            number = load_equipment(self.gear, Measures(), self.today)
        _say(self.stdout, f"{number} looms, reeds and other equipment.")

    def orders(self) -> None:
        with _named(BUYING_FILE):
            suppliers, orders = load_buying(self.buying, self.today, self.people[DEMO_OWNER])
        _say(self.stdout, f"{suppliers} suppliers with what they sell, {orders} orders under way.")

    def photos(self) -> None:
        """Drawn ones, for want of a camera. A file is not rolled back with the books: it comes when they are kept."""
        for yarn in self.demo.yarns:
            for drawn in yarn.shades:
                shade = self.shades[yarn.facts.name, drawn.name]
                if not drawn.photo or shade.photos.exists():
                    continue
                where = f"{SHELF_FILE}, yarn “{yarn.facts.name}”, shade “{drawn.name}”"
                try:
                    sent = (PICTURES_FOLDER / drawn.photo).read_bytes()
                except OSError as error:
                    raise DemoFileError(f"{where}: photo: {drawn.photo} cannot be read.") from error
                transaction.on_commit(partial(_photograph, where, shade.pk, sent))

    def projects(self) -> None:
        for project in self.demo.projects:
            with _named(f"{PROJECTS_FILE}, project “{project.name}”"):
                self.project(project)
        reserved = sum(project.reserve for project in self.demo.projects)
        _say(self.stdout, f"{len(self.demo.projects)} projects, {reserved} of them reserved.")

    def project(self, project: DemoProject) -> None:
        saved = Project.objects.filter(name=project.name).first() or save_project(facts=self.facts(project))
        if project.reserve and saved.claim_id is None:
            reserve_project(pk=saved.pk)
        if project.same_lot:
            set_wishes(pk=saved.pk, wishes={key: Wished(LotWish.SAME) for key in project.same_lot})
        keep_record(saved, project.record, self.today, self.people[DEMO_OWNER])
        if project.put_away and saved.closed_at is None:
            put_away(pk=saved.pk)

    def fairs(self) -> None:
        for fair in self.demo.fairs:
            with _named(f"{PROJECTS_FILE}, fair “{fair.name}”"):
                begins_on = self.today + timedelta(days=fair.in_days)
                saved = Fair.objects.filter(name=fair.name).first() or save_fair(
                    facts=FairFacts(
                        name=fair.name,
                        begins_on=begins_on,
                        ends_on=begins_on + timedelta(days=fair.days - 1),
                        place=fair.place,
                        note=fair.note,
                    )
                )
                chosen = Project.objects.filter(name__in=fair.projects).values_list("pk", flat=True)
                choose_projects(pk=saved.pk, chosen=set(chosen), offered=set(chosen))

    def facts(self, project: DemoProject) -> ProjectFacts:
        need_on: date | None = None
        if project.need_in is not None:
            need_on = self.today + timedelta(days=project.need_in)
        return ProjectFacts(
            name=project.name,
            plan=project.plan,
            structure=project.structure,
            **project.draft,
            shades={key: self.shades[names].pk for key, names in project.shades.items()},
            loss_way=project.loss_way,
            piece_name=project.piece_name,
            occasion=project.occasion,
            need_on=need_on,
            rank=project.rank,
            note=project.note,
            gear=gear_of(self.gear, project.name, self.today),
        )


def _photograph(where: str, shade_id: int, sent: bytes) -> None:
    with _named(where):
        take_photo(sent=sent, shade_id=shade_id)


@contextmanager
def _named(where: str) -> Iterator[None]:
    """What a service refuses is put down to the entry of the file that asked for it."""
    try:
        yield
    except Refusal as error:
        raise DemoFileError(f"{where}: {error.message}") from error
    except ValidationError as error:
        raise DemoFileError(f"{where}: {' '.join(error.messages)}") from error
    except (EquipmentFileError, BuyingFileError) as error:
        raise DemoFileError(str(error)) from error
