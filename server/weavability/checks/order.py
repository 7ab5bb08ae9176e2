"""Checks of the order: is it long enough to be worth a warp?"""

from __future__ import annotations

from weavability.checks.codes import CheckCode
from weavability.checks.facts import Facts
from weavability.checks.finding import Severity
from weavability.checks.rules import Compared, compare, describe, message
from weavability.looms.thresholds import Usual
from weavability.textiles.numbers import N, short

describe(
    CheckCode.ORDER_LENGTH,
    says="A short order costs more in changing the loom than in weaving.",
    compares="running time of the order with the {order_short_run_hours:g} h of a style change",
    formula="hours = length to weave / output",
    source="",
)


@compare(CheckCode.ORDER_LENGTH, short, Severity.NOTE, unit="h")
def length(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Compare the hours of the order with those of a style change."""
    return f.fit.hours, (u.order_short_run_hours,), f.order.length_ordered


message(
    length,
    pointer="/construction/length_m",
    note="The order runs {actual:.1f} h, less than a style change may take ({limit:g} h). Join it "
    "to an order on the same warp.",
)
