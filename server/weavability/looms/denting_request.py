"""The reed and denting that an order requests, in numbers."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

from weavability.looms.reeds import (
    MAX_ENDS_PER_DENT,
    DentingPattern,
    check_wire_share,
    dents_per_10cm,
)
from weavability.textiles.cloth_symbols import ClothSymbols
from weavability.textiles.construction import Reed
from weavability.textiles.errors import InputError, pointing_below
from weavability.textiles.guards import whole
from weavability.textiles.numbers import N, Record, Truth
from weavability.textiles.thread_systems import Threads


@dataclass(slots=True, kw_only=True)
class DentingRequest(Record[N]):
    """The reed and denting that an order requests.

    Attributes:
        dents_per_10cm: 0 if no reed is requested.
        is_pattern_stated: Whether the ends in a dent are stated.
        ends_per_dent: As stated, the mean of an uneven denting; else 0.
        fullest_dent: Likewise, of the fullest dent.
        edge_ends_per_dent: In the selvedges; 0 if not stated.
        wire_share_pct: Share of a dent that its wire takes; 0 if not stated.
        mean_width_mm: Of the ends: the diameter, of tapes the width.
        coarsest_diameter_mm: Of the warp yarns; a tape is drawn together in a knot.
    """

    is_reed_stated: Truth
    dents_per_10cm: N
    is_pattern_stated: Truth
    ends_per_dent: N
    fullest_dent: N
    edge_ends_per_dent: N
    wire_share_pct: N
    mean_width_mm: N
    coarsest_diameter_mm: N


def denting_request(symbols: ClothSymbols) -> DentingRequest[float]:
    """Gather the reed and denting that an order requests.

    Raises:
        InputError: They cannot be read; pointers are relative to the request.
    """
    stated, warp = symbols.construction, symbols.warp
    return (_remembered_denting if warp.is_remembered else _denting)(
        stated.reed, stated.selvedge.ends_per_dent, warp
    )


def _denting(reed: Reed, edge_ends_per_dent: int | None, warp: Threads) -> DentingRequest[float]:
    dents, pattern = _requested_dents_per_10cm(reed), stated_pattern(reed)
    return DentingRequest(
        is_reed_stated=dents is not None,
        dents_per_10cm=dents or 0.0,
        is_pattern_stated=pattern is not None,
        ends_per_dent=pattern.mean_ends_per_dent if pattern else 0.0,
        fullest_dent=pattern.fullest_dent if pattern else 0,
        edge_ends_per_dent=edge_ends_per_dent or 0,
        wire_share_pct=_wire_share_pct(reed),
        mean_width_mm=warp.width_mm,
        coarsest_diameter_mm=max(yarn.diameter_mm for yarn in warp.yarns.values()),
    )


_remembered_denting: Final = lru_cache(maxsize=256)(_denting)


def _requested_dents_per_10cm(reed: Reed) -> float | None:
    """Return the requested reed, converted from the counting system in which it is stated."""
    if reed.count is None:
        return reed.dents_per_10cm
    with pointing_below("/construction/reed"):
        return dents_per_10cm(reed.count, system=reed.system or "metric")


def _wire_share_pct(reed: Reed) -> float:
    if reed.wire_share_pct is None:
        return 0.0
    with pointing_below("/construction/reed"):
        return check_wire_share(reed.wire_share_pct)


@lru_cache(maxsize=256)
def stated_pattern(reed: Reed) -> DentingPattern | None:
    """Return one repeat of the denting as it is stated; ``None`` if it is not.

    Raises:
        InputError: It cannot be read; pointers are relative to the request.
    """
    if reed.ends_in_dents:
        try:
            return DentingPattern(ends_in_dent=reed.ends_in_dents)
        except InputError as error:
            raise InputError(
                replace(fault, pointer="/construction/reed/ends_in_dents") for fault in error.faults
            ) from None
    if reed.ends_per_dent is None:
        return None
    most = MAX_ENDS_PER_DENT
    whole("construction/reed/ends_per_dent", reed.ends_per_dent, least=1, most=most)
    return DentingPattern(ends_in_dent=(reed.ends_per_dent,))
