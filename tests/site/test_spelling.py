"""The studio's spelling: one catalogue of words, complete and in use."""

import gettext
import re

import pytest
from django.conf import settings
from django.urls import reverse

from stash.models import Studio
from tests.factories import make_shade

CATALOGUE = settings.CODE / "stash" / "locale" / "en_US" / "LC_MESSAGES"
MARKED = re.compile(
    r"""(?:\b_\(|\{%\s*translate\s+)\s*"([^"]+)"|\{%\s*blocktranslate[^%]*%\}(.*?)\{%\s*endblocktranslate""",
    re.DOTALL,
)


def marked_words() -> set[str]:
    """Every text in the source that is marked for the other spelling."""
    found = set()
    for folder in ("stash", "projects"):
        for path in (settings.CODE / folder).rglob("*"):
            if path.suffix in (".py", ".html"):
                for plain, block in MARKED.findall(path.read_text()):
                    text = plain or " ".join(block.split())
                    found.add(re.sub(r"\{\{ (\w+) \}\}", r"%(\1)s", text))
    return found


def test_every_marked_text_has_its_other_spelling():
    with (CATALOGUE / "django.mo").open("rb") as file:
        words = gettext.GNUTranslations(file)
    marked = marked_words()
    assert len(marked) > 5
    assert {text for text in marked if words.gettext(text) == text} == set()


def test_the_compiled_catalogue_is_that_of_the_text():
    text = (CATALOGUE / "django.po").read_text()
    written = dict(re.findall(r'msgid "(.+)"\nmsgstr "(.+)"', text))
    with (CATALOGUE / "django.mo").open("rb") as file:
        words = gettext.GNUTranslations(file)
    assert {text: words.gettext(text) for text in written} == written


@pytest.mark.parametrize(("spelling", "word"), [("british", "Colour"), ("american", "Color")])
def test_pages_follow_the_spelling_that_the_studio_chose(as_owner, spelling, word):
    Studio.objects.update(spelling=spelling)
    text = as_owner.get(reverse("shade-edit", args=[make_shade().pk])).content.decode()
    assert re.findall(r"\b(Colou?r)\b", re.sub(r"<[^>]*>", " ", text)) == [word]
