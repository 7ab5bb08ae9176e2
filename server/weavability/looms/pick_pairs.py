"""The pairs of picks that a needle lays as one loop: one weft in one shed."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Final

import numpy as np

from weavability.textiles.weave_matrix import Repeat
from weavability.textiles.weave_structure import MAX_REMEMBERED_CELLS


def unlike_lifts(repeat: Repeat) -> int:
    """Count the pairs of picks of a repeat that lift differently, the first two being a pair.

    A repeat of an odd number of picks is counted twice over.

    >>> from weavability.textiles.weave_matrix import Weave
    >>> repeats = [Repeat.of(Weave.from_rows(rows)) for rows in (["10", "10", "01", "01"], ["10"])]
    >>> [unlike_lifts(repeat) for repeat in repeats]
    [0, 0]
    >>> unlike_lifts(Repeat.of(Weave.from_rows(["100", "010", "001"])))
    3
    """
    if repeat.weave.matrix.size > MAX_REMEMBERED_CELLS:
        return _unlike_lifts(repeat)
    return _remembered_unlike_lifts(repeat)


def _unlike_lifts(repeat: Repeat) -> int:
    pick_kinds = repeat.pick_kinds
    kinds = np.tile(pick_kinds, 1 + len(pick_kinds) % 2)
    return int(np.count_nonzero(kinds[::2] != kinds[1::2]))


_remembered_unlike_lifts: Final = lru_cache(maxsize=256)(_unlike_lifts)


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
