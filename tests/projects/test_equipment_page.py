"""The list of equipment: what is on it, who has it, and as many queries for twice as much."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from projects.models import Project
from stash.models import Board, Loom, Reed, ShaftHeddles, Tool
from stash.services.equipment import lend, retire
from tests.factories import make_shade
from tests.projects.factories import make_project

pytestmark = pytest.mark.django_db
IN = 25_400


def a_loom(name="Big loom", **changes):
    facts = {"weaving_width_um": 36 * IN, "shafts": 4, "waste_um": 27 * IN}
    loom = Loom.objects.create(name=name, **facts | changes)
    ShaftHeddles.objects.bulk_create(ShaftHeddles(loom=loom, shaft=n, number=100) for n in range(1, 5))
    return loom


def a_reed(name="Ten", dents=10):
    return Reed.objects.create(name=name, dents_numerator=dents, dents_per_um=IN, length_um=36 * IN)


def text_of(client):
    answer = client.get(reverse("equipment"))
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def test_an_empty_studio_is_led_to_its_first_loom(as_owner):
    assert "Add the first loom" in text_of(as_owner)


def test_a_visitor_of_an_empty_studio_is_asked_for_nothing(as_viewer):
    text = text_of(as_viewer)
    assert "No equipment is noted yet" in text
    assert "Add the first loom" not in text


def test_the_list_names_what_is_on_a_loom_and_what_wants_it(as_owner, owner):
    loom = a_loom()
    shade = make_shade()
    on_it = make_project({"A": shade}, name="Mats")
    wants = make_project({"A": shade}, name="Towels", need_on=date(2027, 3, 2))
    Project.objects.filter(pk=on_it.pk).update(loom=loom, stage="weaving", off_on=date(2027, 2, 1))
    Project.objects.filter(pk=wants.pk).update(loom=loom)
    text = text_of(as_owner)
    assert f'on it: <a href="/projects/{on_it.pk}/">Mats</a>, until 1 February' in text
    assert "Towels</a> from 2 March" in text
    assert "100 each" in text


def test_what_has_been_cut_off_is_off_the_loom(as_owner, owner):
    loom = a_loom()
    project = make_project({"A": make_shade()}, name="Mats")
    Project.objects.filter(pk=project.pk).update(loom=loom, stage="cut_off")
    assert "Mats" not in text_of(as_owner)


def test_what_is_lent_out_stands_first_with_the_day_it_is_due(as_helper):
    first, second = a_reed("Ten"), a_reed("Twelve", 12)
    lend(kind="reeds", pk=first.pk, to="Ana", back_on=None)
    lend(kind="reeds", pk=second.pk, to="Ben", back_on=date(2027, 1, 4))
    text = text_of(as_helper)
    assert text.index("with Ben") < text.index("with Ana")
    assert "lent to Ben, back on 4 January" in text


def test_what_is_left_of_a_warp_is_shown_as_what_it_is_worth(as_owner):
    a_loom(left_um=2 * 914_400, left_ends=240, left_of="rosepath, 2 A 2 B")
    assert "2.00 yd of 240 ends left to tie on to: rosepath, 2 A 2 B" in text_of(as_owner)


def test_what_is_kept_no_more_can_be_used_again(as_owner):
    loom = a_loom()
    retire(kind="looms", pk=loom.pk)
    assert "Use Big loom again" in text_of(as_owner)


def test_twice_the_equipment_and_projects_cost_the_same_queries(as_owner, owner):
    """Session and person, studio; projects, looms, their heddles, reeds, boards, tools."""
    shade = make_shade()
    counts = []
    for number in range(2):
        loom, reed = a_loom(f"Loom {number}"), a_reed(f"Reed {number}")
        Board.objects.create(name=f"Board {number}", step_um=IN, longest_um=IN)
        Tool.objects.create(name=f"Tool {number}", kind="shuttle")
        project = make_project({"A": shade}, name=f"Mats {number}")
        Project.objects.filter(pk=project.pk).update(loom=loom, reed=reed)
        with CaptureQueriesContext(
            connection,
        ) as queries:
            text_of(as_owner)
        counts.append(len(queries))
    assert counts == [9, 9]


def test_today_names_what_should_be_back_by_now(as_helper):
    day = timezone.localdate()
    for number, back_on in enumerate((day, day - timedelta(days=3), day + timedelta(days=1), None)):
        lend(kind="reeds", pk=a_reed(f"Reed {number}").pk, to=f"Ana {number}", back_on=back_on)
    lend(kind="looms", pk=a_loom().pk, to="Ben", back_on=day - timedelta(days=1))
    answer = as_helper.get(reverse("today"))
    assert [loan.name for loan in answer.context["loans"]] == ["Reed 1", "Big loom", "Reed 0"]
    assert answer.context["things"] == "3 things want a hand"
    text = answer.content.decode()
    assert "with Ben" in text
    assert reverse("equipment-back", args=["looms", Loom.objects.get().pk]) in text
