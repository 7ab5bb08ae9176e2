"""Denting of a cloth on a loom: the reed, its gaps, and the nearest reed in stock."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from weavability.looms.guards import whole
from weavability.looms.loom_limits import LoomLimits
from weavability.looms.reeds import (
    MAX_ENDS_PER_DENT,
    WIRE_SHARE_PCT,
    WIRE_SHARE_SOURCE,
    AirSpace,
    DentingPattern,
    air_space,
    dents_per_10cm,
    nearest_reed,
    reed_for_sett,
)
from weavability.looms.thresholds import in_force
from weavability.textiles.assumptions import Ledger
from weavability.textiles.cloth import ClothFacts
from weavability.textiles.cloth_defaults import COMMON_PRACTICE
from weavability.textiles.construction import Reed
from weavability.textiles.errors import InputError, pointing_below
from weavability.textiles.numbers import passed
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
    from_stock: bool
    nearest_in_stock_dents_per_10cm: float | None
    width_change_pct: float
    air: AirSpace


def dent(cloth: ClothFacts, limits: LoomLimits, ledger: Ledger) -> Denting:
    """Find the denting of a cloth on a loom.

    Args:
        cloth: The cloth.
        limits: The loom.
        ledger: Takes the denting that had to be assumed; pointers relative to the request.

    Raises:
        InputError: The requested counting system or denting cannot be read; pointers
            are relative to the request.
    """
    ends_per_cm = cloth.ends.ground / cloth.widths.panel_reed_cm
    asked = cloth.construction.reed
    asked_dents = _asked_dents_per_10cm(asked)
    stock = limits.reeds_in_stock_dents_per_10cm
    pattern = _pattern(cloth, ends_per_cm, asked_dents, stock, ledger)
    selvedge_dents = _selvedge_dents(cloth, pattern.fullest_dent, ledger)
    needed = (
        reed_for_sett(reed_ends_per_cm=ends_per_cm, ends_per_dent=pattern.mean_ends_per_dent)
        + 20 * selvedge_dents / cloth.widths.panel_reed_cm
    )
    nearest = nearest_reed(stock, needed)
    compared = asked_dents or nearest or needed
    change_pct = 100 * (needed / compared - 1)
    fits = asked_dents is not None or is_within_stock_tolerance(change_pct)
    mounted = compared if fits else needed
    return Denting(
        ends_per_cm_in_reed=ends_per_cm,
        needed_dents_per_10cm=needed,
        asked_dents_per_10cm=asked_dents,
        dents_per_10cm=mounted,
        ends_per_dent=pattern.mean_ends_per_dent,
        fullest_dent=pattern.fullest_dent,
        dents=cloth.panels * (pattern.dents_of_warp(cloth.ends.ground) + 2 * selvedge_dents),
        selvedge_dents=selvedge_dents,
        from_stock=mounted in stock,
        nearest_in_stock_dents_per_10cm=nearest,
        width_change_pct=change_pct,
        air=_air(cloth, mounted, pattern.fullest_dent, ledger),
    )


def _air(cloth: ClothFacts, dents_per_10cm: float, fullest_dent: int, ledger: Ledger) -> AirSpace:
    wire_share_pct = ledger.take(
        "/construction/reed/wire_share_pct",
        cloth.construction.reed.wire_share_pct,
        WIRE_SHARE_PCT,
        unit="%",
        reason=cite(WIRE_SHARE_SOURCE),
    )
    coarsest_mm = max(yarn.diameter_mm for yarn in cloth.warp.yarns.values())
    return air_space(
        dents_per_10cm=dents_per_10cm,
        ends_per_dent=fullest_dent,
        end_diameter_mm=cloth.warp.diameter_mm,
        wire_share_pct=wire_share_pct,
        knot_diameters=in_force().usual.reed_knot_width_diameters
        * coarsest_mm
        / cloth.warp.diameter_mm,
    )


def _asked_dents_per_10cm(asked: Reed) -> float | None:
    """Return the requested reed, converted from the counting system in which it is stated."""
    if asked.count is None:
        return asked.dents_per_10cm
    with pointing_below("/construction/reed"):
        return dents_per_10cm(asked.count, system=asked.system or "metric")


def _pattern(
    cloth: ClothFacts,
    ends_per_cm: float,
    asked_dents: float | None,
    stock: tuple[float, ...],
    ledger: Ledger,
) -> DentingPattern:
    """Return one repeat of the denting: as stated, or one dent of the ends chosen for all."""
    asked = cloth.construction.reed
    if asked.ends_in_dents:
        try:
            return DentingPattern(ends_in_dent=asked.ends_in_dents)
        except InputError as error:
            raise InputError(
                replace(fault, pointer="/construction/reed/ends_in_dents") for fault in error.faults
            ) from None
    if asked.ends_per_dent is not None:
        most = MAX_ENDS_PER_DENT
        whole("construction/reed/ends_per_dent", asked.ends_per_dent, least=1, most=most)
        return DentingPattern(ends_in_dent=(asked.ends_per_dent,))
    if asked_dents is not None:
        nearest = max(1, round(10 * ends_per_cm / asked_dents))
        chosen = min(nearest, MAX_ENDS_PER_DENT)
        reason = "the whole number that comes nearest to the sett in the stated reed"
        if chosen < nearest:
            reason = f"the most that a dent takes; the sett in the stated reed needs {nearest}"
    else:
        chosen, reason = _usual_ends_per_dent(10 * ends_per_cm, stock)
    ledger.note("/construction/reed/ends_per_dent", chosen, unit=None, reason=reason)
    return DentingPattern(ends_in_dent=(chosen,))


def is_within_stock_tolerance(change_pct: float) -> bool:
    """Return whether width or sett may change by so much to use a reed in stock."""
    return not passed(abs(change_pct), in_force().usual.reed_stock_tolerance_pct)


def _usual_ends_per_dent(ends_per_10cm: float, stock: tuple[float, ...]) -> tuple[int, str]:
    for count in (2, 3, 4, 1):
        nearest = nearest_reed(stock, ends_per_10cm / count)
        if nearest and is_within_stock_tolerance(100 * (ends_per_10cm / count / nearest - 1)):
            return count, "fits a reed in stock"
    usual = in_force().usual
    for low, high in (
        (usual.reed_usual_coarsest_dents_per_10cm, usual.reed_usual_finest_dents_per_10cm),
        (usual.reed_coarsest_dents_per_10cm, usual.reed_finest_dents_per_10cm),
    ):
        for count in (2, 3, 4, 5):
            if low <= ends_per_10cm / count <= high:
                return count, f"fewest that keep the reed within {low:g}-{high:g} dents/10 cm"
    return (1 if ends_per_10cm / 2 < low else 6), COMMON_PRACTICE


def _selvedge_dents(cloth: ClothFacts, ends_per_dent: int, ledger: Ledger) -> int:
    """Return the dents of one selvedge: its ends over its ends per dent."""
    if not cloth.ends.selvedge:
        return 0
    doubled = 2 * ends_per_dent
    as_far = "" if doubled <= MAX_ENDS_PER_DENT else f", to the {MAX_ENDS_PER_DENT} of a full dent"
    in_edge_dents = ledger.take(
        "/construction/selvedge/ends_per_dent",
        cloth.construction.selvedge.ends_per_dent,
        min(doubled, MAX_ENDS_PER_DENT),
        unit=None,
        reason=f"edge dents doubled{as_far}; {COMMON_PRACTICE}",
    )
    return math.ceil(cloth.ends.selvedge / (2 * cloth.panels) / in_edge_dents)
