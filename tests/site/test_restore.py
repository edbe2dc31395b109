"""Restoring: checked before anything is replaced, what was there is kept, and all of it said in words."""

import json
import shutil
import sqlite3
from hashlib import sha256
from pathlib import Path
from zipfile import ZIP_DEFLATED, ZipFile

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, connections
from django.utils import timezone

from projects.services.recording import add_photo
from stash.models import Cone, Entry, Person, Photo, Studio, guards
from stash.services.cones import move_cone
from stash.services.refusal import Refusal
from stash.services.weighing import weigh
from stash.site.archive import write_studio
from stash.site.backup import keeping, restoring
from stash.site.backup.keeping import all_backups
from stash.site.backup.making import make_backup
from stash.site.folders import backups_folder, photos_folder
from stash.site.lock import FolderLock
from stash.site.sqlite import unsoundness
from tests.books import assert_books_agree
from tests.factories import a_photo, make_cone, make_project

sqlite_only = pytest.mark.skipif(
    "connection.vendor != 'sqlite'",
    reason="These are backups of books that are a file, as SQLite keeps them.",
)


@pytest.fixture(autouse=True)
def data(settings, tmp_path):
    settings.DATA = tmp_path / "data"
    settings.DATA.mkdir()
    return settings.DATA


@pytest.fixture
def cone(transactional_db, guarded, owner) -> Cone:
    cone = make_cone(by=owner, lot="A1")
    photograph(cone, "one.jpg")
    return cone


def photograph(cone: Cone, name: str) -> None:
    photos_folder().mkdir(parents=True, exist_ok=True)
    (photos_folder() / name).write_bytes(name.encode() * 100)
    Photo.objects.create(cone=cone, file=name, width=1, height=1, made_at=timezone.now())


def restored(path: Path, **facts) -> str:
    said: list[str] = []
    restoring.restore(path, said.append, **facts)
    return "\n".join(said)


def state() -> tuple:
    return (
        sorted(Cone.objects.values_list("code", "on_hand_mg")),
        Entry.objects.count(),
        sorted(path.name for path in photos_folder().iterdir()),
    )


def refused(path: Path, **facts) -> str:
    """The sentence of the refusal; nothing was replaced and no backup made for it."""
    before, backups = state(), all_backups()
    with pytest.raises(Refusal) as refusal:
        restored(path, **facts)
    assert state() == before
    assert all_backups() == backups
    return refusal.value.message


def test_a_projects_photo_comes_back_and_later_ones_go(cone):
    project = make_project("Lantern mats")
    photo = add_photo(project_id=project.pk, sent=a_photo())
    backup = make_backup("by hand")
    add_photo(project_id=project.pk, sent=a_photo())
    (photos_folder() / photo.file).unlink()
    restored(backup.path)
    assert {path.name for path in photos_folder().iterdir()} == {"one.jpg", photo.file}


def test_what_was_done_since_is_undone_and_kept(cone, owner):
    then = state()
    backup = make_backup("by hand")
    weigh(cone_id=cone.pk, scale_mg=300_000, gross=False, by=owner)
    make_cone(by=owner)
    photograph(cone, "two.jpg")
    Photo.objects.filter(file="one.jpg").delete()
    (photos_folder() / "one.jpg").unlink()
    now = state()
    said = restored(backup.path)
    assert state() == then
    assert_books_agree()
    assert guards.missing() == []
    assert "is whole: made" in said and "What was here is kept as" in said
    assert ": Test studio, 1 cone, 1 entry, 0 projects, 1 photo. Everyone signs in again." in said
    kept = all_backups()[0]
    assert (kept.kind, kept.is_verified) == ("before a restore", True)
    restored(kept.path)
    assert state() == now
    move_cone(pk=cone.pk, place="North shelf")
    assert_books_agree()


def test_everyone_signs_in_anew_with_the_password_of_the_backup(cone, as_owner):
    backup = make_backup("by hand")
    owner = Person.objects.get(username="mara")
    owner.set_password("another long word")
    owner.save()
    as_owner.force_login(owner)
    restored(backup.path)
    assert as_owner.get("/").status_code == 302
    if connection.vendor == "sqlite":
        assert Person.objects.get(username="mara").check_password("a long enough word")


@sqlite_only
def test_connections_that_are_open_see_the_restored_books(cone, owner):
    """Put into the live books, not in their file's place."""
    backup = make_backup("by hand")
    weigh(cone_id=cone.pk, scale_mg=300_000, gross=False, by=owner)
    other = sqlite3.connect(connection.settings_dict["NAME"])
    assert other.execute("SELECT count(*) FROM stash_entry").fetchone() == (2,)
    inode = Path(connection.settings_dict["NAME"]).stat().st_ino
    restored(backup.path)
    assert other.execute("SELECT count(*) FROM stash_entry").fetchone() == (1,)
    assert other.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    other.close()
    assert Path(connection.settings_dict["NAME"]).stat().st_ino == inode
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA journal_mode")
        assert cursor.fetchone() == ("wal",)


def test_an_archive_is_restored_too_and_people_keep_their_passwords(cone, owner, tmp_path):
    then = state()
    path = tmp_path / "studio.warpshelf"
    with path.open("wb") as file:
        write_studio(file)
    make_cone(by=owner)
    said = restored(path)
    assert state() == then
    assert "Restored from the archive: Test studio, 1 cone," in said
    assert Person.objects.get(username="mara").check_password("a long enough word")
    assert guards.missing() == []
    assert all_backups()[0].head.rows["cones"] == 2


def test_a_backup_as_it_is_made_on_postgresql_is_restored_anywhere(cone, owner, tmp_path):
    then = state()
    path = tmp_path / "studio.zip"
    inside = tmp_path / keeping.ARCHIVE
    with inside.open("wb") as file:
        write_studio(file, sign_ins=True)
    packed(path, inside)
    Person.objects.filter(username="mara").update(username="else")
    make_cone(by=owner)
    restored(path)
    assert state() == then
    assert Person.objects.get(username="mara").check_password("a long enough word")


def packed(path: Path, books: Path, **changes) -> None:
    """A backup put together by hand around a file of books."""
    head = keeping.Head(
        timezone.now().isoformat(),
        "by hand",
        books.name,
        sha256(books.read_bytes()).hexdigest(),
        {"cones": 1},
    )
    with ZipFile(path, "w", ZIP_DEFLATED) as file:
        file.write(books, books.name)
        file.writestr(keeping.PHOTO_LIST, changes.get("photos", "[]"))
        file.writestr(keeping.HEAD, head.written())


def test_while_a_server_is_at_work_nothing_is_restored(cone, data):
    backup = make_backup("by hand")
    lock = FolderLock(data)
    lock.note("http://127.0.0.1:8000/")
    words = refused(backup.path)
    assert "http://127.0.0.1:8000/" in words and "Stop it first" in words
    lock.release()
    restored(backup.path)


def test_files_that_are_no_backups_are_refused(cone, tmp_path):
    path = tmp_path / "x.zip"
    assert "There is no file" in refused(path)
    assert "There is no file" in refused(tmp_path)
    for content in (b"", b"PK\3\4", b"\x89PNG\r\n"):
        path.write_bytes(content)
        assert "is no backup" in refused(path)


def test_one_that_was_cut_short_or_changed_is_refused(cone, tmp_path):
    backup = make_backup("by hand")
    whole = backup.path.read_bytes()
    path = tmp_path / "x.zip"
    path.write_bytes(whole[: len(whole) // 2])
    assert "is no backup" in refused(path)
    # Where the bit falls decides what notices it first: the unpacker, a checksum, or the zip itself.
    for part in range(2, 8):
        changed = bytearray(whole)
        changed[len(changed) * part // 12] ^= 1
        path.write_bytes(changed)
        assert refused(path)


def repacked(source: Path, target: Path, **files: bytes) -> Path:
    """The same backup with other files in it; None leaves one out."""
    with ZipFile(source) as old, ZipFile(target, "w", ZIP_DEFLATED) as new:
        for name in old.namelist():
            content = files.get(name.replace(".", "_").replace("/", "_"), old.read(name))
            if content is not None:
                new.writestr(name, content)
    return target


@sqlite_only
def test_every_file_in_it_is_held_against_its_checksum(cone, tmp_path):
    backup, path = make_backup("by hand"), tmp_path / "x.zip"
    assert "was changed after it was made" in refused(repacked(backup.path, path, studio_sqlite3=b"x"))
    assert "The photo one.jpg" in refused(repacked(backup.path, path, photos_one_jpg=b"x"))
    assert "The photo one.jpg is not in" in refused(repacked(backup.path, path, photos_one_jpg=None))
    assert "lacks studio.sqlite3 or photos.json" in refused(repacked(backup.path, path, photos_json=None))
    for odd in (
        b"{",
        b"[1]",
        b'[{"file": "../x", "sha256": ""}]',
        b'{"a": 1}',
        b'[{"file": 1, "sha256": ""}]',
    ):
        assert "photos.json" in refused(repacked(backup.path, path, photos_json=odd))


@sqlite_only
def test_one_that_would_fill_the_disk_is_refused(cone, tmp_path, monkeypatch):
    backup = make_backup("by hand")
    usage = shutil.disk_usage(tmp_path)
    monkeypatch.setattr(restoring.shutil, "disk_usage", lambda _: usage._replace(free=10_000))
    assert "the disk has not that much room" in refused(backup.path)


@pytest.fixture
def books(cone, tmp_path) -> Path:
    """The books of a backup as a file, to be spoilt."""
    with ZipFile(make_backup("by hand").path) as file:
        (tmp_path / keeping.BOOKS).write_bytes(file.read(keeping.BOOKS))
    return tmp_path / keeping.BOOKS


def spoilt(books: Path, tmp_path: Path, *statements: str) -> Path:
    with sqlite3.connect(books) as file:
        for statement in statements:
            file.execute(statement)
    file.close()
    packed(tmp_path / "x.zip", books)
    return tmp_path / "x.zip"


@sqlite_only
def test_books_that_are_not_sound_are_refused(books, tmp_path):
    content = bytearray(books.read_bytes())
    content[4096 * 5 : 4096 * 9] = b"\xff" * 4096 * 4
    books.write_bytes(content)
    packed(tmp_path / "x.zip", books)
    assert "are not sound" in refused(tmp_path / "x.zip")
    books.write_bytes(b"no books at all" * 999)
    packed(tmp_path / "x.zip", books)
    assert "are not sound" in refused(tmp_path / "x.zip")


@sqlite_only
def test_books_with_a_row_that_leads_nowhere_are_refused(books, tmp_path):
    path = spoilt(books, tmp_path, "UPDATE stash_cone SET shade_id = 999")
    assert "a row of stash_cone refers to a row of stash_shade that is not there" in refused(path)


@sqlite_only
def test_books_of_a_newer_program_are_refused(books, tmp_path):
    newer = "INSERT INTO django_migrations (app, name, applied) VALUES ('stash', '0999_looms', '2030-01-01')"
    assert "newer Warpshelf: stash.0999_looms is not known" in refused(spoilt(books, tmp_path, newer))


@sqlite_only
def test_books_without_a_studio_are_refused(books, tmp_path):
    assert "hold no studio" in refused(spoilt(books, tmp_path, "DELETE FROM stash_studio"))


@sqlite_only
def test_books_that_do_not_agree_are_refused_unless_they_are_all_there_is(books, tmp_path):
    path = spoilt(books, tmp_path, "UPDATE stash_cone SET on_hand_mg = 5")
    words = refused(path)
    assert "(1 fault): Cone K-001 shows 5 mg" in words and "--with-faults" in words
    said = restored(path, with_faults=True)
    assert "Its books have 1 fault" in said
    assert Cone.objects.get().on_hand_mg == 5


@sqlite_only
def test_older_books_are_brought_up_before_they_replace_anything(books, tmp_path):
    """The newest step taken back on the copy, as an older program would have left it."""
    from stash.site.sqlite import opened

    with opened(books) as using:
        call_command("migrate", "sessions", "zero", database=using, verbosity=0)
    packed(tmp_path / "x.zip", books)
    said = restored(tmp_path / "x.zip")
    assert "made by an older Warpshelf; the copy was brought up to this one (1 step)" in said
    assert Cone.objects.count() == 1


@sqlite_only
def test_what_cannot_be_kept_is_not_replaced_but_copied_aside(cone, monkeypatch):
    backup = make_backup("by hand")
    monkeypatch.setattr(restoring, "make_backup", _failing)
    said = restored(backup.path)
    (aside,) = backups_folder().glob("replaced-*")
    assert str(aside) in said and "its files are kept in" in said
    assert unsoundness(aside / Path(connection.settings_dict["NAME"]).name) == ""


def _failing(kind):
    raise keeping.BackupFailed("The copy of the books is not sound")


@sqlite_only
def test_books_damaged_beyond_opening_are_replaced_by_a_new_file(cone, tmp_path, settings):
    backup = make_backup("by hand")
    connections.close_all()
    live = tmp_path / "live.sqlite3"
    live.write_bytes(b"no books at all" * 9_999)
    facts = connection.settings_dict
    name = facts["NAME"]
    facts["NAME"] = str(live)
    try:
        said = restored(backup.path)
        assert "its files are kept in" in said and "replaced by a new one" in said
        assert Studio.objects.count() == 1 and unsoundness(live) == ""
        (aside,) = backups_folder().glob("replaced-*")
        assert (aside / live.name).read_bytes().startswith(b"no books")
    finally:
        connections.close_all()
        facts["NAME"] = name


@sqlite_only
def test_a_new_folder_takes_a_backup_as_it_is(cone, tmp_path):
    backup = make_backup("by hand")
    connections.close_all()
    facts = connection.settings_dict
    name = facts["NAME"]
    facts["NAME"] = str(tmp_path / "new.sqlite3")
    try:
        said = restored(backup.path)
        assert "kept" not in said
        assert Cone.objects.count() == 1
    finally:
        connections.close_all()
        facts["NAME"] = name


@pytest.mark.skipif(
    "connection.vendor != 'postgresql'", reason="Books on PostgreSQL are backed up as an archive."
)
def test_books_on_sqlite_are_not_restored_elsewhere(cone, tmp_path):
    books = tmp_path / keeping.BOOKS
    books.write_bytes(b"x")
    packed(tmp_path / "x.zip", books)
    assert "write an archive there with write_archive" in refused(tmp_path / "x.zip")


def test_an_archive_that_is_refused_leaves_all_as_it_was(cone, tmp_path):
    path = tmp_path / "studio.warpshelf"
    with path.open("wb") as file:
        write_studio(file)
    content = path.read_bytes()
    path.write_bytes(content.replace(b'"K-001"', b'"K-002"'))
    before = state()
    with pytest.raises(Refusal, match=r"damaged|changed"):
        restored(path)
    assert state() == before


def test_the_command_says_what_it_did_and_refuses_in_words(cone, tmp_path, capsys):
    backup = make_backup("by hand")
    call_command("restore", backup.path)
    assert ": Test studio, 1 cone" in capsys.readouterr().out
    with pytest.raises(CommandError, match="There is no file"):
        call_command("restore", tmp_path / "none.zip")


def test_the_list_of_photos_is_json(cone):
    with ZipFile(make_backup("by hand").path) as file:
        listed = json.loads(file.read(keeping.PHOTO_LIST))
    if connection.vendor == "sqlite":
        assert [one["file"] for one in listed] == ["one.jpg"]
    else:
        assert listed == []  # they are inside the archive
