"""Drawing-in on this loom: shafts and healds, or the hooks of a Jacquard."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from itertools import compress
from typing import TypeVarTuple

from weavability.looms.loom import SheddingKind
from weavability.looms.loom_limits import SheddingLimits
from weavability.textiles.cloth import ClothFacts
from weavability.textiles.drafting import (
    Draft,
    check_draft,
    draft_weave,
    healds_per_shaft,
    spread_draft,
)
from weavability.textiles.errors import InputError
from weavability.textiles.weave_matrix import Repeat
from weavability.textiles.weave_structure import MAX_REMEMBERED_CELLS

Ts = TypeVarTuple("Ts")

MOST_SHAFTS_DRAWN = 64
"""No shaft loom carries more: a weave beyond it is a Jacquard's, and no draft is made of it.
48 is the theoretical most in published comparisons of shedding motions."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Harness:
    """How the warp is lifted.

    Attributes:
        shafts_needed: Fewest shafts: ends that weave differently, and the selvedge's own.
        shafts_used: Shafts over which the ends are dealt so that the healds are not crowded, as
            far as the loom's shafts reach; ``None`` on a Jacquard or beyond ``MOST_SHAFTS_DRAWN``.
        draft: The drawing-in of the ground.
        draft_fault: Why a threading that was asked for cannot weave this cloth.
        healds_per_shaft: Over the whole width, selvedges included.
        healds_per_cm_per_shaft: On the fullest shaft, over the reed width in use.
        hooks_used: Hooks that lift ends: whole repeats of the weave.
        hooks_idle: Hooks cast out.
        harness_repeats: Repeats of the harness across the width: ends on each hook.
        weave_repeats_across: Repeats of the weave across all panels.
    """

    shafts_needed: int | None
    shafts_used: int | None
    draft: Draft | None
    draft_fault: str | None
    healds_per_shaft: tuple[int, ...] | None
    healds_per_cm_per_shaft: float | None
    hooks_used: int | None
    hooks_idle: int | None
    harness_repeats: int | None
    weave_repeats_across: float


def draw_in(cloth: ClothFacts, shedding: SheddingLimits) -> Harness:
    """Deal the ends of a cloth over the shafts or hooks of a loom."""
    if shedding.kind is SheddingKind.JACQUARD:
        return _on_hooks(cloth, shedding)
    return _on_shafts(cloth, shedding)


def _repeats_across(cloth: ClothFacts) -> float:
    return cloth.panels * cloth.ends.ground / cloth.structure.ends


def _on_shafts(cloth: ClothFacts, shedding: SheddingLimits) -> Harness:
    own = cloth.selvedge_shafts
    needed = cloth.structure.shafts_needed + own
    draft, fault = None, None
    if needed <= MOST_SHAFTS_DRAWN:
        draft, fault = _draft(cloth, shedding, max(shedding.shafts or 0, needed) - own)
    healds = None if draft is None else _healds(cloth, draft, own)
    return Harness(
        shafts_needed=needed,
        shafts_used=None if draft is None else draft.shafts + own,
        draft=draft,
        draft_fault=fault,
        healds_per_shaft=healds,
        healds_per_cm_per_shaft=None if healds is None else max(healds) / cloth.widths.reed_cm,
        hooks_used=None,
        hooks_idle=None,
        harness_repeats=None,
        weave_repeats_across=_repeats_across(cloth),
    )


def _healds(cloth: ClothFacts, draft: Draft, own: int) -> tuple[int, ...]:
    """Healds of every shaft: the ground's, then those of the selvedge's own shafts."""
    ground = _counted(draft, _ground_ends(cloth))
    return ground + _shared(cloth.ends.selvedge, own) if own else ground


@lru_cache(maxsize=64)
def _counted(draft: Draft, total_ends: int) -> tuple[int, ...]:
    """Healds of every shaft; the looms of a park ask for the same draft again and again."""
    return healds_per_shaft(draft, total_ends=total_ends)


def _shared(ends: int, shafts: int) -> tuple[int, ...]:
    """Deal ends evenly over shafts, the first shafts taking one more where it does not go up."""
    each, left = divmod(ends, shafts)
    return tuple(each + (shaft < left) for shaft in range(shafts))


def _draft(cloth: ClothFacts, shedding: SheddingLimits, available: int) -> tuple[Draft, str | None]:
    """The draft asked for where it weaves the cloth; else the fewest shafts, spread."""
    request = cloth.construction.draft
    if request is None:
        return _spread(cloth, shedding, available), None
    try:
        if request.threading == "straight":
            return _straight(cloth, shedding, available), None
        return check_draft(cloth.repeat, request.threading), None
    except InputError as error:
        return _spread(cloth, shedding, available), error.faults[0].message


def _straight(cloth: ClothFacts, shedding: SheddingLimits, available: int) -> Draft:
    """Straight over so many repeats of the weave that the healds are not crowded."""
    repeat = cloth.weave.ends
    most = _most_healds(cloth, shedding)
    wanted = 1 if most is None else math.ceil(_ground_ends(cloth) / (repeat * max(most, 1)))
    repeats = max(1, min(wanted, available // repeat))
    return _straight_over(cloth.repeat, repeat * repeats)


def _spread(cloth: ClothFacts, shedding: SheddingLimits, available: int) -> Draft:
    least = _least_draft(cloth.repeat)
    ends, most = _column_ends(least, _ground_ends(cloth)), _most_healds(cloth, shedding)
    multiples = shafts_per_column(
        ends,
        ends_per_cm=sum(ends) / cloth.widths.reed_cm,
        max_healds_per_cm_per_shaft=None if most is None else most / cloth.widths.reed_cm,
        available=available,
    )
    if max(multiples) == 1:
        return least
    return _spread_over(cloth.repeat, tuple(multiples))


def _column_ends(least: Draft, total_ends: int) -> list[int]:
    """Ends of each distinct column; a last part repeat counts for all that are alike in a whole."""
    ends, shares = _counted(least, total_ends), Counter(least.threading)
    alike = [shares[shaft] for shaft in range(1, least.shafts + 1)]
    most = {share: max(compress(ends, (one == share for one in alike))) for share in set(alike)}
    return [most[share] for share in alike]


def _ground_ends(cloth: ClothFacts) -> int:
    """Ends that are drawn on the ground's shafts: all, where the selvedge has no own."""
    own = cloth.selvedge_shafts
    return cloth.ends.total - (cloth.ends.selvedge if own else 0)


def _most_healds(cloth: ClothFacts, shedding: SheddingLimits) -> int | None:
    """Healds that a shaft may have: those that it holds, and that are not crowded."""
    crowding = shedding.max_healds_per_cm_per_shaft
    limits = [] if shedding.max_healds_per_shaft is None else [shedding.max_healds_per_shaft]
    if crowding is not None:
        limits.append(math.floor(crowding * cloth.widths.reed_cm * (1 + 1e-9)))
    return min(limits, default=None)


def _remembered(
    draw: Callable[[Repeat, *Ts], Draft],
) -> Callable[[Repeat, *Ts], Draft]:
    """Keep the drafts of many small weaves, and of the last large one for the next loom."""
    small, large = lru_cache(maxsize=512)(draw), lru_cache(maxsize=1)(draw)

    def remembering(repeat: Repeat, /, *more: *Ts) -> Draft:
        keep = small if repeat.weave.matrix.size <= MAX_REMEMBERED_CELLS else large
        return keep(repeat, *more)

    return remembering


@_remembered
def _least_draft(repeat: Repeat) -> Draft:
    return draft_weave(repeat)


@_remembered
def _straight_over(repeat: Repeat, shafts: int) -> Draft:
    return check_draft(repeat, "straight", shafts=shafts)


@_remembered
def _spread_over(repeat: Repeat, shafts_per_column: tuple[int, ...]) -> Draft:
    return spread_draft(_least_draft(repeat), shafts_per_column=shafts_per_column)


def shafts_per_column(
    column_ends: list[int],
    *,
    ends_per_cm: float,
    max_healds_per_cm_per_shaft: float | None,
    available: int,
) -> list[int]:
    """Shafts over which the ends of each distinct column are dealt.

    The least that keep every shaft within the crowding limit, as far as ``available`` reaches;
    the fullest shaft is relieved first.

    Args:
        column_ends: Ends of each distinct column, in one repeat or in the whole warp.
        ends_per_cm: Ends in the reed, selvedges included.
        max_healds_per_cm_per_shaft: Crowding limit; ``None`` for no limit.
        available: Shafts that the loom has for the ground.

    >>> shafts_per_column([1, 1], ends_per_cm=40, max_healds_per_cm_per_shaft=10, available=20)
    [2, 2]
    """
    shafts = [1] * len(column_ends)
    if max_healds_per_cm_per_shaft is None:
        return shafts
    density = [ends_per_cm * ends / sum(column_ends) for ends in column_ends]
    while sum(shafts) < available:
        fullest = max(range(len(shafts)), key=lambda column: density[column] / shafts[column])
        if density[fullest] / shafts[fullest] <= max_healds_per_cm_per_shaft * (1 + 1e-9):
            break
        shafts[fullest] += 1
    return shafts


def _on_hooks(cloth: ClothFacts, shedding: SheddingLimits) -> Harness:
    hooks = shedding.hooks or 0
    repeat = cloth.structure.ends
    used = min(max(1, hooks // repeat) * repeat, cloth.panels * cloth.ends.ground)
    ends_per_hook = shedding.ends_per_hook or 1
    return Harness(
        shafts_needed=None,
        shafts_used=None,
        draft=None,
        draft_fault=None,
        healds_per_shaft=None,
        healds_per_cm_per_shaft=None,
        hooks_used=used,
        hooks_idle=max(0, hooks - used),
        harness_repeats=ends_per_hook,
        weave_repeats_across=_repeats_across(cloth),
    )
