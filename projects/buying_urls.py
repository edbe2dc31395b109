"""What should be ordered, below /buying/; suppliers and orders themselves know no project (stash.buying_urls)."""

from django.urls import path

from projects.views import buying

urlpatterns = [
    path("", buying.buying, name="buying"),
    path("write/<int:supplier_pk>/", buying.buying_write, name="buying-write"),
]
