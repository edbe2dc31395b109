"""The inputs of a plan, printed by one loop over what each is called and what stands in it."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from types import SimpleNamespace
from typing import Any

from stash.calc.plan import Plan
from stash.calc.structure import structures
from stash.calc.writing import Measures, field_percent
from tests.speed.floors.plan_edges import folds, piece_ends
from tests.speed.floors.shell import as_day, options, text

PPM = 1_000_000
TYPED = 'autocomplete="off" spellcheck="false"'
EMPTY = ' <span class="optional">(may stay empty)</span>'


def plan_form(
    row: SimpleNamespace, plan: Plan, shades: Mapping[str, tuple[str, str]], measures: Measures, token: str
) -> list[str]:
    short, inch, per = measures.field_short_length, measures.short_unit, f"per {measures.density_base}"

    def share(ppm: int) -> str:
        return field_percent(Fraction(ppm, PPM))

    day = as_day(row.need_on)
    groups: list[list[str]] = [
        [
            _line("name", "Name", row.name, 'maxlength="120" required'),
            _line(
                "occasion",
                "For",
                row.occasion,
                'maxlength="120"',
                hint="A fair, a class, an order.",
                empty=True,
            ),
            _line("need_on", "Winding day", day or "", 'type="date"', empty=True),
            _line("pieces", "Pieces", plan.pieces),
            _line(
                "piece_name",
                "The pieces are",
                row.piece_name,
                hint="In the plural, as sentences will say it: mats, towels.",
            ),
            _line("across", "Finished size across the warp", short(plan.across_um), unit=inch),
            _line("along", "Finished size along the warp", short(plan.along_um), unit=inch),
            *piece_ends(plan, measures, _line, _choice),
        ],
        [
            _line("sett", "Sett", measures.field_density(plan.sett), unit=per),
            _line("picks", "Picks", measures.field_density(plan.picks), unit=per),
            _choice(
                "structure",
                "Structure",
                [(key, one.name) for key, one in structures().items()],
                row.structure,
            ),
            _line("waste", "Loom waste, once per warp", short(plan.waste_um), unit=inch),
            _line("gap", "Gap between pieces", short(plan.gap_um), unit=inch),
            _line("sample", "Sample, woven length", short(plan.sample_um), unit=inch),
            _line("header", "Header", short(plan.header_um), unit=inch),
            _line("take_up", "Warp take-up, of the woven length", share(row.take_up_ppm), unit="%"),
        ],
        [
            '<p class="hint">Write ends and keys in order, with commas: <kbd>8 A, 4 B, 3 times (1 A, 1 B), 2 C</kbd>. The '
            "keys stand for the shades below.</p>",
            _area("colour_order", "Colour order of the warp", plan.order.text),
            _radio(
                "order_fills",
                "This order is",
                (("fills", "a repeat that fills the width"), ("whole", "the whole warp, end for end")),
                "fills" if plan.order_fills else "whole",
            ),
            _line(
                "balance_ends",
                "Balance: the first ends once more",
                plan.balance_ends,
                unit="ends",
                empty=True,
            ),
            _area("pick_order", "Pick order of the weft", plan.pick_order.text),
            *(_shade(key, shades.get(key)) for key in _keys(shades)),
            '<datalist id="known-shades"></datalist>',
        ],
        [
            _radio(
                "loss_way",
                "Losses are stated as",
                (("simple", "one total loss each way"), ("split", "losses apart")),
                row.loss_way,
            ),
            _line(
                "loss_across", "Total loss, of the width in the reed", share(row.loss_across_ppm), unit="%"
            ),
            _line("loss_along", "Total loss, of the woven length", share(row.loss_along_ppm), unit="%"),
            _line("draw_in", "Draw-in, of the width in the reed", share(row.draw_in_ppm), unit="%"),
            _line(
                "shrinkage_across",
                "Shrinkage across, of the width off the loom",
                share(row.shrinkage_across_ppm),
                unit="%",
            ),
            _line("relaxation", "Relaxation, of the woven length", share(row.relaxation_ppm), unit="%"),
            _line(
                "shrinkage_along",
                "Shrinkage along, of the length off the loom",
                share(row.shrinkage_along_ppm),
                unit="%",
            ),
            '<p class="hint">Losses are divided out: at 20 % a width of 10 in needs 12.5 in in the reed. A total loss that '
            "was measured from the warp actually used holds the take-up already: set the take-up to 0 then.</p>",
        ],
        [
            _line("warp_buffer", "Buffer on the ends", share(row.warp_buffer_ppm), unit="%"),
            _line("weft_buffer", "Buffer on the weft", share(row.weft_buffer_ppm), unit="%"),
            _line("keep_back", "Kept back on every cone for knots", plan.keep_back, unit="warp lengths"),
            _line(
                "board",
                "The warping board measures in steps of",
                measures.field_long_length(plan.board_um),
                unit=measures.long_unit,
                hint="0 does not round up.",
            ),
        ],
        [
            _line(
                "weft_take_up",
                "Weft take-up, of the width in the reed",
                share(row.weft_take_up_ppm),
                unit="%",
            ),
            _line("tail", "Tail where a shuttle begins", short(plan.tail_um), unit=inch),
            _line("carry_picks", "An idle shuttle is carried up to", plan.carry_picks, unit="picks"),
            _choice(
                "rank",
                "Rank",
                [(str(n), str(n)) for n in range(1, 10)],
                str(row.rank),
                hint="1 goes before 9.",
            ),
            _area("note", "Notes", row.note, empty=True),
        ],
    ]
    legends = (
        "What and for whom", "On the loom", "Colours", "Losses", "Buffers, applied once", "Weft",
    )  # fmt: skip
    out = [
        f'<form id="plan" class="plan-form" method="post" action="/projects/{row.id}/" '
        f'hx-post="/projects/{row.id}/preview/" hx-trigger="input delay:300ms, change delay:300ms" novalidate>{token}'
        f'<input type="hidden" name="version" value="{row.version}" id="id_version"><button class="aside-for-ears" '
        'type="submit" tabindex="-1" aria-hidden="true">Keep the plan</button>'
    ]
    for legend, fields in zip(legends, groups, strict=True):
        if legend.startswith("Buffers"):
            out += folds(measures, _line, _choice, _radio)
            out.append('<details class="more"><summary>Buffers, weft habits, notes</summary>')
        out.append(f'<fieldset class="group"><legend>{legend}</legend>{"".join(fields)}</fieldset>')
    out.append(
        '</details><div class="actions"><button class="btn main" type="submit">Keep the plan</button><button '
        'type="submit" name="then" value="look">Work it out</button></div></form>'
    )
    return out


def _field(name: str, label: str, control: str, unit: str = "", hint: str = "", empty: bool = False) -> str:
    said = f'<div class="hint" id="id_{name}_helptext">{hint}</div>' if hint else ""
    behind = f'<span class="unit">{unit}</span>' if unit else ""
    return (
        f'<div class="field"><label for="id_{name}">{label}{EMPTY if empty else ""}</label>{said}<div class="control">'
        f"{control}{behind}</div></div>"
    )


def _line(name: str, label: str, value: object, attributes: str = TYPED, **parts: Any) -> str:
    control = f'<input type="text" name="{name}" value="{text(value)}" {attributes} id="id_{name}">'
    return _field(name, label, control, **parts)


def _area(name: str, label: str, value: str, **parts: Any) -> str:
    control = f'<textarea name="{name}" cols="40" rows="2" spellcheck="false" id="id_{name}">{text(value)}</textarea>'
    return _field(name, label, control, **parts)


def _choice(name: str, label: str, choices: list[tuple[str, str]], value: str, **parts: Any) -> str:
    return _field(
        name, label, f'<select name="{name}" id="id_{name}">{options(choices, value)}</select>', **parts
    )


def _radio(name: str, label: str, choices: tuple[tuple[str, str], ...], value: str) -> str:
    ticks = "".join(
        f'<div><label for="id_{name}_{at}"><input type="radio" name="{name}" value="{key}" required id="id_{name}_{at}"'
        f"{' checked' if key == value else ''}> {said}</label></div>"
        for at, (key, said) in enumerate(choices)
    )
    return f'<fieldset class="field"><legend>{label}</legend><div class="control">{ticks}</div></fieldset>'


def _keys(shades: Mapping[str, object]) -> list[str]:
    """The keys in use, two more, and four at least."""
    free = [letter for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ" if letter not in shades]
    return sorted([*shades, *free[: max(2, 4 - len(shades))]])


def _shade(key: str, shade: tuple[str, str] | None) -> str:
    value = f' value="{text(", ".join(shade))}"' if shade else ""
    control = (
        f'<input type="text" name="shade_{key}"{value} list="known-shades" {TYPED} hx-get="/projects/shades/" '
        'hx-trigger="input changed delay:200ms, focus once" hx-target="#known-shades" hx-swap="innerHTML" '
        f'hx-sync="this:replace" id="id_shade_{key}">'
    )
    return _field(f"shade_{key}", key, control, empty=True)
