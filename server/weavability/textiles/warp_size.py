"""Size on the warp: which yarns get it, and how much."""

from __future__ import annotations

from typing import Final

from weavability.textiles.assumptions import Grade, Ledger, ValueBand
from weavability.textiles.construction import Construction
from weavability.textiles.errors import Fault, InputError
from weavability.textiles.sources import cite
from weavability.textiles.thread_systems import Threads
from weavability.textiles.yarns import YarnFacts

SIZE_PCT: Final = 10.0
"""Size on singles of short staple, on the mass of the unsized yarn; common practice."""

SIZE_BAND: Final = ValueBand(8.0, 14.0)
"""A published inventory adds 0.198 - 0.0004 dtex: 14 % at 145 dtex, 8 % at 295 dtex."""


def is_sized(yarn: YarnFacts, stated_pct: float | None) -> bool:
    """Whether a warp yarn is sized: as stated, else if it is a single of short staple.

    Args:
        yarn: The yarn.
        stated_pct: The size of the warp; ``None`` if the order states none.
    """
    if yarn.sized is not None:
        return yarn.sized
    return yarn.is_short_staple_single if stated_pct is None else stated_pct > 0.0


def resolve_size_pct(construction: Construction, warp: Threads, ledger: Ledger) -> float:
    """Return the size on the whole warp, in % of its unsized mass.

    Args:
        construction: As stated.
        warp: The yarns of the warp and their order.
        ledger: That of the allowances; takes a note of an assumption.

    Raises:
        InputError: Size and yarns contradict each other, at the yarn; pointers are relative to the
            construction.
    """
    stated_pct = construction.allowances.size_pct
    if stated_pct is not None:
        faults = [
            Fault(
                f"/warp/yarns/{key}/sized",
                f"allowances.size_pct states {stated_pct:g} % of size: leave out one of the two.",
                yarn.sized,
                stated_pct > 0.0,
            )
            for key, yarn in warp.yarns.items()
            if yarn.sized is not None and yarn.sized is not (stated_pct > 0.0)
        ]
        if faults:
            raise InputError(faults)
        return stated_pct
    masses = {
        key: count * warp.yarns[key].linear_density_tex for key, count in warp.order.counts.items()
    }
    sized = sum(mass for key, mass in masses.items() if is_sized(warp.yarns[key], None))
    share = sized / sum(masses.values())
    if not share:
        return ledger.note(
            "/size_pct",
            0.0,
            unit="%",
            reason="no size stated, and none usual on folded, long-staple, bast and filament yarn; "
            "common practice, no source",
            grade=Grade.COMMON_PRACTICE,
            band=ValueBand(0.0, 8.0),
        )
    of_the_warp = "" if share == 1.0 else f", which are {100 * share:.0f} % of the warp's mass"
    return ledger.note(
        "/size_pct",
        round(SIZE_PCT * share, 2),
        unit="%",
        reason=cite(
            f"{SIZE_PCT:g} % on the sized yarns{of_the_warp}; common practice, its band: "
            "[LCI-SIZING]"
        ),
        grade=Grade.COMMON_PRACTICE,
        band=ValueBand(round(SIZE_BAND.low * share, 2), round(SIZE_BAND.high * share, 2)),
    )
