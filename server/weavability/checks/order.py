"""Checks of the order: is it long enough to be worth a warp?"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from weavability.checks.finding import Observation, Severity, below
from weavability.checks.registry import check
from weavability.looms.fit import Fit

SHORT_RUN_HOURS: Final = 8.0


@check(
    "order.length",
    compares="running time of the order against a style change",
    severities=(Severity.NOTE,),
    formula="hours = length to weave / output",
    source="a style change takes 4-8 h: A.-F. Seyam and W. Oxenham, Textile World (2017)",
)
def length(fit: Fit) -> Iterator[Observation]:
    """A short order costs more in changing the loom than in weaving."""
    if fit.hours is not None and below(fit.hours, SHORT_RUN_HOURS):
        yield Observation(
            severity=Severity.NOTE,
            message=f"The order runs {fit.hours:.1f} h, less than a change of style may take "
            f"({SHORT_RUN_HOURS:g} h): join it to an order on the same warp.",
            pointer="/construction/length_m",
            actual=fit.hours,
            limit=SHORT_RUN_HOURS,
            unit="h",
            at_least=True,
        )
