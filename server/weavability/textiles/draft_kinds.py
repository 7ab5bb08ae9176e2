"""The kind of a drawing-in, by the order of its shafts."""

from __future__ import annotations

from collections.abc import Sequence
from math import gcd
from typing import Literal

import numpy as np
from numpy.typing import NDArray

DraftKind = Literal["straight", "point", "skip", "broken", "grouped", "repeated", "irregular"]


def draft_kind(threading: Sequence[int]) -> DraftKind:
    """Name how the ends go over the shafts.

    ``straight``: one shaft after the other, over and over. ``point``: straight to and fro.
    ``skip``: the ends that weave alike spread over shafts side by side, or a constant skip.
    ``broken``: runs to and fro with a jump between them. ``grouped``: stripes on shafts of their
    own. ``repeated``: one of these with neighbouring ends on the same shaft. ``irregular``: else.

    >>> [draft_kind(t) for t in ((1, 2, 3, 4), (1, 2, 3, 4, 3, 2), (1, 3, 2, 4))]
    ['straight', 'point', 'skip']
    """
    following = (*threading[1:], threading[0])
    apart = [end for end, other in zip(threading, following, strict=True) if end != other]
    if len(apart) in (0, len(threading)):
        return _kind_without_repeats(threading)
    return "irregular" if _kind_without_repeats(apart) == "irregular" else "repeated"


def _kind_without_repeats(threading: Sequence[int]) -> DraftKind:
    """Name a draft in which no two neighbouring ends share a shaft."""
    shafts, following = max(threading), (*threading[1:], threading[0])
    skips = {(other - end) % shafts for end, other in zip(threading, following, strict=True)}
    if len(skips) == 1 and gcd(skip := skips.pop(), shafts) == 1:
        return "straight" if skip in (1 % shafts, shafts - 1) else "skip"
    ends = np.array(threading)
    steps = np.diff(ends, append=ends[0])
    if (np.abs(steps) == 1).all():
        return "point"
    if _is_interleaved(ends, shafts):
        return "skip"
    if _is_grouped(ends):
        return "grouped"
    return "broken" if _is_broken(steps, shafts) else "irregular"


def _is_broken(steps: NDArray[np.int64], shafts: int) -> bool:
    """Recognise runs up and runs down, with jumps between them no more than every second step."""
    up, down = np.isin(steps, (1, 1 - shafts)), np.isin(steps, (-1, shafts - 1))
    jumps = int(np.count_nonzero(~(up | down)))
    return bool(up.any() and down.any() and 2 * jumps <= len(steps))


def _is_interleaved(ends: NDArray[np.int64], shafts: int) -> bool:
    """Recognise straight drafts side by side, each on shafts of its own, end by end in turn."""
    counts = (count for count in range(2, shafts) if len(ends) % count == 0)
    return any(_are_straight_side_by_side(ends.reshape(-1, count).T) for count in counts)


def _are_straight_side_by_side(rows: NDArray[np.int64]) -> bool:
    """Return whether every row runs straight over its own block of neighbouring shafts."""
    low, high = rows.min(axis=1), rows.max(axis=1)
    if np.any(np.sort(low)[1:] <= np.sort(high)[:-1]) or np.array_equal(low, high):
        return False
    width = (high - low + 1)[:, None]
    place = np.arange(rows.shape[1])[None, :]
    return bool(np.all(rows - low[:, None] == (rows[:, :1] - low[:, None] + place) % width))


def _is_grouped(ends: NDArray[np.int64]) -> bool:
    """Recognise stripes on shafts of their own, in one of which at least ends share a shaft."""
    shafts, first = np.unique(ends, return_index=True)
    last = len(ends) - 1 - np.unique(ends[::-1], return_index=True)[1]
    order = np.argsort(first)
    reach = np.maximum.accumulate(last[order])
    stripes = 1 + int(np.count_nonzero(first[order][1:] > reach[:-1]))
    return 1 < stripes < len(shafts)
