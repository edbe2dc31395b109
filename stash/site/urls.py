"""Every address of the site. Who may open what stands at each view (stash.access)."""

from django.urls import include, path

from projects.frozen import reckons_otherwise
from projects.views import equipment, fairs
from stash.site.views import backup, calendar, doors, exporting, finding, opening, phones, studio, today
from stash.views import labels, measuring

urlpatterns = [
    path("", today.today, name="today"),
    path("find/", finding.find, name="find"),
    path("claims/<int:pk>/", finding.claim, name="claim"),
    path("welcome/", doors.welcome, name="welcome"),
    path("sign-in/", doors.sign_in, name="sign-in"),
    path("sign-in/demo/", doors.sign_in_demo, name="sign-in-demo"),
    path("sign-out/", doors.sign_out, name="sign-out"),
    path("studio/", studio.studio, name="studio"),
    path("studio/people/new/", studio.person_new, name="person-new"),
    path("studio/people/<int:pk>/", studio.person_edit, name="person-edit"),
    path("studio/password/", studio.password, name="password"),
    # Archive and backups.
    path("welcome/archive/", opening.open_archive, name="open-archive"),
    path("studio/backup/", backup.backup, name="backup"),
    path("studio/backup/file/", backup.backup_download, name="backup-download"),
    path("studio/backup/remove/", backup.backup_remove, name="backup-remove"),
    path("studio/archive/", backup.archive_download, name="archive-download"),
    # Tables to take away
    path("studio/export/", exporting.export, name="export"),
    path("studio/export/<str:file>", exporting.export_table, name="export-table"),
    # A phone signs in once
    path("studio/phone/", phones.phone, name="phone"),
    path("sign-in/phone/", phones.phone_typed, name="phone-typed"),
    path("sign-in/phone/<str:code>/", phones.phone_sign_in, name="phone-sign-in"),
    # The address on labels: kept for ever, they are glued on
    path("k/<str:code>/", labels.label, name="label"),
    # A page of the shelf that also names projects
    path(
        "yarn/kinds/<int:pk>/measure/",
        measuring.yarn_measure,
        {"otherwise": reckons_otherwise},
        name="yarn-measure",
    ),
    path("yarn/", include("stash.urls")),
    path("projects/", include("projects.urls")),
    # Fairs and days, and the days as a calendar reads them at a private address
    path("projects/<int:pk>/fair/", fairs.project_fair, name="project-fair"),
    path("fairs/", include("projects.fair_urls")),
    path("calendar/", calendar.calendar, name="calendar"),
    path("calendar/addresses/", calendar.calendar_addresses, name="calendar-addresses"),
    path("calendar/feed/<str:token>.ics", calendar.calendar_feed, name="calendar-feed"),
    # Equipment: the list knows projects, single things do not
    path("equipment/", equipment.equipment, name="equipment"),
    path("equipment/", include("stash.equipment_urls")),
    # Suppliers and orders
    path("buying/", include("stash.buying_urls")),
    # What should be ordered, which knows projects
    path("buying/", include("projects.buying_urls")),
]

handler400 = "stash.site.views.errors.bad_request"
handler403 = "stash.site.views.errors.forbidden"
handler404 = "stash.site.views.errors.not_found"
handler500 = "stash.site.views.errors.server_error"
