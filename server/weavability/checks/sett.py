"""Checks of the sett: how near is the cloth to jamming, or to slipping?"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from weavability.checks.finding import Observation, Severity, above, below
from weavability.checks.registry import check
from weavability.looms.fit import Fit

TIGHT_NOTE_PCT: Final = 80.0
TIGHT_WARNING_PCT: Final = 92.0
OPEN_WARNING_PCT: Final = 35.0
CROWDED_WARP_PCT: Final = 100.0

TIGHTNESS_FORMULA: Final = (
    "100 / s, s = factor on both setts at which g(q1) + g(q2) = 1; g(q) = sqrt(1 - (q/D)^2), "
    "q = M x pitch - (M - 1) x d, D = d1 + d2"
)
TIGHTNESS_SOURCE: Final = (
    "F. T. Peirce, The geometry of cloth structure, J. Text. Inst. 28 (1937), for plain; the room "
    "at an interlacing carries it to other weaves"
)


@check(
    "sett.jammed",
    compares="tightness against the loom's greatest",
    severities=(Severity.ERROR,),
    formula=TIGHTNESS_FORMULA,
    source=TIGHTNESS_SOURCE + "; limits 105-115 %: common practice, no source",
)
def jammed(fit: Fit) -> Iterator[Observation]:
    """Beyond the jam no beat-up brings the picks in."""
    tightness, limit = fit.cloth.setting.tightness_pct, fit.limits.max_tightness_pct
    if above(tightness, limit):
        yield Observation(
            severity=Severity.ERROR,
            message=f"The cloth is set to {tightness:.0f} % of the jam; this loom beats up to "
            f"{limit:.0f} %. Take out picks or ends, or take finer yarn or a looser weave.",
            pointer="/construction/weft/picks_per_cm",
            actual=tightness,
            limit=limit,
            unit="%",
        )


@check(
    "sett.tight",
    compares="tightness against the bands of easy and strong weaving",
    severities=(Severity.WARNING, Severity.NOTE),
    formula=TIGHTNESS_FORMULA,
    source=TIGHTNESS_SOURCE
    + "; note from 80 %, warning from 92 %, after the teaching rule 12 + 12 "
    "easy, 14 + 14 strong machines, 16 + 16 jams",
)
def tight(fit: Fit) -> Iterator[Observation]:
    """A cloth near the jam needs a strong beat-up and high warp tension."""
    tightness = fit.cloth.setting.tightness_pct
    if below(tightness, TIGHT_NOTE_PCT) or above(tightness, fit.limits.max_tightness_pct):
        return
    heavy = not below(tightness, TIGHT_WARNING_PCT)
    yield Observation(
        severity=Severity.WARNING if heavy else Severity.NOTE,
        message=f"The cloth is set to {tightness:.0f} % of the jam: "
        + (
            "expect bumping at the fell, high warp tension and more breaks; a heavy loom, a lower "
            "speed or fewer picks help."
            if heavy
            else "a strong beat-up and a firm warp tension are needed."
        ),
        pointer="/construction/weft/picks_per_cm",
        actual=tightness,
        limit=TIGHT_WARNING_PCT if heavy else TIGHT_NOTE_PCT,
        unit="%",
    )


@check(
    "sett.open",
    compares="tightness against the 35 % under which threads slip",
    severities=(Severity.WARNING,),
    formula=TIGHTNESS_FORMULA,
    source="common practice, no source",
)
def open_cloth(fit: Fit) -> Iterator[Observation]:
    """An open cloth slips unless leno or a finish holds it."""
    tightness = fit.cloth.setting.tightness_pct
    if fit.cloth.construction.finishing.stabilised or not below(tightness, OPEN_WARNING_PCT):
        return
    yield Observation(
        severity=Severity.WARNING,
        message=f"The cloth is set to only {tightness:.0f} % of the jam: its threads will slip. "
        "Raise the sett, bind in leno, or declare the finish that holds it "
        "(finishing.stabilised).",
        pointer="/construction/weft/picks_per_cm",
        actual=tightness,
        limit=OPEN_WARNING_PCT,
        unit="%",
        at_least=True,
    )


@check(
    "sett.warp_crowding",
    compares="ends side by side against the width of the cloth",
    severities=(Severity.WARNING,),
    formula="ends per cm x yarn diameter",
    source="fractional cover of 1: ends touch (cover factor 28 in cotton units, F. T. Peirce 1937)",
)
def warp_crowding(fit: Fit) -> Iterator[Observation]:
    """Where the ends touch one another they chafe at every change of shed."""
    cover_pct = 100 * fit.cloth.setting.warp_crowding
    if above(cover_pct, CROWDED_WARP_PCT):
        yield Observation(
            severity=Severity.WARNING,
            message=f"The ends side by side fill {cover_pct:.0f} % of the width: they cling and "
            "chafe at every change of shed. Deal them over more shafts with staggered levels, "
            "and size well.",
            pointer="/construction/warp/ends_per_cm",
            actual=cover_pct,
            limit=CROWDED_WARP_PCT,
            unit="%",
        )
