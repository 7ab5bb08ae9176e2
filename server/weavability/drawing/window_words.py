"""The words of a drawing of a window: its heading, its description, fields, verdicts and cases."""

from __future__ import annotations

from typing import Final

from weavability.answers.window import Window, WindowAxis, WindowCase
from weavability.checks.finding import Verdict
from weavability.looms.weft_insertion import SpeedLimitName

VERDICTS: Final[dict[Verdict | None, tuple[str, str]]] = {
    Verdict.WEAVABLE: ("weavable", "good"),
    Verdict.WEAVABLE_WITH_WARNINGS: ("weavable with warnings", "fair"),
    Verdict.NOT_WEAVABLE: ("not weavable", "bad"),
    None: ("cannot be requested so", "none"),
}
"""Words for a verdict, and the name of its hatching."""


def heading(window: Window) -> str:
    """Return the heading: what varies."""
    return f"{_capital(window.across.words)} and {window.along.words}: what can be woven"


def subheading(window: Window) -> str:
    """Return the line below it: the order, its loom, and its verdict as it is."""
    order = window.reference or "the order"
    on = f" on {window.loom_id}" if window.loom_id else ""
    return f"{order}{on}: {VERDICTS[window.own.verdict][0]} as it is"


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def description_of(window: Window) -> str:
    """Describe the drawing for those who cannot see it."""
    shares: dict[str, int] = {}
    total = sum(case.points for case in window.cases)
    for case in window.cases:
        words = VERDICTS[case.verdict][0]
        shares[words] = shares.get(words, 0) + case.points
    listed = ", ".join(f"{words} at {share_of(points, total)}" for words, points in shares.items())
    return (
        f"The verdict over {_span(window.across)} across and {_span(window.along)} upwards: "
        f"{listed} of the points. {_nearest_words(window)}"
    )


def _span(axis: WindowAxis) -> str:
    return f"{axis.words} from {axis.values[0]:g} to {axis.values[-1]:g}{_unit(axis)}"


def share_of(points: int, total: int) -> str:
    """Write the share of some points in all."""
    share = 100 * points / total
    return f"{share:.0f} %" if share >= 1 else "less than 1 %"


def _nearest_words(window: Window) -> str:
    point = window.nearest
    if point is None:
        return "No point has a better verdict than the order itself."
    return (
        f"The nearest better point, {VERDICTS[point.verdict][0]}: "
        f"{_value_on(window.across, point.across)}, {_value_on(window.along, point.along)}."
    )


def _value_on(axis: WindowAxis, value: float | None) -> str:
    return f"{axis.words} not stated" if value is None else f"{axis.words} {value:.4g}{_unit(axis)}"


def label_of(axis: WindowAxis) -> str:
    """Return the label of an axis: its field and unit."""
    return f"{axis.words}, {axis.unit}" if _unit(axis) else axis.words


def _unit(axis: WindowAxis) -> str:
    """Return the unit of a field, unless its name says it: ends per cm."""
    if axis.unit is None or axis.unit.replace("/", " per ") in axis.words:
        return ""
    return f" {axis.unit}"


def deciding(case: WindowCase) -> tuple[str, ...]:
    """Return the checks that make a verdict: errors, or else warnings."""
    return case.errors or case.warnings


def case_words(case: WindowCase) -> str:
    """Return the verdict of a case, what decides it, and what limits the speed."""
    found = deciding(case)
    because = f": {', '.join(found)}" if found else ""
    return f"{VERDICTS[case.verdict][0]}{because}{_LIMITS.get(case.limited_by, '')}"


_LIMITS: Final[dict[SpeedLimitName | None, str]] = {
    SpeedLimitName.REQUESTED_SPEED: "; runs at the requested speed",
    SpeedLimitName.LOOM_SPEED: "; speed limited by the loom",
    SpeedLimitName.SPEED_CURVE: "; speed limited by the loom's speed curve",
    SpeedLimitName.INSERTION_RATE: "; speed limited by the insertion rate",
    SpeedLimitName.SHEDDING: "; speed limited by the shedding motion",
    SpeedLimitName.WEFT_STRENGTH: "; speed limited by the strength of the weft",
}
