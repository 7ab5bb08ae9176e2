"""Checks of weft insertion: can the loom run as fast as was asked, and with what reserve?"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from weavability.checks.finding import Observation, Severity, above, below
from weavability.checks.registry import check
from weavability.looms.fit import Fit
from weavability.looms.weft_insertion import SpeedLimitName

NEAR_LIMIT_PCT: Final = 95.0
CRAWL_SHARE: Final = 0.5


@check(
    "insertion.rate_exceeded",
    compares="weft insertion rate at the requested speed against the loom's greatest",
    severities=(Severity.ERROR,),
    formula="rate in m/min = picks/min x reed width in use in m",
    source="definition of the weft insertion rate; limit of the loom",
)
def rate_exceeded(fit: Fit) -> Iterator[Observation]:
    """Speed times width must stay within the insertion rate of the loom."""
    requested = fit.cloth.construction.requested_speed_picks_per_min
    if requested is None:
        return
    width_m = fit.cloth.widths.reed_cm / 100
    rate, limit = requested * width_m, fit.limits.max_rate_m_per_min
    if above(rate, limit):
        yield Observation(
            severity=Severity.ERROR,
            message=f"{requested:g} picks/min over {width_m:.2f} m is an insertion rate of "
            f"{rate:.0f} m/min; the loom reaches {limit:g}, which is {limit / width_m:.0f} "
            "picks/min at this width.",
            pointer="/construction/requested_speed_picks_per_min",
            actual=rate,
            limit=limit,
            unit="m/min",
        )


@check(
    "insertion.speed_exceeded",
    compares="requested speed against the loom's greatest speed at this width",
    severities=(Severity.ERROR,),
    formula="least of the loom's greatest speed and its speed curve at the reed width in use",
    source="limit of the loom",
)
def speed_exceeded(fit: Fit) -> Iterator[Observation]:
    """The loom has a greatest speed, less on a wide cloth."""
    requested = fit.cloth.construction.requested_speed_picks_per_min
    limit = min(
        limit.picks_per_min
        for limit in fit.speed_limits
        if limit.name in {SpeedLimitName.LOOM_SPEED, SpeedLimitName.SPEED_CURVE}
    )
    if requested is not None and above(requested, limit):
        yield Observation(
            severity=Severity.ERROR,
            message=f"{requested:g} picks/min were asked for; at {fit.cloth.widths.reed_cm:.0f} cm "
            f"the loom runs at most {limit:.0f}.",
            pointer="/construction/requested_speed_picks_per_min",
            actual=requested,
            limit=limit,
            unit="picks/min",
        )


@check(
    "insertion.shedding_speed",
    compares="requested speed against the greatest speed of the shedding motion",
    severities=(Severity.ERROR,),
    formula="as stated for cam, dobby or Jacquard",
    source="limit of the loom",
)
def shedding_speed(fit: Fit) -> Iterator[Observation]:
    """Dobby and Jacquard may be slower than the loom."""
    requested = fit.cloth.construction.requested_speed_picks_per_min
    shedding = fit.limits.shedding
    if requested is not None and above(requested, shedding.max_speed_picks_per_min):
        yield Observation(
            severity=Severity.ERROR,
            message=f"{requested:g} picks/min were asked for; the {shedding.kind} follows to "
            f"{shedding.max_speed_picks_per_min:g}.",
            pointer="/construction/requested_speed_picks_per_min",
            actual=requested,
            limit=shedding.max_speed_picks_per_min,
            unit="picks/min",
        )


@check(
    "insertion.weft_speed",
    compares="requested speed against the speed at which the weft's strength is used up",
    severities=(Severity.ERROR,),
    formula="speed at which the peak tension is 60 % of the weft's weakest place",
    source="mechanics of a moving thread; 60 %: common practice, no source",
)
def weft_speed(fit: Fit) -> Iterator[Observation]:
    """The weft may be what limits the speed."""
    requested = fit.cloth.construction.requested_speed_picks_per_min
    limits = {limit.name: limit.picks_per_min for limit in fit.speed_limits}
    limit = limits.get(SpeedLimitName.WEFT_STRENGTH)
    if requested is not None and limit is not None and above(requested, limit):
        yield Observation(
            severity=Severity.ERROR,
            message=f"{requested:g} picks/min were asked for; above {limit:.0f} the weft's peak "
            "tension passes 60 % of its weakest place. Run slower or take a stronger weft.",
            pointer="/construction/requested_speed_picks_per_min",
            actual=requested,
            limit=limit,
            unit="picks/min",
        )


@check(
    "insertion.near_limit",
    compares="insertion rate in use against 95 % of the loom's greatest",
    severities=(Severity.NOTE,),
    formula="use = insertion rate / greatest insertion rate",
    source="common practice, no source",
)
def near_limit(fit: Fit) -> Iterator[Observation]:
    """A loom at its insertion limit has no reserve for a weak weft."""
    use_pct = 100 * fit.insertion_rate_m_per_min / fit.limits.max_rate_m_per_min
    if above(use_pct, NEAR_LIMIT_PCT):
        yield Observation(
            severity=Severity.NOTE,
            message=f"The loom runs at {use_pct:.0f} % of its greatest insertion rate: there is no "
            "reserve; weft breaks rise first.",
            pointer="/construction/width_cm",
            actual=use_pct,
            limit=NEAR_LIMIT_PCT,
            unit="%",
        )


@check(
    "insertion.crawl",
    compares="speed that the weft's strength allows against half of what the loom could run",
    severities=(Severity.ERROR,),
    formula="speed at which the peak tension is 60 % of the weft's weakest place, over the least "
    "of the loom's own limits",
    source="mechanics of a moving thread; one half: common practice, no source",
)
def crawl(fit: Fit) -> Iterator[Observation]:
    """A weft that lets the loom only crawl is not woven on it."""
    limits = {limit.name: limit.picks_per_min for limit in fit.speed_limits}
    allowed = limits.pop(SpeedLimitName.WEFT_STRENGTH, None)
    limits.pop(SpeedLimitName.REQUESTED_SPEED, None)
    least = CRAWL_SHARE * min(limits.values())
    if allowed is not None and below(allowed, least):
        yield Observation(
            severity=Severity.ERROR,
            message=f"The weft allows only {allowed:.0f} picks/min, less than half of the "
            f"{min(limits.values()):.0f} that the loom could run at this width. Take a stronger "
            "weft, a softer brake or a gentler insertion system.",
            pointer=f"/construction/weft/yarns/{fit.hardest_weft.key}",
            actual=allowed,
            limit=least,
            unit="picks/min",
            at_least=True,
        )
