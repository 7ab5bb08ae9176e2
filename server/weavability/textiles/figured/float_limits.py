"""The floats of a design that are longer than it allows, each against the limits it passes over."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from weavability.textiles.figured.figured_design import Design, Effect, Role
from weavability.textiles.figured.float_search import (
    blocks_of_ends,
    blocks_of_picks,
    floats_of,
    lines_with_long_floats,
)
from weavability.textiles.figured.hook_lifts import HookLifts
from weavability.textiles.numbers import SLACK
from weavability.textiles.weave_matrix import Matrix
from weavability.textiles.weave_structure import remembered_structure

Threads = NDArray[np.int64]
Tie = NDArray[np.intp]
"""The hook of every end, from 0."""

NO_LIMIT: Final = 1 << 30


class System(StrEnum):
    """Which threads float."""

    WARP = "warp"
    WEFT = "weft"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ThreadLimits:
    """Longest floats in threads, by the number of the effect that they pass over.

    A float over several effects has the least of their limits.

    Attributes:
        warp: Picks that an end may pass.
        weft: Ends that a pick may pass.
    """

    warp: Threads
    weft: Threads

    def of(self, system: System) -> Threads:
        """Return the limits of warp or weft."""
        return self.warp if system is System.WARP else self.weft


def thread_limits(design: Design, *, ends_per_cm: float, picks_per_cm: float) -> ThreadLimits:
    """Convert the limits of a design from mm to threads, rounded down.

    Args:
        design: The design.
        ends_per_cm: Ends of the cloth.
        picks_per_cm: Picks of the cloth, all wefts together.
    """
    limits = design.float_limits
    return ThreadLimits(
        warp=_in_threads(design, limits.warp_mm, picks_per_cm),
        weft=_in_threads(design, limits.weft_mm, ends_per_cm),
    )


def _in_threads(design: Design, limit_mm: float | None, threads_per_cm: float) -> Threads:
    return np.array(
        [
            NO_LIMIT if longest is None else max(1, int(longest * threads_per_cm / 10 + SLACK))
            for longest in (
                limit_mm if effect.max_float_mm is None else effect.max_float_mm
                for effect in design.effects_by_value
            )
        ],
        dtype=np.int64,
    )


def unbound_effects(design: Design, limits: ThreadLimits) -> tuple[int, ...]:
    """Return the effects whose own weave leaves a thread unbound, or floats beyond their limit."""
    return tuple(
        value
        for value, effect in enumerate(design.effects_by_value)
        if _is_unbound(effect, int(limits.warp[value]), int(limits.weft[value]))
    )


def _is_unbound(effect: Effect, warp_limit: int, weft_limit: int) -> bool:
    own = remembered_structure(effect.weave)[1]
    return bool(
        own.loose_ends
        or own.loose_picks
        or own.longest_warp_float_picks > warp_limit
        or own.longest_weft_float_ends > weft_limit
    )


class LongFloats(NamedTuple):
    """The floats of one line that are too long.

    Attributes:
        line: The hook of a warp float, the pick of a weft float, from 0.
        starts: First pick, or end of the cloth, of each.
        lengths: Threads of each.
        values: 1 for the face of the warp and the back of the weft, else 0.
        limits: What each may have.
    """

    system: System
    line: int
    starts: NDArray[np.intp]
    lengths: NDArray[np.intp]
    values: Matrix
    limits: Threads


def long_floats(
    lifts: HookLifts,
    lift: Matrix,
    tie: Tie | None,
    limits: ThreadLimits,
    system: System,
    *,
    has_edges: bool = False,
) -> Iterator[LongFloats]:
    """Yield the lines that have floats beyond their limits, in order.

    Warp floats are those of the hooks, since all ends of a hook float alike; weft floats are those
    of the cloth. What a figuring weft does at the back is left out, for it has rules of its own.

    Args:
        lifts: The design on the hooks.
        lift: What the hooks lift now, of the shape of ``lifts.lift``.
        tie: The hook of every end; ``None`` if each hook has one end.
        limits: By effect.
        system: Warp or weft.
        has_edges: Whether a pick goes from edge to edge of the cloth.
    """
    by_effect = limits.of(system)
    shortest = int(by_effect.min())
    if shortest >= NO_LIMIT:
        return
    uniform = shortest == int(by_effect.max())
    blocks = blocks_of_ends(lift) if system is System.WARP else blocks_of_picks(lift)
    figuring = figuring_picks(lifts)
    has_edges = has_edges and system is System.WEFT
    for first, block in blocks:
        rows = block if system is System.WARP or tie is None else block[:, tie]
        for row in lines_with_long_floats(rows, shortest, has_edges=has_edges):
            line, found = first + row, floats_of(rows[row], has_edges=has_edges)
            allowed = by_effect[:1]
            if not uniform:
                effects = effects_along(lifts, tie, system, line)
                allowed = _least_along(by_effect[effects], found.starts)
            long = found.lengths > allowed
            if system is System.WEFT and figuring[line]:
                long &= found.values == 0
            if long.any():
                yield LongFloats(
                    system,
                    line,
                    found.starts[long],
                    found.lengths[long],
                    found.values[long],
                    np.broadcast_to(allowed, long.shape)[long],
                )


def figuring_picks(lifts: HookLifts) -> NDArray[np.bool_]:
    """Return for every pick whether it is one of a figuring weft."""
    wefts = [weft.role is Role.FIGURE for weft in lifts.design.wefts.values()] or [False]
    return np.array(wefts)[lifts.weft_of_pick]


def effects_along(lifts: HookLifts, tie: Tie | None, system: System, line: int) -> Matrix:
    """Return the number of the effect at every crossing of a line."""
    if system is System.WARP:
        column: Matrix = lifts.design.picture.pixels[lifts.line_of_pick, line]
        return column
    row = lifts.effects_of_pick(line)
    return row if tie is None else row[tie]


def _least_along(limits: Threads, starts: NDArray[np.intp]) -> Threads:
    """Return the least limit that each float of a line passes over."""
    least: Threads = np.minimum.reduceat(np.roll(limits, -starts[0]), starts - starts[0])
    return least
