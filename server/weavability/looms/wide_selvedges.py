"""The selvedges of a panel in the reed: how wide they are, and what is beside the ordered width."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Generic, NamedTuple, Protocol

from weavability.looms.denting_request import DentingRequest, denting_request
from weavability.looms.reeds import MAX_ENDS_PER_DENT
from weavability.looms.selvedge_numbers import SelvedgeNumbers, selvedge_numbers
from weavability.looms.thresholds import in_force
from weavability.textiles.assumptions import End, Moves
from weavability.textiles.cloth_numbers import ClothNumbers
from weavability.textiles.cloth_symbols import (
    EDGE_ENDS_PER_DENT,
    ENDS_PER_DENT,
    SELVEDGE_ENDS,
    ClothSymbols,
)
from weavability.textiles.numbers import (
    N,
    Record,
    Truth,
    either,
    greatest,
    least,
    no,
    quotient,
    up,
    whole,
)
from weavability.textiles.selvedge_facts import MOST_USUAL_ENDS


class EdgedOrder(Protocol[N]):
    """What an order states of its selvedges, and of the reed beside them."""

    panels: N
    selvedge_ends: N
    selvedge: SelvedgeNumbers[N]
    denting: DentingRequest[N]


@dataclass(slots=True, kw_only=True)
class Edges(Record[N]):
    """The same alone, without all else that an order requests."""

    panels: N
    selvedge_ends: N
    selvedge: SelvedgeNumbers[N]
    denting: DentingRequest[N]


def edges_of(symbols: ClothSymbols) -> Edges[float]:
    """Gather what an order states of its selvedges.

    Raises:
        InputError: The requested reed or denting cannot be read; pointers are relative to the
            request.
    """
    return Edges(
        panels=symbols.panels,
        selvedge_ends=symbols.selvedge_ends,
        selvedge=selvedge_numbers(symbols),
        denting=denting_request(symbols),
    )


class SelvedgesInReed(NamedTuple, Generic[N]):
    """The selvedges of a panel in the reed, beside a ground at its sett.

    Attributes:
        width_cm: Of each.
        usual_cm: The width of each up to which it is no border.
        within_cm: The width of each up to which it is part of the ordered width: the usual one, or
            that of as many ends as are usual.
        beside_cm: What each is wider than that, so that the panel is.
    """

    width_cm: N
    usual_cm: N
    within_cm: N
    beside_cm: N


def selvedges_in_reed(
    order: EdgedOrder[N], cloth: ClothNumbers[N], moves: Moves | None = None
) -> SelvedgesInReed[N]:
    """Lay the selvedges beside the ground at its sett, and divide them by the ordered width.

    The ends of the ground are counted over the whole width, and those of the selvedges in addition,
    as the trade does: a usual selvedge sets the ground closer by next to nothing. What a wide one
    has beyond that is beside it, so that an end more makes a cloth wider by its own width at most.

    Args:
        order: What the order requests.
        cloth: The cloth as ordered.
        moves: Values to assume in place of the defaults.
    """
    usual, panel_cm = in_force().usual, cloth.panel_reed_width_cm
    end_cm = panel_cm / cloth.ground_ends / _ends_to_one_of_the_ground(order, cloth, moves)
    width_cm: N = order.selvedge_ends / (2 * order.panels) * end_cm
    usual_cm = least(usual.selvedge_widest_cm, usual.selvedge_widest_share_pct / 200 * panel_cm)
    within_cm = greatest(usual_cm, MOST_USUAL_ENDS * end_cm)
    return SelvedgesInReed(width_cm, usual_cm, within_cm, greatest(width_cm - within_cm, 0.0))


def _ends_to_one_of_the_ground(
    order: EdgedOrder[N], cloth: ClothNumbers[N], moves: Moves | None
) -> N:
    """Return the ends of a selvedge that take the room of one of the ground.

    As far as its own denting or that of the ground is open, it is twice as dense, or as the ground
    if it has a weave of its own, and its band reaches from the one to the other.
    """
    request = order.denting
    by_edges, is_open = ends_per_dent_by_edges(order), no(request.is_pattern_stated)
    chosen = either(request.is_reed_stated, ends_per_dent_of_reed(order, cloth), by_edges)
    ends_per_dent = either(is_open, chosen, request.ends_per_dent)
    fullest = either(is_open, chosen, request.fullest_dent)
    in_edge_dents = moved_in_edge_dents(order, fullest, moves)
    end = None if moves is None else moves.end_of(ENDS_PER_DENT)
    if end is not None:
        # Fewer ends of the ground in its dents leave those of the selvedges narrow. In a stated
        # reed more of them leave the cloth narrow, so that `easing.NARROW` names this end.
        moved = fewest_by_edges(in_edge_dents) if end is End.HIGH else in_edge_dents
        ends_per_dent = either(is_open & no(request.is_reed_stated), moved, ends_per_dent)
    return in_edge_dents / ends_per_dent


def is_dented_by_edges(order: EdgedOrder[N]) -> Truth:
    """Return whether the stated denting of many selvedge ends decides that of an open ground.

    The width of these selvedges rests on both, whatever reeds a loom has.
    """
    request = order.denting
    are_stated: Truth = order.selvedge.are_many & (request.edge_ends_per_dent > 0)
    return are_stated & no(request.is_pattern_stated | request.is_reed_stated)


def ends_per_dent_by_edges(order: EdgedOrder[N]) -> N:
    """Return the ends in a dent of an open ground, beside which its edges are dented as usual."""
    stated = order.denting.edge_ends_per_dent
    by_edges = either(order.selvedge.has_own_weave, stated, fewest_by_edges(stated))
    return either(stated > 0, least(by_edges, max(CANDIDATES)), CANDIDATES[0])


def fewest_by_edges(in_edge_dents: N) -> N:
    """Return the ends in a dent of the ground if those of the edge dents are doubled."""
    return least(up(in_edge_dents / 2), max(CANDIDATES))


def moved_in_edge_dents(order: EdgedOrder[N], fullest: N, moves: Moves | None) -> N:
    """Return the same with other values assumed."""
    in_edge_dents = ends_in_edge_dents(order.selvedge, order.denting, fullest)
    end = None if moves is None else moves.end_of(EDGE_ENDS_PER_DENT)
    if end is None:
        return in_edge_dents
    moved = fullest if end is End.LOW else edge_ends_per_dent(fullest)
    return either(order.denting.edge_ends_per_dent > 0, in_edge_dents, moved)


def moved_selvedge_ends(order: EdgedOrder[N], moves: Moves | None) -> N:
    """Return the ends of all selvedges, with those that may be there if the order is open."""
    end = None if moves is None else moves.end_of(SELVEDGE_ENDS)
    if end is not End.HIGH:
        return order.selvedge_ends
    return either(order.selvedge.is_open, 2 * order.panels * MOST_USUAL_ENDS, order.selvedge_ends)


def ends_in_edge_dents(
    selvedge: SelvedgeNumbers[N], request: DentingRequest[N], fullest_dent: N
) -> N:
    """Return the ends in a dent of the selvedges beside a ground of so many in its fullest."""
    stated, doubled = request.edge_ends_per_dent, edge_ends_per_dent(fullest_dent)
    usual_edge = either(selvedge.has_own_weave, fullest_dent, doubled)
    return either(stated > 0, stated, usual_edge)


def ends_per_dent_of_reed(order: EdgedOrder[N], cloth: ClothNumbers[N]) -> N:
    """Return the ends in a dent that are taken in a stated reed, if they are not stated."""
    ends_per_10cm = 10 * cloth.ground_ends / cloth.panel_reed_width_cm
    nearest: N = nearest_ends_per_dent(order.denting, ends_per_10cm)
    return least(nearest, float(MAX_ENDS_PER_DENT))


def nearest_ends_per_dent(request: DentingRequest[N], ends_per_10cm: N) -> N:
    """Return the whole number that comes nearest to the sett in the stated reed."""
    return greatest(1.0, whole(quotient(ends_per_10cm, request.dents_per_10cm)))


def edge_ends_per_dent(fullest_dent: N) -> N:
    """Return the ends in an edge dent if they are not stated: twice those of a full dent."""
    return least(2 * fullest_dent, MAX_ENDS_PER_DENT)


CANDIDATES: Final = (2.0, 3.0, 4.0, 5.0, 6.0, 1.0)
"""Ends in a dent that are tried if they are not stated; of equal ones the first is taken."""
