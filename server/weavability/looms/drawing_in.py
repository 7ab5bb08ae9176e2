"""Drawing-in of a cloth on a loom: on shafts and healds, or through a Jacquard's harness."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from functools import lru_cache

from weavability.looms.shedding_limits import JacquardLimits, ShaftLimits, SheddingLimits
from weavability.textiles.cloth_numbers import ClothNumbers
from weavability.textiles.cloth_symbols import ClothSymbols
from weavability.textiles.construction import DraftRequest
from weavability.textiles.drafting import (
    Draft,
    check_draft,
    draft_weave,
    healds_per_shaft,
    spread_draft,
)
from weavability.textiles.errors import InputError
from weavability.textiles.numbers import (
    SLACK,
    N,
    Record,
    Truth,
    down,
    greatest,
    least,
    passed,
    up,
)
from weavability.textiles.sentences import Sentence
from weavability.textiles.weave_matrix import Repeat
from weavability.textiles.weave_structure import Structure, remembered_with_weave

MOST_SHAFTS_DRAWN = 64
"""Most shafts of any shaft loom: a weave beyond it is a Jacquard's, and no draft is made of it.
48 is the theoretical most in [SHEDDING-COMPARISON]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShaftDraft:
    """The ends of a cloth drawn in on the shafts of a loom.

    Attributes:
        draft: The drawing-in of the ground.
        draft_fault: Why the requested threading cannot weave this cloth; ``None`` if it can, or if
            none is requested.
        shafts_used: Shafts over which the ends are dealt so that the healds are not crowded, as
            far as the loom's shafts reach; the selvedge's own included.
        healds_per_shaft: Over the whole width, selvedges included.
        healds_per_cm_per_shaft: On the fullest shaft, over the reed width in use.
    """

    draft: Draft
    draft_fault: Sentence | None
    shafts_used: int
    healds_per_shaft: tuple[int, ...]
    healds_per_cm_per_shaft: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OnShafts:
    """Drawing-in of a cloth on a cam or dobby loom.

    Attributes:
        limits: The shedding of the loom.
        shafts_needed: Fewest shafts: ends that weave differently, and the selvedge's own.
        drawn: The draft; ``None`` for a weave beyond ``MOST_SHAFTS_DRAWN``, of which none is made.
        weave_repeats_across: Repeats of the weave across all panels.
    """

    limits: ShaftLimits
    shafts_needed: int
    drawn: ShaftDraft | None
    weave_repeats_across: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OnHooks:
    """Drawing-in of a cloth through the harness of a Jacquard.

    Attributes:
        limits: The shedding of the loom.
        hooks_used: Hooks that lift ends: whole repeats of the weave.
        hooks_idle: Hooks cast out.
        weave_repeats_across: Repeats of the weave across all panels.
    """

    limits: JacquardLimits
    hooks_used: int
    hooks_idle: int
    weave_repeats_across: float


DrawingIn = OnShafts | OnHooks


@dataclass(slots=True, kw_only=True)
class DrawnNumbers(Record[N]):
    """A drawing-in in numbers, all 0 on a Jacquard.

    Attributes:
        shafts_needed: Fewest shafts.
        shafts_used: Shafts of the draft; 0 if there is none, as for the healds.
        healds_per_cm: On the fullest shaft.
        healds_on_fullest_shaft: Over the whole width.
        draft_faults: Requested drafts that cannot weave the cloth.
    """

    shafts_needed: N
    shafts_used: N
    healds_per_cm: N
    healds_on_fullest_shaft: N
    draft_faults: N


def drawn_numbers(on: DrawingIn) -> DrawnNumbers[float]:
    """Return a drawing-in in numbers."""
    drawn = on.drawn if isinstance(on, OnShafts) else None
    return DrawnNumbers(
        shafts_needed=on.shafts_needed if isinstance(on, OnShafts) else 0,
        shafts_used=drawn.shafts_used if drawn else 0,
        healds_per_cm=drawn.healds_per_cm_per_shaft if drawn else 0.0,
        healds_on_fullest_shaft=max(drawn.healds_per_shaft) if drawn else 0,
        draft_faults=1 if drawn is not None and drawn.draft_fault is not None else 0,
    )


def draw_in(
    symbols: ClothSymbols, numbers: ClothNumbers[float], shedding: SheddingLimits
) -> DrawingIn:
    """Deal the ends of a cloth over the shafts or hooks of a loom.

    A requested threading is used if it weaves the cloth. Otherwise the ends are drawn in straight
    if the shafts are there, else dealt over the fewest shafts that keep the healds within the
    crowding limit, as far as the loom has shafts.

    Args:
        symbols: The cloth, with the draft that its construction requests.
        numbers: Its numbers.
        shedding: The shafts or hooks of the loom.

    Returns:
        The drawing-in; a requested threading that cannot weave the cloth raises nothing, it is
        described in ``draft_fault``.
    """
    figured = symbols.construction.figured
    cloth = _Warp(
        repeat=symbols.repeat,
        structure=symbols.structure,
        request=symbols.construction.draft,
        ground_ends=symbols.panels * int(numbers.ground_ends),
        selvedge_ends=symbols.selvedge_ends,
        total_ends=int(numbers.total_ends),
        selvedge_shafts=symbols.selvedge_shafts,
        reed_width_cm=numbers.reed_width_cm,
        tied_hooks=0 if figured is None else int(figured.numbers.tie_hooks),
    )
    if isinstance(shedding, JacquardLimits):
        return _on_hooks(cloth, shedding)
    return _on_shafts(cloth, shedding)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Warp:
    """The warp of a cloth that is drawn in.

    Attributes:
        request: The requested draft, if any.
        ground_ends: Of all panels.
        selvedge_ends: Likewise.
        total_ends: Both together.
        selvedge_shafts: Shafts that only selvedge ends are drawn on.
        reed_width_cm: Reed width in use.
        tied_hooks: Hooks of the tie by which a figured design is woven; 0 without one.
    """

    repeat: Repeat
    structure: Structure
    request: DraftRequest | None
    ground_ends: int
    selvedge_ends: int
    total_ends: int
    selvedge_shafts: int
    reed_width_cm: float
    tied_hooks: int


def _repeats_across(cloth: _Warp) -> float:
    return cloth.ground_ends / cloth.structure.ends


def _on_hooks(cloth: _Warp, shedding: JacquardLimits) -> OnHooks:
    used = cloth.tied_hooks or hooks_used(
        shedding, repeat_ends=cloth.structure.ends, ground_ends=cloth.ground_ends
    )
    return OnHooks(
        limits=shedding,
        hooks_used=used,
        hooks_idle=max(0, shedding.hooks - used),
        weave_repeats_across=_repeats_across(cloth),
    )


def hooks_used(shedding: JacquardLimits, *, repeat_ends: int, ground_ends: int) -> int:
    """Return the hooks that lift ends: whole repeats of the weave, at most one for every end."""
    return min(max(1, shedding.hooks // repeat_ends) * repeat_ends, ground_ends)


def _on_shafts(cloth: _Warp, shedding: ShaftLimits) -> OnShafts:
    needed = cloth.structure.shafts_needed + cloth.selvedge_shafts
    return OnShafts(
        limits=shedding,
        shafts_needed=needed,
        drawn=_drawn(cloth, shedding, needed) if needed <= MOST_SHAFTS_DRAWN else None,
        weave_repeats_across=_repeats_across(cloth),
    )


def _drawn(cloth: _Warp, shedding: ShaftLimits, needed: int) -> ShaftDraft:
    own = cloth.selvedge_shafts
    draft, fault = _draft(cloth, shedding, max(shedding.shafts, needed) - own)
    healds = _healds(cloth, draft, own)
    return ShaftDraft(
        draft=draft,
        draft_fault=fault,
        shafts_used=draft.shafts + own,
        healds_per_shaft=healds,
        healds_per_cm_per_shaft=max(healds) / cloth.reed_width_cm,
    )


def _healds(cloth: _Warp, draft: Draft, own: int) -> tuple[int, ...]:
    """Return the healds of every shaft: the ground's, then those of the selvedge's own shafts."""
    ground = _counted(draft, _ground_ends(cloth))
    return ground + _shared(cloth.selvedge_ends, own) if own else ground


@lru_cache(maxsize=64)
def _counted(draft: Draft, total_ends: int) -> tuple[int, ...]:
    """Count the healds of every shaft; the looms of a park share one draft."""
    return healds_per_shaft(draft, total_ends=total_ends)


def _shared(ends: int, shafts: int) -> tuple[int, ...]:
    """Deal ends evenly over shafts; the first shafts take one more of what is left over."""
    each, left = divmod(ends, shafts)
    return tuple(each + (shaft < left) for shaft in range(shafts))


def _draft(cloth: _Warp, shedding: ShaftLimits, available: int) -> tuple[Draft, Sentence | None]:
    """Return the requested draft if it weaves the cloth, else the one that a mill would take."""
    request = cloth.request
    if request is None:
        return _suited(cloth, shedding, available), None
    if request.threading == "straight":
        repeats = max(1, _straight_repeats(cloth, shedding, available))
        found = _requested(cloth.repeat, "straight", cloth.repeat.weave.ends * repeats)
    else:
        found = _requested(cloth.repeat, request.threading, None)
    if isinstance(found, Draft):
        return found, None
    return _suited(cloth, shedding, available), found


def _straight_repeats(cloth: _Warp, shedding: ShaftLimits, available: int) -> int:
    """Count the repeats of a straight draft that crowds no healds, as far as the shafts reach."""
    repeat, most = cloth.repeat.weave.ends, _most_healds(cloth, shedding)
    return int(
        straight_repeats(
            ground_ends=float(_ground_ends(cloth)),
            repeat_ends=float(repeat),
            most_healds=float(most),
            available=float(available),
        )
    )


def straight_repeats(*, ground_ends: N, repeat_ends: N, most_healds: N, available: N) -> N:
    """Return over how many repeats of the weave a straight draft runs.

    Args:
        ground_ends: Ends on the ground's shafts.
        repeat_ends: Ends of the weave's repeat.
        most_healds: Healds that a shaft may have.
        available: Shafts that the loom has for the ground.

    Returns:
        As many as leave every shaft uncrowded, as far as the shafts reach; 0 if they do not reach
        for one.

    >>> straight_repeats(ground_ends=4864.0, repeat_ends=4.0, most_healds=700.0, available=16.0)
    2.0
    """
    needed = up(ground_ends / (repeat_ends * greatest(most_healds, 1.0)))
    return least(greatest(needed, 1.0), down(available / repeat_ends))


def is_straight_better(
    *,
    straight_shafts: N,
    fewest_shafts: N,
    ground_ends: N,
    healds_on_fullest: N,
    most_healds: N,
) -> Truth:
    """Return whether to draw in straight rather than on the fewest shafts.

    A straight draft is drawn in without a mistake, and weaves every cloth of its repeat; it may
    take more shafts than the fewest, but not twice as many. Common practice, no source.

    Args:
        straight_shafts: Shafts of the straight draft; 0 if the loom has too few.
        fewest_shafts: Shafts of the draft on the fewest that leave no shaft crowded.
        ground_ends: Ends on these shafts.
        healds_on_fullest: Healds on the fullest of the fewest shafts.
        most_healds: Healds that a shaft may have.
    """
    healds = up(ground_ends / greatest(straight_shafts, 1.0))
    fits = (straight_shafts > 0) & (straight_shafts < 2 * fewest_shafts)
    return fits & (healds <= greatest(most_healds, healds_on_fullest))


def _suited(cloth: _Warp, shedding: ShaftLimits, available: int) -> Draft:
    """Draw in straight if the shafts are there, else on the fewest that are not crowded.

    A straight or point draft on the fewest shafts stays as it is while its healds are not crowded.
    """
    least_shafts = least_draft(cloth.repeat)
    ends = _column_ends(least_shafts, _ground_ends(cloth))
    most = _most_healds(cloth, shedding)
    multiples = shafts_per_column(
        ends,
        ends_per_cm=sum(ends) / cloth.reed_width_cm,
        max_healds_per_cm_per_shaft=most / cloth.reed_width_cm,
        available=available,
    )
    if max(multiples) == 1 and is_plainly_drawn(least_shafts):
        return least_shafts
    straight = cloth.repeat.weave.ends * _straight_repeats(cloth, shedding, available)
    if is_straight_better(
        straight_shafts=float(straight),
        fewest_shafts=float(sum(multiples)),
        ground_ends=float(_ground_ends(cloth)),
        healds_on_fullest=float(
            max(-(-count // over) for count, over in zip(ends, multiples, strict=True))
        ),
        most_healds=float(most),
    ):
        return _straight_over(cloth.repeat, straight)
    if max(multiples) == 1:
        return least_shafts
    return _spread_over(cloth.repeat, tuple(multiples))


def is_plainly_drawn(draft: Draft) -> bool:
    """Return whether a weaver would draw it in as it is: straight, or to and fro."""
    return draft.kind in ("straight", "point")


def _column_ends(draft: Draft, total_ends: int) -> list[int]:
    """Count the ends of each distinct column; a last part repeat counts for all equal columns."""
    ends, alike = _counted(draft, total_ends), _shares(draft)
    most: dict[int, int] = {}
    for share, count in zip(alike, ends, strict=True):
        most[share] = max(count, most.get(share, 0))
    return [most[share] for share in alike]


@lru_cache(maxsize=64)
def _shares(draft: Draft) -> tuple[int, ...]:
    """Count the ends of a repeat on each shaft."""
    shares = Counter(draft.threading)
    return tuple(shares[shaft] for shaft in range(1, draft.shafts + 1))


def _ground_ends(cloth: _Warp) -> int:
    """Count the ends on the ground's shafts: all, if the selvedge has no shafts of its own."""
    own = cloth.selvedge_shafts
    return cloth.total_ends - (cloth.selvedge_ends if own else 0)


def _most_healds(cloth: _Warp, shedding: ShaftLimits) -> int:
    """Return the healds that a shaft may have: those that it holds, and that are not crowded."""
    uncrowded = math.floor(shedding.max_healds_per_cm_per_shaft * cloth.reed_width_cm * (1 + SLACK))
    return int(min(shedding.max_healds_per_shaft, uncrowded))


@remembered_with_weave
def least_draft(repeat: Repeat) -> Draft:
    """Return the draft of the fewest shafts; those of many small weaves are kept."""
    return draft_weave(repeat)


@remembered_with_weave
def _requested(
    repeat: Repeat, threading: tuple[int, ...] | str, shafts: int | None
) -> Draft | Sentence:
    """Return a requested draft; why it cannot weave the cloth, if it cannot."""
    try:
        return check_draft(repeat, threading, shafts=shafts)
    except InputError as error:
        return error.faults[0].message


@remembered_with_weave
def _straight_over(repeat: Repeat, shafts: int) -> Draft:
    return check_draft(repeat, "straight", shafts=shafts)


@remembered_with_weave
def _spread_over(repeat: Repeat, shafts_per_column: tuple[int, ...]) -> Draft:
    return spread_draft(
        least_draft(repeat), shafts_per_column=shafts_per_column, by_first_appearance=True
    )


def shafts_per_column(
    column_ends: list[int],
    *,
    ends_per_cm: float,
    max_healds_per_cm_per_shaft: float,
    available: int,
) -> list[int]:
    """Return the shafts over which the ends of each distinct column are dealt.

    The least that keep every shaft within the crowding limit, as far as ``available`` reaches;
    the fullest shaft is relieved first.

    Args:
        column_ends: Ends of each distinct column, in one repeat or in the whole warp.
        ends_per_cm: Ends in the reed, selvedges included.
        max_healds_per_cm_per_shaft: Crowding limit; infinite for none.
        available: Shafts that the loom has for the ground.

    >>> shafts_per_column([1, 1], ends_per_cm=40, max_healds_per_cm_per_shaft=10, available=20)
    [2, 2]
    """
    shafts = [1] * len(column_ends)
    density = [ends_per_cm * ends / sum(column_ends) for ends in column_ends]
    while sum(shafts) < available:
        fullest = max(range(len(shafts)), key=lambda column: density[column] / shafts[column])
        if not passed(density[fullest] / shafts[fullest], max_healds_per_cm_per_shaft):
            break
        shafts[fullest] += 1
    return shafts
