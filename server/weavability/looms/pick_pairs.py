"""The pairs of picks that a needle lays as one loop: one weft in one shed."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray


def unlike_lifts(pick_kinds: NDArray[np.intp]) -> int:
    """Count the pairs of picks of a repeat that lift differently, the first two being a pair.

    A repeat of an odd number of picks is counted twice over.

    >>> unlike_lifts(np.array([0, 0, 1, 1])), unlike_lifts(np.array([0, 1, 2]))
    (0, 3)
    """
    kinds = np.tile(pick_kinds, 1 + len(pick_kinds) % 2)
    return int(np.count_nonzero(kinds[::2] != kinds[1::2]))


def unlike_wefts(sequence: Sequence[str]) -> int:
    """Count the pairs of picks of a weft order that are not of one weft, likewise.

    >>> unlike_wefts("AABB"), unlike_wefts("AAAB"), unlike_wefts("A")
    (0, 1, 0)
    """
    return _unlike_wefts(tuple(sequence))


@lru_cache(maxsize=64)
def _unlike_wefts(sequence: tuple[str, ...]) -> int:
    picks = sequence * (1 + len(sequence) % 2)
    return sum(one != other for one, other in zip(picks[::2], picks[1::2], strict=True))
