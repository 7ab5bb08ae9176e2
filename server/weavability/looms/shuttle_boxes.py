"""Shuttle boxes: whether a weft order can be woven with the boxes at the two ends of the sley.

Every weft has a shuttle of its own. A pick takes its shuttle from one side to the other, where a
box must be free. With one box on a side, every shuttle must come back before another is thrown:
each weft then comes in an even number of picks. Source: definition of the drop box.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import inf
from typing import Final

import numpy as np

from weavability.textiles.numbers import N, Record, either

MOST_BOXES: Final = 6
"""Most boxes on a side: those of a revolving box."""

_MOST_SHUTTLES: Final = 2 * MOST_BOXES - 1


@dataclass(slots=True, kw_only=True)
class BoxesNeeded(Record[N]):
    """Fewest boxes on one side, by the boxes on the other; infinite if no number will do."""

    beside_1: N
    beside_2: N
    beside_3: N
    beside_4: N
    beside_5: N
    beside_6: N

    def beside(self, boxes: N) -> N:
        """Return the fewest boxes needed opposite to some number of boxes."""
        needed: N = self.beside_1 + 0 * boxes
        for number, fewest in enumerate(
            (self.beside_2, self.beside_3, self.beside_4, self.beside_5, self.beside_6), start=2
        ):
            needed = either(boxes >= number, fewest, needed)
        return needed


def boxes_needed(sequence: Sequence[str]) -> BoxesNeeded[float]:
    """Find the boxes that a weft order needs, by trying every place of the shuttles at the start.

    Args:
        sequence: The yarn of each pick of a repeat.

    >>> pick_and_pick = boxes_needed("AB")
    >>> pick_and_pick.beside(1), pick_and_pick.beside(2)
    (inf, 2)
    """
    return _boxes_needed(tuple(sequence))


@lru_cache(maxsize=64)
def _boxes_needed(sequence: tuple[str, ...]) -> BoxesNeeded[float]:
    shuttles = sorted(set(sequence))
    if len(shuttles) == 1:
        return _OF_ONE_WEFT
    if len(shuttles) > _MOST_SHUTTLES:
        return BoxesNeeded(**{f"beside_{one}": inf for one in range(1, MOST_BOXES + 1)})
    crossed = _crossed(sequence, shuttles)
    starts = np.arange(2 ** len(shuttles), dtype=np.uint16)
    right = np.bitwise_count(starts[:, None] ^ crossed[None, :])
    most_right, most_left = right.max(axis=1), len(shuttles) - right.min(axis=1)
    return BoxesNeeded(
        **{
            f"beside_{boxes}": _fewest(most_left[most_right <= boxes].tolist())
            for boxes in range(1, MOST_BOXES + 1)
        }
    )


_OF_ONE_WEFT: Final[BoxesNeeded[float]] = BoxesNeeded(
    **{f"beside_{boxes}": 1 for boxes in range(1, MOST_BOXES + 1)}
)
"""The one shuttle always finds the box opposite free."""


def _crossed(
    sequence: tuple[str, ...], shuttles: list[str]
) -> np.ndarray[tuple[int], np.dtype[np.uint16]]:
    """Return, for every pick, the shuttles that are not on the side from which they started.

    Two repeats bring every shuttle back.
    """
    bits = {key: 1 << place for place, key in enumerate(shuttles)}
    thrown = np.array([bits[key] for key in sequence * 2], dtype=np.uint16)
    return np.unique(np.concatenate(([np.uint16(0)], np.bitwise_xor.accumulate(thrown))))


def _fewest(boxes: list[int]) -> float:
    return min(boxes, default=inf)
