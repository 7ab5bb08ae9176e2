"""Denting of a cloth on a loom: the reed, its gaps, and the nearest reed in stock."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

from weavability.looms.edge_dents import dents_of_selvedge, ends_in_edge_dents
from weavability.looms.order_numbers import OrderNumbers
from weavability.looms.reeds import MAX_ENDS_PER_DENT, AirSpace, ReedStock
from weavability.looms.suited_denting import (
    CANDIDATES,
    ENDS_PER_DENT_BAND,
    OF_A_WARNING,
    air_of_reed,
    cost_of_reed,
    has_other_in_stock,
    is_about,
    is_within,
    needed_if_stated,
    needed_with_edges,
    suited_denting,
)
from weavability.looms.thresholds import Usual, in_force
from weavability.looms.wide_selvedges import (
    ends_per_dent_beside_edges,
    ends_per_dent_of_reed,
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
    side_dents = up(in_selvedges / (2 * order.panels) / in_edge_dents)
    dents = cloth.ground_ends / ends_per_dent + 2 * side_dents
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
            suited = suited_denting(request, order, cloth, stock, usual)
            chosen = either(is_left_open, suited, chosen)
            is_beside = is_left_open & order.selvedge.are_many
            if anywhere(is_beside & stock.present):
                beside = ends_per_dent_beside_edges(order, cloth)
                chosen = either(is_beside, beside, chosen)
            others = has_other_in_stock(order, cloth, stock, usual, chosen)
            has_other = is_left_open & others
        ends_per_dent = either(request.is_pattern_stated, ends_per_dent, chosen)
        fullest = either(request.is_pattern_stated, fullest, chosen)
    in_edge_dents = ends_in_edge_dents(order.selvedge, request, fullest)
    panel_cm = chosen_panel_cm(order, cloth)
    needed = needed_with_edges(panel_cm, order, cloth, ends_per_dent, in_edge_dents)
    nearest = stock.nearest(needed)
    compared = either(request.is_reed_stated, request.dents_per_10cm, nearest)
    change_pct = 100 * (needed / compared - 1)
    fits = request.is_reed_stated | is_within(change_pct, usual)
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
        selvedge_dents=dents_of_selvedge(order, in_edge_dents),
        selvedge_ends_per_dent=in_edge_dents,
        air=air_of_reed(request, mounted, fullest, usual),
    )


def dents_needed_per_10cm(order: OrderNumbers[N], cloth: ClothNumbers[N], count: N) -> N:
    """Return the reed in which so many ends in a dent fill the width for which one is chosen."""
    in_edge_dents = ends_in_edge_dents(order.selvedge, order.denting, count)
    return needed_with_edges(chosen_panel_cm(order, cloth), order, cloth, count, in_edge_dents)


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
    about = [count for count in sorted(CANDIDATES) if is_about(count, ends_per_dent)]
    for count in about or sorted(CANDIDATES):
        needed = needed_if_stated(order, cloth, count)
        nearest = stock.nearest(needed)
        cost = cost_of_reed(order, usual, nearest, count)
        found.append(
            DentingInStock(int(count), needed, nearest, 100 * (needed / nearest - 1), cost)
        )
    fewest = min(down(each.cost / OF_A_WARNING) for each in found)
    return [each for each in found if down(each.cost / OF_A_WARNING) == fewest]


def is_within_stock_tolerance(change_pct: float) -> bool:
    """Return whether width or sett may change by so much to use a reed in stock."""
    return bool(is_within(change_pct, in_force().usual))
