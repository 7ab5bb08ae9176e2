"""Checks of the take-up: can the loom space the picks as ordered?"""

from __future__ import annotations

from collections.abc import Iterator

from weavability.checks.finding import Observation, Severity, above, below
from weavability.checks.registry import check
from weavability.looms.fit import Fit


@check(
    "picks.out_of_range",
    compares="picks per cm on the loom against the range of the take-up",
    severities=(Severity.ERROR,),
    formula="picks/cm on the loom = grey picks/cm x (1 - relaxation)",
    source="limit of the loom; 3-120 picks/cm: common practice, no source",
)
def out_of_range(fit: Fit) -> Iterator[Observation]:
    """The take-up spaces picks within a range."""
    picks = fit.cloth.picks_per_cm_on_loom
    low, high = fit.limits.min_picks_per_cm, fit.limits.max_picks_per_cm
    few, many = below(picks, low), above(picks, high)
    if few or many:
        yield Observation(
            severity=Severity.ERROR,
            message=f"{picks:.2f} picks/cm are needed on the loom; its take-up spaces "
            f"{low:g}-{high:g}.",
            pointer="/construction/weft/picks_per_cm",
            actual=picks,
            limit=low if few else high,
            unit="picks/cm",
            at_least=few,
        )
