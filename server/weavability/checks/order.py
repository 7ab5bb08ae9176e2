"""Checks of the order: is it long enough to be worth a warp, and does a piece come whole?"""

from __future__ import annotations

from typing import Final

from weavability.checks.codes import CheckCode
from weavability.checks.easing import LARGE_BEAM, away
from weavability.checks.facts import Facts, Words
from weavability.checks.finding import Severity
from weavability.checks.pointers import LENGTH
from weavability.checks.rules import (
    Compared,
    Observation,
    Wording,
    compare,
    describe,
    message,
)
from weavability.looms.thresholds import Usual
from weavability.textiles.numbers import N, passed, short

describe(
    CheckCode.ORDER_LENGTH,
    says="A short order costs more in changing the loom than in weaving.",
    compares="running time of the order with the {order_short_run_hours:g} h of a style change",
    formula="hours = length to weave / output",
    source="",
)


@compare(CheckCode.ORDER_LENGTH, short, Severity.NOTE, unit="h")
def length(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Compare the hours of the order with those of a style change."""
    return f.fit.hours, (u.order_short_run_hours,), f.order.length_ordered


message(
    length,
    pointer=LENGTH,
    note="The order runs {actual:.1f} h, less than a style change may take ({limit:g} h). Join it "
    "to an order on the same warp.",
)

describe(
    CheckCode.ORDER_PIECE_LENGTH,
    says="A piece comes whole from one warp and on one cloth roll.",
    compares="grey cloth of a piece with what a full warp beam gives and with what a full cloth "
    "roll holds; without pieces, that with {order_least_roll_m:g} m",
    formula="piece length / length kept in finishing; cloth from a beam = (capacity - waste) / "
    "(1 + crimp); roll = pi/4 (D^2 - d^2) / thickness",
    source="[BY-GEOMETRY]",
)


@compare(CheckCode.ORDER_PIECE_LENGTH, passed, Severity.WARNING, unit="m", cleared_by=(LARGE_BEAM,))
def beyond_a_beam(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Find pieces that no beam gives without a tying-in."""
    return f.order.piece_grey_m, (f.fit.cloth_per_beam_m,), f.order.piece_grey_m > 0.0


@compare(
    CheckCode.ORDER_PIECE_LENGTH,
    passed,
    Severity.WARNING,
    unit="m",
    cleared_by=(away("cloth_roll_diameter_cm"),),
)
def beyond_a_roll(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Find pieces that no roll takes up."""
    return f.order.piece_grey_m, (f.fit.cloth_roll_capacity_m,), f.order.piece_grey_m > 0.0


@compare(
    CheckCode.ORDER_PIECE_LENGTH,
    short,
    Severity.WARNING,
    unit="m",
    cleared_by=(away("cloth_roll_diameter_cm"),),
)
def next_to_no_roll(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Find rolls that hold hardly any cloth, if no piece says how much they have to hold."""
    return f.fit.cloth_roll_capacity_m, (u.order_least_roll_m,), f.order.piece_grey_m <= 0.0


_PIECE: Final = "/construction/order/piece_length_m"
_ROLL: Final = "/loom/cloth_roll_diameter_cm"

message(
    beyond_a_beam,
    pointer=_PIECE,
    beam="A piece is {actual:.0f} m of grey cloth, and a full warp beam gives {limit:.0f} m: every "
    "piece has a tying-in in it. Make shorter pieces, or use a loom with larger beams.",
)


@message(
    beyond_a_roll,
    pointer=_PIECE,
    roll="A piece is {actual:.0f} m of grey cloth, and a full cloth roll holds {roll_m:g} m: "
    "every piece is cut at the loom. Make shorter pieces, or use a loom with larger cloth rolls.",
)
def _beyond_a_roll(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(values={"roll_m": _readable(seen.limit)})


@message(
    next_to_no_roll,
    pointer=_ROLL,
    small_roll="A full cloth roll holds {roll_m:g} m of this cloth: it is taken off again and "
    "again. Check the diameters of the roll and of its tube, or use a loom with larger cloth "
    "rolls.",
)
def _next_to_no_roll(f: Facts[float], words: Words, seen: Observation) -> Wording:
    return Wording(values={"roll_m": _readable(seen.actual)})


def _readable(metres: float) -> float:
    """Return whole metres; of less than ten, two digits."""
    return float(f"{metres:.2g}") if metres < 10 else float(round(metres))
