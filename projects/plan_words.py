"""What a plan says of its edges and ends, in a few words: for a folded group, for those who only read, for paper."""

from projects.wording import counted
from stash.calc.plan import Plan
from stash.calc.writing import Measures

NOTHING = "nothing set"


def ends_words(plan: Plan, measures: Measures) -> str:
    """How a piece ends: 3/4 in hems turned twice; 4 in twisted fringes."""
    short, hem, fringe = measures.short_length, plan.hem, plan.fringe
    if fringe:
        kind = "twisted" if fringe.twisted else "plain"
        loss = (
            f", which lose {measures.percent(fringe.loss, 2)} of their length on the loom"
            if fringe.loss
            else ""
        )
        return f"{kind} fringes of {short(fringe.finished_um)}{loss}"
    if not plan.hem_cloth_um:
        return ""
    depth = short(hem.depth_um)
    turned = {
        "single": f"hems of {depth}, folded once",
        "double": f"hems of {depth}, turned twice",
        "small": f"hems of {depth}, turned twice with a first fold of {short(hem.fold_um)}",
        "strip": f"plain strips of {depth}",
    }
    return turned.get(hem.kind, f"{short(plan.hem_cloth_um)} of hem cloth, both ends together")


def weft_words(plan: Plan, measures: Measures) -> str:
    """Of the folded group about sections of weft."""
    said = []
    if plan.hem.woven_apart and not plan.fringe:
        picks = f" at {measures.density(plan.hem.picks, 'picks')}" if plan.hem.picks else ""
        order = f" in {plan.hem.pick_order.text}" if plan.hem.pick_order else ""
        said.append(f"hems{picks}{order}")
    if plan.whole_pick_repeats:
        said.append("body in whole repeats")
    return "; ".join(said)


def across_words(plan: Plan) -> str:
    """Of the folded group about selvedges, borders and accents."""
    said, selvedges = [], plan.selvedges
    if selvedges.floating:
        said.append("floating ends" + (f" of {selvedges.floating_key}" if selvedges.floating_key else ""))
    if selvedges.doubled_ends:
        how = {"heddle": "in heddle and dent", "dent": "in the dent only", "apart": "in neither"}
        said.append(
            f"{counted(selvedges.doubled_ends, 'end')} doubled on each side, {how[selvedges.doubled_way]}"
        )
    if plan.border:
        said.append(f"borders of {counted(plan.border.length, 'end')}")
    if plan.accents:
        way = "added" if plan.accent_way == "added" else "instead of ends"
        weft = ", in the weft too" if plan.accents_in_weft else ""
        said.append(f"{counted(len(plan.accents), 'accent')} {way}{weft}")
    return "; ".join(said)


def several_words(plan: Plan, measures: Measures) -> str:
    """Of the folded group about kits and further beams."""
    said = []
    if plan.warps > 1:
        said.append(f"{plan.warps:,} like warps")
    said += [
        f"{', '.join(beam.keys)} on beam {beam.number}, take-up {measures.percent(beam.take_up, 2)}"
        for beam in plan.beams
    ]
    return "; ".join(said)


def groups(plan: Plan | None, measures: Measures) -> dict[str, str]:
    """What each folded group of the form holds, in words."""
    if plan is None:
        return dict.fromkeys(("weft", "across", "several"), NOTHING)
    return {
        "weft": weft_words(plan, measures) or NOTHING,
        "across": across_words(plan) or NOTHING,
        "several": several_words(plan, measures) or "one warp, one beam",
    }
