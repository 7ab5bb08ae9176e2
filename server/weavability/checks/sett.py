"""Checks of the sett: how near is the cloth to jamming, or to slipping?"""

from __future__ import annotations

from typing import Final

from weavability.checks.codes import CheckCode
from weavability.checks.easing import HIGH, ROOMY
from weavability.checks.facts import Facts, Words
from weavability.checks.finding import Severity
from weavability.checks.rules import (
    Compared,
    Observation,
    Reported,
    Wording,
    compare,
    describe,
    message,
)
from weavability.looms.loom_limits import starting_value
from weavability.looms.thresholds import Usual
from weavability.textiles.jamming import Place
from weavability.textiles.numbers import N, either, greatest, no, passed, reached, short

PICKS: Final = "/construction/weft/picks_per_cm"
SETT: Final = "/construction/warp/ends_per_cm"

TIGHTNESS_FORMULA: Final = (
    "100 / s, s = factor on both setts at which g(q1) + g(q2) = 1; g(q) = sqrt(1 - (q/D)^2), "
    "q = M x pitch - (M - 1) x d, D = d1 + d2; of a weave that repeats on more than 16 threads in "
    "the tightest square of 16 x 16"
)
TIGHTNESS_SOURCE: Final = (
    "[PEIRCE-1937], for plain; the room at an interlacing carries it to other weaves"
)

_WHERE: Final = (
    "Ends {first_end}-{last_end} and picks {first_pick}-{last_pick} of the repeat are set to "
    "{actual:.0f} % of the jamming limit, the cloth on average to {mean:.0f} %"
)

describe(
    CheckCode.SETT_JAMMED,
    says="Above the jamming limit the picks cannot be beaten up.",
    compares="tightness of threads that lie in one plane with the loom's greatest; a greatest that "
    "is only assumed gives a warning up to {sett_jammed_error_pct:g} %",
    formula=TIGHTNESS_FORMULA,
    source=f"{TIGHTNESS_SOURCE}; [LOOM-LIMIT]; {starting_value('/max_tightness_pct')}",
    thresholds=("sett_jammed_error_pct",),
)


@compare(CheckCode.SETT_JAMMED, passed, Severity.ERROR, unit="%")
def beyond_the_jam(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Compare with what no loom can beat up, unless this one states more."""
    return f.cloth.in_plane_tightness_pct, (_impossible_pct(f, u),), True


def _impossible_pct(f: Facts[N], u: Usual[N]) -> N:
    return greatest(f.loom.max_tightness_pct, u.sett_jammed_error_pct)


@compare(
    CheckCode.SETT_JAMMED,
    passed,
    Severity.ERROR,
    unit="%",
    eased_by={**ROOMY, "/loom/max_tightness_pct": HIGH},
)
def jammed(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Compare with what this loom can beat up."""
    tightness = f.cloth.in_plane_tightness_pct
    return tightness, (f.loom.max_tightness_pct,), no(passed(tightness, _impossible_pct(f, u)))


_LOOSER: Final = "Reduce picks or ends, or use finer yarn or a looser weave."
_THIS_LOOM: Final = "; this loom can beat up at most {most:.0f} %. "


_JAMMED: Final = {
    "error": "The cloth is set to {actual:.0f} % of the jamming limit" + _THIS_LOOM + _LOOSER,
    "error_in_a_square": _WHERE + _THIS_LOOM + _LOOSER,
}


@message(beyond_the_jam, pointer=PICKS, **_JAMMED)
@message(jammed, pointer=PICKS, **_JAMMED)
def _jammed(f: Facts[float], words: Words, seen: Observation) -> Wording:
    most = f.loom.max_tightness_pct
    wording = _located(f, seen, words.tightest_in_plane, most=most)
    wording.reported = Reported(actual=seen.actual, limit=most)
    return wording


def _located(
    f: Facts[float], seen: Observation, place: Place | None, **values: float | int
) -> Wording:
    """Say where the cloth is set closest, unless it is so everywhere."""
    if place is None:
        return Wording(values=values)
    where = place._asdict() | {"mean": f.cloth.mean_tightness_pct}
    return Wording(variant=f"{seen.worded_as}_in_a_square", values=values | where)


describe(
    CheckCode.SETT_NOT_JUDGED,
    says="Threads that lie over one another are set against those of their own layer.",
    compares="tightness of threads that can lie over one another, and of which no layer is "
    "declared, with the loom's greatest: cloths that are not bound to one another, or at least "
    "half of the neighbouring picks (or ends) nested",
    formula=TIGHTNESS_FORMULA
    + "; two picks are nested if the ends that one raises are some, but not all, of those that the "
    "other raises",
    source=TIGHTNESS_SOURCE,
)


@compare(CheckCode.SETT_NOT_JUDGED, passed, Severity.WARNING, unit="%")
def not_judged(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Compare with what the loom can beat up, if threads in one plane do not pass it already."""
    most = f.loom.max_tightness_pct
    return f.cloth.tightness_pct, (most,), no(passed(f.cloth.in_plane_tightness_pct, most))


_OVER: Final = (
    "; this loom can beat up at most {limit:.0f} %, but the threads can lie over one another, as "
    "in double cloth, backed cloth and pile, which is not judged without their layers. Declare "
    "the layer of each end and pick in layers, so that each is set against itself."
)


@message(
    not_judged,
    pointer="/construction/layers",
    warning="The cloth is set to {actual:.0f} % of the jamming limit" + _OVER,
    warning_in_a_square=_WHERE + _OVER,
)
def _not_judged(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return _located(f, seen, words.tightest)


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
    most, in_plane = f.loom.max_tightness_pct, f.cloth.in_plane_tightness_pct
    # Threads that can lie over one another and pass the limit are another check's.
    judged: N = either(passed(f.cloth.tightness_pct, most), in_plane, f.cloth.tightness_pct)
    limits = (u.sett_tight_warning_pct, u.sett_tight_note_pct)
    return judged, limits, no(passed(in_plane, most))


_BUMPS: Final = (
    ", {limit:g} % or more: expect bumping at the fell, high warp tension and more breaks. Use a "
    "heavy loom, a lower speed or fewer picks."
)
_STRONG: Final = ", {limit:g} % or more: it needs a strong beat-up and a firm warp tension."


@message(
    tight,
    pointer=PICKS,
    warning="The cloth is set to {actual:.0f} % of the jamming limit" + _BUMPS,
    warning_in_a_square=_WHERE + _BUMPS,
    note="The cloth is set to {actual:.0f} % of the jamming limit" + _STRONG,
    note_in_a_square=_WHERE + _STRONG,
)
def _tight(f: Facts[float], words: Words, seen: Observation) -> Wording:
    of_all = seen.actual == f.cloth.tightness_pct
    return _located(f, seen, words.tightest if of_all else words.tightest_in_plane)


describe(
    CheckCode.SETT_OPEN,
    says="The threads of an open cloth slip unless leno or a finish holds them.",
    compares="tightness by the mean floats of the cloth with the {sett_open_warning_pct:g} % below "
    "which threads slip",
    formula=TIGHTNESS_FORMULA,
    source="",
)


@compare(CheckCode.SETT_OPEN, short, Severity.WARNING, unit="%")
def open_cloth(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Threads that hardly touch do not hold one another."""
    return f.cloth.mean_tightness_pct, (u.sett_open_warning_pct,), no(f.order.is_stabilised)


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
