"""The list of yarns, by kind."""

import django_tables2 as tables


class KindTable(tables.Table):
    """Headings and orders of the list by yarn; its template writes the cells."""

    name = tables.Column("Yarn", order_by=("search",))
    fibres = tables.Column("Fibres", orderable=False)
    grist = tables.Column("Length per weight", orderable=False, attrs={"th": {"class": "num"}})
    shades = tables.Column("Shades", order_by=("shade_count",), attrs={"th": {"class": "num"}})
    on_hand = tables.Column("On hand", order_by=("on_hand_mg",), attrs={"th": {"class": "num"}})

    class Meta:
        order_by = ("name",)
