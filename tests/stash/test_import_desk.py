"""Where a spreadsheet waits: for its owner, for a day, out of everybody else's sight."""

import json
import os
import stat
import time

import pytest

from stash.services import desk
from stash.services.import_desk import (
    KEPT_FOR,
    SILENT_FOR,
    Waiting,
    clear_away,
    desk_folder,
    find_waiting,
    put_down,
)
from stash.spreadsheets.columns import Column, Reading, Role
from stash.spreadsheets.sheet import Row, Sheet

SHEET = Sheet((Row(1, ("Yarn", "Net")), Row(3, ("Höhe", 482.5))), ("a note",), frozenset({(3, 1)}), 2)


@pytest.fixture
def waiting() -> Waiting:
    waiting = put_down(SHEET, name="list.csv", by_id=7)
    yield waiting
    clear_away(waiting)


def age(waiting, seconds, part="about.json"):
    then = time.time() - seconds
    os.utime(waiting.folder / part, (then, then))


def test_what_was_read_is_found_again_as_it_was(waiting):
    assert find_waiting(waiting.token, by_id=7).sheet() == SHEET
    assert (waiting.name, waiting.plan(), waiting.reading(), waiting.progress()) == (
        "list.csv",
        None,
        None,
        None,
    )


def test_only_the_servers_own_user_can_read_it(waiting):
    waiting.keep_plan({"digest": "x"})
    assert stat.S_IMODE(waiting.folder.stat().st_mode) == 0o700
    assert {stat.S_IMODE(path.stat().st_mode) for path in waiting.folder.iterdir()} == {0o600}


def test_it_waits_for_the_person_who_put_it_down(waiting):
    assert find_waiting(waiting.token, by_id=8) is None


@pytest.mark.parametrize("token", ["", "..", "../../etc", "a" * 22, "a" * 21 + "/", ".%2e", "x" * 5_000])
def test_a_token_that_was_never_given_leads_nowhere(waiting, token):
    assert find_waiting(token, by_id=7) is None


def test_a_token_is_a_name_of_ours_even_when_the_folder_exists():
    outside = desk_folder() / "not-a-token"
    outside.mkdir(parents=True, exist_ok=True)
    (outside / "about.json").write_text(json.dumps({"name": "x", "by": 7}))
    assert find_waiting("not-a-token", by_id=7) is None
    desk.sweep(Waiting)
    assert outside.is_dir()


def test_after_a_day_it_is_gone(waiting):
    age(waiting, KEPT_FOR - 60)
    assert find_waiting(waiting.token, by_id=7)
    age(waiting, KEPT_FOR + 60)
    waiting.keep_plan({"digest": "x"})
    assert find_waiting(waiting.token, by_id=7) is None
    clear_away(put_down(SHEET, name="other.csv", by_id=7))
    assert not waiting.folder.exists()


def test_two_sweeps_at_once_do_not_stumble_over_each_other(waiting, monkeypatch):
    age(waiting, KEPT_FOR + 60)
    seen = [*desk_folder().iterdir()]
    desk.sweep(Waiting)
    monkeypatch.setattr(type(desk_folder()), "iterdir", lambda self: iter(seen))
    desk.sweep(Waiting)
    assert not waiting.folder.exists()


def test_a_new_reading_makes_the_old_list_void(waiting):
    waiting.keep_plan({"digest": "x"})
    waiting.keep_reading(Reading((Column(Role.YARN),)))
    assert waiting.plan() is None and waiting.reading().columns == (Column(Role.YARN),)


def test_one_run_at_a_time_and_none_after_it_is_done(waiting):
    assert waiting.begin()
    assert not waiting.begin()
    waiting.tell(250, 1_000)
    assert waiting.progress() == {"state": "running", "done": 250, "total": 1_000}
    assert not waiting.begin()
    waiting.succeed({"cones": 1_000})
    assert waiting.progress() == {"state": "done", "outcome": {"cones": 1_000}}
    assert not waiting.begin()
    assert waiting.sheet() is None


def test_a_run_that_failed_or_fell_silent_may_begin_anew(waiting):
    waiting.begin()
    waiting.fail("The books were busy.")
    assert waiting.progress()["message"] == "The books were busy."
    assert waiting.begin()
    age(waiting, SILENT_FOR + 5, "progress.json")
    assert waiting.progress()["state"] == "silent"
    assert waiting.begin()
    assert waiting.progress()["state"] == "running"


def test_a_file_written_half_is_no_file(waiting):
    (waiting.folder / "plan.json").write_text('{"digest": ')
    assert waiting.plan() is None
