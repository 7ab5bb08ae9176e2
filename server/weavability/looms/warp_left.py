"""The warp that an order leaves on the loom, and whether it suffices for the next of that warp.

Beams are taken as filled. What an order of the same warp finds on the loom either spares it a
filling, or a new beam is tied in when the rest is woven out, which stops the loom as a new warp
does. Groups of ends with beams of their own run out each at its time.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from typing import Final, NamedTuple

from weavability.textiles.bounds import Bounds
from weavability.textiles.numbers import SLACK

WARP_LEFT_M: Final = Bounds(0, 1_000_000, "m")


class Beams(NamedTuple):
    """The warp of an order on the beams of one group of ends.

    Attributes:
        ends: Ends that are wound on them.
        woven_m: Warp that goes into the cloth.
        filling_m: Warp of one filling that can be woven: what is lost at every beam aside.
        m_per_h: Warp that the loom weaves an hour.
    """

    ends: int
    woven_m: float
    filling_m: float
    m_per_h: float

    def fillings(self, left_m: float = 0.0) -> int:
        """Return the fillings to bring, if some warp is left on the loom.

        >>> Beams(ends=4800, woven_m=4300, filling_m=4700, m_per_h=14).fillings()
        1
        >>> Beams(ends=4800, woven_m=4300, filling_m=4700, m_per_h=14).fillings(4300)
        0
        """
        # A sum of lengths that misses a whole number of fillings by its last digits fills them.
        return max(0, ceil((self.woven_m - left_m) / self.filling_m - SLACK))

    def suffices(self, left_m: float) -> bool:
        """Return whether what is left spares a filling, so that no beam is tied in for the order.

        An order of several fillings begins with what is left, and needs one filling less.
        """
        return self.fillings(left_m) < self.fillings()

    def left_m(self, left_m: float = 0.0) -> float:
        """Return the warp that is left when the order is woven, if it found some on the loom."""
        return max(0.0, left_m + self.fillings(left_m) * self.filling_m - self.woven_m)


def left_on_full_beams_m(warp: Sequence[Beams]) -> tuple[float, ...]:
    """Return the warp that an order leaves of its own beams, group by group."""
    return tuple(beams.left_m() for beams in warp)


def used_up(warp: Sequence[Beams], left_m: Sequence[float]) -> list[int]:
    """Return the places of the groups whose warp on the loom does not suffice for an order."""
    pairs = zip(warp, left_m, strict=True)
    return [place for place, (beams, left) in enumerate(pairs) if not beams.suffices(left)]
