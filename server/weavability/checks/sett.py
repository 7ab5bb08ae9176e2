"""Checks of the sett: how near is the cloth to jamming, or to slipping?"""

from __future__ import annotations

from typing import Final

from weavability.checks.codes import CheckCode
from weavability.checks.facts import Facts
from weavability.checks.finding import Severity
from weavability.checks.rules import Compared, compare, describe, message
from weavability.looms.loom_limits import starting_value
from weavability.looms.thresholds import Usual
from weavability.textiles.numbers import N, no, passed, reached, short

PICKS: Final = "/construction/weft/picks_per_cm"
SETT: Final = "/construction/warp/ends_per_cm"

TIGHTNESS_FORMULA: Final = (
    "100 / s, s = factor on both setts at which g(q1) + g(q2) = 1; g(q) = sqrt(1 - (q/D)^2), "
    "q = M x pitch - (M - 1) x d, D = d1 + d2"
)
TIGHTNESS_SOURCE: Final = (
    "[PEIRCE-1937], for plain; the room at an interlacing carries it to other weaves"
)

describe(
    CheckCode.SETT_JAMMED,
    says="Above the jamming limit the picks cannot be beaten up.",
    compares="tightness with the loom's greatest",
    formula=TIGHTNESS_FORMULA,
    source=f"{TIGHTNESS_SOURCE}; [LOOM-LIMIT]; {starting_value('/max_tightness_pct')}",
)


@compare(CheckCode.SETT_JAMMED, passed, Severity.ERROR, unit="%")
def jammed(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Compare with what the loom can beat up."""
    return f.cloth.tightness_pct, (f.loom.max_tightness_pct,), True


message(
    jammed,
    pointer=PICKS,
    error="The cloth is set to {actual:.0f} % of the jamming limit; this loom can beat up "
    "at most {limit:.0f} %. Reduce picks or ends, or use finer yarn or a looser weave.",
)

describe(
    CheckCode.SETT_TIGHT,
    says="A cloth near the jamming limit needs a strong beat-up and high warp tension.",
    compares="tightness with {sett_tight_note_pct:g} % and {sett_tight_warning_pct:g} %",
    formula=TIGHTNESS_FORMULA,
    source=TIGHTNESS_SOURCE,
)


@compare(CheckCode.SETT_TIGHT, reached, Severity.WARNING, Severity.NOTE, unit="%")
def tight(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Beat-up and warp tension rise towards the jam."""
    tightness = f.cloth.tightness_pct
    limits = (u.sett_tight_warning_pct, u.sett_tight_note_pct)
    return tightness, limits, no(passed(tightness, f.loom.max_tightness_pct))


message(
    tight,
    pointer=PICKS,
    warning="The cloth is set to {actual:.0f} % of the jamming limit, {limit:g} % or more: expect "
    "bumping at the fell, high warp tension and more breaks. Use a heavy loom, a lower speed or "
    "fewer picks.",
    note="The cloth is set to {actual:.0f} % of the jamming limit, {limit:g} % or more: it needs a "
    "strong beat-up and a firm warp tension.",
)

describe(
    CheckCode.SETT_OPEN,
    says="The threads of an open cloth slip unless leno or a finish holds them.",
    compares="tightness with the {sett_open_warning_pct:g} % below which threads slip",
    formula=TIGHTNESS_FORMULA,
    source="",
)


@compare(CheckCode.SETT_OPEN, short, Severity.WARNING, unit="%")
def open_cloth(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Threads that hardly touch do not hold one another."""
    return f.cloth.tightness_pct, (u.sett_open_warning_pct,), no(f.order.is_stabilised)


message(
    open_cloth,
    pointer=PICKS,
    warning="The cloth is set to only {actual:.0f} % of the jamming limit, less than {limit:g} %: "
    "its threads will slip. Raise the sett, bind in leno, or declare the finish that holds it "
    "(finishing.stabilised).",
)

describe(
    CheckCode.SETT_WARP_CROWDING,
    says="Ends that touch one another chafe at every change of shed.",
    compares="ends side by side with the width of the cloth",
    formula="ends per cm x yarn diameter",
    source="",
)


@compare(CheckCode.SETT_WARP_CROWDING, passed, Severity.WARNING, unit="%")
def warp_crowding(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Leave room between ends side by side."""
    return f.cloth.warp_cover_pct, (u.sett_warp_crowding_warning_pct,), True


message(
    warp_crowding,
    pointer=SETT,
    warning="The ends side by side fill {actual:.0f} % of the width, more than {limit:g} %: they "
    "cling and chafe at every change of shed. Divide them over more shafts with staggered levels, "
    "and size well.",
)
