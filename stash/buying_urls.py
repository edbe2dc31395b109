"""Addresses of suppliers and orders, below /buying/. What is to be ordered, which knows projects, stands beside them."""

from django.urls import path

from stash.views import order_lines, orders, put_ups, shopping, suppliers

urlpatterns = [
    # Suppliers and their put-ups
    path("suppliers/", suppliers.suppliers, name="suppliers"),
    path("suppliers/new/", suppliers.supplier_new, name="supplier-new"),
    path("suppliers/<int:pk>/", suppliers.supplier_page, name="supplier-page"),
    path("suppliers/<int:pk>/edit/", suppliers.supplier_edit, name="supplier-edit"),
    path("suppliers/<int:pk>/retire/", suppliers.supplier_retire, name="supplier-retire"),
    path("suppliers/<int:supplier_pk>/put-ups/new/", put_ups.put_up_new, name="put-up-new"),
    path("put-ups/<int:pk>/", put_ups.put_up_edit, name="put-up-edit"),
    path("put-ups/<int:pk>/retire/", put_ups.put_up_retire, name="put-up-retire"),
    # Orders
    path("orders/", orders.orders, name="orders"),
    path("orders/new/", orders.order_new, name="order-new"),
    path("orders/<int:pk>/", orders.order_page, name="order-page"),
    path("orders/<int:pk>/edit/", orders.order_edit, name="order-edit"),
    path("orders/<int:pk>/ordered/", orders.order_send, name="order-send"),
    path("orders/<int:pk>/not-ordered/", orders.order_take_back, name="order-take-back"),
    path("orders/<int:pk>/close/", orders.order_close, name="order-close"),
    path("orders/<int:pk>/discard/", orders.order_discard, name="order-discard"),
    path("orders/<int:pk>/lines/new/", order_lines.order_line_new, name="order-line-new"),
    path("orders/<int:pk>/lines/<int:line_pk>/", order_lines.order_line_edit, name="order-line-edit"),
    path(
        "orders/<int:pk>/lines/<int:line_pk>/remove/", order_lines.order_line_remove, name="order-line-remove"
    ),
    path(
        "orders/<int:pk>/lines/<int:line_pk>/cancel/", order_lines.order_line_cancel, name="order-line-cancel"
    ),
    # Shopping lists: of one order, or of all that are being written
    path("list/", shopping.shopping_list, name="shopping-list"),
    path("list/text/", shopping.shopping_text, name="shopping-text"),
    path("list/<str:file>", shopping.shopping_file, name="shopping-file"),
]
