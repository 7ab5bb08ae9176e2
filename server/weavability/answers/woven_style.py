"""A cloth as it is woven on what stays on the loom: judged in that reed and on that draft."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from weavability.checks.codes import CheckCode
from weavability.checks.finding import Finding, Severity
from weavability.checks.registry import observe, run_checks
from weavability.looms.denting import is_within_stock_tolerance
from weavability.looms.drawing_in import OnShafts
from weavability.looms.fit import Fit, fit_cloth
from weavability.looms.kept_harness import Settled, width_change_pct
from weavability.looms.loom_limits import LoomLimits
from weavability.looms.style_change import WarpRoute, keeps_draft
from weavability.looms.style_on_loom import StyleOnLoom
from weavability.textiles.cloth import cloth_facts
from weavability.textiles.construction import Construction, DraftRequest, Reed
from weavability.textiles.errors import InputError

Woven = dict[StyleOnLoom, Fit | None]
"""A cloth on what it was tried on, ``None`` if that cannot be judged."""


def as_woven(fit: Fit, own: StyleOnLoom, style: StyleOnLoom, *, has_reed: bool) -> Fit:
    """Return a cloth in the reed and on the draft of a style.

    The same ends fill the same dents, so that in another reed width and sett change.

    Args:
        fit: The cloth on the loom, as ordered.
        own: The same in its own reed and on its own draft.
        style: The same with what stays on the loom.
        has_reed: Whether the reed is on the loom, and so need not be in stock.

    Raises:
        InputError: It cannot be judged so.
    """
    construction = fit.cloth.construction
    if style.threading != own.threading and isinstance(fit.drawing_in, OnShafts):
        construction = replace(construction, draft=DraftRequest(threading=style.threading))
    if not has_reed and style.reed == own.reed:
        return _fit_again(fit, construction)
    warp, times = construction.warp, 1.0
    selvedge, edge = construction.selvedge, style.selvedge.ends_per_dent
    if edge != own.selvedge.ends_per_dent:
        selvedge = replace(selvedge, ends_per_dent=edge)
    if style.reed != own.reed:
        times += width_change_pct(fit, style) / 100
    woven = replace(
        construction,
        reed=_reed_of(construction, style),
        selvedge=selvedge,
        width_cm=construction.width_cm * times,
        warp=replace(warp, threads_per_cm=warp.threads_per_cm / times),
    )
    return _fit_again(fit, woven, style.reed_dents_per_10cm)


def has_reed_of(old: StyleOnLoom, taken: WarpRoute) -> bool:
    """Return whether a route weaves in the reed that is on the loom."""
    return keeps_draft(taken.route) and taken.style.reed == old.reed


def _reed_of(construction: Construction, style: StyleOnLoom) -> Reed:
    """Return the reed of a style as an order requests it; its own denting stays, if it has one."""
    reed = replace(
        construction.reed,
        dents_per_10cm=style.reed_dents_per_10cm,
        count=None,
        system=None,
    )
    if reed.ends_per_dent is None and not reed.ends_in_dents:
        reed = replace(reed, ends_per_dent=int(style.ends_per_dent))
    return reed


def _fit_again(fit: Fit, construction: Construction, dents_per_10cm: float | None = None) -> Fit:
    """Judge a changed construction on the loom, which has the reed that is on it."""
    if construction is fit.cloth.construction:
        return fit
    limits = fit.limits if dents_per_10cm is None else _with_reed(fit.limits, dents_per_10cm)
    return fit_cloth(cloth_facts(construction), limits)


def _with_reed(limits: LoomLimits, dents_per_10cm: float) -> LoomLimits:
    stock = limits.reeds_in_stock_dents_per_10cm
    if not stock or dents_per_10cm in stock:
        return limits
    return replace(limits, reeds_in_stock_dents_per_10cm=tuple(sorted((*stock, dents_per_10cm))))


def weavable(fit: Fit, own: StyleOnLoom, settled: Settled, woven: Woven) -> Settled:
    """Return a cloth on what stays on the loom, as far as it can be woven so.

    Args:
        fit: The cloth on the loom, as ordered.
        own: The same in its own reed and on its own draft.
        settled: The same on what could stay.
        woven: What was judged before; takes what is judged.
    """

    def serves(style: StyleOnLoom) -> bool:
        if (style.reed, style.threading) == (own.reed, own.threading):
            return True
        if style not in woven:
            woven[style] = _judged(fit, own, style)
        return woven[style] is not None

    for style in (settled.style, settled.in_own_reed):
        if serves(style):
            others = (each for each in settled.others if each != style and serves(each))
            return Settled(style, settled.in_own_reed, tuple(others))
    return Settled(own, own)


def _judged(fit: Fit, own: StyleOnLoom, style: StyleOnLoom) -> Fit | None:
    """Return a cloth as it is woven, ``None`` if it then has an error."""
    try:
        found = as_woven(fit, own, style, has_reed=style.reed != own.reed)
    except InputError:
        return None
    if any(seen.severity is Severity.ERROR for seen in observe(found)):
        return None
    return found


def width_findings(fit: Fit, own: StyleOnLoom, style: StyleOnLoom) -> Iterator[Finding]:
    """Yield the finding that a reed which stays does not give the width ordered."""
    if style.reed == own.reed or is_within_stock_tolerance(width_change_pct(fit, style)):
        return
    construction = fit.cloth.construction
    ordered = replace(construction, reed=_reed_of(construction, style))
    for finding in run_checks(_fit_again(fit, ordered, style.reed_dents_per_10cm)):
        if finding.code == CheckCode.REED_SETT_MISMATCH:
            yield finding
