"""A figured design on a loom: woven through the tie of its harness."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

from weavability.looms.harness_tie import hook_of_end
from weavability.looms.loom import Loom, SheddingKind
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError
from weavability.textiles.figured.figured_cloth import FiguredCloth, HarnessTie, weave_design
from weavability.textiles.figured.figured_design import Covers, Design
from weavability.textiles.figured.hook_lifts import HookLifts
from weavability.textiles.weave_structure import MAX_KEPT_CELLS


def woven_on(construction: Construction, loom: Loom) -> Construction:
    """Return a construction with its figured design woven on a loom; any other as it is.

    Its weave is then the cloth: what the hooks lift, long floats bound if the order requests it,
    through the tie of the harness.

    Args:
        construction: The cloth as ordered.
        loom: The loom; without a Jacquard the design is woven as if each end had its hook.

    Raises:
        InputError: The tie repeats after too many ends; the pointer is relative to the loom.
    """
    if construction.design is None:
        return construction
    harness = _harness(construction, construction.design.design, loom)
    setts = (construction.warp.threads_per_cm, construction.weft.threads_per_cm)
    known = construction.figured
    if known is not None and (known.harness, known.setts_per_cm) == (harness, setts):
        return construction
    weave = _woven if construction.design.lift.size > MAX_KEPT_CELLS else _kept
    try:
        figured = weave(construction.design, harness, *setts)
    except InputError as error:
        raise error.below("/shedding/tie") from None
    return replace(construction, weave=figured.weave, figured=figured)


def harness_for(construction: Construction, loom: Loom) -> HarnessTie | None:
    """Return what of a loom's harness decides how a design is woven; ``None`` without a design."""
    design = construction.design
    return None if design is None else _harness(construction, design.design, loom)


def _harness(construction: Construction, design: Design, loom: Loom) -> HarnessTie:
    shedding = loom.shedding
    tie = hook_of_end(shedding.tie) if shedding.kind is SheddingKind.JACQUARD else ()
    of_cloth = design.covers is Covers.CLOTH and not tie
    hooks = (shedding.hooks if of_cloth else None) or design.picture.columns
    return HarnessTie(
        hooks=hooks, hook_of_end=_without_cast_out(tie, design), panels=construction.panels or 1
    )


def _without_cast_out(tie: tuple[int, ...], design: Design) -> tuple[int, ...]:
    """Return the hook of every end but those that the design casts out, whose mails are left empty.

    A picture that is repeated on the hooks is cast out in each repeat; the hooks that are left
    count on.
    """
    drawn = design.columns + design.cast_out[0]
    needed = max(tie, default=-1) + 1
    if design.covers is Covers.CLOTH or needed % design.columns == 0 or needed % drawn:
        return tie
    repeats = (divmod(hook, drawn) for hook in tie)
    return tuple(
        repeat * design.columns + column for repeat, column in repeats if column < design.columns
    )


def _woven(
    design: HookLifts, harness: HarnessTie, ends_per_cm: float, picks_per_cm: float
) -> FiguredCloth:
    return weave_design(design, harness, ends_per_cm=ends_per_cm, picks_per_cm=picks_per_cm)


_kept = lru_cache(maxsize=2)(_woven)
