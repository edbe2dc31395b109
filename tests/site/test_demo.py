"""The demo studio. All of its figures are invented; what is checked is that they tell the story they should."""

import os
import shutil
import signal
import subprocess
import sys
import time
from collections import Counter
from dataclasses import replace
from datetime import timedelta
from io import StringIO

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command
from django.test import TestCase
from django.utils import timezone

from projects.judging import judge_all
from projects.models import Project, Stage
from projects.services.planning import ProjectFacts, save_project
from projects.services.reserving import release_project, reserve_project
from projects.summary import chief_project
from stash.calc.most import most_pieces
from stash.models import Cone, Entry, EntryKind, FibreShare, Person, Photo, Role, Shade, Studio, Yarn, guards
from stash.services.books import check_books
from stash.services.refusal import Refusal
from stash.services.weighing import weigh
from stash.site import demo
from stash.site.demo_data import DemoFileError, read_demo
from stash.site.folders import photos_folder

STATES = {
    "Hearth mats": "short",
    "Ferry towels": "enough, reserved",
    "Class kits for table looms": "enough, reserved, lots mixed",
    "Sill curtains": "enough, reserved, undercut",
    "Courtyard runner": "enough",
    "Supper napkins": "short",
    "Landing runner": "tight",
    "Moor blanket": "enough, lots mixed",
    "Heath scarves": "enough",
    "Evening shawl": "short",
}


def states() -> dict[str, str]:
    """What the shelf says of every open project."""
    found = {}
    for project, judged in judge_all(Project.objects.open()):
        held = project.claim.reservations.select_related("cone") if project.claim else []
        words = [judged.word]
        words += ["reserved"] if held else []
        words += ["lots mixed"] if judged.mixed else []
        words += ["undercut"] if any(line.cone.undercut_mg for line in held) else []
        found[project.name] = ", ".join(words)
    return found


def judged_now(name: str):
    ((_, judged),) = judge_all(Project.objects.filter(name=name))
    return judged


def change_pieces(name: str, pieces: int) -> Project:
    """As a person does on the plan: another number of pieces, nothing else."""
    project = Project.objects.get(name=name)
    facts = ProjectFacts(
        name=project.name,
        plan=replace(project.plan, pieces=pieces),
        structure=project.structure,
        shades={row.key: row.shade_id for row in project.shades.all()},
        loss_way=project.loss_way,
        piece_name=project.piece_name,
        occasion=project.occasion,
        need_on=project.need_on,
        rank=project.rank,
        note=project.note,
    )
    return save_project(facts=facts, pk=project.pk, version=project.version)


def everything() -> dict[str, list]:
    """Every row of every table of both apps."""
    from django.apps import apps

    models = [*apps.get_app_config("stash").get_models(), *apps.get_app_config("projects").get_models()]
    return {model._meta.label: list(model.objects.order_by("pk").values_list()) for model in models}


class TestTheLoadedDemo(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.out = StringIO()
        assert demo.load_demo(cls.out)

    def test_the_books_agree(self):
        guards.install("default")
        assert check_books() == []

    def test_there_is_a_believable_shelf(self):
        assert Yarn.objects.count() >= 12
        assert len(set(Yarn.objects.values_list("count_system", flat=True)) - {""}) >= 5
        assert set(Yarn.objects.values_list("grist_source", flat=True)) == {"measured", "stated", "computed"}
        assert Yarn.objects.filter(count_system="").exists()
        assert Shade.objects.count() >= 40
        assert not Shade.objects.filter(colour="").exists()
        assert Cone.objects.live().count() >= 110
        assert {"cone", "skein", "tube", "spool", "ball"} <= set(Cone.objects.values_list("form", flat=True))
        for unknown in ("lot", "place", "core_mg"):
            assert Cone.objects.live().filter(**{unknown: None}).exists()
        assert Shade.objects.with_stock().filter(lot_count__gte=2).count() >= 10
        assert set(FibreShare.objects.values_list("percent", flat=True)) > {100, 60, 40}

    def test_some_shades_are_at_or_below_their_keep_level(self):
        low = [shade.name for shade in Shade.objects.with_stock() if shade.free_mg <= (shade.keep_mg or -1)]
        assert sorted(low) == ["Chalk", "Dusk", "Ember", "Garnet", "Lichen", "Straw"]

    def test_the_ledger_stands_in_the_order_in_which_things_happened(self):
        times = list(Entry.objects.order_by("pk").values_list("at", flat=True))
        assert times == sorted(times)
        assert times[-1] <= timezone.now()
        assert times[0] < timezone.now() - timedelta(days=365)

    def test_partial_cones_have_a_history(self):
        entries = Counter(Entry.objects.values_list("cone__code", flat=True))
        assert sum(number >= 4 for number in entries.values()) >= 20
        assert sum(number == 1 for number in entries.values()) >= 20
        assert Entry.objects.filter(kind=EntryKind.WEIGHED, change_mg__gt=0).exclude(reason="").exists()
        assert Entry.objects.filter(kind=EntryKind.RETIRED).exists()
        assert Entry.objects.filter(by__role=Role.HELPER).exists()

    def test_projects_stand_in_every_state(self):
        assert states() == STATES
        assert [project.name for project in Project.objects.exclude(closed_at=None)] == ["Orchard towels"]

    def test_the_project_that_is_done_has_its_history(self):
        project = Project.objects.get(name="Orchard towels")
        notes = list(project.notes.order_by("made_at", "pk"))
        assert [note.stage for note in notes if note.stage] == [*Stage.values[1:]]
        assert project.stage == "done" and sum(not note.stage for note in notes) == 2
        assert notes[-1].made_at < timezone.now()

    def test_there_is_an_odd_number_of_ends_and_a_small_accent(self):
        assert Project.objects.get(name="Heath scarves").ends == 229, "two of them float"
        assert Project.objects.get(name="Hearth mats").shades.get(key="C").ends == 6

    def test_the_chief_project_needs_its_yarn_first_and_is_short(self):
        first = Project.objects.open().by_need().first()
        assert first.name == "Hearth mats"
        assert first.need_on > timezone.localdate()
        assert chief_project() == first

    def test_only_juniper_limits_the_chief_project_to_twelve_mats(self):
        judged = judged_now("Hearth mats")
        most = most_pieces(Project.objects.get(name="Hearth mats").plan, judged.stock)
        assert most.pieces == 12
        names = {line.key: line.shade.name for line in judged.lines}
        assert [names[stop.key] for stop in most.stops] == ["Juniper"]

    def test_twelve_mats_are_enough_and_one_more_is_short(self):
        change_pieces("Hearth mats", 12)
        assert judged_now("Hearth mats").word == "enough"
        change_pieces("Hearth mats", 13)
        assert judged_now("Hearth mats").word == "short"

    def test_reserving_twelve_mats_turns_the_rival_short_and_releasing_turns_it_back(self):
        mats = change_pieces("Hearth mats", 12)
        outcome = reserve_project(pk=mats.pk, version=mats.version)
        assert not outcome.short_keys and not outcome.bare_keys
        assert judged_now("Hearth mats").word == "enough"
        assert judged_now("Courtyard runner").word == "short"
        release_project(pk=mats.pk)
        assert judged_now("Courtyard runner").word == "enough"

    def test_releasing_the_towels_serves_the_napkins_that_want_the_same_ink(self):
        judged = judged_now("Supper napkins")
        assert [line.shade.name for line in judged.lines if line.verdict.short_um] == ["Ink"]
        release_project(pk=Project.objects.get(name="Ferry towels").pk)
        assert judged_now("Supper napkins").word == "enough"

    def test_one_weighing_undercuts_the_curtains_and_reserving_again_mends_it(self):
        (cone,) = Cone.objects.undercut()
        assert cone.undercut_mg == 45_000
        assert {line.claim.name for line in cone.reservations.all()} == {"Sill curtains"}
        reserve_project(pk=Project.objects.get(name="Sill curtains").pk)
        assert not Cone.objects.undercut().exists()
        assert judged_now("Sill curtains").word == "enough"

    def test_everyone_signs_in_with_the_password_that_is_shown(self):
        roles = {demo.DEMO_OWNER: "owner", demo.DEMO_HELPER: "helper", demo.DEMO_VIEWER: "viewer"}
        assert dict(Person.objects.values_list("username", "role")) == roles
        for person in Person.objects.all():
            assert person.check_password(demo.DEMO_PASSWORD)
        assert demo.DEMO_PASSWORD in self.out.getvalue()

    def test_a_second_load_changes_nothing_of_what_visitors_did_and_says_so(self):
        weigh(cone_id=Cone.objects.live()[0].pk, scale_mg=1_000, gross=False, by=Person.objects.all()[0])
        Project.objects.filter(name="Evening shawl").update(name="Morning shawl")
        before, out = everything(), StringIO()
        call_command("load_demo", stdout=out)
        assert everything() == before
        assert out.getvalue() == "The demo studio is loaded already. Nothing was changed.\n"


@pytest.mark.once
def test_one_shade_has_a_drawn_photo_with_its_file_once_the_load_is_kept(
    db, settings, tmp_path, django_capture_on_commit_callbacks
):
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.DATA = tmp_path
    with django_capture_on_commit_callbacks(execute=True):
        demo.load_demo()
        # What is rolled back leaves no file behind.
        assert not Photo.objects.exists() and not photos_folder().exists()
    photo = Photo.objects.get()
    assert photo.shade.name == "Juniper"
    assert [path.name for path in photos_folder().iterdir()] == [photo.file]


class Killed(BaseException):
    """As a kill: no code that handles errors catches it."""


@pytest.mark.once
@pytest.mark.parametrize(
    ("step", "call"),
    [
        ("save_shade", 30),
        ("weigh", 225),
        ("reserve_project", 2),
        ("add_person", 2),
    ],
)
def test_a_load_cut_short_is_completed_by_the_next_one(db, guarded, settings, monkeypatch, step, call):
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    service, calls = getattr(demo, step), iter(range(1, 10_000))

    def cut_short(**facts):
        if next(calls) == call:
            raise Killed
        return service(**facts)

    monkeypatch.setattr(demo, step, cut_short)
    with pytest.raises(Killed):
        demo.load_demo()
    monkeypatch.undo()
    out = StringIO()
    assert demo.load_demo(out)
    assert out.getvalue().startswith("Going on with the demo studio")
    told = read_demo(demo.DEMO_FOLDER)
    kinds = {cone.code: [str(event.kind) for event in cone.events] for _, cone in told.cones}
    stored: dict[str, list[str]] = {}
    # The stocktake and the conditions come after what the files tell of each cone.
    played = Entry.objects.exclude(kind__in=("counted", "stated")).order_by("pk")
    for code, kind in played.values_list("cone__code", "kind"):
        stored.setdefault(code, []).append(kind)
    assert stored == kinds
    places = dict(Cone.objects.values_list("code", "place__name"))
    assert places == {cone.code: cone.moved_to or cone.place or None for _, cone in told.cones}
    assert Shade.objects.count() == sum(len(yarn.shades) for yarn in told.yarns)
    assert Project.objects.count() == len(told.projects)
    assert states() == STATES
    assert check_books() == []


@pytest.mark.once
def test_a_load_that_is_killed_is_completed_by_the_next_one(tmp_path):
    env = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    env |= {"WARPSHELF_DATA": str(tmp_path), "DJANGO_SETTINGS_MODULE": "stash.site.settings"}

    def manage(*words: str) -> list[str]:
        return [sys.executable, "-u", str(settings.CODE / "manage.py"), *words]

    def run(*words: str) -> str:
        return subprocess.run(manage(*words), env=env, check=True, capture_output=True, text=True).stdout

    run("migrate", "-v0")
    with subprocess.Popen(manage("load_demo"), env=env, stdout=subprocess.PIPE, text=True) as loading:
        for line in loading.stdout:
            if "shades" in line:
                time.sleep(0.4)
                loading.send_signal(signal.SIGKILL)
                break
    assert loading.returncode == -signal.SIGKILL
    assert "Going on with the demo studio" in run("load_demo")
    assert "agree" in run("check_books")
    assert "Nothing was changed" in run("load_demo")


def test_a_studio_with_books_of_its_own_is_left_alone(studio, owner):
    before = everything()
    with pytest.raises(Refusal, match=f"“{studio.name}” is a studio with books of its own"):
        demo.load_demo()
    with pytest.raises(CommandError, match="books of its own"):
        call_command("load_demo")
    assert everything() == before
    assert not Studio.objects.get().is_demo


@pytest.fixture
def copied(tmp_path):
    """The demo's files, to be spoiled."""
    return shutil.copytree(demo.DEMO_FOLDER, tmp_path / "demo")


def spoil(folder, file: str, old: str, new: str) -> None:
    path = folder / file
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))


@pytest.mark.parametrize(
    ("file", "old", "new", "said"),
    [
        ("shelf.toml", "[[yarn]]", "[[yarn", ["shelf.toml is not TOML", "line"]),
        (
            "shelf.toml",
            'count = "8/2"',
            'count = "8/2/2"',
            ["shelf.toml, yarn “Unmercerised cotton”: count: "],
        ),
        (
            "shelf.toml",
            "{ cotton = 60, linen = 40 }",
            "{ cotton = 60 }",
            ["yarn “Cottolin”", "add up to 60 %"],
        ),
        (
            "shelf.toml",
            'name = "Chalk"',
            'title = "Chalk"',
            ["yarn “Unmercerised cotton”, shade number 1", "“name” is missing"],
        ),
        ("shelf.toml", 'keep = "1 kg"', 'keep = "1 gr"', ["shade “Chalk”: keep: Is “gr” meant as grams"]),
        ("shelf.toml", 'keep = "1 kg"', "keep = 1000", ["shade “Chalk”: keep: give a text in quotes"]),
        (
            "shelf.toml",
            'keep = "1 kg"',
            'kept = "1 kg"',
            ["shade “Chalk”: “kept” is no key here; known are ", "keep"],
        ),
        (
            "shelf.toml",
            'name = "Oat"',
            'name = "Chalk"',
            ["yarn “Unmercerised cotton”: shade “Chalk” stands twice"],
        ),
        (
            "shelf.toml",
            'form = "tube"',
            'form = "tub"',
            ["cone", "form: “tub” is no form; known are cone, skein"],
        ),
        ("shelf.toml", ", retired = [", ", retired = [900, ", ["retired: give"]),
        ("shelf.toml", ", received = [", ", received = [0.5, ", ["received: give [days ago"]),
        ("shelf.toml", ", weighed = [[", ', weighed = [[4999, "1 g"], [', ["from the oldest to the latest"]),
        ("projects.toml", 'sett = "18 epi"', 'sett = "18 threads"', ["project “Hearth mats”: sett: "]),
        (
            "projects.toml",
            '"30 A, 10 B"',
            '"30 A, 10 D"',
            ["project “Hearth mats”: shades: the orders use A, B, C, D"],
        ),
        ("projects.toml", 'pieces = "18"', 'pieces = "none"', ["project “Hearth mats”: pieces: "]),
        (
            "projects.toml",
            "3 times (1-4)",
            "3 times (1-5)",
            ["project “Class kits for table looms”: lift_plan: Shaft 5 is never lifted"],
        ),
        (
            "projects.toml",
            "twill-2-2",
            "twill-9-9",
            ["project “Hearth mats”: structure: This structure is not known"],
        ),
        (
            "projects.toml",
            '"Juniper"]',
            '"Juno"]',
            ["shades, A: there is no shade “Juno” of a yarn “Mercerised"],
        ),
        ("projects.toml", "chief = true", "", ["projects.toml: one project", "chief = true"]),
        (
            "projects.toml",
            "need_in = 13",
            "need_in = 2",
            ["project “Ferry towels”: need_in", "“Hearth mats”"],
        ),
        (
            "projects.toml",
            'loss_across = ["10 %"]',
            'loss_across = ["110 %"]',
            ["“Hearth mats”: loss_across: "],
        ),
        ("projects.toml", 'step = "wound"', 'step = "sold"', ["record number 1: step: give one of planned"]),
        (
            "projects.toml",
            'step = "wound"',
            'step = "wound"\ntext = "both"',
            ["“Orchard towels”, record number 1: give a step or a text"],
        ),
        (
            "projects.toml",
            '[[weighing]]\ncone = "K',
            '[[weighing]]\ncone = "X',
            ["weighing: there is no cone “X"],
        ),
    ],
)
def test_what_is_wrong_in_a_file_is_said_with_file_and_entry(copied, file, old, new, said):
    spoil(copied, file, old, new)
    with pytest.raises(DemoFileError) as caught:
        read_demo(copied)
    for words in [file, *said]:
        assert words in str(caught.value)


def test_a_missing_file_is_named(copied):
    (copied / "projects.toml").unlink()
    with pytest.raises(DemoFileError, match=r"projects\.toml cannot be read"):
        read_demo(copied)


@pytest.mark.once
def test_what_a_service_refuses_is_put_down_to_its_entry(db, settings, monkeypatch, copied):
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    spoil(copied, "shelf.toml", '"damp week, wound nothing"', '""')
    monkeypatch.setattr(demo, "DEMO_FOLDER", copied)
    with pytest.raises(CommandError) as caught:
        call_command("load_demo", stdout=StringIO())
    assert "shelf.toml, yarn “Worsted wool”, shade “Fog”, cone “K-" in str(caught.value)
    assert "more yarn than the books know" in str(caught.value)


def test_every_file_says_on_top_that_it_is_invented():
    files = sorted(demo.DEMO_FOLDER.iterdir())
    assert [file.name for file in files] == [
        "buying.toml",
        "equipment.toml",
        "projects.toml",
        "shelf.toml",
    ]
    for file in files:
        assert "All of it is invented" in file.read_text().splitlines()[0]
