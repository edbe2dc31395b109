"""The orders of a plan's form as rows, and the strip of threads above them."""

from django import template
from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

from projects.cloth import UNDYED
from projects.forms.plan import PlanForm
from projects.models import Project
from projects.order_rows import Editor, editor, shades_named
from stash.templatetags.stash_draw import chip

register = template.Library()

MOST_RUNS = 600
"""Finer stripes are seen in the cloth picture, not in a strip."""
SAID_RUNS = 12
# A sign's share of the strip where it is narrowest, on a phone: below it, signs would run into each other.
SIGN_SHARE = 0.028
UNDYED_HEX = "#{:02x}{:02x}{:02x}".format(*UNDYED)


@register.simple_tag
def order_editor(form: PlanForm, name: str, project: Project | None = None) -> Editor:
    return editor(form, name, project)


@register.simple_tag
def key_card(form: PlanForm, key: str) -> SafeString:
    """The card of thread of the shade that a key stands for; blank while it stands for none."""
    shade = shades_named(form).get(key)
    return chip(shade.colour if shade else None)


@register.simple_tag
def order_strip(found: Editor) -> SafeString:
    """The order thread by thread in the shades' colours, with the length of each run under it where it fits."""
    if found.order is None:
        return mark_safe("")
    parts: list[str] = []
    said: list[str] = []
    at, total = 0, found.order.length
    for place, (number, key) in enumerate(found.order.runs()):
        if place == MOST_RUNS:
            said = said[:SAID_RUNS]
            parts = parts[: 2 * MOST_RUNS]
            break
        shade = found.shades.get(key)
        colour = shade.colour if shade and shade.colour else UNDYED_HEX
        parts.append(
            f'<rect x="{100 * at / total:.4f}%" width="{100 * number / total:.4f}%" y=".5" height="25"'
            f' fill="{escape(colour)}"/>'
        )
        share = number / total
        for text in (f"{number} {key}", str(number)):
            if share >= SIGN_SHARE * len(text):
                middle = 100 * (at + number / 2) / total
                parts.append(f'<text x="{middle:.4f}%" y="40">{text}</text>')
                break
        if len(said) < SAID_RUNS:
            said.append(f"{number} {shade.name if shade else key}")
        at += number
    more = "" if at == total and place < SAID_RUNS else ", and so on"
    label = escape(f"{total:,} {found.word if total == 1 else found.words}: {', '.join(said)}{more}")
    # What lies beyond the last run that is drawn stays empty, as cloth not woven yet.
    return mark_safe(
        f'<svg class="order-strip" width="100%" height="44" role="img" aria-label="{label}">{"".join(parts)}'
        '<rect class="card" x="0" y=".5" width="100%" height="25"/></svg>'
    )
