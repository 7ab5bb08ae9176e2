"""Constructions that no cloth has: refused before or after the facts of the cloth are computed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from weavability.textiles.bounds import CONSTRUCTION_BOUNDS
from weavability.textiles.construction import Construction, PieceOrder
from weavability.textiles.errors import InputError
from weavability.textiles.numbers import N, Truth
from weavability.textiles.sentences import say

MOST_ENDS: Final = 1_000_000
"""More ends than any warp has: above it sett, width or panels are mistaken."""

MOST_REED_WIDTH_CM: Final = 10_000.0
"""Wider than any loom, several times over."""

MOST_WARP_M: Final = 4e8
"""Longer than any order: ten times round the earth."""


def refuse_impossible(construction: Construction) -> None:
    """Refuse figures that no cloth has, so that whatever is computed from them is a number.

    Raises:
        InputError: At the first such figure, relative to the construction.
    """
    warp, weft, finishing = construction.warp, construction.weft, construction.finishing
    for pointer, value in (
        ("/warp/ends_per_cm", warp.threads_per_cm),
        ("/weft/picks_per_cm", weft.threads_per_cm),
        ("/width_cm", construction.width_cm),
        ("/length_m", construction.length_m),
        ("/warp/crimp_pct", warp.crimp_pct),
        ("/weft/crimp_pct", weft.crimp_pct),
        ("/warp/contraction_pct", warp.contraction_pct),
        ("/weft/contraction_pct", weft.contraction_pct),
        ("/panels", construction.panels),
        ("/panel_gap_cm", construction.panel_gap_cm),
        ("/thickness_mm", construction.thickness_mm),
        ("/reed/wire_share_pct", construction.reed.wire_share_pct),
        ("/finishing/width_shrinkage_pct", finishing.width_shrinkage_pct),
        ("/finishing/length_shrinkage_pct", finishing.length_shrinkage_pct),
        ("/finishing/relaxation_pct", finishing.relaxation_pct),
        ("/finishing/mass_change_pct", finishing.mass_change_pct),
        *_of_pieces(construction.order),
    ):
        if value is not None and value not in (bounds := CONSTRUCTION_BOUNDS[pointer]):
            least, most = bounds.least, bounds.most
            raise InputError.of(
                construction.as_stated(pointer),
                say(
                    "fault.cloth.impossible_figure",
                    "No cloth has such a figure; it must lie between {least:g} and {most:g}.",
                    least=least,
                    most=most,
                ),
                given=value,
                allowed=f"{least:g} to {most:g}",
            )


def _of_pieces(order: PieceOrder | None) -> Iterator[tuple[str, float | None]]:
    if order is not None:
        yield "/order/pieces", order.pieces
        yield "/order/piece_length_m", order.piece_length_m
        yield "/order/overage_pct", order.overage_pct
        yield "/order/rejects_pct", order.rejects_pct


def is_endless(*, total_ends: N, reed_cm: N, warp_m: N) -> Truth:
    """Return whether :func:`refuse_endless` refuses such figures."""
    return (total_ends > MOST_ENDS) | (reed_cm > MOST_REED_WIDTH_CM) | (warp_m > MOST_WARP_M)


def refuse_endless(
    construction: Construction, *, total_ends: int, reed_cm: float, warp_m: float
) -> None:
    """Refuse a construction whose figures are possible alone but not together.

    Args:
        construction: As stated.
        total_ends: Ends of all panels.
        reed_cm: Width of all panels in the reed.
        warp_m: Length of warp that the order takes.

    Raises:
        InputError: More ends, width in the reed or warp than any loom or order has.
    """
    if total_ends > MOST_ENDS:
        raise InputError.of(
            construction.as_stated("/warp/ends_per_cm"),
            say(
                "fault.cloth.too_many_ends",
                "Sett, width and panels make {total_ends} ends; correct the one that is mistaken.",
                total_ends=total_ends,
            ),
            given=construction.warp.threads_per_cm,
            allowed=f"at most {MOST_ENDS} ends in all",
        )
    if reed_cm > MOST_REED_WIDTH_CM:
        raise InputError.of(
            construction.as_stated("/width_cm"),
            say(
                "fault.cloth.too_wide",
                "Width and panels take {reed_width_cm:.0f} cm in the reed; correct the "
                "one that is mistaken.",
                reed_width_cm=reed_cm,
            ),
            given=construction.width_cm,
            allowed=f"at most {MOST_REED_WIDTH_CM:g} cm in the reed, all panels together",
        )
    if warp_m > MOST_WARP_M:
        raise InputError.of(
            construction.as_stated("/length_m"),
            say(
                "fault.cloth.too_long",
                "The order takes {warp_m:.3g} m of warp; correct its length.",
                warp_m=warp_m,
            ),
            given=construction.order.pieces if construction.order else construction.length_m,
            allowed=f"at most {MOST_WARP_M:g} m of warp",
        )
