"""Whatever is typed into any field of the shelf: an answer in words, never a broken page."""

import pytest
from django.urls import reverse

from stash.models import Entry
from tests.factories import make_cone, make_shade
from tests.stash.sending import send, typed

NASTY = [
    "\x00",
    " ",
    "-1",
    "0",
    "1e9",
    "9" * 400,
    "0." + "0" * 60 + "1",
    "NaN",
    "Infinity",
    "1/0",
    "1,234",
    "1 1/2 1/2",
    "8/2",
    "3/2 cotton",
    "½",
    "²",
    "١٢٣",
    "−5 g",
    "5 g 5 g",
    "yd",
    "%s%n{}{{7*7}}",
    "<script>alert(1)</script>",
    "'; DROP TABLE stash_entry; --",
    "\u202e\u0000\ufeff",
    "\U0001f9f6" * 30,
    "a\nb\r\nc",
    "é" * 300,
    "((((((((((",
]
PAGES = [
    "yarn-new",
    "yarn-edit",
    "shade-new",
    "shade-edit",
    "cone-add",
    "cone-page",
    "cone-edit",
    "cone-move",
    "cone-retire",
]


@pytest.fixture
def keys(owner):
    cone = make_cone(make_shade("Spruce"), 250, lot="7", place="B2")
    yarn, shade = cone.shade.yarn_id, cone.shade_id
    return {
        "yarn-new": (), "cone-add": (), "yarn-edit": (yarn,), "shade-new": (yarn,), "shade-edit": (shade,),
        "cone-page": (cone.pk,), "cone-edit": (cone.pk,), "cone-move": (cone.pk,), "cone-retire": (cone.pk,),
    }  # fmt: skip


@pytest.mark.parametrize("page", PAGES)
def test_one_nasty_text_in_one_field_never_breaks_the_page(as_owner, keys, page):
    args = keys[page]
    fields = typed(as_owner, page, *args)
    for place, name in enumerate(fields):
        # Every field meets a third of the texts, neighbours another third.
        for text in NASTY[place % 3 :: 3]:
            answer = send(as_owner, page, *args, **fields | {name: text})
            assert answer.status_code in (302, 422), (page, name, text)
            assert "<script>alert" not in answer.content.decode()


@pytest.mark.parametrize("page", PAGES)
def test_nasty_texts_in_all_fields_or_none_at_all_never_break_the_page(as_owner, keys, page):
    args = keys[page]
    for text in NASTY:
        fields = dict.fromkeys(typed(as_owner, page, *args), text)
        assert send(as_owner, page, *args, **fields).status_code in (302, 422), (page, text)
    assert as_owner.post(reverse(page, args=args)).status_code in (302, 422)


def test_whatever_was_typed_the_ledger_still_adds_up(as_owner, keys):
    for text in NASTY:
        send(as_owner, "cone-page", *keys["cone-page"], scale=text, reason=text, core=text, how=text)
    entries = list(Entry.objects.order_by("pk"))
    assert sum(entry.change_mg for entry in entries) == entries[-1].after_mg == entries[-1].cone.on_hand_mg
