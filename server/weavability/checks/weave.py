"""Checks of the weave: does it hang together, are floats too long, does the draft weave it?"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from weavability.checks.finding import Observation, Severity, above
from weavability.checks.registry import check
from weavability.looms.fit import Fit

LONG_FLOAT_NOTE_MM: Final = 5.0
LONG_FLOAT_WARNING_MM: Final = 10.0


@check(
    "weave.falls_apart",
    compares="layers of the weave against one",
    severities=(Severity.ERROR,),
    formula="arrow from the upper to the lower thread at every crossing; the cloth hangs together "
    "if and only if the graph is strongly connected",
    source="C. R. J. Clapham, When a fabric hangs together, Bull. London Math. Soc. 12 (1980)",
)
def falls_apart(fit: Fit) -> Iterator[Observation]:
    """The threads must hold one another in one cloth."""
    structure = fit.cloth.structure
    # A loose thread is a layer of its own, and another check speaks of it.
    cloths = structure.layer_count - len(structure.loose_ends) - len(structure.loose_picks)
    if cloths <= 1:
        return
    yield Observation(
        severity=Severity.ERROR,
        message=f"The weave falls apart into {cloths} cloths that lie on one another unbound. "
        "Stitch the layers, or state the weave of one layer.",
        pointer="/construction/weave",
        actual=cloths,
        limit=1,
        unit="layers",
    )


@check(
    "weave.loose_thread",
    compares="threads that never interlace against none",
    severities=(Severity.ERROR,),
    formula="a thread is loose when it lies on one side of every thread that crosses it",
    source="definition of interlacing",
)
def loose_thread(fit: Fit) -> Iterator[Observation]:
    """Every thread must interlace."""
    structure = fit.cloth.structure
    for way, loose in (("End", structure.loose_ends), ("Pick", structure.loose_picks)):
        if loose:
            listed = ", ".join(str(number) for number in loose[:8])
            more = f" and {len(loose) - 8} more" if len(loose) > 8 else ""
            yield Observation(
                severity=Severity.ERROR,
                message=f"{way} {listed}{more} of the repeat never interlaces and lies loose on "
                "the cloth. Bind it with at least one crossing in the repeat.",
                pointer="/construction/weave",
                actual=len(loose),
                limit=0,
                unit="threads",
            )


@check(
    "weave.long_float",
    compares="longest float on either side, warp or weft, against 5 mm and 10 mm",
    severities=(Severity.WARNING, Severity.NOTE),
    formula="float in mm = threads floated over / threads per mm",
    source="common practice, no source: use decides; longer floats snag",
)
def long_float(fit: Fit) -> Iterator[Observation]:
    """Long floats snag in use, and slack ends of long float catch in the shed."""
    length = fit.cloth.longest_float_mm
    if not above(length, LONG_FLOAT_NOTE_MM):
        return
    heavy = above(length, LONG_FLOAT_WARNING_MM)
    yield Observation(
        severity=Severity.WARNING if heavy else Severity.NOTE,
        message=f"The longest float is {length:.1f} mm: it snags in use. Bind it more often or "
        "raise the sett.",
        pointer="/construction/weave",
        actual=length,
        limit=LONG_FLOAT_WARNING_MM if heavy else LONG_FLOAT_NOTE_MM,
        unit="mm",
    )


@check(
    "weave.draft_mismatch",
    compares="the threading that was asked for against the weave",
    severities=(Severity.ERROR,),
    formula="lift plan[pick, threading[end]] must reproduce the weave",
    source="definition of a draft",
)
def draft_mismatch(fit: Fit) -> Iterator[Observation]:
    """The drawing-in must be able to weave the cloth."""
    if fit.harness.draft_fault is None:
        return
    yield Observation(
        severity=Severity.ERROR,
        message=f"The threading asked for cannot weave this cloth: {fit.harness.draft_fault} "
        "The set-up below uses a draft that can.",
        pointer="/construction/draft/threading",
        actual=None,
        limit=None,
        unit=None,
    )
