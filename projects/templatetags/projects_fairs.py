"""How templates write the days of a fair."""

from django import template

from projects.fairs import span
from projects.models import Fair

register = template.Library()


@register.filter
def fair_days(fair: Fair) -> str:
    """19 and 20 June 2027."""
    return span(fair.begins_on, fair.ends_on)
