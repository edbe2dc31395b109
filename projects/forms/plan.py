"""The plan as a form: typed text in, a calc Plan and the shades of its keys out."""

import re
import string
from collections.abc import Iterable, Mapping
from contextlib import suppress
from fractions import Fraction
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from projects.forms.draft import LINES, DraftForm, draft_initial
from projects.forms.edges import EDGE_FIELD_OF, EdgesForm, edges_initial, usual_edges
from projects.forms.gear import GearForm, gear_initial
from projects.forms.shades import ShadeTextField
from projects.gear import Shed
from projects.models import LossWay, Project
from projects.models.project import PPM
from projects.services.planning import ProjectFacts
from stash.calc.accents import read_accents
from stash.calc.colour_order import key_order, read_order
from stash.calc.errors import CalcError
from stash.calc.needs import WorkedPlan, work_out
from stash.calc.plan import MOST_PIECES, Plan
from stash.calc.writing import Measures
from stash.forms.fields import (
    DensityField,
    LongLengthField,
    OrderField,
    PercentField,
    ShortLengthField,
    WholeField,
)
from stash.models import Shade

KEY = re.compile(r"[A-Z]{1,2}")
MOST_KEYS = 60

METRIC = {"gap": 10_000, "waste": 700_000, "tail": 180_000, "board": 250_000}
IMPERIAL = {"gap": 12_700, "waste": 685_800, "tail": 177_800, "board": 228_600}

# What calc calls the field that is at fault, as the form calls it.
FIELD_OF = {
    "pieces": "pieces",
    "across_um": "across",
    "along_um": "along",
    "hem_um": "hem",
    "gap_um": "gap",
    "sample_um": "sample",
    "header_um": "header",
    "waste_um": "waste",
    "tail_um": "tail",
    "board_um": "board",
    "order": "colour_order",
    "losses_across": "loss_across",
    "losses_along": "loss_along",
    **EDGE_FIELD_OF,
}

# What a plan cannot be worked out without; a name may still be missing while the figures follow.
PLAN_FIELDS = (
    "pieces",
    "across",
    "along",
    "gap",
    "sample",
    "header",
    "loss_way",
    "loss_across",
    "draw_in",
    "shrinkage_across",
    "loss_along",
    "relaxation",
    "shrinkage_along",
    "take_up",
    "waste",
    "sett",
    "picks",
    "structure",
    "colour_order",
    "order_fills",
    "balance_ends",
    "pick_order",
    "weft_take_up",
    "tail",
    "carry_picks",
    "warp_buffer",
    "weft_buffer",
    "board",
    "keep_back",
    *EdgesForm.EDGE_FIELDS,
    *LINES,
)


class PlanForm(DraftForm, EdgesForm, GearForm):
    """Fields of a project. `keys` are the shade keys that have a field of their own, `shade_A` and so on."""

    version = forms.IntegerField(widget=forms.HiddenInput, required=False)
    name = forms.CharField(label="Name", max_length=120)
    piece_name = forms.CharField(
        label="The pieces are",
        max_length=40,
        help_text="In the plural, as sentences will say it: mats, towels.",
    )
    occasion = forms.CharField(
        label="For", max_length=120, required=False, help_text="A fair, a class, an order."
    )
    need_on = forms.DateField(
        label="Winding day", required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    rank = forms.TypedChoiceField(
        label="Rank", coerce=int, choices=[(n, str(n)) for n in range(1, 10)], help_text="1 goes before 9."
    )
    note = forms.CharField(
        label="Notes", max_length=1000, required=False, widget=forms.Textarea(attrs={"rows": 3})
    )

    pieces = WholeField(label="Pieces", least=1, most=MOST_PIECES)
    across = ShortLengthField(label="Finished size across the warp", least=1)
    along = ShortLengthField(label="Finished size along the warp", least=1)
    gap = ShortLengthField(label="Gap between pieces")
    sample = ShortLengthField(label="Sample, woven length")
    header = ShortLengthField(label="Header")

    loss_way = forms.ChoiceField(
        label="Losses are stated as", choices=LossWay.choices, widget=forms.RadioSelect
    )
    loss_across = PercentField(label="Total loss, of the width in the reed")
    draw_in = PercentField(label="Draw-in, of the width in the reed")
    shrinkage_across = PercentField(label="Shrinkage across, of the width off the loom")
    loss_along = PercentField(label="Total loss, of the woven length")
    relaxation = PercentField(label="Relaxation, of the woven length")
    shrinkage_along = PercentField(label="Shrinkage along, of the length off the loom")
    take_up = PercentField(label="Warp take-up, of the woven length", most=Fraction(1))
    waste = ShortLengthField(label="Loom waste, once per warp")

    sett = DensityField(label="Sett")
    picks = DensityField(label="Picks", noun="picks")
    colour_order = OrderField(
        label=_("Colour order of the warp"), widget=forms.Textarea(attrs={"rows": 2, "spellcheck": "false"})
    )
    order_fills = forms.TypedChoiceField(
        label="This order is",
        coerce=lambda value: value == "fills",
        choices=[("fills", "a repeat that fills the width"), ("whole", "the whole warp, end for end")],
        widget=forms.RadioSelect,
    )
    balance_ends = WholeField(
        label="Balance: the first ends once more", most=20_000, one="end", many="ends", required=False
    )
    pick_order = OrderField(
        label="Pick order of the weft",
        word="picks",
        widget=forms.Textarea(attrs={"rows": 2, "spellcheck": "false"}),
    )

    weft_take_up = PercentField(label="Weft take-up, of the width in the reed", most=Fraction(1))
    tail = ShortLengthField(label="Tail where a shuttle begins")
    carry_picks = WholeField(label="An idle shuttle is carried up to", most=1000, one="pick", many="picks")
    warp_buffer = PercentField(label="Buffer on the ends", most=Fraction(1))
    weft_buffer = PercentField(label="Buffer on the weft", most=Fraction(1))
    board = LongLengthField(label="The warping board measures in steps of", help_text="0 does not round up.")
    keep_back = WholeField(
        label="Kept back on every cone for knots", most=1000, one="warp length", many="warp lengths"
    )

    def __init__(
        self,
        *args: Any,
        measures: Measures,
        keys: Iterable[str] = (),
        known: Mapping[int, Shade] | None = None,
        shed: Shed | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, measures=measures, **kwargs)
        self.offer(shed)
        # Only a plan that stands already has a version, and then a save must name it.
        self.fields["version"].required = "version" in self.initial
        self.fields["carry_picks"].unit = "picks"
        self.fields["keep_back"].unit = "warp lengths"
        self.fields["balance_ends"].unit = "ends"
        self.keys = sorted(keys, key=key_order)
        for key in self.keys:
            self.fields[shade_field(key)] = ShadeTextField(label=key, required=False, known=known or {})
        self.worked: WorkedPlan | None = None

    @property
    def shade_rows(self) -> list[tuple[str, forms.BoundField]]:
        return [(key, self[shade_field(key)]) for key in self.keys]

    @property
    def more_has_errors(self) -> bool:
        """Does a field of the folded part want attention?"""
        folded = [
            "warp_buffer",
            "weft_buffer",
            "keep_back",
            "board",
            "weft_take_up",
            "tail",
            "carry_picks",
            "rank",
            "note",
        ]
        return any(name in self.errors for name in folded)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        # The losses of the way not chosen are kept as they stand, and never stand in the way.
        for name in self._losses_not_used(cleaned.get("loss_way")):
            if name in self.errors:
                del self._errors[name]
                cleaned[name] = Fraction(0)
        self.drop_unused_edges(cleaned, fills=bool(cleaned.get("order_fills")))
        self.read_weave(cleaned)
        cleaned["balance_ends"] = cleaned.get("balance_ends") or 0
        if any(name in self.errors for name in PLAN_FIELDS):
            return cleaned
        try:
            self.plan = self._plan(cleaned)
            self.worked = work_out(self.plan)
        except CalcError as error:
            self.add_error(self._field_of(error.field, cleaned), error.message)
            return cleaned
        self.check_keys(self.worked)
        self._match_shades(cleaned)
        return cleaned

    def _losses_not_used(self, way: str | None) -> tuple[str, ...]:
        if way == LossWay.SPLIT:
            return "loss_across", "loss_along"
        return "draw_in", "shrinkage_across", "relaxation", "shrinkage_along"

    def _field_of(self, name: str, cleaned: Mapping[str, Any]) -> str | None:
        field = FIELD_OF.get(name, name)
        if cleaned["loss_way"] == LossWay.SPLIT:
            field = {"loss_across": "draw_in", "loss_along": "relaxation"}.get(field, field)
        return field if field in self.fields else None

    def _plan(self, cleaned: Mapping[str, Any]) -> Plan:
        split = cleaned["loss_way"] == LossWay.SPLIT
        return Plan(
            pieces=cleaned["pieces"],
            across_um=cleaned["across"],
            along_um=cleaned["along"],
            gap_um=cleaned["gap"],
            sample_um=cleaned["sample"],
            header_um=cleaned["header"],
            losses_across=(cleaned["draw_in"], cleaned["shrinkage_across"])
            if split
            else (cleaned["loss_across"],),
            losses_along=(
                (cleaned["relaxation"], cleaned["shrinkage_along"]) if split else (cleaned["loss_along"],)
            ),
            take_up=cleaned["take_up"],
            waste_um=cleaned["waste"],
            sett=cleaned["sett"],
            picks=cleaned["picks"],
            order=cleaned["colour_order"],
            order_fills=cleaned["order_fills"],
            balance_ends=cleaned["balance_ends"],
            pick_order=cleaned["pick_order"],
            weft_take_up=cleaned["weft_take_up"],
            tail_um=cleaned["tail"],
            carry_picks=cleaned["carry_picks"],
            warp_buffer=cleaned["warp_buffer"],
            weft_buffer=cleaned["weft_buffer"],
            board_um=cleaned["board"],
            keep_back=cleaned["keep_back"],
            sleyed=self.read_sleyed(cleaned, cleaned["sett"]),
            **self.edge_facts(cleaned),
        )

    def _match_shades(self, cleaned: Mapping[str, Any]) -> None:
        """Each key of the orders has a shade, and no shade two keys."""
        self.shades: dict[str, Shade] = {
            key: cleaned[shade_field(key)] for key in self.keys if cleaned.get(shade_field(key))
        }
        key_of: dict[int, str] = {}
        for key, shade in self.shades.items():
            first = key_of.setdefault(shade.pk, key)
            if first != key:
                self.add_error(shade_field(key), f"{shade.name} stands under {first} already.")
        for need in self.worked.needs if self.worked else ():
            if need.key not in self.shades:
                field = shade_field(need.key)
                self.add_error(
                    field if field in self.fields else "colour_order",
                    ValidationError(f"The order uses {need.key}: say which shade that is.", code="no_shade"),
                )

    @property
    def only_shades_missing(self) -> bool:
        """The plan itself can be worked out; all that is missing is which yarn it is woven of."""
        return self.worked is not None and all(
            error.code == "no_shade" for errors in self.errors.as_data().values() for error in errors
        )

    def facts(self) -> ProjectFacts:
        """What the service writes. Only of a valid form."""
        cleaned = self.cleaned_data
        return ProjectFacts(
            name=cleaned["name"],
            plan=self.plan,
            structure=cleaned["structure"],
            **self.draft_lines(cleaned),
            shades={key: shade.pk for key, shade in self.shades.items()},
            loss_way=cleaned["loss_way"],
            piece_name=cleaned["piece_name"],
            occasion=cleaned["occasion"],
            need_on=cleaned["need_on"],
            rank=cleaned["rank"],
            note=cleaned["note"],
            kits=self.kits(cleaned),
            gear=self.gear(cleaned),
        )


def shade_field(key: str) -> str:
    return f"shade_{key}"


def typed_keys(data: Mapping[str, Any]) -> list[str]:
    """The keys that a sent form names a shade for or uses in its orders, at most as many as a plan can want."""
    start = len(shade_field(""))
    found = [
        name[start:]
        for name in data
        if name.startswith(shade_field("")) and KEY.fullmatch(name[start:]) and str(data[name]).strip()
    ]
    for name in ("colour_order", "pick_order", "border_order", "hem_pick_order"):
        try:
            found += read_order(str(data.get(name, ""))).by_key
        except CalcError:
            continue  # the field itself says what is wrong with it
    with suppress(CalcError):
        found += [accent.key for accent in read_accents(str(data.get("accents", "")))]
    floating = str(data.get("floating_key", "")).strip().upper()
    found += [floating] if KEY.fullmatch(floating) else []
    return found[:MOST_KEYS]


def keys_for(used: Iterable[str], spare: int = 2, least: int = 4) -> list[str]:
    """The keys in use and a few free letters after them."""
    keys = sorted(set(used), key=key_order)
    free = [letter for letter in string.ascii_uppercase if letter not in keys]
    return sorted(keys + free[: max(spare, least - len(keys))], key=key_order)


def initial_of(project: Project, measures: Measures, plan: Plan | None = None) -> dict[str, Any]:
    """A stored project as the form's initial values; `plan` is the project's, if it was read already."""
    plan = plan or project.plan
    shares = {
        "loss_across": project.loss_across_ppm,
        "draw_in": project.draw_in_ppm,
        "shrinkage_across": project.shrinkage_across_ppm,
        "loss_along": project.loss_along_ppm,
        "relaxation": project.relaxation_ppm,
        "shrinkage_along": project.shrinkage_along_ppm,
    }
    return {
        "version": project.version,
        "name": project.name,
        "piece_name": project.piece_name,
        "occasion": project.occasion,
        "need_on": project.need_on,
        "rank": project.rank,
        "note": project.note,
        **draft_initial(project),
        "loss_way": project.loss_way,
        "order_fills": "fills" if plan.order_fills else "whole",
        **{name: Fraction(value, PPM) for name, value in shares.items()},
        **_plan_initial(plan),
        **edges_initial(project, plan, measures),
        **gear_initial(project),
        **{shade_field(row.key): row.shade for row in project.shades.all()},
    }


def _plan_initial(plan: Plan) -> dict[str, Any]:
    return {
        "pieces": plan.pieces,
        "across": plan.across_um,
        "along": plan.along_um,
        "gap": plan.gap_um,
        "sample": plan.sample_um,
        "header": plan.header_um,
        "take_up": plan.take_up,
        "waste": plan.waste_um,
        "sett": plan.sett,
        "picks": plan.picks,
        "colour_order": plan.order,
        "balance_ends": plan.balance_ends,
        "pick_order": plan.pick_order,
        "weft_take_up": plan.weft_take_up,
        "tail": plan.tail_um,
        "carry_picks": plan.carry_picks,
        "warp_buffer": plan.warp_buffer,
        "weft_buffer": plan.weft_buffer,
        "board": plan.board_um,
        "keep_back": plan.keep_back,
    }


def initial_of_new(measures: Measures) -> dict[str, Any]:
    """Where a new plan begins: common practice, each figure to be overwritten by the weaver's own."""
    own = IMPERIAL if measures.length == "imperial" else METRIC
    return {
        "piece_name": "pieces",
        "structure": "plain",
        "rank": 5,
        "pieces": 1,
        **usual_edges(measures),
        "sample": 0,
        "header": 0,
        "gap": own["gap"],
        "waste": own["waste"],
        "tail": own["tail"],
        "board": own["board"],
        "loss_way": LossWay.SIMPLE,
        "loss_across": Fraction(1, 10),
        "loss_along": Fraction(1, 10),
        "draw_in": Fraction(0),
        "shrinkage_across": Fraction(0),
        "relaxation": Fraction(0),
        "shrinkage_along": Fraction(0),
        "take_up": Fraction(0),
        "order_fills": "fills",
        "balance_ends": 0,
        "weft_take_up": Fraction(1, 10),
        "carry_picks": 4,
        "warp_buffer": Fraction(5, 100),
        "weft_buffer": Fraction(8, 100),
        "keep_back": 0,
    }
