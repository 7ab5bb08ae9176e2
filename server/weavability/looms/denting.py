"""Denting of a cloth on a loom: the reed, its gaps, and the nearest reed in stock."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from weavability.looms.loom_limits import LoomLimits
from weavability.looms.order_numbers import DentingRequest, OrderNumbers, stated_pattern
from weavability.looms.reeds import (
    MAX_ENDS_PER_DENT,
    WIRE_SHARE_SOURCE,
    AirSpace,
    DentingPattern,
    ReedStock,
    air_space,
    reed_for_sett,
)
from weavability.looms.thresholds import Usual, in_force
from weavability.textiles.assumptions import Grade, Ledger, ValueBand
from weavability.textiles.cloth import ClothFacts
from weavability.textiles.cloth_defaults import COMMON_PRACTICE
from weavability.textiles.cloth_states import ClothNumbers
from weavability.textiles.numbers import (
    N,
    Record,
    Truth,
    anywhere,
    either,
    greatest,
    least,
    no,
    passed,
    quotient,
    up,
    whole,
)
from weavability.textiles.sources import cite


@dataclass(frozen=True, slots=True, kw_only=True)
class Denting:
    """The reed for one cloth on one loom.

    Attributes:
        ends_per_cm_in_reed: Ground ends over the reed width in use.
        needed_dents_per_10cm: Reed in which ground and selvedges fill the reed width exactly.
        asked_dents_per_10cm: Reed that the order requests, if any.
        dents_per_10cm: Reed to mount: the requested one, else the nearest in stock within
            tolerance, else the one needed.
        ends_per_dent: Ground ends in a dent; the mean of an uneven denting.
        fullest_dent: Ground ends in the fullest dent.
        dents: Dents filled by all panels, those of the selvedges included.
        selvedge_dents: Dents of one selvedge.
        selvedge_ends_per_dent: Ends in a dent of a selvedge.
        from_stock: Whether ``dents_per_10cm`` is one of the loom's reeds in stock.
        nearest_in_stock_dents_per_10cm: ``None`` if the loom states no stock.
        width_change_pct: Change of the cloth's width with the reed requested or nearest in stock.
        air: Room between two wires, for the mean end and for a knot in the coarsest.
    """

    ends_per_cm_in_reed: float
    needed_dents_per_10cm: float
    asked_dents_per_10cm: float | None
    dents_per_10cm: float
    ends_per_dent: float
    fullest_dent: int
    dents: int
    selvedge_dents: int
    selvedge_ends_per_dent: int
    from_stock: bool
    nearest_in_stock_dents_per_10cm: float | None
    width_change_pct: float
    air: AirSpace[float]


@dataclass(slots=True, kw_only=True)
class DentingNumbers(Record[N]):
    """The denting of a cloth on a loom in numbers; see :class:`Denting`.

    Attributes:
        has_stock: Whether the loom states its reeds.
        nearest_dents_per_10cm: Nearest reed in stock; the one needed if there is no stock.
        requested_reeds_in_stock: Reeds in stock that are the one requested.
    """

    ends_per_cm_in_reed: N
    needed_dents_per_10cm: N
    has_stock: Truth
    nearest_dents_per_10cm: N
    requested_reeds_in_stock: N
    dents_per_10cm: N
    width_change_pct: N
    ends_per_dent: N
    fullest_dent: N
    selvedge_dents: N
    selvedge_ends_per_dent: N
    air: AirSpace[N]


def denting_numbers(
    order: OrderNumbers[N], cloth: ClothNumbers[N], stock: ReedStock[N], usual: Usual[float]
) -> DentingNumbers[N]:
    """Find the denting of a cloth with the reeds of a loom."""
    asked = order.denting
    ends_per_cm = cloth.ground_ends / cloth.panel_reed_width_cm
    ends_per_dent, fullest = asked.ends_per_dent, asked.fullest_dent
    if anywhere(no(asked.is_pattern_stated)):
        chosen = _chosen_ends_per_dent(asked, 10 * ends_per_cm, stock, usual)
        ends_per_dent = either(asked.is_pattern_stated, ends_per_dent, chosen)
        fullest = either(asked.is_pattern_stated, fullest, chosen)
    usual_edge = either(order.selvedge.has_own_weave, fullest, edge_ends_per_dent(fullest))
    in_edge_dents = either(asked.edge_ends_per_dent > 0, asked.edge_ends_per_dent, usual_edge)
    selvedge_dents = up(order.selvedge_ends / (2 * order.panels) / in_edge_dents)
    needed = (
        reed_for_sett(reed_ends_per_cm=ends_per_cm, ends_per_dent=ends_per_dent)
        + 20 * selvedge_dents / cloth.panel_reed_width_cm
    )
    nearest = stock.nearest(needed)
    compared = either(asked.is_reed_stated, asked.dents_per_10cm, nearest)
    change_pct = 100 * (needed / compared - 1)
    fits = asked.is_reed_stated | _is_within(change_pct, usual)
    mounted = either(fits, compared, needed)
    return DentingNumbers(
        ends_per_cm_in_reed=ends_per_cm,
        needed_dents_per_10cm=needed,
        has_stock=stock.present,
        nearest_dents_per_10cm=nearest,
        requested_reeds_in_stock=stock.count(asked.dents_per_10cm),
        dents_per_10cm=mounted,
        width_change_pct=change_pct,
        ends_per_dent=ends_per_dent,
        fullest_dent=fullest,
        selvedge_dents=selvedge_dents,
        selvedge_ends_per_dent=in_edge_dents,
        air=air_space(
            dents_per_10cm=mounted,
            ends_per_dent=fullest,
            end_diameter_mm=asked.mean_diameter_mm,
            wire_share_pct=asked.wire_share_pct,
            knot_diameters=usual.reed_knot_width_diameters
            * asked.coarsest_diameter_mm
            / asked.mean_diameter_mm,
        ),
    )


def _chosen_ends_per_dent(
    asked: DentingRequest[N], ends_per_10cm: N, stock: ReedStock[N], usual: Usual[float]
) -> N:
    """Return the ends in a dent that are taken if they are not stated."""
    chosen: N = least(_nearest_ends_per_dent(asked, ends_per_10cm), float(MAX_ENDS_PER_DENT))
    if anywhere(no(asked.is_reed_stated)):
        common = _usual_ends_per_dent(ends_per_10cm, stock, usual)
        return either(asked.is_reed_stated, chosen, common)
    return chosen


def _nearest_ends_per_dent(asked: DentingRequest[N], ends_per_10cm: N) -> N:
    """Return the whole number that comes nearest to the sett in the stated reed."""
    return greatest(1.0, whole(quotient(ends_per_10cm, asked.dents_per_10cm)))


def edge_ends_per_dent(fullest_dent: N) -> N:
    """Return the ends in an edge dent if they are not stated: twice those of a full dent."""
    return least(2 * fullest_dent, MAX_ENDS_PER_DENT)


FROM_STOCK: Final = (2.0, 3.0, 4.0, 1.0)
"""Ends in a dent for which a reed in stock is sought, the most usual first."""

FROM_RANGE: Final = (2.0, 3.0, 4.0, 5.0)
"""Ends in a dent for which the reed is kept within a range, the fewest first."""


def _usual_ends_per_dent(ends_per_10cm: N, stock: ReedStock[N], usual: Usual[float]) -> N:
    chosen: N = 0 * ends_per_10cm
    for count in FROM_STOCK if anywhere(stock.present) else ():
        here = _is_in_stock(ends_per_10cm / count, stock, usual)
        chosen = either((chosen == 0) & here, count, chosen)
        if not anywhere(chosen == 0):
            return chosen
    for low, high in _ranges(usual):
        for count in FROM_RANGE:
            here = (low <= ends_per_10cm / count) & (ends_per_10cm / count <= high)
            chosen = either((chosen == 0) & here, count, chosen)
            if not anywhere(chosen == 0):
                return chosen
    open_sett = ends_per_10cm / 2 < usual.reed_coarsest_dents_per_10cm
    return either(chosen == 0, either(open_sett, 1.0, 6.0 + 0 * ends_per_10cm), chosen)


def _ranges(usual: Usual[float]) -> tuple[tuple[float, float], ...]:
    """Reeds that are usual, then those that are made at all, in dents per 10 cm."""
    return (
        (usual.reed_usual_coarsest_dents_per_10cm, usual.reed_usual_finest_dents_per_10cm),
        (usual.reed_coarsest_dents_per_10cm, usual.reed_finest_dents_per_10cm),
    )


def _is_in_stock(dents_per_10cm: N, stock: ReedStock[N], usual: Usual[float]) -> Truth:
    change_pct = 100 * (dents_per_10cm / stock.nearest(dents_per_10cm) - 1)
    return stock.present & _is_within(change_pct, usual)


def _is_within(change_pct: N, usual: Usual[float]) -> Truth:
    change: N = abs(change_pct)
    return no(passed(change, usual.reed_stock_tolerance_pct + 0 * change))


def is_within_stock_tolerance(change_pct: float) -> bool:
    """Return whether width or sett may change by so much to use a reed in stock."""
    return bool(_is_within(change_pct, in_force().usual))


def dent(
    cloth: ClothFacts,
    limits: LoomLimits,
    order: OrderNumbers[float],
    numbers: DentingNumbers[float],
    ledger: Ledger,
) -> Denting:
    """Describe the denting of a cloth on a loom.

    Args:
        cloth: The cloth.
        limits: The loom.
        order: What the order requests.
        numbers: The denting in numbers.
        ledger: Takes the denting that had to be assumed; pointers relative to the request.
    """
    asked, stock = order.denting, limits.reeds_in_stock_dents_per_10cm
    pattern = stated_pattern(cloth.construction.reed)
    if pattern is None:
        chosen = int(numbers.ends_per_dent)
        pattern = DentingPattern(ends_in_dent=(chosen,))
        ledger.note(
            "/construction/reed/ends_per_dent",
            chosen,
            unit=None,
            reason=_reason(asked, numbers, limits.numbers.reeds),
        )
    _note_selvedge(cloth, numbers, ledger)
    ledger.take(
        "/construction/reed/wire_share_pct",
        cloth.construction.reed.wire_share_pct,
        asked.wire_share_pct,
        unit="%",
        reason=cite(WIRE_SHARE_SOURCE),
    )
    selvedge_dents = int(numbers.selvedge_dents)
    return Denting(
        ends_per_cm_in_reed=numbers.ends_per_cm_in_reed,
        needed_dents_per_10cm=numbers.needed_dents_per_10cm,
        asked_dents_per_10cm=asked.dents_per_10cm if asked.is_reed_stated else None,
        dents_per_10cm=numbers.dents_per_10cm,
        ends_per_dent=pattern.mean_ends_per_dent,
        fullest_dent=pattern.fullest_dent,
        dents=cloth.panels * (pattern.dents_of_warp(cloth.ends.ground) + 2 * selvedge_dents),
        selvedge_dents=selvedge_dents,
        selvedge_ends_per_dent=int(numbers.selvedge_ends_per_dent),
        from_stock=numbers.dents_per_10cm in stock,
        nearest_in_stock_dents_per_10cm=numbers.nearest_dents_per_10cm if stock else None,
        width_change_pct=numbers.width_change_pct,
        air=numbers.air,
    )


def _reason(
    asked: DentingRequest[float], numbers: DentingNumbers[float], stock: ReedStock[float]
) -> str:
    """Say why so many ends were taken in a dent."""
    chosen, ends_per_10cm = int(numbers.ends_per_dent), 10 * numbers.ends_per_cm_in_reed
    if asked.is_reed_stated:
        nearest = int(_nearest_ends_per_dent(asked, ends_per_10cm))
        if chosen < nearest:
            return f"the most that a dent takes; the sett in the stated reed needs {nearest}"
        return "the whole number that comes nearest to the sett in the stated reed"
    usual, dents = in_force().usual, ends_per_10cm / chosen
    if chosen in FROM_STOCK and _is_in_stock(dents, stock, usual):
        return "fits a reed in stock"
    for low, high in _ranges(usual):
        if chosen in FROM_RANGE and low <= dents <= high:
            return f"fewest that keep the reed within {low:g}-{high:g} dents/10 cm"
    return COMMON_PRACTICE


def _note_selvedge(cloth: ClothFacts, numbers: DentingNumbers[float], ledger: Ledger) -> None:
    """Note the ends in an edge dent, if there are edges."""
    if not cloth.ends.selvedge:
        return
    fullest = int(numbers.fullest_dent)
    most, doubled = MAX_ENDS_PER_DENT, int(edge_ends_per_dent(fullest))
    as_far = "" if 2 * fullest <= most else f", to the {most} of a full dent"
    own_weave = cloth.construction.selvedge.weave is not None
    ledger.take(
        "/construction/selvedge/ends_per_dent",
        cloth.construction.selvedge.ends_per_dent,
        fullest if own_weave else doubled,
        unit=None,
        reason=f"as the ground, since its weave is stated; {COMMON_PRACTICE}"
        if own_weave
        else f"edge dents doubled{as_far}; {COMMON_PRACTICE}",
        grade=Grade.COMMON_PRACTICE,
        band=ValueBand(fullest, doubled),
    )
