"""Checks of the warp: does it survive the shed, fit the beam, and run from one beam?"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from weavability.checks.finding import Observation, Severity, above, below
from weavability.checks.registry import check
from weavability.looms.fit import Fit, least_beam_m
from weavability.textiles.thread_systems import coarsest_and_finest

STRENGTH_NOTE_PCT: Final = 25.0
STRENGTH_WARNING_PCT: Final = 40.0
VARIETY_NOTE: Final = 2.0
BEAM_WIDTH_PCT: Final = 2.0
INTERLACING_NOTE: Final = 1.6
INTERLACING_WARNING: Final = 2.0


@check(
    "warp.strength",
    compares="peak tension of an end in the shed and at beat-up against its weakest place",
    severities=(Severity.WARNING, Severity.NOTE),
    formula="base 1 cN/tex + stretch of the shed x modulus, or base x 1.5 at beat-up; weakest "
    "place = mean strength x (1 - 3 CV)",
    source="stated tension rule; note from 25 %, warning from 40 %: common practice, no source",
)
def strength(fit: Fit) -> Iterator[Observation]:
    """Ends are strained at every pick and break at their weakest place."""
    key, tension = fit.hardest_warp
    use_pct = tension.strength_use_pct
    if below(use_pct, STRENGTH_NOTE_PCT):
        return
    heavy = not below(use_pct, STRENGTH_WARNING_PCT)
    yield Observation(
        severity=Severity.WARNING if heavy else Severity.NOTE,
        message=f"Warp {key} peaks at {tension.peak_tension_cn:.0f} cN, {use_pct:.0f} % of its "
        "weakest place: "
        + (
            "expect warp breaks. Size or fold it, lower the shed, or run slower."
            if heavy
            else "size it well and keep the shed low."
        ),
        pointer=f"/construction/warp/yarns/{key}",
        actual=use_pct,
        limit=STRENGTH_WARNING_PCT if heavy else STRENGTH_NOTE_PCT,
        unit="%",
    )


@check(
    "warp.beam_capacity",
    compares="warp for the order against what the loom's beams hold",
    severities=(Severity.ERROR, Severity.NOTE),
    formula="capacity = pi/4 (D^2 - d^2) B density / (ends x tex)",
    source="geometry of a beam; densities from course work on weaving-mill design; error where "
    "most of a beam is waste: common practice, no source",
)
def beam_capacity(fit: Fit) -> Iterator[Observation]:
    """A long order takes several warps, and a beam must hold more than is lost at its ends."""
    warp, waste_m = fit.warp, fit.cloth.allowances.loom_waste_m
    if below(warp.beam_capacity_m, least_beam_m(waste_m)):
        yield Observation(
            severity=Severity.ERROR,
            message=f"The beam holds {warp.beam_capacity_m:.1f} m of this warp, and {waste_m:g} m "
            "are lost at every beam. Take a loom with larger beams.",
            pointer="/construction/warp/ends_per_cm",
            actual=warp.beam_capacity_m,
            limit=least_beam_m(waste_m),
            unit="m",
            at_least=True,
        )
    elif warp.beams_needed > 1 and fit.cloth.lengths.ordered:
        yield Observation(
            severity=Severity.NOTE,
            message=f"The order takes {warp.warp_length_m:.0f} m of warp; "
            f"{'the beam holds' if fit.limits.beam_count == 1 else 'its beams together hold'} "
            f"{warp.beam_capacity_m:.0f} m: {warp.beams_needed} warps one after the other, each "
            f"tied in with {fit.cloth.ends.total} knots.",
            pointer="/construction/length_m",
            actual=warp.warp_length_m,
            limit=warp.beam_capacity_m,
            unit="m",
        )


@check(
    "warp.beam_width",
    compares="reed width in use against the distance between the beam's flanges",
    severities=(Severity.ERROR,),
    formula="flanges of all beams abreast against the reed width in use",
    source="error where the warp is more than 2 % wider: common practice, no source",
)
def beam_width(fit: Fit) -> Iterator[Observation]:
    """The warp must run straight from beam to reed."""
    needed = fit.cloth.widths.reed_cm
    limit = fit.limits.beam_width_cm * fit.limits.beam_count
    if above(needed, limit * (1 + BEAM_WIDTH_PCT / 100)) and needed <= fit.limits.reed_width_cm:
        yield Observation(
            severity=Severity.ERROR,
            message=f"The warp stands {needed:.1f} cm wide in the reed; the beam takes "
            f"{limit:.1f} cm between its flanges: the edges would run in and chafe.",
            pointer="/construction/width_cm",
            actual=needed,
            limit=limit,
            unit="cm",
        )


@check(
    "warp.yarn_variety",
    compares="coarsest against finest warp yarn, and the interlacing of one end against another",
    severities=(Severity.WARNING, Severity.NOTE),
    formula="ratio of linear densities; ratio of interlacings per pick of the busiest and the "
    "laziest end",
    source="note above 2 times in linear density or 1.6 times in interlacing, warning above 2 "
    "times in interlacing, which asks for a second beam: common practice, no source",
)
def yarn_variety(fit: Fit) -> Iterator[Observation]:
    """Ends that take up differently run slack or tight from one beam."""
    coarse, fine = coarsest_and_finest(fit.cloth.warp.yarns.values())
    ratio = coarse.linear_density_tex / fine.linear_density_tex
    if above(ratio, VARIETY_NOTE):
        yield Observation(
            severity=Severity.NOTE,
            message=f"The coarsest warp yarn is {ratio:.1f} times the finest: they size, crimp and "
            "unwind differently; consider a second beam.",
            pointer="/construction/warp/yarns",
            actual=ratio,
            limit=VARIETY_NOTE,
            unit="times",
        )
    interlacings = fit.cloth.structure.interlacings_per_end
    least, most = int(interlacings.min()), int(interlacings.max())
    if fit.limits.beam_count > 1 or not least or not above(most / least, INTERLACING_NOTE):
        return
    heavy = above(most / least, INTERLACING_WARNING)
    yield Observation(
        severity=Severity.WARNING if heavy else Severity.NOTE,
        message=f"Some ends interlace {most / least:.1f} times as often as others and take up "
        "more: "
        + (
            "from one beam the others run slack. Use a second beam."
            if heavy
            else "watch for slack ends where the order is long."
        ),
        pointer="/construction/weave",
        actual=most / least,
        limit=INTERLACING_WARNING if heavy else INTERLACING_NOTE,
        unit="times",
    )
