"""Where a tie turns, and where the weaves of a design do not join."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from weavability.textiles.figured.figured_design import Effect
from weavability.textiles.figured.float_limits import (
    NO_LIMIT,
    ThreadLimits,
    Tie,
    figuring_picks,
)
from weavability.textiles.figured.float_search import blocks_of_picks
from weavability.textiles.figured.hook_lifts import HookLifts
from weavability.textiles.weave_matrix import Matrix
from weavability.textiles.weave_structure import remembered_structure

TEXTURE_SLACK_ENDS: Final = 1
"""A float where textures meet may be as much longer than theirs: [BELL-1895], p. 126."""


class TurnFloat(NamedTuple):
    """The weft float across a turn of the tie that is longest for its limit.

    Attributes:
        ends: Its length; 0 if the tie does not turn.
        limit: What it may be, by the effects that it passes over.
        is_stated: Whether the design states that limit.
        first_end: The end before the turn, from 1.
        pick: The first pick that floats so far there, from 1.
        longest: Ends of the longest across any turn.
    """

    ends: int = 0
    limit: int = 0
    is_stated: bool = False
    first_end: int = 0
    pick: int = 0
    longest: int = 0


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


def turn_float(
    lifts: HookLifts, lift: Matrix, tie: Tie, limits: ThreadLimits, *, has_edges: bool = False
) -> TurnFloat:
    """Find the worst weft float across a turn: the ends beside it are lifted alike.

    Turn the weave there by moving dots ([BELL-1895], p. 134). What figuring wefts do at the back
    does not count. A float may have the least limit of the effects that it passes over; if none is
    stated, an end more than their longest own.
    """
    skipped, worst, longest = figuring_picks(lifts), TurnFloat(), 0
    textures = np.array([_own_float(each) for each in lifts.design.effects_by_value])
    pixels, line_of_pick = lifts.design.picture.pixels, lifts.line_of_pick
    inside = range(len(tie)) if has_edges else range(-2 * len(tie), 3 * len(tie))
    for end in turns_of(tie, has_edges=has_edges):
        across = lift[:, tie[end]]
        alive = ~(skipped & (across == 1)) & (lift[:, tie[(end + 1) % len(tie)]] == across)
        lengths = np.zeros(len(lift), dtype=np.int64)
        stated = np.full(len(lift), NO_LIMIT)
        texture = np.zeros(len(lift), dtype=np.int64)
        for step, first in ((1, end + 1), (-1, end)):
            running, place = alive.copy(), first
            while running.any() and abs(place - first) < len(tie) and place in inside:
                hook = tie[place % len(tie)]
                running &= lift[:, hook] == across
                lengths += running
                under = pixels[line_of_pick, hook]
                np.minimum(stated, limits.weft[under], out=stated, where=running)
                np.maximum(texture, textures[under], out=texture, where=running)
                place += step
        lengths = np.minimum(lengths, len(tie))
        longest = max(longest, int(lengths.max()))
        allowed = np.where(stated < NO_LIMIT, stated, texture + TEXTURE_SLACK_ENDS)
        beyond = np.where(lengths, lengths - allowed, -NO_LIMIT)
        pick = int(beyond.argmax())
        ends, limit = int(lengths[pick]), int(allowed[pick])
        if ends and (not worst.ends or ends - limit > worst.ends - worst.limit):
            worst = TurnFloat(ends, limit, bool(stated[pick] < NO_LIMIT), end + 1, pick + 1)
    return worst._replace(longest=longest)


def _own_float(effect: Effect) -> int:
    """Return the longest weft float of a weave; one that leaves a pick unbound has no limit."""
    own = remembered_structure(effect.weave)[1]
    return NO_LIMIT if own.loose_picks else own.longest_weft_float_ends


class Breaks(NamedTuple):
    """Where the weaves of a design do not join.

    Attributes:
        across: Effects that break where two stretches of hooks meet side by side.
        up: Effects that break where the repeat meets the next one above.
        last_hook: The hook before the first join across that breaks, from 1; 0 if there is none.
        first_hook: The hook after it.
        own_picks: Picks of the weft of the first effect that breaks above, in a repeat.
    """

    across: tuple[int, ...]
    up: tuple[int, ...]
    last_hook: int
    first_hook: int
    own_picks: int

    @property
    def effects(self) -> tuple[int, ...]:
        """All effects that break."""
        return tuple(sorted({*self.across, *self.up}))

    @property
    def hooks(self) -> int:
        """Hooks from the one after the join to the one before it, which their ends must divide."""
        return abs(self.last_hook - self.first_hook + 1) if self.last_hook else 0


def find_breaks(lifts: HookLifts, tie: Tie | None, *, has_edges: bool = False) -> Breaks:
    """Find the effects whose weave breaks at a join of repeats that the effect crosses.

    The weave of an effect joins if its ends divide the ends of the repeat, and its picks the
    picks of its own weft ([TAYLOR-1909], p. 220).
    """
    pixels, design = lifts.design.picture.pixels, lifts.design
    own_picks = list(lifts.picks_by_weft.values())
    side = _crossing_side(pixels, _joins(pixels.shape[1], tie, has_edges=has_edges))
    top = set(pixels[0][pixels[0] == pixels[-1]].tolist())
    across, up = list[int](), list[int]()
    join, picks = (0, 0), 0
    for value, effect in enumerate(design.effects_by_value):
        weave, of_weft = effect.weave, own_picks[design.weft_of(effect)]
        unlike = [pair for pair in side.get(value, ()) if (pair[1] - pair[0] - 1) % weave.ends]
        if unlike:
            across.append(value)
            join = join if any(join) else (unlike[0][0] + 1, unlike[0][1] + 1)
        if value in top and of_weft % weave.picks:
            up.append(value)
            picks = picks or of_weft
    return Breaks(tuple(across), tuple(up), *join, picks)


def _crossing_side(
    pixels: Matrix, joins: Sequence[tuple[int, int]]
) -> dict[int, list[tuple[int, int]]]:
    """Return by effect the hooks, from 0, on both sides of the joins that it crosses."""
    found: dict[int, list[tuple[int, int]]] = {}
    for pair in joins:
        one, other = pixels[:, pair[0]], pixels[:, pair[1]]
        for value in np.unique(one[one == other]).tolist():
            found.setdefault(value, []).append(pair)
    return found


def _joins(columns: int, tie: Tie | None, *, has_edges: bool) -> list[tuple[int, int]]:
    """Return the hooks, from 0, on both sides of every join of a tie of so many columns."""
    hooks = np.arange(columns) if tie is None else tie
    following = np.roll(hooks, -1)
    ascends = following == hooks + 1
    # A join lies between two stretches that both run from left to right.
    joins = ~ascends & np.roll(ascends, 1) & np.roll(ascends, -1)
    if has_edges:
        joins[-1] = False
    ends = np.flatnonzero(joins)
    return list(dict.fromkeys(zip(hooks[ends].tolist(), following[ends].tolist(), strict=True)))


def fitting_repeat(
    lifts: HookLifts, breaks: Breaks, tie: Tie | None, *, has_edges: bool = False
) -> tuple[int, int]:
    """Return the most columns and lines of the picture, from the first, at which no weave breaks.

    400 ends with a ground of 12 are cast out to 396 ([TAYLOR-1909], p. 220). Only effects that
    cross the edge count, as it is after casting out. On a tied harness the mails of the last hooks
    are left empty, so that only joins after the last hook move.

    Args:
        lifts: The design on the hooks.
        breaks: Where it breaks.
        tie: The hook of every end; ``None`` if each hook has one end.
        has_edges: Whether the tie is a cloth from edge to edge.

    Returns:
        Columns and lines; 0 if none fit.
    """
    lines, columns = lifts.design.picture.pixels.shape
    fitting_columns = columns
    if breaks.across:
        joins = _joins(columns, tie, has_edges=has_edges)
        fitting_columns = _most(_columns_joined(lifts, joins))
    return fitting_columns, _most(_lines_joined(lifts)) if breaks.up else lines


def _most(joined: NDArray[np.bool_]) -> int:
    """Return the greatest number of threads, from 1, that is true; 0 if none is."""
    return int((np.flatnonzero(joined) + 1).max(initial=0))


def _columns_joined(lifts: HookLifts, joins: Sequence[tuple[int, int]]) -> NDArray[np.bool_]:
    """Return for every number of columns whether all weaves join there.

    The hooks before the joins are those that are left, the hooks after them stay.
    """
    pixels, effects = lifts.design.picture.pixels, lifts.design.effects_by_value
    columns = pixels.shape[1]
    numbers = np.arange(1, columns + 1)
    moving = [first for last, first in joins if last == columns - 1]
    staying = [pair for pair in joins if pair[0] != columns - 1]
    # Hooks are left of every stretch.
    joined = numbers > max((hook for pair in staying for hook in pair), default=0)
    joined &= numbers > max(moving, default=0)
    for value, pairs in _crossing_side(pixels, staying).items():
        if any((last - first + 1) % effects[value].weave.ends for last, first in pairs):
            joined[:] = False
    for _, rows in blocks_of_picks(pixels):
        for first in moving:
            for value in np.unique(rows[:, first]).tolist():
                crosses = (rows[rows[:, first] == value] == value).any(axis=0)
                joined &= ~crosses | ((numbers - first) % effects[value].weave.ends == 0)
    return joined


def _lines_joined(lifts: HookLifts) -> NDArray[np.bool_]:
    """Return for every number of lines whether all weaves join there, by picks of their wefts."""
    design, pixels = lifts.design, lifts.design.picture.pixels
    own_picks = [
        np.bincount(lifts.line_of_pick[lifts.weft_of_pick == weft], minlength=len(pixels)).cumsum()
        for weft in range(len(design.weft_keys))
    ]
    joined = np.ones(len(pixels), dtype=np.bool_)
    for first, rows in blocks_of_picks(pixels):
        of_block = np.s_[first : first + len(rows)]
        for value in np.unique(pixels[0]).tolist():
            effect = design.effects_by_value[value]
            crosses = (rows[:, pixels[0] == value] == value).any(axis=1)
            fits = own_picks[design.weft_of(effect)][of_block] % effect.weave.picks == 0
            joined[of_block] &= ~crosses | fits
    return joined


class ThinLines(NamedTuple):
    """What is one thread thin in a picture, by effect.

    Attributes:
        shares: Of its pixels.
        first: Line and column of the first of them, from 1; 0 if there is none.
    """

    shares: tuple[float, ...]
    first: tuple[tuple[int, int], ...]


def thin_lines(lifts: HookLifts, *, has_edges: bool = False) -> ThinLines:
    """Return of every effect what is one thread thin, up or across.

    A line of the figure has at least two threads: [BELL-1895], p. 118. Beside the first and last
    hook of a picture that is the whole cloth there is no other effect.
    """
    pixels = lifts.design.picture.pixels
    effects = len(lifts.design.picture.colours)
    thin = np.zeros(effects, dtype=np.int64)
    found = [(0, 0)] * effects
    for first, rows in blocks_of_picks(pixels):
        lines = np.arange(first, first + len(rows))
        below, above = pixels[lines - 1], pixels[(lines + 1) % len(pixels)]
        beside = rows != np.roll(rows, 1, axis=1)
        if has_edges:
            beside[:, 0] = False
        alone = beside & np.roll(beside, -1, axis=1)
        alone |= (rows != below) & (rows != above)
        values, at = np.unique(rows[alone], return_index=True)
        places = np.argwhere(alone)[at].tolist()
        for value, (line, column) in zip(values.tolist(), places, strict=True):
            if not any(found[value]):
                found[value] = (first + line + 1, column + 1)
        thin += np.bincount(rows[alone], minlength=effects)
    of_effects = np.maximum(lifts.effect_lines.sum(axis=0), 1)
    return ThinLines(tuple((thin / of_effects).tolist()), tuple(found))
