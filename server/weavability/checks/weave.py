"""Checks of the weave: does it hold together, are floats too long, can the draft weave it?"""

from __future__ import annotations

from typing import Final

from weavability.checks.codes import CheckCode
from weavability.checks.facts import WeaveNumbers, WeaveWords
from weavability.checks.finding import Severity
from weavability.checks.pointers import THREADING, WEAVE
from weavability.checks.rules import (
    Compared,
    Observation,
    Reported,
    Wording,
    compare_weave,
    describe,
    message,
)
from weavability.looms.thresholds import Usual
from weavability.textiles.numbers import N, passed

MOST_LISTED: Final = 8

describe(
    CheckCode.WEAVE_FALLS_APART,
    says="The threads must hold one another in one cloth.",
    compares="number of separate cloths with one, or with those that construction.layers declares "
    "to be separate",
    formula="arrow from the upper to the lower thread at every crossing; the cloth hangs together "
    "if and only if the graph is strongly connected",
    source="[CLAPHAM-1980]",
)


@compare_weave(CheckCode.WEAVE_FALLS_APART, passed, Severity.ERROR, unit="layers")
def falls_apart(w: WeaveNumbers[N], u: Usual[N], /) -> Compared[N]:
    """Layers that nothing binds are several cloths, which may be meant."""
    return w.cloths, (w.cloths_meant,), True


message(
    falls_apart,
    pointer=WEAVE,
    error="The weave falls apart into {actual} cloths that are not bound to one another. Stitch "
    "the layers, state the weave of one layer, or declare in construction.layers that they are "
    "meant to be separate.",
)

describe(
    CheckCode.WEAVE_LOOSE_THREAD,
    says="Every thread must interlace.",
    compares="number of threads that never interlace with zero",
    formula="a thread is loose if it lies on one side of every thread that crosses it",
    source="[BY-DEFINITION] of interlacing",
)


@compare_weave(CheckCode.WEAVE_LOOSE_THREAD, passed, Severity.ERROR, unit="threads")
def loose_ends(w: WeaveNumbers[N], u: Usual[N], /) -> Compared[N]:
    """Every end must interlace."""
    return w.loose_ends, (0 * w.loose_ends,), True


@compare_weave(CheckCode.WEAVE_LOOSE_THREAD, passed, Severity.ERROR, unit="threads")
def loose_picks(w: WeaveNumbers[N], u: Usual[N], /) -> Compared[N]:
    """Every pick must interlace."""
    return w.loose_picks, (0 * w.loose_picks,), True


_LOOSE: Final = " of the repeat never interlaces and lies loose on the cloth. Bind it "
_MANY_LOOSE: Final = " of the repeat never interlace and lie loose on the cloth. Bind each "
_BIND: Final = "with at least one crossing in the repeat."


@message(
    loose_ends,
    pointer=WEAVE,
    end="End {listed}" + _LOOSE + _BIND,
    ends="Ends {listed}" + _MANY_LOOSE + _BIND,
    more_ends="Ends {listed} and {more} more" + _MANY_LOOSE + _BIND,
)
def _loose_ends(w: WeaveNumbers[float], words: WeaveWords, seen: Observation) -> Wording:
    return _listed(words.loose_ends, "end")


@message(
    loose_picks,
    pointer=WEAVE,
    pick="Pick {listed}" + _LOOSE + _BIND,
    picks="Picks {listed}" + _MANY_LOOSE + _BIND,
    more_picks="Picks {listed} and {more} more" + _MANY_LOOSE + _BIND,
)
def _loose_picks(w: WeaveNumbers[float], words: WeaveWords, seen: Observation) -> Wording:
    return _listed(words.loose_picks, "pick")


def _listed(loose: tuple[int, ...], thread: str) -> Wording:
    more = len(loose) - MOST_LISTED
    variant = thread if len(loose) == 1 else f"{thread}s" if more <= 0 else f"more_{thread}s"
    values: dict[str, int | str] = {
        "listed": ", ".join(map(str, loose[:MOST_LISTED])),
        "more": more,
    }
    return Wording(values=values, variant=variant)


describe(
    CheckCode.WEAVE_LONG_FLOAT,
    says="Long floats snag in use, and slack ends with long floats catch in the shed.",
    compares="longest float over two threads or more on either side, warp or weft, with "
    "{weave_float_note_mm:g} mm and {weave_float_warning_mm:g} mm; those of figuring wefts behind "
    "a figured design are compared by design.back_float",
    formula="float in mm = threads floated over / threads per mm",
    source="",
)


@compare_weave(CheckCode.WEAVE_LONG_FLOAT, passed, Severity.WARNING, Severity.NOTE, unit="mm")
def long_float(w: WeaveNumbers[N], u: Usual[N], /) -> Compared[N]:
    """Limit floats; the use of the cloth decides, longer ones snag sooner."""
    return w.free_float_mm, (u.weave_float_warning_mm, u.weave_float_note_mm), True


message(
    long_float,
    pointer=WEAVE,
    any="The longest float is {actual:.1f} mm, more than {limit:g} mm: it snags in use. Bind it "
    "more often, or raise the sett.",
)

describe(
    CheckCode.WEAVE_DRAFT_MISMATCH,
    says="The requested drawing-in must be able to weave the cloth.",
    compares="requested threading with the weave",
    formula="lift plan[pick, threading[end]] must reproduce the weave",
    source="[BY-DEFINITION] of a draft",
)


@compare_weave(CheckCode.WEAVE_DRAFT_MISMATCH, passed, Severity.ERROR, unit=None)
def draft_mismatch(w: WeaveNumbers[N], u: Usual[N], /) -> Compared[N]:
    """Require that ends on one shaft weave alike."""
    return w.draft_faults, (0 * w.draft_faults,), True


@message(
    draft_mismatch,
    pointer=THREADING,
    alone="The requested draft cannot weave this cloth: {fault}",
    replaced="The requested draft cannot weave this cloth: {fault} The shaft and heald figures "
    "refer to another draft, which does weave it.",
)
def _draft_mismatch(w: WeaveNumbers[float], words: WeaveWords, seen: Observation) -> Wording:
    return Wording(
        values={"fault": words.draft_fault},
        variant="replaced" if words.has_other_draft else "alone",
        reported=Reported(actual=None, limit=None),
    )
