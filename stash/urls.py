"""Addresses of the shelf, below /yarn/."""

from django.urls import path

from stash.views import (
    bulk,
    changes,
    cones,
    cores,
    differences,
    imports,
    labels,
    photos,
    receiving,
    shades,
    shelf,
    shelf_views,
    stocktakes,
    yarns,
)

urlpatterns = [
    path("", shelf.shelf, name="yarn"),
    # Views that are kept, and photos
    path("views/", shelf_views.shelf_views, name="shelf-views"),
    path("photos/<int:pk>/", photos.photo, name="photo"),
    path("shades/<int:pk>/photo/", photos.shade_photo, name="shade-photo"),
    path("cones/<int:pk>/photo/", photos.cone_photo, name="cone-photo"),
    # What is ticked on the Yarn page
    path("ticked/cones/move/", bulk.cones_move, name="cones-move"),
    path("ticked/cones/condition/", bulk.cones_condition, name="cones-condition"),
    path("ticked/cones/retire/", bulk.cones_retire, name="cones-retire"),
    path("ticked/shades/keep/", bulk.shades_keep, name="shades-keep"),
    path("ticked/shades/retire/", bulk.shades_retire, name="shades-retire"),
    path("add/", cones.cone_add, name="cone-add"),
    path("kinds/new/", yarns.yarn_new, name="yarn-new"),
    path("kinds/<int:pk>/", yarns.yarn_page, name="yarn-page"),
    path("kinds/<int:pk>/edit/", yarns.yarn_edit, name="yarn-edit"),
    path("kinds/<int:pk>/retire/", yarns.yarn_retire, name="yarn-retire"),
    path("kinds/<int:yarn_pk>/shades/new/", shades.shade_new, name="shade-new"),
    path("shades/<int:pk>/", shades.shade_page, name="shade-page"),
    path("shades/<int:pk>/edit/", shades.shade_edit, name="shade-edit"),
    path("shades/<int:pk>/retire/", shades.shade_retire, name="shade-retire"),
    path("shades/<int:pk>/no-more/", shades.shade_no_more, name="shade-no-more"),
    path("cones/<int:pk>/", cones.cone_page, name="cone-page"),
    path("cones/<int:pk>/edit/", cones.cone_edit, name="cone-edit"),
    path("cones/<int:pk>/move/", cones.cone_move, name="cone-move"),
    path("cones/<int:pk>/retire/", cones.cone_retire, name="cone-retire"),
    path("cones/<int:pk>/ledger/", cones.cone_ledger, name="cone-ledger"),
    # Changes of one cone
    path("cones/<int:pk>/wind-over/", changes.cone_wind_over, name="cone-wind-over"),
    path("cones/<int:pk>/split/", changes.cone_split, name="cone-split"),
    path("cones/<int:pk>/join/", changes.cone_join, name="cone-join"),
    path("cones/<int:pk>/condition/", changes.cone_condition, name="cone-condition"),
    path("cones/<int:pk>/oddments/", changes.cone_oddment, name="cone-oddment"),
    path("cones/<int:pk>/write-off/", changes.cone_write_off, name="cone-write-off"),
    path("cones/<int:pk>/take-back/", changes.cone_take_back, name="cone-take-back"),
    # Kinds of core
    path("cores/", cores.cores, name="cores"),
    path("cores/<int:pk>/", cores.core_edit, name="core-edit"),
    # Receiving
    path("receive/", receiving.receive, name="receive"),
    path("deliveries/", receiving.deliveries, name="deliveries"),
    path("deliveries/<int:pk>/", receiving.delivery_page, name="delivery-page"),
    # Stocktakes
    path("stocktake/", stocktakes.stocktakes, name="stocktakes"),
    path("stocktake/<int:pk>/", stocktakes.stocktake_page, name="stocktake-page"),
    path("stocktake/<int:pk>/counts/", stocktakes.stocktake_counts, name="stocktake-counts"),
    path("stocktake/<int:pk>/differences/", differences.stocktake_differences, name="stocktake-differences"),
    path("stocktake/<int:pk>/close/", stocktakes.stocktake_close, name="stocktake-close"),
    path("stocktake/<int:pk>/report/", stocktakes.stocktake_report, name="stocktake-report"),
    path("stocktake/<int:pk>/paper/", stocktakes.stocktake_paper, name="stocktake-paper"),
    # Labels
    path("labels/", labels.labels, name="labels"),
    # Bringing in a spreadsheet
    path("import/", imports.import_new, name="import"),
    path("import/example.csv", imports.import_example, name="import-example"),
    path("import/<slug:token>/", imports.import_rows, name="import-rows"),
    path("import/<slug:token>/columns/", imports.import_columns, name="import-columns"),
    path("import/<slug:token>/run/", imports.import_run, name="import-run"),
    path("import/<slug:token>/leave/", imports.import_leave, name="import-leave"),
    path("import/<slug:token>/progress/", imports.import_progress, name="import-progress"),
]
