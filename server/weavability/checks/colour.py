"""Checks of the colouring: do colour and weave repeat together, and does the pattern end whole?"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from weavability.checks.finding import Observation, Severity
from weavability.checks.registry import check
from weavability.looms.fit import Fit
from weavability.textiles.thread_systems import SystemFacts

LONG_REPEAT_FACTOR: Final = 3


def _patterned(system: SystemFacts) -> bool:
    return len(system.order.counts) > 1


@check(
    "colour.warp_remainder",
    compares="ends of a panel against whole repeats of the warp order",
    severities=(Severity.NOTE,),
    formula="remainder = ground ends modulo ends of the colour repeat",
    source="arithmetic",
)
def warp_remainder(fit: Fit) -> Iterator[Observation]:
    """A pattern that is cut at the selvedge does not match when panels are sewn."""
    cloth = fit.cloth
    repeat = cloth.warp.order.threads
    remainder = cloth.ends.ground % repeat
    if _patterned(cloth.warp) and remainder:
        yield Observation(
            severity=Severity.NOTE,
            message=f"{cloth.ends.ground} ends hold {cloth.ends.ground // repeat} repeats of "
            f"{repeat} and {remainder} ends over: centre the pattern with {remainder // 2} ends "
            "at the left, or change the width to whole repeats.",
            pointer="/construction/warp/order",
            actual=remainder,
            limit=0,
            unit="ends",
        )


@check(
    "colour.weft_remainder",
    compares="picks of the order's length against whole repeats of the weft order",
    severities=(Severity.NOTE,),
    formula="repeat length in cm = picks of the colour repeat / picks per cm; note where the order "
    "holds fewer than ten repeats",
    source="common practice, no source",
)
def weft_remainder(fit: Fit) -> Iterator[Observation]:
    """A short piece with a long weft pattern ends in the middle of it."""
    cloth = fit.cloth
    if not _patterned(cloth.weft) or not cloth.lengths.ordered:
        return
    repeat_m = cloth.weft.order.threads / cloth.weft.threads_per_cm / 100
    repeats = cloth.lengths.loom_m / repeat_m
    if repeats < 10 and not math.isclose(repeats, round(repeats), rel_tol=1e-6):
        yield Observation(
            severity=Severity.NOTE,
            message=f"The weft pattern repeats every {repeat_m:.2f} m; the piece holds "
            f"{repeats:.1f} repeats and ends within one.",
            pointer="/construction/length_m",
            actual=repeats,
            limit=math.ceil(repeats),
            unit="repeats",
        )


@check(
    "colour.weave_clash",
    compares="colour repeat against weave repeat, either way",
    severities=(Severity.NOTE,),
    formula="colour-and-weave repeat = least common multiple of both; note where it is at least "
    "three times the longer of the two",
    source="teaching texts on colour and weave; three times: common practice, no source",
)
def weave_clash(fit: Fit) -> Iterator[Observation]:
    """Colour and weave that do not fit one another change their effect from repeat to repeat."""
    structure = fit.cloth.structure
    for system, weave_repeat, way, unit in (
        (fit.cloth.warp, structure.ends, "warp", "ends"),
        (fit.cloth.weft, structure.picks, "weft", "picks"),
    ):
        colour_repeat = system.order.threads
        together = math.lcm(colour_repeat, weave_repeat)
        longer = max(colour_repeat, weave_repeat)
        if _patterned(system) and together >= LONG_REPEAT_FACTOR * longer:
            yield Observation(
                severity=Severity.NOTE,
                message=f"The {way} order repeats on {colour_repeat} {unit} and the weave on "
                f"{weave_repeat}: together only after {together}. Make one a multiple of the "
                "other for a steady effect.",
                pointer=f"/construction/{way}/order",
                actual=together,
                limit=LONG_REPEAT_FACTOR * longer,
                unit=unit,
            )
