"""The table of projects: sorting and paging; the cells are written by the template."""

import django_tables2 as tables
from django.db.models import F, QuerySet

from projects.models import Project


class ProjectTable(tables.Table):
    name = tables.Column("Project", order_by=("name",))
    need_on = tables.Column("Winding day", order_by=("need_on",))
    stage = tables.Column("Step", empty_values=(), orderable=False)
    pieces = tables.Column("Pieces", order_by=("pieces",), attrs={"th": {"class": "num"}})
    verdict = tables.Column("Verdict", empty_values=(), orderable=False)

    class Meta:
        model = Project
        fields = ("name", "need_on", "stage", "pieces", "verdict")
        order_by = ("need_on",)

    def order_need_on(self, queryset: QuerySet, is_descending: bool) -> tuple[QuerySet, bool]:
        """A project without a day stands last, whichever way."""
        day = F("need_on").desc(nulls_last=True) if is_descending else F("need_on").asc(nulls_last=True)
        return queryset.order_by(day, "rank", "pk"), True
