"""What is on the loom when another style follows: draft, width in the reed, and warp."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Final

from weavability.answers.field_words import FinishedPanelWidth, GreyPanelWidth
from weavability.answers.validation import MAX_PRINTED_PICKS
from weavability.looms.drawing_in import OnHooks
from weavability.looms.fit import Fit
from weavability.looms.kept_harness import REED_DIGITS, lift_plan_on, width_change_pct
from weavability.looms.style_change import RouteKind, WarpRoute, goes_on, keeps_draft
from weavability.looms.style_on_loom import StyleOnLoom
from weavability.textiles.draft_kinds import draft_kind
from weavability.textiles.weave_matrix import write_rows

NO_CHANGE_CM: Final = 0.05
"""A smaller change of width is none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftOnLoom:
    """The draft that is on the loom when the new style is woven."""

    kept: Annotated[bool, "Whether it is the one that is on the loom now"]
    draft: Annotated[str | None, "Name of the draft; null on a Jacquard"]
    threading: Annotated[
        tuple[int, ...] | None, "Shaft of every end of its repeat (1-based); null on a Jacquard"
    ]
    lift_plan: Annotated[
        tuple[str, ...] | None,
        "The new lift plan for it, one string a pick, one character a shaft, `1` = raised; null on "
        "a Jacquard, and if it is too long",
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class WidthOnLoom:
    """The width that results: in a reed that stays, the cloth's width follows from the reed's."""

    reed_dents_per_10cm: Annotated[float, "Reed on the loom"]
    reed_width_cm: Annotated[float, "Width in it"]
    grey_width_cm: GreyPanelWidth
    finished_width_cm: FinishedPanelWidth
    change_pct: Annotated[float, "Change of the cloth's width against the order"]
    message: Annotated[str, "The same in a sentence"]


@dataclass(frozen=True, slots=True, kw_only=True)
class WarpOnLoom:
    """The warp on the loom at a change of style, and how far it reaches."""

    kept: Annotated[bool, "Whether the new style is woven from the warp that is on the loom"]
    left_m: Annotated[
        float | None,
        "Warp left of the old style, of several beams on that which runs out first; null if the "
        "new style has another warp or draft",
    ]
    needed_m: Annotated[float, "Warp that goes into the new style, of that beam"]
    left_after_m: Annotated[float, "Warp left of that when the new style is woven"]
    message: Annotated[str, "The same in a sentence"]


def draft_on_loom(fit: Fit, taken: WarpRoute) -> DraftOnLoom:
    """Describe the draft on which a cloth is woven, with its lift plan for it."""
    threading = taken.style.threading
    kept = keeps_draft(taken.route)
    if isinstance(fit.drawing_in, OnHooks) or not threading:
        return DraftOnLoom(kept=kept, draft=None, threading=None, lift_plan=None)
    plan = lift_plan_on(threading, fit.cloth.repeat, ends=fit.cloth.ends.total)
    printed = plan is not None and len(plan) <= MAX_PRINTED_PICKS
    return DraftOnLoom(
        kept=kept,
        draft=draft_kind(threading),
        threading=threading,
        lift_plan=write_rows(plan) if plan is not None and printed else None,
    )


def warp_on_loom(old: StyleOnLoom, taken: WarpRoute, left_m: Sequence[float]) -> WarpOnLoom:
    """Describe the warp at a change, by the beam that it leaves most in want.

    Args:
        old: What was on the loom.
        taken: The change.
        left_m: Warp that was left of it, by groups of ends.
    """
    style, has_warp = taken.style, goes_on(old, taken)
    kept = taken.route in (RouteKind.KEEP, RouteKind.CHANGE_REED)
    found_m = tuple(left_m) if has_warp else (0.0,) * len(style.beams)
    at = min(range(len(style.beams)), key=lambda place: found_m[place] - style.beams[place].woven_m)
    beams = style.beams[at]
    needed = f"the cloth takes {beams.woven_m:.0f} m of warp"
    fillings = f"{beams.fillings()} filling{'s' if beams.fillings() > 1 else ''} of the beams"
    if not has_warp:
        message = f"{needed}, {fillings}."
    elif kept and beams.fillings(found_m[at]):
        message = (
            f"{found_m[at]:.0f} m are left; {needed}, and so {beams.fillings(found_m[at])} further "
            f"instead of {fillings}."
        )
    else:
        more = beams.fillings(found_m[at])
        message = f"{found_m[at]:.0f} m are left, and {needed}: " + (
            "it suffices."
            if kept
            else "a new beam is tied in."
            if more <= 1
            else f"{more} new beams are tied in, one after the other."
        )
    return WarpOnLoom(
        kept=kept,
        left_m=found_m[at] if has_warp else None,
        needed_m=beams.woven_m,
        left_after_m=taken.left_m[at],
        message=message[0].upper() + message[1:],
    )


def width_on_loom(fit: Fit, style: StyleOnLoom, *, has_reed: bool) -> WidthOnLoom:
    """Describe the width in which a cloth comes out; see :func:`width_message`."""
    change_pct, widths = width_change_pct(fit, style), fit.cloth.widths
    grey_cm = widths.grey_cm * (1 + change_pct / 100)
    return WidthOnLoom(
        reed_dents_per_10cm=style.reed_dents_per_10cm,
        reed_width_cm=style.reed_width_cm,
        grey_width_cm=grey_cm,
        finished_width_cm=widths.finished_cm * (1 + change_pct / 100),
        change_pct=change_pct,
        message=width_message(fit, style, has_reed=has_reed),
    )


def width_message(fit: Fit, style: StyleOnLoom, *, has_reed: bool) -> str:
    """Say which width the cloth comes out in, what that rests on, and if the reed is to be got.

    Args:
        fit: The cloth on the loom.
        style: The same with what stays on the loom.
        has_reed: Whether the reed is on the loom, and so need not be in stock.
    """
    ordered_cm, change_pct = fit.cloth.widths.grey_cm, width_change_pct(fit, style)
    grey_cm = ordered_cm * (1 + change_pct / 100)
    to_get = "" if has_reed or _is_in_stock(fit, style) else ", which is not in stock"
    head = (
        f"{style.reed_width_cm:.1f} cm in a reed of {style.reed_dents_per_10cm:g} dents/10 cm"
        f"{to_get}: the cloth comes out {grey_cm:.1f} cm wide in the grey"
    )
    estimated = fit.cloth.construction.weft.crimp_pct is None
    crimp = f" This rests on an estimated weft crimp of {fit.cloth.weft.crimp_pct:.1f} %."
    against = (
        "as ordered."
        if abs(grey_cm - ordered_cm) < NO_CHANGE_CM
        else (f"{change_pct:+.1f} % against the {ordered_cm:.1f} cm of the order.")
    )
    return f"{head}, {against}{crimp if estimated else ''}"


def _is_in_stock(fit: Fit, style: StyleOnLoom) -> bool:
    """Return whether the reed of a style is in stock, as far as is known."""
    stock = {round(each, REED_DIGITS) for each in fit.limits.reeds_in_stock_dents_per_10cm}
    return not stock or style.reed_dents_per_10cm in stock
