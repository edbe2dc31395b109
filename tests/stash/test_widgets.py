"""Controls drawn by functions are the controls that Django's templates draw."""

from html.parser import HTMLParser

import pytest
from django import forms
from django.forms.renderers import TemplatesSetting

from stash.forms.renderer import StudioRenderer
from stash.forms.widgets import DRAWN

HOSTILE = "\"'><script>&amp; 1,5"
CHOICES = [("", "Any"), ("a & b", "A <b>"), ("Group", [(1, "One"), (2, "Two")]), (None, "None")]
ATTRS = {"id": "id_x", "required": True, "disabled": False, "data-words": HOSTILE, "rows": 3}
WIDGETS = [
    forms.TextInput(),
    forms.NumberInput(),
    forms.EmailInput(),
    forms.URLInput(),
    forms.PasswordInput(render_value=True),
    forms.HiddenInput(),
    forms.DateInput(),
    forms.DateTimeInput(),
    forms.TimeInput(),
    forms.Textarea(),
    forms.Select(choices=CHOICES),
    forms.SelectMultiple(choices=CHOICES),
    forms.RadioSelect(choices=CHOICES),
    forms.CheckboxSelectMultiple(choices=CHOICES),
]


class Marks(HTMLParser):
    def __init__(self, markup):
        super().__init__(convert_charrefs=True)
        self.found = []
        self.feed(markup)

    def handle_starttag(self, tag, attrs):
        self.found.append((tag, attrs))

    def handle_endtag(self, tag):
        self.found.append((f"/{tag}", []))

    def handle_data(self, data):
        if data.strip():
            self.found.append(
                ("text", data if self.found and self.found[-1][0] == "textarea" else data.strip())
            )


@pytest.mark.parametrize("widget", WIDGETS, ids=lambda widget: type(widget).__name__)
@pytest.mark.parametrize("value", [None, "", "2", "a & b", HOSTILE, "\nfirst line empty"])
def test_a_control_is_what_the_template_draws(widget, value):
    given = [value] if isinstance(widget, (forms.SelectMultiple, forms.CheckboxSelectMultiple)) else value
    ours = widget.render("x", given, ATTRS, renderer=StudioRenderer())
    theirs = widget.render("x", given, ATTRS, renderer=TemplatesSetting())
    assert Marks(ours).found == Marks(theirs).found


def test_no_control_can_be_broken_out_of():
    for widget in WIDGETS:
        drawn = widget.render(HOSTILE, HOSTILE, ATTRS, renderer=StudioRenderer())
        assert "script" not in [tag for tag, _ in Marks(drawn).found]


def test_what_is_drawn_here_is_what_widgets_ask_for():
    assert {widget.template_name for widget in WIDGETS} == set(DRAWN)
