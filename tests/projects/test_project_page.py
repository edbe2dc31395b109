"""The project's page as a person uses it: read, change, look, keep, clash."""

import pytest
from django.urls import reverse

from projects.models import Project
from tests.factories import make_cone, make_shade
from tests.projects.factories import make_project, plain_plan
from tests.projects.pages import typed_plan

# 3,360 yd weigh a pound, so 10 yd of warp and 10 yd of weft weigh 2.7 g.


# Pages and forms: what they say does not hang on what keeps the books.
pytestmark = pytest.mark.once


@pytest.fixture
def spruce(owner):
    shade = make_shade("Spruce")
    make_cone(shade, grams=3, by=owner, lot="7")
    return shade


@pytest.fixture
def project(spruce):
    return make_project({"A": spruce})


def page(client, project):
    return client.get(reverse("project-page", args=[project.pk]))


def test_the_verdict_is_a_sentence_on_the_page(as_owner, project):
    answer = page(as_owner, project)
    assert answer.status_code == 200
    assert "Enough Spruce" in answer.content.decode()


def test_figures_open_to_their_workings(as_owner, project):
    text = page(as_owner, project).content.decode()
    assert "<summary>Warp length</summary>" in text
    assert "loom waste, once per warp" in text


def test_the_page_of_one_who_may_only_read_has_no_form(as_viewer, project):
    text = page(as_viewer, project).content.decode()
    assert "Finished size, across × along the warp" in text
    assert 'id="plan"' not in text
    assert "Reserve" not in text


def test_a_helper_may_reserve_but_finds_no_plan_to_change(as_helper, project):
    text = page(as_helper, project).content.decode()
    assert 'id="plan"' not in text
    assert reverse("project-reserve", args=[project.pk]) in text


def test_a_project_that_is_not_there_is_a_page_that_says_so(as_owner):
    assert as_owner.get(reverse("project-page", args=[999])).status_code == 404


def test_looking_at_a_change_keeps_nothing(as_owner, project):
    data = typed_plan(as_owner, project, pieces="2", then="look")
    answer = as_owner.post(reverse("project-page", args=[project.pk]), data)
    assert "Short of Spruce" in answer.content.decode()
    project.refresh_from_db()
    assert project.pieces == 1


def test_the_preview_answers_with_outputs_alone(as_owner, project):
    data = typed_plan(as_owner, project, pieces="2")
    text = as_owner.post(reverse("project-preview", args=[project.pk]), data).content.decode()
    assert "Short of Spruce" in text
    assert 'id="verdict"' in text and "hx-swap-oob" in text
    assert "<input" not in text, "what is being typed in is never swapped"


def test_the_preview_of_a_plan_that_cannot_be_read_says_what_it_waits_for(as_owner, project):
    data = typed_plan(as_owner, project, colour_order="3 times (1 A")
    text = as_owner.post(reverse("project-preview", args=[project.pk]), data).content.decode()
    assert "Not worked out yet" in text
    assert "Colour order of the warp" in text
    assert 'id="figures"' not in text, "the last figures stay"


def test_a_key_without_a_shade_comes_before_any_verdict(as_owner, project):
    data = typed_plan(as_owner, project, colour_order="1 A, 1 Z")
    text = as_owner.post(reverse("project-preview", args=[project.pk]), data).content.decode()
    assert "Z has no shade yet." in text
    assert "Enough" not in text.split('id="figures"')[0]


def test_a_clash_is_told_in_words(as_owner, project):
    mine = typed_plan(as_owner, project, structure="twill-2-2")
    Project.objects.update(version=9)
    clashes = as_owner.post(reverse("project-page", args=[project.pk]), mine).context["clashes"]
    assert [(clash.yours, clash.theirs) for clash in clashes] == [("2/2 twill", "plain weave")]


def test_a_new_plan_can_be_looked_at_before_it_has_a_name(as_owner, spruce):
    data = typed_plan(
        as_owner,
        across="10",
        along="36",
        sett="1",
        picks="1",
        colour_order="1 A",
        pick_order="1 A",
        shade_A="Spruce",
    )
    text = as_owner.post(reverse("project-preview-new"), data).content.decode()
    assert "Spruce" in text and 'id="figures"' in text


def test_keeping_a_changed_plan_leads_back_to_its_page(as_owner, project):
    answer = as_owner.post(
        reverse("project-page", args=[project.pk]), typed_plan(as_owner, project, pieces="3")
    )
    assert answer.status_code == 302
    project.refresh_from_db()
    assert project.pieces == 3
    assert project.version == 2


def test_keeping_a_plan_that_was_not_changed_changes_no_figure(as_owner, project):
    before = Project.objects.filter(pk=project.pk).values().get()
    as_owner.post(reverse("project-page", args=[project.pk]), typed_plan(as_owner, project))
    after = Project.objects.filter(pk=project.pk).values().get()
    assert {**before, "version": 2} == after


def test_keep_and_reserve_does_both(as_owner, project):
    data = typed_plan(as_owner, project, then="reserve")
    as_owner.post(reverse("project-page", args=[project.pk]), data)
    project.refresh_from_db()
    assert sum(line.ends for line in project.claim.reservations.all()) == 11, "one end to spare"


def test_a_new_project_is_made_with_its_shades(as_owner, spruce):
    data = typed_plan(
        as_owner,
        name="Moss mats",
        across="10",
        along="36",
        sett="1",
        picks="1",
        colour_order="1 A",
        pick_order="1 A",
        shade_A="Spruce, Plain cotton",
        structure="twill-2-2",
    )
    answer = as_owner.post(reverse("project-new"), data)
    assert answer.status_code == 302, answer.context["form"].errors
    assert [row.shade for row in Project.objects.get().shades.all()] == [spruce]


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("pieces", "-3", "less than nothing"),
        ("pieces", "1000000000000", "at most"),
        ("pieces", "2.5", "not whole"),
        ("across", "10 parsecs", "parsecs"),
        ("across", "0", "more than"),
        ("sett", "0", ""),
        ("loss_across", "100", ""),
        ("loss_along", "95 %", "90"),
        ("colour_order", "4 A, 3 times (1 A, 1 B", "bracket"),
        ("colour_order", "1000000 times (1 A)", "20,000"),
        ("colour_order", "4 A 4 B", "comma"),
        ("colour_order", "4 Z", "Z"),
        ("pick_order", "", "cannot be left empty"),
        ("waste", "1,234", "1,234"),
        ("shade_A", "Sproose", "no shade called"),
        ("shade_A", "", "say which shade"),
        ("need_on", "soon", "date"),
        ("structure", "basket-9", "not one of"),
        ("name", "", "cannot be left empty"),
        ("name", "x" * 200, "120"),
        ("rank", "77", "not one of"),
    ],
)
def test_what_cannot_be_used_is_refused_at_its_field_and_kept_as_typed(as_owner, project, field, typed, said):
    data = typed_plan(as_owner, project, **{field: typed})
    answer = as_owner.post(reverse("project-page", args=[project.pk]), data)
    assert answer.status_code == 422
    errors = answer.context["form"].errors
    at = {"4 Z": "shade_Z"}.get(typed, field)
    assert at in errors, errors
    assert said in " ".join(errors[at])
    assert answer.context["form"][field].value() == typed
    project.refresh_from_db()
    assert project.version == 1


def test_an_unbalanced_bracket_is_named_by_its_character(as_owner, project):
    data = typed_plan(as_owner, project, colour_order="4 A, 3 times (1 A, 1 A")
    answer = as_owner.post(reverse("project-page", args=[project.pk]), data)
    assert "At character 14:" in " ".join(answer.context["form"].errors["colour_order"])


def test_a_second_save_is_refused_and_shows_both_texts(as_owner, project):
    mine = typed_plan(as_owner, project, pieces="4", note="mine")
    theirs = typed_plan(as_owner, project, pieces="2")
    address = reverse("project-page", args=[project.pk])
    assert as_owner.post(address, theirs).status_code == 302
    answer = as_owner.post(address, mine)
    assert answer.status_code == 422
    assert {(clash.label, clash.yours, clash.theirs) for clash in answer.context["clashes"]} == {
        ("Pieces", "4", "2"),
        ("Notes", "mine", ""),
    }
    project.refresh_from_db()
    assert project.pieces == 2
    again = mine | {"version": str(project.version)}
    assert as_owner.post(address, again).status_code == 302
    project.refresh_from_db()
    assert (project.pieces, project.note) == (4, "mine")


def test_a_version_that_is_no_number_is_refused(as_owner, project):
    data = typed_plan(as_owner, project, version="x")
    assert as_owner.post(reverse("project-page", args=[project.pk]), data).status_code == 422


def test_a_plan_sent_without_its_version_overwrites_nothing(as_owner, project):
    data = typed_plan(as_owner, project, pieces="5", version="")
    assert as_owner.post(reverse("project-page", args=[project.pk]), data).status_code == 422
    project.refresh_from_db()
    assert project.pieces == 1


def test_a_shade_retired_after_it_was_planned_stays_in_the_plan_and_is_marked(as_owner, project, spruce):
    from stash.services.cones import retire_cone
    from stash.services.yarns import retire_shade

    for cone in spruce.cones.all():
        retire_cone(pk=cone.pk, by=cone.entries.first().by, reason="moth")
    retire_shade(pk=spruce.pk)
    text = page(as_owner, project).content.decode()
    assert "shade is retired" in text
    assert "Short of Spruce" in text
    data = typed_plan(as_owner, project, pieces="2")
    assert as_owner.post(reverse("project-page", args=[project.pk]), data).status_code == 302


def test_the_fields_of_the_losses_not_chosen_never_stand_in_the_way(as_owner, project):
    data = typed_plan(as_owner, project, draw_in="nonsense")
    assert as_owner.post(reverse("project-page", args=[project.pk]), data).status_code == 302


def test_split_losses_are_kept_apart(as_owner, project):
    data = typed_plan(
        as_owner,
        project,
        loss_way="split",
        draw_in="5",
        shrinkage_across="4",
        relaxation="2",
        shrinkage_along="8",
    )
    assert as_owner.post(reverse("project-page", args=[project.pk]), data).status_code == 302
    project.refresh_from_db()
    assert [str(loss) for loss in project.plan.losses_across] == ["1/20", "1/25"]


def test_more_shades_get_fields_of_their_own_as_they_are_typed(as_owner, project):
    data = typed_plan(as_owner, project, colour_order="1 A, 1 H", shade_H="")
    answer = as_owner.post(reverse("project-page", args=[project.pk]), data)
    assert "shade_H" in answer.context["form"].errors


def test_names_of_shades_are_offered_while_typing(as_owner, project, spruce):
    make_shade("Sprout")
    make_shade("Oat")
    text = as_owner.get(reverse("project-shades"), {"shade_A": "spr"}).content.decode()
    assert "Spruce, Plain cotton" in text and "Sprout, Plain cotton" in text and "Oat" not in text


def test_a_name_that_two_yarns_have_asks_which(as_owner, project):
    from tests.factories import make_yarn

    make_shade("Spruce", yarn=make_yarn("Fine cotton", "16/2"))
    data = typed_plan(as_owner, project, shade_B="Spruce")
    answer = as_owner.post(reverse("project-page", args=[project.pk]), data)
    assert "Say which" in " ".join(answer.context["form"].errors["shade_B"])


def test_an_odd_order_that_fits_no_rule_is_no_crash(as_owner, project):
    for nasty in ("(((((((((1 A)))))))))", "9" * 500, "\x00", "1 A," * 600, "−1 A", "١ A", "1 A, , 1 A"):
        data = typed_plan(as_owner, project, colour_order=nasty)
        assert as_owner.post(reverse("project-page", args=[project.pk]), data).status_code == 422
        assert as_owner.post(reverse("project-preview", args=[project.pk]), data).status_code == 200


def test_changing_a_plan_leaves_its_reservation_and_says_so(as_owner, project):
    as_owner.post(reverse("project-reserve", args=[project.pk]), {"version": "1"})
    assert "no longer what the plan needs" not in page(as_owner, project).content.decode()
    data = typed_plan(as_owner, project, sett="0.5")
    assert as_owner.post(reverse("project-page", args=[project.pk]), data).status_code == 302
    assert "no longer what the plan needs" in page(as_owner, project).content.decode()


def test_a_plan_of_two_thousand_ends_is_shown(as_owner, spruce):
    from fractions import Fraction

    from stash.calc.density import Density

    wide = make_project(
        {"A": spruce}, "Wide", plain_plan(across_um=100 * 25_400, sett=Density(Fraction(20)), pieces=3)
    )
    assert "2,000" in page(as_owner, wide).content.decode()
