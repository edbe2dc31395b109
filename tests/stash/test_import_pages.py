"""The pages of importing, from the file to the cones on the shelf."""

import re
from threading import Event

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.files.uploadhandler import MemoryFileUploadHandler, TemporaryFileUploadHandler
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from stash.models import ColumnReading, Cone, Entry
from stash.services.import_desk import find_waiting
from stash.spreadsheets.sheet import MOST_BYTES
from stash.views import imports
from tests.factories import make_cone, make_shade, make_yarn
from tests.spreadsheets.files import workbook
from tests.stash.sheets import IMPORTS

pytestmark = pytest.mark.django_db

ROWS = b"Yarn,Count,System,Shade,Lot,Net (g),Place\nMat cotton,8/2,cotton,Spruce,A17,450,Shelf\nMat cotton,,,Rust,,300,\n"


@pytest.fixture(autouse=True)
def _at_once(monkeypatch):
    """The run happens within the request: a thread would write beside the test's transaction."""
    monkeypatch.setattr(imports, "in_background", lambda work: work())


def send(client, data, name="list.csv"):
    return client.post(reverse("import"), {"file": SimpleUploadedFile(name, data)})


def token_of(answer):
    return re.fullmatch(r"/yarn/import/([\w-]{22})/columns/", answer.url)[1]


def columns_said(answer):
    """What the form of the columns holds, as a browser would send it back."""
    form = answer.context["form"]
    said = {}
    for name in form.fields:
        value = form[name].value()
        if value not in (None, ""):
            said[name] = value
    return said


def to_rows(client, data, **said):
    """Send a file, keep the columns as they are guessed but for what is said, and give its token."""
    token = token_of(send(client, data))
    page = reverse("import-columns", args=[token])
    answer = client.post(page, columns_said(client.get(page)) | said)
    assert answer.status_code == 302, answer.context["form"].errors
    return token


def text(answer):
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


def test_from_the_file_to_the_shelf(as_owner):
    token = token_of(send(as_owner, ROWS))
    page = as_owner.get(reverse("import-columns", args=[token]))
    assert "2 rows below the headings in row 1" in text(page)
    assert "Read as text with commas between the columns, in UTF-8." in text(page)
    answer = as_owner.post(reverse("import-columns", args=[token]), columns_said(page))
    assert answer.url == reverse("import-rows", args=[token])
    rows = as_owner.get(answer.url)
    assert "2 cones come in, 750 g of yarn." in text(rows)
    assert "1 new yarn, 2 new shades, 1 new lot, 1 new place" in text(rows)
    assert not Cone.objects.exists()
    answer = as_owner.post(reverse("import-run", args=[token]), {"digest": rows.context["plan"]["digest"]})
    assert answer.url == reverse("import-progress", args=[token])
    done = as_owner.get(answer.url)
    assert "2 cones are on the shelf, K-001 to K-002." in text(done)
    assert reverse("yarn-page", args=[Cone.objects.first().shade.yarn_id]) in done.content.decode()
    assert Cone.objects.count() == 2
    assert Entry.objects.first().by.username == "mara"


def test_the_yarn_page_leads_there_for_the_owner_alone(as_owner, client, helper):
    make_cone()
    assert reverse("import") in as_owner.get(reverse("yarn")).content.decode()
    other = Client()
    other.force_login(helper)
    assert reverse("import") not in other.get(reverse("yarn")).content.decode()


def test_the_example_is_given_as_a_file(as_owner):
    answer = as_owner.get(reverse("import-example"))
    assert answer.content == (IMPORTS / "example.csv").read_bytes()
    assert answer["Content-Disposition"] == 'attachment; filename="warpshelf-example.csv"'
    assert to_rows(as_owner, answer.content)


# --- The file ---------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "The file is empty"),
        (b"%PDF-1.7", "This is a PDF"),
        (b"Yarn,Shade\n", "there is no row"),
        (b"Yarn,Shade,yarn\na,b,c\n", "“yarn” stands twice, in column A and in column C"),
        (workbook(["Yarn"])[:300], "no XLSX that can be read"),
        (bytes(range(256)), "no table"),
    ],
)
def test_a_file_that_cannot_be_taken_is_refused_at_its_field(as_owner, data, words):
    answer = send(as_owner, data)
    assert answer.status_code == 422
    assert words in text(answer)
    assert list(answer.context["form"].errors) == ["file"]


def test_no_file_at_all_is_asked_for(as_owner):
    answer = as_owner.post(reverse("import"), {})
    assert answer.status_code == 422 and "Choose a file" in text(answer)


def test_a_workbook_goes_the_same_way(as_owner):
    data = workbook(["Yarn", "Count", "System", "Shade", "Net (g)"], ["a", "8/2", "cotton", "b", 482.5])
    token = to_rows(as_owner, data)
    assert "1 cone comes in, 483 g of yarn." in text(as_owner.get(reverse("import-rows", args=[token])))


class Endless:
    """A file that tells how far it was read, and never ends before its size."""

    def __init__(self, size):
        self.size, self.at = size, 0
        self.head = (
            b'--x\r\nContent-Disposition: form-data; name="csrfmiddlewaretoken"\r\n\r\nt\r\n'
            b'--x\r\nContent-Disposition: form-data; name="file"; filename="big.csv"\r\n\r\nYarn,Shade\r\n'
        )
        self.tail = b"\r\n--x--\r\n"

    def __len__(self):
        return len(self.head) + self.size + len(self.tail)

    def read(self, size=-1):
        left = len(self) - self.at
        size = left if size < 0 else min(size, left)
        whole = bytearray(b"a" * size)
        for piece, start in ((self.head, 0), (self.tail, len(self) - len(self.tail))):
            for place, sign in enumerate(piece):
                if self.at <= start + place < self.at + size:
                    whole[start + place - self.at] = sign
        self.at += size
        return bytes(whole)

    readline = read


def counting(receive, kept):
    def receive_data_chunk(self, raw_data, start):
        kept.append(len(raw_data))
        return receive(self, raw_data, start)

    return receive_data_chunk


@pytest.mark.parametrize("stated", [True, False])
def test_fifty_megabytes_are_refused_before_they_are_in_memory(as_owner, monkeypatch, stated):
    """By the size the browser states, and where it states less, by what arrives."""
    kept = []
    for handler in (MemoryFileUploadHandler, TemporaryFileUploadHandler):
        monkeypatch.setattr(handler, "receive_data_chunk", counting(handler.receive_data_chunk, kept))
    if not stated:
        monkeypatch.setattr("stash.site.uploads.FORM_BESIDE", 10**9)
    body = Endless(50_000_000)
    sent = {
        "CONTENT_TYPE": "multipart/form-data; boundary=x",
        "CONTENT_LENGTH": str(len(body)),
        "wsgi.input": body,
    }
    answer = as_owner.generic("POST", reverse("import"), **sent)
    assert answer.status_code == 422
    assert "larger than 10 MB, so it was not read" in text(answer)
    assert sum(kept) <= (0 if stated else 2 * MOST_BYTES)


def test_other_pages_keep_their_own_limit():
    assert imports.import_new.most_upload == MOST_BYTES < settings.MOST_UPLOAD


# --- The columns ------------------------------------------------------------------------------------------
def test_a_weight_that_may_be_with_the_core_is_asked_about(as_owner):
    token = token_of(send(as_owner, ROWS.replace(b"Net (g)", b"Weight (g)")))
    page = reverse("import-columns", args=[token])
    said = columns_said(as_owner.get(page))
    answer = as_owner.post(page, said)
    assert answer.status_code == 422
    assert answer.context["form"].errors == {
        "role_5": ["Is this the weight of the yarn alone, or of yarn and core together?"]
    }
    answer = as_owner.post(page, said | {"role_5": "gross", "core": "30"})
    assert answer.status_code == 302
    assert find_waiting(token, by_id=answer.wsgi_request.user.pk).plan()["net_mg"] == 690_000


def test_days_that_can_be_read_both_ways_are_asked_about_once(as_owner):
    data = b"Yarn,Count,System,Shade,Net,Bought\na,8/2,cotton,b,1,3/4/2024\n"
    token = token_of(send(as_owner, data))
    page = reverse("import-columns", args=[token])
    asked = as_owner.get(page)
    assert "A day such as 3/4/2024 is" in text(asked)
    said = columns_said(asked)
    assert "days" in as_owner.post(page, said).context["form"].errors
    assert as_owner.post(page, said | {"days": "day"}).status_code == 302
    assert "came 3 Apr 2024" in text(as_owner.get(reverse("import-rows", args=[token]))).replace(
        "April", "Apr"
    )


def test_days_that_leave_nothing_open_are_not_asked_about(as_owner):
    token = token_of(send(as_owner, ROWS))
    assert "3/4/2024" not in text(as_owner.get(reverse("import-columns", args=[token])))


def test_a_unit_of_another_kind_is_refused_at_its_column(as_owner):
    token = token_of(send(as_owner, ROWS))
    page = reverse("import-columns", args=[token])
    answer = as_owner.post(page, columns_said(as_owner.get(page)) | {"unit_5": "price:kg"})
    assert answer.context["form"].errors == {"unit_5": ["Choose a unit of weight, or leave it to the cells."]}
    answer = as_owner.post(page, columns_said(as_owner.get(page)) | {"unit_5": "mass:oz"})
    assert answer.status_code == 302


def test_the_columns_are_remembered_for_the_next_list(as_owner):
    to_rows(as_owner, ROWS, role_6="note", unit_5="mass:oz")
    assert ColumnReading.objects.count() == 1
    token = token_of(send(as_owner, ROWS + b"a,8/2,cotton,c,,20,Box\n"))
    page = as_owner.get(reverse("import-columns", args=[token]))
    assert "Read as you read these headings last time" in text(page)
    said = columns_said(page)
    assert (said["role_6"], said["unit_5"]) == ("note", "mass:oz")


# --- The rows -----------------------------------------------------------------------------------------------
def test_errors_stand_first_with_row_column_what_was_typed_and_what_would_do(as_owner):
    token = to_rows(as_owner, ROWS + b"Mat cotton,,,Weld,,12x,Box\n,,,Ochre,,5,Box\n")
    rows = as_owner.get(reverse("import-rows", args=[token]))
    said = text(rows)
    assert "2 rows cannot come in." in said
    assert (
        "Net (g) (column F) , “12x”: “x” is not a unit that is read here. Accepted: g, oz, lb"
        in said.replace("mg, ", "").replace("kg, ", "")
    )
    assert "Yarn (column A) : The yarn is missing" in said
    assert [line["row"] for line in rows.context["lines"]] == [4, 5, 2, 3]
    assert b"import-run" not in rows.content
    assert reverse("import-run", args=[token]) not in rows.content.decode()


def test_rows_may_be_left_out_and_the_rest_come_in(as_owner):
    token = to_rows(as_owner, ROWS + b"Total,,,,,750,\n")
    page = reverse("import-rows", args=[token])
    assert as_owner.post(page, {"left_out": "4"}).status_code == 302
    rows = as_owner.get(page)
    assert "2 cones come in" in text(rows) and "left out as you said" in text(rows)
    assert rows.context["form"]["left_out"].value() == "4"


@pytest.mark.parametrize("typed", ["four", "4-", "9-4", "1,,x", "-3", "٣", "9" * 12])
def test_rows_to_leave_out_that_are_no_rows_are_refused(as_owner, typed):
    token = to_rows(as_owner, ROWS)
    answer = as_owner.post(reverse("import-rows", args=[token]), {"left_out": typed})
    assert answer.status_code == 422
    assert "is no row" in text(answer)


def test_rows_that_are_alike_must_be_answered_for(as_owner):
    token = to_rows(as_owner, ROWS + b"Mat cotton,,,Rust,,300,\n")
    page = reverse("import-rows", args=[token])
    rows = as_owner.get(page)
    assert "Some rows say the same in all things." in text(rows)
    assert "Each of these is like an earlier one: 4." in text(rows)
    assert as_owner.post(page, {"left_out": ""}).status_code == 422
    as_owner.post(page, {"alike": "once"})
    assert "2 cones come in" in text(as_owner.get(page))
    as_owner.post(page, {"alike": "each"})
    assert "3 cones come in" in text(as_owner.get(page))


def test_doubles_are_said_with_the_cone_that_they_are(as_owner):
    make_cone(make_shade("Rust", make_yarn("Mat cotton")), grams=300, code="K-044")
    token = to_rows(as_owner, ROWS)
    said = text(as_owner.get(reverse("import-rows", args=[token]) + "?only=double"))
    assert "K-044 is the same yarn, shade, lot, weight and place" in said
    assert "Spruce" not in said


def test_a_long_list_is_paged_by_a_hundred_and_asks_the_database_nothing_of_its_rows(as_owner):
    counted = []
    for length in (150, 300):
        rows = "".join(f"a,8/2,cotton,b{n},,{n + 1},\n" for n in range(length))
        token = to_rows(as_owner, ROWS.splitlines()[0] + b"\n" + rows.encode())
        with CaptureQueriesContext(connection) as queries:
            page = as_owner.get(reverse("import-rows", args=[token]) + "?page=2")
        assert page.context["lines"].object_list[0]["row"] == 102
        counted.append(len(queries))
    # Session, person, studio.
    assert counted == [3, 3]


def test_letting_go_removes_what_waits(as_owner, owner):
    token = to_rows(as_owner, ROWS)
    assert as_owner.post(reverse("import-leave", args=[token])).url == reverse("import")
    assert find_waiting(token, by_id=owner.pk) is None
    assert as_owner.get(reverse("import-rows", args=[token])).status_code == 404


def test_another_owner_does_not_see_what_waits(as_owner, helper):
    token = to_rows(as_owner, ROWS)
    helper.role = "owner"
    helper.save()
    other = Client()
    other.force_login(helper)
    for name in ("import-rows", "import-columns", "import-progress"):
        assert other.get(reverse(name, args=[token])).status_code == 404
    for name in ("import-run", "import-leave"):
        assert other.post(reverse(name, args=[token])).status_code == 404


# --- The run ------------------------------------------------------------------------------------------------
def run(client, token):
    plan = client.get(reverse("import-rows", args=[token])).context["plan"]
    return client.post(reverse("import-run", args=[token]), {"digest": plan["digest"]})


def test_sending_it_twice_brings_it_in_once(as_owner):
    token = to_rows(as_owner, ROWS)
    digest = as_owner.get(reverse("import-rows", args=[token])).context["plan"]["digest"]
    run(as_owner, token)
    again = as_owner.post(reverse("import-run", args=[token]), {"digest": digest})
    assert again.status_code == 302 and Cone.objects.count() == 2
    for name in ("import-rows", "import-columns"):
        assert as_owner.get(reverse(name, args=[token])).url == reverse("import-progress", args=[token])


def test_a_list_with_errors_does_not_run(as_owner):
    token = to_rows(as_owner, ROWS + b"Total,,,,,750,\n")
    run(as_owner, token)
    assert not Cone.objects.exists()


def test_a_list_that_was_not_the_one_shown_is_refused_and_shown_anew(as_owner):
    token = to_rows(as_owner, ROWS)
    as_owner.post(reverse("import-run", args=[token]), {"digest": "another"})
    said = text(as_owner.get(reverse("import-progress", args=[token])))
    assert "Nothing was brought in." in said and "has changed since" in said
    run(as_owner, token)
    assert Cone.objects.count() == 2


def test_while_it_runs_the_page_says_how_far_and_looks_again_by_itself(as_owner, owner):
    token = to_rows(as_owner, ROWS)
    waiting = find_waiting(token, by_id=owner.pk)
    waiting.begin()
    page = reverse("import-progress", args=[token])
    assert "read once more" in text(as_owner.get(page))
    waiting.tell(250, 1_000)
    whole = as_owner.get(page)
    assert "250 of 1,000 cones are written" in text(whole)
    assert f'hx-get="{page}"' in whole.content.decode() and f'href="{page}"' in whole.content.decode()
    part = as_owner.get(page, headers={"HX-Request": "true", "HX-Target": "import-progress"})
    assert b"<html" not in part.content and b"250" in part.content
    made = dict.fromkeys(("yarns", "shades", "lots", "places"), 0)
    waiting.succeed({"cones": 1, "first_code": "K-1", "last_code": "K-1", "yarn_ids": []} | made)
    assert (
        b"hx-get"
        not in as_owner.get(page, headers={"HX-Request": "true", "HX-Target": "import-progress"}).content
    )


@pytest.mark.django_db(transaction=True)
def test_the_run_goes_on_beside_the_request(as_owner, monkeypatch):
    monkeypatch.undo()
    ended = Event()
    real = imports.run_waiting

    def run_and_tell(*args, **facts):
        try:
            real(*args, **facts)
        finally:
            ended.set()

    monkeypatch.setattr(imports, "run_waiting", run_and_tell)
    token = to_rows(as_owner, ROWS)
    assert run(as_owner, token).status_code == 302
    assert ended.wait(30)
    assert "2 cones are on the shelf" in text(as_owner.get(reverse("import-progress", args=[token])))
    assert Cone.objects.count() == 2


def test_whose_the_weights_of_several_cones_are_is_asked_and_each_cone_shown(as_owner):
    data = b"Yarn,Count,System,Shade,Qty,Net (g)\nMat cotton,8/2,cotton,Spruce,4,1000\n"
    page = reverse("import-columns", args=[token_of(send(as_owner, data))])
    shown = as_owner.get(page)
    assert "Where a row stands for several cones, its weights are" in text(shown)
    refused = as_owner.post(page, columns_said(shown))
    assert refused.status_code == 422
    assert "Say whether their weights are each cone" in text(refused)
    rows = as_owner.get(as_owner.post(page, columns_said(shown) | {"several": "together"}).url)
    assert "4 cones come in, 1,000 g of yarn." in text(rows)
    assert "2 4 of 4" in text(rows) and text(rows).count("250 g estimate") == 4


def test_without_a_row_of_several_cones_nothing_is_asked_of_them(as_owner):
    page = as_owner.get(reverse("import-columns", args=[token_of(send(as_owner, ROWS))]))
    assert "Where a row stands for several cones" not in text(page)
