"""The selvedges of a panel in the reed, beside a ground of a known denting."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Generic, NamedTuple, Protocol

from weavability.looms.denting_request import DentingRequest, denting_request
from weavability.looms.reeds import MAX_ENDS_PER_DENT
from weavability.looms.selvedge_numbers import SelvedgeNumbers, selvedge_numbers
from weavability.looms.thresholds import in_force
from weavability.textiles.cloth_numbers import ClothNumbers
from weavability.textiles.cloth_symbols import ClothSymbols
from weavability.textiles.numbers import N, Record, either, greatest, least, up
from weavability.textiles.selvedge_facts import MOST_USUAL_ENDS


class EdgedOrder(Protocol[N]):
    """What an order states of its selvedges, and of the reed beside them."""

    panels: N
    selvedge_ends: N
    selvedge: SelvedgeNumbers[N]
    denting: DentingRequest[N]
    weave_ends: N


@dataclass(slots=True, kw_only=True)
class Edges(Record[N]):
    """The same alone, without all else that an order requests."""

    panels: N
    selvedge_ends: N
    selvedge: SelvedgeNumbers[N]
    denting: DentingRequest[N]
    weave_ends: N


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
        weave_ends=symbols.structure.ends,
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


def laid_beside(order: EdgedOrder[N], cloth: ClothNumbers[N], ends_to_one: N) -> SelvedgesInReed[N]:
    """Lay the selvedges beside the ground at its sett, and divide them by the ordered width.

    Args:
        order: What the order requests.
        cloth: The cloth as ordered.
        ends_to_one: Ends of a selvedge that take the room of one of the ground.
    """
    usual, panel_cm = in_force().usual, cloth.panel_reed_width_cm
    end_cm = panel_cm / cloth.ground_ends / ends_to_one
    width_cm: N = order.selvedge_ends / (2 * order.panels) * end_cm
    usual_cm = least(usual.selvedge_widest_cm, usual.selvedge_widest_share_pct / 200 * panel_cm)
    within_cm = greatest(usual_cm, MOST_USUAL_ENDS * end_cm)
    return SelvedgesInReed(width_cm, usual_cm, within_cm, greatest(width_cm - within_cm, 0.0))


def dents_of_selvedge(order: EdgedOrder[N], in_edge_dents: N) -> N:
    """Return the dents of one selvedge."""
    return up(order.selvedge_ends / (2 * order.panels) / in_edge_dents)


def ends_in_edge_dents(
    selvedge: SelvedgeNumbers[N], request: DentingRequest[N], fullest_dent: N
) -> N:
    """Return the ends in a dent of the selvedges beside a ground of so many in its fullest."""
    stated, doubled = request.edge_ends_per_dent, edge_ends_per_dent(fullest_dent)
    usual_edge = either(selvedge.has_own_weave, fullest_dent, doubled)
    return either(stated > 0, stated, usual_edge)


def edge_ends_per_dent(fullest_dent: N) -> N:
    """Return the ends in an edge dent if they are not stated: twice those of a full dent."""
    return least(2 * fullest_dent, MAX_ENDS_PER_DENT)
