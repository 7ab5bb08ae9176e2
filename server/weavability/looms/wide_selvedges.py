"""The selvedges of a panel in the reed: how wide they are, and what is beside the ordered width."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final, cast

from weavability.looms.denting_request import DentingRequest
from weavability.looms.edge_dents import (
    EdgedOrder,
    SelvedgesInReed,
    edge_ends_per_dent,
    ends_in_edge_dents,
    laid_beside,
)
from weavability.looms.reeds import MAX_ENDS_PER_DENT, NO_STOCK, ReedStock
from weavability.looms.suited_denting import CANDIDATES, suited_denting
from weavability.looms.thresholds import in_force
from weavability.textiles.assumptions import End, Moves
from weavability.textiles.cloth_numbers import ClothNumbers
from weavability.textiles.cloth_symbols import EDGE_ENDS_PER_DENT, ENDS_PER_DENT, SELVEDGE_ENDS
from weavability.textiles.numbers import (
    N,
    Truth,
    anywhere,
    either,
    greatest,
    least,
    no,
    quotient,
    up,
    whole,
)
from weavability.textiles.selvedge_facts import MOST_USUAL_ENDS


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
    return laid_beside(order, cloth, _ends_to_one_of_the_ground(order, cloth, moves))


def _ends_to_one_of_the_ground(
    order: EdgedOrder[N], cloth: ClothNumbers[N], moves: Moves | None
) -> N:
    """Return the ends of a selvedge that take the room of one of the ground.

    If its own denting and that of the ground are open, it is twice as dense, or as the ground if it
    has a weave of its own, and its band reaches from the one to the other.
    """
    request = order.denting
    is_open, is_fixed = no(request.is_pattern_stated), request.edge_ends_per_dent > 0
    chosen = either(request.is_reed_stated, ends_per_dent_of_reed(order, cloth), CANDIDATES[0])
    if anywhere(is_dented_beside_edges(order)):
        beside = ends_per_dent_beside_edges(order, cloth)
        chosen = either(is_dented_beside_edges(order), beside, chosen)
    ends_per_dent = either(is_open, chosen, request.ends_per_dent)
    fullest = either(is_open, chosen, request.fullest_dent)
    in_edge_dents = moved_in_edge_dents(order, fullest, moves)
    end = None if moves is None else moves.end_of(ENDS_PER_DENT)
    if end is not None:
        # Fewer ends of the ground in its dents leave those of the selvedges narrow. In a stated
        # reed more of them leave the cloth narrow, so that `easing.NARROW` names this end.
        fewest, most = BESIDE_EDGES_BAND
        moved = (
            either(is_fixed, fewest, up(in_edge_dents / 2))
            if end is End.HIGH
            else either(is_fixed, most, in_edge_dents)
        )
        ends_per_dent = either(is_open & no(request.is_reed_stated), moved, ends_per_dent)
    return in_edge_dents / ends_per_dent


def is_dented_beside_edges(order: EdgedOrder[N]) -> Truth:
    """Return whether the width of wide selvedges rests on the denting of an open ground.

    Their own is stated, so that it does not follow the ground's.
    """
    request = order.denting
    are_stated: Truth = order.selvedge.are_many & (request.edge_ends_per_dent > 0)
    return are_stated & no(request.is_pattern_stated | request.is_reed_stated)


def ends_per_dent_beside_edges(order: EdgedOrder[N], cloth: ClothNumbers[N]) -> N:
    """Return the ends in a dent of an open ground beside many selvedge ends.

    They suit the ground beside edges that are dented as usual, whatever reeds a loom has: the width
    of the cloth may rest on them.
    """
    request = order.denting
    with_usual = replace(request, edge_ends_per_dent=0 * request.edge_ends_per_dent)
    no_stock: ReedStock[N] = cast("Any", NO_STOCK)
    return suited_denting(with_usual, order, cloth, no_stock, in_force().usual)


def moved_in_edge_dents(order: EdgedOrder[N], fullest: N, moves: Moves | None) -> N:
    """Return the ends in a dent of the selvedges with other values assumed."""
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


def ends_per_dent_of_reed(order: EdgedOrder[N], cloth: ClothNumbers[N]) -> N:
    """Return the ends in a dent that are taken in a stated reed, if they are not stated."""
    ends_per_10cm = 10 * cloth.ground_ends / cloth.panel_reed_width_cm
    nearest: N = nearest_ends_per_dent(order.denting, ends_per_10cm)
    return least(nearest, float(MAX_ENDS_PER_DENT))


def nearest_ends_per_dent(request: DentingRequest[N], ends_per_10cm: N) -> N:
    """Return the whole number that comes nearest to the sett in the stated reed."""
    return greatest(1.0, whole(quotient(ends_per_10cm, request.dents_per_10cm)))


BESIDE_EDGES_BAND: Final = (min(CANDIDATES), max(CANDIDATES))
"""The fewest and the most ends that a dent of an open ground may take beside wide selvedges."""
