"""What an order leaves open about its cloth: the values that are taken, each with its reason."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from weavability.textiles.assumptions import Grade, Ledger, ValueBand
from weavability.textiles.cloth_states import ClothNumbers, Shrinkages, StatedCloth
from weavability.textiles.construction import Construction, Stage
from weavability.textiles.geometry import CRIMP_ERROR_BAND_PCT, CRIMP_FLATTENING
from weavability.textiles.sources import cite
from weavability.textiles.thread_systems import Threads
from weavability.textiles.warp_size import resolve_size_pct

COMMON_PRACTICE: Final = "common practice, no source"

LEAST_THICKNESS_MM: Final = 0.001
"""An estimate of the thickness is rounded to micrometres, and is not rounded to nothing."""

PANEL_GAP_CM: Final = 2.0
"""Reed width between two panels, for the cutters; common practice, no source."""

TYING_WASTE_M: Final = 2.8
"""Warp lost at tying-in or drawing-in of every beam; source in the assumption that uses it."""

LOOM_END_WASTE_M: Final = 1.8
"""Warp left on the loom at the end of every beam; same source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AllowanceFacts:
    """Waste and size, with nothing left open.

    Attributes:
        warp_waste_pct: Warp yarn lost in preparation, on the warp woven.
        weft_waste_pct: Weft yarn lost at the package and in stops, on the weft inserted.
        size_pct: Size added to the warp, on the mass of the unsized warp.
        loom_waste_m: Warp that is lost at tying and at the end of the warp.
    """

    warp_waste_pct: float
    weft_waste_pct: float
    size_pct: float
    loom_waste_m: float


def note_weave(construction: Construction, ledger: Ledger) -> None:
    """Note what the notation of the weave left open."""
    for note in construction.weave_notes:
        ledger.note("/weave" + note.pointer, note.value, unit=note.unit, reason=note.reason)


def resolve_stage(construction: Construction, ledger: Ledger) -> Stage:
    """Return the stage at which sett, width and length were measured: grey, if not stated."""
    return ledger.take(
        "/stage",
        construction.stage,
        Stage.GREY,
        unit=None,
        reason="most orders state grey sett and width; " + COMMON_PRACTICE,
    )


def resolve_shrinkages(construction: Construction, stage: Stage, ledger: Ledger) -> Shrinkages:
    """Return what relaxation and finishing leave of a length, and finishing of a width.

    Args:
        construction: As stated.
        stage: Cloth that is stated as finished is taken to have shrunk, other cloth not.
        ledger: Takes a note of every shrinkage that is not stated.
    """
    finishing = construction.finishing
    if stage is Stage.FINISHED:
        width_pct, length_pct = 5.0, 3.0
        reason = "sett stated as finished; " + COMMON_PRACTICE
    else:
        width_pct, length_pct = 0.0, 0.0
        reason = "no finishing stated: finished cloth taken as grey"
    at = ledger.below("/finishing")
    width_pct = at.take(
        "/width_shrinkage_pct", finishing.width_shrinkage_pct, width_pct, unit="%", reason=reason
    )
    length_pct = at.take(
        "/length_shrinkage_pct", finishing.length_shrinkage_pct, length_pct, unit="%", reason=reason
    )
    relaxation_pct = at.take(
        "/relaxation_pct",
        finishing.relaxation_pct,
        1.5,
        unit="%",
        reason=cite("[BROOKS-1892]: 1.5 % shrinkage after weaving"),
    )
    return Shrinkages(
        width_kept=1 - width_pct / 100,
        length_kept=1 - length_pct / 100,
        relaxed_kept=1 - relaxation_pct / 100,
    )


def note_crimps(stated: StatedCloth[float], numbers: ClothNumbers[float], ledger: Ledger) -> None:
    """Note the crimps that were estimated, with the error of the estimate."""
    reason = (
        f"estimated from the geometry of {cite('[PEIRCE-1937]')} with crossings flattened to "
        f"{CRIMP_FLATTENING:g} and the weave's average float; within {CRIMP_ERROR_BAND_PCT:g} "
        "percentage points on most of the published cloths it was fitted to"
    )
    if not stated.warp_stated:
        ledger.note("/warp/crimp_pct", numbers.warp_crimp_pct, unit="%", reason=reason)
    if not stated.weft_stated:
        ledger.note("/weft/crimp_pct", numbers.weft_crimp_pct, unit="%", reason=reason)


def resolve_panels(construction: Construction, ledger: Ledger) -> tuple[int, float]:
    """Return the number of panels, and the gap between two in the reed in cm.

    One panel has the gap that a second one would need.
    """
    panels = ledger.take(
        "/panels", construction.panels, 1, unit=None, reason="one cloth across the loom"
    )
    stated = construction.panel_gap_cm
    if panels == 1:
        return panels, PANEL_GAP_CM if stated is None else stated
    gap_cm = ledger.take(
        "/panel_gap_cm",
        stated,
        PANEL_GAP_CM,
        unit="cm",
        reason="room for the cutters between two panels; " + COMMON_PRACTICE,
    )
    return panels, gap_cm


def resolve_selvedge_ends(construction: Construction, ledger: Ledger) -> int:
    """Return the extra ends of each selvedge: 0, if not stated."""
    return ledger.take(
        "/selvedge/ends_per_side",
        construction.selvedge.ends_per_side,
        0,
        unit=None,
        reason="no extra selvedge ends stated",
    )


def resolve_selvedge_shafts(construction: Construction, selvedge_ends: int, ledger: Ledger) -> int:
    """Return the shafts that only selvedge ends are drawn on: 0, if not stated.

    Args:
        construction: As stated.
        selvedge_ends: Extra ends of all selvedges; without any there is nothing to assume.
        ledger: Takes a note of an assumption.
    """
    stated = construction.selvedge.shafts
    if not selvedge_ends:
        return 0 if stated is None else stated
    return ledger.take(
        "/selvedge/shafts",
        stated,
        0,
        unit=None,
        reason="the selvedge is drawn on the ground's shafts; " + COMMON_PRACTICE,
    )


def resolve_grey_length_m(
    construction: Construction, *, grey_per_stated: float, ledger: Ledger
) -> float:
    """Return the grey length in m, all panels together: 1000 m, if not stated.

    Args:
        construction: As stated.
        grey_per_stated: Grey length over the length at the stage of the order.
        ledger: Takes a note of an assumption.
    """
    stated = construction.length_m
    return ledger.take(
        "/length_m",
        None if stated is None else stated * grey_per_stated,
        1000.0,
        unit="m",
        reason="no length ordered: yarn, warp and beams are for 1000 m, hours are left out",
    )


def resolve_thickness_mm(
    construction: Construction, warp: Threads, weft: Threads, ledger: Ledger
) -> float:
    """Return the thickness of the grey cloth in mm.

    If it is not stated, the two yarns lie one over the other, as thick as each is in the cloth.

    Args:
        construction: As stated.
        warp: The yarns of the warp and their order.
        weft: The yarns of the weft and their order.
        ledger: Takes a note of an assumption.
    """
    thickness_mm = round(warp.thickness_mm + weft.thickness_mm, 3) or LEAST_THICKNESS_MM
    return ledger.take(
        "/thickness_mm",
        construction.thickness_mm,
        thickness_mm,
        unit="mm",
        reason=f"warp over weft: round yarns flattened to {CRIMP_FLATTENING:g}, filaments by their "
        "flattening ratio, tapes as measured",
        grade=Grade.ESTIMATE,
        band=ValueBand(round(0.75 * thickness_mm, 4), round(1.3 * thickness_mm, 4)),
    )


def resolve_layered_thickness_mm(
    construction: Construction, *, ground_mm: float, pile_mm: float, ledger: Ledger
) -> float:
    """Return the thickness of a grey cloth with layers, in mm.

    If it is not stated, the layers lie one over the other, and the pile stands up on them.

    Args:
        construction: As stated.
        ground_mm: Of all layers without pile.
        pile_mm: Height of the pile.
        ledger: Takes a note of an assumption.
    """
    high = round(ground_mm + pile_mm, 3)
    reason = "the layers one over the other, each flattened at its crossings"
    if pile_mm:
        reason += ", and the pile at its full height; on the roll it lies down"
    return ledger.take(
        "/thickness_mm",
        construction.thickness_mm,
        high,
        unit="mm",
        reason=reason,
        grade=Grade.ESTIMATE,
        band=ValueBand(low=round(ground_mm, 3), high=high),
    )


def resolve_allowances(construction: Construction, warp: Threads, ledger: Ledger) -> AllowanceFacts:
    """Return waste and size: 1 % and 4.6 m if not stated, and size by the yarns of the warp."""
    given = construction.allowances
    at = ledger.below("/allowances")
    return AllowanceFacts(
        warp_waste_pct=at.take(
            "/warp_waste_pct", given.warp_waste_pct, 1.0, unit="%", reason=COMMON_PRACTICE
        ),
        weft_waste_pct=at.take(
            "/weft_waste_pct", given.weft_waste_pct, 1.0, unit="%", reason=COMMON_PRACTICE
        ),
        size_pct=resolve_size_pct(construction, warp, at),
        loom_waste_m=at.take(
            "/loom_waste_m",
            given.loom_waste_m,
            TYING_WASTE_M + LOOM_END_WASTE_M,
            unit="m",
            reason=cite(
                f"{TYING_WASTE_M:g} m at tying or drawing-in and {LOOM_END_WASTE_M:g} m at the "
                "loom: [COURSE-FLAX-WEAVING]"
            ),
        ),
    )
