"""Where a tie turns, and where the weaves of a design do not join."""

from __future__ import annotations

from collections.abc import Iterator
from math import lcm
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from weavability.textiles.figured.float_limits import Tie, figuring_picks
from weavability.textiles.figured.float_search import blocks_of_picks
from weavability.textiles.figured.hook_lifts import HookLifts
from weavability.textiles.weave_matrix import Matrix


class TurnFloat(NamedTuple):
    """The longest weft float across a turn of the tie.

    Attributes:
        ends: Its length; 0 if the tie does not turn.
        first_end: The end before the turn, from 1.
        pick: The first pick that floats so far there, from 1.
    """

    ends: int
    first_end: int
    pick: int


def turns_of(tie: Tie, *, has_edges: bool = False) -> list[int]:
    """Return the ends at which a tie turns, from 0: one for each hook, in the order of the hooks.

    At a double point two neighbours are on one hook, at a single point the ends on both sides of
    one. A tie that is the whole cloth does not turn at its edges.

    >>> turns_of(np.array([0, 1, 2, 2, 1, 0]))
    [5, 2]
    >>> turns_of(np.array([0, 1, 2, 2, 1, 0]), has_edges=True)
    [2]
    """
    following, before = np.roll(tie, -1), np.roll(tie, 1)
    # A tie of one or two hooks is no turn, but a weave by itself.
    if tie.max(initial=0) < 2:
        return []
    at_double, at_single = tie == following, before == following
    if has_edges:
        at_double[-1] = at_single[0] = at_single[-1] = False
    turns = np.flatnonzero(at_double | at_single)
    return [int(end) for end in turns[np.unique(tie[turns], return_index=True)[1]]]


def turn_float(lifts: HookLifts, lift: Matrix, tie: Tie, *, has_edges: bool = False) -> TurnFloat:
    """Find the longest weft float across a turn: the ends beside it are lifted alike.

    Turn the weave there by moving dots ([BELL-1895], p. 134). What figuring wefts do at the back
    does not count.
    """
    skipped = figuring_picks(lifts)
    longest = TurnFloat(0, 0, 0)
    inside = range(len(tie)) if has_edges else range(-2 * len(tie), 3 * len(tie))
    for end in turns_of(tie, has_edges=has_edges):
        across = lift[:, tie[end]]
        alive = ~(skipped & (across == 1)) & (lift[:, tie[(end + 1) % len(tie)]] == across)
        lengths = np.where(alive, 2, 0)
        for step, first in ((1, end + 2), (-1, end - 1)):
            running, place = alive.copy(), first
            while running.any() and abs(place - first) < len(tie) and place in inside:
                running &= lift[:, tie[place % len(tie)]] == across
                lengths += running
                place += step
        ends = min(int(lengths.max()), len(tie))
        if ends > longest.ends:
            longest = TurnFloat(ends, end + 1, int(lengths.argmax()) + 1)
    return longest


def broken_effects(lifts: HookLifts, tie: Tie | None, *, has_edges: bool = False) -> Iterator[int]:
    """Yield the effects whose weave breaks at a join of repeats that the effect crosses.

    The weave of an effect joins if its ends divide the ends of the repeat, and its picks the
    picks of its own weft ([TAYLOR-1909], p. 220).
    """
    pixels = lifts.design.picture.pixels
    own_picks = list(lifts.picks_by_weft.values())
    side = _crossing_side(pixels, tie, has_edges=has_edges)
    top = set(pixels[0][pixels[0] == pixels[-1]].tolist())
    for value, effect in enumerate(lifts.design.effects_by_value):
        weave = effect.weave
        if (value in top and own_picks[lifts.design.weft_of(effect)] % weave.picks) or any(
            jump % weave.ends for jump in side.get(value, ())
        ):
            yield value


def _crossing_side(pixels: Matrix, tie: Tie | None, *, has_edges: bool) -> dict[int, set[int]]:
    """Return by effect the ends that its weave jumps at the joins that it crosses."""
    columns = pixels.shape[1]
    hooks = np.arange(columns) if tie is None else tie
    following = np.roll(hooks, -1)
    ascends = following == hooks + 1
    # A join lies between two stretches that both run from left to right.
    joins = ~ascends & np.roll(ascends, 1) & np.roll(ascends, -1)
    if has_edges:
        joins[-1] = False
    found: dict[int, set[int]] = {}
    seen: set[tuple[int, int]] = set()
    for end in np.flatnonzero(joins).tolist():
        pair = (int(hooks[end]), int(following[end]))
        if pair in seen:
            continue
        seen.add(pair)
        one, other = pixels[:, pair[0]], pixels[:, pair[1]]
        for value in np.unique(one[one == other]).tolist():
            found.setdefault(value, set()).add(pair[1] - pair[0] - 1)
    return found


def fitting_repeat(lifts: HookLifts) -> tuple[int, int]:
    """Return the greatest ends and lines up to those of the picture that all its weaves divide.

    400 ends with a ground of 12 are cast out to 396 ([TAYLOR-1909], p. 220). Where none fits, the
    picture's own number is returned.
    """
    weaves = [effect.weave for effect in lifts.design.effects_by_value]
    lines, columns = lifts.design.picture.pixels.shape
    return _fitting(columns, [each.ends for each in weaves]), _fitting(
        lines, [each.picks for each in weaves]
    )


def _fitting(threads: int, repeats: list[int]) -> int:
    whole = lcm(*repeats)
    return threads // whole * whole or threads


def thin_shares(lifts: HookLifts, *, has_edges: bool = False) -> NDArray[np.float64]:
    """Return of every effect the share of its pixels that are one thread thin.

    A line of the figure has at least two threads: [BELL-1895], p. 118. Beside the first and last
    hook of a picture that is the whole cloth there is no other effect.
    """
    pixels = lifts.design.picture.pixels
    effects = len(lifts.design.picture.colours)
    thin = np.zeros(effects, dtype=np.int64)
    for first, rows in blocks_of_picks(pixels):
        lines = np.arange(first, first + len(rows))
        below, above = pixels[lines - 1], pixels[(lines + 1) % len(pixels)]
        beside = rows != np.roll(rows, 1, axis=1)
        if has_edges:
            beside[:, 0] = False
        alone = beside & np.roll(beside, -1, axis=1)
        alone |= (rows != below) & (rows != above)
        thin += np.bincount(rows[alone], minlength=effects)
    of_effects = np.maximum(lifts.effect_lines.sum(axis=0), 1)
    shares: NDArray[np.float64] = thin / of_effects
    return shares
