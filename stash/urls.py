"""Addresses of the shelf, below /yarn/."""

from django.urls import path

from stash.views import cones, shades, shelf, yarns

urlpatterns = [
    path("", shelf.shelf, name="yarn"),
    path("add/", cones.cone_add, name="cone-add"),
    path("kinds/new/", yarns.yarn_new, name="yarn-new"),
    path("kinds/<int:pk>/", yarns.yarn_page, name="yarn-page"),
    path("kinds/<int:pk>/edit/", yarns.yarn_edit, name="yarn-edit"),
    path("kinds/<int:pk>/retire/", yarns.yarn_retire, name="yarn-retire"),
    path("kinds/<int:yarn_pk>/shades/new/", shades.shade_new, name="shade-new"),
    path("shades/<int:pk>/", shades.shade_page, name="shade-page"),
    path("shades/<int:pk>/edit/", shades.shade_edit, name="shade-edit"),
    path("shades/<int:pk>/retire/", shades.shade_retire, name="shade-retire"),
    path("cones/<int:pk>/", cones.cone_page, name="cone-page"),
    path("cones/<int:pk>/edit/", cones.cone_edit, name="cone-edit"),
    path("cones/<int:pk>/move/", cones.cone_move, name="cone-move"),
    path("cones/<int:pk>/retire/", cones.cone_retire, name="cone-retire"),
    path("cones/<int:pk>/ledger/", cones.cone_ledger, name="cone-ledger"),
]
