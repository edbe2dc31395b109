"""What is on order of a plan's shades stands beside its needs, and makes no verdict."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from projects.on_order import on_order_of
from tests.factories import make_order, make_project, make_shade
from tests.stash.reading import Read

pytestmark = pytest.mark.django_db


def test_the_first_to_come_is_named_and_all_is_summed(owner):
    shade, other = make_shade("Spruce"), make_shade("Rust")
    late, soon = make_order(shade, number=2, by=owner), make_order(shade, number=1, by=owner)
    day = timezone.localdate() + timedelta(days=5)
    soon.due_on = day
    soon.save()
    found = on_order_of([shade.pk, other.pk])
    assert set(found) == {shade.pk}
    coming = found[shade.pk]
    assert (coming.mass_mg, coming.due_on, coming.order, coming.is_more) == (1_362_000, day, soon.pk, True)
    assert coming.due == f"the first due {day.day} {day:%B}"
    late.lines.update(came=2)
    assert on_order_of([shade.pk])[shade.pk].mass_mg == 454_000


def test_a_projects_page_says_what_is_on_order_and_stays_short(as_owner, owner):
    shade = make_shade("Spruce")
    project = make_project(shade=shade)
    order = make_order(shade, by=owner)
    page = Read(as_owner.get(reverse("project-page", args=[project.pk])))
    due = order.due_on
    assert f"6,726 yd on order , due {due.day} {due:%B};" in page.text
    assert page.links["6,726 yd on order"] == reverse("order-page", args=[order.pk])
    assert any("on order 6,726 yd" in label for label in page.labels)
    assert "Short of Spruce" in page.text
