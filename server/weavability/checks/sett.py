"""Checks of the sett: how near is the cloth to jamming, or to slipping?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import isclose
from typing import Final

from weavability.checks.codes import CheckCode
from weavability.checks.easing import CLOSE, HIGH, ROOMY, ROUGHLY_KNOWN, THIN_WARP
from weavability.checks.facts import Facts, Words
from weavability.checks.finding import Severity
from weavability.checks.pointers import PICKS, SETT
from weavability.checks.rules import (
    Compared,
    Observation,
    Reported,
    Wording,
    compare,
    describe,
    message,
)
from weavability.checks.settling import assumed_at
from weavability.looms.default_limits import starting_value
from weavability.looms.thresholds import Usual
from weavability.textiles.numbers import N, either, greatest, no, passed, reached, short
from weavability.textiles.sett_thresholds import sett_thresholds
from weavability.textiles.square_lines import (
    LEAST_UNLIKE_TIMES,
    NEAR_THREADS,
    OVER_TIMES,
    SQUARE_THREADS,
)
from weavability.textiles.weave_squares import Place

TIGHTNESS_FORMULA: Final = (
    "100 / s, s = factor on both setts at which g(q1) + g(q2) = 1; g(q) = sqrt(1 - (q/D)^2), "
    "q = M x (pitch - w) + t, D = t1 + t2, w width and t thickness of the yarn, its diameter if it "
    f"is round; of a weave that repeats on more than {SQUARE_THREADS} threads in "
    f"the tightest square of {SQUARE_THREADS} x {SQUARE_THREADS}"
)
TIGHTNESS_SOURCE: Final = (
    "[PEIRCE-1937], for plain, [KEMP-1958], for tapes; the room at an interlacing carries it to "
    "other weaves"
)

_SET: Final = "The cloth is set to {set_to} % of the jamming limit"
_LAYER_SET: Final = "Layer {layer} is set to {set_to} % of the jamming limit"
_SET_HERE: Final = (
    "Ends {first_end}-{last_end} and picks {first_pick}-{last_pick} of the repeat are set to "
    "{set_to} % of the jamming limit"
)
_ON_AVERAGE: Final = ", the cloth on average to {mean:.0f} %"

MOST_DECIMALS: Final = 3

describe(
    CheckCode.SETT_JAMMED,
    says="Above the jamming limit the picks cannot be beaten up.",
    compares="tightness of threads that lie in one plane with the loom's greatest; a greatest that "
    "is only assumed gives a warning up to {sett_jammed_error_pct:g} %",
    formula=TIGHTNESS_FORMULA,
    source=f"{TIGHTNESS_SOURCE}; [LOOM-LIMIT]; {starting_value('/max_tightness_pct')}",
)


@compare(CheckCode.SETT_JAMMED, passed, Severity.ERROR, unit="%", eased_by=ROUGHLY_KNOWN)
def beyond_the_jam(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Compare with what no loom can beat up, unless this one states more.

    That is geometry of the cloth as woven, which is only guessed if what it shrinks is, or if a
    yarn's diameter is; the limit allows for the usual scatter of diameters.
    """
    return f.cloth.gapless_tightness_pct, (_impossible_pct(f, u),), True


@compare(CheckCode.SETT_JAMMED, passed, Severity.ERROR, unit="%", eased_by=ROOMY)
def too_many_abreast(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Compare likewise if fewer threads abreast of one another would pass on levels.

    How many do is no geometry: the limit is a little above the closest published webbing, so that
    the diameters have to be certain.
    """
    most = _impossible_pct(f, u)
    is_gapless = passed(f.cloth.gapless_tightness_pct, most)
    return f.cloth.in_plane_tightness_pct, (most,), no(is_gapless)


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


_ABREAST: Final = (
    "The {threads} side by side take {set_to} % of their room, and {on_one_side_pct:.0f} % of them "
    "lie on one side of the {others}, where they take {abreast} % of it, more than "
    "{most_abreast_pct:g} %"
)
_EVEN_SIDES: Final = (
    "Reduce {threads}, use finer yarn, or a weave that has as many {threads} on either side of the "
    "{others}."
)
_FULL_WIDTH: Final = (
    "The {threads} side by side take {set_to} % of their room, more than the {most_touching_pct:g} "
    "% that cloth wider than {narrow_cm:g} cm is taken to have at most"
)
_FEWER: Final = (
    "Reduce {threads}, or use finer yarn. If {threads} lie over one another, declare their layers "
    "in layers."
)
_LOOSER_OR_LAYERS: Final = (
    "Reduce picks or ends, or use finer yarn or a looser weave. If threads lie over one another "
    "there too, declare their layers in layers."
)
_LOOSER: Final = "Reduce picks or ends, or use finer yarn or a looser weave."
_THIS_LOOM: Final = "; this loom can beat up at most {most:g} %. "
_SUCH_A_LOOM: Final = (
    "; this loom states no max_tightness_pct, and one of its kind is taken to beat up at most "
    "{most:g} %. "
)
_ANY_LOOM: Final = "; no loom is taken to beat up more than {most:g} %. "


def _jam_messages(name: str, limit: str) -> dict[str, str]:
    return {
        name: _SET + limit + _LOOSER,
        f"{name}_of_layer": _LAYER_SET + limit + _LOOSER,
        f"{name}_abreast": _ABREAST + limit + _EVEN_SIDES,
        f"{name}_of_full_width": _FULL_WIDTH + limit + _FEWER,
        f"{name}_in_a_square": _SET_HERE + _ON_AVERAGE + limit + _LOOSER,
        f"{name}_in_a_square_beside_layers": _SET_HERE + _ON_AVERAGE + limit + _LOOSER_OR_LAYERS,
    }


MOST: Final = "/loom/max_tightness_pct"

_JAMMED: Final = {
    **_jam_messages("error", _THIS_LOOM),
    **_jam_messages("error_of_assumed_limit", _SUCH_A_LOOM),
    **_jam_messages("error_on_any_loom", _ANY_LOOM),
}


@message(beyond_the_jam, pointer="{at}", **_JAMMED)
@message(too_many_abreast, pointer="{at}", **_JAMMED)
def _beyond_the_jam(f: Facts[float], words: Words, seen: Observation) -> Wording:
    if assumed_at(words, MOST):
        return _of_limit(f, words, seen, "error_on_any_loom", seen.limit)
    return _of_limit(f, words, seen, "error", f.loom.max_tightness_pct)


@message(jammed, pointer="{at}", **_JAMMED)
def _jammed(f: Facts[float], words: Words, seen: Observation) -> Wording:
    name = "error_of_assumed_limit" if assumed_at(words, MOST) else "error"
    return _of_limit(f, words, seen, name, f.loom.max_tightness_pct)


def _of_limit(f: Facts[float], words: Words, seen: Observation, name: str, most: float) -> Wording:
    wording = _located(f, words, seen, words.tightest_in_plane, most, name, most=most)
    wording = replace(
        wording, reported=Reported(actual=seen.actual, limit=f.loom.max_tightness_pct)
    )
    if wording.variant == f"{name}_in_a_square" and _has_layers_beside(words):
        return replace(wording, variant=f"{wording.variant}_beside_layers")
    if wording.variant == name:
        for variant, values in (
            ("abreast", _abreast(f, words, seen)),
            ("of_full_width", _of_full_width(f, words, seen)),
        ):
            if values:
                found = {**wording.values, **values}
                return replace(wording, variant=f"{name}_{variant}", values=found)
    return wording


def _has_layers_beside(words: Words) -> bool:
    """Return whether threads can lie over one another in some squares of a weave."""
    if words.grounds is None:
        return False
    return bool(words.grounds.pair.symbols.squares.lists.figures["lies_over"].any())


def _side_by_side(f: Facts[float], words: Words, seen: Observation) -> dict[str, float | int | str]:
    """Name the threads that touch side by side, if nothing else is closer."""
    cover_pct = greatest(f.cloth.warp_cover_pct, f.cloth.weft_cover_pct)
    if words.grounds is None or not isclose(seen.actual, cover_pct, rel_tol=SAME_VALUE):
        return {}
    ends = f.cloth.warp_cover_pct >= f.cloth.weft_cover_pct
    return {"threads": "ends" if ends else "picks", "others": "picks" if ends else "ends"}


def _of_full_width(
    f: Facts[float], words: Words, seen: Observation
) -> dict[str, float | int | str]:
    """Say that threads side by side are closer than in cloth wider than webbing."""
    usual = sett_thresholds()
    named = _side_by_side(f, words, seen)
    is_wide = passed(f.cloth.grey_width_cm, usual.sett_abreast_width_cm)
    if not (named and is_wide and passed(seen.actual, usual.sett_touching_pct)):
        return {}
    most = {
        "most_touching_pct": usual.sett_touching_pct,
        "narrow_cm": usual.sett_abreast_width_cm,
    }
    return {**named, **most}


def _abreast(f: Facts[float], words: Words, seen: Observation) -> dict[str, float | int | str]:
    """Say how threads that touch side by side lie, if too many are on one side to pass."""
    named = _side_by_side(f, words, seen)
    if words.grounds is None or not named:
        return {}
    up_share = words.grounds.pair.symbols.structure.warp_up_share
    share = greatest(up_share, 1.0 - up_share)
    most_abreast_pct = sett_thresholds().sett_abreast_pct
    if not passed(share * seen.actual, most_abreast_pct):
        return {}
    return {
        **named,
        "on_one_side_pct": 100.0 * share,
        "abreast": unlike(share * seen.actual, most_abreast_pct),
        "most_abreast_pct": most_abreast_pct,
    }


def _located(
    f: Facts[float],
    words: Words,
    seen: Observation,
    place: Place | None,
    limit: float,
    name: str = "",
    **values: float | int,
) -> Wording:
    """Say how close the cloth is set, and where it is set closest, unless it is so everywhere."""
    ends_touch = _ends_touch(f, seen)
    said: dict[str, float | int | str] = {
        "set_to": unlike(seen.actual, limit),
        "at": SETT if ends_touch else PICKS,
        "threads": "ends" if ends_touch else "picks",
        **values,
    }
    name = name or seen.worded_as
    if place is None:
        layer = _layer_of(words, [each.mean_tightness_pct for each in f.cloth.layers], seen.actual)
        if layer:
            return Wording(variant=f"{name}_of_layer", values=said | {"layer": layer})
        return Wording(variant=name, values=said)
    where = place._asdict() | {"mean": f.cloth.mean_tightness_pct}
    return Wording(variant=f"{name}_in_a_square", values=said | where)


def _ends_touch(f: Facts[float], seen: Observation) -> bool:
    """Return whether ends side by side are what is closest, whatever the picks."""
    covers = [(f.cloth.warp_cover_pct, f.cloth.weft_cover_pct)]
    covers += [(each.warp_cover_pct, each.weft_cover_pct) for each in f.cloth.layers]
    return any(
        of_ends >= of_picks and isclose(seen.actual, of_ends, rel_tol=SAME_VALUE)
        for of_ends, of_picks in covers
    )


def _layer_of(words: Words, values: Sequence[float], actual: float) -> str:
    """Return the letter of the layer that has a value; ``""`` if none has, or none is declared."""
    if words.grounds is None or not words.tightest_layer:
        return ""
    layers = words.grounds.pair.symbols.layers
    if layers is None:
        return ""
    letters = [layer.letter for layer in layers.woven.layers if layer.is_set]
    found = (
        letter
        for letter, value in zip(letters, values, strict=False)
        if isclose(value, actual, rel_tol=SAME_VALUE)
    )
    return next(found, "")


SAME_VALUE: Final = 1e-9
"""Relative difference up to which two values are the same but for rounding."""


def unlike(actual: float, limit: float) -> str:
    """Write a value with no more decimals than it takes to differ from a limit."""
    written = (f"{actual:.{digits}f}" for digits in range(MOST_DECIMALS))
    return next(
        (text for text in written if float(text) != limit and float(text) != round(limit)),
        f"{actual:.0f}",
    )


describe(
    CheckCode.SETT_NOT_JUDGED,
    says="Threads that lie over one another are set against those of their own layer.",
    compares="tightness of threads that can lie over one another with the loom's greatest: if no "
    "layers are declared, cloths that are not bound to one another, and at least half of the picks "
    "(or ends) above or below near ones, up to {sett_over_pct:g} %; threads, of a declared layer "
    "as well, that are too close side by side, up to {sett_jammed_error_pct:g} % of their room "
    "while those that cross them are so far apart that nothing else jams, and beyond that if these "
    "leave room to pass and no more than {sett_abreast_pct:g} % is taken by threads abreast of one "
    "another, which is twice that in a weave that has half of them on either side, in cloth up to "
    "{sett_abreast_width_cm:g} cm wide, else up to {sett_touching_pct:g} % of their room; and "
    "tapes, which fold",
    formula=TIGHTNESS_FORMULA
    + f"; of two picks one lies above if it is so at {OVER_TIMES} of {OVER_TIMES + 1} or more of "
    f"the ends at which they are on unlike sides, which are more than one in {LEAST_UNLIKE_TIMES}; "
    f"there is to be one before and one after it within {NEAR_THREADS} picks, next to it or next "
    "to one of them; there is room to pass if the "
    "gap between two threads is at least t x the smaller of 2 and 1 + c of those that change sides "
    "there, c = cover / M, and both c and the cover of those on one side are at "
    "most {sett_abreast_pct:g} %",
    source=TIGHTNESS_SOURCE,
)


@compare(
    CheckCode.SETT_NOT_JUDGED,
    passed,
    Severity.WARNING,
    unit="%",
    cleared_by=({**ROOMY, "/loom/max_tightness_pct": HIGH},),
)
def not_judged(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Compare with what the loom can beat up, if threads in one plane do not pass it already."""
    most = f.loom.max_tightness_pct
    return f.cloth.tightness_pct, (most,), no(passed(f.cloth.in_plane_tightness_pct, most))


PUBLISHED: Final = {"webbing_pct": 260.0, "webbing_mm": 46.0, "rib_pct": 119.0, "satin_pct": 109.0}
"""How closely the ends of published cloths are set side by side: a seat belt [WEBBING-ITTA] and the
closest rib and satin of the cloths by which the service is tried."""

_AT_MOST: Final = "; this loom is taken to beat up at most {limit:g} %, but "
_DECLARE: Final = (
    "Declare the layer of each end and pick in layers, so that each is set against itself."
)
_OVER: Final = (
    _AT_MOST + "the threads can lie over one another, as in double cloth, backed cloth and pile, "
    "which is not judged without their layers. " + _DECLARE
)


@message(
    not_judged,
    pointer="/construction/{field}",
    warning=_SET + _OVER,
    warning_in_a_square=_SET_HERE + _ON_AVERAGE + _OVER,
    on_more_levels="The {threads} of layer {layer} side by side take {set_to} % of their room, "
    "more than the {limit:g} % to which this loom is taken to beat up, but the {others} are so far "
    "apart that they can pass one another on more levels than are declared, as in webbing, which "
    "is not judged. Declare as many layers of {threads} as lie over one another in the cloth.",
    on_levels="The {threads} side by side take {set_to} % of their room, more than the {limit:g} % "
    "to which this loom is taken to beat up, but the {others} are so far apart that they can pass "
    "one another on levels, as in webbing and close ribs, which is not judged without their "
    "layers. Published are {webbing_pct:g} % for webbing in twill, {webbing_mm:g} mm wide, and of "
    "full width {rib_pct:g} % for a rib in plain and {satin_pct:g} % for a satin: beyond that try "
    "it first. " + _DECLARE,
    tapes=_SET
    + _AT_MOST
    + "tapes that have no room fold or lie over one another, which is not judged. "
    "Use narrower tapes or fewer of them, or try it.",
)
def _not_judged(f: Facts[float], words: Words, seen: Observation) -> Wording:
    wording = _located(f, words, seen, words.tightest, seen.limit)
    covers = [(f.cloth.warp_cover_pct, f.cloth.weft_cover_pct)]
    if words.tightest_layer:
        covers = [(each.warp_cover_pct, each.weft_cover_pct) for each in f.cloth.layers]
    of_ends, of_picks = (max(some) for some in zip(*covers, strict=True))
    ends = of_ends > of_picks
    variant, values = (
        wording.variant,
        {
            **wording.values,
            "field": "layers",
            "threads": "ends" if ends else "picks",
            "others": "picks" if ends else "ends",
            "layer": words.tightest_layer,
            **PUBLISHED,
        },
    )
    if f.cloth.has_tape:
        touching = seen.actual == of_ends and ends
        variant = "tapes"
        values["field"] = "warp/ends_per_cm" if touching else "weft/picks_per_cm"
    elif words.tightest_layer:
        variant = "on_more_levels"
    elif seen.actual == greatest(of_ends, of_picks):
        variant = "on_levels"
    return replace(wording, variant=variant, values=values)


describe(
    CheckCode.SETT_TIGHT,
    says="A cloth near the jamming limit needs a strong beat-up and high warp tension.",
    compares="tightness with {sett_tight_note_pct:g} % and {sett_tight_warning_pct:g} %",
    formula=TIGHTNESS_FORMULA,
    source=TIGHTNESS_SOURCE,
)


@compare(
    CheckCode.SETT_TIGHT, reached, Severity.WARNING, Severity.NOTE, unit="%", cleared_by=(ROOMY,)
)
def tight(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Beat-up and warp tension rise towards the jam."""
    most, in_plane = f.loom.max_tightness_pct, f.cloth.in_plane_tightness_pct
    # Threads that can lie over one another and pass the limit are another check's.
    judged: N = either(passed(f.cloth.tightness_pct, most), in_plane, f.cloth.tightness_pct)
    limits = (u.sett_tight_warning_pct, u.sett_tight_note_pct)
    return judged, limits, no(passed(in_plane, most))


_OR_MORE: Final = ", {limit:g} % or more"
_BUMPS: Final = (
    ": expect bumping at the fell, high warp tension and more breaks. Use a heavy loom, a lower "
    "speed or fewer {threads}."
)
_STRONG: Final = ": it needs a strong beat-up and a firm warp tension."


@message(
    tight,
    pointer="{at}",
    warning=_SET + _OR_MORE + _BUMPS,
    warning_of_layer=_LAYER_SET + _OR_MORE + _BUMPS,
    warning_in_a_square=_SET_HERE + _OR_MORE + _ON_AVERAGE + _BUMPS,
    note=_SET + _OR_MORE + _STRONG,
    note_of_layer=_LAYER_SET + _OR_MORE + _STRONG,
    note_in_a_square=_SET_HERE + _OR_MORE + _ON_AVERAGE + _STRONG,
)
def _tight(f: Facts[float], words: Words, seen: Observation) -> Wording:
    of_all = seen.actual == f.cloth.tightness_pct
    place = words.tightest if of_all else words.tightest_in_plane
    return _located(f, words, seen, place, seen.limit)


describe(
    CheckCode.SETT_OPEN,
    says="The threads of an open cloth slip unless leno or a finish holds them.",
    compares="tightness by the mean floats of the cloth, with neither set closer than "
    "{sett_holding_times:g} times the other unless its threads touch side by side, with the "
    "{sett_open_warning_pct:g} % below which threads slip",
    formula=TIGHTNESS_FORMULA
    + "; the set that covers more (threads per cm x width) counts as if it covered no more than "
    "{sett_holding_times:g} times as much as the other: threads slip along those that cross them, "
    "however close these are",
    source="",
)


@compare(CheckCode.SETT_OPEN, short, Severity.WARNING, unit="%", cleared_by=(CLOSE,))
def open_cloth(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Threads that hardly touch do not hold one another."""
    return f.cloth.held_tightness_pct, (u.sett_open_warning_pct,), no(f.order.is_stabilised)


_SLIP: Final = (
    ", less than {limit:g} %: its threads will slip. Raise the sett, bind in leno, or state "
    "finishing.stabilised if a finish holds it."
)


@message(
    open_cloth,
    pointer="/construction/{system}/{sett}",
    warning="The cloth is set to only {set_to} % of the jamming limit" + _SLIP,
    one_set="The {threads} are open and slip along the {others}, however close these are: as far "
    "as the two hold one another, the cloth is set to only {set_to} % of the jamming limit" + _SLIP,
)
def _open_cloth(f: Facts[float], words: Words, seen: Observation) -> Wording:
    one_set = not short(f.cloth.mean_tightness_pct, seen.limit)
    ends_open = one_set and f.cloth.warp_cover_pct < f.cloth.weft_cover_pct
    return Wording(
        values={
            "set_to": unlike(seen.actual, seen.limit),
            "system": "warp" if ends_open else "weft",
            "sett": "ends_per_cm" if ends_open else "picks_per_cm",
            "threads": "ends" if ends_open else "picks",
            "others": "picks" if ends_open else "ends",
        },
        variant="one_set" if one_set else "warning",
    )


describe(
    CheckCode.SETT_WARP_CROWDING,
    says="Ends that touch one another chafe at every change of shed.",
    compares="ends side by side, of declared layers those of each, with the width of the cloth; "
    "tapes are left out, which lie flat",
    formula="ends per cm x yarn diameter",
    source="",
)


@compare(CheckCode.SETT_WARP_CROWDING, passed, Severity.WARNING, unit="%", cleared_by=(THIN_WARP,))
def warp_crowding(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Leave room between ends side by side."""
    limits = (u.sett_warp_crowding_warning_pct,)
    of_layers: N = 0 * f.cloth.warp_cover_pct
    for layer in f.cloth.layers:
        of_layers = greatest(of_layers, either(layer.present, layer.warp_cover_pct, 0.0))
    # At a change of shed the ends of one layer pass one another, those of the others stay.
    filled: N = either(f.cloth.layers[0].present, of_layers, f.cloth.warp_cover_pct)
    return filled, limits, no(f.cloth.has_tape)


_FILL: Final = (
    " fill {filled} % of the width, more than {limit:g} %: they cling and chafe at every change of "
    "shed. Divide them over more shafts with staggered levels, and size well."
)


@message(
    warp_crowding,
    pointer=SETT,
    warning="The ends side by side" + _FILL,
    warning_of_layer="The ends of layer {layer} side by side" + _FILL,
)
def _warp_crowding(f: Facts[float], words: Words, seen: Observation) -> Wording:
    filled = unlike(seen.actual, seen.limit)
    layer = _layer_of(words, [each.warp_cover_pct for each in f.cloth.layers], seen.actual)
    if layer:
        return Wording(variant="warning_of_layer", values={"filled": filled, "layer": layer})
    return Wording(variant="warning", values={"filled": filled})
