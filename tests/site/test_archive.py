"""The archive: whole, the same bytes whenever the studio is the same, opened all or nothing."""

import json
import re
from hashlib import sha256
from io import BytesIO
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile

import pytest
from django.conf import settings as django_settings
from django.core.management import CommandError, call_command
from django.test import override_settings

from projects.models import Fair, Project, ProjectPhoto
from stash.archive.loading import _empty
from stash.archive.reading import Unreadable
from stash.models import (
    CalendarAddress,
    Cone,
    Entry,
    Loom,
    Order,
    Person,
    PhoneCode,
    Photo,
    Shade,
    Studio,
    Yarn,
    guards,
)
from stash.services.books import row_faults
from stash.services.refusal import Refusal
from stash.services.weighing import weigh
from stash.site.archive import LAYOUT, archive_name, open_studio, write_studio
from stash.site.demo import load_demo
from stash.site.folders import photos_folder
from tests.factories import make_cone, make_project, make_shade
from tests.site.studios import random_studio

pytestmark = pytest.mark.django_db
SCHEMA = (django_settings.CODE / "stash/archive/schema.md").read_text()


@pytest.fixture(autouse=True)
def data(settings, tmp_path):
    settings.DATA = tmp_path
    return tmp_path


def written(**facts) -> bytes:
    file = BytesIO()
    write_studio(file, **facts)
    return file.getvalue()


def empty() -> None:
    _empty(LAYOUT, "default")
    for path in photos_folder().iterdir() if photos_folder().exists() else ():
        path.unlink()


def everything() -> dict[str, list]:
    return {table.name: list(table.model._base_manager.order_by("pk").values()) for table in LAYOUT}


def without_passwords(rows: dict[str, list]) -> dict[str, list]:
    people = [person | {"password": ""} for person in rows["people"]]
    return rows | {"people": people}


def photos() -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in photos_folder().iterdir()}


@pytest.mark.parametrize(
    "seed", [0, 1, *(pytest.param(seed, marks=pytest.mark.once) for seed in range(2, 6))]
)
def test_any_studio_comes_back_with_the_same_rows_and_the_same_bytes(seed):
    random_studio(seed)
    assert row_faults() == []
    rows, pictures, first = everything(), photos(), written()
    assert all(rows.values()), "every table is tried"
    empty()
    open_studio(BytesIO(first))
    assert without_passwords(everything()) == without_passwords(rows)
    assert photos() == pictures
    assert written() == first


def test_the_demo_studio_comes_back_with_the_same_bytes():
    load_demo()
    first = written()
    assert written() == first
    empty()
    open_studio(BytesIO(first))
    assert written() == first


def test_the_ledger_goes_on_after_the_last_key(owner):
    cone = make_cone(by=owner)
    first = written()
    empty()
    open_studio(BytesIO(first))
    by = Person.objects.get(pk=owner.pk)
    weigh(cone_id=cone.pk, scale_mg=400_000, gross=False, by=by)
    new = make_cone(by=by)
    assert new.pk > cone.pk
    assert Entry.objects.count() == 3
    assert row_faults() == []


def test_searches_find_what_was_opened(owner):
    make_cone(by=owner, lot="Ä17", place="North shelf")
    first = written()
    empty()
    open_studio(BytesIO(first))
    assert Cone.objects.matching("a17 north spruce").count() == 1


def test_searches_find_the_notes_of_what_was_opened(owner):
    cone = make_cone(make_shade("Oat", note="ÄHNLICH Maïs"), by=owner, note="Müde")
    make_project("Towels", cone.shade, note="Übung")
    first = written()
    empty()
    open_studio(BytesIO(first))
    assert Cone.objects.matching("mude ahnlich MAÏS").count() == 1
    assert Project.objects.get().note_folded == "ubung"


def test_passwords_stay_out_and_nobody_can_sign_in(owner, client):
    assert b"MD5" not in written() and owner.password.encode() not in written()
    first = written()
    empty()
    open_studio(BytesIO(first))
    assert not Person.objects.get().has_usable_password()


def test_a_backups_archive_brings_the_sign_ins(owner):
    first = written(sign_ins=True)
    assert first == written(sign_ins=True)
    empty()
    open_studio(BytesIO(first))
    assert Person.objects.get().check_password("a long enough word")


def test_the_owner_named_gets_the_password_given(owner):
    first = written()
    empty()
    open_studio(BytesIO(first), username=" MARA ", password="ten warps a year")
    assert Person.objects.get().check_password("ten warps a year")


def test_who_stays_in_a_studio_that_is_replaced_keeps_the_password(owner, helper):
    first = written()
    helper.delete()
    open_studio(BytesIO(first), replace=True)
    assert Person.objects.get(username="mara").check_password("a long enough word")
    assert not Person.objects.get(username="jon").has_usable_password()


def test_replacing_takes_everything_else_away(guarded, owner):
    first = written()
    make_cone(by=owner)
    now = Studio.objects.get().made_at
    PhoneCode.objects.create(person=owner, code_hash="x", made_at=now)
    CalendarAddress.objects.create(person=owner, name="Phone", token_hash="x", made_at=now)
    photos_folder().mkdir(parents=True)
    (photos_folder() / "old.jpg").write_bytes(b"x")
    open_studio(BytesIO(first), replace=True)
    assert (Cone.objects.count(), PhoneCode.objects.count(), Person.objects.count()) == (0, 0, 1)
    assert not CalendarAddress.objects.exists()
    assert photos() == {}
    assert guards.missing() == []


def test_a_studio_that_stands_is_not_written_over(owner):
    first = written()
    before = everything()
    with pytest.raises(Refusal, match="There is a studio here already"):
        open_studio(BytesIO(first))
    assert everything() == before


def test_a_photo_without_its_file_is_no_hindrance(data):
    random_studio(1)
    first = written()
    with ZipFile(BytesIO(first)) as file:
        assert len(json.loads(file.read("archive.json"))["photos"]) == 2
    assert Photo.objects.count() == 3


def test_photos_of_projects_come_along_with_their_files(data):
    random_studio(1)
    photo = ProjectPhoto.objects.get()
    (photos_folder() / photo.file).write_bytes(b"pixels of mats")
    first = written()
    with ZipFile(BytesIO(first)) as file:
        assert file.read(f"photos/{photo.file}") == b"pixels of mats"
    empty()
    open_studio(BytesIO(first))
    assert (photos_folder() / photo.file).read_bytes() == b"pixels of mats"
    assert written() == first


def test_one_file_is_not_the_photo_of_two_things(archive):
    (photo,) = Workshop(archive).lines("project_photos")
    said = refused(Workshop(archive).change("photos", file=photo["file"]).packed())
    assert "is a photo of something already" in said


def test_the_name_of_the_file_is_that_of_the_studio(studio):
    Studio.objects.update(name="Löft & Loom / 3")
    assert re.fullmatch(r"loft-loom-3-\d{4}-\d\d-\d\d\.warpshelf", archive_name())


# --- The written schema ---------------------------------------------------------------------------------


def test_every_field_of_every_model_is_kept_or_left_out_on_purpose():
    from django.apps import apps

    ours = [*apps.get_app_config("stash").get_models(), *apps.get_app_config("projects").get_models()]
    assert {table.model for table in LAYOUT} == set(ours) - {CalendarAddress, PhoneCode}
    for table in LAYOUT:
        fields = {field.name for field in table.model._meta.concrete_fields}
        kept = [column.name for column in table.columns]
        assert len(kept) == len(set(kept))
        assert set(kept) | set(table.left_out) == fields, table.name
        assert not set(kept) & set(table.left_out), table.name
    left = {(table.name, name) for table in LAYOUT for name in table.left_out}
    assert left == {
        ("people", "password"),
        ("people", "last_login"),
        ("yarns", "search"),
        ("yarns", "note_folded"),
        ("shades", "search"),
        ("shades", "note_folded"),
        ("cones", "search"),
        ("cones", "note_folded"),
        ("projects", "search"),
        ("projects", "note_folded"),
    }


def test_schema_and_program_name_the_same_tables_and_columns():
    parts = re.split(r"^### (\w+)$", SCHEMA, flags=re.M)[1:]
    told = {
        name: re.findall(r"^\| (\w+) \| ([^|]+) \|", text, re.M)[1:]
        for name, text in zip(*[iter(parts)] * 2, strict=True)
    }
    assert list(told) == [table.name for table in LAYOUT]
    for table in LAYOUT:
        real = []
        for column in table.columns[1:]:
            target = LAYOUT.of_model[column.points_to].name if column.points_to else ""
            real.append(
                (column.name, column.kind.replace("key", f"key of {target}", 1) if target else column.kind)
            )
        assert told[table.name] == real, table.name


# --- What is refused, with nothing written --------------------------------------------------------------


class Workshop:
    """Takes an archive apart and puts it together again, with checksums that agree unless told."""

    def __init__(self, data: bytes) -> None:
        with ZipFile(BytesIO(data)) as file:
            self.files = {name: file.read(name) for name in file.namelist()}
        self.head = json.loads(self.files.pop("archive.json"))

    def lines(self, table: str) -> list[dict]:
        return [json.loads(line) for line in self.files[f"tables/{table}.jsonl"].splitlines()]

    def put(self, table: str, rows: list) -> "Workshop":
        lines = [
            row
            if isinstance(row, bytes)
            else json.dumps(row, ensure_ascii=False, separators=(",", ":")).encode()
            for row in rows
        ]
        return self.put_file(table, b"".join(line + b"\n" for line in lines), len(rows))

    def put_file(self, table: str, data: bytes, rows: int) -> "Workshop":
        self.files[f"tables/{table}.jsonl"] = data
        entry = next(one for one in self.head["tables"] if one["name"] == table)
        entry.update(rows=rows, sha256=sha256(data).hexdigest())
        return self

    def change(self, table: str, at: int = 0, **changes) -> "Workshop":
        rows = self.lines(table)
        rows[at] |= changes
        return self.put(table, rows)

    def packed(self, compression: int = ZIP_STORED, head: object = None) -> bytes:
        file = BytesIO()
        with ZipFile(file, "w", compression) as archive:
            for name, data in self.files.items():
                archive.writestr(name, data)
            said = self.head if head is None else head
            archive.writestr("archive.json", said if isinstance(said, bytes) else json.dumps(said))
        return file.getvalue()


@pytest.fixture(scope="module")
def archive(shared_rows, tmp_path_factory):
    with override_settings(DATA=tmp_path_factory.mktemp("archive")):
        random_studio(2)
        data = written()
        empty()
    return data


def refused(data: bytes) -> str:
    """The sentence with which it is refused; nothing is written."""
    with pytest.raises(Unreadable) as refusal:
        open_studio(BytesIO(data))
    assert not any(everything().values())
    assert not photos_folder().exists() or not any(photos_folder().iterdir())
    return refusal.value.message


def test_the_workshop_itself_changes_nothing(archive):
    open_studio(BytesIO(Workshop(archive).packed()))
    assert written() == archive


@pytest.mark.parametrize("content", [b"", b"PK", b"\x89PNG" * 99, b"code;grams\nK-1;5\n"])
def test_what_is_no_archive_is_refused(content, db):
    assert "no archive of a studio" in refused(content)


def test_one_that_was_cut_short_is_refused(archive):
    for part in (len(archive) // 3, len(archive) - 30):
        assert "no archive" in refused(archive[:part])


def test_another_zip_is_refused(db):
    file = BytesIO()
    with ZipFile(file, "w") as archive:
        archive.writestr("letter.txt", "x")
    assert "it has no archive.json" in refused(file.getvalue())


def test_one_byte_changed_anywhere_is_found(archive):
    places = [archive.index(b'"Q-3"') + 1, archive.index(b"archive.json") + 200, len(archive) // 2]
    for at in places:
        changed = bytearray(archive)
        changed[at] ^= 1
        refused(bytes(changed))


def test_a_table_changed_with_its_zip_packed_anew_is_found_by_its_checksum(archive):
    shop = Workshop(archive)
    name = "tables/cones.jsonl"
    shop.files[name] = shop.files[name].replace(b"Q-3", b"Q-X")
    assert "cones was changed after it was written" in refused(shop.packed())


def test_a_newer_version_is_refused_with_what_to_do(archive):
    shop = Workshop(archive)
    words = refused(shop.packed(head=shop.head | {"version": 4}))
    assert (
        "newer Warpshelf" in words
        and "version 4" in words
        and "up to version 3" in words
        and "Update" in words
    )


@pytest.mark.parametrize("version", [1, 2])
def test_an_archive_of_an_older_version_is_opened_and_written_again_as_version_3(archive, version):
    shop = Workshop(archive)
    shop.head["version"] = version
    for table in LAYOUT:
        if table.since > version:
            del shop.files[table.member]
        elif table.newer:
            kept = [column.name for column in table.columns_in(version)]
            lines = [{name: row[name] for name in kept} for row in shop.lines(table.name)]
            shop.put(table.name, lines)
    shop.head["tables"] = [
        told for told in shop.head["tables"] if f"tables/{told['name']}.jsonl" in shop.files
    ]
    told = str([data for name, data in shop.files.items() if name.endswith("photos.jsonl")])
    shop.head["photos"] = [photo for photo in shop.head["photos"] if photo["file"] in told]
    shop.files = {
        name: data
        for name, data in shop.files.items()
        if not name.startswith("photos/") or name.removeprefix("photos/") in str(shop.head["photos"])
    }
    empty()
    open_studio(BytesIO(shop.packed()))
    assert not Fair.objects.exists() and not Order.objects.exists()
    project = Project.objects.first()
    row = project.shades.get()
    assert (project.fair, row.wish, row.wish_lot, Shade.objects.first().one_more) == (
        None,
        "any",
        None,
        False,
    )
    if version == 1:
        assert not Loom.objects.exists()
        assert (project.stage, project.loom, project.at_once, project.threading) == ("planned", None, 2, "")
        assert row.warp_um == project.warp_um > 0
    assert json.loads(ZipFile(BytesIO(written())).read("archive.json"))["version"] == 3


@pytest.mark.parametrize("version", [0, "1", None, 1.0, True])
def test_a_version_that_is_none_is_refused(archive, version):
    shop = Workshop(archive)
    assert "Accepted: 1 to 3" in refused(shop.packed(head=shop.head | {"version": version}))


@pytest.mark.parametrize(
    "head", [b"{", b"[]", b"{}", b"\xff", b"[" * 100_000, b'{"format":"else","version":1}']
)
def test_a_head_that_is_none_is_refused(archive, head):
    refused(Workshop(archive).packed(head=head))


@pytest.mark.parametrize(
    "change",
    [
        {"tables": []},
        {"tables": None},
        {"photos": [{"file": "../x", "bytes": 1, "sha256": ""}]},
        {"photos": [1]},
        {"sign_ins": 3},
    ],
)
def test_a_head_whose_lists_are_odd_is_refused(archive, change):
    shop = Workshop(archive)
    refused(shop.packed(head=shop.head | change))


def test_a_table_that_nobody_knows_and_one_that_lacks_are_named(archive):
    shop = Workshop(archive)
    shop.head["tables"][3]["name"] = "spindles"
    words = refused(shop.packed())
    assert "unknown spindles" in words and "missing fibres" in words


def test_files_that_are_not_told_of_are_refused(archive):
    shop = Workshop(archive)
    shop.files["../../evil"] = b"x"
    assert "../../evil" in refused(shop.packed())
    shop = Workshop(archive)
    del shop.files["tables/lots.jsonl"]
    assert "tables/lots.jsonl" in refused(shop.packed())


def test_a_bomb_is_refused_before_it_unfolds(archive):
    shop = Workshop(archive).put_file("lots", b" " * 50_000_000, 1)
    packed = shop.packed(ZIP_DEFLATED)
    assert len(packed) < 200_000
    assert "compressed or locked" in refused(packed)


def test_files_that_lie_over_each_other_are_refused(archive):
    """The other kind of bomb: many entries of the directory that all lead to the same bytes."""
    file = BytesIO(archive)
    with ZipFile(file, "a") as zipped:
        first = zipped.infolist()[0]
        for number in range(3):
            twin = type(first)(f"x{number}")
            twin.header_offset, twin.CRC = first.header_offset, first.CRC
            twin.file_size = twin.compress_size = len(archive)
            zipped.filelist.append(twin)
            zipped.NameToInfo[twin.filename] = twin
        zipped._didModify = True
    assert "more than it can" in refused(file.getvalue())


@pytest.mark.parametrize(
    ("table", "changes", "words"),
    [
        ("studio", {"id": 2}, "There is one studio"),
        ("studio", {"currency": "euro"}, "studio, line 1: currency should be text of 1 to 3"),
        ("studio", {"currency": "eur"}, "ISO 4217"),
        ("people", {"role": "guest"}, "people, line 1: role should be one of helper, owner, viewer"),
        ("people", {"role": "viewer"}, "Nobody in this archive is an owner"),
        ("people", {"username": "PERSON1"}, "people, line 2:"),
        ("yarns", {"grist_um": 0}, "yarns, line 1: The length per mass must be more than nothing."),
        ("yarns", {"name": ""}, "yarns, line 1: name should be text of 1 to 80 characters"),
        ("yarns", {"name": "x" * 81}, "yarns, line 1: name should be text of 1 to 80 characters"),
        ("yarns", {"name": "a\0b"}, "yarns, line 1: name should be text"),
        ("yarns", {"version": -1}, "yarns, line 1: version should be a whole number from 0"),
        ("yarns", {"version": 1.0}, "yarns, line 1: version should be a whole number"),
        ("yarns", {"version": True}, "yarns, line 1: version should be a whole number"),
        ("yarns", {"version": "1"}, "yarns, line 1: version should be a whole number"),
        ("yarns", {"version": None}, "yarns, line 1: version should be a whole number"),
        ("yarns", {"id": 10**13}, "yarns, line 1: id should be a whole number from 1"),
        ("yarns", {"retired_at": "2026-02-30T10:00:00.000000Z"}, "retired_at should be a moment such as"),
        ("yarns", {"retired_at": "2026-02-20"}, "retired_at should be a moment such as"),
        ("fibres", {"percent": 0}, "fibres, line 1: percent should be a whole number from 1 to 100"),
        ("fibres", {"percent": 100}, "The fibres of"),
        ("shades", {"colour": "#GG0000"}, "shades, line 1: colour should be"),
        ("shades", {"yarn": 999}, "shades, line 1: yarn refers to 999, which is not there"),
        ("cones", {"code": "q-1"}, "cones, line 2:"),
        ("cones", {"form": "hank"}, "cones, line 1: form should be one of"),
        ("cones", {"received_at": None}, "cones, line 1: received_at should be a moment"),
        ("cones", {"condition_on": "2026-13-01"}, "cones, line 1: condition_on should be a date such as"),
        ("cones", {"estimated": 1}, "cones, line 1: estimated should be true or false"),
        ("cones", {"on_hand_mg": 1}, "The books in this archive do not agree"),
        ("cones", {"reserved_mg": 77}, "The books in this archive do not agree"),
        ("entries", {"by": 999}, "entries, line 1: by refers to 999"),
        ("entries", {"undoes": 999}, "entries, line 1: undoes refers to 999"),
        ("entries", {"change_mg": 2**62}, "The books in this archive do not agree"),
        ("entries", {"after_mg": -1, "gross_mg": None}, "No less than nothing can be left on a cone."),
        ("reservations", {"use": "both"}, "reservations, line 1: use should be one of warp, weft"),
        ("photos", {"file": "../../secret-key"}, "is no plain file name"),
        ("photos", {"file": ".hidden"}, "is no plain file name"),
        ("photos", {"file": "other.jpg"}, "belongs to nothing"),
        ("project_photos", {"file": "../../secret-key"}, "is no plain file name"),
        ("photos", {"cone": None, "shade": None}, "A photo shows a shade or a cone."),
        ("projects", {"colour_order": "12 ?"}, "The archive holds what cannot be worked with. Project"),
        ("projects", {"structure": "satin-9"}, "there is no weave structure satin-9"),
        ("projects", {"structure": "draft", "threading": ""}, "A threading is missing"),
        (
            "projects",
            {"structure": "draft", "threading": "1, 2", "lift_plan": "1, 3"},
            "Pick 2 lifts shaft 3, and no end is threaded on it",
        ),
        ("project_shades", {"key": "a"}, "project_shades, line 1: key should be A key is one or two"),
    ],
)
def test_a_row_that_cannot_be_is_named_by_table_and_line(archive, table, changes, words):
    said = refused(Workshop(archive).change(table, **changes).packed())
    assert words in said


def test_rows_of_another_shape_are_refused(archive):
    shop = Workshop(archive)
    (row,) = shop.lines("studio")
    for odd in (
        {name: value for name, value in row.items() if name != "currency"},
        row | {"extra": 1},
        dict(reversed(row.items())),
    ):
        assert "studio, line 1: its columns are not id, name" in refused(
            Workshop(archive).put("studio", [odd]).packed()
        )


@pytest.mark.parametrize(
    "line",
    [
        b"",
        b"{",
        b"[1]",
        b"\xff\xfe",
        b'{"id": 1}',
        b'{"id":1,"id":1,"name":"x"}',
        b'{"id":NaN,"name":"x"}',
        b'{"id":1,"name":"\\ud800"}',
        b'{"id":1,"name":"\\u0041"}',
        b'{"id":' + b"9" * 5000 + b',"name":"x"}',
        b'{"id":1,"name":' + b"[" * 100_000 + b"]" * 100_000 + b"}",
        b'{"id":1,"name":"' + b"x" * 1_000_001 + b'"}',
    ],
)
def test_lines_that_we_would_not_write_are_refused(archive, line):
    assert refused(Workshop(archive).put("places", [line]).packed()).startswith("places, line 1: ")


def test_a_last_line_without_its_end_is_refused(archive):
    shop = Workshop(archive)
    data = shop.files["tables/places.jsonl"].rstrip(b"\n")
    assert "places, line 3" in refused(shop.put_file("places", data, 3).packed())


def test_keys_that_do_not_rise_are_refused(archive):
    shop = Workshop(archive)
    assert "keys must rise" in refused(shop.put("places", shop.lines("places")[::-1]).packed())
    shop = Workshop(archive)
    rows = shop.lines("places")
    assert "keys must rise" in refused(shop.put("places", [rows[0], *rows]).packed())


def test_a_number_of_rows_that_is_not_so_is_refused(archive):
    shop = Workshop(archive)
    shop.head["tables"][6]["rows"] += 1
    assert "places has 3 rows; archive.json says 4" in refused(shop.packed())


def test_a_photo_of_other_bytes_is_refused(archive):
    shop = Workshop(archive)
    name = next(name for name in shop.files if name.startswith("photos/"))
    shop.files[name] = b"x" * 10_000
    assert "photo" in refused(shop.packed())


def test_the_first_of_many_lines_that_breaks_a_rule_is_found(archive):
    shop = Workshop(archive)
    rows = shop.lines("places")
    more = [{"id": 1000 + number, "name": f"P{number}"} for number in range(4500)]
    more[3000]["name"] = "P2999"
    assert f"places, line {3 + 3001}: " in refused(shop.put("places", [*rows, *more]).packed())


def test_sign_ins_that_are_none_are_refused(owner):
    data = written(sign_ins=True)
    empty()
    for row in (
        {"person": 99, "password": owner.password},
        {"person": owner.pk, "password": "plain"},
        {"person": owner.pk, "password": 5},
        {"person": owner.pk},
    ):
        shop = Workshop(data)
        line = json.dumps(row, separators=(",", ":")).encode() + b"\n"
        shop.files["sign-ins.jsonl"] = line
        shop.head["sign_ins"] = {"rows": 1, "sha256": sha256(line).hexdigest()}
        assert refused(shop.packed()).startswith("sign-ins, line 1")


def test_someone_who_is_no_owner_of_it_is_refused(owner, helper):
    data = written()
    empty()
    with pytest.raises(
        Refusal, match=r"No owner of this archive signs in as “jon”\. Its owners: mara"
    ) as refusal:
        open_studio(BytesIO(data), username="jon", password="ten warps a year")
    assert refusal.value.field == "username"
    assert not Person.objects.exists()


# --- The commands ---------------------------------------------------------------------------------------


def test_the_commands_write_open_and_say_what(archive, tmp_path):
    open_studio(BytesIO(archive))
    first = tmp_path / "first.warpshelf"
    out = _Said()
    call_command("write_archive", first, stdout=out)
    assert "12 cones" in out.text and str(first) in out.text
    assert first.read_bytes() == archive
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []
    with pytest.raises(CommandError, match="is there already"):
        call_command("write_archive", first)
    with pytest.raises(CommandError, match="There is a studio here already"):
        call_command("open_archive", first)
    empty()
    call_command("open_archive", first, stdout=out)
    assert "Opened: 12 cones" in out.text and "changepassword person0" in out.text
    assert Project.objects.count() == 2 and Yarn.objects.count() == 3 and Shade.objects.count() == 6


def test_the_commands_refuse_in_words(db, tmp_path):
    with pytest.raises(CommandError, match="no studio yet"):
        call_command("write_archive", tmp_path / "a")
    with pytest.raises(CommandError, match="There is no file"):
        call_command("open_archive", tmp_path / "a")


class _Said:
    text = ""

    def write(self, text: str) -> None:
        self.text += text
