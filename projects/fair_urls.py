"""Addresses of fairs, below /fairs/."""

from django.urls import path

from projects.views import fairs

urlpatterns = [
    path("", fairs.fairs, name="fairs"),
    path("new/", fairs.fair_new, name="fair-new"),
    path("<int:pk>/", fairs.fair_page, name="fair-page"),
    path("<int:pk>/edit/", fairs.fair_edit, name="fair-edit"),
    path("<int:pk>/remove/", fairs.fair_remove, name="fair-remove"),
    path("<int:pk>/projects/", fairs.fair_projects, name="fair-projects"),
]
