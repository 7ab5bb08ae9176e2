"""The words of a drawing of a window: its heading, its description, fields, verdicts and cases."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from weavability.answers.few_names import capitalised
from weavability.answers.window import Window, WindowAxis, WindowCase, WindowPoint
from weavability.checks.codes import CheckCode
from weavability.checks.finding import Verdict
from weavability.looms.weft_insertion import SpeedLimitName

VERDICTS: Final[dict[Verdict | None, str]] = {
    Verdict.WEAVABLE: "weavable",
    Verdict.WEAVABLE_WITH_WARNINGS: "weavable with warnings",
    Verdict.NOT_WEAVABLE: "not weavable",
    None: "cannot be requested so",
}
"""Words for a verdict."""


def heading(window: Window) -> str:
    """Return the heading: what varies."""
    return f"{capitalised(window.across.words)} and {window.along.words}: what can be woven"


def subheading(window: Window) -> str:
    """Return the line below it: the order, its loom, and its verdict as it is."""
    order = window.reference or "the order"
    on = f" on {window.loom_id}" if window.loom_id else ""
    return f"{order}{on}: {VERDICTS[window.own.verdict]} as it is"


def description_of(window: Window) -> str:
    """Describe the drawing for those who cannot see it."""
    shares: dict[str, int] = {}
    total = sum(case.points for case in window.cases)
    for case in window.cases:
        words = VERDICTS[case.verdict]
        shares[words] = shares.get(words, 0) + case.points
    listed = ", ".join(f"{words} at {share_of(points, total)}" for words, points in shares.items())
    return (
        f"The verdict over {_span(window.across)} across and {_span(window.along)} upwards: "
        f"{listed} of the points. {' '.join(point_lines(window))}"
    )


def _span(axis: WindowAxis) -> str:
    first, last = figure(axis.values[0]), figure(axis.values[-1])
    return f"{axis.words} from {first} to {last}{_unit(axis)}"


def share_of(points: int, total: int) -> str:
    """Write the share of some points in all."""
    share = 100 * points / total
    return f"{share:.0f} %" if share >= 1 else "less than 1 %"


def point_lines(window: Window) -> tuple[str, str]:
    """Say where the order and the nearest better point are, and what is found there."""
    own, nearest = window.own, window.nearest
    beyond = [
        axis.words
        for axis, value in ((window.across, own.across), (window.along, own.along))
        if value is not None and not axis.values[0] <= value <= axis.values[-1]
    ]
    outside = f" Its {' and '.join(beyond)} is outside of this window." if beyond else ""
    note = f" {window.nearest_note}" if window.nearest_note else ""
    return (
        f"This order: {_point_words(window, own)}{outside}",
        (
            window.nearest_note or "No point of this window is better."
            if nearest is None
            else f"Nearest better: {_point_words(window, nearest)}{note}"
        ),
    )


def _point_words(window: Window, point: WindowPoint) -> str:
    because = f" ({', '.join(point.codes)})" if point.codes else ""
    doubt = _doubt(point.rejected_if_assumed)
    return (
        f"{_value_on(window.across, point.across)}, {_value_on(window.along, point.along)}: "
        f"{VERDICTS[point.verdict]}{because}{doubt}."
    )


def _doubt(rejected: Sequence[str]) -> str:
    """Return for what an order is not weavable if what is assumed is so."""
    return f"; not weavable if what is assumed is so ({', '.join(rejected)})" if rejected else ""


def _value_on(axis: WindowAxis, value: float | None) -> str:
    if value is None:
        return f"{axis.words} not stated"
    if axis.unit is not None and _GAP in axis.unit:
        return f"{axis.words} {axis.unit.replace(_GAP, figure(value, digits=4))}"
    return f"{axis.words} {figure(value, digits=4)}{_unit(axis)}"


_GAP: Final = "…"
"""The place of the count in a designation."""


def figure(value: float, *, digits: int = 10) -> str:
    """Write a figure without an exponent, in groups of three digits if it is large."""
    rounded = float(f"{value:.{digits}g}")
    return f"{rounded:,.{digits}g}" if abs(rounded) < 1 else f"{rounded:,.10g}"


def label_of(axis: WindowAxis) -> str:
    """Return the label of an axis: its field and unit."""
    return f"{axis.words},{unit}" if (unit := _unit(axis)) else axis.words


def _unit(axis: WindowAxis) -> str:
    """Return the unit of a field, unless its name says it: ends per cm."""
    if axis.unit is None:
        return ""
    said = re.escape(axis.unit.replace("/", " per "))
    if re.search(rf"\b{said}(?:ch)?\b", axis.words):
        return ""
    return f" {axis.unit.removesuffix(f' {_GAP}')}"


def deciding(case: WindowCase) -> tuple[CheckCode, ...]:
    """Return the checks that make a verdict: errors, or else warnings."""
    return case.errors or case.warnings


def outcome_words(cases: Sequence[WindowCase]) -> str:
    """Return the verdict of cases of one outcome, what decides it, and what limits the speed.

    What some of them find besides is found in a part of the area.
    """
    first = cases[0]
    found = [each for each in deciding(first) if all(each in deciding(case) for case in cases)]
    more = dict.fromkeys(each for case in cases for each in deciding(case) if each not in found)
    because = f": {', '.join(found)}" if found else ""
    doubt = _doubt(first.rejected_if_assumed)
    beside = f"; in part also {', '.join(more)}" if more else ""
    return f"{VERDICTS[first.verdict]}{because}{doubt}{beside}{_speed(cases)}"


def _speed(cases: Sequence[WindowCase]) -> str:
    """Return what limits the speed, unless there is nothing to run."""
    if cases[0].verdict is Verdict.NOT_WEAVABLE:
        return ""
    limits = [_LIMITS[each] for each in dict.fromkeys(case.limited_by for case in cases) if each]
    return f"; speed limited by {' or '.join(limits)}" if limits else ""


_LIMITS: Final[dict[SpeedLimitName, str]] = {
    SpeedLimitName.REQUESTED_SPEED: "what is requested",
    SpeedLimitName.LOOM_SPEED: "the loom",
    SpeedLimitName.SPEED_CURVE: "the loom's speed curve",
    SpeedLimitName.INSERTION_RATE: "the insertion rate",
    SpeedLimitName.SHEDDING: "the shedding motion",
    SpeedLimitName.WEFT_STRENGTH: "the strength of the weft",
}
