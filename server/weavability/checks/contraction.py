"""Checks of the stated crimps: can yarns of this size have them in this cloth?"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import inf
from typing import Final

from weavability.checks.codes import CheckCode
from weavability.checks.facts import Facts, Words
from weavability.checks.finding import Severity
from weavability.checks.rules import (
    Compared,
    Observation,
    Wording,
    compare,
    describe,
    message,
)
from weavability.looms.thresholds import Usual
from weavability.looms.yarn_numbers import WarpNumbers, WeftNumbers
from weavability.textiles.cloth_numbers import StatedCrimp
from weavability.textiles.construction import ThreadSystem
from weavability.textiles.crimp import (
    CRIMP_FLATTENING,
    EQUAL_FLOATS,
    LARGEST_CRIMP_PCT,
    PLAIN,
    SMALLEST_CRIMP_PCT,
    UNEQUAL_FLOATS,
    contraction_of_crimp_pct,
)
from weavability.textiles.numbers import N, Truth, either, no, passed, short
from weavability.textiles.sentences import say
from weavability.textiles.yarns import Yarn

describe(
    CheckCode.CONTRACTION_IMPLAUSIBLE,
    says="Yarns of this size and sett bend round one another by a crimp within a band.",
    compares="the stated crimp of warp and of weft with the band of the crimp that would be "
    f"estimated if none were stated: {PLAIN.points:g} percentage points on either side in plain, "
    f"{EQUAL_FLOATS.points:g} over equal and {UNEQUAL_FLOATS.points:g} over unequal mean floats; a "
    "warning beyond it if the other set, of which none is stated, would need less than "
    f"{SMALLEST_CRIMP_PCT:g} % or more than {LARGEST_CRIMP_PCT:g} %; else a note beyond "
    "{contraction_far_times:g} times the band, of the yarn "
    "that states the most or the least. If both are stated, a warning if the heights of both waves "
    "together are less than {contraction_heights_least_pct:g} % of d1 + d2. "
    "Yarn that contracts by itself (elastane, hard twist, textured) "
    "and groups of ends on beams of their own may have more",
    formula=f"heights of both waves together {CRIMP_FLATTENING:g} x (d1 + d2), shared as both "
    "yarns bend alike",
    source="[PEIRCE-1937] for the heights; the bands hold the published crimps",
)


def _too_straight(found: StatedCrimp[N], u: Usual[N]) -> Compared[N]:
    least = found.expected_pct - found.points
    far = found.least_expected_pct - u.contraction_far_times * found.least_points
    limits = (
        either(found.other_is_bounded, least, 0.0),
        either(found.other_is_bounded, least, far),
    )
    straightest: N = either(found.other_is_bounded, found.stated_pct, found.least_pct)
    return straightest, limits, found.is_stated


def _too_wavy(found: StatedCrimp[N], u: Usual[N], contracts: Truth) -> Compared[N]:
    most = found.expected_pct + found.points
    far = found.expected_pct + u.contraction_far_times * found.points
    limits = (
        either(found.other_is_bounded, most, inf),
        either(found.other_is_bounded, most, far),
    )
    waviest: N = either(found.other_is_bounded, found.stated_pct, found.greatest_pct)
    return waviest, limits, found.is_stated & found.has_most & no(contracts)


def _any_contracts(yarns: Iterable[WarpNumbers[N] | WeftNumbers[N]]) -> Truth:
    found: Truth = False
    for yarn in yarns:
        found = found | (yarn.present & yarn.nature.contracts)
    return found


@compare(CheckCode.CONTRACTION_IMPLAUSIBLE, short, Severity.WARNING, Severity.NOTE, unit="%")
def straight_warp(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Find a warp that is stated straighter than the cloth lets it be."""
    return _too_straight(f.cloth.stated_warp_crimp, u)


@compare(CheckCode.CONTRACTION_IMPLAUSIBLE, passed, Severity.WARNING, Severity.NOTE, unit="%")
def wavy_warp(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Find a warp that is stated to bend more than it has room for."""
    return _too_wavy(f.cloth.stated_warp_crimp, u, _any_contracts(f.order.warps))


@compare(CheckCode.CONTRACTION_IMPLAUSIBLE, short, Severity.WARNING, Severity.NOTE, unit="%")
def straight_weft(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Find a weft that is stated straighter than the cloth lets it be."""
    return _too_straight(f.cloth.stated_weft_crimp, u)


@compare(CheckCode.CONTRACTION_IMPLAUSIBLE, passed, Severity.WARNING, Severity.NOTE, unit="%")
def wavy_weft(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Find a weft that is stated to bend more than it has room for."""
    return _too_wavy(f.cloth.stated_weft_crimp, u, _any_contracts(f.order.wefts))


@compare(CheckCode.CONTRACTION_IMPLAUSIBLE, short, Severity.WARNING, unit="%")
def both_straight(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Find both sets stated so straight that they cannot cross one another."""
    heights = f.cloth.crimp_heights_pct
    return heights, (u.contraction_heights_least_pct + 0 * heights,), f.cloth.has_both_crimps


_STATED: Final = (
    "The stated crimp of {of} is {actual:.3g} % of the cloth's length (a contraction of "
    "{contraction_pct:.3g} % of the yarn's), {side} than this cloth lets expect: about "
    "{expected_pct:.0f} %, at {end} {limit:.3g} %. "
)
_CHECK: Final = "Check it; left out, it is estimated."
_WORDS: Final = {
    "warning": _STATED + "With it the {other}, of which no crimp is stated, would have to "
    "{bend}: its estimate is held at {other_pct:.3g} %, and width, mass and yarn need follow from "
    "that. " + _CHECK,
    "note": _STATED + _CHECK,
}

WARP: Final = "/construction/warp/{field}"
WEFT: Final = "/construction/weft/{field}"


def _wording(found: StatedCrimp[float], words: Words, seen: Observation, system: str) -> Wording:
    of_yarn = seen.severity is Severity.NOTE
    expected_pct = found.least_expected_pct if of_yarn else found.expected_pct
    low = seen.actual < expected_pct
    key = _yarn(words, system, found.least_pct if low else found.greatest_pct, seen)
    other_straight = found.other_pct <= SMALLEST_CRIMP_PCT
    return Wording(
        values={
            "system": system,
            "of": system if key is None else f"{system} {key}",
            "other": "weft" if system == "warp" else "warp",
            "field": _field(words, system, key),
            "contraction_pct": contraction_of_crimp_pct(seen.actual),
            "side": say("part.less", "less") if low else say("part.more", "more"),
            "end": say("part.least", "least") if low else say("part.most", "most"),
            "expected_pct": expected_pct,
            "other_pct": found.other_pct,
            "bend": say("part.lie_straight", "lie straight")
            if other_straight
            else say(
                "part.bend_by_most",
                "bend by {crimp_pct:g} % or more",
                crimp_pct=LARGEST_CRIMP_PCT,
            ),
        }
    )


_FIELDS: Final = ("contraction_pct", "crimp_pct")


def _yarn(words: Words, system: str, of_yarn_pct: float, seen: Observation) -> str | None:
    """Return the yarn that states the crimp that was seen; ``None`` if the whole set does."""
    if words.grounds is None or seen.actual != of_yarn_pct:
        return None
    symbols = words.grounds.pair.symbols
    crimps: Mapping[str, float] = getattr(symbols, system).stated_crimps_pct
    yarns: Mapping[str, Yarn] = getattr(symbols.construction, system).yarns
    stating = (key for key, pct in crimps.items() if pct == seen.actual)
    return next((key for key in stating if _stated_field(yarns[key]) is not None), None)


def _stated_field(stated: Yarn | ThreadSystem) -> str | None:
    return next((name for name in _FIELDS if getattr(stated, name) is not None), None)


def _field(words: Words, system: str, key: str | None = None) -> str:
    """Return the field of warp or weft by which its crimp, or that of a yarn, is stated."""
    if words.grounds is None:
        return "crimp_pct"
    stated: ThreadSystem = getattr(words.grounds.pair.symbols.construction, system)
    if key is not None:
        return f"yarns/{key}/{_stated_field(stated.yarns[key])}"
    return _stated_field(stated) or "yarns"


@message(straight_warp, pointer=WARP, **_WORDS)
@message(wavy_warp, pointer=WARP, **_WORDS)
def _of_warp(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return _wording(f.cloth.stated_warp_crimp, words, seen, "warp")


@message(straight_weft, pointer=WEFT, **_WORDS)
@message(wavy_weft, pointer=WEFT, **_WORDS)
def _of_weft(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return _wording(f.cloth.stated_weft_crimp, words, seen, "weft")


@message(
    both_straight,
    pointer=WARP,
    both="With the stated crimps, {warp_pct:.3g} % of the warp and {weft_pct:.3g} % of the weft, "
    "both waves together are {actual:.0f} % as high as the two yarns are thick, less than "
    "{limit:g} %: yarns of this size cannot cross one another so straight. Check both; left out, "
    "they are estimated.",
)
def _of_both(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(
        values={
            "field": _field(words, "warp"),
            "warp_pct": f.cloth.warp_crimp_pct,
            "weft_pct": f.cloth.weft_crimp_pct,
        }
    )
