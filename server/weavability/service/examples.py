"""The requests that the documentation shows; their answers are computed, never written by hand."""

from __future__ import annotations

from typing import Any, Final

CONSTRUCTION: Final[dict[str, Any]] = {
    "reference": "SO-10482/1",
    "stage": "grey",
    "warp": {
        "yarns": {
            "A": {"designation": "Ne 40/2", "fibre": "cotton", "colour": "#1c2a4a"},
            "B": {"designation": "Ne 40/2", "fibre": "cotton", "colour": "#f4f1e8"},
        },
        "order": "24A 4B 24A 8B",
        "ends_per_cm": 32.0,
        "crimp_pct": 8.0,
    },
    "weft": {
        "yarns": {"A": {"designation": "Ne 20", "fibre": "cotton"}},
        "order": "A",
        "picks_per_cm": 24.0,
        "crimp_pct": 5.0,
    },
    "weave": "2/2 twill Z",
    "width_cm": 152.0,
    "selvedge": {"ends_per_side": 24},
    "panels": 1,
    "length_m": 3000,
    "reed": {"dents_per_10cm": 160, "ends_per_dent": 2},
    "draft": {"threading": "straight"},
    "finishing": {"width_shrinkage_pct": 4.0, "length_shrinkage_pct": 3.0},
    "requested_speed_picks_per_min": 520,
}

LOOM: Final[dict[str, Any]] = {
    "loom_id": "R190-dobby",
    "insertion": {
        "system": "rapier",
        "max_rate_m_per_min": 1150,
        "entry_deg": 70,
        "exit_deg": 290,
        "motion_law": "modified_sine",
    },
    "reed_width_cm": 190.0,
    "min_reed_width_cm": 120.0,
    "max_speed_picks_per_min": 620,
    "speed_curve": [
        {"reed_width_cm": 140, "picks_per_min": 620},
        {"reed_width_cm": 190, "picks_per_min": 560},
    ],
    "shedding": {
        "kind": "dobby",
        "shafts": 20,
        "max_speed_picks_per_min": 600,
        "max_pattern_picks": 6400,
        "max_healds_per_cm_per_shaft": 10,
        "max_healds_per_shaft": 1800,
    },
    "weft_selectors": 8,
    "picks_per_cm": {"min": 4, "max": 80},
    "weft_tex": {"min": 7, "max": 500},
    "warp_beam": {"flange_diameter_cm": 100, "barrel_diameter_cm": 20, "count": 1},
    "cloth_roll_diameter_cm": 55,
    "max_tightness_pct": 100,
    "reeds_in_stock_dents_per_10cm": [120, 140, 160, 180],
    "running": {"efficiency_pct": 88},
}

VALIDATION: Final[dict[str, Any]] = {"construction": CONSTRUCTION, "loom": LOOM}

SMALL_CONSTRUCTION: Final[dict[str, Any]] = {
    "warp": {"yarns": {"A": {"designation": "Ne 30", "fibre": "cotton"}}, "ends_per_in": 72},
    "weft": {"yarns": {"A": {"designation": "Ne 30", "fibre": "cotton"}}, "picks_per_in": 60},
    "weave": "plain",
    "width_in": 60,
}

FAULTY_VALIDATION: Final[dict[str, Any]] = {
    "construction": {
        "warp": {
            "yarns": {"A": {"designation": "Ne 30", "fibre": "coton"}},
            "ends_per_cm": "30",
        },
        "weft": {"yarns": {"A": {"designation": "Ne 30", "fibre": "cotton"}}},
        "weave": {"rows": ["10", "0"]},
        "width_cm": -150,
    },
    "loom": LOOM,
}
"""Several things wrong at once: what the answer to a bad request looks like."""
