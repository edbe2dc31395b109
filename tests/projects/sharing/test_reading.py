"""What is no project file is refused, and the sentence says where and what would be accepted."""

import json

import pytest

from projects.models import Project
from projects.sharing.form import MOST_BYTES
from projects.sharing.reading import read_project_file
from projects.sharing.writing import project_file
from stash.services.refusal import Refusal
from tests.factories import make_shade
from tests.projects.factories import make_project

pytestmark = pytest.mark.django_db


@pytest.fixture
def good(owner):
    return json.loads(project_file(make_project({"A": make_shade("Spruce")})))


def refused(found) -> str:
    with pytest.raises(Refusal) as error:
        read_project_file(found if isinstance(found, bytes | str) else json.dumps(found))
    assert error.value.field == "file"
    assert not Project.objects.exclude(name="Plain mats").exists()
    return error.value.message


def put(found, path: str, value):
    """The file with another value at a place such as plan.sett.count."""
    *way, last = path.split(".")
    place = found
    for step in way:
        place = place[int(step) if step.isdecimal() else step]
    if value is KeyError:
        del place[last]
    else:
        place[int(last) if last.isdecimal() else last] = value
    return found


def test_a_file_as_it_was_written_is_read(good):
    assert read_project_file(json.dumps(good).encode()).name == "Plain mats"
    assert read_project_file(b"\xef\xbb\xbf" + json.dumps(good).encode()).name == "Plain mats"


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"moonlight",
        b"\xff\xfe\x00",
        b"[1",
        b"<html>",
        b"[" * 100_000,
        b'{"a": 1' * 1000,
        b"1" * 5000,
        "\ud800",
    ],
)
def test_what_is_no_json_is_refused(data):
    assert "This is no project file" in refused(data)


@pytest.mark.parametrize("found", [[], 7, '"text"', None, {}, {"format": "warpshelf-studio", "version": 2}])
def test_json_of_something_else_is_refused(found):
    assert "it does not say “warpshelf-project”" in refused(found)


def test_a_newer_file_is_named_as_such(good):
    assert "written by a newer Warpshelf: its version is 2" in refused(put(good, "version", 2))


@pytest.mark.parametrize("version", [0, -1, "1", 1.0, True, None])
def test_a_version_that_is_none_is_refused(good, version):
    assert "no version that is known" in refused(put(good, "version", version))


def test_a_file_too_large_is_refused_unread(good):
    assert "more than 200 kB" in refused(b" " * (MOST_BYTES + 1))


def test_a_name_that_comes_twice_is_refused(good):
    text = json.dumps(good)
    assert "one name twice" in refused(text.replace('"pieces":', '"pieces": 3, "pieces":', 1))


@pytest.mark.parametrize("word", ["NaN", "Infinity", "-Infinity"])
def test_what_is_no_number_is_refused(good, word):
    text = json.dumps(good)
    assert f"The file holds {word}" in refused(text.replace('"pieces": 1', f'"pieces": {word}', 1))


@pytest.mark.parametrize(
    ("path", "said"),
    [
        ("plan.sett", "In plan is missing: sett."),
        ("kits", "In the file is missing: kits."),
        ("shades.0.yarn.grist", "In shades[0].yarn is missing: grist."),
    ],
)
def test_a_missing_name_is_named(good, path, said):
    assert said in refused(put(good, path, KeyError))


@pytest.mark.parametrize(
    ("path", "said"),
    [
        ("plan.secret", "In plan stands what version 1 does not know: secret."),
        ("stock", "In the file stands what version 1 does not know: stock."),
        ("shades.0.cone", "In shades[0] stands"),
        ("loom.loom", "In loom stands"),
    ],
)
def test_an_unknown_name_is_named(good, path, said):
    assert said in refused(put(good, path, 1))


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        ("plan.pieces", "4", "plan.pieces: a whole number"),
        ("plan.pieces", 4.0, "plan.pieces: a whole number"),
        ("plan.pieces", True, "plan.pieces: a whole number"),
        ("plan.pieces", -4, "plan.pieces: a whole number"),
        ("plan.across_um", 10**30, "plan.across_um: a whole number"),
        ("plan.order_fills", 1, "plan.order_fills: true or false"),
        ("plan.order_fills", None, "plan.order_fills: true or false"),
        ("plan.take_up", 0.1, "plan.take_up: a fraction belongs here, as two whole numbers: [1, 10]."),
        ("plan.take_up", [1, 0], "plan.take_up: a fraction"),
        ("plan.take_up", [1, 2, 3], "plan.take_up: a fraction"),
        ("plan.take_up", [1, True], "plan.take_up: a fraction"),
        ("plan.take_up", [1, 10**40], "plan.take_up: a fraction"),
        ("plan.take_up", [3, 2], "plan.take_up: a share from 0 to 1"),
        ("plan.take_up", [1, 3], "in whole millionths"),
        ("plan.losses_across", [], "plan.losses_across: one share or two"),
        ("plan.losses_across", [[0, 1]] * 3, "plan.losses_across: at most 2"),
        ("plan.losses_across", [[0, 1]] * 2, "plan.losses_along: as many losses"),
        (
            "plan.sett",
            12,
            'plan.sett: so many to a length belong here, as {"count": [18, 1], "per_um": 25400}.',
        ),
        ("plan.sett", {"count": [12, 1]}, "plan.sett: so many"),
        ("plan.sett", {"count": [12, 1], "per_um": 0}, "plan.sett.per_um: a length"),
        ("plan.sett", {"count": [12, 1], "per_um": "in"}, "plan.sett.per_um: a length"),
        ("plan.sett", {"count": 12, "per_um": 25400}, "plan.sett.count: a fraction"),
        ("plan.sett", None, "plan.sett: so many"),
        ("plan.hem_kind", "rolled", "plan.hem_kind: one of given, single, double, small, strip"),
        ("plan.hem_kind", ["given"], "plan.hem_kind: one of"),
        ("plan.order", 7, "plan.order: a text"),
        ("plan.order", "x" * 2001, "plan.order: a text of at most 2,000"),
        ("plan.order", "12 %", "plan.order: "),
        ("plan.order", "", "plan.order: "),
        ("plan.accents", "9 at R", "The plan in this file cannot be woven"),
        ("name", "", "name: a text belongs here, and it is empty."),
        ("name", "x" * 121, "name: a text of at most 120"),
        ("name", "two\nlines", "name: the text holds a sign that cannot be shown."),
        ("name", "nul\x00", "name: the text holds a sign"),
        ("note", "nul\x00", "note: the text holds a sign"),
        ("name", "\ud800", "name: the text holds a sign"),
        ("structure", "satin-99", "structure"),
        ("plan", [], "plan: an object with names belongs here."),
        ("kits.students", 201, "kits.students: a whole number from 0 to 200"),
        ("kits.students", 2.5, "kits.students: a whole number from 0 to 200"),
        ("loom.at_once", 0, "loom.at_once: a whole number from 1 to 24"),
        ("loom.dressing", "glued", "loom.dressing: one of tied, laced, tied_on"),
        ("beams", {}, "beams: a list belongs here."),
        (
            "beams",
            [{"number": 1, "take_up": [0, 1], "keys": ["A"]}],
            "beams[0].number: a whole number from 2 to 4",
        ),
        ("beams", [{"number": 2, "take_up": [0, 1], "keys": []}], "beams[0].keys: the keys"),
        ("beams", [{"number": 2, "take_up": [0, 1], "keys": ["a"]}], "beams[0].keys: the keys"),
        ("beams", [{"number": 2, "take_up": [0, 1], "keys": ["A"]}] * 2, "Beam 2 is listed twice"),
        ("shades", [1], "shades[0]: an object"),
        ("shades", [1] * 61, "shades: at most 60"),
        ("shades.0.key", "a", "shades[0].key: a key of one or two capital letters"),
        ("shades.0.key", "ABC", "shades[0].key: a text of at most 2"),
        ("shades.0.colour", "green", "shades[0].colour: a colour as #2f5d50"),
        ("shades.0.colour", "#2f5d5é", "shades[0].colour: a colour as #2f5d50"),
        ("shades.0.yarn", "cotton", "shades[0].yarn: an object"),
        ("shades.0.yarn.grist", [0, 1], "shades[0].yarn.grist: a length"),
        (
            "shades.0.yarn.fibres",
            [{"name": "cotton", "percent": 101}],
            "shades[0].yarn.fibres[0].percent: a whole",
        ),
    ],
)
def test_each_wrong_value_is_named_by_its_place(good, path, value, said):
    assert said in refused(put(good, path, value))


def test_a_key_that_comes_twice_is_refused(good):
    assert "shades[1].key: a key of one or two capital letters belongs here, each once." in refused(
        put(good, "shades", good["shades"] * 2)
    )


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        ("plan.pieces", 0, "from 1 to 100,000 pieces"),
        ("plan.across_um", 0, "more than nothing"),
        ("plan.along_um", 10**10, "below 1 km"),
        ("plan.losses_across", [[1, 1]], "less than 100 %"),
        ("plan.pieces", 99_999, "10 km"),
        ("plan.balance_ends", 50, "ends"),
        ("plan.fringe_loss", [1, 1], "from 0 to 90 %"),
    ],
)
def test_a_plan_that_cannot_be_woven_is_refused_in_the_words_of_the_plan(good, path, value, said):
    message = refused(put(good, path, value))
    assert "cannot be woven" in message and said in message


def test_a_draft_that_cannot_be_woven_is_refused(good):
    good["structure"] = "draft"
    assert "cannot be woven" in refused(good)
