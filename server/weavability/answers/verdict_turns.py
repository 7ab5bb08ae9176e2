"""Where the verdict on an order turns inside the bands of its assumed values, one at a time."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, NamedTuple

import numpy as np

from weavability.answers.band_scale import BandScale
from weavability.answers.columns import (
    NOT_JUDGED,
    NOT_WEAVABLE,
    SEVERITY_RANKS,
    WEAVABLE_WITH_WARNINGS,
)
from weavability.answers.stated_judgement import Seen, StatedJudge
from weavability.answers.stated_values import is_whole
from weavability.checks.check_columns import Ranks
from weavability.checks.codes import CheckCode
from weavability.checks.finding import Severity
from weavability.checks.registry import comparisons
from weavability.checks.rules import About
from weavability.looms.thresholds import in_force
from weavability.textiles.assumptions import Assumption, ValueBand

_SCANNED: Final = 16
"""Parts into which a band is divided if what is found differs over it."""

_SECTIONS: Final = 32
"""Parts into which the stretch in which a verdict turns is divided at a time."""


def band_of(line: Assumption) -> ValueBand | None:
    """Return the band of a value that can be stated in a request.

    How a weave was read is not stated again: of its picture only the weave is kept.
    """
    of_request = line.pointer.startswith(("/construction/", "/loom/"))
    of_request = of_request and not line.pointer.startswith("/construction/weave/")
    if not of_request or line.band is None or line.band.low >= line.band.high:
        return None
    return line.band


class _Point(NamedTuple):
    """A value that was tried, and what was found."""

    value: float
    seen: Seen

    @property
    def rank(self) -> int:
        """The verdict as it is written in an array."""
        return self.seen.rank


class Turn(NamedTuple):
    """Two neighbouring values between which the verdict turns.

    Attributes:
        until: The value at which it turns back, on the worse side; ``None`` if it does not.
        is_anywhere: Whether it turns as soon as any value is stated; the better one is assumed.
    """

    line: Assumption
    scale: BandScale
    better: _Point
    worse: _Point
    until: float | None
    is_anywhere: bool = False


@dataclass(slots=True)
class _Stretch:
    """A stretch of a band in which a verdict passes a rank, and which is narrowed down."""

    line: Assumption
    scale: BandScale
    rank: int
    low: _Point
    high: _Point

    def inner(self) -> list[float]:
        """Return values that divide it; none if no multiple of the step lies inside."""
        first = math.floor(self.low.value / self.scale.step + _NEAR) + 1
        last = math.ceil(self.high.value / self.scale.step - _NEAR) - 1
        inside = last - first + 1
        if inside < _SECTIONS:
            return [self.scale.at(multiple) for multiple in range(first, last + 1)]
        parts = range(1, _SECTIONS)
        return [self.scale.at(first + inside * part // _SECTIONS) for part in parts]

    def narrow(self, points: Iterable[_Point]) -> None:
        """Keep the first part in which the rank is passed."""
        for one, other in pairwise([self.low, *points, self.high]):
            if (one.rank >= self.rank) != (other.rank >= self.rank):
                self.low, self.high = one, other
                return


_NEAR: Final = 1e-6
"""Share of a step that rounding may take."""


def turns_of(judge: StatedJudge, now: Seen, lines: Sequence[Assumption]) -> Iterator[Turn]:
    """Yield where the verdict turns when one value alone is stated otherwise.

    Args:
        judge: Judges the order with values stated.
        now: What is found as all is assumed.
        lines: Assumed values that have a band.
    """
    stretches: list[_Stretch] = []
    for line, points in _scanned(judge, now, lines):
        scale = BandScale.of(line, banded(line))
        least = min(points, key=lambda point: point.rank, default=None)
        if least is not None and least.rank > now.rank:
            assumed = _Point(float(str(line.value)), now)
            yield Turn(line, scale, assumed, least, until=None, is_anywhere=True)
        stretches += [
            _Stretch(line, scale, rank, one, other)
            for rank in (WEAVABLE_WITH_WARNINGS, NOT_WEAVABLE)
            for one, other in pairwise(points)
            if (one.rank >= rank) != (other.rank >= rank)
        ]
    _narrow(judge, stretches)
    seen: set[tuple[str, float, float]] = set()
    for stretch, until in zip(stretches, _untils(stretches), strict=True):
        key = (stretch.line.pointer, stretch.low.value, stretch.high.value)
        if key not in seen:
            seen.add(key)
            rises = stretch.low.rank < stretch.high.rank
            better, worse = (stretch.low, stretch.high) if rises else (stretch.high, stretch.low)
            yield Turn(stretch.line, stretch.scale, better, worse, until)


def banded(line: Assumption) -> ValueBand:
    """Return the band of a value that was tried.

    Raises:
        TypeError: It has none.
    """
    if line.band is None:
        raise TypeError("only values with a band are tried")
    return line.band


def _scanned(
    judge: StatedJudge, now: Seen, lines: Sequence[Assumption]
) -> list[tuple[Assumption, list[_Point]]]:
    """Judge each value at both ends of its band, by rising value.

    If these differ in more than notes, from one another or from the order as it is, it is judged as
    assumed and at 15 values between the ends as well; not if one check gives the same verdict each
    time. If they do not differ, it is judged between them as often as other reeds may serve.
    """
    found = _tried(judge, [(line, _ends(line)) for line in _not_held(judge, now, lines)])
    as_now, scanned = _weighty(now), []
    for line, points in found:
        differs = len(points) < _ENDS or (
            any((_weighty(one.seen) != as_now).any() for one in points)
            and not _is_held([now, *(one.seen for one in points)])
        )
        inner = _between(line) if differs else _at_reeds(judge, now, line, points)
        if differs or inner:
            scanned.append((line, points, inner))
    more = _tried(judge, [(line, inner) for line, _, inner in scanned])
    return [
        (line, sorted([*points, *added], key=lambda point: point.value))
        for (line, points, _), (_, added) in zip(scanned, more, strict=True)
    ]


def _at_reeds(
    judge: StatedJudge, now: Seen, line: Assumption, points: Sequence[_Point]
) -> list[float]:
    """Return values inside a band, so near one another that none passes over what a reed serves.

    That is a stretch of a few per cent of the reed that a cloth needs. They are needed only if
    nothing else decides the verdict.
    """
    found = np.max([one.severities for one in (now, *(point.seen for point in points))], axis=0)
    found[_OF_STOCK] = 0
    first, last = (point.seen.needed_dents_per_10cm for point in points)
    if not judge.has_stock or math.isnan(first + last) or found.max() > _NOTE:
        return []
    served = math.log1p(in_force().usual.reed_stock_tolerance_pct / 100)
    parts = math.floor(abs(math.log(last / first)) / (2 * served)) + 1
    return _divided(line, parts)


def _not_held(judge: StatedJudge, now: Seen, lines: Sequence[Assumption]) -> Sequence[Assumption]:
    """Leave out the values with which an error of the order remains at both ends.

    These leave it not weavable, whatever else is found, so only the check that gives the error is
    applied: of several that with the fewest values that may clear it. Requirements, which cost more
    than all others, are not.
    """
    errors = [
        made
        for made, severity in zip(comparisons(), now.severities.tolist(), strict=True)
        if severity > NOT_WEAVABLE and made[0].about is not About.EACH_REQUIREMENT
    ]
    if not errors:
        return lines
    made = min(errors, key=lambda made: sum(len(one.moves.ends) for one in made))
    found = _tried(judge, [(line, _ends(line)) for line in lines], {made[0].code})
    return [
        line
        for line, points in found
        if len(points) < _ENDS or not _is_held([now, *(one.seen for one in points)])
    ]


def _is_held(found: Sequence[Seen]) -> bool:
    """Return whether all verdicts are the same and one check gives it each time."""
    (rank, *others) = {seen.rank for seen in found}
    return not others and bool(np.all([seen.severities > rank for seen in found], axis=0).any())


def _weighty(seen: Seen) -> Ranks:
    """Return the severities of errors and warnings; notes decide no verdict."""
    return np.where(seen.severities >= SEVERITY_RANKS[Severity.WARNING], seen.severities, 0)


def _tried(
    judge: StatedJudge,
    to_try: Sequence[tuple[Assumption, Sequence[float]]],
    checks: Collection[CheckCode] | None = None,
) -> list[tuple[Assumption, list[_Point]]]:
    """Judge values of several assumptions; those that contradict the rest are left out.

    Args:
        judge: Judges them.
        to_try: The values.
        checks: By which alone, as :class:`StatedJudge` takes them.
    """
    values = [((line.pointer, value),) for line, some in to_try for value in some]
    found = iter(judge(values, checks))
    return [
        (line, [each for each in _points(some, found) if each.rank != NOT_JUDGED])
        for line, some in to_try
    ]


def _points(values: Sequence[float], found: Iterator[Seen]) -> list[_Point]:
    return [_Point(value, next(found)) for value in values]


_NOTE: Final = SEVERITY_RANKS[Severity.NOTE]
_OF_STOCK: Final = [made[0].code for made in comparisons()].index(CheckCode.REED_NOT_IN_STOCK)

_ENDS: Final = 2
"""Of a band; fewer were judged if one contradicts the order."""


def _ends(line: Assumption) -> list[float]:
    band, whole = banded(line), is_whole(line.pointer)
    return [int(value) if whole else value for value in (band.low, band.high)]


def _between(line: Assumption) -> list[float]:
    """Return the value as it is assumed, and others between the ends of its band."""
    assumed, (low, high) = line.value, _ends(line)
    if not isinstance(assumed, int | float):
        raise TypeError("a value with a band is a number")
    inner = dict.fromkeys((assumed, *_divided(line, _SCANNED)))
    return [value for value in inner if low < value < high]


def _divided(line: Assumption, parts: int) -> list[float]:
    """Return the values that divide a band into parts."""
    (low, high), scale = _ends(line), BandScale.of(line, banded(line))
    values = (low + (high - low) * part / parts for part in range(1, parts))
    inner = dict.fromkeys(scale.stated(scale.nearest(value)) for value in values)
    return [value for value in inner if low < value < high]


def _narrow(judge: StatedJudge, stretches: Sequence[_Stretch]) -> None:
    """Narrow all stretches down, until each is one step long."""
    going = [(stretch, inner) for stretch in stretches if (inner := stretch.inner())]
    while going:
        to_try = [
            (stretch.line, [stretch.scale.stated(value) for value in inner])
            for stretch, inner in going
        ]
        for (stretch, _), (_, points) in zip(going, _tried(judge, to_try), strict=True):
            stretch.narrow(points)
        going = [
            (stretch, inner)
            for stretch, before in going
            if len(before) >= _SECTIONS - 1 and (inner := stretch.inner())
        ]


def _untils(stretches: Sequence[_Stretch]) -> Iterator[float | None]:
    """Yield where each turn is taken back on its worse side, if the scan has seen that."""
    for at, stretch in enumerate(stretches):
        rises = stretch.low.rank < stretch.high.rank
        next_at = at + 1 if rises else at - 1
        other = stretches[next_at] if 0 <= next_at < len(stretches) else None
        same = other is not None and other.line is stretch.line and other.rank == stretch.rank
        if other is None or not same:
            yield None
        else:
            yield other.high.value if rises else other.low.value


def graver(better: Seen, worse: Seen) -> tuple[CheckCode, ...]:
    """Return the checks that give the worse verdict and did not before."""
    least = worse.rank + 1  # A verdict is one below the severity that makes it.
    codes = (made[0].code for made in comparisons())
    return tuple(
        code
        for code, before, after in zip(
            codes, better.severities.tolist(), worse.severities.tolist(), strict=True
        )
        if after >= least > before
    )
