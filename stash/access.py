"""The one rule of who may open what.

Every view says what it takes to read and what it takes to change:

    @access(read=Role.VIEWER, change=Role.HELPER)
    def cone_page(request, code): ...

`AccessMiddleware` (in stash.site) lets nobody past a view without such a word; a system check names
views that lack it. Whatever is not GET or HEAD is a change.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from django.http import HttpRequest, HttpResponse

from stash.models.person import Role

View = TypeVar("View", bound=Callable[..., HttpResponse])


@dataclass(frozen=True, slots=True)
class Access:
    """What it takes; None means that no sign-in is needed."""

    read: Role | None
    change: Role | None

    def allows(self, request: HttpRequest) -> bool:
        needed = self.read if request.method in ("GET", "HEAD", "OPTIONS") else self.change
        if needed is None:
            return True
        person = request.user
        return bool(person.is_authenticated and person.is_active and Role(person.role).reaches(needed))


def access(*, read: Role | None, change: Role | None) -> Callable[[View], View]:
    def mark(view: View) -> View:
        view.access = Access(read, change)  # type: ignore[attr-defined]
        return view

    return mark


PUBLIC = access(read=None, change=None)
VIEWERS = access(read=Role.VIEWER, change=Role.VIEWER)
HELPERS = access(read=Role.VIEWER, change=Role.HELPER)
OWNERS_CHANGE = access(read=Role.VIEWER, change=Role.OWNER)
OWNERS = access(read=Role.OWNER, change=Role.OWNER)
HELPERS_ONLY = access(read=Role.HELPER, change=Role.HELPER)
