"""Writes without end until it is killed: `python -m tests.concurrency.writer CONE CLAIM PERSON`."""

import os
import sys
from itertools import count

import django


def main(cone_id: int, claim_id: int, person_id: int) -> None:
    from stash.models import Person
    from stash.services.reserving import Wanted, release, reserve
    from stash.services.weighing import weigh

    by = Person.objects.get(pk=person_id)
    release(claim_id=claim_id)
    for number in count():
        weigh(cone_id=cone_id, scale_mg=400_000 + number % 7, gross=False, by=by, reason="again")
        wanted = [Wanted(cone_id, "warp", 2, 10, 100_000), Wanted(cone_id, "weft", 0, 10, 50_000)]
        reserve(claim_id=claim_id, wanted=wanted)
        if number == 0:
            sys.stdout.write("writing\n")
            sys.stdout.flush()
        release(claim_id=claim_id)


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "stash.site.settings")
    django.setup()
    main(*map(int, sys.argv[1:]))
