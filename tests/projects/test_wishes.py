"""Wishes for lots: written by one service, kept through every change of the plan, obeyed wherever yarn is taken."""

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from projects.bench.ticket import Choices
from projects.holding import holding_of
from projects.judging import judge_all
from projects.models import Project
from projects.models.shade import LotWish
from projects.services.copying import copy_project
from projects.services.moving import move_reservation
from projects.services.planning import ProjectFacts, put_away, save_project
from projects.services.reserving import reserve_project
from projects.services.sharing_out import share_out_warp
from projects.services.trials import Change, keep_instead, make_trial
from projects.services.wishes import Wished, set_wishes
from projects.sharing.writing import project_file
from stash.calc.colour_order import read_order
from stash.calc.verdict import Verdict
from stash.models import Cone, Lot, Reservation
from stash.models.condition import Condition
from stash.services.changing import join, set_condition
from stash.services.refusal import Refusal
from tests.books import assert_books_agree, told
from tests.factories import make_cone, make_shade
from tests.projects.pages import typed_plan
from tests.projects.shortages import mats, mats_plan, yard_yarn

pytestmark = pytest.mark.django_db


@pytest.fixture
def shades(owner):
    """Spruce: 40 yd of lot 7 on two cones, 60 of lot 8 on one. Rust: 200 yd of lot 1. A yard a gram."""
    yarn = yard_yarn()
    found = {"A": make_shade("Spruce", yarn), "B": make_shade("Rust", yarn)}
    make_cone(found["A"], grams=25, lot="7", code="S1", by=owner)
    make_cone(found["A"], grams=15, lot="7", code="S2", by=owner)
    make_cone(found["A"], grams=60, lot="8", code="S3", by=owner)
    make_cone(found["B"], grams=200, lot="1", code="R1", by=owner)
    return found


@pytest.fixture
def project(shades):
    """10 ends of 5 yd of Spruce; 50 yd of Rust as weft."""
    return mats(shades)


def lot(name):
    return Lot.objects.get(name=name).pk


def cone(code):
    return Cone.objects.get(code=code)


def of_lot(name):
    return Wished(LotWish.LOT, lot_id=lot(name))


def of_cone(code):
    return Wished(LotWish.CONE, cone_id=cone(code).pk)


def row(project, key="A"):
    return Project.objects.get(pk=project.pk).shades.get(key=key)


def wish(project, wished, key="A"):
    return told(set_wishes, pk=project.pk, wishes={key: wished})


def judged(project):
    ((_, found),) = judge_all(Project.objects.filter(pk=project.pk))
    return found


def taken(project):
    project.refresh_from_db()
    held = Reservation.objects.filter(claim=project.claim_id).order_by("cone__code")
    return {line.cone.code: line.ends or line.length_um for line in held.filter(cone__shade__name="Spruce")}


class TestTheService:
    def test_a_wish_is_kept_and_the_plans_version_goes_on(self, project):
        saved = wish(project, of_lot("8"))
        assert saved.version == project.version + 1
        kept = row(project)
        assert (kept.wish, kept.wish_lot.name, kept.wish_cone) == ("lot", "8", None)

    def test_a_wish_that_stands_already_changes_nothing(self, project):
        wish(project, of_lot("8"))
        version = Project.objects.get(pk=project.pk).version
        wish(project, of_lot("8"))
        assert Project.objects.get(pk=project.pk).version == version

    def test_a_wish_can_be_let_go(self, project):
        wish(project, of_cone("S1"))
        wish(project, Wished())
        assert (row(project).wish, row(project).wish_cone) == ("any", None)

    def test_a_lot_or_a_cone_of_another_shade_is_refused_at_its_field(self, project):
        for wished in (of_lot("1"), of_cone("R1")):
            with pytest.raises(Refusal) as refused:
                wish(project, wished)
            assert refused.value.field == "wish_A"
            assert "Spruce" in refused.value.message
        assert row(project).wish == "any"

    def test_a_cone_that_is_retired_is_refused_but_one_wished_for_before_stays(self, project, owner):
        wish(project, of_cone("S2"))
        join(source_id=cone("S2").pk, target_id=cone("S1").pk, by=owner)
        wish(project, of_cone("S2"))
        wish(project, Wished())
        with pytest.raises(Refusal, match="S2 is retired") as refused:
            wish(project, of_cone("S2"))
        assert refused.value.field == "wish_A"

    @pytest.mark.parametrize(
        "wished",
        [Wished("lot"), Wished("cone"), Wished("best"), Wished("any", lot_id=1), Wished("same", cone_id=1)],
    )
    def test_half_a_wish_is_refused(self, project, wished):
        with pytest.raises(Refusal, match="which lot or which cone"):
            wish(project, wished)

    def test_a_key_that_is_gone_is_refused(self, project):
        with pytest.raises(Refusal) as refused:
            wish(project, Wished("same"), key="Z")
        assert refused.value.field == "wish_Z"

    def test_all_or_none(self, project):
        with pytest.raises(Refusal):
            set_wishes(pk=project.pk, wishes={"A": Wished("same"), "B": of_lot("7")})
        assert row(project).wish == "any"

    def test_a_plan_changed_meanwhile_is_refused(self, project):
        with pytest.raises(Refusal, match="another window"):
            set_wishes(pk=project.pk, wishes={"A": Wished("same")}, version=project.version + 1)

    def test_a_project_put_away_or_gone_is_refused(self, project):
        put_away(pk=project.pk)
        with pytest.raises(Refusal, match="put away"):
            wish(project, Wished("same"))
        with pytest.raises(Refusal, match="no such project"):
            set_wishes(pk=999_999, wishes={})


class TestWhatObeysIt:
    def test_the_verdict(self, project):
        assert judged(project).state == Verdict.ENOUGH
        wish(project, of_lot("7"))
        (line,) = [one for one in judged(project).lines if one.key == "A"]
        assert line.verdict.short_ends == 2
        assert line.verdict.without_wish == Verdict.ENOUGH
        assert line.wished == "in lot 7"

    def test_a_reservation(self, project):
        wish(project, of_lot("7"))
        reserve_project(pk=project.pk)
        assert taken(project) == {"S1": 5, "S2": 3}
        wish(project, of_cone("S3"))
        reserve_project(pk=project.pk)
        assert taken(project) == {"S3": 11}
        assert_books_agree()

    def test_what_is_held_no_longer_fits_once_another_lot_is_wished_for(self, project):
        reserve_project(pk=project.pk)
        assert holding_of(Project.objects.get(pk=project.pk)).fits(judged(project))
        for wished, fits in (
            (of_lot("8"), True),
            (of_cone("S3"), True),
            (Wished("same"), True),
            (of_lot("7"), False),
        ):
            wish(project, wished)
            project.refresh_from_db()
            assert holding_of(project).fits(judged(project)) is fits

    def test_moving_a_later_projects_yarn_takes_only_what_is_wished(self, shades):
        later = mats(shades, name="Later", plan=mats_plan(pieces=3), need_on=date(2031, 5, 1))
        wish(later, of_lot("8"))
        reserve_project(pk=later.pk)
        first = mats(shades, name="First", need_on=date(2031, 3, 1))
        wish(first, of_lot("7"))
        later.refresh_from_db()
        with pytest.raises(Refusal, match="Nothing that Later holds"):
            move_reservation(pk=first.pk, from_claim=later.claim_id)
        wish(first, of_lot("8"))
        move_reservation(pk=first.pk, from_claim=later.claim_id)
        assert taken(first) == {"S3": 10}
        assert_books_agree()

    def test_ends_are_shared_out_to_no_cone_that_is_not_wished_for(self, shades, owner):
        make_cone(shades["A"], grams=60, lot="8", code="S4", by=owner)
        project = mats(shades)
        wish(project, of_cone("S3"))
        reserve_project(pk=project.pk)
        with pytest.raises(Refusal, match="shared out already"):
            share_out_warp(pk=project.pk, choices=Choices(at_once=2))
        wish(project, of_lot("8"))
        assert share_out_warp(pk=project.pk, choices=Choices(at_once=2)) > 0

    def test_what_is_said_of_a_reservation_that_is_short_names_the_lot(self, as_owner, project):
        wish(project, of_lot("7"))
        answer = as_owner.post(reverse("project-reserve", args=[project.pk]), follow=True)
        assert "Spruce in lot 7 did not suffice" in body(answer)


class TestWhatKeepsIt:
    def saved(self, project, shades, **changes):
        return save_project(
            facts=ProjectFacts(
                name=project.name,
                plan=changes.pop("plan", mats_plan()),
                structure="plain",
                shades={key: shade.pk for key, shade in shades.items()},
            ),
            pk=project.pk,
        )

    def test_another_plan_of_the_same_shades(self, project, shades):
        wish(project, of_lot("8"))
        self.saved(project, shades, plan=mats_plan(pieces=4))
        assert row(project).wish_lot.name == "8"

    def test_another_key_for_the_same_shade(self, project, shades):
        wish(project, of_lot("8"))
        self.saved(project, {"A": shades["B"], "B": shades["A"]})
        assert row(project, "B").wish_lot.name == "8"
        assert row(project, "A").wish == "any"

    def test_another_shade_takes_a_lot_or_a_cone_with_it_but_not_one_lot_for_both(self, project, shades):
        other = make_shade("Moss", shades["A"].yarn)
        wish(project, of_lot("8"))
        wish(project, Wished("same"), key="B")
        self.saved(project, {"A": other, "B": shades["B"]})
        assert (row(project).wish, row(project).wish_lot) == ("any", None)
        third = make_shade("Fern", shades["A"].yarn)
        self.saved(project, {"A": other, "B": third})
        assert row(project, "B").wish == "same"

    def test_a_copy(self, project):
        wish(project, of_lot("8"))
        copied = copy_project(pk=project.pk, name="Again")
        assert row(copied.project).wish_lot.name == "8"
        assert copied.wishes_gone == ()

    def test_a_copy_is_without_a_cone_that_is_retired_and_says_so(self, project, owner):
        wish(project, of_cone("S2"))
        join(source_id=cone("S2").pk, target_id=cone("S1").pk, by=owner)
        copied = copy_project(pk=project.pk, name="Again")
        assert row(copied.project).wish == "any"
        assert copied.wishes_gone == ("The wish for cone S2 of Spruce is gone: that cone is retired.",)

    def test_a_copy_with_another_shade_is_without_the_old_ones_lot_and_says_so(self, project, shades):
        wish(project, of_lot("8"))
        other = make_shade("Moss", shades["A"].yarn)
        copied = copy_project(pk=project.pk, name="Again", instead={"A": other.pk})
        assert row(copied.project).wish == "any"
        assert copied.wishes_gone[0].startswith("The wish for lot 8 of Spruce is gone")

    def test_a_trial_and_the_first_that_takes_it_over(self, project, shades):
        wish(project, of_lot("8"))
        keyed = {key: shade.pk for key, shade in shades.items()}
        trial = make_trial(pk=project.pk, change=Change("three", mats_plan(pieces=3), keyed, {}))
        assert row(trial).wish_lot.name == "8"
        wish(trial, of_lot("7"))
        assert row(keep_instead(pk=trial.pk)).wish_lot.name == "7"

    def test_no_project_file(self, project):
        before = project_file(Project.objects.get(pk=project.pk))
        wish(project, of_lot("8"))
        assert project_file(Project.objects.get(pk=project.pk)) == before


def body(answer):
    return " ".join(answer.content.decode().split())


class TestThePages:
    def chosen(self, client, project, **changes):
        form = client.get(reverse("project-wishes", args=[project.pk])).context["form"]
        data = {bound.html_name: str(bound.value()) for bound in form} | changes
        return client.post(reverse("project-wishes", args=[project.pk]), data)

    def test_a_wish_is_chosen_and_the_project_says_what_it_costs(self, as_owner, project):
        answer = self.chosen(as_owner, project, wish_A=f"lot-{lot('7')}")
        assert answer.status_code == 302
        page = body(as_owner.get(answer.url))
        assert "Short of Spruce in lot 7 by 2 warp ends, 10.0 yd" in page
        assert "2 cones of Spruce in lot 7 give 8 whole ends of 5.00 yd, the plan needs 10." in page
        assert "In any lot it would be enough." in page
        assert "Spruce: lot 7" in page

    def test_each_lot_and_cone_is_offered_with_what_is_free_of_it(self, as_owner, project):
        page = body(as_owner.get(reverse("project-page", args=[project.pk])))
        assert "lot 7: 8 whole ends, 40.0 yd" in page
        assert "cone S1, lot 7: 5 whole ends, 25.0 yd" in page
        assert "lot 1: 200 yd" in page  # weft alone: no ends

    def test_the_preview_judges_with_the_wishes_that_are_kept(self, as_owner, project):
        wish(project, of_lot("7"))
        data = typed_plan(as_owner, project, pieces=4)
        answer = as_owner.post(reverse("project-preview", args=[project.pk]), data)
        # Ten ends of 4 yd: lot 7 gives 6 and 3.
        assert "Short of Spruce in lot 7 by 1 warp end, 4.0 yd" in body(answer)

    def test_a_typed_shade_in_its_place_is_judged_without_the_old_ones_lot(
        self, as_owner, project, shades, owner
    ):
        other = make_shade("Moss", shades["A"].yarn)
        make_cone(other, grams=90, lot="70", by=owner)
        wish(project, of_lot("7"))
        data = typed_plan(as_owner, project, shade_A="Moss, Yard cotton")
        page = body(as_owner.post(reverse("project-preview", args=[project.pk]), data))
        assert "Enough Moss and Rust" in page

    def test_saving_another_shade_says_that_the_wish_is_gone(self, as_owner, project, shades):
        make_shade("Moss", shades["A"].yarn)
        wish(project, of_lot("7"))
        project.refresh_from_db()
        data = typed_plan(as_owner, project, shade_A="Moss, Yard cotton")
        answer = as_owner.post(reverse("project-page", args=[project.pk]), data, follow=True)
        assert "The wish for lot 7 of Spruce is gone" in body(answer)

    def test_what_is_not_offered_is_refused_at_its_field_and_the_rest_is_kept(self, as_owner, project):
        for wrong in (f"lot-{lot('1')}", "cone-x", "lot-", "best", "lot-99999999999999999999", ""):
            answer = self.chosen(as_owner, project, wish_A=wrong, wish_B="same")
            assert answer.status_code == 422
            assert list(answer.context["form"].errors) == ["wish_A"]
            assert answer.context["form"]["wish_B"].value() == "same"
        assert row(project, "B").wish == "any"

    def test_a_second_window_is_told_and_a_second_save_puts_it_in_place(self, as_owner, project):
        answer = self.chosen(as_owner, project, version="999", wish_A="same")
        assert answer.status_code == 422
        assert "another window" in body(answer)
        data = {bound.html_name: str(bound.value()) for bound in answer.context["form"]}
        assert as_owner.post(reverse("project-wishes", args=[project.pk]), data).status_code == 302
        assert row(project).wish == "same"

    def test_a_form_refused_for_another_reason_keeps_its_version_and_is_told_of_the_change(
        self, as_owner, project
    ):
        answer = self.chosen(as_owner, project, version="999", wish_A="best")
        assert answer.context["form"]["version"].value() == "999"
        data = {bound.html_name: str(bound.value()) for bound in answer.context["form"]} | {"wish_A": "same"}
        assert "another window" in body(as_owner.post(reverse("project-wishes", args=[project.pk]), data))
        assert row(project).wish == "any"

    @pytest.mark.parametrize("version", ["", "x", "-1", "99999999999999"])
    def test_a_version_that_is_none_is_refused(self, as_owner, project, version):
        assert self.chosen(as_owner, project, version=version, wish_A="same").status_code == 422

    def test_who_only_reads_sees_the_wish_but_no_choice(self, as_viewer, project):
        wish(project, of_cone("S3"))
        page = body(as_viewer.get(reverse("project-page", args=[project.pk])))
        assert "cone S3" in page
        assert "lots-wished" not in page
        assert as_viewer.post(reverse("project-wishes", args=[project.pk])).status_code == 403

    def test_a_wished_cone_that_is_joined_to_another_is_said_and_stays_a_choice(
        self, as_owner, project, owner
    ):
        wish(project, of_cone("S2"))
        join(source_id=cone("S2").pk, target_id=cone("S1").pk, by=owner)
        page = body(as_owner.get(reverse("project-page", args=[project.pk])))
        assert "Cone S2, which is wished for Spruce, is retired" in page
        assert "Nothing of Spruce on cone S2 can be taken. In any lot it would be enough." in page
        assert self.chosen(as_owner, project).status_code == 302
        assert row(project).wish == "cone"

    def test_a_wished_cone_in_quarantine_is_said(self, as_owner, project, owner):
        wish(project, of_cone("S3"))
        set_condition(pk=cone("S3").pk, condition=Condition.QUARANTINE, on=date(2031, 1, 2), by=owner)
        page = body(as_owner.get(reverse("project-page", args=[project.pk])))
        assert "Cone S3, which is wished for Spruce, is in quarantine until 2 Jan 2031." in page

    def test_letting_the_wish_go_is_a_way_out_that_can_be_tried(self, as_owner, project):
        wish(project, of_lot("7"))
        page = body(as_owner.get(reverse("project-ways", args=[project.pk])))
        assert "Take Spruce of any lot" in page
        answer = as_owner.post(reverse("project-ways", args=[project.pk]), {"way": "any-lot-A"}, follow=True)
        trial = Project.objects.get(trial_of=project)
        assert row(trial).wish == "any"
        assert row(project).wish == "lot"
        assert answer.status_code == 200
        assert "Lots of Spruce" in body(answer)

    def test_sheet_list_and_ticket_name_the_wish(self, as_owner, project):
        wish(project, of_lot("7"))
        for name in ("project-sheet", "project-ticket"):
            assert "lot 7" in body(as_owner.get(reverse(name, args=[project.pk])))
        assert "Short of Spruce in lot 7 by 2 warp ends" in body(as_owner.get(reverse("projects")))

    def test_no_query_more_for_wishes(self, as_owner, project):
        address = reverse("project-page", args=[project.pk])

        def asked():
            as_owner.get(address)
            with CaptureQueriesContext(connection) as caught:
                as_owner.get(address)
            return len(caught)

        before = asked()
        wish(project, of_lot("8"))
        wish(project, of_cone("R1"), key="B")
        assert asked() == before

    def test_the_page_of_the_lots_asks_the_same_for_twice_the_shades(self, as_owner, project, shades, owner):
        more = {"C": make_shade("Moss", shades["A"].yarn), "D": make_shade("Fern", shades["A"].yarn)}
        for shade in more.values():
            make_cone(shade, grams=90, lot=f"{shade.name} 1", by=owner)
        order = read_order("1 A, 1 C, 1 D")
        twice = mats(shades | more, name="Twice", plan=mats_plan(order=order))
        wish(twice, of_lot("8"))

        def asked(one):
            with CaptureQueriesContext(connection) as caught:
                assert as_owner.get(reverse("project-wishes", args=[one.pk])).status_code == 200
            return len(caught)

        asked(project)
        assert asked(twice) == asked(project)

    def test_who_wants_a_shade_is_told_with_the_lots_they_wish_for(self, as_viewer, project, shades):
        wish(project, of_lot("8"))
        page = body(as_viewer.get(reverse("shade-wanted", args=[shades["A"].pk])))
        assert "wishes for it in lot 8" in page
