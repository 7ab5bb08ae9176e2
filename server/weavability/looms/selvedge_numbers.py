"""The edges of a cloth in numbers: of one order or of a column of orders."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from weavability.textiles.cloth_symbols import ClothSymbols
from weavability.textiles.numbers import N, Record, Truth
from weavability.textiles.selvedge_facts import SelvedgeFacts
from weavability.textiles.thread_systems import Threads
from weavability.textiles.weave_structure import MAX_REMEMBERED_CELLS


@dataclass(slots=True, kw_only=True)
class SelvedgeNumbers(Record[N]):
    """The edges of a cloth.

    Attributes:
        is_open: Whether the order leaves open how many ends they have.
        is_stated: Whether there are selvedge ends.
        are_many: Whether they are more than is usual, and may make a cloth wider.
        is_known: Whether it is known how they weave.
        has_own_weave: Whether the order states their weave.
        unheld_turns: Picks of the repeat at the edge that lie in one shed with the next.
        longest_float_picks: Of the ends at the edge.
        has_catch_cord: Whether the order states catch cords.
        own_lifts: Shafts or hooks that only selvedge ends are drawn on.
        lift_picks: Picks after which ground and selvedge repeat together.
        mean_float_of_picks: Of the weave at the edge; of the ground's, with two ends as one.
        mean_float_of_ends: Likewise.
        end_width_mm: Of an end of the selvedge: the diameter, of a tape the width.
        end_depth_mm: The diameter, of a tape the thickness.
        weft_width_mm: Mean over the order, likewise.
        weft_depth_mm: Mean over the order, likewise.
    """

    is_open: Truth
    is_stated: Truth
    are_many: Truth
    is_known: Truth
    has_own_weave: Truth
    unheld_turns: N
    longest_float_picks: N
    has_catch_cord: Truth
    own_lifts: N
    lift_picks: N
    mean_float_of_picks: N
    mean_float_of_ends: N
    end_width_mm: N
    end_depth_mm: N
    weft_width_mm: N
    weft_depth_mm: N


def selvedge_numbers(symbols: ClothSymbols) -> SelvedgeNumbers[float]:
    """Gather what follows from the edges of a cloth, on any loom."""
    stated, selvedge, weft = symbols.construction.selvedge, symbols.selvedge, symbols.weft
    is_small = symbols.repeat.weave.matrix.size <= MAX_REMEMBERED_CELLS and weft.is_remembered
    return (_remembered_selvedge if is_small else _of_selvedge)(
        selvedge, stated.ends_per_side is None, bool(stated.catch_cord_ends), weft
    )


def _of_selvedge(
    selvedge: SelvedgeFacts,
    is_open: bool,  # noqa: FBT001 - a key of what is remembered
    has_catch_cord: bool,  # noqa: FBT001 - a key of what is remembered
    weft: Threads,
) -> SelvedgeNumbers[float]:
    floats = selvedge.edge.floats
    return SelvedgeNumbers(
        is_open=is_open,
        is_stated=selvedge.ends > 0,
        are_many=selvedge.are_many,
        is_known=selvedge.is_known,
        has_own_weave=selvedge.repeat is not None,
        unheld_turns=selvedge.edge.unheld_turns,
        longest_float_picks=floats.longest_warp_float_picks,
        has_catch_cord=has_catch_cord,
        own_lifts=selvedge.shafts,
        lift_picks=selvedge.lift_picks,
        # Ends that weave as the ground do so in pairs where they are crammed.
        mean_float_of_picks=(2 if selvedge.repeat is None else 1) * floats.mean_float_of_picks,
        mean_float_of_ends=floats.mean_float_of_ends,
        end_width_mm=selvedge.yarn.width_mm,
        end_depth_mm=selvedge.yarn.depth_mm,
        weft_width_mm=weft.width_mm,
        weft_depth_mm=weft.depth_mm,
    )


_remembered_selvedge: Final = lru_cache(maxsize=1024)(_of_selvedge)
