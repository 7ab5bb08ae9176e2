"""The selvedges that are on a loom: where their ends hang, and which must be drawn in anew."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True, kw_only=True)
class SelvedgeOnLoom:
    """The selvedges of a cloth on a loom.

    Attributes:
        ends: Extra ends of all selvedges, which are among the ends of the warp.
        shafts: Shafts that only selvedge ends are drawn on.
        threading: Shaft of each of their ends over its repeat, of those shafts; on a Jacquard,
            the hook. Empty if the ends hang on the shafts of the ground.
        in_ground: Key of what ground and selvedge lift, if ends of a weave of their own hang on
            shafts of the ground; empty if none do.
        lifts: Key of what the shafts of their own lift; empty without such shafts.
        ends_per_dent: Their ends in a dent; 0 without selvedge ends.
        is_known: Whether it is known how they weave; shafts may be stated without a weave.
    """

    ends: int = 0
    shafts: int = 0
    threading: tuple[int, ...] = ()
    in_ground: str = ""
    lifts: str = ""
    ends_per_dent: int = 0
    is_known: bool = True

    @property
    def follows_ground(self) -> bool:
        """Whether the ends are drawn in as those of the ground are."""
        return not (self.threading or self.in_ground)

    def hangs_as(self, other: SelvedgeOnLoom) -> bool:
        """Return whether the ends of both hang on the same shafts."""
        own, others = ((each.threading, each.in_ground, each.is_known) for each in (self, other))
        return own == others


NO_SELVEDGE: Final = SelvedgeOnLoom()


def ends_to_draw(old: SelvedgeOnLoom, new: SelvedgeOnLoom, *, added_ends: int) -> int:
    """Return the ends on the loom that must be drawn in anew for other selvedges.

    Ends that are new are drawn in as such, and those that are left out are not drawn in at all;
    both are the outermost.

    Args:
        old: The selvedges on the loom.
        new: Those of the cloth that follows, if its ground stays on the draft on the loom.
        added_ends: Ends that its warp has more than that on the loom; negative if fewer.

    24 ends a side of another weave hang on other shafts; if they are further ends, none that is
    there is drawn in anew:

    >>> ground, rib = SelvedgeOnLoom(ends=48), SelvedgeOnLoom(ends=48, threading=(1, 1, 2, 2))
    >>> ends_to_draw(ground, rib, added_ends=0)
    48
    >>> ends_to_draw(NO_SELVEDGE, rib, added_ends=48)
    0
    """
    # Counted from the outermost end on the loom inwards.
    first = max(0, -added_ends)
    reach = new.ends - added_ends
    stays_selvedge = max(0, min(old.ends, reach) - first)
    from_ground = max(0, reach - max(old.ends, first))
    to_ground = max(0, old.ends - max(reach, first))
    return (
        (0 if new.hangs_as(old) else stays_selvedge)
        + (0 if new.follows_ground else from_ground)
        + (0 if old.follows_ground else to_ground)
    )
