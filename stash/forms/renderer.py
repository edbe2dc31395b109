"""How every form of the studio is drawn: one template for a whole form, functions for fields and controls."""

from typing import Any

from django.forms.renderers import TemplatesSetting
from django.http import HttpRequest

from stash.forms.bound import StudioField
from stash.forms.widgets import DRAWN


class StudioRenderer(TemplatesSetting):
    """`{{ form }}` draws summary and fields, `{{ form.size.as_field_group }}` one field, hint and errors."""

    form_template_name = "stash/_form.html"
    bound_field_class = StudioField

    def render(self, template_name: str, context: dict[str, Any], request: HttpRequest | None = None) -> str:
        draw = DRAWN.get(template_name)
        return draw(context) if draw else super().render(template_name, context, request)
