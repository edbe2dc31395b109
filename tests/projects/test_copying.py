"""Last year's plan for this year: all of the plan, nothing of what became of it."""

from datetime import date

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from projects.models import Project, ProjectNote, ProjectPhoto, Stage
from projects.services import recording
from projects.services.copying import copy_project, free_name
from projects.services.fairs import set_fair
from projects.services.planning import Kits, put_away, recompute
from projects.services.reserving import reserve_project
from projects.services.stages import set_stage
from stash.models import Loom, Reed, Shade, Yarn
from stash.services.photos import photos_folder
from stash.services.refusal import Refusal
from tests.factories import a_photo, make_cone, make_shade
from tests.projects.factories import make_project
from tests.projects.pages import typed_plan
from tests.projects.sharing.plans import full_plan
from tests.projects.test_fairs import make_fair

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def folder(settings, tmp_path):
    settings.DATA = tmp_path


@pytest.fixture
def shades(owner):
    found = {key: make_shade(name) for key, name in (("A", "Spruce"), ("B", "Flax"), ("C", "Ember"))}
    for shade in found.values():
        make_cone(shade, grams=5_000, by=owner)
    return found


@pytest.fixture
def project(shades):
    return make_project(
        shades,
        name="Lantern mats",
        plan=full_plan(),
        loss_way="split",
        occasion="last year's fair",
        need_on=date(2025, 9, 1),
        note="of the plan",
        kits=Kits(7, 1, 1),
    )


def retire(*things):
    for thing in things:
        type(thing).objects.filter(pk=thing.pk).update(retired_at=timezone.now())


# What is not of the plan, or is asked anew.
ASKED = {"id", "name", "occasion", "need_on", "off_on", "search", "made_at"}


def test_every_figure_of_the_plan_is_the_same(project):
    loom = Loom.objects.create(name="Floor loom", weaving_width_um=10**6, shafts=4, waste_um=700_000)
    Project.objects.update(loom=loom, dressing="laced", at_once=3)
    first = Project.objects.get(pk=project.pk)
    copy = copy_project(pk=project.pk, name="Lantern mats, this year").project
    copy = Project.objects.get(pk=copy.pk)
    for field in Project._meta.concrete_fields:
        if field.name not in ASKED:
            assert getattr(copy, field.attname) == getattr(first, field.attname), field.name
    assert copy.plan == first.plan
    assert [(row.key, row.shade_id, row.beam, row.warp_um, row.need()) for row in copy.shades.all()] == [
        (row.key, row.shade_id, row.beam, row.warp_um, row.need()) for row in first.shades.all()
    ]
    assert list(copy.beams.values_list("number", "take_up_ppm")) == [(2, 200_000)]
    assert not recompute(pk=copy.pk)


def test_occasion_and_day_are_asked_anew(project):
    Project.objects.update(off_on=date(2025, 10, 1))
    set_fair(project_id=project.pk, fair_id=make_fair().pk)
    copy = copy_project(pk=project.pk, name="New", occasion="the fair", need_on=date(2027, 5, 1)).project
    assert copy.fair is None
    assert (copy.occasion, copy.need_on, copy.off_on, copy.search) == (
        "the fair", date(2027, 5, 1), None, "new the fair",
    )  # fmt: skip


def test_a_day_that_is_far_off_is_refused(project):
    with pytest.raises(Refusal, match="Check the year") as refused:
        copy_project(pk=project.pk, name="New", need_on=date(1, 5, 1))
    assert refused.value.field == "need_on"


def test_nothing_of_what_became_of_the_first_comes_along(project, owner):
    reserve_project(pk=project.pk)
    set_stage(pk=project.pk, stage=Stage.WEAVING, by=owner)
    Project.objects.update(ticket_done=40)
    copy = copy_project(pk=project.pk, name="New").project
    assert (copy.claim, copy.stage, copy.ticket_done, copy.version) == (None, "planned", 0, 1)
    assert not copy.notes.exists() and not copy.photos.exists()


def test_a_copy_reckons_with_the_yarns_of_today(project):
    """The figures are frozen at a project's first reservation; its copy was never reserved."""
    reserve_project(pk=project.pk)
    Yarn.objects.update(grist_um=1_000_000, grist_mg=500)
    copy = copy_project(pk=project.pk, name="New").project
    assert all(row.frozen_um is None for row in copy.shades.all())
    rows = Project.objects.get(pk=project.pk).shades.select_related("shade__yarn")
    assert all(row.frozen_um and row.grist_moved for row in rows)


def test_a_project_that_is_put_away_can_be_copied_and_its_copy_is_open(project):
    put_away(pk=project.pk)
    assert copy_project(pk=project.pk, name="New").project.closed_at is None


def test_a_retired_shade_is_left_open(project, shades):
    retire(shades["C"])
    copy = copy_project(pk=project.pk, name="New").project
    assert copy.open_keys == "C"
    assert [row.key for row in copy.shades.all()] == ["A", "B"]
    with pytest.raises(Refusal, match="No shade stands for C yet"):
        reserve_project(pk=copy.pk)


def test_another_shade_takes_the_place_of_a_retired_one(project, shades):
    retire(shades["C"])
    clay = make_shade("Clay")
    copy = copy_project(pk=project.pk, name="New", instead={"C": clay.pk}).project
    assert copy.open_keys == "" and copy.shades.get(key="C").shade == clay


def test_a_retired_shade_on_a_beam_of_its_own_wants_another(project, shades):
    retire(shades["B"])
    with pytest.raises(Refusal, match="wound on a beam of its own") as error:
        copy_project(pk=project.pk, name="New")
    assert error.value.field == "shade_B"
    assert Project.objects.count() == 1


def test_one_shade_stands_under_one_key(project, shades):
    retire(shades["C"])
    with pytest.raises(Refusal, match="under two keys"):
        copy_project(pk=project.pk, name="New", instead={"C": shades["A"].pk})


def test_retired_equipment_is_left_out_and_named(project):
    loom = Loom.objects.create(name="Old loom", weaving_width_um=10**6, shafts=4, waste_um=0)
    reed = Reed.objects.create(name="Reed 12", dents_numerator=12, dents_per_um=25_400, length_um=10**6)
    Project.objects.update(loom=loom, reed=reed)
    retire(loom)
    copied = copy_project(pk=project.pk, name="New")
    assert (copied.project.loom, copied.project.reed, copied.left_out) == (None, reed, ("Old loom",))


def test_notes_come_along_if_wanted_with_day_and_writer_and_without_steps(project, owner):
    set_stage(pk=project.pk, stage=Stage.WOUND, by=owner)
    note = recording.add_note(project_id=project.pk, text="Beat is 18", by=owner)
    copy = copy_project(pk=project.pk, name="New", notes=True).project
    (copied,) = copy.notes.all()
    assert (copied.text, copied.by, copied.made_at) == ("Beat is 18", owner, note.made_at)
    assert ProjectNote.objects.count() == 3


def test_photos_come_along_if_wanted_as_files_of_their_own(project):
    photo = recording.add_photo(project_id=project.pk, sent=a_photo())
    copy = copy_project(pk=project.pk, name="New", photos=True).project
    (copied,) = copy.photos.all()
    assert copied.file != photo.file
    assert (photos_folder() / copied.file).read_bytes() == (photos_folder() / photo.file).read_bytes()


def test_a_photo_without_its_file_is_no_hindrance(project):
    photo = recording.add_photo(project_id=project.pk, sent=a_photo())
    (photos_folder() / photo.file).unlink()
    assert not copy_project(pk=project.pk, name="New", photos=True).project.photos.exists()


def test_a_copy_that_is_refused_leaves_no_file_behind(project):
    recording.add_photo(project_id=project.pk, sent=a_photo())
    with pytest.raises(ValidationError):
        copy_project(pk=project.pk, name="Lantern mats", photos=True)
    assert len(list(photos_folder().iterdir())) == 1 and ProjectPhoto.objects.count() == 1


def test_names_are_found_that_nobody_has(project):
    assert free_name("Lantern mats") == "Lantern mats (copy)"
    copy_project(pk=project.pk, name="Lantern mats (copy)")
    assert free_name("Lantern mats") == "Lantern mats (copy 2)"
    assert len(free_name("x" * 120)) == 120 and free_name("x" * 120).endswith("x (copy)")


# Page


def test_the_page_asks_for_a_name_and_makes_the_copy(as_owner, project):
    address = reverse("project-copy", args=[project.pk])
    assert as_owner.get(address).context["form"]["name"].value() == "Lantern mats (copy)"
    answer = as_owner.post(
        address, {"name": "Spring mats", "occasion": "spring fair", "need_on": "2027-04-01"}
    )
    copy = Project.objects.get(name="Spring mats")
    assert answer.url == reverse("project-page", args=[copy.pk])
    assert copy.need_on == date(2027, 4, 1)


def test_the_page_names_what_is_retired_and_says_what_stays_open(as_owner, project, shades):
    loom = Loom.objects.create(name="Old loom", weaving_width_um=10**6, shafts=4, waste_um=0)
    Project.objects.update(loom=loom)
    retire(shades["C"], loom)
    address = reverse("project-copy", args=[project.pk])
    assert "C: instead of Ember, Plain cotton" in as_owner.get(address).content.decode()
    text = as_owner.post(address, {"name": "New"}, follow=True).content.decode()
    assert "C of the plan stays open: name its shade." in text
    assert "Old loom: retired, so the new plan is without." in text
    assert "C has no shade yet." in text


def test_a_shade_typed_on_the_page_takes_the_place(as_owner, project, shades):
    retire(shades["C"])
    make_shade("Clay")
    as_owner.post(reverse("project-copy", args=[project.pk]), {"name": "New", "shade_C": "clay"})
    assert Project.objects.get(name="New").shades.get(key="C").shade.name == "Clay"


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"name": ""}, "name"),
        ({"name": "Lantern mats"}, "name"),
        ({"name": "x" * 121}, "name"),
        ({"need_on": "soon"}, "need_on"),
        ({"occasion": "x" * 121}, "occasion"),
        ({"shade_C": "Nowhere"}, "shade_C"),
        ({"shade_C": "Ember"}, "shade_C"),
        ({"shade_C": "Spruce"}, "__all__"),
    ],
)
def test_bad_typing_names_its_field_and_copies_nothing(as_owner, project, shades, typed, field):
    retire(shades["C"])
    answer = as_owner.post(reverse("project-copy", args=[project.pk]), {"name": "New"} | typed)
    assert answer.status_code == 422 and field in answer.context["form"].errors
    assert Project.objects.count() == 1


def test_an_open_key_is_said_in_list_and_page_and_closed_by_the_plan(as_owner, project, shades):
    retire(shades["C"])
    copy = copy_project(pk=project.pk, name="New").project
    assert "C has no shade yet." in as_owner.get(reverse("projects")).content.decode()
    Shade.objects.update(retired_at=None)
    page = as_owner.get(reverse("project-page", args=[copy.pk])).content.decode()
    assert "C has no shade yet." in page
    assert reverse("project-reserve", args=[copy.pk]) not in page
    typed = typed_plan(as_owner, copy, shade_C="Ember")
    assert as_owner.post(reverse("project-page", args=[copy.pk]), typed).status_code == 302
    copy.refresh_from_db()
    assert copy.open_keys == ""
