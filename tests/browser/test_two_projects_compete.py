"""Two projects compete for one lot: the proposal serves both, is accepted in part, and both verdicts turn."""

import re

import pytest

from stash.models import Person, Role
from tests.browser.steps import expect, verdict_of
from tests.projects.proposing.competing import compete

pytestmark = pytest.mark.browser

MATS, RUNNER = "Tea mats", "Hall runner"


@pytest.fixture
def case(site):
    """The mats would take the one cone of the lot that the runner asks for; two cones of another serve them as well."""
    return compete(Person.objects.filter(role=Role.OWNER).first(), reserved=False, names=(MATS, RUNNER))


def _mats_reserve(mine) -> None:
    mine.room("Projects")
    mine.page.get_by_role("link", name=MATS).click()
    mine.page.locator("#project-tools").get_by_role("button", name="Reserve").click()
    expect(mine.page.locator("#messages")).to_contain_text("is put aside")


def _row(page, project):
    return page.get_by_role("row").filter(has=page.get_by_role("link", name=project, exact=True))


def test_the_proposal_serves_both_and_both_verdicts_turn(case, visit):
    mine = visit()
    page = mine.enter_demo()
    mine.room("Projects")
    expect(verdict_of(page, RUNNER)).to_contain_text("Enough")
    _mats_reserve(mine)
    mine.room("Projects")
    expect(verdict_of(page, RUNNER)).to_contain_text("Short of Spruce in lot 1 by 10 warp ends")

    page.get_by_role("button", name="Propose who gets which cone").click()
    expect(page.get_by_role("heading", name="What would change")).to_be_visible()
    expect(_row(page, MATS)).to_contain_text(f"together with {RUNNER}")
    expect(_row(page, RUNNER)).to_contain_text(
        re.compile("Short of Spruce in lot 1 by 10 warp ends.*Served, with the buffer", re.DOTALL)
    )
    theirs = page.locator(".offer").filter(has=page.get_by_role("heading", name=MATS))
    expect(theirs.locator(".why")).to_contain_text(f"K-1 of lot 1 goes to {RUNNER}, which asks for this lot.")

    ticks = page.get_by_role("checkbox")
    for tick in ticks.all():
        tick.uncheck()
    page.get_by_role("checkbox", name=f"Take what is proposed for {MATS} together with {RUNNER}").check()
    page.get_by_role("button", name="Accept what is ticked").click()
    expect(page.locator("#messages")).to_have_text(f"Accepted: {MATS} and {RUNNER} have what is proposed.")
    expect(_row(page, RUNNER)).to_contain_text("accepted")

    mine.room("Projects")
    for project in (MATS, RUNNER):
        expect(verdict_of(page, project)).to_contain_text("Enough, with the buffer.")
        expect(_row(page, project)).to_contain_text("Yarn is put aside.")
    page.get_by_role("link", name=MATS).click()
    expect(page.locator("#put-aside")).to_contain_text(re.compile("K-2a.*K-2b", re.DOTALL))


def test_without_script_it_is_looked_at_again_and_told_what_changed_meanwhile(case, visit):
    mine, other = visit(script=False), visit()
    page = mine.enter_demo()
    _mats_reserve(mine)
    mine.room("Projects")
    page.get_by_role("button", name="Propose who gets which cone").click()
    for _ in range(100):
        if not page.get_by_role("link", name="Look again").count():
            break
        page.wait_for_timeout(50)
        page.get_by_role("link", name="Look again").click()
    expect(_row(page, MATS)).to_contain_text(f"together with {RUNNER}")

    other.enter_demo()
    other.room("Projects")
    other.page.get_by_role("link", name=MATS).click()
    other.page.locator("#project-tools").get_by_role("button", name="Release").click()
    expect(other.page.locator("#messages")).to_contain_text("holds no yarn any more")

    page.get_by_role("button", name="Accept what is ticked").click()
    expect(page.locator("#messages")).to_contain_text(
        f"The reservation of {MATS} was changed since the proposal was made."
    )
    expect(page.locator("#messages")).to_contain_text("Nothing was changed.")
