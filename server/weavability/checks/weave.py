"""Checks of the weave: does it hang together, are floats too long, does the draft weave it?"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from weavability.checks import judgements
from weavability.checks.finding import Observation, Severity
from weavability.checks.registry import check
from weavability.looms.drawing_in import OnShafts
from weavability.looms.fit import Fit

WEAVE: Final = "/construction/weave"
THREADING: Final = "/construction/draft/threading"


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
    return judgements.falls_apart(fit.cloth.structure, pointer=WEAVE)


@check(
    "weave.loose_thread",
    compares="threads that never interlace against none",
    severities=(Severity.ERROR,),
    formula="a thread is loose when it lies on one side of every thread that crosses it",
    source="definition of interlacing",
)
def loose_thread(fit: Fit) -> Iterator[Observation]:
    """Every thread must interlace."""
    return judgements.loose_threads(fit.cloth.structure, pointer=WEAVE)


@check(
    "weave.long_float",
    compares="longest float on either side, warp or weft, against 5 mm and 10 mm",
    severities=(Severity.WARNING, Severity.NOTE),
    formula="float in mm = threads floated over / threads per mm",
    source="common practice, no source: use decides; longer floats snag",
)
def long_float(fit: Fit) -> Iterator[Observation]:
    """Long floats snag in use, and slack ends of long float catch in the shed."""
    return judgements.long_float(fit.cloth.longest_float_mm, pointer=WEAVE)


@check(
    "weave.draft_mismatch",
    compares="the threading that was asked for against the weave",
    severities=(Severity.ERROR,),
    formula="lift plan[pick, threading[end]] must reproduce the weave",
    source="definition of a draft",
)
def draft_mismatch(fit: Fit) -> Iterator[Observation]:
    """The drawing-in must be able to weave the cloth."""
    on = fit.drawing_in
    if isinstance(on, OnShafts) and on.drawn:
        yield from judgements.draft_mismatch(on.drawn.draft_fault, another=True, pointer=THREADING)
