"""Without the sample, without the header: what is woven or wound for the weaver alone."""

from __future__ import annotations

from dataclasses import dataclass, replace

from stash.calc.ways.tried import Tried, Way, try_plan


@dataclass(frozen=True, slots=True)
class Leaner(Way):
    without: tuple[str, ...]
    """`sample`, `header` or both."""


def leaner(before: Tried) -> list[Leaner]:
    """Without the one, without the other, and without both: the first that cures alone, if any does."""
    plan = before.plan
    there = tuple(name for name in ("header", "sample") if getattr(plan, f"{name}_um"))
    choices = [(name,) for name in there] + ([there] if len(there) > 1 else [])
    ways = [Leaner(before, _without(before, without), without) for without in choices]
    return [way for way in ways if way.cures][:1] or ways[-1:]


def _without(before: Tried, without: tuple[str, ...]) -> Tried:
    plan = before.plan
    plan = replace(
        plan,
        header_um=0 if "header" in without else plan.header_um,
        sample_um=0 if "sample" in without else plan.sample_um,
    )
    return try_plan(plan, before.stock, before.usable_um)
