"""Bind the long floats of a design by further dots, so that it never falls apart.

**Why it holds together.** At every crossing draw an arrow from the upper thread to the lower: a
cloth hangs together if and only if each thread can be reached from each other along arrows
([CLAPHAM-1980]). A dot turns the arrow at end e and pick p. Let the upper thread be the end, so
that e -> p is lost. The dot is made only if there are a pick q that still lies under e and an end
e' that lies under q and over p: then e -> q -> e' -> p leads where the arrow led, and every path
that used it goes on. If the pick is the upper thread, the same holds with all arrows turned round.
On a tie the dot is made at all ends of a hook at once; e' is on another hook, so that one detour
serves them all. No order of such dots can make a cloth fall apart.

Where a dot is made follows the practice of designers ([BELL-1895], p. 117-118): not on the outline
of an effect, not against another dot, and in order.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from weavability.textiles.figured.float_limits import (
    NO_LIMIT,
    LongFloats,
    System,
    ThreadLimits,
    Threads,
    Tie,
    effects_along,
    figuring_picks,
    long_floats,
    unbound_effects,
)
from weavability.textiles.figured.hook_lifts import HookLifts
from weavability.textiles.weave_matrix import Matrix

MOST_DOTS: Final = 100_000
"""Dots after which a correction stops; a design that needs more has effects without a binding."""

MOST_TRIALS: Final = 900_000
"""Ends at which a dot is tried; a tie tries each at all ends of its hook. About ten seconds."""

TRIALS_OF_A_CHOICE: Final = 8
"""What it costs to rank the places of a dot, in trials."""

MOST_ROUNDS: Final = 4

_ORDER: Final = 8
"""Dots of one 8-end sateen are preferred, so that they do not run in lines."""

_MOVE: Final = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Correction:
    """A design with its long floats bound.

    Attributes:
        lift: What the hooks lift; that of the design if no dot was made. Read-only.
        dots: Crossings of the hooks that were changed.
        dots_by_effect: The same for each effect.
        is_complete: Whether it ended by itself, not at the most dots or trials.
    """

    lift: Matrix
    dots: int
    dots_by_effect: tuple[int, ...]
    is_complete: bool


def bind_floats(
    lifts: HookLifts, tie: Tie | None, limits: ThreadLimits, *, has_edges: bool = False
) -> Correction:
    """Bind the floats of a design that are longer than its limits allow.

    The same design gives the same dots: warp floats first, then weft floats, by thread and then by
    first crossing. A dot is not made if the thread that it lets pass would float beyond its own
    limit, or if the cloth might fall apart. A design of which an effect has no binding of its own
    is left as it is.

    Args:
        lifts: The design on the hooks.
        tie: The hook of every end; ``None`` if each hook has one end.
        limits: The longest floats allowed.
        has_edges: Whether a pick goes from edge to edge of the cloth.
    """
    effects = len(lifts.design.picture.colours)
    if unbound_effects(lifts.design, limits):
        return Correction(lift=lifts.lift, dots=0, dots_by_effect=(0,) * effects, is_complete=True)
    binder = _Binder(lifts, tie, limits, has_edges)
    for _ in range(MOST_ROUNDS):
        before = binder.dots
        for system in System:
            floats = long_floats(lifts, binder.lift, tie, limits, system, has_edges=has_edges)
            for found in floats:
                binder.bind(found)
                if binder.is_spent:
                    return binder.result()
        if binder.dots == before:
            break
    return binder.result()


@dataclass(slots=True)
class _Binder:
    """What the hooks lift while dots are made."""

    lifts: HookLifts
    tie: Tie | None
    limits: ThreadLimits
    has_edges: bool
    lift: Matrix = field(init=False)
    dots: int = 0
    trials: int = 0
    dots_by_effect: Threads = field(init=False)
    figuring: NDArray[np.bool_] = field(init=False)
    hook_of_end: Tie = field(init=False)
    ends_of_hook: list[list[int]] = field(init=False)
    in_use: NDArray[np.bool_] = field(init=False)

    def __post_init__(self) -> None:
        self.lift = self.lifts.lift
        self.dots_by_effect = np.zeros(len(self.lifts.design.picture.colours), dtype=np.int64)
        self.figuring = figuring_picks(self.lifts)
        hooks = self.lift.shape[1]
        self.hook_of_end = np.arange(hooks) if self.tie is None else self.tie
        self.ends_of_hook = [[] for _ in range(hooks)]
        for end, hook in enumerate(self.hook_of_end.tolist()):
            self.ends_of_hook[hook].append(end)
        self.in_use = np.bincount(self.hook_of_end, minlength=hooks) > 0

    @property
    def is_spent(self) -> bool:
        return self.dots >= MOST_DOTS or self.trials >= MOST_TRIALS

    def result(self) -> Correction:
        self.lift.setflags(write=False)
        return Correction(
            lift=self.lift,
            dots=self.dots,
            dots_by_effect=tuple(self.dots_by_effect.tolist()),
            is_complete=not self.is_spent,
        )

    def bind(self, found: LongFloats) -> None:
        """Bind the floats of a line, each as long as it still is too long."""
        for start, length, value, limit in zip(
            found.starts.tolist(),
            found.lengths.tolist(),
            found.values.tolist(),
            found.limits.tolist(),
            strict=True,
        ):
            begin, end = start, start + length
            while end - begin > limit and not self.is_spent:
                place = self._best(found, begin, end, value, limit)
                begin = begin + limit if place is None else place + 1

    def _best(self, found: LongFloats, begin: int, end: int, value: int, limit: int) -> int | None:
        """Make the best dot that leaves at most ``limit`` threads before it; return its place."""
        places = np.arange(begin + 1, min(begin + limit, end - 2) + 1)
        if not len(places):
            return None
        self.trials += TRIALS_OF_A_CHOICE
        picks, hooks, effects, rank = self._ranked(found, places, begin, end, value)
        for choice in rank.tolist():
            pick, hook = int(picks[choice]), int(hooks[choice])
            if self.lift[pick, hook] == value and self._may_turn(pick, hook, value):
                self._turn(pick, hook, int(effects[choice]))
                return int(places[choice])
        return None

    def _ranked(
        self, found: LongFloats, places: Tie, begin: int, end: int, value: int
    ) -> tuple[Tie, Tie, Matrix, Tie]:
        """Return pick, hook and effect of the places, and in which order they are to be tried."""
        all_picks, all_ends = len(self.lift), len(self.hook_of_end)
        if found.system is System.WARP:
            picks, hooks = places % all_picks, np.full(len(places), found.line)
            last = self.lift.shape[1] - 1
            beside = (
                np.full(len(places), max(found.line - 1, 0)),
                np.full(len(places), min(found.line + 1, last)),
            )
        else:
            picks, hooks = np.full(len(places), found.line), self.hook_of_end[places % all_ends]
            beside = (
                self.hook_of_end[(places - 1) % all_ends],
                self.hook_of_end[(places + 1) % all_ends],
            )
        pixels, line_of = self.lifts.design.picture.pixels, self.lifts.line_of_pick
        above, below = (picks - 1) % all_picks, (picks + 1) % all_picks
        here = pixels[line_of[picks], hooks]
        on_outline = np.zeros(len(places), dtype=np.bool_)
        touching = np.zeros(len(places), dtype=np.int8)
        for pick, hook in ((above, hooks), (below, hooks), (picks, beside[0]), (picks, beside[1])):
            on_outline |= pixels[line_of[pick], hook] != here
            touching += self.lift[pick, hook] != value
        out_of_order = (picks * _MOVE - hooks) % _ORDER != 0
        from_middle = np.abs(2 * places + 1 - begin - end)
        rank = np.lexsort((-places, from_middle, out_of_order, touching, on_outline))
        if found.system is System.WARP:
            rank = rank[~self.figuring[picks[rank]]]
        return picks, hooks, here, rank

    def _turn(self, pick: int, hook: int, effect: int) -> None:
        if not self.lift.flags.writeable:
            self.lift = self.lift.copy()
        self.lift[pick, hook] ^= 1
        self.dots += 1
        self.dots_by_effect[effect] += 1

    def _may_turn(self, pick: int, hook: int, value: int) -> bool:
        """Return whether a dot leaves the cloth whole, and makes no other float too long."""
        self.trials += len(self.ends_of_hook[hook])
        if not self._holds(pick, hook, value):
            return False
        turned = 1 - value
        column = self.lift[:, hook]
        if not self._fits(System.WARP, hook, column, pick, turned):
            return False
        if self.figuring[pick] and turned:
            return True
        row = self.lift[pick] if self.tie is None else self.lift[pick][self.tie]
        if self.tie is not None:
            row[self.ends_of_hook[hook]] = turned
        return all(
            self._fits(System.WEFT, pick, row, end, turned) for end in self.ends_of_hook[hook]
        )

    def _fits(self, system: System, line: int, values: Matrix, place: int, turned: int) -> bool:
        """Return whether a thread that is turned at ``place`` floats no further than it may."""
        by_effect = self.limits.of(system)
        most = int(by_effect.max())
        if most >= NO_LIMIT and int(by_effect.min()) >= NO_LIMIT:
            return True
        threads = len(values)
        has_edges = self.has_edges and system is System.WEFT
        left, right = (0, threads - 1) if has_edges else (place - threads, place + threads)
        first, last = place, place
        while first > left and last - first < threads and values[(first - 1) % threads] == turned:
            first -= 1
            if last - first >= most:
                return False
        while last < right and last - first < threads and values[(last + 1) % threads] == turned:
            last += 1
            if last - first >= most:
                return False
        length = last - first + 1
        if most == int(by_effect.min()):
            return length <= most
        effects = effects_along(self.lifts, self.tie, system, line)
        passed = effects[np.arange(first, last + 1) % threads]
        return length <= int(by_effect[passed].min())

    def _holds(self, pick: int, hook: int, value: int) -> bool:
        """Return whether another path leads from the upper thread to the lower; see the module."""
        row, column = self.lift[pick], self.lift[:, hook]
        picks, hooks = self.lift.shape
        same_row = (row == value) & self.in_use
        for other in ((pick - 1) % picks, (pick + 1) % picks):
            if column[other] == value and ((self.lift[other] != value) & same_row).any():
                return True
        for other in ((hook - 1) % hooks, (hook + 1) % hooks):
            beside = row[other] == value and self.in_use[other] and other != hook
            if beside and ((self.lift[:, other] != value) & (column == value)).any():
                return True
        return False
