"""The ends in a dent that suit a cloth: what a mill draws in if an order leaves it open."""

from __future__ import annotations

from dataclasses import replace
from math import inf
from typing import Final, Generic, NamedTuple

from weavability.looms.denting_request import DentingRequest
from weavability.looms.edge_dents import (
    EdgedOrder,
    dents_of_selvedge,
    ends_in_edge_dents,
    laid_beside,
)
from weavability.looms.reeds import (
    AirSpace,
    ReedStock,
    air_space,
    reed_for_sett,
    usual_wire_share_pct,
)
from weavability.looms.thresholds import Usual
from weavability.textiles.cloth_numbers import ClothNumbers
from weavability.textiles.numbers import (
    N,
    Truth,
    anywhere,
    down,
    either,
    least,
    no,
    passed,
    short,
)


def air_of_reed(
    request: DentingRequest[N], dents_per_10cm: N, fullest_dent: N, usual: Usual[float]
) -> AirSpace[N]:
    """Return the room between the wires of a reed, with the wire share stated or usual for it."""
    usual_pct = usual_wire_share_pct(
        dents_per_10cm,
        share_of_pitch_pct=usual.reed_wire_share_of_pitch_pct,
        least_mm=usual.reed_wire_least_mm,
    )
    return air_space(
        dents_per_10cm=dents_per_10cm,
        ends_per_dent=fullest_dent,
        end_width_mm=request.mean_width_mm,
        wire_share_pct=either(request.wire_share_pct > 0, request.wire_share_pct, usual_pct),
        knot_widths=usual.reed_knot_width_diameters
        * request.coarsest_diameter_mm
        / request.mean_width_mm,
    )


class FillLimits(NamedTuple, Generic[N]):
    """How full a dent may be, in per cent of its gap, before a check notes it and warns of it.

    Attributes:
        is_alone: Whether they are those of an end that is alone in its dent.
    """

    warning_pct: N
    note_pct: N
    is_alone: Truth


def fill_limits(
    request: DentingRequest[N], fullest_dent: N, usual: Usual[float] | Usual[N]
) -> FillLimits[N]:
    """Return the limits of the fill of a dent.

    The ends of a dent separate into two sheets. One that is alone has nothing to separate from, but
    has to go through, so that it is warned of at once; a tape folds.
    """
    none: N = 0 * fullest_dent
    is_tape = passed(request.mean_width_mm, request.coarsest_diameter_mm)
    is_alone: Truth = (fullest_dent == 1) & no(is_tape)
    of_one = usual.reed_single_end_warning_pct + none
    return FillLimits(
        either(is_alone, of_one, usual.reed_gap_fill_warning_pct + none),
        either(is_alone, of_one, usual.reed_gap_fill_note_pct + none),
        is_alone,
    )


def roomiest_fill_pct(
    request: DentingRequest[N], dents_per_10cm: N, fullest_dent: N, usual: Usual[float]
) -> N:
    """Return the fill of a dent in the coarsest reed for a sett, with most ends in each dent."""
    most = usual.reed_most_ends_per_dent + 0 * fullest_dent
    # A wire share that is stated is that of the reed to be used, not that of a coarser one.
    other = _without_wire_share(request)
    return air_of_reed(other, dents_per_10cm * fullest_dent / most, most, usual).fill_pct


ENDS_PER_DENT_BAND: Final = (1, 2)
"""How many ends fewer, and how many more, a dent may take than the number that is chosen."""


CANDIDATES: Final = (2.0, 3.0, 4.0, 5.0, 6.0, 1.0)
"""Ends in a dent that are tried if they are not stated; of equal ones the first is taken."""


OF_A_WARNING: Final = 1000.0
OF_A_NOTE: Final = 50.0
OF_ONE_END: Final = 10.0
OF_A_SPLIT_REPEAT: Final = 15.0
OF_NO_REED: Final = 15.0
"""What counts against a denting: a finding that it would bring, an end more in the dent, a repeat
that the dents split differently each time, a reed that is not in stock. A split repeat is worth one
more end, not two, and so is a reed in stock: the stock decides between dentings that are about as
usual, and does not bring five ends into the dents of a shirting. Common practice, no source; the
dentings of published cloths are tried in the tests."""


def suited_denting(
    request: DentingRequest[N],
    order: EdgedOrder[N],
    cloth: ClothNumbers[N],
    stock: ReedStock[N],
    usual: Usual[float],
) -> N:
    """Return the ends in a dent that a mill would take.

    A wire share that is stated is that of the reed to be used, and each other reed has its own, as
    it has its own edge dents. So it is chosen with the usual ones, and stating those of the chosen
    one changes nothing; but if what is stated brings a finding there, or a reed that is not in
    stock, it is chosen anew as if all had it.
    """
    with_edges = _without_wire_share(request)
    with_usual = replace(with_edges, edge_ends_per_dent=0 * request.edge_ends_per_dent)
    suited = _suited_in(with_usual, order, cloth, stock, usual)
    for before, after, is_stated in (
        (with_usual, with_edges, request.edge_ends_per_dent > 0),
        (with_edges, request, request.wire_share_pct > 0),
    ):
        if not anywhere(is_stated):
            continue
        as_before, stated = (
            _cost_with(each, order, cloth, stock, usual, suited) for each in (before, after)
        )
        is_other: Truth = is_stated & (stated > as_before + OF_ONE_END)
        if anywhere(is_other):
            other = _suited_in(after, order, cloth, stock, usual)
            suited = either(is_other, other, suited)
    return suited


def has_other_in_stock(
    order: EdgedOrder[N],
    cloth: ClothNumbers[N],
    stock: ReedStock[N],
    usual: Usual[float],
    chosen: N,
) -> Truth:
    """Return whether as many ends in a dent, or about as many, use a reed in stock.

    No check warns of it that does not warn of the reed for the number that is chosen.
    """
    request, none = order.denting, 0 * cloth.ground_ends
    if not anywhere(stock.present):
        return stock.present
    own = _reed_for(request, order, cloth, stock, usual, chosen + none)
    warnings = _warnings_of(request, order, usual, own.dents_per_10cm, chosen + none)
    found: Truth = stock.present & no(own.is_missing)
    for count in CANDIDATES:
        ends = count + none
        is_open = stock.present & no(found) & is_about(ends, chosen)
        if not anywhere(is_open):
            continue
        reed = _reed_for(request, order, cloth, stock, usual, ends)
        warned = _warnings_of(request, order, usual, reed.dents_per_10cm, ends)
        found = found | (is_open & no(reed.is_missing) & (warned <= warnings))
    return found


def _warnings_of(
    request: DentingRequest[N], order: EdgedOrder[N], usual: Usual[float], mounted: N, count: N
) -> N:
    return down(_cost_of_reed(request, order, usual, mounted, count) / OF_A_WARNING)


def _cost_with(
    request: DentingRequest[N],
    order: EdgedOrder[N],
    cloth: ClothNumbers[N],
    stock: ReedStock[N],
    usual: Usual[float],
    count: N,
) -> N:
    reed = _reed_for(request, order, cloth, stock, usual, count)
    of_reed = _cost_of_reed(request, order, usual, reed.dents_per_10cm, count)
    return of_reed + either(reed.is_missing, OF_NO_REED, 0.0)


def _without_wire_share(request: DentingRequest[N]) -> DentingRequest[N]:
    return replace(request, wire_share_pct=0 * request.wire_share_pct)


def _suited_in(
    request: DentingRequest[N],
    order: EdgedOrder[N],
    cloth: ClothNumbers[N],
    stock: ReedStock[N],
    usual: Usual[float],
) -> N:
    """Return the ends in a dent that are objected to least, with the wire share of a request.

    Nothing is chosen that a check of the reed objects to while there is a denting without: one in
    which a knot passes and the ends have room, in a reed that is neither too fine nor too coarse.
    So coarse warps get fewer dents and more ends in each. Among those, the fewest ends; one more
    if the repeat then comes out, or if that reed is in stock. Those are left out that count more at
    the least than what is chosen already.
    """
    none: N = 0 * cloth.ground_ends
    chosen, least_cost = none, inf + none
    for count in CANDIDATES:
        if not anywhere(least_cost > (OF_A_NOTE if count == 1.0 else OF_ONE_END * count)):
            continue
        ends = count + none
        cost = _cost_with(request, order, cloth, stock, usual, ends)
        chosen = either(cost < least_cost, ends, chosen)
        least_cost = least(cost, least_cost)
    return chosen


def is_about(ends: N, usual_ends: N) -> Truth:
    """Return whether so many ends may be drawn into a dent that usually takes others."""
    fewer, more = ENDS_PER_DENT_BAND
    about: Truth = (ends >= usual_ends - fewer) & (ends <= usual_ends + more)
    return about


class _ReedFor(NamedTuple, Generic[N]):
    """The reed for so many ends in a dent, and whether a stock lacks it."""

    dents_per_10cm: N
    is_missing: Truth


def _reed_for(
    request: DentingRequest[N],
    order: EdgedOrder[N],
    cloth: ClothNumbers[N],
    stock: ReedStock[N],
    usual: Usual[float],
    count: N,
) -> _ReedFor[N]:
    needed = _dents_needed_per_10cm(request, order, cloth, count)
    nearest = stock.nearest(needed)
    in_stock = stock.present & is_within(100 * (needed / nearest - 1), usual)
    return _ReedFor(either(in_stock, nearest, needed), stock.present & no(in_stock))


def cost_of_reed(order: EdgedOrder[N], usual: Usual[float], mounted: N, count: N) -> N:
    """Return what counts against a reed that is there, with so many ends in a dent."""
    return _cost_of_reed(order.denting, order, usual, mounted, count)


def _cost_of_reed(
    request: DentingRequest[N], order: EdgedOrder[N], usual: Usual[float], mounted: N, count: N
) -> N:
    air = air_of_reed(request, mounted, count, usual)
    limits = fill_limits(request, count, usual)
    knot, fill = air.knot_mm / air.gap_mm, air.fill_pct / limits.note_pct
    single = count == 1
    costs = (
        (short(mounted, usual.reed_coarsest_dents_per_10cm), OF_A_WARNING),
        (passed(mounted, usual.reed_finest_dents_per_10cm), OF_A_WARNING),
        (passed(count, usual.reed_most_ends_per_dent), OF_A_WARNING),
        (passed(air.fill_pct, limits.warning_pct), OF_A_WARNING),
        # The more a knot or the ends lack of room, the more it counts: full dents get most ends.
        (passed(knot, 1.0), OF_A_NOTE * knot),
        (passed(fill, 1.0), OF_A_NOTE * fill),
        (short(mounted, usual.reed_usual_coarsest_dents_per_10cm), OF_A_NOTE),
        (passed(mounted, usual.reed_usual_finest_dents_per_10cm), OF_A_NOTE),
        (no(single), OF_ONE_END * count),
        # One end in a dent is for open setts: it takes the most dents, and wires part every end.
        (single, OF_A_NOTE),
        (no(_comes_out(order.weave_ends, count)), OF_A_SPLIT_REPEAT),
    )
    cost: N = 0 * count
    for applies, weight in costs:
        cost = cost + either(applies, weight, 0.0)
    return cost


def needed_with_edges(
    panel_cm: N, order: EdgedOrder[N], cloth: ClothNumbers[N], ends_per_dent: N, in_edge_dents: N
) -> N:
    """Return the reed in which ground and selvedges fill the width of a panel exactly."""
    return (
        reed_for_sett(reed_ends_per_cm=cloth.ground_ends / panel_cm, ends_per_dent=ends_per_dent)
        + 20 * dents_of_selvedge(order, in_edge_dents) / panel_cm
    )


def needed_if_stated(order: EdgedOrder[N], cloth: ClothNumbers[N], count: N) -> N:
    """Return the reed that a cloth needs if so many ends in a dent are stated."""
    return _dents_needed_per_10cm(order.denting, order, cloth, count)


def _dents_needed_per_10cm(
    request: DentingRequest[N], order: EdgedOrder[N], cloth: ClothNumbers[N], count: N
) -> N:
    in_edge_dents = ends_in_edge_dents(order.selvedge, request, count)
    panel_cm = cloth.panel_reed_width_cm
    if anywhere(order.selvedge.are_many):
        beside_cm = laid_beside(order, cloth, in_edge_dents / count).beside_cm
        panel_cm = panel_cm + 2 * either(request.is_reed_stated, 0.0, beside_cm)
    return needed_with_edges(panel_cm, order, cloth, count, in_edge_dents)


def _comes_out(repeat_ends: N, count: N) -> Truth:
    """Return whether all dents hold the same places of the repeat, or whole repeats."""
    dents, repeats = repeat_ends / count, count / repeat_ends
    alike: Truth = (dents == down(dents)) | (repeats == down(repeats))
    return alike


def is_within(change_pct: N, usual: Usual[float]) -> Truth:
    """Return whether width or sett may change by so much to use a reed in stock."""
    change: N = abs(change_pct)
    return no(passed(change, usual.reed_stock_tolerance_pct + 0 * change))
