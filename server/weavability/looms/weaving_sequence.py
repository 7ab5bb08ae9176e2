"""The order in which orders are woven on one loom so that it is stopped for the shortest time.

The loom keeps its draft and its reed until a cloth needs others. What a change costs therefore
depends on more than the two cloths, and the search goes over all of: which orders are done, which
was the last, and what is on the loom.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from weavability.looms.style_change import StyleOnLoom, WarpRoute
from weavability.textiles.assumptions import ValueBand

MOST_ORDERS: Final = 12
"""Orders of one search, which goes over all their 4096 subsets."""

_PER_HOUR: Final = 10**6
"""Hours are summed as whole millionths, so that a sum does not depend on its order."""

Plan = Callable[[StyleOnLoom, int], WarpRoute]
Whole = NDArray[np.int64]


class Sequenced(NamedTuple):
    """The best sequence: the places of the orders, and the changes from one to the next.

    Attributes:
        order: Which order comes first, second and so on.
        changes: The change to each; ``None`` for the first, if nothing is on the loom.
    """

    order: tuple[int, ...]
    changes: tuple[WarpRoute | None, ...]

    @property
    def stop_hours(self) -> float:
        """Hours that the loom is stopped."""
        return sum((change.stop_hours for change in self._made), 0.0)

    @property
    def stop_band(self) -> ValueBand:
        """The band of these hours."""
        bands = [change.stop_band for change in self._made]
        return ValueBand(
            sum((band.low for band in bands), 0.0), sum((band.high for band in bands), 0.0)
        )

    @property
    def off_loom_hours(self) -> float:
        """Hours of work away from the loom."""
        return sum((change.off_loom_hours for change in self._made), 0.0)

    @property
    def _made(self) -> list[WarpRoute]:
        return [change for change in self.changes if change is not None]


@dataclass(slots=True)
class _States:
    """What can be on the loom, each once, with the change from each to every order.

    Attributes:
        styles: What is on the loom, by the number of the state.
        last: The order that is woven there.
        after: The state that follows, by state and next order.
        cost: The stop on the way, in millionths of an hour.
    """

    own: Sequence[StyleOnLoom]
    plan: Plan
    styles: list[StyleOnLoom] = field(default_factory=list)
    last: list[int] = field(default_factory=list)
    after: list[list[int]] = field(default_factory=list)
    cost: list[list[int]] = field(default_factory=list)
    numbers: dict[tuple[int, StyleOnLoom], int] = field(default_factory=dict)

    def number(self, last: int, style: StyleOnLoom) -> int:
        """Return the number of a state, a new one if it has not been met."""
        known = self.numbers.setdefault((last, style), len(self.styles))
        if known == len(self.styles):
            self.styles.append(style)
            self.last.append(last)
        return known

    def spread(self) -> None:
        """Follow every change from the states that are known, until no new one comes up."""
        while len(self.after) < len(self.styles):
            state = len(self.after)
            after, cost = [state] * len(self.own), [0] * len(self.own)
            for to in range(len(self.own)):
                if to != self.last[state]:
                    route = self.plan(self.styles[state], to)
                    after[to] = self.number(to, route.style)
                    cost[to] = round(route.stop_hours * _PER_HOUR)
            self.after.append(after)
            self.cost.append(cost)


def best_sequence(
    own: Sequence[StyleOnLoom], plan: Plan, *, on_loom: StyleOnLoom | None = None
) -> Sequenced:
    """Find the sequence with the shortest stops, by exact search.

    Dynamic programming over (orders done, last order, what is on the loom). If the order given is
    as good as any, it is returned.

    Args:
        own: Every order on its own draft and in its own reed; at most :data:`MOST_ORDERS`.
        plan: Plans the change from what is on the loom to an order, by its place in ``own``.
        on_loom: What is on the loom now; without it the first order is set up already.

    Returns:
        The sequence with its changes.
    """
    given = tuple(range(len(own)))
    states = _States(own, plan)
    if on_loom is not None:
        begin = [(0, states.number(-1, on_loom))]
    else:
        begin = [(1 << first, states.number(first, own[first])) for first in given]
    states.spread()
    hours, order = _search(states, begin)
    as_given = follow(own, plan, given, on_loom=on_loom)
    whole = sum(
        round(change.stop_hours * _PER_HOUR) for change in as_given.changes if change is not None
    )
    return as_given if whole <= hours else follow(own, plan, order, on_loom=on_loom)


def follow(
    own: Sequence[StyleOnLoom],
    plan: Plan,
    order: Sequence[int],
    *,
    on_loom: StyleOnLoom | None = None,
) -> Sequenced:
    """Plan the changes of a sequence one after the other; see :func:`best_sequence`."""
    changes: list[WarpRoute | None] = []
    now = on_loom
    for place in order:
        change = None if now is None else plan(now, place)
        now = own[place] if change is None else change.style
        changes.append(change)
    return Sequenced(tuple(order), tuple(changes))


def _search(states: _States, begin: Sequence[tuple[int, int]]) -> tuple[int, tuple[int, ...]]:
    """Return the least stop in millionths of an hour, and the orders of that sequence.

    All sets of orders of one size are treated at once: each step appends every order that is not
    done yet, and keeps of all that lead to the same orders done and the same state the cheapest.
    """
    after, cost = np.array(states.after), np.array(states.cost)
    done, state = (np.array(each, dtype=np.int64) for each in zip(*begin, strict=True))
    hours = np.zeros(len(begin), dtype=np.int64)
    trail: list[tuple[Whole, Whole]] = [(state, np.arange(len(begin)))]
    for _ in range(len(states.own) - int(done[0]).bit_count()):
        parts = []
        for to in range(len(states.own)):
            open_ = np.flatnonzero(done >> to & 1 == 0)
            at = state[open_]
            parts.append((done[open_] | 1 << to, after[at, to], hours[open_] + cost[at, to], open_))
        done, state, hours, came_from = (np.concatenate(each) for each in zip(*parts, strict=True))
        key = done * len(states.styles) + state
        cheapest_first = np.lexsort((hours, key))
        is_first = np.diff(key[cheapest_first], prepend=-1) != 0
        kept = cheapest_first[is_first]
        done, state, hours = done[kept], state[kept], hours[kept]
        trail.append((state, came_from[kept]))
    best = at_end = int(np.argmin(hours))
    order: list[int] = []
    for reached, came_from in reversed(trail):
        order.append(states.last[int(reached[at_end])])
        at_end = int(came_from[at_end])
    order.reverse()
    return int(hours[best]), tuple(place for place in order if place >= 0)
