"""A plan against the equipment on its page: width, sleys, shafts, heddles, beam, waste; kept with the plan."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from projects.models import Project
from projects.services.planning import Gear, recompute
from stash.calc.colour_order import read_order
from stash.calc.density import Density
from stash.calc.needs import work_out
from stash.models import Loom, Reed, ShaftHeddles
from stash.services.equipment import lend
from stash.services.refusal import Refusal
from tests.factories import make_cone, make_shade
from tests.projects.factories import make_project, plain_plan
from tests.projects.pages import typed_plan

# Pages and sheets: what they say does not hang on what keeps the books.
pytestmark = [pytest.mark.django_db, pytest.mark.once]
IN = 25_400


@pytest.fixture
def shade(owner):
    shade = make_shade("Spruce")
    make_cone(shade, grams=900, by=owner, lot="7")
    return shade


@pytest.fixture
def loom(db):
    return a_loom()


@pytest.fixture
def reeds(db):
    """Our own worked case: 8, 10 and 15 dents to the inch and 50 to 10 cm, none of 9 or 18."""
    return [a_reed(f"{dents} reed", dents) for dents in (8, 10, 15)] + [
        Reed.objects.create(name="50 reed", dents_numerator=50, dents_per_um=100_000, length_um=30 * IN)
    ]


def a_loom(name="Big loom", heddles=(120, 120, 120, 120), **changes):
    facts = {"weaving_width_um": 36 * IN, "shafts": 4, "waste_um": 27 * IN}
    made = Loom.objects.create(name=name, **facts | changes)
    ShaftHeddles.objects.bulk_create(
        ShaftHeddles(loom=made, shaft=shaft, number=number) for shaft, number in enumerate(heddles, start=1)
    )
    return made


def a_reed(name, dents, length=30):
    return Reed.objects.create(name=name, dents_numerator=dents, dents_per_um=IN, length_um=length * IN)


def eighteen(shade, name="Lace mats", **facts):
    """324 ends in 18 in at 18 to the inch."""
    plan = plain_plan(across_um=18 * IN, sett=Density(18), order=read_order("2 A"))
    return make_project({"A": shade}, name=name, plan=plan, **facts)


def view(client, project):
    return client.get(reverse("project-page", args=[project.pk])).context["gear"]


def checks(found):
    return {check.topic: check for check in found.checks}


def typed(client, project, **changes):
    """What the page says of a changed plan, as it follows while typing."""
    data = typed_plan(client, project, **changes)
    return client.post(reverse("project-preview", args=[project.pk]), data).context["gear"]


def test_without_equipment_the_page_says_where_to_note_it(as_owner, shade):
    text = as_owner.get(reverse("project-page", args=[eighteen(shade).pk])).content.decode()
    assert "No loom or reed is noted yet." in text


def test_a_missing_reed_is_replaced_exactly_and_nearly(as_owner, shade, reeds):
    found = view(as_owner, eighteen(shade))
    rows = [(row.reed, row.sley, row.flag) for row in (*found.sleys, *found.more_sleys)]
    assert rows[:5] == [
        ("8 reed", "2-2-2-3", "exact"),
        ("10 reed", "1-2-2-2-2", "exact"),
        ("15 reed", "1-1-1-1-2", "exact"),
        ("50 reed", "1-1-2-1-2", "1.2 % wider, called the same"),
        ("8 reed", "2-2-2-2-3", "2.2 % wider, called the same"),
    ]
    assert (
        found.sleys[0].ways[0].text
        == "18 epi: 324 ends in 144 dents, 18.00 in in the reed, 18.00 in finished"
    )
    keep_ends, keep_width = found.sleys[3].ways
    assert "keep the 324 ends: 232 dents, 18.27 in in the reed" in keep_ends.text
    assert "keep the width: 322 ends (2 fewer)" in keep_width.text


def test_a_sley_is_kept_with_the_plan_and_the_width_follows_its_dents(as_owner, shade, loom, reeds):
    project = eighteen(shade)
    metric = reeds[3]
    data = typed_plan(
        as_owner, project, loom=loom.pk, sley=f"{metric.pk} 1-1-2-1-2 ends", off_on="2031-05-04"
    )
    assert as_owner.post(reverse("project-page", args=[project.pk]), data).status_code == 302
    project = Project.objects.get()
    assert (project.loom, project.reed, project.sley, project.sley_keeps) == (
        loom,
        metric,
        "1-1-2-1-2",
        "ends",
    )
    width = work_out(project.plan).width
    assert (width.ends, width.in_reed_um) == (324, 232 * 2_000)
    assert not recompute(pk=project.pk)
    assert checks(view(as_owner, project))["Sley"].text.startswith(
        "1-1-2-1-2 in 50 reed is 70 ends per 10 cm"
    )


def test_to_keep_the_width_changes_the_ends(as_owner, shade, reeds):
    project = eighteen(shade)
    data = typed_plan(as_owner, project, sley=f"{reeds[3].pk} 1-1-2-1-2 width")
    as_owner.post(reverse("project-page", args=[project.pk]), data)
    project = Project.objects.get()
    # 320.04 ends would fill 18 in: in repeats of two that is 322, since a piece is never narrower than asked.
    assert project.ends == 322
    assert project.shades.get().ends == 322


def test_a_sley_falls_away_when_the_sett_moves(as_owner, shade, reeds):
    project = eighteen(shade)
    as_owner.post(
        reverse("project-page", args=[project.pk]),
        typed_plan(as_owner, project, sley=f"{reeds[0].pk} 2-2-2-3 ends"),
    )
    found = typed(as_owner, Project.objects.get(), sett="24")
    assert found.lost_sley
    assert not found.chosen_sley


def test_the_sley_of_one_reed_is_let_go_when_another_is_chosen(as_owner, shade, reeds):
    project = eighteen(shade)
    found = typed(as_owner, project, reed=reeds[1].pk, sley=f"{reeds[0].pk} 2-2-2-3 ends")
    assert not found.chosen_sley
    assert {row.reed for row in (*found.sleys, *found.more_sleys)} == {"10 reed"}


@pytest.mark.parametrize("sley", ["x", "1 1-2", "99 1-2 ends", "1 1-2 both", "{pk} 4-1 ends", "{pk} 9 ends"])
def test_a_sley_that_nobody_offered_is_none(as_owner, shade, reeds, sley):
    project = eighteen(shade)
    data = typed_plan(as_owner, project, sley=sley.format(pk=reeds[0].pk))
    assert as_owner.post(reverse("project-page", args=[project.pk]), data).status_code == 302
    assert Project.objects.get().sley == ""


def test_a_reed_out_of_the_house_is_said_and_comes_after_those_at_hand(as_owner, shade, reeds):
    project = eighteen(shade, need_on=timezone.localdate() + timedelta(days=3))
    lend(kind="reeds", pk=reeds[0].pk, to="Ana", back_on=timezone.localdate() + timedelta(days=30))
    found = view(as_owner, project)
    assert [row.reed for row in found.sleys[:3]] == ["10 reed", "15 reed", "8 reed"]
    assert found.sleys[2].hints[0].startswith("8 reed is lent to Ana")


def test_a_sett_no_reed_reaches_names_the_nearest(as_owner, shade):
    a_reed("8 reed", 8)
    found = typed(as_owner, eighteen(shade), sett="50")
    check = checks(found)["Sley"]
    assert (check.state, found.sleys) == ("bad", [])
    assert "The nearest is 32 epi, 4 in 8 reed: change the sett" in check.text


def test_a_narrow_loom_says_which_figure_to_change_and_never_the_sett(as_owner, shade):
    narrow = a_loom("Table loom", weaving_width_um=16 * IN)
    found = typed(as_owner, eighteen(shade), loom=narrow.pk)
    check = checks(found)["Width"]
    assert (check.state, check.flag) == ("bad", "too wide")
    assert "No loom here is wide enough." in check.text
    assert "Change the finished size across to 15.50 in or less" in check.text
    assert "A closer sett makes it no narrower." in check.text


def test_a_wider_loom_is_named(as_owner, shade, loom):
    narrow = a_loom("Table loom", weaving_width_um=16 * IN)
    check = checks(typed(as_owner, eighteen(shade), loom=narrow.pk))["Width"]
    assert "Big loom is wide enough." in check.text


def test_without_a_loom_those_wide_enough_are_named(as_owner, shade, loom):
    check = checks(view(as_owner, eighteen(shade)))["Width"]
    assert (check.state, check.text) == ("note", "Big loom is wide enough for 18.00 in in the reed.")


@pytest.mark.parametrize(("inches", "state"), [("18.25", "warn"), ("18.5", "ok"), ("17.9", "bad")])
def test_less_than_a_quarter_inch_at_each_side_is_amber(as_owner, shade, inches, state):
    loom = a_loom(weaving_width_um=int(float(inches) * IN))
    assert checks(typed(as_owner, eighteen(shade), loom=loom.pk))["Width"].state == state


def test_heddles_are_counted_by_shaft_with_ways_to_spread(as_owner, shade):
    loom = a_loom(heddles=(100, 100, 70, 70))
    check = checks(typed(as_owner, eighteen(shade), loom=loom.pk))["Heddles"]
    assert (check.state, check.flag) == ("warn", "22 missing")
    assert "It takes 81 on each of 4 shafts; 11 on shaft 3, 11 on shaft 4 missing." in check.text
    assert "Move 11 from shaft 1 to 3; 11 from shaft 2 to 4." in check.text
    assert "Or thread the pairs unevenly: 92, 92, 70 and 70 on shafts 1 to 4." in check.text


def test_floating_selvedges_are_in_no_heddle_and_in_dents_of_their_own(as_owner, shade, loom, reeds):
    changes = {"loom": loom.pk, "sley": f"{reeds[1].pk} 1-2-2-2-2 ends", "floating_selvedges": "on"}
    found = checks(typed(as_owner, eighteen(shade), **changes))
    assert "81 on each of 4 shafts" in found["Heddles"].text
    assert "182 dents" in found["Sley"].text
    assert "The floating selvedges have a dent each." in found["Sley"].text


def test_more_shafts_than_the_loom_has_name_structure_or_threading(as_owner, shade):
    loom = a_loom(heddles=(200, 200), shafts=2)
    project = eighteen(shade)
    check = checks(typed(as_owner, project, loom=loom.pk, structure="twill-2-2"))["Shafts"]
    assert (check.state, check.text) == (
        "bad",
        "2/2 twill needs 4 shafts, Big loom has 2: change the structure, or choose another loom.",
    )


def test_the_longest_warp_so_far_is_a_warning(as_owner, shade):
    loom = a_loom(longest_warp_um=300_000)
    check = checks(typed(as_owner, eighteen(shade), loom=loom.pk))["Beam"]
    assert (check.state, check.flag) == ("warn", "longest so far")


def test_the_looms_waste_is_taken_into_the_plan_by_one_button(as_owner, shade):
    loom = a_loom(waste_tied_on_um=14 * IN)
    project = eighteen(shade)
    data = typed_plan(as_owner, project, loom=loom.pk, dressing="tied_on", then="waste")
    answer = as_owner.post(reverse("project-page", args=[project.pk]), data)
    assert answer.status_code == 200
    assert answer.context["form"]["waste"].value() == "14"
    assert answer.context["gear"].waste_um is None
    assert Project.objects.get().waste_um == 0


def test_what_is_left_of_an_old_warp_can_be_tied_on_to_if_it_has_as_many_ends(as_owner, shade):
    loom = a_loom(left_um=2 * 914_400, left_ends=324)
    project = eighteen(shade)
    assert checks(typed(as_owner, project, loom=loom.pk))["Tying on"].state == "note"
    assert checks(typed(as_owner, project, loom=loom.pk, dressing="tied_on"))["Tying on"].state == "ok"
    Loom.objects.update(left_ends=300)
    check = checks(typed(as_owner, project, loom=loom.pk, dressing="tied_on"))["Tying on"]
    assert "this warp has 324: 24 must be threaded anew" in check.text
    Loom.objects.update(left_um=0, left_ends=0)
    assert checks(typed(as_owner, project, loom=loom.pk, dressing="tied_on"))["Tying on"].state == "bad"


def test_another_projects_days_are_said_in_words(as_owner, shade, loom):
    today = timezone.localdate()
    other = eighteen(shade, name="Towels", need_on=today + timedelta(days=2))
    Project.objects.filter(pk=other.pk).update(loom=loom, off_on=today + timedelta(days=9))
    project = eighteen(shade, need_on=today + timedelta(days=5))
    check = checks(typed(as_owner, project, loom=loom.pk))["Days"]
    assert (check.state, check.flag) == ("bad", "taken")
    assert check.text.startswith("Towels wants Big loom from")


def test_a_loom_that_is_gone_or_off_before_it_is_wound_is_refused_at_its_field(as_owner, shade, loom):
    project = eighteen(shade, need_on=timezone.localdate() + timedelta(days=5))
    for changes, field in (
        ({"loom": "999"}, "loom"),
        ({"off_on": timezone.localdate().isoformat()}, "off_on"),
        ({"off_on": "tomorrow"}, "off_on"),
        ({"off_on": "2931-05-04"}, "off_on"),
        ({"need_on": "0001-01-02"}, "need_on"),
    ):
        answer = as_owner.post(
            reverse("project-page", args=[project.pk]), typed_plan(as_owner, project, **changes)
        )
        assert answer.status_code == 422
        assert field in answer.context["form"].errors


@pytest.mark.parametrize(
    ("gear", "field"),
    [
        (Gear(loom_id=999), "loom"),
        (Gear(reed_id=999), "reed"),
        (Gear(sley="1-2"), "reed"),
    ],
)
def test_the_service_takes_no_equipment_that_is_not_there(shade, gear, field):
    with pytest.raises(Refusal) as caught:
        eighteen(shade, gear=gear)
    assert caught.value.field == field


def test_the_service_takes_no_sley_far_from_the_sett(shade):
    reed = a_reed("8 reed", 8)
    with pytest.raises(Refusal, match="does not come near") as caught:
        eighteen(shade, gear=Gear(reed_id=reed.pk, sley="1-2"))
    assert caught.value.field == "sley"


def test_a_visitor_reads_the_checks_and_changes_nothing(as_viewer, shade, loom, reeds):
    project = eighteen(shade, gear=Gear(loom_id=loom.pk, reed_id=reeds[0].pk, sley="2-2-2-3"))
    text = as_viewer.get(reverse("project-page", args=[project.pk])).content.decode()
    assert "leaves 9.00 in at each side of Big loom" in text
    assert 'type="radio"' not in text
    assert "Keep plan and equipment" not in text


def test_shades_in_turn_say_that_an_uneven_sley_may_streak(as_owner, shade, reeds, owner):
    rust = make_shade("Rust")
    plan = plain_plan(across_um=18 * IN, sett=Density(12), order=read_order("1 A, 1 B"))
    project = make_project({"A": shade, "B": rust}, plan=plan)
    (row,) = [row for row in view(as_owner, project).sleys if (row.reed, row.sley) == ("8 reed", "1-2")]
    assert "faint streaks every 6 ends" in row.hints[0]


def test_twice_the_equipment_and_wishes_cost_the_same_queries(as_owner, shade):
    counts = []
    project = eighteen(shade)
    for number in range(2):
        loom, reed = a_loom(f"Loom {number}"), a_reed(f"Reed {number}", 9)
        other = eighteen(shade, name=f"Other {number}")
        Project.objects.filter(pk=other.pk).update(loom=loom, reed=reed)
        with CaptureQueriesContext(connection) as queries:
            view(as_owner, project)
        counts.append(len(queries))
    assert counts[0] == counts[1]


def advice(client, project, **changes):
    data = typed_plan(client, project, **changes)
    return client.post(reverse("project-preview", args=[project.pk]), data).context["advice"]


def test_advice_on_the_sett_names_yarn_structure_and_what_the_plan_has(as_owner, shade):
    """3,360 yd/lb at K 0.90: 52 side by side; plain weave halves it, and 0.8 of that is 21."""
    (said,) = advice(as_owner, eighteen(shade))
    assert "52 lie side by side to the inch; the closest balanced plain weave has 26" in said
    assert "for a soft hand about 21. The plan has 18 epi." in said
    assert "55 lie side by side" in advice(as_owner, eighteen(shade, name="Other"), sett_k="0.95")[0]


@pytest.mark.parametrize("k", ["much", "9", "nan", "1e400", "-1"])
def test_a_k_that_cannot_be_is_said_and_stands_in_no_save(as_owner, shade, k):
    project = eighteen(shade)
    (said,) = advice(as_owner, project, sett_k=k)
    assert "0.90" in said
    data = typed_plan(as_owner, project, sett_k=k, pieces="2")
    assert as_owner.post(reverse("project-page", args=[project.pk]), data).status_code == 302


def test_the_sheet_names_loom_reed_and_sley(as_viewer, shade, loom, reeds):
    project = eighteen(shade, gear=Gear(loom_id=loom.pk, reed_id=reeds[0].pk, sley="2-2-2-3"))
    text = as_viewer.get(reverse("project-sheet", args=[project.pk])).content.decode()
    assert "Big loom, tied to the rods" in text
    assert "8 reed, sleyed 2-2-2-3: 18 epi" in text


def test_where_nothing_is_asked_nothing_is_changed(as_owner, shade):
    project = eighteen(shade)
    Project.objects.filter(pk=project.pk).update(dressing="tied_on")
    data = typed_plan(as_owner, project, pieces="2")
    assert "loom" not in data
    as_owner.post(reverse("project-page", args=[project.pk]), data)
    project.refresh_from_db()
    assert (project.pieces, project.dressing) == (2, "tied_on")
