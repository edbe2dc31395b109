"""What lies ahead of one shade: whole ends and lots go before weight, and what decides when it is ordered is said."""

from datetime import datetime, time, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format

from projects.shade_ahead import shade_ahead
from projects.templatetags.projects_ahead import time_chart
from stash.calc.writing import Measures
from stash.models import Shade, Studio
from stash.services.weighing import weigh
from tests.factories import make_cone
from tests.projects.buying.shelf import a_shade, in_days, job, seller, sold
from tests.stash.reading import Read

pytestmark = pytest.mark.django_db


def found(shade: Shade, studio: Studio):
    shade = Shade.objects.select_related("yarn").get(pk=shade.pk)
    return shade_ahead(shade, studio, Measures(), today=timezone.localdate())


def test_what_decides_when_it_is_ordered_is_said_and_leads_to_buying(as_viewer, owner, studio):
    shade = a_shade()
    make_cone(shade, grams=15, by=owner)
    job(shade, pieces=2)
    sold(shade, seller())
    page = Read(as_viewer.get(reverse("shade-ahead", args=[shade.pk])))
    assert "by 25 g (25.0 yd), when Plain mats is wound." in page.text
    assert f"The job decides: order by {date_format(in_days(35), 'j F')}" in page.text
    assert page.links["See what would be ordered"] == reverse("buying")


def test_what_whole_ends_do_not_give_is_short_though_the_weight_is_there(owner, studio):
    """Ten ends of 2 yd want 20 yd, and 20 yd the weft: of ten cones of 4.5 yd each gives two ends and half a yard of
    weft, so of 45 yd 25 yd are left for the weft in pieces of which none is of one lot.
    """
    shade = a_shade()
    for at in range(10):
        make_cone(shade, scale_mg=4_500, lot=f"L{at}", by=owner)
    job(shade, pieces=2)
    ahead = found(shade, studio).ahead
    assert ahead.projection.short() is None
    assert ahead.state == "short"
    assert ahead.lead.startswith("Short in whole ends and lots, usual use counted: “Plain mats” on ")


def test_where_whole_ends_suffice_too_nothing_is_said_of_weight(owner, studio):
    shade = a_shade()
    make_cone(shade, grams=90, lot="L1", by=owner)
    job(shade, pieces=2)
    one = found(shade, studio)
    assert one.ahead.lead.startswith("The job to come is covered; at the least 50 g (50.0 yd)")
    assert (one.asks, one.decides) == (False, [])


def test_the_computed_level_stands_beside_the_keep_level(owner, studio):
    """40 g in every fourth week: 9.5 g a week."""
    shade = a_shade(keep_mg=60_000)
    noon = timezone.make_aware(datetime.combine(timezone.localdate(), time(12)))
    cone = make_cone(shade, grams=900, by=owner, at=noon - timedelta(weeks=15))
    for number in range(1, 5):
        at = noon - timedelta(weeks=4 * (4 - number))
        weigh(cone_id=cone.pk, scale_mg=(900 - 40 * number) * 1_000, gross=False, by=owner, at=at)
    sold(shade, seller(lead_days=14, late_days=0))
    one = found(shade, studio)
    [level] = [words for words in one.decides if words.startswith("The computed level is")]
    assert "19 g for use in the lead time" in level
    drawing = time_chart(one.ahead)
    assert 'class="keep"' in drawing and 'class="reorder"' in drawing
    assert one.ahead.level and one.ahead.keep == "60 g"


def test_a_shade_of_which_nothing_is_known_still_has_its_page(as_viewer, studio):
    page = Read(as_viewer.get(reverse("shade-ahead", args=[a_shade().pk])))
    assert "No job with a winding day wants any of it." in page.text
