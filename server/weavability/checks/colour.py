"""Checks of the colouring: do colour and weave repeat together, is the pattern complete?"""

from __future__ import annotations

import math
from typing import Final

from weavability.checks.codes import CheckCode
from weavability.checks.facts import Facts, Words
from weavability.checks.finding import Severity
from weavability.checks.pointers import LENGTH, WEFT_ORDER
from weavability.checks.rules import (
    Compared,
    Observation,
    Reported,
    Wording,
    compare,
    describe,
    message,
)
from weavability.looms.thresholds import Usual
from weavability.textiles.numbers import N, greatest, passed, reached, short, whole

WARP_ORDER: Final = "/construction/warp/order"
SAME_RELATIVE: Final = 1e-6
"""Repeats that differ by less from a whole number are whole."""

describe(
    CheckCode.COLOUR_WARP_REMAINDER,
    says="A pattern that is cut at the selvedge does not match when panels are sewn together.",
    compares="ends of a panel with whole repeats of the warp order",
    formula="remainder = ground ends modulo ends of the colour repeat",
    source="[BY-ARITHMETIC]",
)


@compare(CheckCode.COLOUR_WARP_REMAINDER, passed, Severity.NOTE, unit="ends")
def warp_remainder(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Whole repeats match at both edges."""
    remainder = f.cloth.ground_ends % f.order.warp_repeat_ends
    return remainder, (0 * remainder,), f.order.has_warp_pattern


_CENTRE: Final = (
    "Centre the pattern with {left} ends at the left, or change the width to whole repeats."
)


@message(
    warp_remainder,
    pointer=WARP_ORDER,
    note="{ends} ends are {repeats} repeats of {repeat} and {actual} ends more. " + _CENTRE,
    part="{ends} ends are less than one repeat of {repeat}. " + _CENTRE,
)
def _warp_remainder(f: Facts[float], words: Words, seen: Observation) -> Wording:
    ends, repeat = int(f.cloth.ground_ends), int(f.order.warp_repeat_ends)
    return Wording(
        values={
            "ends": ends,
            "repeats": ends // repeat,
            "repeat": repeat,
            "left": int(seen.actual) // 2,
        },
        variant="note" if ends >= repeat else "part",
    )


describe(
    CheckCode.COLOUR_WEFT_REMAINDER,
    says="A short piece with a long weft pattern ends in the middle of a repeat.",
    compares="repeats of the weft order in the length of the order with whole repeats",
    formula="repeat length = picks of the colour repeat / picks per cm; a note if the order has "
    "fewer than {colour_least_weft_repeats:g} repeats",
    source="",
)


@compare(CheckCode.COLOUR_WEFT_REMAINDER, short, Severity.NOTE, unit="repeats")
def weft_remainder(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Many repeats hide a part of one."""
    repeats = f.cloth.loom_length_m / _weft_repeat_m(f)
    nearest = whole(repeats)
    broken = passed(abs(repeats - nearest), SAME_RELATIVE * greatest(repeats, nearest))
    applies = f.order.has_weft_pattern & f.order.length_ordered & broken
    return repeats, (u.colour_least_weft_repeats,), applies


def _weft_repeat_m(f: Facts[N]) -> N:
    return f.order.weft_repeat_picks / f.cloth.picks_per_cm / 100


@message(
    weft_remainder,
    pointer=LENGTH,
    note="The weft pattern repeats every {repeat_m:.2f} m; the piece has {actual:.1f} repeats and "
    "ends within one. Change the length to whole repeats if it matters.",
)
def _weft_remainder(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(
        values={"repeat_m": _weft_repeat_m(f)},
        reported=Reported(actual=seen.actual, limit=math.ceil(seen.actual)),
    )


describe(
    CheckCode.COLOUR_WEAVE_CLASH,
    says="Colour repeat and weave repeat do not coincide, so the effect drifts.",
    compares="joint repeat of colour and weave, warp and weft, with "
    "{colour_joint_repeat_times:g} times the longer of the two",
    formula="joint repeat = least common multiple of colour repeat and weave repeat",
    source="[COLOUR-AND-WEAVE]",
)


@compare(CheckCode.COLOUR_WEAVE_CLASH, reached, Severity.NOTE, unit="ends")
def warp_clash(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Warp colours and weave should repeat together."""
    limit = u.colour_joint_repeat_times * f.order.longer_repeat_ends
    return f.order.joint_repeat_ends, (limit,), f.order.has_warp_pattern


@compare(CheckCode.COLOUR_WEAVE_CLASH, reached, Severity.NOTE, unit="picks")
def weft_clash(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Weft colours and weave should repeat together."""
    limit = u.colour_joint_repeat_times * f.order.longer_repeat_picks
    return f.order.joint_repeat_picks, (limit,), f.order.has_weft_pattern


_STEADY: Final = (
    "they coincide only after {actual}. Make one a multiple of the other for a steady effect."
)


@message(
    warp_clash,
    pointer=WARP_ORDER,
    warp="The warp order repeats on {colour} ends and the weave on {weave}: " + _STEADY,
)
def _warp_clash(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return _repeats(f.order.warp_repeat_ends, f.order.weave_ends)


@message(
    weft_clash,
    pointer=WEFT_ORDER,
    weft="The weft order repeats on {colour} picks and the weave on {weave}: " + _STEADY,
)
def _weft_clash(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return _repeats(f.order.weft_repeat_picks, f.order.weave_picks)


def _repeats(colour: float, weave: float) -> Wording:
    return Wording(values={"colour": int(colour), "weave": int(weave)})
