"""Counting along the shelf with a phone whose connection comes and goes: no figure is lost, none counts twice."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from django.contrib.sessions.models import Session

from stash.models import Cone, Count, CountKey, Finding, Person, Place, Stocktake
from stash.services.stocktaking import Figure, begin, close, count
from tests.browser.steps import expect

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

    from tests.browser.watching import Visit

pytestmark = pytest.mark.browser

PLACE = "Shelf B1"
NOTHING_KEPT = """
  Object.defineProperty(window, "localStorage", {
    get() { throw new DOMException("denied", "SecurityError"); }
  });
"""
# False where the page would have the browser ask first.
MAY_LEAVE = "window.dispatchEvent(new Event('beforeunload', {cancelable: true}))"


@pytest.fixture
def stocktake(site) -> Stocktake:
    return begin(place_id=Place.objects.get(name=PLACE).pk, by=Person.objects.get(username="weaver"))


@pytest.fixture
def weighed(stocktake) -> list[Cone]:
    """Its cones whose core is known: for them the field for the figure is all there is."""
    return [cone for cone in stocktake.cones() if cone.core_mg is not None]


def open_page(visit: Visit, stocktake: Stocktake) -> Page:
    page = visit.page if visit.page.url != "about:blank" else visit.enter_demo()
    page.goto(f"/yarn/stocktake/{stocktake.pk}/")
    return page


def choose(page: Page, cone: Cone) -> None:
    page.get_by_role("list").get_by_role("link", name=cone.code).click()
    expect(page.locator("#card-code")).to_have_text(cone.code)


def keep(page: Page, cone: Cone, figure: str) -> None:
    choose(page, cone)
    page.get_by_label("On the scale").fill(figure)
    page.get_by_role("button", name="Keep, next").click()


def status(page: Page) -> Locator:
    return page.get_by_role("status").locator("#sending-words")


def counts() -> dict[int, int | None]:
    """What the studio has: the scale's figure in grams, by cone."""
    return {
        one.cone_id: one.scale_mg and one.scale_mg // 1000
        for one in Count.objects.filter(stocktake__closed_at=None)
    }


def test_three_cones_counted_without_a_connection_are_three_counts(stocktake, weighed, visit):
    mine = visit(phone=True)
    mine.expect_lost_requests()
    page = open_page(mine, stocktake)
    before = list(Cone.objects.values_list("pk", "on_hand_mg"))
    mine.context.set_offline(True)
    for number, cone in enumerate(weighed[:3], 1):
        keep(page, cone, f"{400 + number}")
        expect(status(page)).to_contain_text(f"Not sent: {number}.")
    expect(status(page)).to_contain_text("No connection")
    expect(page.locator("#progress")).to_contain_text("3 counted")
    assert counts() == {}

    mine.context.set_offline(False)
    expect(status(page)).to_have_text("Not sent: 0.")
    assert counts() == {cone.pk: 400 + number for number, cone in enumerate(weighed[:3], 1)}
    assert CountKey.objects.filter(count__stocktake__closed_at=None).count() == 3
    assert list(Cone.objects.values_list("pk", "on_hand_mg")) == before


def test_a_cone_that_belongs_elsewhere_is_counted_without_a_connection_too(stocktake, weighed, visit):
    stray = Cone.objects.live().exclude(place__name=PLACE).exclude(core_mg=None).first()
    mine = visit(phone=True)
    mine.expect_lost_requests()
    page = open_page(mine, stocktake)
    mine.context.set_offline(True)
    page.get_by_label("A cone stands here that is not on the list?").fill(stray.code.lower())
    page.get_by_role("button", name="Count it too").click()
    expect(page.locator("#card-code")).to_have_text(stray.code.lower())
    page.get_by_label("On the scale").fill("199")
    page.get_by_role("button", name="Keep, next").click()
    expect(page.locator("#strays")).to_contain_text(f"{stray.code.lower()}: 199, not sent")
    keep(page, weighed[0], "431")
    assert counts() == {}
    mine.context.set_offline(False)
    expect(status(page)).to_have_text("Not sent: 0.")
    assert counts() == {stray.pk: 199, weighed[0].pk: 431}
    expect(page.locator(f"li[data-cone='{stray.pk}']")).to_contain_text("199 g")
    expect(page.locator("#strays")).to_be_hidden()


def test_a_count_whose_answer_is_lost_is_sent_again_and_counts_once(stocktake, weighed, visit):
    mine = visit(phone=True)
    mine.expect_lost_requests()
    page = open_page(mine, stocktake)
    lost = []

    def lose_the_answer(route):
        lost.append(route.fetch().status)
        route.abort()

    page.route("**/counts/", lose_the_answer, times=1)
    keep(page, weighed[0], "431")
    expect(status(page)).to_have_text("Not sent: 1. No connection; it is tried again by itself.")
    assert lost == [200]
    assert counts() == {weighed[0].pk: 431}

    expect(status(page)).to_have_text("Not sent: 0.")
    assert counts() == {weighed[0].pk: 431}
    assert CountKey.objects.filter(count__stocktake__closed_at=None).count() == 1


def test_what_is_not_sent_outlives_loading_the_page_again(stocktake, weighed, visit):
    mine = visit(phone=True)
    mine.expect_lost_requests()
    page = open_page(mine, stocktake)
    page.route("**/counts/", lambda route: route.abort())
    keep(page, weighed[0], "431")
    expect(status(page)).to_contain_text("Not sent: 1.")
    page.reload()
    expect(status(page)).to_contain_text("Not sent: 1.")
    expect(page.get_by_role("listitem").filter(has_text=weighed[0].code)).to_contain_text("431, not sent")
    page.unroute("**/counts/")
    page.reload()
    expect(status(page)).to_have_text("Not sent: 0.")
    assert counts() == {weighed[0].pk: 431}


def test_signed_out_meanwhile_the_figures_wait_for_the_next_signing_in(stocktake, weighed, visit):
    mine = visit(phone=True)
    page = open_page(mine, stocktake)
    Session.objects.all().delete()
    keep(page, weighed[0], "431")
    keep(page, weighed[1], "432")
    expect(status(page)).to_contain_text("Not sent: 2. You are signed out.")
    assert counts() == {}

    with mine.context.expect_page() as opened:
        page.get_by_role("status").get_by_role("link", name="Sign in").click()
    door = opened.value
    door.get_by_label("Sign-in name").fill("helper")
    door.get_by_label("Password").fill("nine ends and a pick")
    door.get_by_role("button", name="Sign in", exact=True).click()
    door.wait_for_url("**/stocktake/*/")
    expect(status(page)).to_have_text("Not sent: 0.")
    expect(status(door)).to_have_text("Not sent: 0.")
    assert counts() == {weighed[0].pk: 431, weighed[1].pk: 432}
    assert CountKey.objects.filter(count__stocktake__closed_at=None).count() == 2


def test_in_a_browser_that_keeps_nothing_counting_works_and_the_page_says_so(stocktake, weighed, visit):
    mine = visit(phone=True)
    mine.expect_lost_requests()
    mine.context.add_init_script(NOTHING_KEPT)
    page = open_page(mine, stocktake)
    expect(status(page)).to_contain_text("This browser keeps nothing")
    mine.context.set_offline(True)
    keep(page, weighed[0], "431")
    expect(status(page)).to_contain_text("Not sent: 1.")
    assert not page.evaluate(MAY_LEAVE)
    mine.context.set_offline(False)
    expect(status(page)).to_contain_text("Not sent: 0.")
    assert page.evaluate(MAY_LEAVE)
    assert counts() == {weighed[0].pk: 431}


def test_what_could_not_be_kept_stays_on_the_phone_until_it_is_put_away(stocktake, weighed, visit):
    mine = visit(phone=True)
    page = open_page(mine, stocktake)
    close(pk=stocktake.pk, by=Person.objects.get(username="weaver"))
    keep(page, weighed[0], "431")
    refused = page.get_by_role("listitem").filter(has_text="could not be kept")
    expect(refused).to_contain_text(f"{weighed[0].code}, 431, could not be kept: The stocktake was closed on")
    expect(status(page)).to_have_text("Not sent: 0.")
    page.reload()
    expect(refused).to_contain_text("431")
    refused.get_by_role("button", name=f"Put away {weighed[0].code}").click()
    expect(refused).to_have_count(0)
    page.reload()
    expect(page.get_by_text("This stocktake is closed.")).to_be_visible()
    expect(refused).to_have_count(0)


def test_a_figure_that_cannot_be_read_is_said_and_its_cone_comes_again(stocktake, weighed, visit):
    mine = visit(phone=True)
    page = open_page(mine, stocktake)
    keep(page, weighed[0], "4xx1")
    refused = page.get_by_role("listitem").filter(has_text="could not be kept")
    expect(refused).to_contain_text("“xx” is not a unit")
    keep(page, weighed[0], "431")
    expect(refused).to_have_count(0)
    assert counts() == {weighed[0].pk: 431}


def test_another_phones_figures_are_learnt_and_the_later_of_two_stands(stocktake, weighed, visit):
    mine = visit(phone=True)
    mine.expect_lost_requests()
    page = open_page(mine, stocktake)
    mine.context.set_offline(True)
    keep(page, weighed[0], "431")
    # A page can say how old a figure is but for the time that its sending takes.
    page.wait_for_timeout(1500)
    helper = Person.objects.get(username="helper")
    for cone in weighed[:2]:
        figure = Figure(scale_mg=cone.core_mg + cone.on_hand_mg)
        count(
            stocktake_id=stocktake.pk,
            cone_id=cone.pk,
            key=f"other-phone-{cone.pk:08}",
            figure=figure,
            by=helper,
        )
    theirs = counts()
    mine.context.set_offline(False)
    expect(status(page)).to_have_text("Not sent: 0.")
    assert counts() == theirs
    expect(page.locator("#progress")).to_contain_text("2 counted")


def test_one_hand_is_enough(stocktake, weighed, visit):
    """Type, Enter, and the next cone is there with the field ready; all that is pressed is as large as a thumb."""
    mine = visit(phone=True)
    page = open_page(mine, stocktake)
    choose(page, weighed[0])
    scale = page.get_by_label("On the scale")
    page.keyboard.type("431")
    page.keyboard.press("Enter")
    expect(page.locator("#card-code")).not_to_have_text(weighed[0].code)
    expect(scale).to_be_focused()
    expect(scale).to_have_value("")
    for control in (
        scale,
        page.get_by_role("button", name="Keep, next"),
        page.get_by_role("button", name="Not here"),
        page.get_by_role("link", name="Pass over"),
    ):
        expect(control).to_be_in_viewport()
        assert control.bounding_box()["height"] >= 48
    page.keyboard.press("Enter")
    expect(page.get_by_role("alert")).to_have_text(
        "Give what the scale says, or say that the cone is not here."
    )
    page.get_by_role("button", name="Not here").click()
    expect(status(page)).to_have_text("Not sent: 0.")
    assert Count.objects.filter(finding=Finding.ABSENT).count() == 1
    assert mine.sideways() <= 0


def test_when_all_is_counted_the_way_leads_to_the_differences_and_the_report(stocktake, visit):
    mine = visit(phone=True)
    page = open_page(mine, stocktake)
    for cone in stocktake.cones():
        choose(page, cone)
        page.get_by_label("On the scale").fill(f"{(cone.on_hand_mg + (cone.core_mg or 0)) / 1000:.1f}")
        page.get_by_role("button", name="Keep, next").click()
    expect(page.get_by_text("Every cone is counted.")).to_be_visible()
    expect(status(page)).to_have_text("Not sent: 0.")
    page.get_by_role("link", name="To the differences").click()
    page.get_by_role("button", name="within noise").click()
    page.get_by_role("link", name="Close the stocktake").first.click()
    page.get_by_role("button", name="Close it").click()
    page.wait_for_url("**/report/")
    expect(page.get_by_role("heading", level=1)).to_have_text(PLACE)
    stocktake.refresh_from_db()
    assert stocktake.closed_at


def test_without_script_each_count_is_a_form(stocktake, weighed, visit):
    mine = visit(phone=True, script=False)
    page = open_page(mine, stocktake)
    page.get_by_role("list").get_by_role("link", name=weighed[0].code).click()
    page.get_by_label("On the scale").fill("431")
    page.get_by_role("button", name="Keep, next").click()
    expect(page.locator("#messages")).to_contain_text(f"{weighed[0].code}: 431 g")
    shown = page.locator("#card-code").inner_text()
    page.get_by_role("link", name="Pass over").click()
    expect(page.locator("#card-code")).not_to_have_text(shown)
    page.get_by_role("button", name="Not here").click()
    expect(page.locator("#messages")).to_contain_text("not here")
    assert Count.objects.filter(stocktake__closed_at=None).count() == 2
