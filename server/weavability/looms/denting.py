"""Denting of a cloth on a loom: the reed, its gaps, and the nearest reed in stock."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf
from typing import Final, Generic, NamedTuple

from weavability.looms.denting_request import DentingRequest
from weavability.looms.order_numbers import OrderNumbers
from weavability.looms.reeds import (
    MAX_ENDS_PER_DENT,
    AirSpace,
    ReedStock,
    air_space,
    reed_for_sett,
    usual_wire_share_pct,
)
from weavability.looms.thresholds import Usual, in_force
from weavability.looms.wide_selvedges import (
    CANDIDATES,
    ends_in_edge_dents,
    ends_per_dent_by_edges,
    ends_per_dent_of_reed,
    is_dented_by_edges,
    moved_in_edge_dents,
    moved_selvedge_ends,
    selvedges_in_reed,
)
from weavability.textiles.assumptions import End, Moves
from weavability.textiles.cloth import ClothFacts
from weavability.textiles.cloth_numbers import ClothNumbers
from weavability.textiles.cloth_states import with_numbers
from weavability.textiles.cloth_symbols import ENDS_PER_DENT
from weavability.textiles.numbers import (
    N,
    Record,
    Truth,
    anywhere,
    down,
    either,
    greatest,
    least,
    no,
    passed,
    quotient,
    short,
    up,
)


@dataclass(slots=True, kw_only=True)
class DentingNumbers(Record[N]):
    """The denting of a cloth on a loom in numbers.

    Attributes:
        has_stock: Whether the loom states its reeds.
        nearest_dents_per_10cm: Nearest reed in stock; the one needed if there is no stock.
        requested_reeds_in_stock: Reeds in stock that are the one requested.
        has_other_in_stock: Whether the ends in a dent are left open, and others of the usual ones
            would use a reed in stock that no check warns of.
    """

    ends_per_cm_in_reed: N
    needed_dents_per_10cm: N
    has_stock: Truth
    nearest_dents_per_10cm: N
    requested_reeds_in_stock: N
    has_other_in_stock: Truth
    dents_per_10cm: N
    width_change_pct: N
    ends_per_dent: N
    fullest_dent: N
    selvedge_dents: N
    selvedge_ends_per_dent: N
    air: AirSpace[N]


def in_stated_reed(
    order: OrderNumbers[N], cloth: ClothNumbers[N], moves: Moves | None = None
) -> ClothNumbers[N]:
    """Return a cloth with the width in the reed that its ends fill.

    If the order states the reed, ends, reed and denting decide the width, whatever sett, width and
    crimp need; else the reed is chosen for these, and wide selvedges are partly beside the ordered
    width: see :func:`selvedges_in_reed`. The width of one panel stays the one that sett, width and
    crimp need.

    Args:
        order: What the order requests.
        cloth: The cloth as ordered.
        moves: Values to assume in place of the defaults.
    """
    request = order.denting
    if not anywhere(request.is_reed_stated):
        return _beside_wide_selvedges(order, cloth, moves)
    open_pattern, ends_per_dent = no(request.is_pattern_stated), request.ends_per_dent
    fullest = request.fullest_dent
    if anywhere(open_pattern):
        chosen = _moved_ends_per_dent(ends_per_dent_of_reed(order, cloth), moves)
        ends_per_dent = either(open_pattern, chosen, ends_per_dent)
        fullest = either(open_pattern, chosen, fullest)
    in_edge_dents = moved_in_edge_dents(order, fullest, moves)
    in_selvedges = moved_selvedge_ends(order, moves)
    dents = cloth.ground_ends / ends_per_dent + 2 * _dents_of(order, in_selvedges, in_edge_dents)
    panel_cm = either(
        request.is_reed_stated,
        quotient(10 * dents, request.dents_per_10cm),
        cloth.panel_reed_width_cm,
    )
    gaps_cm = (order.panels - 1) * order.panel_gap_cm
    filled = with_numbers(cloth, reed_width_cm=order.panels * panel_cm + gaps_cm)
    if not anywhere(no(request.is_reed_stated)):
        return filled
    chosen_cm = _beside_wide_selvedges(order, cloth, moves).reed_width_cm
    width_cm = either(request.is_reed_stated, filled.reed_width_cm, chosen_cm)
    return with_numbers(cloth, reed_width_cm=width_cm)


def _beside_wide_selvedges(
    order: OrderNumbers[N], cloth: ClothNumbers[N], moves: Moves | None
) -> ClothNumbers[N]:
    """Return a cloth, for which the reed is chosen, with the width that wide selvedges add."""
    if not anywhere(order.selvedge.are_many):
        return cloth
    added_cm: N = 2 * order.panels * selvedges_in_reed(order, cloth, moves).beside_cm
    return with_numbers(cloth, reed_width_cm=cloth.reed_width_cm + added_cm)


def chosen_panel_cm(order: OrderNumbers[N], cloth: ClothNumbers[N]) -> N:
    """Return the width of a panel for which a reed is chosen."""
    ordered_cm, filled_cm = cloth.panel_reed_width_cm, filled_panel_cm(order, cloth)
    is_wider: Truth = no(order.denting.is_reed_stated) & passed(filled_cm, ordered_cm)
    return either(is_wider, filled_cm, ordered_cm)


def _moved_ends_per_dent(chosen: N, moves: Moves | None) -> N:
    end = None if moves is None else moves.end_of(ENDS_PER_DENT)
    if end is None:
        return chosen
    fewer, more = ENDS_PER_DENT_BAND
    if end is End.LOW:
        return greatest(1.0, chosen - fewer)
    return least(chosen + more, float(MAX_ENDS_PER_DENT))


def filled_panel_cm(order: OrderNumbers[N], cloth: ClothNumbers[N]) -> N:
    """Return the width in the reed that one panel fills."""
    gaps_cm: N = (order.panels - 1) * order.panel_gap_cm
    return (cloth.reed_width_cm - gaps_cm) / order.panels


def cloth_in_reed(cloth: ClothFacts, order: OrderNumbers[float]) -> ClothFacts:
    """Return the facts of a cloth with the width that it fills in a stated reed.

    Grey and finished it is as ordered: what the reed makes of that is ``reed.sett_mismatch``. So it
    is in the loom, if the reed is chosen: what wide selvedges add is ``selvedge.wide``.
    """
    numbers = in_stated_reed(order, cloth.numbers)
    if numbers is cloth.numbers:
        return cloth
    widths = replace(
        cloth.widths,
        panel_reed_cm=filled_panel_cm(order, numbers),
        reed_cm=numbers.reed_width_cm,
    )
    filled = replace(cloth, numbers=numbers, widths=widths)
    if not order.denting.is_reed_stated:
        return filled
    in_loom = cloth.states.loom_state
    spread = in_loom.width_cm / widths.panel_reed_cm
    in_loom = replace(
        in_loom,
        width_cm=widths.panel_reed_cm,
        ends_per_cm=in_loom.ends_per_cm * spread,
        mass_g_per_m2=in_loom.mass_g_per_m2 * spread,
    )
    return replace(filled, states=replace(cloth.states, loom_state=in_loom))


def denting_numbers(
    order: OrderNumbers[N], cloth: ClothNumbers[N], stock: ReedStock[N], usual: Usual[float]
) -> DentingNumbers[N]:
    """Find the denting of a cloth with the reeds of a loom."""
    request = order.denting
    ground_cm = either(
        request.is_reed_stated, filled_panel_cm(order, cloth), cloth.panel_reed_width_cm
    )
    ends_per_cm = cloth.ground_ends / ground_cm
    ends_per_dent, fullest = request.ends_per_dent, request.fullest_dent
    is_left_open: Truth = no(request.is_pattern_stated) & no(request.is_reed_stated)
    has_other = is_left_open
    if anywhere(no(request.is_pattern_stated)):
        chosen = ends_per_dent_of_reed(order, cloth)
        if anywhere(is_left_open):
            suited = _suited_denting(order, cloth, stock, usual)
            chosen = either(is_left_open, suited.ends_per_dent, chosen)
            chosen = either(is_dented_by_edges(order), ends_per_dent_by_edges(order), chosen)
            has_other = is_left_open & suited.has_other_in_stock
        ends_per_dent = either(request.is_pattern_stated, ends_per_dent, chosen)
        fullest = either(request.is_pattern_stated, fullest, chosen)
    in_edge_dents = ends_in_edge_dents(order.selvedge, request, fullest)
    selvedge_dents = _dents_of(order, order.selvedge_ends, in_edge_dents)
    needed = _needed_dents_per_10cm(order, cloth, ends_per_dent, selvedge_dents)
    nearest = stock.nearest(needed)
    compared = either(request.is_reed_stated, request.dents_per_10cm, nearest)
    change_pct = 100 * (needed / compared - 1)
    fits = request.is_reed_stated | _is_within(change_pct, usual)
    mounted = either(fits, compared, needed)
    return DentingNumbers(
        ends_per_cm_in_reed=ends_per_cm,
        needed_dents_per_10cm=needed,
        has_stock=stock.present,
        nearest_dents_per_10cm=nearest,
        requested_reeds_in_stock=stock.count(request.dents_per_10cm),
        has_other_in_stock=has_other,
        dents_per_10cm=mounted,
        width_change_pct=change_pct,
        ends_per_dent=ends_per_dent,
        fullest_dent=fullest,
        selvedge_dents=selvedge_dents,
        selvedge_ends_per_dent=in_edge_dents,
        air=air_of_reed(request, mounted, fullest, usual),
    )


def _dents_of(order: OrderNumbers[N], selvedge_ends: N, in_edge_dents: N) -> N:
    """Return the dents of one selvedge."""
    return up(selvedge_ends / (2 * order.panels) / in_edge_dents)


def _needed_dents_per_10cm(
    order: OrderNumbers[N], cloth: ClothNumbers[N], ends_per_dent: N, selvedge_dents: N
) -> N:
    """Return the reed in which ground and selvedges fill the reed width exactly."""
    panel_cm = chosen_panel_cm(order, cloth)
    return (
        reed_for_sett(reed_ends_per_cm=cloth.ground_ends / panel_cm, ends_per_dent=ends_per_dent)
        + 20 * selvedge_dents / panel_cm
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


class _Suited(NamedTuple, Generic[N]):
    """The ends in a dent that suit a cloth; see :attr:`DentingNumbers.has_other_in_stock`."""

    ends_per_dent: N
    has_other_in_stock: Truth


def _suited_denting(
    order: OrderNumbers[N], cloth: ClothNumbers[N], stock: ReedStock[N], usual: Usual[float]
) -> _Suited[N]:
    """Return the ends in a dent that a mill would take.

    A wire share that is stated is that of the reed to be used, and each other reed has its own, as
    it has its own edge dents. So it is chosen with the usual ones, and stating those of the chosen
    one changes nothing; but if what is stated brings a finding there, or a reed that is not in
    stock, it is chosen anew as if all had it.
    """
    request = order.denting
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
            _cost_with(each, order, cloth, stock, usual, suited.ends_per_dent)
            for each in (before, after)
        )
        is_other: Truth = is_stated & (stated > as_before + OF_ONE_END)
        if anywhere(is_other):
            other = _suited_in(after, order, cloth, stock, usual)
            suited = _Suited(
                either(is_other, other.ends_per_dent, suited.ends_per_dent),
                (is_other & other.has_other_in_stock) | (no(is_other) & suited.has_other_in_stock),
            )
    return suited


def _cost_with(
    request: DentingRequest[N],
    order: OrderNumbers[N],
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
    order: OrderNumbers[N],
    cloth: ClothNumbers[N],
    stock: ReedStock[N],
    usual: Usual[float],
) -> _Suited[N]:
    """Return the ends in a dent that are objected to least, with the wire share of a request.

    Nothing is chosen that a check of the reed objects to while there is a denting without: one in
    which a knot passes and the ends have room, in a reed that is neither too fine nor too coarse.
    So coarse warps get fewer dents and more ends in each. Among those, the fewest ends; one more
    if the repeat then comes out, or if that reed is in stock. Those are left out that count more at
    the least than what is chosen already, unless there is a stock and they are about as many.
    """
    none: N = 0 * cloth.ground_ends
    chosen, least_cost, warnings = none, inf + none, inf + none
    in_stock = []
    for count in CANDIDATES:
        least_of_it = OF_A_NOTE if count == 1.0 else OF_ONE_END * count
        ends = count + none
        may_be_chosen = anywhere(least_cost > least_of_it)
        if not (may_be_chosen or anywhere(stock.present & _is_about(ends, chosen))):
            continue
        reed = _reed_for(request, order, cloth, stock, usual, ends)
        if not (may_be_chosen or anywhere(no(reed.is_missing))):
            continue  # neither chosen nor another one in stock, whatever counts against it
        of_reed = _cost_of_reed(request, order, usual, reed.dents_per_10cm, ends)
        cost = of_reed + either(reed.is_missing, OF_NO_REED, none)
        better = cost < least_cost
        chosen, least_cost = either(better, ends, chosen), least(cost, least_cost)
        warned = down(of_reed / OF_A_WARNING)
        warnings = either(better, warned, warnings)
        in_stock.append((ends, either(reed.is_missing, inf, warned)))
    fewest_in_stock = inf + none
    for ends, warned in in_stock:
        of_others = either(_is_about(ends, chosen), warned, inf)
        fewest_in_stock = least(of_others, fewest_in_stock)
    return _Suited(chosen, fewest_in_stock <= warnings)


def _is_about(ends: N, usual_ends: N) -> Truth:
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
    order: OrderNumbers[N],
    cloth: ClothNumbers[N],
    stock: ReedStock[N],
    usual: Usual[float],
    count: N,
) -> _ReedFor[N]:
    needed = _dents_needed_per_10cm(request, order, cloth, count)
    nearest = stock.nearest(needed)
    in_stock = stock.present & _is_within(100 * (needed / nearest - 1), usual)
    return _ReedFor(either(in_stock, nearest, needed), stock.present & no(in_stock))


def cost_of_reed(order: OrderNumbers[N], usual: Usual[float], mounted: N, count: N) -> N:
    """Return what counts against a reed that is there, with so many ends in a dent."""
    return _cost_of_reed(order.denting, order, usual, mounted, count)


def _cost_of_reed(
    request: DentingRequest[N], order: OrderNumbers[N], usual: Usual[float], mounted: N, count: N
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


def dents_needed_per_10cm(order: OrderNumbers[N], cloth: ClothNumbers[N], count: N) -> N:
    """Return the reed in which ground and selvedges fill the reed width, so many ends in a dent."""
    return _dents_needed_per_10cm(order.denting, order, cloth, count)


def _dents_needed_per_10cm(
    request: DentingRequest[N], order: OrderNumbers[N], cloth: ClothNumbers[N], count: N
) -> N:
    in_edge_dents = ends_in_edge_dents(order.selvedge, request, count)
    edges = _dents_of(order, order.selvedge_ends, in_edge_dents)
    return _needed_dents_per_10cm(order, cloth, count, edges)


class DentingInStock(NamedTuple):
    """A number of ends in a dent, and the reed in stock that is nearest for it.

    Attributes:
        needed_dents_per_10cm: Reed that the cloth needs with so many ends in a dent.
        dents_per_10cm: Nearest in stock.
        change_pct: Change of the cloth's width in it.
        cost: What counts against it.
    """

    ends_per_dent: int
    needed_dents_per_10cm: float
    dents_per_10cm: float
    change_pct: float
    cost: float


def dentings_in_stock(
    order: OrderNumbers[float],
    cloth: ClothNumbers[float],
    stock: ReedStock[float],
    usual: Usual[float],
    ends_per_dent: float,
) -> list[DentingInStock]:
    """Return the nearest reed in stock for the numbers of ends in a dent about the usual one.

    Those that a check warns of are left out, unless it warns of all.
    """
    found = []
    about = [count for count in sorted(CANDIDATES) if _is_about(count, ends_per_dent)]
    for count in about or sorted(CANDIDATES):
        needed = dents_needed_per_10cm(order, cloth, count)
        nearest = stock.nearest(needed)
        cost = cost_of_reed(order, usual, nearest, count)
        found.append(
            DentingInStock(int(count), needed, nearest, 100 * (needed / nearest - 1), cost)
        )
    fewest = min(down(each.cost / OF_A_WARNING) for each in found)
    return [each for each in found if down(each.cost / OF_A_WARNING) == fewest]


def _comes_out(repeat_ends: N, count: N) -> Truth:
    """Return whether all dents hold the same places of the repeat, or whole repeats."""
    dents, repeats = repeat_ends / count, count / repeat_ends
    alike: Truth = (dents == down(dents)) | (repeats == down(repeats))
    return alike


def _is_within(change_pct: N, usual: Usual[float]) -> Truth:
    change: N = abs(change_pct)
    return no(passed(change, usual.reed_stock_tolerance_pct + 0 * change))


def is_within_stock_tolerance(change_pct: float) -> bool:
    """Return whether width or sett may change by so much to use a reed in stock."""
    return bool(_is_within(change_pct, in_force().usual))
