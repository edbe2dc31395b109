"""The studio's addresses, and beside them the floors."""

from django.urls import include, path

from tests.speed import reserving
from tests.speed.floors import projects, shelf, today

urlpatterns = [
    path("floor/yarn/", shelf.by_shade),
    path("floor/yarn/cones/", shelf.by_cone),
    path("floor/projects/", projects.listed),
    path("floor/projects/<int:pk>/", projects.one),
    path("floor/projects/<int:pk>/reserve/", reserving.reserve),
    path("floor/today/", today.today),
    path("", include("stash.site.urls")),
]

handler400 = "stash.site.views.errors.bad_request"
handler403 = "stash.site.views.errors.forbidden"
handler404 = "stash.site.views.errors.not_found"
handler500 = "stash.site.views.errors.server_error"
