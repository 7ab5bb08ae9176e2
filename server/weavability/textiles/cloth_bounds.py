"""Constructions that no cloth has: refused before or after the facts of the cloth are computed."""

from __future__ import annotations

from typing import Final

from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError

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
    for pointer, value, least, most in (
        (construction.as_stated("/warp/ends_per_cm"), warp.threads_per_cm, 1e-3, 1e5),
        (construction.as_stated("/weft/picks_per_cm"), weft.threads_per_cm, 1e-3, 1e5),
        (construction.as_stated("/width_cm"), construction.width_cm, 1e-3, 1e5),
        (construction.as_stated("/length_m"), construction.length_m, 1e-3, 1e9),
        ("/warp/crimp_pct", warp.crimp_pct, 0.0, 1000.0),
        ("/weft/crimp_pct", weft.crimp_pct, 0.0, 1000.0),
        ("/panels", construction.panels, 1, 1000),
        ("/panel_gap_cm", construction.panel_gap_cm, 0.0, 1e4),
        ("/thickness_mm", construction.thickness_mm, 1e-3, 1e3),
        ("/finishing/width_shrinkage_pct", finishing.width_shrinkage_pct, -100.0, 95.0),
        ("/finishing/length_shrinkage_pct", finishing.length_shrinkage_pct, -100.0, 95.0),
        ("/finishing/relaxation_pct", finishing.relaxation_pct, -100.0, 95.0),
    ):
        if value is not None and not least <= value <= most:
            raise InputError.of(
                pointer,
                f"No cloth has such a figure; it must lie between {least:g} and {most:g}.",
                given=value,
                allowed=f"{least:g} to {most:g}",
            )


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
            f"Sett, width and panels make {total_ends} ends; correct the one that is mistaken.",
            given=construction.warp.threads_per_cm,
            allowed=f"at most {MOST_ENDS} ends in all",
        )
    if reed_cm > MOST_REED_WIDTH_CM:
        raise InputError.of(
            construction.as_stated("/width_cm"),
            f"Width and panels take {reed_cm:.0f} cm in the reed; correct the one that is "
            "mistaken.",
            given=construction.width_cm,
            allowed=f"at most {MOST_REED_WIDTH_CM:g} cm in the reed, all panels together",
        )
    if warp_m > MOST_WARP_M:
        raise InputError.of(
            construction.as_stated("/length_m"),
            f"The order takes {warp_m:.3g} m of warp; correct its length.",
            given=construction.length_m,
            allowed=f"at most {MOST_WARP_M:g} m of warp",
        )
