"""A window of feasibility: the verdict on an order over a grid of two of its fields."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Annotated, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from weavability.answers.caution import CAUTION
from weavability.answers.columns import (
    NOT_JUDGED,
    NOT_WEAVABLE,
    SEVERITY_RANKS,
    WEAVABLE,
    WEAVABLE_WITH_WARNINGS,
)
from weavability.answers.decisive_assumptions import VERDICTS
from weavability.answers.field_names import field_in_words
from weavability.answers.field_words import (
    CautionText,
    LoomName,
    OrderReference,
    RulesetDigest,
    Unit,
)
from weavability.answers.grid_rows import Axis
from weavability.answers.judged_grid import JudgedGrid, judge_grid
from weavability.answers.nearest_point import nearest_point, points_of
from weavability.answers.rounding import tidy
from weavability.answers.stated_values import numeric_field, unit_at, with_values
from weavability.answers.validation import judge, ruleset
from weavability.answers.weighed_findings import Weighed
from weavability.checks.codes import CheckCode
from weavability.checks.facts import facts_of
from weavability.checks.finding import Severity, Verdict
from weavability.checks.registry import comparisons, observe, place_of
from weavability.checks.rules import Observation
from weavability.looms.fit import Fit
from weavability.looms.loom import Loom
from weavability.looms.weft_insertion import SpeedLimitName
from weavability.textiles.bounds import Bounds
from weavability.textiles.construction import Construction
from weavability.textiles.errors import Fault, InputError, collecting, pointing_below
from weavability.textiles.numbers import first_alike
from weavability.textiles.rounded_numbers import SIGNIFICANT_DIGITS, significant
from weavability.textiles.sentences import say

MOST_ALONG_AN_AXIS: Final = 200
MOST_POINTS: Final = 10_000

_NONE: Final = SEVERITY_RANKS[Severity.ERROR] + 1
"""The rank of a point that cannot be judged, for the border: it is on the outer side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A field and the values over which it is varied, both ends included."""

    pointer: str
    start: float
    stop: float
    points: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowAxis:
    """A field that is varied."""

    pointer: Annotated[str, "JSON Pointer of the field in the request"]
    words: Annotated[str, "The field in words"]
    unit: Annotated[str | None, "Its unit, or null; of a designation, the designation"]
    values: Annotated[tuple[float, ...], "The values, rising"]
    own: Annotated[float | None, "The order's own value, stated or assumed; null if it has none"]


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowCase:
    """What holds at some of the points: each point of the grid is one of the cases."""

    verdict: Annotated[Verdict | None, "The verdict; null if the values contradict the request"]
    errors: Annotated[tuple[CheckCode, ...], "Checks that find an error"]
    warnings: Annotated[tuple[CheckCode, ...], "Checks that find a warning"]
    notes: Annotated[tuple[CheckCode, ...], "Checks that find a note, and nothing graver"]
    rejected_if_assumed: Annotated[
        tuple[CheckCode, ...],
        "Those of the warnings for which the order is not weavable if what is assumed is so: the "
        "codes of the `verdict_note` of a validation",
    ]
    limited_by: Annotated[SpeedLimitName | None, "The limit that sets the speed"]
    decided_by: Annotated[
        tuple[CheckCode, ...],
        "What makes it another decision than other cases: its errors, or else its warnings, among "
        "which a reed that is not in stock, and can be bought, is only without others",
    ]
    points: Annotated[int, "Points at which it holds"]


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowBorder:
    """A line between points with unlike verdicts, half way between them."""

    verdict: Annotated[Verdict, "The graver of the two, which holds on one side of it"]
    across: Annotated[tuple[float, ...], "The value across of every corner of the line"]
    along: Annotated[tuple[float, ...], "The value along of every corner"]


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowPoint:
    """One point, with what is found there."""

    across: Annotated[float | None, "The value across; null if the order has none"]
    along: Annotated[float | None, "The value along; null if the order has none"]
    verdict: Annotated[Verdict, "The verdict there"]
    codes: Annotated[tuple[CheckCode, ...], "Checks that find an error or a warning there"]
    rejected_if_assumed: Annotated[
        tuple[CheckCode, ...],
        "Those of them for which the order is not weavable there if what is assumed is so, as of a "
        "remedy",
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """The verdict over a grid of two fields; each point is what a validation would find there."""

    ruleset: RulesetDigest
    reference: OrderReference
    loom_id: LoomName
    across: Annotated[WindowAxis, "The field that is varied along each row of the grid"]
    along: Annotated[WindowAxis, "The field that is varied from row to row"]
    cases: Annotated[tuple[WindowCase, ...], "What holds at the points, the most frequent first"]
    grid: Annotated[
        tuple[tuple[int, ...], ...],
        "The case of every point by its place in `cases`: a row for every value of `along`, in it "
        "one number for every value of `across`",
    ]
    speeds_picks_per_min: Annotated[
        tuple[tuple[float | None, ...], ...],
        "The speed at which the loom runs, likewise; null if the point cannot be judged",
        Unit("picks/min"),
    ]
    borders: Annotated[tuple[WindowBorder, ...], "The lines between unlike verdicts"]
    own: Annotated[WindowPoint, "The order as it is, which may lie outside the window"]
    nearest: Annotated[
        WindowPoint | None,
        "The point of the grid with a better verdict that changes the order least, by the "
        "`distance` of remedies, in which what no remedy changes counts like a sett; it meets what "
        "is required as a remedy has to, and has something in `rejected_if_assumed` only if every "
        "better point has; null if there is none",
    ]
    nearest_note: Annotated[
        str | None,
        "Why there is no `nearest`, or what it leaves to what is assumed; null if nothing",
    ]
    caution: CautionText


class MadeWindow(NamedTuple):
    """A window, and how many of its points were read by themselves."""

    window: Window
    points_alone: int


def make_window(
    construction: Construction, loom: Loom, *, across: Stretch, along: Stretch
) -> MadeWindow:
    """Judge an order on a loom over a grid of two of its fields.

    Args:
        construction: The cloth as ordered.
        loom: The loom as stated.
        across: The field that is varied along a row.
        along: The field that is varied from row to row.

    Raises:
        InputError: A field is not numeric, its values cannot be requested, or there are too many
            points, at ``/across`` or ``/along``; or the order cannot be judged, at its own fields.
    """
    x, y = axes_of(construction, loom, across, along)
    fit = judge(construction, loom)
    # A figured design is woven already.
    grid = judge_grid(fit.cloth.construction, loom, x, y)
    if (grid.verdicts == NOT_JUDGED).all():
        # What contradicts the request at every point is its fault.
        judge(
            *with_values(
                construction, loom, [(each.place.pointer, each.values[0]) for each in (x, y)]
            )
        )
    cases, places = _cases(grid)
    axes = _axis(x, fit, loom), _axis(y, fit, loom)
    seen = observe(fit)
    own = _own(seen, Weighed.of(seen, facts_of(fit)).doubts, axes)
    nearest = nearest_point(
        grid,
        next(rank for rank, verdict in VERDICTS.items() if verdict is own.verdict),
        frozenset(one.code for one in seen if one.severity is Severity.ERROR),
        points=(
            points_of(x, axes[0].own, construction, loom),
            points_of(y, axes[1].own, construction, loom),
        ),
    )
    # Ten thousand speeds are rounded together, and not one by one with the rest.
    window = Window(
        ruleset=ruleset(),
        reference=construction.reference,
        loom_id=loom.loom_id,
        across=tidy(axes[0]),
        along=tidy(axes[1]),
        cases=tidy(cases),
        grid=tuple(map(tuple, places.tolist())),
        speeds_picks_per_min=_speeds(grid),
        borders=tidy(tuple(_borders(grid, x.values, y.values))),
        own=tidy(own),
        nearest=None if nearest.at is None else tidy(_point(grid, axes, *nearest.at)),
        nearest_note=nearest.note,
        caution=CAUTION,
    )
    return MadeWindow(window, grid.verdicts.size if grid.is_read_alone else 0)


def axes_of(
    construction: Construction, loom: Loom, across: Stretch, along: Stretch
) -> tuple[Axis, Axis]:
    """Return the values of both fields.

    Raises:
        InputError: As :func:`make_window` does, for what is wrong with ``/across`` and ``/along``.
    """
    faults: list[Fault] = []
    made: list[Axis] = []
    for name, stretch in (("/across", across), ("/along", along)):
        with collecting(faults, below=name):
            made.append(_axis_of(construction, loom, stretch))
    if len(made) == len({axis.place.figure for axis in made}) + 1:
        faults.append(
            Fault(
                "/along/pointer",
                say(
                    "fault.window.same_figure_twice",
                    "Vary another field along than across: both state one figure.",
                ),
                along.pointer,
            )
        )
    points = across.points * along.points
    if points > MOST_POINTS:
        faults.append(
            Fault(
                "/along/points",
                say(
                    "fault.window.too_many_points",
                    "A window has at most {most_points} points.",
                    most_points=MOST_POINTS,
                ),
                points,
                "such as 100 across and 100 along",
            )
        )
    if faults:
        raise InputError(faults)
    return made[0], made[1]


def _axis_of(construction: Construction, loom: Loom, stretch: Stretch) -> Axis:
    """Return the values of a field.

    Raises:
        InputError: It is not numeric, or its ends cannot be requested.
    """
    with pointing_below("/pointer"):
        place = numeric_field(stretch.pointer, construction, loom)
    bounds = place.bounds
    unit = f" {bounds.unit}" if bounds.unit else ""
    allowed = f"from {bounds.least:.10g} to {bounds.most:.10g}{unit}"
    for name, value in (("/from", stretch.start), ("/to", stretch.stop)):
        if value not in bounds:
            raise InputError.of(
                name,
                say(
                    "fault.window.beyond_bounds",
                    "{field} must be {allowed}.",
                    field=field_in_words(stretch.pointer),
                    allowed=allowed,
                ),
                given=value,
                allowed=allowed,
            )
    values = np.linspace(stretch.start, stretch.stop, stretch.points).tolist()
    if place.is_whole:
        return Axis(place, tuple(sorted({round(value) for value in values})))
    shown = [significant(value) for value in values]
    if len(set(shown)) < len(shown):
        raise InputError.of(
            "/to",
            say(
                "fault.window.points_coincide",
                "{points} points from {start} to {stop} do not differ in six significant digits: "
                "vary the field over more, or ask for fewer points.",
                points=stretch.points,
                start=f"{stretch.start:.10g}",
                stop=f"{stretch.stop:.10g}",
            ),
            given=stretch.stop,
            allowed=_wide_enough(stretch, bounds),
        )
    return Axis(place, (stretch.start, *shown[1:-1], stretch.stop))


def _wide_enough(stretch: Stretch, bounds: Bounds) -> str:
    """Return an example of ends between which the points of a stretch differ."""
    most = max(abs(stretch.start), abs(stretch.stop))
    # A digit to spare: what is ten times as large has one decimal less.
    apart = 10.0 ** (math.floor(math.log10(most)) - SIGNIFICANT_DIGITS + 2)
    low = math.floor(stretch.start / apart) * apart
    low = min(low, bounds.most - apart * stretch.points)
    return f"such as from {max(low, bounds.least):.10g} to {low + apart * stretch.points:.10g}"


def _axis(axis: Axis, fit: Fit, loom: Loom) -> WindowAxis:
    pointer = axis.place.pointer
    return WindowAxis(
        pointer=pointer,
        words=field_in_words(pointer),
        unit=unit_at(axis.place, fit.cloth.construction),
        values=tuple(map(float, axis.values)),
        own=axis.place.in_use(fit.cloth, fit.assumptions, loom),
    )


def _own(
    seen: Sequence[Observation],
    doubts: frozenset[CheckCode],
    axes: tuple[WindowAxis, WindowAxis],
) -> WindowPoint:
    rank = max((SEVERITY_RANKS[one.severity] - 1 for one in seen), default=WEAVABLE)
    codes = dict.fromkeys(one.code for one in seen if one.severity is not Severity.NOTE)
    return WindowPoint(
        across=axes[0].own,
        along=axes[1].own,
        verdict=VERDICTS[max(rank, WEAVABLE)],
        codes=tuple(codes),
        rejected_if_assumed=tuple(code for code in codes if rank < NOT_WEAVABLE and code in doubts),
    )


def _point(
    grid: JudgedGrid, axes: tuple[WindowAxis, WindowAxis], row: int, column: int
) -> WindowPoint:
    severities = grid.severities[row, column].tolist()
    return WindowPoint(
        across=axes[0].values[column],
        along=axes[1].values[row],
        verdict=VERDICTS[int(grid.verdicts[row, column])],
        codes=(*_codes(severities, Severity.ERROR), *_codes(severities, Severity.WARNING)),
        rejected_if_assumed=grid.doubted_at(row, column),
    )


def _cases(grid: JudgedGrid) -> tuple[tuple[WindowCase, ...], NDArray[np.intp]]:
    """Find the distinct cases, and the case of every point."""
    shape = grid.verdicts.shape
    listed = np.concatenate(
        [grid.verdicts[..., None], grid.limited_by[..., None], grid.severities], axis=2
    )
    for code, where in grid.doubts.items():
        listed[..., 2 + place_of(code)] += where * _MORE_IN_DOUBT
    listed = listed.reshape(shape[0] * shape[1], -1)
    alike = first_alike(listed)
    counts = np.bincount(alike)
    first = np.flatnonzero(counts)
    first = first[np.argsort(-counts[first], kind="stable")]
    place = np.zeros(len(counts), np.intp)
    place[first] = np.arange(len(first))
    cases = tuple(_case(listed[at], int(counts[at])) for at in first.tolist())
    return cases, place[alike].reshape(shape)


_MORE_IN_DOUBT: Final = np.int8(10)
"""What is added to the rank of a warning that would be an error if what is assumed were stated."""


def _case(row: NDArray[np.int8], points: int) -> WindowCase:
    verdict, limited_by, *listed = row.tolist()
    severities = [rank % _MORE_IN_DOUBT for rank in listed]
    in_doubt = [rank - _MORE_IN_DOUBT for rank in listed]
    errors = tuple(_codes(severities, Severity.ERROR))
    warnings = tuple(_codes(severities, Severity.WARNING))
    return WindowCase(
        verdict=VERDICTS.get(verdict),
        errors=errors,
        warnings=warnings,
        decided_by=errors
        or tuple(each for each in warnings if each is not CheckCode.REED_NOT_IN_STOCK)
        or warnings,
        notes=tuple(_codes(severities, Severity.NOTE)),
        rejected_if_assumed=tuple(_codes(in_doubt, Severity.WARNING)),
        limited_by=None if limited_by < 0 else tuple(SpeedLimitName)[limited_by],
        points=points,
    )


def _codes(severities: Sequence[int], severity: Severity) -> Iterator[CheckCode]:
    for made, rank in zip(comparisons(), severities, strict=True):
        if rank == SEVERITY_RANKS[severity]:
            yield made[0].code


def _speeds(grid: JudgedGrid) -> tuple[tuple[float | None, ...], ...]:
    """Return the speeds with six significant digits, as :func:`tidy` would write them."""
    speeds = grid.speeds_picks_per_min
    digits = SIGNIFICANT_DIGITS - 1 - np.floor(np.log10(speeds))
    rounded = np.round(speeds * 10.0**digits) / 10.0**digits
    known = rounded.astype(object)
    known[np.isnan(speeds)] = None
    return tuple(map(tuple, known.tolist()))


# ------------------------------------------------------------------------------------- the borders

_Edge = tuple[int, int]
"""The middle between two neighbouring points, by twice its place along and across."""


def _borders(
    grid: JudgedGrid, across: Sequence[float], along: Sequence[float]
) -> Iterator[WindowBorder]:
    ranks = np.where(grid.verdicts == NOT_JUDGED, _NONE, grid.verdicts)
    for rank in (NOT_WEAVABLE, WEAVABLE_WITH_WARNINGS):
        for line in _traced(ranks >= rank):
            yield WindowBorder(
                verdict=VERDICTS[rank],
                across=tuple(_between(across, place) for _, place in line),
                along=tuple(_between(along, place) for place, _ in line),
            )


def _between(values: Sequence[float], twice: int) -> float:
    """Return the value at half a place."""
    return (values[twice // 2] + values[-(-twice // 2)]) / 2


def _traced(inside: NDArray[np.bool_]) -> Iterator[list[_Edge]]:
    """Trace the lines between points inside and outside, by marching squares."""
    beside: dict[_Edge, list[_Edge]] = {}
    for one, other in _segments(inside):
        beside.setdefault(one, []).append(other)
        beside.setdefault(other, []).append(one)
    # Lines that end at the edge of the grid begin there; what is left are rings.
    for start in sorted(beside, key=lambda edge: (len(beside[edge]), edge)):
        if beside[start]:
            yield _straightened(_walk(beside, start))


def _walk(beside: dict[_Edge, list[_Edge]], start: _Edge) -> list[_Edge]:
    line, here = [start], start
    while beside[here]:
        there = beside[here].pop()
        beside[there].remove(here)
        line.append(there)
        here = there
    return line


def _segments(inside: NDArray[np.bool_]) -> Iterator[tuple[_Edge, _Edge]]:
    """Yield the pieces of the border in every square of four points."""
    corners = (inside[:-1, :-1], inside[:-1, 1:], inside[1:, 1:], inside[1:, :-1])
    kinds = sum(corner * 2**place for place, corner in enumerate(corners))
    crossed = np.nonzero(np.isin(kinds, list(_PIECES)))
    for row, column, kind in zip(
        *(places.tolist() for places in crossed), kinds[crossed].tolist(), strict=True
    ):
        for (a, b), (c, d) in _PIECES[kind]:
            yield (2 * row + a, 2 * column + b), (2 * row + c, 2 * column + d)


def _pieces(around: Sequence[bool]) -> Iterator[tuple[_Edge, _Edge]]:
    """Yield the pieces of the border in a square, by which of its corners are inside."""
    edges = ((0, 1), (1, 2), (2, 1), (1, 0))
    crossed = [
        edge
        for edge, (one, other) in zip(edges, pairwise([*around, around[0]]), strict=True)
        if one != other
    ]
    if len(crossed) == 2:
        yield crossed[0], crossed[1]
    else:  # Two corners across are inside: each is cut off by itself.
        first = 0 if around[0] else 1
        yield crossed[first - 1], crossed[first]
        yield crossed[first + 1], crossed[(first + 2) % 4]


_PIECES: Final = {
    kind: tuple(_pieces([bool(kind & 2**place) for place in range(4)])) for kind in range(1, 15)
}
"""By the sum of 1, 2, 4 and 8 for the corners inside, going round from the first."""


def _straightened(line: list[_Edge]) -> list[_Edge]:
    """Leave out what lies on a straight line between its neighbours."""
    kept = [line[0]]
    for (a, b), (c, d), (e, f) in zip(line, line[1:], line[2:], strict=False):
        if (c - a, d - b) != (e - c, f - d):
            kept.append((c, d))
    return [*kept, line[-1]]
