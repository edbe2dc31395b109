"""Addresses of the projects, below /projects/."""

from django.urls import path

from projects.views import actions, lists, pages, pictures, sheets, using

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
    # What it really took
    path("<int:pk>/wound/", using.project_wound, name="project-wound"),
    path("<int:pk>/weigh-back/", using.project_weigh_back, name="project-weigh-back"),
    path("<int:pk>/sheet/", sheets.project_sheet, name="project-sheet"),
    path("<int:pk>/cloth.png", pictures.cloth, name="project-cloth"),
]
