"""How a form is drawn: every label, hint and error belongs to its field, also for ears."""

from html.parser import HTMLParser

import pytest
from django import forms


class Cone(forms.Form):
    shade = forms.CharField(label="Shade", help_text="As the seller names it.")
    core = forms.CharField(label="Core", required=False)
    keep = forms.BooleanField(label="Keep in stock", required=False, help_text="Asked for when it runs low.")
    form_of = forms.ChoiceField(
        label="Form", widget=forms.RadioSelect, choices=[("cone", "cone"), ("skein", "skein")]
    )
    version = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["core"].unit = "g"


class Page(HTMLParser):
    def __init__(self, markup):
        super().__init__()
        self.elements, self.text = [], []
        self.feed(str(markup))

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.text.append(data.strip())

    def ids(self):
        return [attrs["id"] for _, attrs in self.elements if "id" in attrs]

    def named(self, name):
        return [attrs for tag, attrs in self.elements if attrs.get("name") == name]

    def of(self, kind):
        return [attrs for _, attrs in self.elements if kind in (attrs.get("class") or "").split()]


@pytest.fixture
def refused():
    form = Cone({"shade": "", "form_of": "heap", "version": "1"})
    form.is_valid()
    form.add_error(None, "This cone was weighed meanwhile.")
    return form


def test_every_label_points_at_a_control():
    page = Page(Cone())
    for target in [attrs["for"] for tag, attrs in page.elements if tag == "label"]:
        assert target in page.ids()


def test_no_id_is_given_twice(refused):
    ids = Page(refused).ids()
    assert len(ids) == len(set(ids))


def test_a_control_names_its_hint_and_then_its_error(refused):
    page = Page(refused)
    [shade] = page.named("shade")
    assert shade["aria-invalid"] == "true"
    assert shade["aria-describedby"].split() == ["id_shade_helptext", "id_shade_error"]
    assert {"id_shade_helptext", "id_shade_error"} <= set(page.ids())


def test_a_group_of_choices_names_its_error_for_all_of_them(refused):
    page = Page(refused)
    [group] = [attrs for tag, attrs in page.elements if tag == "fieldset"]
    assert group["aria-describedby"] == "id_form_of_error"
    assert "id_form_of_error" in page.ids()


def test_a_good_form_has_no_summary_and_nothing_marked():
    page = Page(Cone())
    assert not page.of("form-errors")
    assert not [attrs for _, attrs in page.elements if "aria-invalid" in attrs]


def test_the_summary_leads_to_each_field_that_stands_in_the_way(refused):
    page = Page(refused)
    [summary] = page.of("form-errors")
    assert summary["role"] == "alert"
    links = [attrs["href"] for tag, attrs in page.elements if tag == "a"]
    assert links == ["#id_shade", "#id_form_of"]
    assert {link[1:] for link in links} <= set(page.ids())
    assert "This cone was weighed meanwhile." in page.text


def test_each_error_stands_once_in_the_summary_and_once_at_its_field(refused):
    text = Page(refused).text
    assert text.count("This cone was weighed meanwhile.") == 1
    assert sum("This field is required." in piece for piece in text) == 2


def test_a_field_that_may_stay_empty_says_so_and_others_do_not():
    page = Page(Cone())
    assert len(page.of("optional")) == 1  # core; a tick is never demanded
    assert page.named("shade")[0].get("required", "missing") is None


def test_a_unit_stands_behind_its_control():
    page = Page(Cone())
    assert len(page.of("unit")) == 1
    assert "g" in page.text


def test_a_hidden_field_is_drawn_once_and_bare():
    page = Page(Cone())
    assert len(page.named("version")) == 1
    assert "Version" not in page.text


def test_what_was_typed_is_kept_and_escaped():
    form = Cone({"shade": '"><script>', "form_of": "heap", "version": "1"})
    page = Page(form)
    assert page.named("shade")[0]["value"] == '"><script>'
    assert "script" not in [tag for tag, _ in page.elements]
