"""Checks of the reed: is it in stock, does it give the sett, do ends and knots pass?"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from weavability.checks.codes import CheckCode
from weavability.checks.easing import NARROW, THIN_WARP, WIDE
from weavability.checks.facts import Facts, Words
from weavability.checks.finding import Severity
from weavability.checks.pointers import DENTS, ENDS_PER_DENT, SETT
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
from weavability.looms.denting import (
    DentingInStock,
    dentings_in_stock,
    filled_panel_cm,
)
from weavability.looms.reeds import WIRE_SHARE_SOURCE
from weavability.looms.suited_denting import air_of_reed, fill_limits, roomiest_fill_pct
from weavability.looms.thresholds import Usual, in_force
from weavability.looms.wide_selvedges import is_dented_beside_edges, selvedges_in_reed
from weavability.textiles.assumptions import Assumption
from weavability.textiles.construction import Stage
from weavability.textiles.numbers import N, no, passed, quotient, short
from weavability.textiles.rounded_numbers import shown_beyond
from weavability.textiles.sentences import say

WIRE_SHARE: Final = "/construction/reed/wire_share_pct"

describe(
    CheckCode.REED_NOT_IN_STOCK,
    says="The required reed is not in stock: buy it, or adjust sett or width.",
    compares="reed needed for sett and width with the nearest reed in stock",
    formula="dents/10 cm = 10 x ends/cm in the reed / ends per dent; change = needed / stock - 1, "
    "at most {reed_stock_tolerance_pct:g} %; a requested reed must itself be in stock; a note if "
    "ends per dent are not stated and one fewer, or up to two more, use a reed in stock",
    source="[BY-ARITHMETIC]",
)


@compare(
    CheckCode.REED_NOT_IN_STOCK,
    passed,
    Severity.WARNING,
    unit="dents/10 cm",
    cleared_by=(NARROW, WIDE),
)
def no_reed_in_stock_fits(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Allow the nearest reed in stock to change the cloth's width a little."""
    found = f.fit.denting
    applies = found.has_stock & no(f.order.denting.is_reed_stated) & no(found.has_other_in_stock)
    return _change_in_stock_pct(f), (u.reed_stock_tolerance_pct,), applies


@compare(
    CheckCode.REED_NOT_IN_STOCK,
    passed,
    Severity.NOTE,
    unit="dents/10 cm",
    cleared_by=(NARROW, WIDE),
)
def usual_denting_not_in_stock(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Note a denting of our own choice that the stock lacks, if it serves with another."""
    applies = f.fit.denting.has_stock & f.fit.denting.has_other_in_stock
    return _change_in_stock_pct(f), (u.reed_stock_tolerance_pct,), applies


def _change_in_stock_pct(f: Facts[N]) -> N:
    found = f.fit.denting
    change: N = abs(100 * (found.needed_dents_per_10cm / found.nearest_dents_per_10cm - 1))
    return change


@compare(CheckCode.REED_NOT_IN_STOCK, short, Severity.WARNING, unit="dents/10 cm")
def requested_reed_not_in_stock(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Look for the requested reed in stock."""
    count = f.fit.denting.requested_reeds_in_stock
    return count, (1 + 0 * count,), f.fit.denting.has_stock & f.order.denting.is_reed_stated


_IN_IT: Final = (
    ", which makes the cloth {width_cm:.1f} cm wide in the grey ({change_pct:+.1f} %) or needs "
    "another sett. Order the reed, or agree on the change."
)
_NOT_IN_STOCK: Final = "dents/10 cm; the nearest in stock has {limit:g}" + _IN_IT


@message(
    no_reed_in_stock_fits,
    pointer=SETT,
    needed="The cloth needs a reed of {actual:.1f} " + _NOT_IN_STOCK,
    needed_otherwise="Drawn in {usual_ends} to a dent, the cloth needs a reed of {usual_dents:.1f} "
    "dents/10 cm, and {ends_per_dent} to a dent one of {actual:.1f}; nearest in stock is one of "
    "{limit:g}" + _IN_IT,
)
def _no_reed_in_stock_fits(f: Facts[float], words: Words, seen: Observation) -> Wording:
    own = f.fit.denting
    if own.ends_per_dent != own.fullest_dent:
        return _beside_stock(f, own.needed_dents_per_10cm, own.nearest_dents_per_10cm)
    nearest = min(_dentings_in_stock(f), key=lambda each: abs(each.change_pct))
    own_change_pct = 100 * (own.needed_dents_per_10cm / own.nearest_dents_per_10cm - 1)
    if not short(abs(nearest.change_pct), abs(own_change_pct)):
        return _beside_stock(f, own.needed_dents_per_10cm, own.nearest_dents_per_10cm)
    wording = _beside_stock(f, nearest.needed_dents_per_10cm, nearest.dents_per_10cm)
    usual = {"usual_ends": int(own.ends_per_dent), "usual_dents": own.needed_dents_per_10cm}
    other = {"ends_per_dent": nearest.ends_per_dent}
    return replace(wording, values={**wording.values, **usual, **other}, variant="needed_otherwise")


_OTHER_IN_STOCK: Final = (
    "Drawn in as usual, {usual_ends} to a dent, the cloth needs a reed of {actual:.1f} "
    "dents/10 cm, and the nearest in stock has {limit:g}; {ends_per_dent} to a dent, the reed of "
    "{other_dents:g} serves"
)


@message(
    usual_denting_not_in_stock,
    pointer=ENDS_PER_DENT,
    other_in_stock=_OTHER_IN_STOCK + ". State that number to use it, or order the reed.",
    beside_selvedges=_OTHER_IN_STOCK + ", but the selvedges, whose own denting is stated, then "
    "take {other_cm:.1f} cm each in place of {own_cm:.1f} cm. State that number to use it, or "
    "order the reed.",
)
def _usual_denting_not_in_stock(f: Facts[float], words: Words, seen: Observation) -> Wording:
    own, served = f.fit.denting, in_force().usual.reed_stock_tolerance_pct
    other = min(
        _dentings_in_stock(f), key=lambda each: (passed(abs(each.change_pct), served), each.cost)
    )
    values: dict[str, float] = {
        "usual_ends": int(own.ends_per_dent),
        "ends_per_dent": other.ends_per_dent,
        "other_dents": other.dents_per_10cm,
    }
    is_beside = is_dented_beside_edges(f.order)
    if is_beside:
        own_cm = selvedges_in_reed(f.order, f.cloth).width_cm
        values["own_cm"] = own_cm
        values["other_cm"] = own_cm * other.ends_per_dent / own.ends_per_dent
    return Wording(
        values=values,
        reported=_reported(own.needed_dents_per_10cm, own.nearest_dents_per_10cm),
        variant="beside_selvedges" if is_beside else "other_in_stock",
    )


def _dentings_in_stock(f: Facts[float]) -> list[DentingInStock]:
    own = f.fit.denting.ends_per_dent
    return dentings_in_stock(f.order, f.cloth, f.loom.reeds, in_force().usual, own)


@message(
    requested_reed_not_in_stock,
    pointer=DENTS,
    requested="The order requests a reed of {actual:.1f} dents/10 cm; the nearest in stock to what "
    "sett and width need has {limit:g}" + _IN_IT,
)
def _requested_reed_not_in_stock(f: Facts[float], words: Words, seen: Observation) -> Wording:
    requested, found = f.order.denting.dents_per_10cm, f.fit.denting
    wording = _beside_stock(f, found.needed_dents_per_10cm, found.nearest_dents_per_10cm)
    return replace(wording, reported=_reported(requested, found.nearest_dents_per_10cm))


def _beside_stock(f: Facts[float], needed: float, nearest: float) -> Wording:
    return Wording(
        values={
            "width_cm": f.cloth.grey_width_cm * needed / nearest,
            "change_pct": 100 * (needed / nearest - 1),
        },
        reported=_reported(needed, nearest),
    )


def _reported(needed: float, nearest: float) -> Reported:
    return Reported(actual=needed, limit=nearest, at_least=needed < nearest)


describe(
    CheckCode.REED_SETT_MISMATCH,
    says="The requested reed must agree with sett, width and weft crimp.",
    compares="requested reed with the reed that sett, width and crimp need",
    formula="change of width = needed dents / requested dents - 1, at most "
    "{reed_stock_tolerance_pct:g} %",
    source="[BY-ARITHMETIC]",
)


@compare(
    CheckCode.REED_SETT_MISMATCH,
    passed,
    Severity.WARNING,
    unit="dents/10 cm",
    cleared_by=(NARROW, WIDE),
)
def sett_mismatch(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Reed, sett and weft crimp determine one another."""
    change: N = abs(_width_change_pct(f))
    return change, (u.reed_stock_tolerance_pct,), f.order.denting.is_reed_stated


def _width_change_pct(f: Facts[N]) -> N:
    return 100 * (quotient(f.fit.denting.needed_dents_per_10cm, f.order.denting.dents_per_10cm) - 1)


_IN_THE_REED: Final = (
    "In a reed of {actual:g} dents/10 cm with {ends_per_dent:.3g} ends per dent the cloth is "
    "{in_reed_cm:.1f} cm wide. "
)
_COMES_OUT: Final = (
    _IN_THE_REED + "With a weft crimp of {crimp_pct:.3g} % that comes out at {width_cm:.1f} cm "
    "{state}, and {stated_cm:.1f} cm is stated ({change_pct:+.1f} %): sett, width and weft crimp "
    "need {limit:.1f} dents/10 cm. "
)
_IN_LOOM_STATE: Final = (
    _IN_THE_REED + "As its width in the loom {stated_cm:.1f} cm is stated ({change_pct:+.1f} %): "
    "sett and width need {limit:.1f} dents/10 cm. "
)


@message(
    sett_mismatch,
    pointer=DENTS,
    warning=_COMES_OUT
    + "Correct one of them; if the others are right, the weft crimp is {needed_crimp_pct:.3g} %.",
    narrower_than_grey=_COMES_OUT
    + "Correct one of them: no weft crimp makes a cloth wider than it is in the reed.",
    in_loom_state=_IN_LOOM_STATE + "Correct one of them.",
)
def _sett_mismatch(f: Facts[float], words: Words, seen: Observation) -> Wording:
    requested, needed = f.order.denting.dents_per_10cm, f.fit.denting.needed_dents_per_10cm
    change_pct, in_reed_cm = _width_change_pct(f), filled_panel_cm(f.order, f.cloth)
    stage, stated_cm = Stage.GREY, f.cloth.grey_width_cm
    if words.grounds is not None:
        symbols = words.grounds.pair.symbols
        stage, stated_cm = symbols.stage, symbols.construction.width_cm
    needed_crimp_pct = 100 * (in_reed_cm / f.cloth.grey_width_cm - 1)
    variant = "warning" if needed_crimp_pct > 0 else "narrower_than_grey"
    finished, grey = say("part.finished", "finished"), say("part.grey", "grey")
    return Wording(
        values={
            "ends_per_dent": f.fit.denting.ends_per_dent,
            "in_reed_cm": in_reed_cm,
            "crimp_pct": f.cloth.weft_crimp_pct,
            "needed_crimp_pct": needed_crimp_pct,
            "width_cm": stated_cm * (1 + change_pct / 100),
            "stated_cm": stated_cm,
            "state": finished if stage is Stage.FINISHED else grey,
            "change_pct": change_pct,
        },
        variant="in_loom_state" if stage is Stage.LOOM_STATE else variant,
        reported=Reported(actual=requested, limit=needed, at_least=requested < needed),
    )


describe(
    CheckCode.REED_AIR_SPACE,
    says="Ends chafe in a full dent, and an end breaks if its knot does not pass the gap.",
    compares="ends of a dent side by side, and the thickness of a knot, with the clear gap; an end "
    "that is alone in its dent with {reed_single_end_warning_pct:g} % of it",
    formula="gap = dent pitch x (1 - share of the wire); share if not stated = "
    "{reed_wire_share_of_pitch_pct:g} % + {reed_wire_least_mm:g} mm / pitch; "
    "fill = ends per dent x width / gap, the width of a tape or else the diameter; "
    "knot = {reed_knot_width_diameters:g} diameters",
    source=WIRE_SHARE_SOURCE,
    thresholds=("reed_gap_fill_note_pct", "reed_gap_fill_warning_pct"),
)


@compare(
    CheckCode.REED_AIR_SPACE,
    passed,
    Severity.WARNING,
    Severity.NOTE,
    unit="%",
    cleared_by=(THIN_WARP,),
)
def full_gap(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Leave ends the room to separate into the two sheets of the shed."""
    limits = fill_limits(f.order.denting, f.fit.denting.fullest_dent, u)
    return f.fit.denting.air.fill_pct, (limits.warning_pct, limits.note_pct), True


@message(
    full_gap,
    pointer="{at}",
    warning="The ends of a dent side by side fill {fill_pct:.6g} % of the clear gap of "
    "{gap_mm:.2f} mm, more than {limit:g} %: expect chafing. Use thinner wires or a lower sett.",
    note="The ends of a dent side by side fill {fill_pct:.6g} % of the clear gap of "
    "{gap_mm:.2f} mm, more than {limit:g} %: they have little room to separate. Use thin wires.",
    in_any_reed="The ends of a dent side by side fill {actual:.0f} % of the clear gap of "
    "{gap_mm:.2f} mm, and {roomiest_pct:.0f} % at best in a usual reed, with {most} in each dent: "
    "so close a warp lies with its ends over one another in the dent, as that of a webbing does. "
    "Use thin wires, and expect chafing.",
    single="The one end of a dent is {fill_pct:.6g} % as thick as the clear gap of "
    "{gap_mm:.2f} mm, more than {limit:g} %: the wires press it flat and scrape it. Draw more ends "
    "in each dent of a coarser reed, or use thinner wires.",
)
def _full_gap(f: Facts[float], words: Words, seen: Observation) -> Wording:
    found, usual = f.fit.denting, in_force().usual
    roomiest_pct = roomiest_fill_pct(
        f.order.denting, found.dents_per_10cm, found.fullest_dent, usual
    )
    variant, at = "", SETT
    if fill_limits(f.order.denting, found.fullest_dent, usual).is_alone:
        variant, at = "single", ENDS_PER_DENT
    elif min(seen.actual, roomiest_pct) > usual.reed_gap_fill_warning_pct:
        variant = "in_any_reed"
    return Wording(
        values={
            "at": at,
            "fill_pct": shown_beyond(seen.actual, seen.limit),
            "gap_mm": found.air.gap_mm,
            "roomiest_pct": roomiest_pct,
            "most": int(usual.reed_most_ends_per_dent),
        },
        variant=variant,
        computed_from=_of_thinner_wires(f, words, seen.actual / seen.limit),
    )


def _of_thinner_wires(f: Facts[float], words: Words, times: float) -> tuple[Assumption, ...]:
    """Return the assumed share of the wires, if the least of its band makes so wide a gap."""
    share_pct = f.fit.denting.air.wire_share_pct
    return tuple(
        line
        for line in assumed_at(words, WIRE_SHARE)
        if line.band is not None and (100 - line.band.low) / (100 - share_pct) >= times
    )


@compare(CheckCode.REED_AIR_SPACE, passed, Severity.NOTE, unit="mm", cleared_by=(THIN_WARP,))
def thick_knot(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Let a knot pass between two wires."""
    return f.fit.denting.air.knot_mm, (f.fit.denting.air.gap_mm,), True


_NO_PASSAGE: Final = "A knot of about {actual:.2f} mm does not pass the clear gap of {limit:.2f} mm"


@message(
    thick_knot,
    pointer=ENDS_PER_DENT,
    knot=_NO_PASSAGE + ". Splice the warp, or draw {ends_per_dent} ends in a dent of a reed of "
    "{dents:.1f} dents/10 cm.",
    knot_in_any=_NO_PASSAGE
    + ", nor that of a coarser reed with up to {most} ends in a dent. Splice "
    "the warp, or use thinner wires.",
)
def _thick_knot(f: Facts[float], words: Words, seen: Observation) -> Wording:
    found, most = f.fit.denting, int(in_force().usual.reed_most_ends_per_dent)
    share = _of_thinner_wires(f, words, seen.actual / seen.limit)
    # A share that is stated is that of the reed to be used, not that of a coarser one.
    other = replace(f.order.denting, wire_share_pct=0.0)
    for ends in range(int(found.fullest_dent) + 1, most + 1):
        dents = found.dents_per_10cm * found.fullest_dent / ends
        air = air_of_reed(other, dents, float(ends), in_force().usual)
        if air.knot_mm <= air.gap_mm:
            values = {"ends_per_dent": ends, "dents": dents}
            return Wording(values=values, variant="knot", computed_from=share)
    return Wording(values={"most": most}, variant="knot_in_any", computed_from=share)


describe(
    CheckCode.REED_ENDS_PER_DENT,
    says="Many ends in a dent roll over one another and show as reed marks.",
    compares="ends in the fullest dent with the usual greatest number, {reed_most_ends_per_dent:g}",
    formula="as stated or chosen",
    source="",
)


@compare(CheckCode.REED_ENDS_PER_DENT, passed, Severity.WARNING, unit="ends/dent")
def ends_per_dent(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Few ends share a dent."""
    return f.fit.denting.fullest_dent, (u.reed_most_ends_per_dent,), True


message(
    ends_per_dent,
    pointer=ENDS_PER_DENT,
    warning="{actual} ends in a dent roll over one another and leave reed marks; up to {limit} are "
    "usual. Use a finer reed.",
)

describe(
    CheckCode.REED_COUNT,
    says="The reed is finer or coarser than reeds are usually made.",
    compares="dents per 10 cm with the coarsest and finest reeds of practice",
    formula="dents/10 cm of the reed to mount; ends per dent that are not stated are chosen for "
    "{reed_usual_coarsest_dents_per_10cm:g}-{reed_usual_finest_dents_per_10cm:g} dents/10 cm",
    source="",
)


@compare(CheckCode.REED_COUNT, passed, Severity.WARNING, unit="dents/10 cm")
def too_fine(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Wires can be set only so close."""
    return f.fit.denting.dents_per_10cm, (u.reed_finest_dents_per_10cm,), True


def _of_stated_reed(f: Facts[float], words: Words, seen: Observation) -> Wording:
    """Point at a reed that is stated, else at the ends in a dent for which it is chosen."""
    return Wording(values={"at": DENTS if f.order.denting.is_reed_stated else ENDS_PER_DENT})


message(
    too_fine,
    pointer="{at}",
    fine="A reed of {actual:.0f} dents/10 cm is finer than reeds are usually made (up to "
    "{limit:g}). Draw more ends in a dent.",
)(_of_stated_reed)


@compare(CheckCode.REED_COUNT, short, Severity.WARNING, unit="dents/10 cm")
def too_coarse(f: Facts[N], u: Usual[N], /) -> Compared[N]:
    """Wires far apart do not guide the weft."""
    return f.fit.denting.dents_per_10cm, (u.reed_coarsest_dents_per_10cm,), True


message(
    too_coarse,
    pointer="{at}",
    coarse="A reed of {actual:.1f} dents/10 cm is coarser than reeds are usually made (from "
    "{limit:g}). Draw fewer ends in a dent, or leave dents empty.",
)(_of_stated_reed)
