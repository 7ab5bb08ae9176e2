"""The drawing-in of a column of cloths on several shedding motions.

It finds the numbers of :func:`weavability.looms.drawing_in.draw_in` without making drafts: cloths
of one weave are dealt over the shafts together. A requested draft is drawn in one by one.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from weavability.looms.drawing_in import (
    MOST_SHAFTS_DRAWN,
    DrawnNumbers,
    draw_in,
    drawn_numbers,
    is_plainly_drawn,
    is_straight_better,
    least_draft,
    straight_repeats,
)
from weavability.looms.shedding_limits import ShaftLimits, SheddingLimits
from weavability.textiles.cloth_numbers import ClothNumbers
from weavability.textiles.cloth_symbols import ClothSymbols
from weavability.textiles.drafting import WIDEST_WARP_ENDS, Draft
from weavability.textiles.numbers import SLACK, Floats, first_alike, passed

Counts = NDArray[np.int64]

_CELLS_AT_A_TIME: Final = 2**20


def draw_in_columns(
    orders: Sequence[ClothSymbols], cloth: ClothNumbers[Floats], motions: Sequence[SheddingLimits]
) -> DrawnNumbers[Floats]:
    """Deal the ends of cloths over the shafts of shedding motions.

    Args:
        orders: The cloths.
        cloth: Their numbers, in columns of one axis.
        motions: The shedding motions.

    Returns:
        Columns of the shape (motions, orders).
    """
    shape = (len(motions), len(orders))
    drawn = DrawnNumbers(
        shafts_needed=np.zeros(shape),
        shafts_used=np.zeros(shape),
        healds_per_cm=np.zeros(shape),
        healds_on_fullest_shaft=np.zeros(shape),
        draft_faults=np.zeros(shape),
    )
    on_shafts = [row for row, motion in enumerate(motions) if isinstance(motion, ShaftLimits)]
    if on_shafts:
        shafts = [motion for motion in motions if isinstance(motion, ShaftLimits)]
        _draw_in(drawn, np.array(on_shafts), shafts, orders, cloth)
    return drawn


def _draw_in(
    drawn: DrawnNumbers[Floats],
    rows: Counts,
    motions: Sequence[ShaftLimits],
    orders: Sequence[ClothSymbols],
    cloth: ClothNumbers[Floats],
) -> None:
    total = np.broadcast_to(cloth.total_ends, len(orders))
    width_cm = np.broadcast_to(cloth.reed_width_cm, len(orders))
    alike: dict[tuple[int, int], list[int]] = {}
    alone: dict[object, list[int]] = {}
    for place, order in enumerate(orders):
        needed = order.structure.shafts_needed + order.selvedge_shafts
        drawn.shafts_needed[rows, place] = needed
        if needed > MOST_SHAFTS_DRAWN:
            continue
        repeat_ends = order.repeat.weave.ends
        one_deal = max(1, WIDEST_WARP_ENDS // repeat_ends) * repeat_ends
        if order.construction.draft is not None or total[place] > one_deal:
            key = (order.construction.draft, order.selvedge_ends, order.panels)
            alone.setdefault((id(order.repeat), order.selvedge_shafts, *key), []).append(place)
        else:
            alike.setdefault((id(order.repeat), order.selvedge_shafts), []).append(place)
    for places in alike.values():
        first = orders[places[0]]
        at_a_time = max(1, _CELLS_AT_A_TIME // (len(motions) * first.structure.shafts_needed))
        for start in range(0, len(places), at_a_time):
            some = np.array(places[start : start + at_a_time])
            selvedge = np.array([orders[place].selvedge_ends for place in some.tolist()])
            used, fullest = _dealt(first, motions, total[some], selvedge, width_cm[some])
            here = np.ix_(rows, some)
            drawn.shafts_used[here] = used
            drawn.healds_on_fullest_shaft[here] = fullest
            drawn.healds_per_cm[here] = fullest / width_cm[some]
    ground = np.broadcast_to(cloth.ground_ends, len(orders))
    for places in alone.values():
        some = np.array(places)
        for row, motion in zip(rows.tolist(), motions, strict=True):
            used, fullest, faults = _alike(
                orders[places[0]], motion, total[some], width_cm[some], ground[some]
            )
            drawn.shafts_used[row, some] = used
            drawn.healds_on_fullest_shaft[row, some] = fullest
            drawn.healds_per_cm[row, some] = fullest / width_cm[some]
            drawn.draft_faults[row, some] = faults


def draw_in_alike(
    order: ClothSymbols, cloth: ClothNumbers[Floats], motion: SheddingLimits
) -> DrawnNumbers[Floats]:
    """Deal the ends of cloths that differ in no more than setts, width and yarns.

    Args:
        order: Any of the cloths: they share weave, panels, selvedges and requested draft.
        cloth: Their numbers, in columns.
        motion: The shedding motion.

    Returns:
        Columns of the shape of the cloths, as :func:`draw_in_columns` finds them.
    """
    total, width_cm, ground = np.broadcast_arrays(
        cloth.total_ends, cloth.reed_width_cm, cloth.ground_ends
    )
    needed, used, fullest, faults = np.zeros((4, total.size))
    if isinstance(motion, ShaftLimits):
        needed[:] = order.structure.shafts_needed + order.selvedge_shafts
        if needed[0] <= MOST_SHAFTS_DRAWN:
            used, fullest, faults = _alike(
                order, motion, total.ravel(), width_cm.ravel(), ground.ravel()
            )
    return DrawnNumbers(
        shafts_needed=needed.reshape(total.shape),
        shafts_used=used.reshape(total.shape),
        healds_per_cm=fullest.reshape(total.shape) / width_cm,
        healds_on_fullest_shaft=fullest.reshape(total.shape),
        draft_faults=faults.reshape(total.shape),
    )


def _alike(
    order: ClothSymbols, motion: ShaftLimits, total: Floats, width_cm: Floats, ground: Floats
) -> tuple[NDArray[Any], NDArray[Any], NDArray[Any]]:
    """Return shafts in use, healds on the fullest one, and faults of the requested draft."""
    repeat_ends = order.repeat.weave.ends
    one_deal = max(1, WIDEST_WARP_ENDS // repeat_ends) * repeat_ends
    used, fullest, faults = (np.zeros(total.size) for _ in range(3))
    is_requested = order.construction.draft is not None
    if is_requested:
        tried = _drawn_alone(order, motion, total[0], width_cm[0], ground[0])
        faults[:] = tried.draft_faults
    if is_requested and not faults[0]:
        # A requested draft depends on the width by the repeats of a straight one alone.
        together = np.zeros(total.size, np.bool_)
        key = np.stack((total, ground, _straight_over_repeats(order, motion, total, width_cm)))
    else:
        together = total <= one_deal
        key = np.stack((total, ground, width_cm))
    at_a_time = max(1, _CELLS_AT_A_TIME // order.structure.shafts_needed)
    dealt = np.flatnonzero(together)
    for start in range(0, dealt.size, at_a_time):
        some = dealt[start : start + at_a_time]
        selvedge = np.full(some.size, order.selvedge_ends)
        of_some = _dealt(order, [motion], total[some], selvedge, width_cm[some])
        used[some], fullest[some] = of_some[0][0], of_some[1][0]
    alone = np.flatnonzero(~together)
    if alone.size:
        first = alone[first_alike(key[:, alone].T)]
        for place in dict.fromkeys(first.tolist()):
            drawn = _drawn_alone(order, motion, total[place], width_cm[place], ground[place])
            used[place], fullest[place] = drawn.shafts_used, drawn.healds_on_fullest_shaft
        used[alone], fullest[alone] = used[first], fullest[first]
    return used, fullest, faults


def _straight_over_repeats(
    order: ClothSymbols, motion: ShaftLimits, total: Floats, width_cm: Floats
) -> Floats:
    """Return over how many repeats a straight draft would run on a motion."""
    own = order.selvedge_shafts
    limits, needed = motion.numbers, order.structure.shafts_needed + own
    most = np.minimum(
        limits.max_healds_per_shaft, np.floor(limits.max_healds_per_cm * width_cm * (1 + SLACK))
    )
    return straight_repeats(
        ground_ends=total - (order.selvedge_ends if own else 0),
        repeat_ends=order.repeat.weave.ends + 0 * width_cm,
        most_healds=most,
        available=max(motion.shafts, needed) - own + 0 * width_cm,
    )


def _drawn_alone(
    order: ClothSymbols, motion: ShaftLimits, total: Any, width_cm: Any, ground: Any
) -> DrawnNumbers[float]:
    numbers: Any = _Ends(ground.item(), total.item(), width_cm.item())
    return drawn_numbers(draw_in(order, numbers, motion))


class _Ends(NamedTuple):
    """What a drawing-in reads of the numbers of a cloth."""

    ground_ends: float
    total_ends: float
    reed_width_cm: float


def _dealt(
    cloth: ClothSymbols,
    motions: Sequence[ShaftLimits],
    total_ends: Floats,
    selvedge_ends: Counts,
    width_cm: Floats,
) -> tuple[Counts, Counts]:
    """Return the shafts in use and the healds on the fullest one, by motion and cloth."""
    own = cloth.selvedge_shafts
    needed = cloth.structure.shafts_needed + own
    least = least_draft(cloth.repeat)
    ground = total_ends.astype(np.int64) - (selvedge_ends if own else 0)
    ends = _column_ends(least, ground)
    most_ends = _most_of_alike(least, ends)
    limits = [motion.numbers for motion in motions]
    per_cm = np.array([limit.max_healds_per_cm for limit in limits])[:, np.newaxis]
    held = np.array([limit.max_healds_per_shaft for limit in limits])[:, np.newaxis]
    most = np.minimum(held, np.floor(per_cm * width_cm * (1 + SLACK)))
    available = np.array([max(motion.shafts, needed) - own for motion in motions])
    shafts = _shafts_per_column(most_ends, width_cm, most / width_cm, available)
    # Ends that weave alike are dealt in turn, so that shafts differ by one heald at most.
    used, fullest = shafts.sum(axis=-1), (-(-ends // shafts)).max(axis=-1)
    straight = cloth.repeat.weave.ends * straight_repeats(
        ground_ends=ground.astype(np.float64),
        repeat_ends=float(cloth.repeat.weave.ends) + 0 * width_cm,
        most_healds=most,
        available=available[:, np.newaxis].astype(np.float64),
    )
    better = is_straight_better(
        straight_shafts=straight,
        fewest_shafts=used.astype(np.float64),
        ground_ends=ground.astype(np.float64),
        healds_on_fullest=(-(-most_ends // shafts)).max(axis=-1).astype(np.float64),
        most_healds=most,
    )
    if is_plainly_drawn(least):
        better = better & (shafts.max(axis=-1) > 1)
    over = np.maximum(straight, 1).astype(np.int64)
    used, fullest = np.where(better, over, used), np.where(better, -(-ground // over), fullest)
    if own:
        fullest = np.maximum(fullest, -(-selvedge_ends // own))
    return used + own, fullest


def _column_ends(draft: Draft, ground_ends: Counts) -> Counts:
    """Count the ends of every distinct column: shape (cloths, columns)."""
    column = np.array(draft.threading) - 1
    begun = np.zeros((len(column) + 1, draft.shafts), np.int64)
    np.cumsum(column[:, np.newaxis] == np.arange(draft.shafts), axis=0, out=begun[1:])
    whole, part = np.divmod(ground_ends, len(column))
    counted: Counts = whole[:, np.newaxis] * begun[-1] + begun[part]
    return counted


def _most_of_alike(draft: Draft, ends: Counts) -> Counts:
    """Let a last part repeat count for all columns with equally many ends."""
    shares = np.bincount(np.array(draft.threading) - 1, minlength=draft.shafts)
    most = ends.copy()
    for share in set(shares.tolist()):
        here = shares == share
        most[:, here] = ends[:, here].max(axis=1, keepdims=True)
    return most


def _shafts_per_column(
    ends: Counts, width_cm: Floats, max_healds_per_cm: Floats, available: Counts
) -> Counts:
    """Deal as :func:`weavability.looms.drawing_in.shafts_per_column` does, for all cloths at once.

    Args:
        ends: Shape (cloths, columns).
        width_cm: Reed width in use, of the cloths.
        max_healds_per_cm: Crowding limit, shape (motions, cloths).
        available: Shafts that each motion has for the ground.

    Returns:
        Shape (motions, cloths, columns).
    """
    total = ends.sum(axis=1)
    density = (total / width_cm)[:, np.newaxis] * ends / total[:, np.newaxis]
    shape = (*max_healds_per_cm.shape, ends.shape[1])
    shafts = np.ones(shape, np.int64)
    flat = shafts.reshape(-1, shape[2])
    limit = max_healds_per_cm.reshape(-1)
    left = np.repeat(available - ends.shape[1], shape[1])
    cloth = np.tile(np.arange(shape[1]), shape[0])
    going = np.flatnonzero(left > 0)
    while len(going):
        load = density[cloth[going]] / flat[going]
        fullest = load.argmax(axis=1)
        crowded = passed(load[np.arange(len(going)), fullest], limit[going])
        going, fullest = going[crowded], fullest[crowded]
        flat[going, fullest] += 1
        left[going] -= 1
        going = going[left[going] > 0]
    return shafts
