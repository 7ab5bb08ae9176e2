"""The three states of a cloth: in the loom, grey and finished.

* **loom state**: in the reed (width) and under the take-up's tension (picks);
* **grey**: off the loom, relaxed, unfinished; the state in which cover, mass and crimp are stated;
* **finished**: after finishing, by the stated shrinkages.

Only numbers here, of one cloth or of a column of cloths: what an order leaves open is settled in
``cloth_defaults``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from weavability.textiles.construction import Stage
from weavability.textiles.geometry import (
    Crimps,
    crowding,
    estimate_crimps,
    float_length_mm,
)
from weavability.textiles.jamming import jam_of_cloth
from weavability.textiles.numbers import Lists, N, Record, Truth, anywhere, either, greatest, whole

CRIMP_ROUNDS: Final = 8
CRIMP_SCALE: Final = 100.0
"""An estimated crimp has two decimals in per cent: its error is a hundred times larger."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shrinkages:
    """What is left of a length after each step, as factors.

    Attributes:
        width_kept: Finished width over grey width.
        length_kept: Finished length over grey length.
        relaxed_kept: Grey length over length on the loom.
    """

    width_kept: float
    length_kept: float
    relaxed_kept: float


def grey_width_factor(stage: Stage, shrinkages: Shrinkages) -> float:
    """Return grey width over the width stated at ``stage``; in the loom state crimp decides it."""
    return 1 / shrinkages.width_kept if stage is Stage.FINISHED else 1.0


def grey_length_factor(stage: Stage, shrinkages: Shrinkages) -> float:
    """Return grey length over the length stated at ``stage``, above 0."""
    if stage is Stage.FINISHED:
        return 1 / shrinkages.length_kept
    return shrinkages.relaxed_kept if stage is Stage.LOOM_STATE else 1.0


@dataclass(slots=True, kw_only=True)
class StatedCloth(Record[N]):
    """A cloth as an order states it, in numbers, with nothing left open but its crimps.

    Attributes:
        ends_per_cm: At the stage of the order, as are picks and width.
        width_cm: Of one panel.
        grey_width_factor: Grey width over stated width, unless stated in the loom.
        grey_length_factor: Grey length over stated length.
        in_loom_state: Whether it is stated in the loom.
        relaxed_kept: Grey length over length on the loom.
        warp_diameter_mm: Mean over the order, as are the other figures of the yarns.
        warp_stated: Whether the crimp of the ends is stated.
        warp_crimp_pct: 0 if it is not stated.
        squares: Squares of the weave that may govern its jam; none if its mean floats do.
        lies_over: Whether all its threads can lie over one another.
        weft_stated: Whether the crimp of the picks is stated.
        weft_crimp_pct: 0 if it is not stated.
        selvedge_ends: Extra ends of all selvedges of all panels.
        loom_length_m: Grey cloth to weave on the loom.
    """

    ends_per_cm: N
    picks_per_cm: N
    width_cm: N
    grey_width_factor: N
    grey_length_factor: N
    in_loom_state: Truth
    relaxed_kept: N
    warp_diameter_mm: N
    weft_diameter_mm: N
    mean_float_of_picks: N
    mean_float_of_ends: N
    squares: Lists
    lies_over: Truth
    longest_warp_float_picks: N
    longest_weft_float_ends: N
    warp_stated: Truth
    warp_crimp_pct: N
    weft_stated: Truth
    weft_crimp_pct: N
    panels: N
    panel_gap_cm: N
    selvedge_ends: N
    loom_length_m: N


@dataclass(slots=True, kw_only=True)
class ClothNumbers(Record[N]):
    """What follows from a construction alone, in numbers; grey unless otherwise stated.

    Attributes:
        grey_width_cm: Of one panel.
        panel_reed_width_cm: Of one panel in the reed: the weft lies straight at beat-up.
        reed_width_cm: Of all panels in the reed, with the gaps between them.
        ground_ends: Of one panel, without the extra ends of its selvedges.
        total_ends: Of all panels, selvedges included.
        tightness_pct: Share of the jam where the threads are closest; at 100 % round yarns can come
            no closer.
        mean_tightness_pct: The same by mean floats and setts of the whole cloth.
        in_plane_tightness_pct: Where threads that lie in one plane are closest; 0 if all can lie
            over one another.
        warp_cover_pct: Diameters of the ends over their spacing.
        longest_float_mm: Longest float on either side of the cloth, warp or weft.
        loom_length_m: Grey cloth to weave on the loom.
        woven_warp_m: Warp that goes into it.
    """

    ends_per_cm: N
    picks_per_cm: N
    warp_crimp_pct: N
    weft_crimp_pct: N
    grey_width_cm: N
    panel_reed_width_cm: N
    reed_width_cm: N
    ground_ends: N
    total_ends: N
    picks_per_cm_on_loom: N
    tightness_pct: N
    mean_tightness_pct: N
    in_plane_tightness_pct: N
    warp_cover_pct: N
    longest_float_mm: N
    loom_length_m: N
    woven_warp_m: N


def grey_cloth(stated: StatedCloth[N]) -> ClothNumbers[N]:
    """Bring a cloth to the grey state, and count and measure it there."""
    picks = stated.picks_per_cm / stated.grey_length_factor
    crimp, width_factor = _grey_width(stated, picks)
    ends = stated.ends_per_cm / width_factor
    width_cm = stated.width_cm * width_factor
    panel_reed_cm = width_cm * (1 + crimp.weft_crimp_pct / 100)
    ground: N = greatest(1.0, whole(ends * width_cm))
    jam = jam_of_cloth(
        stated.squares,
        lies_over=stated.lies_over,
        ends_per_cm=ends,
        picks_per_cm=picks,
        warp_diameter_mm=stated.warp_diameter_mm,
        weft_diameter_mm=stated.weft_diameter_mm,
        mean_float_of_picks=stated.mean_float_of_picks,
        mean_float_of_ends=stated.mean_float_of_ends,
    )
    return ClothNumbers(
        ends_per_cm=ends,
        picks_per_cm=picks,
        warp_crimp_pct=crimp.warp_crimp_pct,
        weft_crimp_pct=crimp.weft_crimp_pct,
        grey_width_cm=width_cm,
        panel_reed_width_cm=panel_reed_cm,
        reed_width_cm=stated.panels * panel_reed_cm + (stated.panels - 1) * stated.panel_gap_cm,
        ground_ends=ground,
        total_ends=stated.panels * ground + stated.selvedge_ends,
        picks_per_cm_on_loom=picks * stated.relaxed_kept,
        tightness_pct=jam.tightness_pct,
        mean_tightness_pct=jam.mean_tightness_pct,
        in_plane_tightness_pct=jam.in_plane_tightness_pct,
        warp_cover_pct=100 * crowding(threads_per_cm=ends, diameter_mm=stated.warp_diameter_mm),
        longest_float_mm=greatest(
            float_length_mm(float_threads=stated.longest_warp_float_picks, threads_per_cm=picks),
            float_length_mm(float_threads=stated.longest_weft_float_ends, threads_per_cm=ends),
        ),
        loom_length_m=stated.loom_length_m,
        woven_warp_m=stated.loom_length_m * (1 + crimp.warp_crimp_pct / 100),
    )


def _grey_width(stated: StatedCloth[N], picks_per_cm: N) -> tuple[Crimps[N], N]:
    """Return the crimps of the grey cloth, and its width over the stated one."""
    factor = stated.grey_width_factor
    crimp = _crimps(stated, stated.ends_per_cm / factor, picks_per_cm)
    if not anywhere(stated.in_loom_state):
        return crimp, factor
    # In the reed the weft lies straight, so the grey width needs the crimp, which needs the
    # grey sett: a few rounds bring the two together to well under the estimate's error.
    found = crimp
    for _ in range(CRIMP_ROUNDS):
        found = _crimps(stated, stated.ends_per_cm * (1 + found.weft_crimp_pct / 100), picks_per_cm)
    in_loom = stated.in_loom_state
    both: Crimps[N] = Crimps(
        either(in_loom, found.warp_crimp_pct, crimp.warp_crimp_pct),
        either(in_loom, found.weft_crimp_pct, crimp.weft_crimp_pct),
    )
    return both, either(in_loom, 1 / (1 + both.weft_crimp_pct / 100), factor)


def _crimps(stated: StatedCloth[N], ends_per_cm: N, picks_per_cm: N) -> Crimps[N]:
    found = estimate_crimps(
        ends_per_cm=ends_per_cm,
        picks_per_cm=picks_per_cm,
        warp_diameter_mm=stated.warp_diameter_mm,
        weft_diameter_mm=stated.weft_diameter_mm,
        mean_float_of_picks=stated.mean_float_of_picks,
        mean_float_of_ends=stated.mean_float_of_ends,
        warp_stated=stated.warp_stated,
        warp_crimp_pct=stated.warp_crimp_pct,
        weft_stated=stated.weft_stated,
        weft_crimp_pct=stated.weft_crimp_pct,
    )
    # Rounded to the reported precision, so that stating the estimate changes nothing.
    return Crimps(
        either(stated.warp_stated, found.warp_crimp_pct, _as_reported(found.warp_crimp_pct)),
        either(stated.weft_stated, found.weft_crimp_pct, _as_reported(found.weft_crimp_pct)),
    )


def _as_reported(crimp_pct: N) -> N:
    return whole(crimp_pct * CRIMP_SCALE) / CRIMP_SCALE
