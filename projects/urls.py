"""Addresses of the projects, below /projects/."""

from django.urls import path

from projects.views import actions, lists, pages, pictures, sheets

urlpatterns = [
    path("", lists.project_list, name="projects"),
    path("new/", pages.project_new, name="project-new"),
    path("shades/", pages.shade_names, name="project-shades"),
    path("preview/", pages.preview, name="project-preview-new"),
    path("<int:pk>/", pages.project_page, name="project-page"),
    path("<int:pk>/preview/", pages.preview, name="project-preview"),
    path("<int:pk>/reserve/", actions.reserve, name="project-reserve"),
    path("<int:pk>/release/", actions.release, name="project-release"),
    path("<int:pk>/new-grist/", actions.new_grist, name="project-new-grist"),
    path("<int:pk>/put-away/", actions.put_away, name="project-put-away"),
    path("<int:pk>/sheet/", sheets.project_sheet, name="project-sheet"),
    path("<int:pk>/cloth.png", pictures.cloth, name="project-cloth"),
]
