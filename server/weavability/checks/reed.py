"""Checks of the reed: is it there, does it give the sett, do ends and knots pass?"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from weavability.checks.finding import Observation, Severity, above, below
from weavability.checks.registry import check
from weavability.looms.denting import MADE_DENTS_PER_10CM, STOCK_TOLERANCE_PCT
from weavability.looms.fit import Fit

FULL_GAP_NOTE_PCT: Final = 130.0
FULL_GAP_WARNING_PCT: Final = 150.0
MOST_ENDS_PER_DENT: Final = 5


@check(
    "reed.not_in_stock",
    compares="reed needed for sett and width against the nearest reed in stock",
    severities=(Severity.WARNING,),
    formula="dents/10 cm = 10 x ends/cm in the reed / ends per dent; change = needed / stock - 1",
    source="arithmetic; 1.5 % tolerance: common practice, no source",
)
def not_in_stock(fit: Fit) -> Iterator[Observation]:
    """A reed that the mill does not have must be bought, or sett and width give way."""
    denting = fit.denting
    nearest = denting.nearest_in_stock_dents_per_10cm
    if nearest is None or denting.from_stock:
        return
    asked = denting.asked_dents_per_10cm
    wanted = asked or denting.needed_dents_per_10cm
    change_pct = 100 * (wanted / nearest - 1)
    width_cm = fit.cloth.widths.grey_cm * wanted / nearest
    yield Observation(
        severity=Severity.WARNING,
        message=f"The cloth wants a reed of {wanted:.1f} dents/10 cm; the nearest in stock has "
        f"{nearest:g}, which makes it {width_cm:.1f} cm wide in the grey ({change_pct:+.1f} %) "
        "or needs another sett. Order the reed or agree the change.",
        pointer="/construction/reed/dents_per_10cm" if asked else "/construction/warp/ends_per_cm",
        actual=wanted,
        limit=nearest,
        unit="dents/10 cm",
        at_least=wanted < nearest,
    )


@check(
    "reed.sett_mismatch",
    compares="reed that was asked for against the reed that sett, width and crimp need",
    severities=(Severity.WARNING,),
    formula="change of width = needed dents / dents asked for - 1",
    source="arithmetic; 1.5 % tolerance: common practice, no source",
)
def sett_mismatch(fit: Fit) -> Iterator[Observation]:
    """Reed, sett and weft crimp must tell the same story."""
    asked, denting = fit.denting.asked_dents_per_10cm, fit.denting
    if asked is None or abs(denting.width_change_pct) <= STOCK_TOLERANCE_PCT:
        return
    width_cm = fit.cloth.widths.grey_cm * (1 + denting.width_change_pct / 100)
    yield Observation(
        severity=Severity.WARNING,
        message=f"A reed of {asked:g} dents/10 cm with {denting.ends_per_dent:.3g} ends per dent "
        f"gives a grey width of {width_cm:.1f} cm "
        f"instead of {fit.cloth.widths.grey_cm:.1f} cm ({denting.width_change_pct:+.1f} %): sett, "
        f"width and weft crimp need {denting.needed_dents_per_10cm:.1f}. Correct one of them.",
        pointer="/construction/reed/dents_per_10cm",
        actual=asked,
        limit=denting.needed_dents_per_10cm,
        unit="dents/10 cm",
        at_least=asked < denting.needed_dents_per_10cm,
    )


@check(
    "reed.air_space",
    compares="ends of a dent side by side, and the width of a knot, against the clear gap",
    severities=(Severity.WARNING, Severity.NOTE),
    formula="gap = dent pitch x (1 - 0.35); fill = ends per dent x diameter / gap; knot = 2.5 d",
    source="wire 30-40 % of the dent; note above 130 %, warning above 150 % fill, where ends can "
    "no longer part into the two sheets of the shed: common practice, no source",
)
def air_space(fit: Fit) -> Iterator[Observation]:
    """Ends chafe in a full dent, and a knot that does not pass the gap breaks its end."""
    denting = fit.denting
    full = denting.air.fill_pct
    if above(full, FULL_GAP_NOTE_PCT):
        heavy = above(full, FULL_GAP_WARNING_PCT)
        yield Observation(
            severity=Severity.WARNING if heavy else Severity.NOTE,
            message=f"The ends of a dent side by side would fill {full:.0f} % of the clear gap of "
            f"{denting.air.gap_mm:.2f} mm: "
            + (
                "expect chafing; thinner wires or a lower sett help."
                if heavy
                else "they have little room to part; use thin wires."
            ),
            pointer="/construction/warp/ends_per_cm",
            actual=full,
            limit=FULL_GAP_WARNING_PCT if heavy else FULL_GAP_NOTE_PCT,
            unit="%",
        )
    if above(denting.air.knot_mm, denting.air.gap_mm):
        yield Observation(
            severity=Severity.NOTE,
            message=f"A knot of about {denting.air.knot_mm:.2f} mm does not pass the clear gap of "
            f"{denting.air.gap_mm:.2f} mm: splice the warp, or use a coarser reed with more ends "
            "per dent.",
            pointer="/construction/reed/ends_per_dent",
            actual=denting.air.knot_mm,
            limit=denting.air.gap_mm,
            unit="mm",
        )


@check(
    "reed.ends_per_dent",
    compares="ends in a dent against the one to five of published practice",
    severities=(Severity.WARNING,),
    formula="as stated or chosen",
    source="J. T. Taylor, Cotton Weaving and Designing (1909); A. Wolfensberger, Theory of Silk "
    "Weaving (1921): 1 to 5 ends",
)
def ends_per_dent(fit: Fit) -> Iterator[Observation]:
    """Many ends in a dent roll over one another and show as reed marks."""
    count = fit.denting.fullest_dent
    if count > MOST_ENDS_PER_DENT:
        yield Observation(
            severity=Severity.WARNING,
            message=f"{count} ends in a dent roll over one another and leave reed marks; up to "
            f"{MOST_ENDS_PER_DENT} are usual. Use a finer reed.",
            pointer="/construction/reed/ends_per_dent",
            actual=count,
            limit=MOST_ENDS_PER_DENT,
            unit="ends/dent",
        )


@check(
    "reed.count",
    compares="dents per 10 cm against the coarsest and finest reeds of practice",
    severities=(Severity.WARNING,),
    formula="dents/10 cm of the reed to mount",
    source="finest: 90 dents/inch for silk, A. Wolfensberger (1921); coarsest 30: common practice, "
    "no source",
)
def count(fit: Fit) -> Iterator[Observation]:
    """A reed must be made before it can be mounted."""
    dents = fit.denting.dents_per_10cm
    coarsest, finest = MADE_DENTS_PER_10CM
    if above(dents, finest):
        yield Observation(
            severity=Severity.WARNING,
            message=f"A reed of {dents:.0f} dents/10 cm is finer than reeds are usually made "
            f"({finest:g}). Put more ends in a dent.",
            pointer="/construction/reed/ends_per_dent",
            actual=dents,
            limit=finest,
            unit="dents/10 cm",
        )
    if below(dents, coarsest):
        yield Observation(
            severity=Severity.WARNING,
            message=f"A reed of {dents:.1f} dents/10 cm is coarser than reeds are usually made "
            f"({coarsest:g}). Put fewer ends in a dent or leave dents empty.",
            pointer="/construction/reed/ends_per_dent",
            actual=dents,
            limit=coarsest,
            unit="dents/10 cm",
            at_least=True,
        )
