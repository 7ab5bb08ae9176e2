"""The key figures of a report, each beside its limit."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import isfinite
from typing import Final

from weavability.answers.report import Report
from weavability.looms.drawing_in import OnHooks, OnShafts
from weavability.looms.fit import Fit
from weavability.looms.thresholds import in_force
from weavability.service.pages.wording import rounded

NO_CURRENCY: Final = "(no currency stated)"


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyFigure:
    """A figure, and the limit that it is held against.

    Attributes:
        words: What it is.
        value: Its value.
        limit: The limit.
        unit: Of both.
        origin: Whose limit it is, and whether it is only assumed.
        share_pct: The figure as a share of its limit.
    """

    words: str
    value: str
    limit: str
    unit: str
    origin: str
    share_pct: float

    @property
    def is_beyond(self) -> bool:
        """Whether it is beyond its limit, but for rounding."""
        return self.share_pct > 100.0001

    @property
    def bar(self) -> float:
        """Length of its bar within the limit, of 100."""
        return round(min(self.share_pct, 100.0), 1)

    @property
    def beyond(self) -> float:
        """Length of its bar beyond the limit."""
        return round(min(max(self.share_pct - 100.0, 0.0), 20.0), 1)


def key_figures(fit: Fit, report: Report) -> Iterator[KeyFigure]:
    """Yield the figures that have a limit, in the order in which a cloth meets the loom."""
    limits, setup, rates, cloth = fit.limits, report.setup, report.rates, report.cloth
    usual = in_force().usual
    yield _of_loom(
        fit, "Reed width in use", setup.reed_width_cm, limits.reed_width_cm, "cm", "reed_width_cm"
    )
    on = fit.drawing_in
    if isinstance(on, OnHooks):
        hooks = on.limits.hooks
        yield _of_loom(fit, "Hooks", on.hooks_used, hooks, "hooks", "shedding/hooks")
    if isinstance(on, OnShafts):
        used = setup.shafts_used or on.shafts_needed
        yield _of_loom(fit, "Shafts", used, on.limits.shafts, "shafts", "shedding/shafts")
        if setup.healds_per_cm_per_shaft is not None:
            most = on.limits.max_healds_per_cm_per_shaft
            field = "shedding/max_healds_per_cm_per_shaft"
            healds = setup.healds_per_cm_per_shaft
            yield _of_loom(fit, "Healds on the fullest shaft", healds, most, "healds/cm", field)
    field = "max_tightness_pct"
    tightness = cloth.tightness_pct
    yield _of_loom(fit, "Tightness", tightness, limits.max_tightness_pct, "% of the jam", field)
    picks, most_picks = setup.picks_per_cm_on_loom, limits.max_picks_per_cm
    yield _of_loom(fit, "Picks on the loom", picks, most_picks, "picks/cm", "picks_per_cm/max")
    selectors, field = setup.weft_selectors_used, "weft_selectors"
    yield _of_loom(fit, "Wefts to select", selectors, limits.weft_selectors, "selectors", field)
    speed, field = rates.speed_picks_per_min, "max_speed_picks_per_min"
    yield _of_loom(fit, "Speed", speed, limits.max_speed_picks_per_min, "picks/min", field)
    rate, field = rates.insertion_rate_m_per_min, "insertion/max_rate_m_per_min"
    most = rates.insertion_rate_limit_m_per_min
    yield _of_loom(fit, "Weft insertion rate", rate, most, "m/min", field)
    for words, use, most in (
        ("Strength of the weft in use", rates.weft_strength_use_pct, usual.weft_strength_error_pct),
        (
            "Strength of the ends in use",
            report.warp.strength_use_pct,
            usual.warp_strength_warning_pct,
        ),
    ):
        yield _figure(words, use, most, "%", "of its weakest place; usual limit")
    length, holds = report.warp.length_m, report.warp.beam_capacity_m
    if isfinite(holds):
        yield _figure("Warp for the order", length, holds, "m", "what one beam holds")


def _of_loom(fit: Fit, words: str, value: float, limit: float, unit: str, field: str) -> KeyFigure:
    is_assumed = f"/loom/{field}" in fit.limits.assumed
    return _figure(
        words, value, limit, unit, "of the loom, assumed" if is_assumed else "of the loom"
    )


def _figure(words: str, value: float, limit: float, unit: str, origin: str) -> KeyFigure:
    return KeyFigure(
        words=words,
        value=rounded(value),
        limit=rounded(limit),
        unit=unit,
        origin=origin,
        share_pct=100 * value / limit if limit else 0.0,
    )


def headline_figures(report: Report) -> list[tuple[str, str, str]]:
    """Return name, figure and unit of what counts most: four at most."""
    rates, costs = report.rates, report.costs
    found = [
        ("Speed", rounded(rates.speed_picks_per_min), "picks/min"),
        ("Weft inserted", rounded(rates.insertion_rate_m_per_min), "m/min"),
    ]
    if rates.hours_for_order is None:
        found.append(("Cloth woven", rounded(rates.output_m_per_h), "m/h"))
    else:
        found.append(("Hours for the order", rounded(rates.hours_for_order), "h"))
    if costs is not None and costs.cost_for_order is not None:
        found.append(
            ("Cost of the order", rounded(costs.cost_for_order), costs.currency or NO_CURRENCY)
        )
    elif costs is not None and costs.cost_per_m is not None:
        found.append(("Cost", rounded(costs.cost_per_m), f"{costs.currency or NO_CURRENCY} per m"))
    return found
