"""The order in which orders are woven on one loom so that it is stopped for the shortest time.

The loom keeps its draft and its reed until a cloth needs others, and its warp until that is woven
out. What a change costs therefore depends on more than the two cloths, and the search goes over all
of: which orders are done, which was the last, what is on the loom, and how much warp is left.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from weavability.looms.changeover_work import StepKind
from weavability.looms.style_change import (
    ChangeoverStep,
    FurtherWarps,
    WarpRoute,
    band_of_all,
    goes_on,
)
from weavability.looms.style_on_loom import StyleOnLoom
from weavability.textiles.assumptions import ValueBand
from weavability.textiles.numbers import SLACK

MOST_ORDERS: Final = 12
"""Orders of one search, which goes over all their 4096 subsets."""

_PER_HOUR: Final = 10**6
"""Hours are summed as whole millionths, so that a sum does not depend on its order."""

_DIGITS: Final = 9
"""Decimals of hours beyond which a difference is rounding."""

NO_LENGTH_M: Final = 1e-6
"""Lengths of warp that differ by no more are alike."""

Whole = NDArray[np.int64]
Metres = NDArray[np.float64]


class OnLoom(NamedTuple):
    """What is on the loom.

    Attributes:
        style: The cloth that is set up.
        left_m: Warp that is left of it when the cloth is woven, by groups of ends.
    """

    style: StyleOnLoom
    left_m: tuple[float, ...]

    @classmethod
    def on_full_beams(cls, style: StyleOnLoom) -> OnLoom:
        """Return a style that was set up on full beams."""
        return cls(style, style.left_m)


Plan = Callable[[OnLoom, int], WarpRoute]

Begin = Callable[[int], FurtherWarps]
"""The further warps of an order that is set up already, on full beams."""


class Sequenced(NamedTuple):
    """The best sequence: the places of the orders, and the changes from one to the next.

    Attributes:
        order: Which order comes first, second and so on.
        changes: The change to each; ``None`` for the first, if nothing is on the loom.
        further: The further warps of each.
    """

    order: tuple[int, ...]
    changes: tuple[WarpRoute | None, ...]
    further: tuple[FurtherWarps, ...]

    @property
    def stop_hours(self) -> float:
        """Hours that the loom is stopped for the changes."""
        return sum((change.stop_hours for change in self._made), 0.0)

    @property
    def stop_band(self) -> ValueBand:
        """The band of these hours."""
        return band_of_all(change.stop_band for change in self._made)

    @property
    def further_hours(self) -> float:
        """Hours that it is stopped for further warps."""
        return sum((each.hours for each in self.further), 0.0)

    @property
    def further_band(self) -> ValueBand:
        """The band of these hours."""
        return band_of_all(each.band for each in self.further)

    @property
    def hours(self) -> float:
        """All hours that it is stopped."""
        return self.stop_hours + self.further_hours

    @property
    def stops(self) -> list[ChangeoverStep]:
        """The work that stops the loom."""
        return [step for change in self._made for step in change.steps if step.stops_loom]

    @property
    def off_loom_hours(self) -> float:
        """Hours of work away from the loom."""
        return sum((change.off_loom_hours for change in self._made), 0.0)

    @property
    def off_loom_band(self) -> ValueBand:
        """The band of these hours."""
        return band_of_all(change.off_loom_band for change in self._made)

    @property
    def _made(self) -> list[WarpRoute]:
        return [change for change in self.changes if change is not None]


def saved_band(given: Sequenced, best: Sequenced) -> ValueBand:
    """Return the band of the hours that a sequence saves against another.

    Work of one kind is quick or slow in both of them alike, but not with work of another kind.
    """
    quick: dict[StepKind, float] = defaultdict(float)
    slow: dict[StepKind, float] = defaultdict(float)
    for sequence, sign in ((given, 1.0), (best, -1.0)):
        further = ((StepKind.TIE_IN, each.band) for each in sequence.further)
        for kind, band in (*((step.step, step.hours_band) for step in sequence.stops), *further):
            quick[kind] += sign * band.low
            slow[kind] += sign * band.high
    return ValueBand(
        round(sum(min(quick[kind], slow[kind]) for kind in quick), _DIGITS),
        round(sum(max(quick[kind], slow[kind]) for kind in quick), _DIGITS),
    )


def best_sequence(
    own: Sequence[StyleOnLoom], plan: Plan, begin: Begin, *, on_loom: OnLoom | None = None
) -> Sequenced:
    """Find the sequence with the shortest stops, for changes and further warps, by exact search.

    Dynamic programming over (orders done, last order, what is on the loom). Of the warp left on the
    loom only that is kept for which no other sequence of the same orders, with the same on the
    loom, is as quick and leaves as much. If the order given is as good as any, it is returned.

    Args:
        own: Every order on its own draft and in its own reed; at most :data:`MOST_ORDERS`.
        plan: Plans the change from what is on the loom to an order, by its place in ``own``.
        begin: Gives the further warps of an order that is set up already.
        on_loom: What is on the loom now; without it the first order is set up already.

    Returns:
        The sequence with its changes.
    """
    given = tuple(range(len(own)))
    hours, order = _Search(own, plan, begin).shortest(on_loom)
    as_given = follow(own, plan, begin, given, on_loom=on_loom)
    whole = sum(
        _whole(change, further)
        for change, further in zip(as_given.changes, as_given.further, strict=True)
    )
    return as_given if whole <= hours else follow(own, plan, begin, order, on_loom=on_loom)


def _whole(change: WarpRoute | None, further: FurtherWarps) -> int:
    """Return the stop before and during an order, in millionths of an hour."""
    return round(((0.0 if change is None else change.stop_hours) + further.hours) * _PER_HOUR)


def follow(
    own: Sequence[StyleOnLoom],
    plan: Plan,
    begin: Begin,
    order: Sequence[int],
    *,
    on_loom: OnLoom | None = None,
) -> Sequenced:
    """Plan the changes of a sequence one after the other; see :func:`best_sequence`."""
    changes: list[WarpRoute | None] = []
    further: list[FurtherWarps] = []
    now = on_loom
    for place in order:
        change = None if now is None else plan(now, place)
        now = (
            OnLoom.on_full_beams(own[place])
            if change is None
            else OnLoom(change.style, change.left_m)
        )
        changes.append(change)
        further.append(begin(place) if change is None else change.further)
    return Sequenced(tuple(order), tuple(changes), tuple(further))


class _Change(NamedTuple):
    """A change from one state to an order, if as many fillings are to be brought.

    Attributes:
        after: Number of the state that follows.
        cost: The stop for it and for further warps, in millionths of an hour.
        goes_on: Whether the warp on the loom is woven on, as far as it reaches.
    """

    after: int
    cost: int
    goes_on: bool


@dataclass(slots=True)
class _Reached:
    """Sequences of as many orders, the quickest of their kind; one a row.

    Attributes:
        done: The orders done, a bit each.
        state: Number of what is on the loom.
        hours: The stops, in millionths of an hour.
        left_m: Warp left on the loom, by groups of ends.
        came_from: The row from which it was reached, among those of one order less.
    """

    done: Whole
    state: Whole
    hours: Whole
    left_m: Metres
    came_from: Whole

    def taken(self, rows: Whole) -> _Reached:
        """Return some of the rows."""
        return _Reached(
            self.done[rows],
            self.state[rows],
            self.hours[rows],
            self.left_m[rows],
            self.came_from[rows],
        )


class _Search:
    """The search; changes are planned when they come up, each once."""

    def __init__(self, own: Sequence[StyleOnLoom], plan: Plan, begin: Begin) -> None:
        self.own = own
        self.plan = plan
        self.begin = begin
        self.styles: list[StyleOnLoom] = []
        self.last: list[int] = []
        self.numbers: dict[tuple[int, StyleOnLoom], int] = {}
        self.changes: dict[tuple[int, int, bytes], _Change] = {}

    def shortest(self, on_loom: OnLoom | None) -> tuple[int, tuple[int, ...]]:
        """Return the least stop in millionths of an hour, and the orders of that sequence.

        All sets of orders of one size are treated at once: each step appends every order that is
        not done yet, and keeps the best of all that lead to the same.
        """
        self.groups = max(
            (len(each.beams) for each in (*self.own, *([on_loom.style] if on_loom else ()))),
            default=0,
        )
        now = self._begin(on_loom)
        trail = [now]
        for _ in range(len(self.own) - int(now.done[0]).bit_count()):
            now = _best_of(self._one_more(now))
            trail.append(now)
        at_end = int(np.argmin(now.hours))
        hours, order = int(now.hours[at_end]), []
        for reached in reversed(trail):
            order.append(self.last[int(reached.state[at_end])])
            at_end = int(reached.came_from[at_end])
        order.reverse()
        return hours, tuple(place for place in order if place >= 0)

    def _begin(self, on_loom: OnLoom | None) -> _Reached:
        begun = (
            [(0, -1, on_loom)]
            if on_loom is not None
            else [
                (1 << place, place, OnLoom.on_full_beams(style))
                for place, style in enumerate(self.own)
            ]
        )
        return _Reached(
            done=np.array([done for done, _, _ in begun], dtype=np.int64),
            state=np.array([self._number(last, now.style) for _, last, now in begun]),
            hours=np.array(
                [0 if last < 0 else _whole(None, self.begin(last)) for _, last, _ in begun],
                dtype=np.int64,
            ),
            left_m=np.array([self._padded(now.left_m) for _, _, now in begun]).reshape(
                len(begun), self.groups
            ),
            came_from=np.arange(len(begun)),
        )

    def _number(self, last: int, style: StyleOnLoom) -> int:
        """Return the number of a state, a new one if it has not been met."""
        known = self.numbers.setdefault((last, style), len(self.styles))
        if known == len(self.styles):
            self.styles.append(style)
            self.last.append(last)
        return known

    def _padded(self, left_m: Sequence[float]) -> tuple[float, ...]:
        return (*left_m, *(0.0,) * (self.groups - len(left_m)))

    def _one_more(self, now: _Reached) -> _Reached:
        """Append every order that is not done to every sequence."""
        parts = [
            self._appended(now, np.flatnonzero(now.done >> to & 1 == 0), to)
            for to in range(len(self.own))
        ]
        return _Reached(
            *(
                np.concatenate([getattr(part, name) for part in parts])
                for name in ("done", "state", "hours", "left_m", "came_from")
            )
        )

    def _appended(self, now: _Reached, rows: Whole, to: int) -> _Reached:
        state, left_m = now.state[rows], now.left_m[rows]
        woven_m, filling_m = self._warp_of(to)
        has_warp = np.array([self.own[to].has_warp_of(style) for style in self.styles])[state]
        usable_m = np.where(has_warp[:, np.newaxis], left_m, 0.0)
        # How many fillings are to be brought is all that a change depends on of what is left.
        bring = _fillings(woven_m - usable_m, filling_m)
        _, first, kind = np.unique(
            np.column_stack([state, bring]), axis=0, return_index=True, return_inverse=True
        )
        changes = [self._change(int(state[row]), to, bring[row], left_m[row]) for row in first]
        kind = kind.ravel()
        after = np.array([each.after for each in changes], dtype=np.int64)
        cost = np.array([each.cost for each in changes], dtype=np.int64)
        on = np.array([each.goes_on for each in changes], dtype=bool)
        own_left = np.array(self._padded(self.own[to].left_m))
        woven_on = np.maximum(left_m + bring * filling_m - woven_m, 0.0)
        return _Reached(
            done=now.done[rows] | 1 << to,
            state=after[kind],
            hours=now.hours[rows] + cost[kind],
            left_m=np.where(on[kind][:, np.newaxis], woven_on, own_left),
            came_from=rows,
        )

    def _warp_of(self, to: int) -> tuple[Metres, Metres]:
        beams = self.own[to].beams
        none = (1.0,) * (self.groups - len(beams))
        return (
            np.array(self._padded([each.woven_m for each in beams])),
            np.array([*(each.filling_m for each in beams), *none]),
        )

    def _change(self, state: int, to: int, bring: Metres, left_m: Metres) -> _Change:
        known = (state, to, bring.tobytes())
        if known not in self.changes:
            old = self.styles[state]
            left = tuple(left_m[: len(old.beams)].tolist())
            route = self.plan(OnLoom(old, left), to)
            self.changes[known] = _Change(
                self._number(to, route.style), _whole(route, route.further), goes_on(old, route)
            )
        return self.changes[known]


def _fillings(needed_m: Metres, filling_m: Metres) -> Metres:
    """Return the fillings of :meth:`weavability.looms.warp_left.Beams.fillings`, in columns."""
    return np.maximum(np.ceil(needed_m / filling_m - SLACK), 0.0)


def _best_of(reached: _Reached) -> _Reached:
    """Keep of the sequences that lead to the same those that none beats in stops and warp left."""
    key = reached.done * (int(reached.state.max()) + 1) + reached.state
    rest = np.lexsort((-reached.left_m.sum(axis=1), reached.hours, key))
    kept: list[Whole] = []
    while len(rest):
        is_first = np.diff(key[rest], prepend=-1) != 0
        quickest = rest[is_first]
        kept.append(quickest)
        # The quickest beats all of its kind that leave no more warp, itself among them.
        other = quickest[np.cumsum(is_first) - 1]
        more = reached.left_m[rest] > reached.left_m[other] + NO_LENGTH_M
        rest = rest[more.any(axis=1)]
    return reached.taken(np.concatenate(kept))
