"""Bounds of every number of a loom: what a request or a park file may state.

The request schemas and the guards of the core read the same table.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from weavability.looms.shuttle_boxes import MOST_BOXES
from weavability.textiles.bounds import (
    DENTS_PER_10CM,
    SPEED_PICKS_PER_MIN,
    WIDTH_CM,
    Bounds,
)

_CRANK_ANGLE: Final = Bounds(0, 360, "degrees of the crank circle")
_RATE_M_PER_MIN: Final = Bounds(1, 20_000, "m/min")
_LIMIT_PICKS_PER_CM: Final = Bounds(0.1, 500, "picks/cm")
_LIMIT_TEX: Final = Bounds(0.1, 20_000, "tex")
_STOPS: Final = Bounds(0, 100_000, "stops/100 000 picks")
_MINUTES: Final = Bounds(0, 10_000, "min")
_CHANGE_MINUTES: Final = Bounds(0, 100_000, "min")
_CHANGE_HOURS: Final = Bounds(0, 10_000, "h")
_ENDS_PER_HOUR: Final = Bounds(1, 10_000_000, "ends/h")

MOST_CURVE_POINTS: Final = 64
"""Most points of a speed curve."""

MOST_REEDS: Final = 200
"""Most reeds in stock."""

MOST_MONEY: Final = 9_999_999_999
"""Greatest amount of money that may be stated, in whatever currency."""

LOOM_BOUNDS: Final[Mapping[str, Bounds]] = MappingProxyType(
    {
        "/reed_width_cm": WIDTH_CM,
        # What is assumed for the narrowest loom is a share of its reed width, and can be stated.
        "/min_reed_width_cm": Bounds(0.1, WIDTH_CM.most, "cm"),
        "/max_speed_picks_per_min": SPEED_PICKS_PER_MIN,
        "/speed_curve/reed_width_cm": WIDTH_CM,
        "/speed_curve/picks_per_min": SPEED_PICKS_PER_MIN,
        "/weft_selectors": Bounds(1, 64, "wefts"),
        "/boxes": Bounds(1, MOST_BOXES, "boxes"),
        "/cloth_roll_diameter_cm": Bounds(5, 500, "cm"),
        "/cloth_tube_diameter_cm": Bounds(0.5, 200, "cm"),
        "/max_tightness_pct": Bounds(10, 300, "%"),
        "/reeds_in_stock_dents_per_10cm": DENTS_PER_10CM,
        "/insertion/max_rate_m_per_min": _RATE_M_PER_MIN,
        "/insertion/entry_deg": _CRANK_ANGLE,
        "/insertion/transfer_deg": _CRANK_ANGLE,
        "/insertion/exit_deg": _CRANK_ANGLE,
        "/insertion/overrun_cm": Bounds(0, 300, "cm"),
        "/insertion/picks_per_insertion": Bounds(1, 2, "picks"),
        # Something is brought to speed over these, or to rest: 0 says that nothing is.
        "/insertion/transfer_travel_cm": Bounds(0.001, 100, "cm", or_zero=True),
        "/insertion/carrier_length_cm": Bounds(0, 200, "cm"),
        "/insertion/launch_length_cm": Bounds(0.001, 300, "cm", or_zero=True),
        "/insertion/stopping_length_cm": Bounds(0.001, 300, "cm", or_zero=True),
        "/insertion/extra_weft_cm": Bounds(0, 200, "cm"),
        "/insertion/free_weft_length_m": Bounds(0, 50, "m"),
        "/insertion/base_tension_cn_per_tex": Bounds(0, 20, "cN/tex"),
        "/insertion/withdrawal_factor": Bounds(1, 100, "times mu v^2"),
        "/insertion/friction_coefficient": Bounds(0, 2, ""),
        "/insertion/wrap_deg": Bounds(0, 1_440, "degrees"),
        "/insertion/initial_modulus_times": Bounds(1, 100, "times"),
        "/insertion/max_feeder_speed_m_per_min": _RATE_M_PER_MIN,
        "/shedding/shafts": Bounds(2, 64, "shafts"),
        "/shedding/max_repeat_picks": Bounds(1, 100, "picks"),
        "/shedding/max_pattern_picks": Bounds(1, 10_000_000, "picks"),
        "/shedding/max_speed_picks_per_min": SPEED_PICKS_PER_MIN,
        "/shedding/max_healds_per_cm_per_shaft": Bounds(0.5, 100, "healds/cm/shaft"),
        "/shedding/max_healds_per_shaft": Bounds(1, 100_000, "healds"),
        "/shedding/hooks": Bounds(1, 100_000, "hooks"),
        "/shedding/ends_per_hook": Bounds(1, 1_000, "ends"),
        "/shedding/harness_ends_per_cm": Bounds(0.5, 500, "ends/cm"),
        "/shedding/selvedge_hooks": Bounds(0, 10_000, "hooks"),
        "/shedding/cord_cm": Bounds(10, 1_000, "cm"),
        "/shedding/hook_lift_cm": Bounds(0.5, 50, "cm"),
        "/shedding/tie/from_hook": Bounds(1, 100_000, "hooks"),
        "/shedding/tie/hooks": Bounds(1, 100_000, "hooks"),
        "/shedding/tie/times": Bounds(1, 1_000, "times"),
        "/picks_per_cm/min": _LIMIT_PICKS_PER_CM,
        "/picks_per_cm/max": _LIMIT_PICKS_PER_CM,
        "/weft_tex/min": _LIMIT_TEX,
        "/weft_tex/max": _LIMIT_TEX,
        "/warp_beam/flange_diameter_cm": Bounds(2, 400, "cm"),
        "/warp_beam/barrel_diameter_cm": Bounds(1, 200, "cm"),
        "/warp_beam/width_cm": WIDTH_CM,
        "/warp_beam/count": Bounds(1, 16, "beams"),
        "/warp_beam/density_g_per_cm3": Bounds(0.05, 10, "g/cm³"),
        "/warp_strain/base_tension_cn_per_tex": Bounds(0.01, 20, "cN/tex"),
        "/warp_strain/base_tension_pct": Bounds(0.1, 50, "%"),
        "/warp_strain/shed_half_height_cm": Bounds(0.5, 50, "cm"),
        "/warp_strain/easing_pct": Bounds(0, 100, "%"),
        "/running/efficiency_pct": Bounds(1, 100, "%"),
        "/running/warp_stops_per_100k_picks": _STOPS,
        "/running/weft_stops_per_100k_picks": _STOPS,
        "/running/minutes_per_warp_stop": _MINUTES,
        "/running/minutes_per_weft_stop": _MINUTES,
        "/running/looms_per_weaver": Bounds(1, 1_000, "looms"),
        "/running/looms_per_set": Bounds(1, 1_000, "looms"),
        "/running/weavers": Bounds(1, 1_000, "weavers"),
        "/running/hours_per_day": Bounds(0.5, 24, "h"),
        "/power_kw": Bounds(0, 1_000, "kW"),
        "/air_m3_per_h": Bounds(0, 10_000, "m³/h"),
        "/loom_hour": Bounds(0, MOST_MONEY, "per h"),
        "/price": Bounds(0, MOST_MONEY, "in that currency"),
        "/interest_pct": Bounds(0, 1_000, "%"),
        "/life_years": Bounds(0.1, 100, "years"),
        "/hours_per_year": Bounds(1, 8_784, "h"),
        "/changeover_rates/minutes_per_weft": _CHANGE_MINUTES,
        "/changeover_rates/minutes_for_picks": _CHANGE_MINUTES,
        "/changeover_rates/minutes_for_design": _CHANGE_MINUTES,
        "/changeover_rates/hours_for_cams": _CHANGE_HOURS,
        "/changeover_rates/minutes_for_width": _CHANGE_MINUTES,
        "/changeover_rates/knots_per_h": Bounds(1, 10_000_000, "knots/h"),
        "/changeover_rates/tie_in_ends_per_h": _ENDS_PER_HOUR,
        "/changeover_rates/tie_in_fixed_hours": _CHANGE_HOURS,
        "/changeover_rates/most_further_ends_pct": Bounds(0, 100, "%"),
        "/changeover_rates/hand_drawing_ends_per_h": _ENDS_PER_HOUR,
        "/changeover_rates/reeding_ends_per_h": _ENDS_PER_HOUR,
        "/changeover_rates/reeding_fixed_hours": _CHANGE_HOURS,
        "/changeover_rates/drawing_in_ends_per_h": _ENDS_PER_HOUR,
        "/changeover_rates/gaiting_hours": _CHANGE_HOURS,
        "/changeover_rates/jacquard_threading_ends_per_h": _ENDS_PER_HOUR,
        "/changeover_rates/harness_tie_ends_per_h": _ENDS_PER_HOUR,
        "/changeover_rates/harness_fixed_hours": _CHANGE_HOURS,
        "/changeover_rates/minutes_to_leave_ends_out": _CHANGE_MINUTES,
        "/changeover_rates/hours_per_beam": _CHANGE_HOURS,
        "/changeover_rates/minutes_for_pile": _CHANGE_MINUTES,
    }
)
"""By JSON Pointer relative to the loom; of a list, those of its items."""
