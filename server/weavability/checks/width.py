"""Checks of the width: does the cloth fit the reed, and is the reed used?"""

from __future__ import annotations

from typing import Final

from weavability.checks.codes import CheckCode
from weavability.checks.easing import NARROW, SELVEDGES_IN_REED, WIDE, no_least
from weavability.checks.facts import Facts, Words
from weavability.checks.finding import Severity
from weavability.checks.pointers import DENTS, WIDTH
from weavability.checks.rules import (
    Compared,
    Observation,
    Reported,
    Wording,
    compare,
    describe,
    message,
)
from weavability.looms.thresholds import Usual
from weavability.textiles.numbers import N, passed, short

PANELS: Final = "/construction/panels"

_IN_STATED_REED: Final = (
    "The {ends} ends fill {actual:.1f} cm of the stated reed of {dents:g} dents/10 cm, "
    "{ends_per_dent:.3g} in a dent"
)

describe(
    CheckCode.WIDTH_REED_SPACE,
    says="The cloth must not be wider in the reed than the loom's reed width.",
    compares="reed width needed by all panels with the reed width of the loom",
    formula="reed width = panels x grey width x (1 + weft crimp) + gaps between the panels; in a "
    "stated reed = 10 x dents that the ends fill / dents per 10 cm + gaps",
    source="weft is straight at beat-up: definition of crimp on cloth length; [LOOM-LIMIT]",
)


@compare(CheckCode.WIDTH_REED_SPACE, passed, Severity.ERROR, unit="cm", eased_by=NARROW)
def reed_space(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Fit the cloth into the reed."""
    return f.cloth.reed_width_cm, (f.loom.reed_width_cm,), True


@message(
    reed_space,
    pointer="{at}",
    error="The cloth needs {actual:.1f} cm in the reed; the loom has {limit:.1f} cm. Use a wider "
    "loom, fewer panels or a narrower cloth.",
    in_stated_reed=_IN_STATED_REED
    + "; the loom has {limit:.1f} cm. Use a finer reed, more ends in a dent, fewer ends or a wider "
    "loom.",
)
def _reed_space(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return _in_reed(f)


def _in_reed(f: Facts[float]) -> Wording:
    """Name what decides the width: a stated reed, or else width and weft crimp."""
    if not f.order.denting.is_reed_stated:
        return Wording(values={"at": WIDTH}, variant="error")
    return Wording(
        values={
            "at": DENTS,
            "ends": int(f.cloth.total_ends),
            "dents": f.order.denting.dents_per_10cm,
            "ends_per_dent": f.fit.denting.ends_per_dent,
        },
        variant="in_stated_reed",
    )


describe(
    CheckCode.WIDTH_BELOW_MINIMUM,
    says="A loom has a minimum reed width.",
    compares="reed width in use with the minimum of the loom",
    formula="minimum as the loom states it, else a share of its reed width",
    source="[LOOM-LIMIT]; shares by insertion system: [COMMON-PRACTICE]",
)


@compare(
    CheckCode.WIDTH_BELOW_MINIMUM,
    short,
    Severity.ERROR,
    unit="cm",
    eased_by={
        **WIDE,
        **SELVEDGES_IN_REED,
        **no_least("min_reed_width_cm"),
    },
)
def below_minimum(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Compare with the width to which the loom can be narrowed."""
    return f.cloth.reed_width_cm, (f.loom.min_reed_width_cm,), True


@message(
    below_minimum,
    pointer="{at}",
    error="The cloth uses {actual:.1f} cm of the reed; the minimum of this loom is {limit:.1f} cm. "
    "Use a narrower loom or weave more panels side by side.",
    in_stated_reed=_IN_STATED_REED
    + "; the minimum of this loom is {limit:.1f} cm. Use a coarser reed, fewer ends in a dent, "
    "more panels or a narrower loom.",
)
def _below_minimum(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return _in_reed(f)


describe(
    CheckCode.WIDTH_REED_USE_LOW,
    says="A narrow cloth leaves most of a wide loom unused.",
    compares="reed width in use with {width_reed_use_low_pct:g} % of the loom's reed width",
    formula="use = reed width in use / reed width of the loom",
    source="",
)


@compare(CheckCode.WIDTH_REED_USE_LOW, short, Severity.NOTE, unit="%", cleared_by=(WIDE,))
def reed_use_low(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Find a wide loom that a wide cloth would use better."""
    use_pct = 100 * f.cloth.reed_width_cm / f.loom.reed_width_cm
    return use_pct, (u.width_reed_use_low_pct,), True


message(
    reed_use_low,
    pointer=WIDTH,
    note="Only {actual:.0f} % of the reed is used, less than {limit:g} %. A narrower loom, or more "
    "panels side by side, would weave more cloth per hour.",
)

describe(
    CheckCode.WIDTH_PANELS,
    says="Panels side by side need cut selvedges between them, and may use the reed better.",
    compares="panels woven side by side with what fits the reed and the insertion system",
    formula="one more panel fits if (panels + 1) x panel width + panels x gap <= reed width",
    source="[COMMON-PRACTICE]",
)


@compare(CheckCode.WIDTH_PANELS, passed, Severity.WARNING, unit="panels")
def cut_edges(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Find panels on a shuttle loom, which turns the weft only at the outer edges."""
    return f.order.panels, (1 + 0 * f.order.panels,), f.loom.is_shuttle


message(
    cut_edges,
    pointer=PANELS,
    warning="{actual} panels on a shuttle loom have cut edges inside the cloth. Plan a leno or "
    "fused edge at every cut.",
)


@compare(CheckCode.WIDTH_PANELS, short, Severity.NOTE, unit="panels")
def more_panels_fit(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """More panels side by side weave more cloth per hour."""
    return f.order.panels, (f.fit.panels_in_reed,), True


@message(
    more_panels_fit,
    pointer=PANELS,
    note="{limit} panels of this width fit side by side in the reed, {gap_cm:g} cm apart; planned: "
    "{actual}.",
)
def _more_panels_fit(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(
        values={"gap_cm": f.order.panel_gap_cm},
        reported=Reported(actual=int(seen.actual), limit=int(seen.limit)),
    )
