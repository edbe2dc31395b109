"""Addresses of the shelf, below /yarn/."""

from django.urls import path

from stash.views import cones, differences, imports, shades, shelf, stocktakes, yarns

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
    # Stocktakes
    path("stocktake/", stocktakes.stocktakes, name="stocktakes"),
    path("stocktake/<int:pk>/", stocktakes.stocktake_page, name="stocktake-page"),
    path("stocktake/<int:pk>/counts/", stocktakes.stocktake_counts, name="stocktake-counts"),
    path("stocktake/<int:pk>/differences/", differences.stocktake_differences, name="stocktake-differences"),
    path("stocktake/<int:pk>/close/", stocktakes.stocktake_close, name="stocktake-close"),
    path("stocktake/<int:pk>/report/", stocktakes.stocktake_report, name="stocktake-report"),
    path("stocktake/<int:pk>/paper/", stocktakes.stocktake_paper, name="stocktake-paper"),
    # Bringing in a spreadsheet
    path("import/", imports.import_new, name="import"),
    path("import/example.csv", imports.import_example, name="import-example"),
    path("import/<slug:token>/", imports.import_rows, name="import-rows"),
    path("import/<slug:token>/columns/", imports.import_columns, name="import-columns"),
    path("import/<slug:token>/run/", imports.import_run, name="import-run"),
    path("import/<slug:token>/leave/", imports.import_leave, name="import-leave"),
    path("import/<slug:token>/progress/", imports.import_progress, name="import-progress"),
]
