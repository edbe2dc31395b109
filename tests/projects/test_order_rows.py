"""The rows beside a typed order: what each button answers, and that nothing is kept before the plan is."""

from html.parser import HTMLParser

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from projects.models import Project
from stash.calc.colour_order import read_order
from tests.factories import make_shade
from tests.projects.factories import make_project, plain_plan
from tests.projects.pages import typed_plan

LINE = "2 A, 3 times (1 A, 1 B)"


# Pages and forms: what they say does not hang on what keeps the books.
pytestmark = pytest.mark.once


class Parts(HTMLParser):
    """The attributes of what the answer begins with, the rows by their paths, and the choices of width."""

    def __init__(self, text):
        super().__init__()
        self.head, self.paths, self.chosen, self.fits, self.strip = {}, [], [], [], {}
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        found = dict(attrs)
        if found.get("class") == "order-parts":
            self.head = found
        if tag == "li" and "data-path" in found:
            self.paths.append(found["data-path"])
        if tag == "tr" and found.get("class") == "chosen":
            self.chosen.append(found)
        if found.get("data-do") == "fit":
            self.fits.append(found["data-value"])
        if found.get("class") == "order-strip":
            self.strip = found


@pytest.fixture
def shades(owner):
    return {"A": make_shade("Spruce", colour="#27314f"), "B": make_shade("Oat", colour="#e0d8c0")}


@pytest.fixture
def project(shades):
    plan = plain_plan(order=read_order(LINE), pick_order=read_order("1 A, 1 B", word="picks"))
    return make_project(shades, plan=plan)


def ask(client, project, do="read", order="colour_order", changes=None, **more):
    data = typed_plan(client, project) | (changes or {}) | {"do": do, "order": order} | more
    address = reverse("project-order", args=[project.pk]) if project else reverse("project-order-new")
    return client.post(address, data)


def parts(answer):
    assert answer.status_code == 200, answer.content
    return Parts(answer.content.decode())


def line(answer):
    return parts(answer).head["data-line"]


def test_the_page_shows_strip_and_rows_of_the_kept_order(as_owner, project):
    text = as_owner.get(reverse("project-page", args=[project.pk])).content.decode()
    found = Parts(text)
    assert found.paths[:4] == ["0", "1", "1.0", "1.1"]
    assert 'aria-label="8 ends: 3 Spruce, 1 Oat, 1 Spruce, 1 Oat, 1 Spruce, 1 Oat"' in text
    assert 'fill="#27314f"' in text


def test_nothing_in_the_rows_is_sent_with_the_plan(as_owner, project):
    text = as_owner.get(reverse("project-page", args=[project.pk])).content.decode()
    start = text.index('data-order="colour_order"')
    rows = text[start : text.index("order-note", start)]
    assert " name=" not in rows
    assert " style=" not in rows


def test_a_new_plan_begins_with_a_row(as_owner, shades):
    data = {"do": "add", "order": "colour_order", "shade_A": "Spruce"}
    answer = as_owner.post(reverse("project-order-new"), data)
    assert line(answer) == "1 A"


@pytest.mark.parametrize(
    ("do", "more", "expected"),
    [
        ("read", {}, LINE),
        ("number", {"row": "0", "value": "5"}, "5 A, 3 times (1 A, 1 B)"),
        ("number", {"row": "1", "value": "4"}, "2 A, 4 times (1 A, 1 B)"),
        ("key", {"row": "1.1", "value": "C"}, "2 A, 3 times (1 A, 1 C)"),
        ("add", {}, "2 A, 3 times (1 A, 1 B), 1 A"),
        ("add", {"row": "0"}, "2 A, 1 B, 3 times (1 A, 1 B)"),
        ("remove", {"row": "1.0"}, "2 A, 3 times (1 B)"),
        ("up", {"row": "1"}, "3 times (1 A, 1 B), 2 A"),
        ("down", {"row": "0"}, "3 times (2 A, 1 A, 1 B)"),
        ("place", {"row": "1.1", "before": "0"}, "1 B, 2 A, 3 times (1 A)"),
        ("repeat", {"row": ["0", "1"]}, "2 times (2 A, 3 times (1 A, 1 B))"),
        ("unwrap", {"row": "1"}, "2 A, 1 A, 1 B"),
    ],
)
def test_every_button_answers_with_the_new_line(as_owner, project, do, more, expected):
    assert line(ask(as_owner, project, do, **more)) == expected
    assert Project.objects.get(pk=project.pk).colour_order == LINE


def test_the_answer_names_the_row_that_keeps_the_focus_and_says_what_was_done(as_owner, project):
    head = parts(ask(as_owner, project, "up", row="1.1")).head
    assert head["data-focus"] == "1.0"
    assert head["data-said"] == "1 B now begins at end 3."


def test_picks_have_rows_of_their_own(as_owner, project):
    answer = ask(as_owner, project, "number", order="pick_order", row="0", value="3")
    assert line(answer) == "3 A, 1 B"
    assert parts(answer).fits == []


def test_rows_follow_what_is_typed_in_the_form_and_not_what_is_kept(as_owner, project):
    answer = ask(as_owner, project, "add", changes={"colour_order": "7 B", "shade_B": "Oat"})
    assert line(answer) == "7 B, 1 A"


def test_a_row_with_a_key_that_has_no_shade_yet_can_be_drawn(as_owner, project):
    answer = ask(as_owner, project, changes={"colour_order": "2 A, 1 C"})
    assert parts(answer).strip["aria-label"] == "3 ends: 2 Spruce, 1 C"


def test_a_mirror_of_a_repeat_sets_the_balance_too(as_owner, project):
    head = parts(ask(as_owner, project, "mirror", value="once", changes={"colour_order": "1 A, 1 B"})).head
    assert (head["data-line"], head["data-set-balance_ends"]) == ("1 A, 1 B", "1")


def test_a_mirror_of_the_whole_warp_turns_it_back(as_owner, project):
    changes = {"colour_order": "2 A, 1 B", "order_fills": "whole"}
    once = ask(as_owner, project, "mirror", value="once", changes=changes)
    twice = ask(as_owner, project, "mirror", value="twice", changes=changes)
    assert line(once) == "2 A, 1 B, 2 A"
    assert line(twice) == "2 A, 1 B, 1 B, 2 A"


def test_a_choice_of_width_sets_size_and_balance(as_owner, project):
    # Ten ends at one to the inch are asked for: two repeats of eight. Three are 24 in.
    found = parts(ask(as_owner, project))
    assert len(found.chosen) == 1
    head = parts(ask(as_owner, project, "fit", value="3.0")).head
    assert (head["data-set-across"], head["data-set-balance_ends"]) == ("24", "0")
    kept = typed_plan(as_owner, project, across=head["data-set-across"])
    as_owner.post(reverse("project-page", args=[project.pk]), kept)
    assert Project.objects.get(pk=project.pk).ends == 24


@pytest.mark.parametrize(
    ("do", "more", "said"),
    [
        ("number", {"row": "0", "value": "0"}, "at least 1"),
        ("number", {"row": "0", "value": "many"}, "a whole number"),
        ("number", {"row": "0", "value": "30000"}, "20,000"),
        ("key", {"row": "0", "value": "Ä"}, "one or two letters"),
        ("key", {"row": "1", "value": "A"}, "no shade of its own"),
        ("remove", {"row": "9"}, "no longer there"),
        ("remove", {"row": "x"}, "no longer there"),
        ("remove", {"row": "1" * 4000}, "no longer there"),
        ("remove", {}, "no longer there"),
        ("place", {"row": "1", "before": "1.0"}, "into itself"),
        ("place", {"row": "1", "before": "9"}, "no such place"),
        ("repeat", {}, "Tick the rows"),
        ("repeat", {"row": ["0", "1.1"]}, "side by side"),
        ("unwrap", {"row": "0"}, "no repeat"),
        ("fit", {"value": "99.0"}, "choose from the list"),
        ("knot", {"row": "0"}, "too old"),
        ("up", {"row": "0", "order": "note"}, "too old"),
    ],
)
def test_what_cannot_be_done_is_said_and_keeps_the_rows(as_owner, project, do, more, said):
    answer = ask(as_owner, project, do, **more)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert answer["Content-Type"].startswith("text/plain")


def test_a_line_that_is_being_typed_is_no_refusal(as_owner, project):
    answer = ask(as_owner, project, changes={"colour_order": "2 A, 3 times (1"})
    assert (answer.status_code, answer.content) == (200, b"")
    assert ask(as_owner, project, "add", changes={"colour_order": "2 A, 3 times (1"}).status_code == 422


def test_a_very_long_order_is_typed_and_not_listed(as_owner, project):
    order = ", ".join(["1 A, 1 B"] * 120)
    found = parts(ask(as_owner, project, changes={"colour_order": order}))
    assert found.paths == []


def test_rows_are_no_page_of_their_own(as_owner, project):
    assert as_owner.get(reverse("project-order", args=[project.pk])).status_code == 405
    assert as_owner.post(reverse("project-order", args=[999]), {}).status_code == 404


def test_names_in_the_rows_are_escaped(as_owner, project, shades):
    shades["A"].name = '"><b>Loud'
    shades["A"].save(update_fields=["name"])
    text = as_owner.get(reverse("project-page", args=[project.pk])).content.decode()
    assert "<b>Loud" not in text


def test_rows_ask_the_same_for_twice_the_shades(as_owner, owner):
    """Shades that the plan has already are read with it: none is looked for by its name."""
    counts = []
    for number in (2, 4):
        shades = {"ABCD"[at]: make_shade(f"Shade {number} {at}") for at in range(number)}
        order = read_order(", ".join(f"2 {key}" for key in shades))
        project = make_project(shades, name=f"Mats {number}", plan=plain_plan(order=order))
        data = typed_plan(as_owner, project) | {"order": "colour_order", "do": "up", "row": "1"}
        with CaptureQueriesContext(connection) as caught:
            assert as_owner.post(reverse("project-order", args=[project.pk]), data).status_code == 200
        counts.append(len(caught))
    assert counts[0] == counts[1]


def test_a_page_whose_line_cannot_be_read_offers_no_row_to_change(as_owner, project):
    data = typed_plan(as_owner, project, colour_order="2 A, 3 times (1")
    text = as_owner.post(reverse("project-page", args=[project.pk]), data).content.decode()
    start = text.index('data-order="colour_order"')
    rows = text[start : text.index("order-note", start)]
    assert "The rows appear once the line above can be read." in rows
    assert "data-do" not in rows


def test_keys_without_a_shade_do_not_grow_in_number_each_time_a_plan_is_worked_out(as_owner, project):
    address = reverse("project-page", args=[project.pk])
    before = len(as_owner.get(address).context["form"].keys)
    data = typed_plan(as_owner, project, then="look")
    assert len(as_owner.post(address, data).context["form"].keys) == before
