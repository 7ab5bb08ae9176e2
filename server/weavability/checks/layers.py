"""Checks of the declared layers: does the weave agree, and are stitched layers stitched?"""

from __future__ import annotations

from typing import Final

from weavability.checks.codes import CheckCode
from weavability.checks.facts import WeaveNumbers, WeaveWords
from weavability.checks.finding import Severity
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
from weavability.textiles.layered_weave import (
    LEAST_PILE_FLOAT_ENDS,
    MOST_EXCHANGED_SHARE,
    MOST_STITCHED_SHARE,
    Clash,
    Contradiction,
)
from weavability.textiles.numbers import N, passed

LAYERS: Final = "/construction/layers"
JOINED: Final = "/construction/layers/joined"

describe(
    CheckCode.LAYERS_CONTRADICTED,
    says="The weave must agree with the layers that the order declares.",
    compares="crossings of separate layers at which the lower one lies above with none; those of "
    f"stitched layers with {100 * MOST_STITCHED_SHARE:g} % of their crossings; exchanges of "
    f"interchanging layers with {100 * MOST_EXCHANGED_SHARE:g} %; each layer with one cloth; the "
    f"longest float of pile picks with {LEAST_PILE_FLOAT_ENDS} ends",
    formula="of two layers that one lies above which has its ends up and the other's ends down at "
    "more of their crossings",
    source="[BY-DEFINITION] of a layer",
)


@compare_weave(CheckCode.LAYERS_CONTRADICTED, passed, Severity.ERROR, unit="crossings")
def contradicted(w: WeaveNumbers[N], u: Usual[N], /) -> Compared[N]:
    """Hold the weave against what is declared."""
    return w.layer_clashes, (0 * w.layer_clashes,), True


_NOT_ABOVE: Final = (
    "At pick {pick} and end {end} of the repeat layer {other} lies above layer {layer}, "
)


_HALVES: Final = (
    " Layer {without_picks} has no picks and layer {without_ends} no ends: if they are one layer, "
    "give its ends and picks the same letter."
)
_CROSSING: Final = (
    _NOT_ABOVE + "which lies above it elsewhere. {crossings} of the repeat's crossings hold "
    "layers together that are declared separate. Correct the weave, or declare them stitched."
)
_ORDER: Final = (
    _NOT_ABOVE + "and at {share_pct:.0f} % of their crossings: neither lies above the other, "
    "so they are no stitched layers. If they change places, declare them interchanging; else "
    "correct the letters of ends and picks, or leave layers out."
)


@message(
    contradicted,
    pointer=LAYERS,
    crossing=_CROSSING,
    crossing_of_halves=_CROSSING + _HALVES,
    order=_ORDER,
    order_of_halves=_ORDER + _HALVES,
    never="Layers {layer} and {other} are declared interchanging, but {layer} lies above {other} "
    "throughout. Declare them separate, or correct the weave.",
    mixed="Layers {layer} and {other} are declared interchanging, but exchange at {share_pct:.0f} "
    "% of their crossings: they have no place in which one lies above the other. Correct the "
    "letters of ends and picks, or leave layers out.",
    layer="The threads of layer {layer} do not make one cloth by themselves. Correct the letters "
    "of ends and picks, or the weave.",
    loose_end="End {end} of the repeat never interlaces with the picks of its own layer {layer}. "
    "Correct the letters of ends and picks, or the weave.",
    loose_pick="Pick {pick} of the repeat never interlaces with the ends of its own layer {layer}. "
    "Correct the letters of ends and picks, or the weave.",
    pile="The picks of layer {layer}, pick {pick} the first, are declared pile, but float over "
    "less than {least_float} ends: they are no pile. Correct the letters of picks, or the weave.",
)
def _contradicted(w: WeaveNumbers[float], words: WeaveWords, seen: Observation) -> Wording:
    found = words.contradiction
    if found is None:
        raise ValueError("there is no contradiction to report")
    return Wording(
        values={
            "layer": found.layer,
            "other": found.other,
            "pick": found.pick,
            "end": found.end,
            "crossings": found.crossings,
            "share_pct": found.share_pct,
            "least_float": LEAST_PILE_FLOAT_ENDS,
            "without_picks": found.without_picks,
            "without_ends": found.without_ends,
        },
        variant=_variant(found),
        reported=None if found.clash is Clash.CROSSING else Reported(actual=None, limit=None),
    )


def _variant(found: Contradiction) -> str:
    if found.clash in (Clash.CROSSING, Clash.ORDER) and found.without_picks:
        return f"{found.clash.value}_of_halves"
    if found.clash is not Clash.LAYER:
        return found.clash.value
    return "loose_end" if found.end else "loose_pick" if found.pick else "layer"


describe(
    CheckCode.LAYERS_UNSTITCHED,
    says="Layers that are declared stitched must be stitched.",
    compares="number of parts that no stitch joins with one",
    formula="layers hang together if each lies above another and below it at some crossing; the "
    "strongly connected parts of that graph are counted",
    source="[CLAPHAM-1980]",
)


@compare_weave(CheckCode.LAYERS_UNSTITCHED, passed, Severity.ERROR, unit="layers")
def unstitched(w: WeaveNumbers[N], u: Usual[N], /) -> Compared[N]:
    """Find layers that no stitch holds."""
    return w.layer_parts, (1 + 0 * w.layer_parts,), True


message(
    unstitched,
    pointer=JOINED,
    error="The layers are declared stitched, but no stitch joins them: they come off as {actual} "
    "parts. Raise an end of the lower layer over a pick of the upper one, or declare the layers "
    "separate.",
)
