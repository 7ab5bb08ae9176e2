"""Assumed values that refuse an order together, all at the ends of their bands."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cache, partial
from math import inf, isfinite
from typing import Final, NamedTuple

from weavability.answers.columns import NOT_WEAVABLE, SEVERITY_RANKS, WEAVABLE
from weavability.answers.least_set import SetsTried
from weavability.answers.stated_judgement import Sought
from weavability.answers.stated_values import is_whole
from weavability.checks.codes import CheckCode
from weavability.checks.facts import Facts, Pair
from weavability.checks.finding import Severity
from weavability.checks.registry import comparisons, places_of
from weavability.checks.requirement import Beyond, beyond
from weavability.checks.rules import Comparison, Test
from weavability.checks.settling import given_to
from weavability.looms.finished_figures import FinishedFigures, finished_figures
from weavability.looms.thresholds import in_force
from weavability.textiles.assumptions import Assumption, End, Moves, of_any
from weavability.textiles.cloth_symbols import WEFT_CRIMP
from weavability.textiles.numbers import short
from weavability.textiles.required_values import Required
from weavability.textiles.rounded_numbers import significant

_ADVERSE: Final = {
    End.LOW: End.HIGH,
    End.HIGH: End.LOW,
    End.HIGH_IF_WIDE: End.LOW,
    End.NO_MOST: End.LOW,
    End.NO_LEAST: End.HIGH,
}
"""Where a value goes to make an error worse, by where it helps. A name has no other end."""

Share = tuple[float, int]
"""How far a figure goes towards its limit, the more the worse, and the verdict that it gives."""


class Effect(NamedTuple):
    """What a value does at the end of its band that makes an error worse.

    Attributes:
        line: The value as it is assumed.
        towards_limit_pct: How much of the distance of the figure, as all is assumed, to its limit
            it takes up alone; ``None`` if there is no such distance.
    """

    line: Assumption
    towards_limit_pct: float | None


class Missed(NamedTuple):
    """A limit of what the customer requires.

    Attributes:
        place: The requirement, in the order of the numbers.
        is_most: Whether it is the greatest that is allowed.
        required: The figure.
    """

    place: int
    is_most: bool
    required: Required

    @property
    def pointer(self) -> str:
        """The field of the request."""
        return f"{self.required.pointer}/{'max' if self.is_most else 'min'}"


class Corner(NamedTuple):
    """The values on which an error may rest, at the ends that make it worse.

    Attributes:
        code: The check that gives the error.
        moves: Where each value goes.
        rank: The verdict that it gives, as an array has it.
        bearing: All values that decide the error, also those that have no worse end.
        with_only: Compares with only the values at some pointers there, once for each set.
        limit: How far a figure goes, as that has it, when the verdict is given.
        missed: What the customer requires that it misses; ``None`` if it is of another check.
    """

    code: CheckCode
    moves: Moves
    rank: int
    bearing: Moves
    with_only: Callable[[frozenset[str]], Sequence[Share]]
    limit: float
    missed: Missed | None = None

    def bears(self, pointer: str) -> bool:
        """Return whether a value decides it; a share of a fibre also rests on what yarns are of."""
        is_share = self.missed is not None and bool(self.missed.required.fibre)
        return self.bearing.covers(pointer) or (is_share and pointer.endswith("/fibre"))

    @property
    def sought(self) -> Sought:
        """What is found there."""
        limit = None if self.missed is None else (self.missed.place, self.missed.is_most)
        return Sought(self.code, self.rank, limit)


class Corners:
    """Puts the values on which the errors of one pair may rest to the ends that make them worse."""

    def __init__(self, pair: Pair, lines: Sequence[Assumption]) -> None:
        self._pair, self._usual = pair, in_force().usual
        self._lines = lines

    def required(self) -> list[Corner]:
        """Return the corners of the requirements that may be missed, the farthest missed first."""
        found = [
            each
            for each in beyond(self._pair.facts.order.requirements)
            if each.severity is Severity.WARNING
        ]
        if not found:
            return []
        figures = finished_figures(self._pair.symbols)
        return [
            Corner(
                each.code,
                each.moves,
                NOT_WEAVABLE,
                bearing=each.moves,
                with_only=cache(partial(_required, each, figures)),
                limit=each.limit if each.is_most else -each.limit,
                missed=Missed(each.place, each.is_most, figures.required[each.place]),
            )
            for each in sorted(found, key=_times, reverse=True)
        ]

    def worst(self, now: int) -> Corner | None:
        """Return the corner of the gravest verdict; ``None`` if none is graver than it is now."""
        known: dict[Moves, Facts[float] | None] = {}
        worst = None
        for side in (side for made in comparisons() for side in _sides(made)):
            gravest = now if worst is None else worst.rank
            if gravest == NOT_WEAVABLE:
                break
            if not self._pair.rests_on(side.worse):
                continue
            if side.worse not in known:
                known[side.worse] = self._pair.moved(side.worse)
            found = self._seen(side, known[side.worse])
            rank = max((rank for _, rank in found), default=WEAVABLE)
            if rank > gravest:
                with_only = cache(partial(self._with_only, side, rank))
                worst = Corner(side.code, side.worse, rank, side.eased_by, with_only, side.towards)
        return worst

    def is_of_numbers(self, corner: Corner) -> bool:
        """Return whether numbers alone lead to a corner; a fibre that is assumed is none."""
        return _is_turned(corner, self._concerned(corner))

    def is_as_assumed(self, corner: Corner) -> bool:
        """Return whether the limit of a corner is passed with all values as they are assumed."""
        return _is_turned(corner, ())

    def needed(self, corner: Corner) -> tuple[Effect, ...]:
        """Return the values that turn the verdict, if all others are as they are assumed.

        The most effective come first. They are as many as it takes, and not one of them can be left
        out; all that are numbers if those do not suffice.
        """

        def reach(*pointers: str) -> float:
            seen = corner.with_only(frozenset(pointers))
            return max((share for share, _ in seen), default=-inf)

        concerned = self._concerned(corner)
        reached = {pointer: reach(pointer) for pointer in concerned}
        ranked = sorted(concerned, key=reached.__getitem__, reverse=True)
        is_turned = SetsTried(partial(_is_turned, corner))
        count = bisect_left(range(len(ranked)), x=True, key=lambda count: is_turned(ranked[:count]))
        taken = is_turned.least_of(ranked[:count])
        as_assumed = reach()
        distance = corner.limit - as_assumed
        is_before = isfinite(distance) and distance > 0
        return tuple(
            Effect(
                concerned[pointer],
                100 * (reached[pointer] - as_assumed) / distance if is_before else None,
            )
            for pointer in taken
        )

    def _concerned(self, corner: Corner) -> dict[str, Assumption]:
        """Return the numbers that go to a corner, by their pointers."""
        banded = (line for line in self._lines if line.band is not None)
        return {line.pointer: line for line in banded if corner.moves.covers(line.pointer)}

    def taken(self, corner: Corner, lines: Sequence[Assumption]) -> dict[str, float]:
        """Return the value that each of some assumptions takes in a corner, by its pointer.

        That is an end of its band. The crimp of the weft may lie beyond: it is estimated anew
        beside the other end of the band of the warp's, and is as far from that estimate.
        """
        values = {line.pointer: _end_value(corner.moves, line) for line in lines}
        if corner.missed is not None or WEFT_CRIMP not in values:
            return values
        facts = self._pair.moved(corner.moves.only_at(values))
        if facts is not None:
            stated, mean_pct = self._pair.symbols.stated(), facts.cloth.weft_crimp_pct
            share = stated.weft_stated_share
            open_pct = (mean_pct - share * stated.weft_crimp_pct) / (1.0 - share)
            values[WEFT_CRIMP] = significant(open_pct)
        return values

    def _with_only(self, side: _Side, rank: int, pointers: frozenset[str]) -> list[Share]:
        counting = [each for each in pointers if self._pair.is_assumed(of_any(each))]
        facts = self._pair.moved(side.worse.only_at(counting)) if counting else self._pair.facts
        return [(side.towards * share, found) for share, found in self._seen(side, facts, rank)]

    def _seen(
        self, side: _Side, facts: Facts[float] | None, rank: int = NOT_WEAVABLE
    ) -> Iterator[Share]:
        """Yield the figures over their limits, and the verdicts, of each yarn or group.

        Args:
            side: What is compared.
            facts: With what is moved; ``None`` if there are none.
            rank: The verdict of which the limit counts.
        """
        if facts is not None:
            for one in side.alike:
                yield from self._compared(one, facts, rank)

    def _compared(self, one: Comparison, facts: Facts[float], rank: int) -> Iterator[Share]:
        ranks = [SEVERITY_RANKS[each] - 1 for each in one.severities]
        counts = max((at for at, each in enumerate(ranks) if each >= rank), default=0)
        for place in range(places_of(one.about, facts)):
            actual, limits, applies = one.rule(*given_to(one, facts, self._usual, place))
            if applies:
                held = zip(ranks, limits, strict=True)
                found = next((each for each, limit in held if one.test(actual, limit)), WEAVABLE)
                yield actual / limits[counts] if limits[counts] else 0.0, found


@cache
def _moves_to(ends: frozenset[tuple[str, End]]) -> Moves:
    """Return moves; alike ones are one object."""
    return Moves(dict(ends))


def _is_turned(corner: Corner, pointers: Iterable[str]) -> bool:
    return any(rank >= corner.rank for _, rank in corner.with_only(frozenset(pointers)))


class _Side(NamedTuple):
    """The comparisons of a check, in one direction, of errors that what is assumed may clear.

    Of one figure a comparison may give way to another: what is beyond the limit of any loom is not
    compared with that of this one.

    Attributes:
        alike: The comparisons.
        eased_by: The ends of the bands that help.
        worse: Those that make it worse.
    """

    alike: tuple[Comparison, ...]
    eased_by: Moves
    worse: Moves

    @property
    def code(self) -> CheckCode:
        """The check."""
        return self.alike[0].code

    @property
    def towards(self) -> float:
        """Return the limit of a figure over it, the more the worse."""
        return -1.0 if self.alike[0].test is short else 1.0


@cache
def _sides(made: tuple[Comparison, ...]) -> tuple[_Side, ...]:
    alike: dict[Test, list[Comparison]] = {}
    for one in made:
        if one.moves.ends:
            alike.setdefault(one.test, []).append(one)
    return tuple(_side(tuple(some)) for some in alike.values())


def _side(alike: tuple[Comparison, ...]) -> _Side:
    ends = {at: end for one in alike for at, end in one.moves.ends.items()}
    worse = {at: _ADVERSE[end] for at, end in ends.items() if end in _ADVERSE}
    return _Side(alike, Moves(ends), _moves_to(frozenset(worse.items())))


def _required(of: Beyond, figures: FinishedFigures[float], pointers: frozenset[str]) -> list[Share]:
    end = figures.end_of(of.place, is_high=of.is_most, only=pointers)
    return [(end if of.is_most else -end, NOT_WEAVABLE if of.test(end, of.limit) else WEAVABLE)]


def _times(one: Beyond) -> float:
    over, under = (one.end, one.limit) if one.is_most else (one.limit, one.end)
    return over / under if under else float("inf")


def _end_value(moves: Moves, line: Assumption) -> float:
    if line.band is None:
        raise TypeError("only values with a band go to its end")
    value = line.band.low if moves.end_of(line.pointer) is End.LOW else line.band.high
    return int(value) if is_whole(line.pointer) else value
