"""The weave on the hooks and in the harness of a Jacquard."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import replace
from typing import Final

from weavability.answers.weave_analysis.answer import JacquardSheet
from weavability.answers.weave_analysis.resolved_request import WeaveCase
from weavability.answers.weave_analysis.weave_shedding import HooksForWeave
from weavability.textiles.jacquard import (
    Harness,
    design_paper,
    fit_harness,
    repeat_width_cm,
    repeats_without_casting_out,
)

PAPER_ENDS: Final = 8
"""Ends of a large square of design paper: eight rows of needles are the usual."""


def harness_of(case: WeaveCase) -> Harness | None:
    """Hold the harness against the reed; ``None`` where density or sett is not known."""
    plan, shedding, sett = case.hooks, case.shedding, case.setts.ends_per_cm_in_reed
    if plan is None or sett is None or not isinstance(shedding, HooksForWeave):
        return None
    if not shedding.harness_ends_per_cm:
        return None
    # A narrow cloth leaves cords empty at its sides only: that does not thin the harness.
    filled = replace(plan, hooks_used=plan.hooks // plan.repeat_ends * plan.repeat_ends)
    return fit_harness(
        filled, harness_ends_per_cm=shedding.harness_ends_per_cm, reed_ends_per_cm=sett
    )


def jacquard_sheet(case: WeaveCase) -> JacquardSheet | None:
    """Write down how the repeat sits on the hooks; ``None`` where no Jacquard is stated."""
    shedding = case.shedding
    if not isinstance(shedding, HooksForWeave):
        return None
    repeat_ends, setts, plan = case.repeat.ends, case.setts, case.hooks
    nearest = _nearest_full_repeats(repeat_ends, shedding.hooks)
    paper = None
    if setts.ends_per_cm is not None and setts.picks_per_cm is not None:
        paper = design_paper(ends=setts.ends_per_cm, picks=setts.picks_per_cm, first=PAPER_ENDS)
    cords_are_known = setts.total_ends is not None or shedding.ends_per_hook > 0
    tied = plan if cords_are_known else None
    harness = harness_of(case)
    return JacquardSheet(
        hooks=shedding.hooks,
        fits=plan is not None,
        repeats_on_hooks=None if plan is None else plan.repeats_on_hooks,
        hooks_used=None if plan is None else plan.hooks_used,
        hooks_idle=None if plan is None else plan.hooks_idle,
        nearest_full_repeats_ends=nearest,
        ends_per_hook=None if tied is None else tied.ends_per_hook,
        hooks_with_fewer=None if tied is None else tied.hooks_with_fewer,
        repeats_across=None if tied is None else tied.repeats_across,
        remainder_ends=None if tied is None else tied.remainder_ends,
        repeat_width_cm=None
        if setts.ends_per_cm is None
        else repeat_width_cm(repeat_ends, ends_per_cm=setts.ends_per_cm),
        harness_ends_per_cm=shedding.harness_ends_per_cm or None,
        usable_harness_ends_per_cm=None if harness is None else harness.usable_ends_per_cm,
        harness_width_cm=None if harness is None or tied is None else harness.harness_width_cm,
        harness_density_ratio=None if harness is None else harness.density_ratio,
        design_paper=paper,
    )


def _nearest_full_repeats(repeat_ends: int, hooks: int) -> tuple[int, ...]:
    """Return the repeats next to this one that use every hook; itself where it does."""
    full = repeats_without_casting_out(hooks)
    place = bisect_left(full, repeat_ends)
    if place < len(full) and full[place] == repeat_ends:
        return (repeat_ends,)
    return full[max(0, place - 1) : place + 1]
