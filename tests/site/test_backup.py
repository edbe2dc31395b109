"""Backups: whole, checked, named by time, the last fourteen kept; and what the pages say of them."""

import json
import re
import sqlite3
import stat
from datetime import timedelta
from io import BytesIO
from zipfile import ZipFile

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.utils import timezone

from projects.services.recording import add_photo
from stash.models import Cone, PhoneCode, Photo, Studio
from stash.site.backup import daily, keeping, making
from stash.site.backup.keeping import (
    BackupFailed,
    all_backups,
    last_failure,
    last_good,
    lock_backups,
    note_failure,
)
from stash.site.backup.making import make_backup
from stash.site.backup.warning import backup_warning
from stash.site.folders import backups_folder, photos_folder
from tests.factories import a_photo, make_cone, make_project

transactional = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def data(settings, tmp_path):
    settings.DATA = tmp_path
    return tmp_path


@pytest.fixture
def shelf(transactional_db, guarded, owner) -> Cone:
    """A studio with one cone and its photo, committed, as a real one is."""
    cone = make_cone(by=owner, lot="A1")
    photos_folder().mkdir(parents=True)
    (photos_folder() / "one.jpg").write_bytes(b"pixels")
    Photo.objects.create(cone=cone, file="one.jpg", width=1, height=1, made_at=timezone.now())
    return cone


def planted(days_ago: float, kind: str = "automatic", faults: int = 0) -> str:
    """A file as a backup of that day would be, without books in it; its name."""
    moment = timezone.now() - timedelta(days=days_ago)
    head = keeping.Head(
        made_at=moment.isoformat(),
        kind=kind,
        holds=keeping.BOOKS,
        sha256="",
        rows={"cones": 1, "entries": 1},
        faults=["Cone K-001 shows 5 mg."] * min(1, faults),
        fault_count=faults,
    )
    backups_folder().mkdir(exist_ok=True)
    path = keeping.free_name(moment)
    with ZipFile(path, "w") as file:
        file.writestr(keeping.HEAD, head.written())
    return path.name


def test_a_backup_holds_books_and_photos_and_is_checked(shelf):
    backup = make_backup("by hand")
    assert re.fullmatch(r"studio-\d{4}-\d\d-\d\dT\d\d-\d\d-\d\d\.zip", backup.name)
    assert backup.is_verified
    assert backup.head.rows["cones"] == 1 and backup.head.rows["photos"] == 1
    with ZipFile(backup.path) as file:
        assert file.testzip() is None
        holds = keeping.BOOKS if connection.vendor == "sqlite" else keeping.ARCHIVE
        assert holds in file.namelist()
        if connection.vendor == "sqlite":
            assert file.read("photos/one.jpg") == b"pixels"
    assert [path.name for path in backups_folder().iterdir() if path.suffix == ".part"] == []
    assert all_backups() == [backup]


def test_photos_of_projects_are_in_a_backup_too(shelf):
    photo = add_photo(project_id=make_project("Lantern mats").pk, sent=a_photo())
    backup = make_backup("by hand")
    with ZipFile(backup.path) as file:
        if connection.vendor == "sqlite":
            listed = {one["file"] for one in json.loads(file.read(keeping.PHOTO_LIST))}
            assert listed == {"one.jpg", photo.file}
            assert file.read(f"photos/{photo.file}") == (photos_folder() / photo.file).read_bytes()
        else:
            assert b"project_photos" in file.read(keeping.ARCHIVE)


def test_only_the_owner_of_the_folder_reads_backups(shelf):
    backup = make_backup("by hand")
    assert stat.S_IMODE(backup.path.stat().st_mode) == 0o600
    assert stat.S_IMODE(backups_folder().stat().st_mode) == 0o700


@pytest.mark.skipif(
    "connection.vendor != 'sqlite'",
    reason="Only SQLite keeps the books in a file that is copied while in use.",
)
def test_the_copy_has_the_rows_and_no_keys_to_the_door(shelf, as_owner, owner, tmp_path):
    PhoneCode.objects.create(person=owner, code_hash="key-to-the-door", made_at=timezone.now())
    session = as_owner.session.session_key
    backup = make_backup("by hand")
    with ZipFile(backup.path) as file:
        data = file.read(keeping.BOOKS)
    assert session.encode() not in data and b"key-to-the-door" not in data
    (tmp_path / "copy.sqlite3").write_bytes(data)
    with sqlite3.connect(tmp_path / "copy.sqlite3") as books:
        assert books.execute("SELECT count(*) FROM stash_cone").fetchone() == (1,)
        assert books.execute("PRAGMA journal_mode").fetchone() == ("delete",)
    books.close()
    assert as_owner.get("/").status_code == 200  # in the studio itself the session stays


def test_two_in_one_second_have_two_names(shelf):
    assert len({make_backup("by hand").name for _ in range(3)}) == 3


def test_books_that_do_not_agree_are_kept_and_marked(shelf):
    Cone.objects.update(on_hand_mg=5)
    backup = make_backup("by hand")
    assert not backup.is_verified
    assert backup.head.faults == ["Cone K-001 shows 5 mg, its ledger adds up to 500000 mg."]
    assert last_good(all_backups()) is None


def test_without_a_studio_there_is_nothing_to_back_up(transactional_db):
    with pytest.raises(BackupFailed, match="no studio yet"):
        make_backup("by hand")
    assert all_backups() == []


@pytest.mark.skipif(
    "connection.vendor != 'sqlite'",
    reason="Only SQLite keeps the books in a file that is copied while in use.",
)
def test_an_unsound_copy_is_not_kept_and_the_failure_is_remembered(shelf, monkeypatch):
    good = make_backup("by hand")
    monkeypatch.setattr(making, "unsoundness", lambda path: "row 3 missing from index")
    with pytest.raises(BackupFailed, match="not sound, so it was not kept: row 3 missing"):
        make_backup("by hand")
    assert all_backups() == [good]
    assert "row 3 missing" in last_failure().words
    monkeypatch.undo()
    make_backup("by hand")
    assert last_failure() is None


def test_a_disk_that_is_full_leaves_nothing_half(shelf, monkeypatch):
    monkeypatch.setattr(making.ZipFile, "writestr", _full)
    with pytest.raises(BackupFailed, match="No space left"):
        make_backup("by hand")
    assert [path.name for path in backups_folder().iterdir()] == ["backup.lock", "last-failure.json"]


def _full(*_):
    raise OSError(28, "No space left on device")


def test_a_backup_that_reads_back_as_something_else_is_not_kept(shelf, monkeypatch):
    monkeypatch.setattr(making, "_digest", lambda path: "0" * 64)
    with pytest.raises(BackupFailed, match="reads back as something else"):
        make_backup("by hand")
    assert all_backups() == []


def test_what_a_cut_left_behind_is_swept_away_by_the_next(shelf):
    backups_folder().mkdir()
    (backups_folder() / ".abc.part").write_bytes(b"half")
    (backups_folder() / ".def.part").mkdir()
    make_backup("by hand")
    assert not list(backups_folder().glob(".*"))


def test_one_at_a_time(shelf):
    lock = lock_backups()
    with pytest.raises(BackupFailed, match="Another backup is being made"):
        make_backup("by hand")
    lock.release()
    assert last_failure() is None
    make_backup("by hand")


def test_the_last_fourteen_automatic_ones_stay_and_others_are_not_counted():
    automatic = [planted(days) for days in range(20)]
    others = [planted(30, "by hand"), planted(31, "before a restore")]
    assert sorted(keeping.drop_old_automatic()) == sorted(automatic[14:])
    assert [one.name for one in all_backups()] == automatic[:14] + others


def test_the_newest_good_one_stays_however_old():
    good = planted(40)
    older = planted(41)
    bad = [planted(days, faults=2) for days in range(15)]
    assert sorted(keeping.drop_old_automatic()) == sorted([bad[14], older])
    assert [one.name for one in all_backups()] == [*bad[:14], good]


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"PK",
        b'{"format": "warpshelf-backup"}',
    ],
)
def test_files_that_are_no_backups_are_passed_over(content):
    name = planted(1)
    (backups_folder() / "studio-2026-01-01T00-00-00.zip").write_bytes(content)
    (backups_folder() / "studio-notes.zip").write_bytes((backups_folder() / name).read_bytes())
    assert [one.name for one in all_backups()] == [name]


def head_of(**changes) -> bytes:
    file = BytesIO()
    said = json.loads(
        keeping.Head(timezone.now().isoformat(), "by hand", keeping.BOOKS, "", {"cones": 1}).written()
    )
    with ZipFile(file, "w") as archive:
        archive.writestr(keeping.HEAD, json.dumps(said | changes))
    return file.getvalue()


@pytest.mark.parametrize(
    "changes",
    [
        {"format": "else"},
        {"version": "1"},
        {"version": None},
        {"made_at": "yesterday"},
        {"made_at": "2026-11-25T14:03:22"},
        {"kind": "sometimes"},
        {"holds": "../../etc/passwd"},
        {"rows": {"cones": "many"}},
        {"faults": [1]},
        {"extra": 1},
    ],
)
def test_a_head_that_is_none_is_refused(tmp_path, changes):
    (tmp_path / "b.zip").write_bytes(head_of(**changes))
    with pytest.raises(keeping.BadBackup, match="is no backup"):
        keeping.read_head(tmp_path / "b.zip")


def test_a_newer_form_is_refused_with_what_to_do(tmp_path):
    (tmp_path / "b.zip").write_bytes(head_of(version=2))
    with pytest.raises(keeping.BadBackup, match="newer Warpshelf: its form is version 2"):
        keeping.read_head(tmp_path / "b.zip")


# --- Every day ------------------------------------------------------------------------------------------


def test_one_automatic_backup_a_day(shelf):
    first = daily.back_up_if_due()
    assert first.kind == "automatic"
    assert daily.back_up_if_due() is None
    make_backup("by hand")
    first.path.unlink()
    assert daily.back_up_if_due() is not None, "one made by hand is not the day's"


def test_yesterdays_is_none_of_today(shelf):
    planted(1.1)
    assert daily.back_up_if_due() is not None


def test_after_a_failure_it_waits_an_hour(shelf):
    note_failure("The backup failed: no room")
    assert daily.back_up_if_due() is None
    failed = json.loads((backups_folder() / "last-failure.json").read_text())
    failed["at"] = (timezone.now() - timedelta(hours=2)).isoformat()
    (backups_folder() / "last-failure.json").write_text(json.dumps(failed))
    assert daily.back_up_if_due() is not None
    assert last_failure() is None


def test_a_studio_that_is_not_founded_needs_none(transactional_db):
    assert daily.back_up_if_due() is None
    assert last_failure() is None


def test_the_thread_makes_one_and_stops_when_told(shelf, monkeypatch):
    monkeypatch.setattr(daily, "FIRST_LOOK", timedelta())
    thread = daily.DailyBackup()
    thread.start()
    for _ in range(600):
        if all_backups():
            break
        thread.join(0.1)
    thread.stop()
    assert not thread.is_alive()
    assert [one.kind for one in all_backups()] == ["automatic"]


def test_whatever_fails_the_thread_goes_on_and_the_failure_is_told(shelf, monkeypatch, caplog):
    monkeypatch.setattr(daily, "make_backup", _broken)
    daily.DailyBackup().look()
    assert last_failure().words == "The backup failed: division by zero"
    assert "division by zero" in caplog.text


def _broken(kind):
    raise ZeroDivisionError("division by zero")


def test_a_thread_that_never_started_can_be_stopped():
    daily.DailyBackup().stop()


# --- The warning ----------------------------------------------------------------------------------------


def studio_of(days: float) -> Studio:
    return Studio(pk=1, name="Loft", made_at=timezone.now() - timedelta(days=days))


def test_a_young_studio_and_a_fresh_backup_need_no_warning():
    assert backup_warning(studio_of(2.9)) == ""
    planted(2.9)
    assert backup_warning(studio_of(100)) == ""


def test_an_old_backup_and_none_at_all_are_warned_of():
    assert backup_warning(studio_of(3.1)) == "There is no good backup of this studio yet."
    planted(4.5)
    planted(0, faults=3)
    assert backup_warning(studio_of(100)) == "The last good backup is 4 days old."


def test_a_failure_is_warned_of_at_once():
    planted(0)
    note_failure("The backup failed: no room.")
    assert backup_warning(studio_of(1)).endswith("failed. The backup failed: no room.")


def test_a_note_of_a_failure_that_cannot_be_read_is_none():
    backups_folder().mkdir()
    for text in ("", "[]", "{", '{"at": "x", "words": ""}'):
        (backups_folder() / "last-failure.json").write_text(text)
        assert last_failure() is None


# --- The page -------------------------------------------------------------------------------------------


def test_the_page_makes_lists_fetches_and_removes(shelf, as_owner):
    assert "No backup yet" in as_owner.get("/studio/backup/").content.decode()
    page = as_owner.post("/studio/backup/", follow=True).content.decode()
    (backup,) = all_backups()
    assert f"{backup.name} is made and checked" in page
    assert ">checked</span>" in page and "by hand" in page
    fetched = as_owner.get("/studio/backup/file/", {"name": backup.name})
    assert fetched["Content-Disposition"] == f'attachment; filename="{backup.name}"'
    assert "no-store" in fetched["Cache-Control"]
    assert b"".join(fetched.streaming_content) == backup.path.read_bytes()
    fetched.close()
    page = as_owner.post("/studio/backup/remove/", {"name": backup.name}, follow=True).content.decode()
    assert f"{backup.name} is gone" in page
    assert all_backups() == []


@pytest.mark.parametrize(
    "name", ["", "../secret-key", "studio-2026-11-25T14-03-22.zip", "/etc/passwd", "a\0b"]
)
@pytest.mark.django_db
def test_what_is_no_backup_is_neither_fetched_nor_removed(as_owner, data, name):
    (data / "secret-key").write_text("x")
    for answer in (
        as_owner.get("/studio/backup/file/", {"name": name}, follow=True),
        as_owner.post("/studio/backup/remove/", {"name": name}, follow=True),
    ):
        assert "There is no backup of this name any more" in answer.content.decode()
    assert (data / "secret-key").exists()


@pytest.mark.django_db
def test_the_page_says_what_is_wrong_with_a_backup(as_owner):
    planted(5, "before a restore", faults=2)
    page = as_owner.get("/studio/backup/").content.decode()
    assert "its books have 2 faults" in page
    assert "There is no good backup yet" in page


def test_a_failure_is_said_on_the_page_and_on_today(shelf, as_owner, monkeypatch):
    monkeypatch.setattr(making.ZipFile, "writestr", _full)
    assert "No space left" in as_owner.post("/studio/backup/", follow=True).content.decode()
    today = as_owner.get("/").content.decode()
    assert "No space left" in today


@pytest.mark.django_db
def test_today_warns_everyone_and_leads_the_owner_there(client, owner, viewer):
    Studio.objects.update(made_at=timezone.now() - timedelta(days=9))
    client.force_login(owner)
    assert '<a href="/studio/backup/">See the backups</a>' in client.get("/").content.decode()
    client.force_login(viewer)
    page = client.get("/").content.decode()
    assert "There is no good backup of this studio yet" in page and "Tell the owner" in page
    planted(1)
    assert "Tell the owner" not in client.get("/").content.decode()


@pytest.mark.django_db
def test_the_page_is_reached_from_the_studio_page_by_owners(client, owner, viewer):
    client.force_login(owner)
    assert 'href="/studio/backup/"' in client.get("/studio/").content.decode()
    client.force_login(viewer)
    assert 'href="/studio/backup/"' not in client.get("/studio/").content.decode()
    assert client.get("/studio/backup/").status_code == 403


@pytest.mark.django_db
def test_the_page_asks_as_much_for_many_backups_as_for_one(as_owner, django_assert_num_queries):
    planted(1)
    # session, person, studio
    for _ in range(2):
        with django_assert_num_queries(3):
            as_owner.get("/studio/backup/")
        for days in range(2, 12):
            planted(days)


@pytest.mark.django_db
def test_the_archive_is_fetched_under_the_studios_name(as_owner):
    answer = as_owner.get("/studio/archive/")
    assert re.fullmatch(
        r'attachment; filename="test-studio-[\d-]+\.warpshelf"', answer["Content-Disposition"]
    )
    with ZipFile(BytesIO(b"".join(answer.streaming_content))) as file:
        assert file.namelist()[-1] == "archive.json"


@pytest.mark.django_db
def test_a_large_archive_goes_by_way_of_the_disk(as_owner, monkeypatch):
    monkeypatch.setattr("stash.site.views.backup.IN_MEMORY", 10)
    answer = as_owner.get("/studio/archive/")
    assert len(b"".join(answer.streaming_content)) == int(answer["Content-Length"])
    answer.close()


# --- The command ----------------------------------------------------------------------------------------


class Said:
    text = ""

    def write(self, text: str) -> None:
        self.text += text


def test_the_command_says_where_it_is_and_that_it_was_checked(shelf):
    out = Said()
    call_command("back_up", stdout=out)
    assert str(all_backups()[0].path) in out.text
    assert "Checked: the copy is whole and its books agree." in out.text


def test_the_command_for_a_timer_makes_one_a_day(shelf):
    out = Said()
    call_command("back_up", "--automatic", stdout=out)
    call_command("back_up", "--automatic", stdout=out)
    assert "Nothing to do" in out.text
    assert [one.kind for one in all_backups()] == ["automatic"]


def test_the_command_fails_aloud(shelf):
    Cone.objects.update(on_hand_mg=5)
    with pytest.raises(CommandError, match=r"the books do not agree \(1 fault\): Cone K-001 shows 5 mg"):
        call_command("back_up", stdout=Said())
    lock = lock_backups()
    with pytest.raises(CommandError, match="Another backup"):
        call_command("back_up")
    lock.release()
