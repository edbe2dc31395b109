"""Two people edit the same thing: the second is shown both texts, and nothing is overwritten unseen."""

import pytest
from django.urls import reverse

from stash.models import Cone, Shade, Yarn
from tests.factories import make_cone, make_shade
from tests.stash.reading import Read
from tests.stash.sending import send, typed

# page, what the first and the second change, how the first's text is shown to the second
EDITS = [
    ("yarn-edit", Yarn, {"note": "first note"}, {"note": "second note"}, "Stands there now: first note"),
    (
        "yarn-edit",
        Yarn,
        {"choice": "computed"},
        {"choice": ""},
        "Stands there now: the one computed from the count",
    ),
    (
        "yarn-edit",
        Yarn,
        {"fibres": "60 % silk, 40 % wool"},
        {"fibres": "cotton"},
        "Stands there now: 60 % silk, 40 % wool",
    ),
    ("shade-edit", Shade, {"keep_mg": "110"}, {"keep_mg": "4 oz"}, "Stands there now: 110"),
    ("shade-edit", Shade, {"colour": "#000000"}, {"colour": "#ffffff"}, "Stands there now: #000000"),
    ("cone-edit", Cone, {"note": "first note"}, {"note": ""}, "Stands there now: first note"),
    ("cone-edit", Cone, {"lot": ""}, {"lot": "9"}, "Stands there now: nothing"),
    ("cone-edit", Cone, {"form": "tube"}, {"form": "skein"}, "Stands there now: tube"),
]


@pytest.fixture
def cone(owner):
    return make_cone(make_shade("Spruce"), 250, lot="7", place="B2")


@pytest.mark.parametrize(("page", "model", "first", "second", "shown"), EDITS)
def test_the_second_save_is_shown_both_texts_and_may_be_sent_again(
    as_owner, cone, page, model, first, second, shown
):
    key = model.objects.get().pk
    opened = typed(as_owner, page, key)
    assert send(as_owner, page, key, **opened | first).status_code == 302
    refused = send(as_owner, page, key, **opened | second)
    read = Read(refused)
    assert refused.status_code == 422
    assert "was changed by someone else after you opened this form" in read.text
    assert shown in read.text
    assert read.text.count("Stands there now:") == 1
    assert {name: read.value(name) for name in second} == second
    assert model.objects.get().version == 2
    assert (
        send(as_owner, page, key, **opened | second | {"version": read.value("version")}).status_code == 302
    )
    stands = typed(as_owner, page, key)
    assert model.objects.get().version == 3
    assert page == "shade-edit" or {name: stands[name] for name in second} == second


@pytest.mark.parametrize(("page", "model"), [("yarn-edit", Yarn), ("shade-edit", Shade), ("cone-edit", Cone)])
def test_a_form_without_its_version_never_overwrites(as_owner, cone, page, model):
    key = model.objects.get().pk
    fields = typed(as_owner, page, key)
    refused = send(as_owner, page, key, **fields | {"version": "", "note": "unseen"})
    assert refused.status_code == 422
    assert model.objects.get().note == ""
    assert Read(refused).value("version") == "1"


@pytest.mark.parametrize("version", ["moon", "-1", "9" * 30, "1.5"])
def test_a_version_that_is_none_is_refused_in_words(as_owner, cone, version):
    fields = typed(as_owner, "cone-edit", cone.pk)
    refused = send(as_owner, "cone-edit", cone.pk, **fields | {"version": version})
    assert refused.status_code == 422
    assert "This form was sent without its version. Open it anew." in Read(refused).text


def test_retiring_in_between_counts_as_a_change(as_owner, cone):
    opened = typed(as_owner, "cone-edit", cone.pk)
    send(as_owner, "cone-retire", cone.pk, reason="empty")
    assert send(as_owner, "cone-edit", cone.pk, **opened).status_code == 422
    assert Read(as_owner.get(reverse("cone-page", args=[cone.pk]))).text.count("Retired on") == 1
