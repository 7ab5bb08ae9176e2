"""From the pieces that a customer orders to the grey cloth that is woven for them.

Rejects and the planned allowance by length of the order are those of a real mill
[MILL-CONSTRUCTIONS-2023]. Its allowance is a share of the grey cloth and covers what finishing
shrinks, what inspection rejects and what is made beyond the order.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import log
from typing import Final

import numpy as np

from weavability.textiles.assumptions import Grade, Ledger, ValueBand
from weavability.textiles.bounds import LENGTH_M
from weavability.textiles.construction import Construction, PieceOrder
from weavability.textiles.errors import InputError
from weavability.textiles.sentences import say
from weavability.textiles.units import M_PER_YARD

LENGTH_NOT_ORDERED_M: Final = 1000.0
"""Grey length for which yarn and warp are stated if no length is ordered."""

USUAL_LENGTH: Final = f"{LENGTH_NOT_ORDERED_M:g} m"
"""That length as words name it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MillOrders:
    """What a mill planned and lost, over its orders of some length.

    Attributes:
        length_yd: The middle of that range of lengths, in proportion; grey cloth.
        rejects_pct: Cloth rejected or cut out, on the cloth woven.
        allowance_pct: Median of what was planned beyond the order, on the grey cloth.
    """

    length_yd: float
    rejects_pct: float
    allowance_pct: float


MILL_ORDERS: Final = (
    MillOrders(length_yd=250.0, rejects_pct=2.28, allowance_pct=19.25),  # up to 500 yd
    MillOrders(length_yd=1414.0, rejects_pct=1.43, allowance_pct=9.8),  # 1000 to 2000 yd
    MillOrders(length_yd=7071.0, rejects_pct=0.78, allowance_pct=8.0),  # 5000 to 10,000 yd
    MillOrders(length_yd=22361.0, rejects_pct=0.90, allowance_pct=7.0),  # 10,000 to 50,000 yd
)
"""By length of the order [MILL-CONSTRUCTIONS-2023]; its 22,010 records lost 0.905 % together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lengths:
    """The cloth of an order, in m.

    Attributes:
        ordered: Whether the order states a length; otherwise the lengths are for
            :data:`LENGTH_NOT_ORDERED_M` of grey cloth.
        pieces: What it orders in pieces; ``None`` if it states a length, or nothing.
        piece_grey_m: Grey cloth of one of them; 0 likewise.
        ordered_m: Finished cloth that is ordered, all panels together.
        overage_pct: Made beyond that, on the length ordered.
        rejects_pct: Rejected, on the length made.
        finished_m: Finished cloth that is made, rejects included.
        grey_m: Grey cloth for it, all panels together.
        loom_m: Grey cloth to weave on the loom: the panels share it.
    """

    ordered: bool
    pieces: PieceOrder | None
    piece_grey_m: float
    ordered_m: float
    overage_pct: float
    rejects_pct: float
    finished_m: float
    grey_m: float
    loom_m: float


def resolve_lengths(
    construction: Construction,
    *,
    grey_per_stated: float,
    length_kept: float,
    panels: int,
    ledger: Ledger,
) -> Lengths:
    """Return the lengths of an order, from the finished cloth ordered to the grey cloth woven.

    Args:
        construction: As stated.
        grey_per_stated: Grey length over the length at the stage of the order.
        length_kept: Finished length over grey length.
        panels: Panels side by side.
        ledger: Takes a note of every assumption.

    Raises:
        InputError: The order states a length and pieces, or pieces of more length than an order
            has.
    """
    pieces = construction.order
    if pieces is None:
        stated = construction.length_m
        grey_m = ledger.take(
            "/length_m",
            None if stated is None else stated * grey_per_stated,
            LENGTH_NOT_ORDERED_M,
            unit="m",
            reason=say(
                "assumption.order.no_length",
                "no length ordered: yarn, warp and beams are for {length_m:g} m, hours are "
                "left out",
                length_m=LENGTH_NOT_ORDERED_M,
            ),
            grade=Grade.COMMON_PRACTICE,
        )
        overage_pct, rejects_pct = 0.0, 0.0
        ordered_m = finished_m = grey_m * length_kept
    else:
        _refuse_contradiction(construction, pieces)
        rejects_pct = _rejects_pct(pieces, ledger)
        overage_pct = _overage_pct(pieces, rejects_pct, length_kept, ledger)
        ordered_m = pieces.length_m
        finished_m = ordered_m * (1 + overage_pct / 100) / (1 - rejects_pct / 100)
        grey_m = finished_m / length_kept
    return Lengths(
        ordered=pieces is not None or construction.length_m is not None,
        pieces=pieces,
        piece_grey_m=0.0 if pieces is None else pieces.piece_length_m / length_kept,
        ordered_m=ordered_m,
        overage_pct=overage_pct,
        rejects_pct=rejects_pct,
        finished_m=finished_m,
        grey_m=grey_m,
        loom_m=grey_m / panels,
    )


def _refuse_contradiction(construction: Construction, pieces: PieceOrder) -> None:
    if construction.length_m is not None:
        raise InputError.of(
            construction.as_stated("/length_m"),
            say(
                "fault.order.length_twice",
                "State the length once: leave it out if the order is stated in pieces.",
            ),
            given=construction.length_m,
            allowed="order, or length_m or length_yd",
        )
    if pieces.length_m not in LENGTH_M:
        raise InputError.of(
            "/order/pieces",
            say(
                "fault.order.length_out_of_range",
                "The pieces make {length_m:.3g} m; correct their number or their length.",
                length_m=pieces.length_m,
            ),
            given=pieces.pieces,
            allowed=f"{LENGTH_M.least:g} to {LENGTH_M.most:g} m in all",
        )


def _rejects_pct(pieces: PieceOrder, ledger: Ledger) -> float:
    usual = round(usual_of_mill(pieces.length_m).rejects_pct, 2)
    return ledger.take(
        "/order/rejects_pct",
        pieces.rejects_pct,
        usual,
        unit="%",
        reason=say(
            "assumption.order.rejects",
            "rejected or cut out of orders of about this length in a shirting mill, "
            "[MILL-CONSTRUCTIONS-2023]",
        ),
        grade=Grade.SOURCE,
        band=ValueBand(round(usual / 2, 2), round(usual * 2, 2)),
    )


def _overage_pct(
    pieces: PieceOrder, rejects_pct: float, length_kept: float, ledger: Ledger
) -> float:
    """Return the overage: as stated, or what a mill's allowance leaves beside the other losses."""
    planned = 1 / (1 - usual_of_mill(pieces.length_m).allowance_pct / 100)
    left = length_kept * (1 - rejects_pct / 100) * planned - 1
    return ledger.take(
        "/order/overage_pct",
        pieces.overage_pct,
        round(max(0.0, 100 * left), 1),
        unit="%",
        reason=say(
            "assumption.order.overage",
            "what shrinkage and rejects leave of the allowance planned for orders of about this "
            "length in a shirting mill, [MILL-CONSTRUCTIONS-2023]",
        ),
        grade=Grade.ESTIMATE,
        band=ValueBand(0.0, round(max(100 * (planned - 1), 100 * left, 0.0) + 0.05, 1)),
    )


@lru_cache(maxsize=256)
def usual_of_mill(length_m: float) -> MillOrders:
    """Return what a mill plans and loses over an order of a length, between the published ranges.

    >>> found = usual_of_mill(1414.0 * 0.9144)
    >>> round(found.rejects_pct, 2), round(found.allowance_pct, 1)
    (1.43, 9.8)
    """
    length_yd = length_m / M_PER_YARD
    at = [log(each.length_yd) for each in MILL_ORDERS]
    rejects, allowance = (
        float(np.interp(log(length_yd), at, values))
        for values in zip(
            *((one.rejects_pct, one.allowance_pct) for one in MILL_ORDERS), strict=True
        )
    )
    return MillOrders(length_yd=length_yd, rejects_pct=rejects, allowance_pct=allowance)
