"""Shades that are no more made: said once, with its day, seen wherever the last of them may be taken or planned."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from projects.buying.deciding import decide_all
from projects.buying.gathering import gather
from projects.models import Project
from projects.services.reserving import reserve_project
from stash.models import Shade
from stash.services.refusal import ChangedMeanwhile, Refusal
from stash.services.yarns import say_no_more_made
from tests.factories import make_cone, make_shade, make_supplier
from tests.projects.buying.shelf import a_shade, job, seller, sold
from tests.projects.pages import typed_plan
from tests.projects.shortages import mats, mats_plan, yard_yarn

pytestmark = pytest.mark.django_db


@pytest.fixture
def today():
    return timezone.localdate()


@pytest.fixture
def rust(owner):
    """70 g of it, a yard a gram; Spruce beside it."""
    yarn = yard_yarn()
    make_cone(make_shade("Spruce", yarn), grams=200, lot="1", code="S1", by=owner)
    shade = make_shade("Rust", yarn, keep_mg=500_000)
    make_cone(shade, grams=70, lot="1", code="R1", by=owner)
    return shade


@pytest.fixture
def gone(rust, today):
    return say_no_more_made(pk=rust.pk, on=today - timedelta(days=3))


@pytest.fixture
def project(rust):
    """Wants 50 yd of Rust."""
    return mats({"A": Shade.objects.get(name="Spruce"), "B": rust})


def body(answer):
    return " ".join(answer.content.decode().split())


class TestTheService:
    def test_it_is_said_with_its_day_and_taken_back(self, rust, today):
        saved = say_no_more_made(pk=rust.pk, on=today, version=rust.version)
        assert (saved.no_more_on, saved.version) == (today, rust.version + 1)
        assert say_no_more_made(pk=rust.pk, on=None).no_more_on is None

    def test_a_day_to_come_is_refused_at_its_field(self, rust, today):
        with pytest.raises(Refusal, match="still to come") as refused:
            say_no_more_made(pk=rust.pk, on=today + timedelta(days=1))
        assert refused.value.field == "on"

    def test_a_shade_changed_meanwhile_is_refused(self, rust, today):
        with pytest.raises(ChangedMeanwhile):
            say_no_more_made(pk=rust.pk, on=today, version=rust.version + 1)


class TestItsPage:
    def sent(self, client, shade, **data):
        version = {"version": Shade.objects.get(pk=shade.pk).version}
        return client.post(reverse("shade-no-more", args=[shade.pk]), version | data)

    def test_it_is_marked_and_the_shade_says_so(self, as_owner, rust, today):
        answer = self.sent(as_owner, rust, on=today.isoformat())
        assert answer.url == reverse("shade-page", args=[rust.pk])
        page = body(as_owner.get(answer.url))
        assert "Rust is no more made" in page
        assert "70 g free of 70 g" in page

    def test_it_is_made_again(self, as_owner, gone):
        assert self.sent(as_owner, gone, back="1").status_code == 302
        assert Shade.objects.get(pk=gone.pk).no_more_on is None

    @pytest.mark.parametrize("on", ["", "soon", "2026-13-40", "9999-12-31"])
    def test_what_is_no_day_or_one_to_come_is_refused(self, as_owner, rust, on):
        answer = self.sent(as_owner, rust, on=on)
        assert answer.status_code == 422
        assert list(answer.context["form"].errors) == ["on"]
        assert Shade.objects.get(pk=rust.pk).no_more_on is None

    def test_a_second_window_is_shown_both_days(self, as_owner, gone, today):
        answer = as_owner.post(
            reverse("shade-no-more", args=[gone.pk]), {"version": gone.version - 1, "on": today.isoformat()}
        )
        assert answer.status_code == 422
        assert "Stands there now" in body(answer)

    @pytest.mark.parametrize("version", ["x", "-4", ""])
    def test_a_version_that_is_none_is_refused(self, as_owner, rust, today, version):
        answer = as_owner.post(
            reverse("shade-no-more", args=[rust.pk]), {"version": version, "on": today.isoformat()}
        )
        assert answer.status_code == 422

    def test_only_owners_mark_it(self, as_helper, rust):
        assert as_helper.get(reverse("shade-no-more", args=[rust.pk])).status_code == 403


class TestWhereItIsSeen:
    def test_a_projects_page_says_how_much_is_left(self, as_viewer, project, gone):
        page = body(as_viewer.get(reverse("project-page", args=[project.pk])))
        assert "<b>Rust is no more made</b>" in page
        assert "last of it, 70 g free of 70 g" in page
        assert reverse("shade-wanted", args=[gone.pk]) in page
        assert reverse("project-instead", args=[project.pk, "B"]) in page

    def test_a_shade_that_is_made_says_nothing(self, as_viewer, project):
        assert "no more made" not in body(as_viewer.get(reverse("project-page", args=[project.pk])))

    def test_a_plan_being_typed_says_it_of_a_shade_just_named(self, as_owner, project, gone):
        other = mats(
            {"A": Shade.objects.get(name="Spruce"), "B": make_shade("Moss", gone.yarn)}, name="Other"
        )
        data = typed_plan(as_owner, other, shade_B="Rust, Yard cotton")
        page = body(as_owner.post(reverse("project-preview", args=[other.pk]), data))
        assert "<b>Rust is no more made</b>" in page
        offered = as_owner.get(reverse("project-shades"), {"shade_B": "Rust"})
        assert "Rust, Yard cotton: no more made" in body(offered)

    def test_the_lists_of_projects_and_shades_say_it_in_words(self, as_viewer, project, gone):
        assert "Rust: no more made." in body(as_viewer.get(reverse("projects")))
        assert "no more made" in body(as_viewer.get(reverse("yarn")))

    def test_the_shelf_is_narrowed_to_such_shades(self, as_viewer, gone):
        answer = as_viewer.get(reverse("yarn"), {"show": "no-more"})
        assert [row.name for row in answer.context["rows"]] == ["Rust"]

    def test_today_asks_who_wants_it_in_place_of_an_order(self, as_viewer, gone):
        assert "Who wants the last of it" in body(as_viewer.get(reverse("today")))

    def test_no_way_out_buys_it(self, as_owner, rust, today, owner):
        make_supplier()
        short = mats({"A": Shade.objects.get(name="Spruce"), "B": rust}, plan=mats_plan(pieces=9))
        address = reverse("project-ways", args=[short.pk])
        assert ">Buy " in body(as_owner.get(address))
        say_no_more_made(pk=rust.pk, on=today)
        assert ">Buy " not in body(as_owner.get(address))

    def test_whoever_wants_it_is_named_with_need_and_verdict(self, as_viewer, project, gone):
        mats(
            {"A": Shade.objects.get(name="Spruce")},
            name="Without",
            plan=mats_plan(pick_order=mats_plan().order),
        )
        answer = as_viewer.get(reverse("shade-wanted", args=[gone.pk]))
        ((row,),) = [answer.context["rows"]]
        assert (row.project.name, row.need, row.flag_text) == ("Plain mats", "50.0 yd", "enough")

    def test_a_shade_that_nobody_wants(self, as_viewer, gone):
        assert "No project wants it" in body(as_viewer.get(reverse("shade-wanted", args=[gone.pk])))
        assert as_viewer.get(reverse("shade-wanted", args=[999_999])).status_code == 404

    def test_pages_that_take_yarn_for_no_project_say_who_has_it_reserved(self, as_owner, project, gone):
        reserve_project(pk=project.pk)
        cone = gone.cones.get()
        for name in ("cone-write-off", "cone-oddment"):
            page = body(as_owner.get(reverse(name, args=[cone.pk])))
            assert "Rust is no more made" in page
            assert "Reserved for" in page
            assert "Plain mats" in page
        page = body(
            as_owner.get(reverse("cone-write-off", args=[Shade.objects.get(name="Spruce").cones.get().pk]))
        )
        assert "no more made" not in page

    def test_retiring_a_cone_of_it_says_so_first(self, as_owner, gone):
        page = body(as_owner.get(reverse("cone-retire", args=[gone.cones.get().pk])))
        assert "Rust is no more made" in page
        assert "Who wants it" in page

    def test_who_wants_it_asks_the_same_for_twice_the_projects(
        self, as_viewer, gone, django_assert_num_queries
    ):
        shades = {"A": Shade.objects.get(name="Spruce"), "B": gone}
        address = reverse("shade-wanted", args=[gone.pk])
        for number in range(2):
            for one in range(number + 1):
                mats(shades, name=f"Mats {number} {one}")
            as_viewer.get(address)
            with django_assert_num_queries(9):
                # Studio, session, person; the shade, its stock, its claims; projects, their shades, the cones.
                as_viewer.get(address)
        assert Project.objects.count() == 3


class TestTheShadesForm:
    def test_one_put_up_more_is_kept_with_the_shade(self, as_owner, rust):
        address = reverse("shade-edit", args=[rust.pk])
        form = as_owner.get(address).context["form"]
        assert not form["one_more"].value()
        data = {
            "name": "Rust",
            "colour": rust.colour,
            "keep_mg": "500 g",
            "version": rust.version,
            "note": "",
        }
        as_owner.post(address, data | {"one_more": "on"})
        assert Shade.objects.get(pk=rust.pk).one_more
        as_owner.post(address, data | {"version": rust.version + 1})
        assert not Shade.objects.get(pk=rust.pk).one_more


class TestBuying:
    def test_no_put_up_of_it_is_proposed_for_a_job_nor_for_its_keep_level(self, owner, today):
        shade = a_shade("Slate", keep_mg=500_000)
        job(shade)
        sold(shade, seller())
        asking, _ = decide_all(gather(today))
        assert [one.chosen is not None for one in asking] == [True]
        say_no_more_made(pk=shade.pk, on=today)
        asking, coming = decide_all(gather(today))
        assert all(one.chosen is None and not one.choices for one in asking)
        assert not coming

    def test_a_shade_kept_for_its_lot_is_ordered_one_more_of(self, owner, today):
        shade = a_shade("Slate")
        job(shade)
        sold(shade, seller(), grams=10)

        def number():
            ((one,), _) = decide_all(gather(today))
            return one.chosen.counted.number

        plain = number()
        Shade.objects.filter(pk=shade.pk).update(one_more=True)
        assert number() == plain + 1
