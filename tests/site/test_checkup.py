"""The whole check of the studio: photos against files, projects against claims, pairs of entries."""

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from projects.models import Project, ProjectPhoto
from stash.models import Count, Entry, EntryKind, Photo, Stocktake
from stash.services.reserving import Wanted, reserve
from stash.site.checkup import check_all
from stash.site.folders import photos_folder
from tests.factories import ClaimFactory, make_cone, make_project


@pytest.fixture(autouse=True)
def data(settings, tmp_path):
    settings.DATA = tmp_path
    photos_folder().mkdir(parents=True)
    return tmp_path


@pytest.fixture
def cone(guarded, owner):
    return make_cone(by=owner)


def faults() -> list[str]:
    return [fault.words for fault in check_all().faults]


def test_a_sound_studio_has_neither_faults_nor_notes(cone):
    assert check_all().faults == [] and check_all().notes == []


def photo(file="one.jpg", **of) -> None:
    Photo.objects.create(file=file, width=1, height=1, made_at=timezone.now(), **of)


def test_a_photo_without_its_file_is_found(cone):
    photo(cone=cone)
    photo("two.jpg", shade=cone.shade)
    assert faults() == [
        f"The photo of cone K-001 has no file: {photos_folder() / 'one.jpg'} is missing.",
        f"The photo of the shade Spruce has no file: {photos_folder() / 'two.jpg'} is missing.",
    ]
    for name in ("one.jpg", "two.jpg"):
        (photos_folder() / name).write_bytes(b"x")
    assert faults() == []


def test_a_photo_of_a_project_is_looked_for_like_any_other(cone):
    ProjectPhoto.objects.create(
        project=make_project("Lantern mats"), file="mats.jpg", width=1, height=1, made_at=timezone.now()
    )
    assert faults() == [
        f"The photo of the project Lantern mats has no file: {photos_folder() / 'mats.jpg'} is missing."
    ]
    (photos_folder() / "mats.jpg").write_bytes(b"x")
    assert faults() == []


def test_a_file_that_is_the_photo_of_nothing_is_found(cone):
    (photos_folder() / "stray.jpg").write_bytes(b"x")
    assert faults() == [f"The file {photos_folder() / 'stray.jpg'} is the photo of nothing."]


def test_of_many_stray_files_the_first_are_named(cone):
    for number in range(23):
        (photos_folder() / f"stray{number:02}.jpg").write_bytes(b"x")
    assert len(faults()) == 21
    assert faults()[-1] == "And 3 more files there are photos of nothing."


def test_a_photo_under_a_name_that_leads_elsewhere_is_found(cone):
    photo("../../secret-key", cone=cone)
    assert "no plain file name" in faults()[0]


def test_what_is_reserved_for_no_project_is_said_and_is_no_fault(cone, capsys):
    reserve(claim_id=ClaimFactory(name="A friend").pk, wanted=[Wanted(cone.pk, "weft", 0, 1, 2_000)])
    assert check_all().notes == ["2000 mg are reserved for A friend, which is no project."]
    call_command("check_books")
    said = capsys.readouterr().out
    assert "To know: 2000 mg are reserved for A friend" in said and "The books agree." in said


def test_a_project_that_is_put_away_and_still_holds_yarn_is_found(cone):
    claim = ClaimFactory()
    reserve(claim_id=claim.pk, wanted=[Wanted(cone.pk, "weft", 0, 1, 2_000)])
    project = make_project(shade=cone.shade)
    Project.objects.filter(pk=project.pk).update(claim=claim, closed_at=timezone.now())
    assert faults() == ["Lantern mats is put away, but 1 reservations are still held for it."]
    assert check_all().notes == []


def entry(cone, change: int, kind=EntryKind.OVER, **facts) -> Entry:
    cone.refresh_from_db()
    cone.on_hand_mg += change
    cone.save()
    by = cone.entries.first().by
    return Entry.objects.create(
        cone=cone, kind=kind, change_mg=change, after_mg=cone.on_hand_mg, by=by, at=timezone.now(), **facts
    )


def test_yarn_wound_over_goes_from_one_cone_to_another(cone, owner):
    other = make_cone(by=owner)
    gone = entry(cone, -100)
    entry(other, 90, partner=gone)
    assert faults() == []
    entry(other, -5, partner=gone)
    entry(cone, 7, partner=gone)
    first, second = faults()
    assert "over -5 mg belongs together with -100 mg of cone K-001, which is no other side of it" in first
    assert "Cone K-001" in second and "over +7 mg" in second


def test_what_takes_back_is_as_much_the_other_way_on_the_same_cone(cone, owner):
    other = make_cone(by=owner)
    first, second, third = (entry(cone, -100, EntryKind.WEIGHED) for _ in range(3))
    entry(cone, 100, EntryKind.UNDONE, undoes=first)
    assert faults() == []
    entry(cone, 99, EntryKind.UNDONE, undoes=second)
    entry(other, 100, EntryKind.UNDONE, undoes=third)
    wrong_mass, wrong_cone = faults()
    assert "over +99 mg takes back -100 mg of cone K-001" in wrong_mass
    assert "Cone K-002: the entry of" in wrong_cone


def test_a_count_leads_to_an_entry_of_its_own_cone(cone, owner):
    other = make_cone(by=owner)
    now = timezone.now()
    Count.objects.create(
        stocktake=Stocktake.objects.create(began_at=now, by=owner),
        cone=cone,
        books_mg=500_000,
        scale_mg=500_000,
        is_gross=False,
        net_mg=500_000,
        counted_at=now,
        by=owner,
        settled_at=now,
        settled_by=owner,
        entry=other.entries.get(),
    )
    assert faults() == [f"Cone K-001: what was counted on {now:%Y-%m-%d} was entered at cone K-002."]


def test_the_command_ends_with_status_1_on_a_fault_that_only_it_sees(cone):
    (photos_folder() / "stray.jpg").write_bytes(b"x")
    with pytest.raises(CommandError) as refused:
        call_command("check_books")
    assert refused.value.returncode == 1
    assert str(refused.value) == "1 fault found."
