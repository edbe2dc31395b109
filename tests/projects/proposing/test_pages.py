"""The pages of a proposal: begun, watched, read, accepted; and what is said where it cannot be."""

import json
import os
import shutil
import time

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from projects.models import Project
from projects.proposing import running
from projects.proposing.run_desk import Run, find_run, runs_of, start
from projects.proposing.running import work_out
from projects.services.reserving import release_project, reserve_project
from projects.views import proposals
from tests.books import assert_books_agree
from tests.projects.proposing.competing import compete
from tests.projects.shortages import mats

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def at_once(monkeypatch):
    """Worked out within the request, in the test's own transaction, and no run of another test is still about."""
    shutil.rmtree(Run.room(), ignore_errors=True)
    monkeypatch.setattr(proposals, "run_beside", work_out)
    yield
    shutil.rmtree(Run.room(), ignore_errors=True)


@pytest.fixture
def case(owner):
    return compete(owner)


@pytest.fixture
def address(as_owner, case) -> str:
    return as_owner.post(reverse("proposals")).url


def text(answer) -> str:
    return " ".join(answer.content.decode().split())


def said(answer) -> list[str]:
    return [str(message) for message in answer.context["messages"]]


def take(client: Client, address: str, *projects: Project):
    return client.post(f"{address}accept/", {"take": [one.pk for one in projects]}, follow=True)


# --- Beginning and watching -----------------------------------------------------------------------------
def test_the_list_of_projects_begins_one_and_shows_that_it_waits(as_owner, case):
    listed = as_owner.get(reverse("projects")).content.decode()
    assert f'action="{reverse("proposals")}"' in listed and "Propose who gets which cone" in listed
    address = as_owner.post(reverse("proposals")).url
    assert f'href="{address}"' in as_owner.get(reverse("projects")).content.decode()
    assert f'href="{address}"' in as_owner.get(reverse("proposals")).content.decode()


def test_a_visitor_is_not_offered_one(as_viewer, case):
    assert "which cone" not in as_viewer.get(reverse("projects")).content.decode()
    assert "which cone" not in as_viewer.get(reverse("project-page", args=[case.mats.pk])).content.decode()


def test_while_it_runs_the_page_says_how_far_it_is_and_can_be_looked_at_again(as_owner, owner):
    run, _ = start(by_id=owner.pk)
    run.tell("Who can be served is worked out.", 3, 7)
    address = reverse("proposal", args=[run.token])
    page = as_owner.get(address)
    assert '<progress max="7" value="3"' in text(page) and f'href="{address}">Look again' in text(page)
    part = as_owner.get(address, headers={"HX-Request": "true", "HX-Target": "proposal-progress"})
    assert part.content.decode().startswith('<div id="proposal-progress"')
    run.succeed(_of_nothing())
    done = as_owner.get(address, headers={"HX-Request": "true", "HX-Target": "proposal-progress"})
    assert done["HX-Refresh"] == "true"


def _of_nothing() -> dict:
    from projects.proposing.gathering import gather
    from projects.proposing.proposal import Proposal
    from tests.projects.proposing.competing import EXACT

    return Proposal(gather(), {}, EXACT).as_data()


def test_one_at_a_time_whoever_asks(as_owner, owner, helper, case):
    theirs, _ = start(by_id=helper.pk)
    answer = as_owner.post(reverse("proposals"), follow=True)
    assert "one at a time" in said(answer)[0]
    theirs.stop()
    mine, _ = start(by_id=owner.pk)
    assert as_owner.post(reverse("proposals")).url == reverse("proposal", args=[mine.token])


def test_one_that_is_cancelled_stops_and_says_so(as_owner, owner):
    run, _ = start(by_id=owner.pk)
    as_owner.post(reverse("proposal-cancel", args=[run.token]))
    assert "It stops as soon as it can" in text(as_owner.get(reverse("proposal", args=[run.token])))
    work_out(run)
    assert "This was cancelled." in text(as_owner.get(reverse("proposal", args=[run.token])))


def test_one_whose_server_was_stopped_says_so_and_keeps_nobody_from_beginning(as_owner, owner, case):
    run, _ = start(by_id=owner.pk)
    then = time.time() - Run.SILENT_FOR - 5
    os.utime(run.folder / "progress.json", (then, then))
    assert "cut off before it was done" in text(as_owner.get(reverse("proposal", args=[run.token])))
    assert as_owner.post(reverse("proposals")).url != reverse("proposal", args=[run.token])


def test_one_that_fails_says_so_and_the_log_says_why(as_owner, owner, monkeypatch, caplog):
    def broken():
        raise RuntimeError("no such shelf")

    monkeypatch.setattr(running, "gather", broken)
    answer = as_owner.post(reverse("proposals"), follow=True)
    assert "No proposal was made." in text(answer) and "no such shelf" in caplog.text


def test_a_run_gives_signs_of_life(owner, monkeypatch):
    monkeypatch.setattr("projects.proposing.run_desk.HEARTBEAT", 0.01)
    run, _ = start(by_id=owner.pk)
    os.utime(run.folder / "progress.json", (1, 1))
    with run.alive():
        for _ in range(200):
            if run.state == "running":
                break
            time.sleep(0.01)
    assert run.state == "running"


# --- Reading --------------------------------------------------------------------------------------------
def test_the_verdict_comes_first_and_says_what_it_takes(as_owner, address):
    found = as_owner.get(address).context["said"]
    assert found.lead == "Both projects can be served; 1 of them only as is proposed."
    assert found.rest == (
        "As things stand, with each reserving in its turn, Runner would be short. For that, yarn that Mats holds moves."
    )
    assert found.paragraphs[0].startswith("It is proven that in this order no more projects can be served")


def test_what_changes_stands_beside_what_is_with_the_reason(as_owner, address):
    page = text(as_owner.get(address))
    first, second = as_owner.get(address).context["said"].projects
    (spruce,) = first.changing
    assert spruce.reasons == ["K-1 of lot 1 goes to Runner, which asks for this lot."]
    assert [(cone.code, cone.now[:12], bool(cone.proposed)) for cone in spruce.cones] == [
        ("K-2a", "", True),
        ("K-2b", "", True),
        ("K-1", "11 warp ends", False),
    ]
    assert [one.shade.name for one in first.unchanged] == ["Rust"]
    assert second.as_it_stands == "Short of Spruce in lot 1 by 10 warp ends (50\u00a0g)"
    assert second.comes_to == "Served, with the buffer"
    assert "goes with Mats" in page and "together with Runner" in page
    assert page.count('name="take"') == 1


def test_where_nothing_changes_the_page_says_so(as_owner, address, case):
    take(as_owner, address, case.mats)
    again = as_owner.post(reverse("proposals"), follow=True)
    assert "nothing changes" in again.context["said"].rest
    assert 'name="take"' not in text(again) and "2 projects for which nothing changes" in text(again)


def test_a_studio_without_projects_is_told_so(as_owner, studio):
    answer = as_owner.post(reverse("proposals"), follow=True)
    assert answer.context["said"].lead == "No project waits for yarn."


def test_twice_the_projects_ask_the_same(as_owner, case):
    """Studio, session, person; projects, shades, reservations, cones."""
    counts = []
    for number in range(2):
        for _ in range(number + 1):
            other = mats({"A": case.spruce, "B": case.rust}, name=f"Other {Project.objects.count()}")
            reserve_project(pk=other.pk)
        address = as_owner.post(reverse("proposals")).url
        with CaptureQueriesContext(connection) as caught:
            assert as_owner.get(address).status_code == 200
        counts.append(len(caught))
    assert counts == [7, 7]


# --- Accepting ------------------------------------------------------------------------------------------
def test_what_is_ticked_is_accepted_with_what_hangs_together(as_owner, address, case):
    answer = take(as_owner, address, case.mats)
    assert said(answer) == ["Accepted: Mats and Runner have what is proposed."]
    assert case.held(case.runner) == {"K-1": 55}
    assert 'name="take"' not in text(answer) and text(answer).count(">accepted<") == 2
    assert_books_agree()


def test_twice_accepted_says_that_it_was(as_owner, address, case):
    take(as_owner, address, case.mats)
    assert "accepted already" in said(take(as_owner, address, case.mats))[0]


def test_what_no_longer_fits_is_said_before_and_after_it_is_asked_for(as_owner, address, case):
    release_project(pk=case.mats.pk)
    assert "The reservation of Mats was changed since" in text(as_owner.get(address))
    assert 'name="take"' not in text(as_owner.get(address))
    answer = take(as_owner, address, case.mats)
    assert said(answer) == [
        "The reservation of Mats was changed since the proposal was made. Work the proposal out anew. "
        "Nothing was changed."
    ]
    assert case.held(case.runner) == {}


@pytest.mark.parametrize("typed", [[], ["x"], ["-1"], ["9" * 30], ["٣"]])
def test_ticks_that_are_none_are_refused_in_words(as_owner, address, case, typed):
    answer = as_owner.post(f"{address}accept/", {"take": typed}, follow=True)
    assert "Tick at least one project" in said(answer)[0]
    assert case.held(case.runner) == {}


def test_a_helper_may_begin_and_accept(as_helper, case):
    address = as_helper.post(reverse("proposals")).url
    take(as_helper, address, case.mats)
    assert case.held(case.runner) == {"K-1": 55}


# --- What is not there ----------------------------------------------------------------------------------
@pytest.mark.parametrize("token", ["nothing", "a" * 22, "..", "x" * 400])
@pytest.mark.parametrize("step", ["", "cancel/", "accept/"])
def test_a_proposal_that_is_not_there_leads_back(as_owner, token, step):
    address = f"{reverse('proposals')}{token}/{step}"
    answer = as_owner.post(address, follow=True) if step else as_owner.get(address, follow=True)
    assert answer.status_code in (200, 404)
    assert token == ".." or "waits here no more" in said(answer)[0]


def test_somebody_elses_is_not_shown(as_owner, owner, helper, case):
    run, _ = start(by_id=helper.pk)
    answer = as_owner.get(reverse("proposal", args=[run.token]), follow=True)
    assert "is somebody else’s" in said(answer)[0]
    assert [one.token for one in runs_of(helper.pk)] == [run.token] and not runs_of(owner.pk)


def test_one_of_another_version_of_the_program_counts_as_gone(as_owner, owner, address):
    run = find_run(address.split("/")[-2], by_id=owner.pk)
    kept = run.proposal()
    kept["parties"][0].pop("wanted")
    (run.folder / "proposal.json").write_text(json.dumps(kept))
    assert "waits here no more" in said(as_owner.get(address, follow=True))[0]


def test_the_ways_out_lead_to_it_where_others_hold_the_shade(as_owner, case):
    page = as_owner.get(reverse("project-ways", args=[case.runner.pk])).content.decode()
    assert f'<a href="{reverse("proposals")}">See whether all can be served from other cones</a>' in page
