"""Levers that change the drawing-in that an order requests."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from weavability.answers.field_changes import ROOT, Change, one_field
from weavability.answers.levers import At, ChoiceLever
from weavability.looms.drawing_in import OnShafts, ShaftDraft, draw_in
from weavability.looms.fit import Fit
from weavability.textiles.construction import DraftRequest


def _straight_draft(at: At) -> Iterator[Change]:
    """Yield the straight draft, over as many shafts as leave the healds uncrowded."""
    straight = _straight_instead(at.fit)
    if straight is not None:
        message = f"Draw in straight over {straight.draft.shafts} shafts."
        yield one_field(f"{ROOT}/draft/threading", "straight", message)


def _open_draft(at: At) -> Iterator[Change]:
    """Yield the draft that a mill would take, if that is not the straight one."""
    fit = at.fit
    if fit.cloth.construction.draft is None or _straight_instead(fit) is not None:
        return
    suited = _drawn_with(fit, None)
    if suited is not None:
        message = (
            f"Request no draft: the report draws the cloth in over {suited.draft.shafts} shafts."
        )
        yield one_field(f"{ROOT}/draft", None, message)


def _straight_instead(fit: Fit) -> ShaftDraft | None:
    """Return the straight draft in place of another, if the mill would take it.

    It crowds the healds no more than the draft that the report would have, and does not take twice
    its shafts.
    """
    requested = fit.cloth.construction.draft
    if requested is None or requested.threading == "straight":
        return None
    straight, suited = _drawn_with(fit, DraftRequest(threading="straight")), _drawn_with(fit, None)
    if straight is None or suited is None or straight.draft_fault is not None:
        return None
    is_as_even = max(straight.healds_per_shaft) <= max(suited.healds_per_shaft)
    return straight if is_as_even and straight.shafts_used < 2 * suited.shafts_used else None


def _drawn_with(fit: Fit, request: DraftRequest | None) -> ShaftDraft | None:
    """Return the drawing-in with another draft requested; ``None`` if the loom has no room."""
    cloth = fit.cloth
    stated = replace(cloth.construction, draft=request)
    on = draw_in(replace(cloth.symbols, construction=stated), cloth.numbers, fit.limits.shedding)
    if not isinstance(on, OnShafts) or on.drawn is None:
        return None
    return on.drawn if on.drawn.shafts_used <= on.limits.shafts else None


STRAIGHT_DRAFT: Final = ChoiceLever(words="a straight draft", choose=_straight_draft)
OPEN_DRAFT: Final = ChoiceLever(words="the draft left to the report", choose=_open_draft)
