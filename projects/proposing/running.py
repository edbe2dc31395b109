"""Working a proposal out beside the request that asked for it, telling progress at its desk."""

from __future__ import annotations

import logging
from threading import Thread

from django.db import OperationalError, connections

from projects.proposing.gathering import gather
from projects.proposing.run_desk import Cancelled, Run
from projects.proposing.solving import solve

log = logging.getLogger(__name__)


def run_beside(run: Run) -> None:
    """Begin and return. If the server stops meanwhile, the run gives no more signs of life, and nothing was written."""

    def work() -> None:
        try:
            work_out(run)
        finally:
            connections.close_all()

    Thread(target=work, name="proposal", daemon=True).start()


def work_out(run: Run) -> None:
    """Gather, solve, keep. Raises nothing: nobody may be listening."""
    try:
        with run.alive():
            run.tell("The shelf and the plans are read.")
            gathered = gather()
            proposal = solve(gathered, run.tell)
            run.tell("What is proposed is written down.")
        run.succeed(proposal.as_data())
    except Cancelled:
        run.stop()
    except OperationalError:
        run.fail("The books were busy for too long.")
    except Exception:
        run.fail("Something of ours went wrong; the server's log says what.")
        log.exception("A proposal failed")
