"""What a verdict rests on: which assumed values turn it inside their bands, and where.

A value is tried by stating it and judging again, as a caller would who has measured it; all others
stay assumed. So an error that is eased because it rests on what is assumed counts as soon as the
values that decide it are stated.
"""

from __future__ import annotations

import math
import re
from bisect import bisect_left
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal, NamedTuple

import numpy as np

from weavability.answers.band_scale import BandScale
from weavability.answers.columns import (
    NOT_JUDGED,
    NOT_WEAVABLE,
    SEVERITY_RANKS,
    WEAVABLE,
    WEAVABLE_WITH_WARNINGS,
)
from weavability.answers.decisive_section import (
    CornerValue,
    Decided,
    DecisiveAssumption,
    TurningCorner,
    is_of_stock,
)
from weavability.answers.stated_judgement import Seen, StatedJudge, Statement, seen_of
from weavability.answers.stated_values import CLOTH, in_words, is_whole
from weavability.answers.worst_corner import Corner, Corners
from weavability.checks.check_columns import Ranks
from weavability.checks.codes import CheckCode
from weavability.checks.facts import Pair, pair_of
from weavability.checks.finding import Severity, Verdict
from weavability.checks.registry import comparisons, observe_pair
from weavability.checks.rules import About, Observation
from weavability.looms.figured_warp import woven_on
from weavability.looms.fit import Fit, fit_cloth
from weavability.looms.loom import Loom
from weavability.looms.loom_limits import resolve_loom
from weavability.textiles.assumptions import Assumption, ValueBand
from weavability.textiles.cloth import cloth_facts
from weavability.textiles.cloth_symbols import WEFT_CRIMP
from weavability.textiles.construction import Construction
from weavability.textiles.errors import pointing_below

VERDICTS: Final[Mapping[int, Verdict]] = {
    WEAVABLE: Verdict.WEAVABLE,
    WEAVABLE_WITH_WARNINGS: Verdict.WEAVABLE_WITH_WARNINGS,
    NOT_WEAVABLE: Verdict.NOT_WEAVABLE,
}
"""Verdicts by how they are written in an array."""

_SCANNED: Final = 16
"""Parts into which a band is divided if what is found differs over it."""

_SECTIONS: Final = 32
"""Parts into which the stretch in which a verdict turns is divided at a time."""


def values_tried(assumptions: Iterable[Assumption]) -> int:
    """Return how many assumed values :func:`decide` tries; its work is in proportion to them."""
    return sum(_band(line) is not None for line in assumptions)


def decide(construction: Construction, loom: Loom) -> Decided:
    """Find the assumed values that turn the verdict on an order inside their bands.

    Each is judged at both ends of its band, but for those that no error of the order rests on. If
    these differ, from one another or from the order as it is, it is judged as it is assumed and at
    15 values between as well, unless one check gives the same verdict each time. Where the verdict
    turns is narrowed down to a fiftieth of the band or less. If it turns and turns back between
    values that were judged, that is not seen; of the values on which an error may rest none does,
    because each such error grows in one direction (``checks/easing.py``).

    Then, for each requirement that a part of a band misses, and for each comparison whose error may
    rest on assumed values, all of these are put to the ends of their bands that make it worse.

    Args:
        construction: The cloth as ordered.
        loom: The loom as stated.

    Raises:
        InputError: As :func:`weavability.answers.validation.assess` does.
    """
    with pointing_below("/loom"):
        limits = resolve_loom(loom)
        woven = woven_on(construction, loom)
    with pointing_below("/construction"):
        cloth = cloth_facts(woven)
    return decide_on(fit_cloth(cloth, limits), loom)


def decide_on(fit: Fit, loom: Loom) -> Decided:
    """Do the same for the facts of an order on a loom."""
    pair, lines = pair_of(fit), fit.assumptions
    found = observe_pair(pair)
    now = seen_of(found)
    judge = StatedJudge(fit.cloth, loom, now)
    banded = [line for line in lines if _band(line) is not None]
    turns = tuple(_turns(judge, now, _bearing(banded, found, pair)))
    is_turned, corner = _turning(judge, pair, lines, now=now, turns=turns)
    return Decided(
        decisive=tuple(_explained(turn, judge) for turn in _listed(turns)),
        holds=not turns and not is_turned,
        corner=corner,
    )


def _bearing(
    lines: Iterable[Assumption], found: Iterable[Observation], pair: Pair
) -> list[Assumption]:
    """Return the values that bear on every error of the order: any other leaves it not weavable.

    An error bears on the values that may clear it (``eased_by``). If any of these is of the cloth,
    so may all else of the cloth, because estimates follow from it. What a customer requires, which
    most of what is assumed may decide, is left out.
    """
    bearing = list(lines)
    for seen in found:
        one = seen.comparison
        if seen.severity is not Severity.ERROR or one.about is About.EACH_REQUIREMENT:
            continue
        moves, is_open = one.moves, pair.rests_on(one.moves)
        of_cloth = is_open and any(at.startswith(_OF_CLOTH) for at in moves.ends)
        bearing = [
            line
            for line in bearing
            if (is_open and moves.covers(line.pointer))
            or (of_cloth and line.pointer.startswith(_OF_CLOTH))
        ]
    return bearing


_OF_CLOTH: Final = CLOTH + "/"


def _band(line: Assumption) -> ValueBand | None:
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


class _Turn(NamedTuple):
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


def _turns(judge: StatedJudge, now: Seen, lines: Sequence[Assumption]) -> Iterator[_Turn]:
    stretches: list[_Stretch] = []
    for line, points in _scanned(judge, now, lines):
        scale = BandScale.of(line, _banded(line))
        least = min(points, key=lambda point: point.rank, default=None)
        if least is not None and least.rank > now.rank:
            assumed = _Point(float(str(line.value)), now)
            yield _Turn(line, scale, assumed, least, until=None, is_anywhere=True)
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
            yield _Turn(stretch.line, stretch.scale, better, worse, until)


def _banded(line: Assumption) -> ValueBand:
    if line.band is None:
        raise TypeError("only values with a band are tried")
    return line.band


def _scanned(
    judge: StatedJudge, now: Seen, lines: Sequence[Assumption]
) -> list[tuple[Assumption, list[_Point]]]:
    """Judge each value at both ends of its band, by rising value.

    If these differ in more than notes, from one another or from the order as it is, it is judged as
    assumed and at 15 values between the ends as well; not if one check gives the same verdict each
    time.
    """
    found = _tried(judge, [(line, _ends(line)) for line in _not_held(judge, now, lines)])
    as_now = _weighty(now)
    differing = [
        (line, points)
        for line, points in found
        if len(points) < _ENDS
        or (
            any((_weighty(one.seen) != as_now).any() for one in points)
            and not _is_held([now, *(one.seen for one in points)])
        )
    ]
    between = [(line, _between(line)) for line, _ in differing]
    more = _tried(judge, between)
    return [
        (line, sorted([*points, *added], key=lambda point: point.value))
        for (line, points), (_, added) in zip(differing, more, strict=True)
    ]


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


_ENDS: Final = 2
"""Of a band; fewer were judged if one contradicts the order."""


def _ends(line: Assumption) -> list[float]:
    band, whole = _banded(line), is_whole(line.pointer)
    return [int(value) if whole else value for value in (band.low, band.high)]


def _between(line: Assumption) -> list[float]:
    """Return the value as it is assumed, and others between the ends of its band."""
    assumed, (low, high) = line.value, _ends(line)
    if not isinstance(assumed, int | float):
        raise TypeError("a value with a band is a number")
    scale = BandScale.of(line, _banded(line))
    parts = (low + (high - low) * part / _SCANNED for part in range(1, _SCANNED))
    inner = dict.fromkeys((assumed, *(scale.stated(scale.nearest(value)) for value in parts)))
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


def _graver(better: Seen, worse: Seen) -> tuple[CheckCode, ...]:
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


def _listed(turns: Iterable[_Turn]) -> Iterator[_Turn]:
    """Yield the turns by weight; of the two ends of one stretch the nearer, which names both."""
    seen: set[tuple[str, int, frozenset[float | None]]] = set()
    for turn in sorted(turns, key=_weight):
        stretch = turn.line.pointer, turn.worse.rank, frozenset((turn.better.value, turn.until))
        if turn.until is None or stretch not in seen:
            seen.add(stretch)
            yield turn


def _weight(turn: _Turn) -> tuple[int, bool, float]:
    """Sort by the gravest verdict, then by how near to the assumed value the verdict turns.

    Whether a reed is in stock comes last: it turns with many values, and settles itself when the
    reed is chosen.
    """
    band = _banded(turn.line)
    distance = abs(turn.better.value - float(str(turn.line.value)))
    codes = _graver(turn.better.seen, turn.worse.seen)
    return -turn.worse.rank, is_of_stock(codes), distance / (band.high - band.low)


def _still_beyond(
    turn: _Turn, judge: StatedJudge, codes: tuple[CheckCode, ...]
) -> tuple[CheckCode, ...]:
    """Return the checks that a turn only makes warnings of, their limits passed as before."""
    if (
        turn.is_anywhere
        or turn.worse.rank != NOT_WEAVABLE
        or turn.better.rank != WEAVABLE_WITH_WARNINGS
    ):
        return ()
    beyond = judge.beyond(((turn.line.pointer, turn.better.value),))
    return tuple(code for code in codes if code in beyond)


def _explained(turn: _Turn, judge: StatedJudge) -> DecisiveAssumption:
    line, better, worse = turn.line, turn.better, turn.worse
    side: Literal["above", "below", "anywhere"]
    side = "above" if worse.value > better.value else "below"
    if turn.is_anywhere:
        side = "anywhere"
    codes = _graver(better.seen, worse.seen)
    verdict, otherwise = VERDICTS[worse.rank], VERDICTS[better.rank]
    unit, band = f" {line.unit}" if line.unit else "", _banded(line)
    other_side = "below" if side == "above" else "above"
    back = "" if turn.until is None else f" and {other_side} {turn.until:g}{unit}"
    still = _still_beyond(turn, judge, codes)
    passed = (
        f"At {better.value:g}{unit} the limit of {', '.join(still)} is still passed, and is no "
        "error only because other values are assumed: measuring this one alone does not settle it. "
        if still
        else ""
    )
    words, value = in_words(line.pointer), f"{better.value:g}{unit}"
    within = f"{band.low:g} to {band.high:g}"
    at, assumed = f"at {value}", f"It is assumed at {line.value:g}{unit}, {within}."
    if better.value == line.value:
        at, assumed = f"as it is assumed, at {value},", f"Its band is {within}."
    name = f"{words[:1].upper()}{words[1:]}"
    message = (
        f"{name}: anywhere in its band, {within}{unit}, the order is {_said(verdict)} "
        f"({', '.join(codes)}) if it is stated. It is {_said(otherwise)} only because it is "
        f"assumed, at {line.value:g}{unit}."
        if turn.is_anywhere
        else f"{name}: {at} the order is "
        f"{_said(otherwise)}, {side} that{back} {_said(verdict)} ({', '.join(codes)}). "
        f"{passed}{assumed}"
    )
    return DecisiveAssumption(
        pointer=line.pointer,
        assumed=float(str(line.value)),
        band=band,
        turns_at=None if turn.is_anywhere else better.value,
        side=side,
        until=turn.until,
        resolution=turn.scale.step,
        unit=line.unit,
        verdict=verdict,
        verdict_otherwise=otherwise,
        codes=codes,
        still_beyond=still,
        message=message,
    )


def _said(verdict: Verdict) -> str:
    return verdict.value.replace("_", " ")


def _turning(
    judge: StatedJudge,
    pair: Pair,
    lines: Sequence[Assumption],
    *,
    now: Seen,
    turns: Sequence[_Turn],
) -> tuple[bool, TurningCorner | None]:
    """Return whether a corner turns the verdict, and the corner if no value alone does as much.

    That of a requirement comes first, and is left out only if a value alone turns that requirement.
    """
    corners = Corners(pair, lines)
    required = corners.required() if now.rank < NOT_WEAVABLE else None
    if required is not None and not any(required.code in _codes_of(turn) for turn in turns):
        described = _described(required, corners, judge, lines, now)
        if described is not None:
            return True, described
    corner = corners.worst(now.rank)
    if corner is None or corner.rank <= max((turn.worse.rank for turn in turns), default=WEAVABLE):
        return corner is not None or required is not None, None
    return True, _described(corner, corners, judge, lines, now)


def _codes_of(turn: _Turn) -> tuple[CheckCode, ...]:
    """Return the checks that refuse the order, if a value alone makes any do so."""
    is_refused = turn.worse.rank == NOT_WEAVABLE
    return _graver(turn.better.seen, turn.worse.seen) if is_refused else ()


def _described(
    corner: Corner,
    corners: Corners,
    judge: StatedJudge,
    lines: Sequence[Assumption],
    now: Seen,
) -> TurningCorner | None:
    """Describe a corner; ``None`` if no statement of numbers leads there."""
    needed = corners.needed(corner)
    at = corners.taken(corner, needed)
    there = tuple(at.items())
    beside, seen = _beside(corner, there, judge, lines)
    if corner.is_required and seen.rank < corner.rank:
        return None
    codes = _graver(now, seen) or (corner.code,)
    values = tuple(
        CornerValue(pointer=line.pointer, value=at[line.pointer], unit=line.unit) for line in needed
    )
    verdict = VERDICTS[corner.rank]
    turns_at = None
    if len(needed) == 1 and seen.rank >= corner.rank:
        turns_at = _turn_of(needed[0], at[needed[0].pointer], beside, judge, corner)
    return TurningCorner(
        verdict=verdict,
        codes=codes,
        values=values,
        turns_at=turns_at,
        stated_as_assumed=tuple(line.pointer for line in beside),
        message=f"{_with_all_else(values, turns_at)} the order is {_said(verdict)} "
        f"({', '.join(codes)})."
        + "".join(map(_beyond_band, needed, values))
        + _only_if_stated(beside),
    )


def _beside(
    corner: Corner,
    there: Statement,
    judge: StatedJudge,
    lines: Sequence[Assumption],
) -> tuple[tuple[Assumption, ...], Seen]:
    """Return the values to state as they are assumed with those of a corner, and what is seen then.

    As long as others are only assumed that may clear it, an error counts as a warning.
    """
    beside: tuple[Assumption, ...] = ()
    seen = judge.at_once(there)
    taken = {pointer for pointer, _ in there}
    rest = [line for line in lines if corner.bearing.covers(line.pointer)]
    rest = [line for line in rest if line.pointer not in taken]
    while seen.rank < corner.rank and len(beside) < len(rest):
        given = (*there, *_as_assumed(beside))
        deciding = judge.rests_on(given, corner.code) - {pointer for pointer, _ in given}
        if any(map(_WARP_CRIMPS.fullmatch, (*taken, *deciding))):
            # The crimp of the weft is estimated anew beside another crimp of the warp.
            deciding |= {WEFT_CRIMP}
        more = tuple(line for line in rest if line.pointer in deciding and line not in beside)
        beside = (*beside, *more) if more else tuple(rest)
        seen = judge.at_once((*there, *_as_assumed(beside)))
    return beside, seen


_WARP_CRIMPS: Final = re.compile(r"/construction/warp/(?:yarns/[^/]+/)?crimp_pct")


def _as_assumed(lines: Iterable[Assumption]) -> Statement:
    return tuple((line.pointer, line.value) for line in lines)


def _turn_of(
    line: Assumption,
    end: float,
    beside: Sequence[Assumption],
    judge: StatedJudge,
    corner: Corner,
) -> float | None:
    """Return the last value before that at which the error of a corner of one value is found."""
    scale, others = BandScale.of(line, _banded(line)), _as_assumed(beside)
    towards = 1 if end > float(str(line.value)) else -1
    start = round(float(str(line.value)) / scale.step)
    steps = range(towards * (round(end / scale.step) - start))

    def is_found(step: int) -> bool:
        value = scale.stated(scale.at(start + towards * step))
        seen = judge.at_once(((line.pointer, value), *others), {corner.code})
        return seen.rank >= corner.rank

    first = bisect_left(steps, x=True, key=is_found)
    return scale.at(start + towards * (first - 1)) if first else None


def _with_all_else(values: Sequence[CornerValue], turns_at: float | None) -> str:
    if not values:
        return "With all values as they are assumed"
    if turns_at is None:
        listed = ", ".join(map(_at_end, values))
    else:
        (taken,) = values
        side, way = ("above", "up") if taken.value > turns_at else ("below", "down")
        unit = _unit(taken)
        listed = f"{in_words(taken.pointer)} {side} {turns_at:g}{unit} ({way} to {taken.value:.6g}"
        listed += f"{unit})"
    return f"With {listed}, and all else as it is assumed,"


def _at_end(taken: CornerValue) -> str:
    return f"{in_words(taken.pointer)} {taken.value:.6g}{_unit(taken)}"


def _unit(taken: CornerValue) -> str:
    return f" {taken.unit}" if taken.unit else ""


def _only_if_stated(beside: Sequence[Assumption]) -> str:
    if not beside:
        return ""
    listed = ", ".join(in_words(line.pointer) for line in beside)
    return (
        f" It is reported so only if these are stated as well, as they are assumed: {listed}; "
        "until then it is a warning that rests on them."
    )


def _beyond_band(line: Assumption, taken: CornerValue) -> str:
    """Explain a crimp of the weft beyond its band, which lies around the estimate of now."""
    band = _banded(line)
    if band.low <= taken.value <= band.high:
        return ""
    return (
        f" The {in_words(line.pointer)} is outside its own band there, because the band of the "
        "other crimp moves its estimate."
    )
