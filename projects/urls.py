"""Addresses of the projects, below /projects/."""

from django.urls import include, path

from projects.views import (
    actions,
    ahead,
    bench,
    copies,
    files,
    instead,
    kits,
    lists,
    most,
    orders,
    pages,
    pictures,
    record,
    sheets,
    stages,
    trials,
    using,
    wanting,
    ways,
    wishes,
)

urlpatterns = [
    path("", lists.project_list, name="projects"),
    # Who gets which cone, over the whole studio
    path("proposal/", include("projects.proposal_urls")),
    path("new/", pages.project_new, name="project-new"),
    path("shades/", pages.shade_names, name="project-shades"),
    path("preview/", pages.preview, name="project-preview-new"),
    path("<int:pk>/", pages.project_page, name="project-page"),
    path("<int:pk>/preview/", pages.preview, name="project-preview"),
    path("<int:pk>/reserve/", actions.reserve, name="project-reserve"),
    path("<int:pk>/release/", actions.release, name="project-release"),
    path("<int:pk>/new-grist/", actions.new_grist, name="project-new-grist"),
    path("<int:pk>/put-away/", actions.put_away, name="project-put-away"),
    # Of which lots its shades are taken
    path("<int:pk>/lots/", wishes.project_wishes, name="project-wishes"),
    # Who plans with a shade
    path("wanting/<int:shade_pk>/", wanting.shade_wanted, name="shade-wanted"),
    # What it really took
    path("<int:pk>/wound/", using.project_wound, name="project-wound"),
    path("<int:pk>/weigh-back/", using.project_weigh_back, name="project-weigh-back"),
    path("<int:pk>/sheet/", sheets.project_sheet, name="project-sheet"),
    # For the board and the loom
    path("<int:pk>/ticket/", bench.ticket, name="project-ticket"),
    path("<int:pk>/ticket/phone/", bench.ticket_phone, name="project-ticket-phone"),
    path("<int:pk>/ticket/done/", bench.ticket_done, name="project-ticket-done"),
    path("<int:pk>/ticket/keep/", bench.ticket_keep, name="project-ticket-keep"),
    path("<int:pk>/ticket/share/", bench.ticket_share, name="project-ticket-share"),
    path("<int:pk>/threading/", bench.threading, name="project-threading"),
    path("<int:pk>/weft-sheet/", bench.weft_sheet, name="project-weft-sheet"),
    # Used again: copied, saved to a file, opened from one
    path("open/", files.project_open, name="project-open"),
    path("<int:pk>/copy/", copies.project_copy, name="project-copy"),
    path("<int:pk>/file/", files.project_save, name="project-save"),
    path("<int:pk>/kits/", kits.project_kits, name="project-kits"),
    # As it goes on: steps, notes, photos
    path("<int:pk>/stage/", stages.project_stage, name="project-stage"),
    path("<int:pk>/cut-off/", stages.project_cut_off, name="project-cut-off"),
    path("<int:pk>/notes/", record.project_note, name="project-note"),
    path("<int:pk>/notes/<int:note_pk>/remove/", record.project_note_remove, name="project-note-remove"),
    path("<int:pk>/photos/", record.project_photo_add, name="project-photo-add"),
    path("<int:pk>/photos/<int:project_photo_pk>/", record.project_photo, name="project-photo"),
    path(
        "<int:pk>/photos/<int:project_photo_pk>/remove/",
        record.project_photo_remove,
        name="project-photo-remove",
    ),
    path("<int:pk>/cloth.png", pictures.cloth, name="project-cloth"),
    # The cloth from near, and the orders as rows
    path("<int:pk>/cloth/", pictures.cloth_page, name="project-cloth-page"),
    path("order/", orders.order_rows, name="project-order-new"),
    path("<int:pk>/order/", orders.order_rows, name="project-order"),
    # What lies ahead of a shade
    path("ahead/<int:shade_pk>/", ahead.shade_ahead, name="shade-ahead"),
    # Ways out, trials, and how far the shelf goes
    path("weavable/", most.weavable_list, name="weavable"),
    path("<int:pk>/ways-out/", ways.project_ways, name="project-ways"),
    path("<int:pk>/ways-out/move/<int:claim>/", ways.project_move, name="project-move"),
    path("<int:pk>/beside/", trials.project_beside, name="project-beside"),
    path("<int:pk>/more/", most.project_more, name="project-more"),
    # Another shade in place of one
    path("<int:pk>/instead/<str:key>/", instead.project_instead, name="project-instead"),
    path("instead/<int:shade_pk>/", instead.shade_instead, name="shade-instead"),
]
