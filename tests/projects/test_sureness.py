"""How sure the yarn of a plan is said to suffice, and from what: common practice, or this studio's own books."""

from math import sqrt

import pytest
from django.urls import reverse
from django.utils import timezone

from projects.models import Project
from projects.outputs import outputs
from projects.services.reserving import reserve_project
from projects.stock import Weighing
from projects.sureness import ESTIMATED, own_spread, records_of
from stash.calc.needs import work_out
from stash.calc.writing import Measures
from stash.models import Cone, Yarn
from stash.models.stocktake import Count, Stocktake
from stash.services.using import Back, take_as_wound, weigh_back
from tests.factories import make_cone, make_shade
from tests.projects.factories import YARD
from tests.projects.shortages import mats, mats_plan, yard_yarn
from tests.stash.reading import Read

pytestmark = pytest.mark.django_db

STEP = 1_000 / sqrt(12)


def weighing(**facts) -> Weighing:
    usual = {"on_hand_mg": 200_000, "core_mg": 30_000, "of_kind": False, "estimated": False, "form": "cone"}
    return Weighing(**usual | facts)


@pytest.mark.parametrize(
    "cone, scale_mg, core_mg",
    [
        (weighing(), STEP, STEP),
        (weighing(of_kind=True), STEP, 3_000),
        (weighing(core_mg=None), STEP, 8_000),
        (weighing(core_mg=None, form="skein"), STEP, 0),
        (weighing(core_mg=0), STEP, 0),
        (weighing(estimated=True), ESTIMATED * 200_000, 0),
    ],
)
def test_a_cone_is_as_unsure_as_its_scale_and_core(cone, scale_mg, core_mg):
    assert own_spread(cone, 1_000) == pytest.approx((scale_mg, core_mg))


def test_what_stocktakes_found_stands_beside_the_scales_step():
    scale, _ = own_spread(weighing(), 1_000, 0.01)
    assert scale == pytest.approx(sqrt(STEP**2 + 2_000**2))


@pytest.fixture
def yarn(owner):
    return yard_yarn(fibres={"cotton": 100})


@pytest.fixture
def shades(yarn, owner):
    """Of Rust a little more than the 50 yd that five mats take, of Spruce plenty."""
    found = {"A": make_shade("Spruce", yarn), "B": make_shade("Rust", yarn, colour="#8c4030")}
    make_cone(found["A"], grams=200, lot="1", by=owner, core_mg=0)
    make_cone(found["B"], grams=52, lot="1", by=owner, core_mg=0)
    return found


@pytest.fixture
def project(shades):
    return mats(shades)


def sure(project: Project):
    fresh = Project.objects.with_shades().get(pk=project.pk)
    return outputs(
        worked=work_out(fresh.plan),
        shades={row.key: row.shade for row in fresh.shades.all()},
        weave=fresh.weave,
        piece_name="mats",
        project=fresh,
        measures=Measures(),
        cloth_src="x",
    ).sure


def test_says_how_sure_each_shade_is_the_least_sure_first(project):
    # Rust: 52 yd for 50 yd of weft, unsure by 2 % of the seller's figure and 5 % of the picks: 0.77.
    assert sure(project).sentence == "How sure that is: about 3 in 4 for Rust and about 99 in 100 for Spruce."


def test_the_figure_opens_into_its_parts(project):
    rust = sure(project).figures[0]
    assert (rust.name, rust.value) == ("How sure Rust suffices", "about 3 in 4")
    assert [(step.words, step.figure) for step in rust.steps] == [
        ("free of the lots that serve it", "52.0 yd"),
        ("needed, without buffer", "50.0 yd"),
        ("picks and the weft’s take-up, ±\u00a05 %", "± 2.5 yd (85 %)"),
        ("length per weight, stated by the seller, ±\u00a02 %", "± 1.0 yd (14 %)"),
        ("scale, what its last figure steps by", "± 0.3 yd (1 %)"),
        ("together, as squares", "± 2.7 yd"),
        ("In brackets stands the share of all doubt.", ""),
        ("A ± that names no record of this studio is common practice, without a source.", ""),
    ]


def test_a_short_shade_is_said_to_be_short_and_nothing_else(project, shades, owner):
    Cone.objects.filter(shade=shades["B"]).update(on_hand_mg=10_000)
    found = sure(project)
    assert found.sentence == "How sure the rest suffices: about 99 in 100."
    assert [one.line.shade.name for one in found.lines] == ["Spruce"]


def test_a_guessed_cone_is_less_sure(project, shades):
    before = sure(project).lines[0].found.chance
    Cone.objects.filter(shade=shades["B"]).update(estimated=True, on_hand_mg=55_000)
    guessed = sure(project).lines[0].found.chance
    Cone.objects.filter(shade=shades["B"]).update(estimated=False)
    assert before < guessed < sure(project).lines[0].found.chance


def test_the_page_says_it_beside_the_verdict_and_the_preview_too(as_owner, project):
    page = as_owner.get(reverse("project-page", args=[project.pk]))
    read = Read(page)
    assert "about 3 in 4 for Rust" in read.text
    form = page.context["form"]
    data = {name: form[name].value() for name in form.fields if form[name].value() is not None}
    data = {name: ("on" if value is True else value) for name, value in data.items() if value is not False}
    preview = as_owner.post(reverse("project-preview", args=[project.pk]), data)
    assert "about 3 in 4 for Rust" in preview.content.decode()


# Records


def finished(shades, name: str, taken: int, by) -> None:
    """A project whose Rust was weighed back: it took so many per cent of its plan of 50 yd, or of 50 g."""
    make_cone(shades["B"], grams=100, lot=name, by=by, core_mg=0)
    project = mats(shades, name=name, plan=mats_plan())
    reserve_project(pk=project.pk)
    project.refresh_from_db()
    take_as_wound(claim_id=project.claim_id, by=by)
    ours = Cone.objects.filter(entries__claim=project.claim_id, shade=shades["B"]) | Cone.objects.filter(
        reservations__claim=project.claim_id, shade=shades["B"]
    )
    cone = ours.distinct().get()
    weigh_back(
        claim_id=project.claim_id,
        backs={cone.pk: Back(cone.on_hand_mg - taken * 500, gross=False)},
        by=by,
    )
    Project.objects.filter(pk=project.pk).update(closed_at=timezone.now())


def test_six_shades_of_finished_projects_take_the_place_of_count_and_picks(shades, owner):
    make_cone(shades["A"], grams=900, lot="1", by=owner, core_mg=0)
    for number, taken in enumerate((96, 98, 100, 102, 104, 106)):
        finished(shades, f"Done {number}", taken, owner)
    records = records_of()
    assert (records.taken_from, records.taken_projects) == (6, 6)
    assert records.taken == pytest.approx(1.0095, abs=0.001)
    # Their standard deviation is 3.7 %, and their middle is known from six alone.
    assert records.taken_spread == pytest.approx(0.0371 * sqrt(1 + 1 / 6), abs=0.0005)


def test_five_are_too_few(shades, owner):
    make_cone(shades["A"], grams=900, lot="1", by=owner, core_mg=0)
    for number in range(5):
        finished(shades, f"Done {number}", 100 + number, owner)
    assert records_of().taken_from == 0


def test_the_page_says_from_how_many(shades, owner):
    make_cone(shades["A"], grams=900, lot="1", by=owner, core_mg=0)
    for number, taken in enumerate((96, 98, 100, 102, 104, 106)):
        finished(shades, f"Done {number}", taken, owner)
    make_cone(shades["B"], grams=51, lot="fresh", by=owner, core_mg=0)
    words = [step.words for figure in sure(mats(shades)).figures for step in figure.steps]
    assert "length per weight and weft, ±\u00a04 % by 6 shades of 6 finished projects" in words


def test_yarns_measured_here_say_how_far_sellers_lie(owner):
    for number in range(6):
        yarn = yard_yarn(f"Measured {number}")
        Yarn.objects.filter(pk=yarn.pk).update(
            measured_um=YARD * (100 + (-3) ** (number % 2)), measured_mg=100_000
        )
    spread, number = records_of().apart["stated"]
    assert number == 6
    assert spread == pytest.approx(0.0226, abs=0.001)


def test_stocktakes_say_how_far_the_scale_lies(owner, shades):
    stocktake = Stocktake.objects.create(began_at=timezone.now(), by=owner)
    for number in range(12):
        cone = make_cone(shades["A"], grams=100, by=owner, core_mg=0)
        Count.objects.create(
            stocktake=stocktake,
            cone=cone,
            books_mg=100_000,
            scale_mg=101_000 if number % 2 else 99_000,
            net_mg=101_000 if number % 2 else 99_000,
            is_gross=False,
            counted_at=timezone.now(),
            by=owner,
            settled_at=timezone.now(),
            settled_by=owner,
        )
    records = records_of()
    assert (records.scale_share, records.scale_from) == (pytest.approx(0.01), 12)
