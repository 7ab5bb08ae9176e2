"""The values on which an error may rest, all together at the ends of their bands."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

from weavability.answers.columns import NOT_WEAVABLE, SEVERITY_RANKS, WEAVABLE
from weavability.answers.stated_values import is_whole
from weavability.checks.facts import Facts, Pair
from weavability.checks.registry import comparisons, places_of
from weavability.checks.rules import Comparison
from weavability.checks.settling import given_to
from weavability.looms.thresholds import in_force
from weavability.textiles.assumptions import Assumption, End, Moves
from weavability.textiles.cloth_symbols import WEFT_CRIMP
from weavability.textiles.numbers import short
from weavability.textiles.rounded_numbers import significant

_ADVERSE: Final = {
    End.LOW: End.HIGH,
    End.HIGH: End.LOW,
    End.HIGH_IF_WIDE: End.LOW,
    End.NO_MOST: End.LOW,
    End.NO_LEAST: End.HIGH,
}
"""Where a value goes to make an error worse, by where it helps. A name has no other end."""


class Corner(NamedTuple):
    """The values on which an error may rest, at the ends that make it worse.

    Attributes:
        one: The comparison that is made with them.
        moves: Where each value goes.
        rank: The verdict that it gives, as an array has it.
    """

    one: Comparison
    moves: Moves
    rank: int


class Corners:
    """Puts the values on which the errors of one pair may rest to the ends that make them worse."""

    def __init__(self, pair: Pair, lines: Sequence[Assumption]) -> None:
        self._pair, self._usual = pair, in_force().usual
        self._lines = lines

    def worst(self, now: int) -> Corner | None:
        """Return the corner of the gravest verdict; ``None`` if none is graver than it is now."""
        known: dict[tuple[tuple[str, End], ...], tuple[Moves, Facts[float] | None]] = {}
        worst = None
        for one in (one for made in comparisons() for one in made if one.moves.ends):
            gravest = now if worst is None else worst.rank
            if gravest == NOT_WEAVABLE:
                break
            ends = {at: _ADVERSE[end] for at, end in one.moves.ends.items() if end in _ADVERSE}
            key, moves = tuple(sorted(ends.items(), key=str)), Moves(ends)
            if not self._pair.rests_on(moves):
                continue
            if key not in known:
                known[key] = moves, self._pair.moved(moves)
            moves, facts = known[key]
            rank = max((rank for _, rank in self._seen(one, facts)), default=WEAVABLE)
            if rank > gravest:
                worst = Corner(one, moves, rank)
        return worst

    def needed(self, corner: Corner) -> tuple[Assumption, ...]:
        """Return the values that turn the verdict, if all others are as they are assumed.

        The most effective come first, and as many as it takes.
        """
        towards = -1.0 if corner.one.test is short else 1.0

        def seen_with(lines: Sequence[Assumption]) -> list[tuple[float, int]]:
            moves = corner.moves.only_at(line.pointer for line in lines)
            return list(self._seen(corner.one, self._pair.moved(moves)))

        def reach(line: Assumption) -> float:
            return max((towards * share for share, _ in seen_with([line])), default=0.0)

        def is_turned(count: int) -> bool:
            return any(rank >= corner.rank for _, rank in seen_with(ranked[:count]))

        concerned = [line for line in self._lines if corner.moves.covers(line.pointer)]
        ranked = sorted(concerned, key=reach, reverse=True)
        count = bisect_left(range(len(ranked)), x=True, key=is_turned)
        return tuple(ranked[:count])

    def taken(self, corner: Corner, lines: Sequence[Assumption]) -> dict[str, float]:
        """Return the value that each of some assumptions takes in a corner, by its pointer.

        That is an end of its band. The crimp of the weft may lie beyond: it is estimated anew
        beside the other end of the band of the warp's, and is as far from that estimate.
        """
        values = {line.pointer: _end_value(corner.moves, line) for line in lines}
        facts = self._pair.moved(corner.moves.only_at(values)) if WEFT_CRIMP in values else None
        if facts is not None:
            stated, mean_pct = self._pair.symbols.stated(), facts.cloth.weft_crimp_pct
            share = stated.weft_stated_share
            open_pct = (mean_pct - share * stated.weft_crimp_pct) / (1.0 - share)
            values[WEFT_CRIMP] = significant(open_pct)
        return values

    def _seen(self, one: Comparison, facts: Facts[float] | None) -> Iterator[tuple[float, int]]:
        """Yield the figure over its limit, and the verdict, of each yarn or group that it is of."""
        if facts is None:
            return
        for place in range(places_of(one.about, facts)):
            actual, limits, applies = one.rule(*given_to(one, facts, self._usual, place))
            if applies:
                held = zip(one.severities, limits, strict=True)
                rank = (SEVERITY_RANKS[each] - 1 for each, limit in held if one.test(actual, limit))
                yield actual / limits[0] if limits[0] else 0.0, next(rank, WEAVABLE)


def _end_value(moves: Moves, line: Assumption) -> float:
    if line.band is None:
        raise TypeError("only values with a band go to its end")
    value = line.band.low if moves.end_of(line.pointer) is End.LOW else line.band.high
    return int(value) if is_whole(line.pointer) else value
