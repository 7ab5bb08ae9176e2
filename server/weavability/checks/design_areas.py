"""Checks of the areas of a figured design: do they weave together, does each hold its threads?"""

from __future__ import annotations

from typing import Final

from weavability.checks.codes import CheckCode
from weavability.checks.facts import Facts, Words
from weavability.checks.finding import Severity
from weavability.checks.pointers import EFFECTS, PICTURE
from weavability.checks.rules import (
    Compared,
    Observation,
    Wording,
    compare,
    describe,
    message,
)
from weavability.checks.sett import TIGHTNESS_FORMULA, unlike
from weavability.looms.thresholds import Usual
from weavability.textiles.numbers import N, no, passed, short
from weavability.textiles.weave_structure import TAKE_UP_ENDS

describe(
    CheckCode.DESIGN_TAKE_UP,
    says="Ends from one beam must take up alike; a large tight figure leaves its neighbours slack.",
    compares="interlacings of the neighbouring ends that have most over those with fewest, with "
    "{warp_interlacing_note_times:g} and {warp_interlacing_warning_times:g} times",
    formula=f"mean interlacings of every {TAKE_UP_ENDS} neighbouring ends, over all picks; ends "
    "that the order winds on several beams are compared by warp.second_warp",
    source="even tightness: [BELL-1895], p. 106 and 126; number of ends and limits: "
    "[COMMON-PRACTICE]",
)


@compare(CheckCode.DESIGN_TAKE_UP, passed, Severity.WARNING, Severity.NOTE, unit="times")
def take_up(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Let neighbouring ends take up alike, of one beam."""
    limits = (u.warp_interlacing_warning_times, u.warp_interlacing_note_times)
    return f.order.design.take_up_times, limits, f.order.group_count < 2


@message(
    take_up,
    pointer=PICTURE,
    any="Some ends, as from end {busy} of the repeat on, interlace {actual:.1f} times as often as "
    "others, as from end {idle} on, more than {limit:g} times, and take up more: from one beam the "
    "others run slack. Spread the figure, use effects that interlace alike, or wind stripes on a "
    "beam of their own: state warp.beams.",
)
def _take_up(f: Facts[float], words: Words, seen: Observation) -> Wording:
    busy, idle = words.design.unlike_ends
    return Wording(values={"busy": busy, "idle": idle})


describe(
    CheckCode.DESIGN_OPEN_AREA,
    says="Threads slip in an area of long floats, however firm the cloth is around it.",
    compares="tightness of the square than which one in a hundred is as loose or looser with "
    "{sett_open_warning_pct:g} %, if the cloth on average is not looser, which is another check's",
    formula=TIGHTNESS_FORMULA,
    source="limit as for sett.open; share of the squares: [COMMON-PRACTICE]",
)


@compare(CheckCode.DESIGN_OPEN_AREA, short, Severity.NOTE, unit="%")
def open_area(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Hold the threads of every area."""
    limit = u.sett_open_warning_pct
    is_open = short(f.cloth.held_tightness_pct, limit)
    return f.cloth.loose_tightness_pct, (limit,), no(is_open) & no(f.order.is_stabilised)


_OPEN: Final = (
    "Ends {first_end}-{last_end} and picks {first_pick}-{last_pick} of the repeat are set to only "
    "{set_to} % of the jamming limit, less than {limit:g} %, the cloth on average to "
    "{mean:.0f} %: their threads will slip. Give the effect there a firmer weave, or state "
    "finishing.stabilised if a finish holds it."
)


@message(open_area, pointer=EFFECTS, note=_OPEN)
def _open_area(f: Facts[float], words: Words, seen: Observation) -> Wording:
    place = words.loosest._asdict() if words.loosest else {}
    set_to = unlike(seen.actual, seen.limit)
    return Wording(values={**place, "set_to": set_to, "mean": f.cloth.mean_tightness_pct})
