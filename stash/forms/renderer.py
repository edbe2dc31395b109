"""How every form of the studio is drawn: one template for a field, one for a whole form."""

from django.forms.renderers import TemplatesSetting


class StudioRenderer(TemplatesSetting):
    """`{{ form }}` draws summary and fields, `{{ form.size.as_field_group }}` one field, hint and errors."""

    form_template_name = "stash/_form.html"
    field_template_name = "stash/_field.html"
