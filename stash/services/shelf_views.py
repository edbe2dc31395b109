"""Views of the Yarn page that a person keeps under a name."""

from urllib.parse import parse_qsl, urlencode

from django.db import transaction

from stash.models import Person, SavedView
from stash.services.refusal import Refusal
from stash.services.saving import save_checked

KEPT = ("by", "q", "fibre", "count", "place", "show", "near", "ends", "lot", "since", "sort")
MOST = 30


def tidy_query(query: str) -> str:
    """What a view keeps of an address: search, filters and order, not the page; "" for nothing of that."""
    pairs = parse_qsl(query, max_num_fields=50) if query.count("&") < 50 else []
    return urlencode([(name, value) for name, value in pairs if name in KEPT])


@transaction.atomic
def keep_view(*, person: Person, name: str, query: str) -> SavedView:
    """Raises Refusal, or ValidationError naming the field."""
    query = tidy_query(query)
    if not query:
        raise Refusal("Nothing is narrowed or sorted: the whole list needs no name.")
    if person.views.count() >= MOST:
        raise Refusal(f"You have {MOST} views. Remove one first.")
    if person.views.filter(name__iexact=name.strip()).exists():
        raise Refusal("You have a view of this name already.", field="name")
    view = SavedView(person=person, name=name.strip(), query=query)
    save_checked(view)
    return view


@transaction.atomic
def drop_view(*, person: Person, pk: int) -> None:
    """Of anybody else's, or none, nothing happens."""
    person.views.filter(pk=pk).delete()
