"""Orders in templates: `{% with late=order|lateness:day %}`."""

from django import template

from stash.calc.writing import Measures
from stash.models import Order, OrderLine
from stash.tables import orders

register = template.Library()

register.filter("lateness", orders.lateness)
register.filter("lot_words", orders.lot_words)
register.filter("days", orders.days)


@register.filter
def worth(order: Order) -> str:
    """What an order with its sums costs without carriage."""
    return orders.Worth(order.currency, order.value_cents, order.unpriced_count, None).words


@register.filter
def awaited_packages(line: OrderLine, measures: Measures) -> str:
    """2 cones of 454 g: what has not come of a line."""
    return orders.packages(line.awaited, line.form, line.mass_mg, measures)


@register.filter
def ordered_packages(line: OrderLine, measures: Measures) -> str:
    """4 cones of 454 g: what was ordered."""
    return orders.packages(line.number, line.form, line.mass_mg, measures)


@register.filter
def wanted_packages(line: OrderLine, measures: Measures) -> str:
    """3 cones of 454 g: what was ordered and not cancelled."""
    return orders.packages(line.number - line.cancelled, line.form, line.mass_mg, measures)


@register.filter
def over(came: int, ordered: int) -> int:
    """How many more came than were ordered."""
    return came - ordered
