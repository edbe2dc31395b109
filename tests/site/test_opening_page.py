"""The first page's other way: a studio out of an archive."""

from io import BytesIO
from zipfile import ZipFile

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from stash.archive.loading import _empty
from stash.models import Cone, Person, Studio
from stash.site.archive import LAYOUT, write_studio
from tests.factories import StudioFactory, make_cone

pytestmark = pytest.mark.django_db
PAGE = "/welcome/archive/"


@pytest.fixture(autouse=True)
def data(settings, tmp_path):
    settings.DATA = tmp_path
    return tmp_path


@pytest.fixture
def archive(owner, helper) -> bytes:
    """That of a studio with one cone; the database is empty again."""
    make_cone(by=owner)
    file = BytesIO()
    write_studio(file)
    _empty(LAYOUT, "default")
    return file.getvalue()


def sent(client, content: bytes | None, **changes):
    facts = {"username": "mara", "password": "ten warps a year", "again": "ten warps a year"} | changes
    if content is not None:
        facts["archive"] = SimpleUploadedFile("studio.warpshelf", content)
    return client.post(PAGE, facts)


def test_the_first_page_leads_there_and_there_leads_back(client, db):
    assert f'href="{PAGE}"' in client.get("/welcome/").content.decode()
    page = client.get(PAGE)
    assert page.status_code == 200
    assert 'href="/welcome/"' in page.content.decode()
    assert 'enctype="multipart/form-data"' in page.content.decode()


def test_an_archive_opens_and_its_owner_comes_in(client, archive):
    answer = sent(client, archive)
    assert (answer.status_code, answer.url) == (302, "/")
    page = client.get("/").content.decode()
    assert "The archive is open. Others in it cannot sign in yet" in page
    assert Cone.objects.get().code == "K-001"
    assert Person.objects.get(username="mara").check_password("ten warps a year")
    assert not Person.objects.get(username="jon").has_usable_password()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"username": "jon"}, "No owner of this archive signs in as “jon”. Its owners: mara."),
        ({"username": ""}, "Fill in “Your sign-in name”: it cannot be left empty."),
        ({"password": "short", "again": "short"}, "too short"),
        ({"again": "ten warps a yeat"}, "not the same as the password above"),
    ],
)
def test_slips_are_said_at_their_fields_and_nothing_is_written(client, archive, changes, words):
    answer = sent(client, archive, **changes)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not Studio.objects.exists()
    assert "ten warps" not in answer.content.decode()


def test_what_is_no_archive_is_said_at_the_file(client, db):
    for content, words in [
        (None, "Choose a file at “Archive”."),
        (b"", "This file is empty"),
        (b"code;grams", "This is no archive of a studio, or it was cut short"),
    ]:
        answer = sent(client, content)
        assert answer.status_code == 422
        assert words in answer.content.decode()
        assert 'id="id_archive_error"' in answer.content.decode()


def test_a_file_that_is_too_large_for_a_page_is_said_with_the_command(client, settings, archive):
    settings.MOST_UPLOAD = 1_000
    answer = sent(client, archive)
    assert answer.status_code == 422
    assert "Open it by the command open_archive" in answer.content.decode(), answer.context["form"].errors


def test_another_zip_leaves_nothing_behind(client, db):
    file = BytesIO()
    with ZipFile(file, "w") as zipped:
        zipped.writestr("x", "y")
    assert "it has no archive.json" in sent(client, file.getvalue()).content.decode()
    assert not Studio.objects.exists()


def test_where_a_studio_stands_the_page_is_shut(client, archive):
    StudioFactory()
    assert client.get(PAGE).url == "/"
    assert sent(client, archive).url == "/"
    assert not Cone.objects.exists()
