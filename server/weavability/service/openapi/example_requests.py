"""The requests that the documentation shows; their answers are computed, never written by hand."""

from __future__ import annotations

from typing import Any, Final

from weavability.service.schemas.design_schema import EXAMPLE_PICTURE

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
    "loom_id": "rapier-190-dobby",
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

PRICED: Final[dict[str, Any]] = {
    "construction": {**SMALL_CONSTRUCTION, "length_m": 3000},
    "loom_id": "rapier-190-dobby",
    "prices": {
        "currency": "EUR",
        "yarn_per_kg": {"warp A": 4.2, "weft A": 3.9},
        "size_per_kg": 1.1,
        "loom_hour": 6.5,
        "changeover_hour": 40,
        "energy_per_kwh": 0.18,
    },
}
"""An order with what the mill pays, for costs."""

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

REMEDIES: Final[dict[str, Any]] = {
    "loom_id": "rapier-190-dobby",
    "construction": {**SMALL_CONSTRUCTION, "width_in": 76, "requested_speed_picks_per_min": 650},
}
"""Too wide for the reed, and too fast: no single change makes it weavable."""

WINDOW: Final[dict[str, Any]] = {
    "loom_id": "rapier-190-dobby",
    "construction": SMALL_CONSTRUCTION,
    "across": {"pointer": "/construction/warp/ends_per_in", "from": 40, "to": 120, "points": 9},
    "along": {"pointer": "/construction/weft/picks_per_in", "from": 40, "to": 120, "points": 9},
}

INSERTION_RATE: Final[dict[str, Any]] = {
    "loom_id": "rapier-190-dobby",
    "reed_width_cm": 160,
    "weft": {"designation": "Ne 20", "fibre": "cotton"},
    "speed_picks_per_min": 560,
    "feeders": 2,
}

INSERTION_RATE_SWEEP: Final[dict[str, Any]] = {
    "loom_id": "rapier-190-cam",
    "construction": CONSTRUCTION,
    "sweep": {"over": "reed_width_cm", "from": 120, "to": 190, "points": 8},
}

_NAVY_TWILL: Final[dict[str, Any]] = {
    **CONSTRUCTION,
    "reference": "SO-10477/3",
    "weft": {**CONSTRUCTION["weft"], "picks_per_cm": 26.0},
    "weave": "3/1 twill Z",
}
"""The same warp as the first example, with another lift plan and closer picks."""

_POPLIN: Final[dict[str, Any]] = {
    "reference": "SO-10490/1",
    "warp": {
        "yarns": {"A": {"designation": "Ne 50/2", "fibre": "cotton"}},
        "ends_per_cm": 44.0,
        "crimp_pct": 9.0,
    },
    "weft": {
        "yarns": {"A": {"designation": "Ne 50/2", "fibre": "cotton"}},
        "picks_per_cm": 26.0,
        "crimp_pct": 4.0,
    },
    "weave": "plain",
    "width_cm": 152.0,
    "selvedge": {"ends_per_side": 24},
    "length_m": 3000,
}

LOOM_MATCH: Final[dict[str, Any]] = {
    "construction": CONSTRUCTION,
    "loom_ids": ["rapier-190-dobby", "rapier-230-dobby", "rapier-190-cam"],
    "on_loom": {"rapier-190-dobby": _POPLIN, "rapier-230-dobby": _NAVY_TWILL},
}

CHANGEOVER: Final[dict[str, Any]] = {
    "from": _NAVY_TWILL,
    "to": CONSTRUCTION,
    "loom_id": "rapier-190-dobby",
}

CHANGEOVER_AT_OWN_RATES: Final[dict[str, Any]] = {
    "from": CONSTRUCTION,
    "to": _POPLIN,
    "loom_id": "rapier-190-dobby",
    "rates": {"knots_per_h": 7200, "gaiting_hours": 4.5},
}

SEQUENCE: Final[dict[str, Any]] = {
    "orders": [
        CONSTRUCTION,
        _POPLIN,
        {**CONSTRUCTION, "reference": "SO-10485/1", "weave": "2/2 warp rib"},
        {**_POPLIN, "reference": "SO-10486/1", "weave": "3/1 twill Z"},
    ],
    "on_loom": _NAVY_TWILL,
    "loom_id": "rapier-190-dobby",
}

ORDERS_CSV: Final = (
    "reference,loom_id,weave,width_cm,length_m,ends_per_cm,picks_per_cm,warp_order,"
    "warp_yarn_A,warp_fibre_A,warp_yarn_B,warp_fibre_B,weft_yarn_A,weft_fibre_A\r\n"
    "SO-10482/1,rapier-190-dobby,2/2 twill Z,152,3000,32,24,24A 4B 24A 8B,"
    "Ne 40/2,cotton,Ne 40/2,cotton,Ne 20,cotton\r\n"
    "SO-10483/1,rapier-190-cam,1100|0110|0011|1001,150.5,1200,28,22,,"
    "Ne 30,cotton,,,Ne 30,cotton\r\n"
    "SO-10484/1,rapier-190-doby,plain,wide,500,28,22,,Ne 30,cotton,,,Ne 30,cotton\r\n"
)
"""Orders in a sheet: stripes, a weave row by row, and a row with two slips of the pen."""

WEAVE: Final[dict[str, Any]] = {
    "weave": "2/2 twill Z",
    "ends_per_cm": 32,
    "picks_per_cm": 24,
    "total_ends": 4864,
    "warp": {"order": "24A 4B 24A 8B", "colours": {"A": "#1c2a4a", "B": "#f4f1e8"}},
    "weft": {"colours": {"A": "#f4f1e8"}},
    "against": "2/2 twill S",
}

WEAVE_ON_DOBBY: Final[dict[str, Any]] = {
    "weave": {
        "threading": [1, 2, 3, 4, 3, 2],
        "lift_plan": ["1100", "0110", "0011", "1001"],
    },
    "ends_per_in": 80,
    "picks_per_in": 60,
    "reed_width_in": 63,
    "shedding": {"kind": "dobby", "shafts": 16, "max_healds_per_cm_per_shaft": 10},
}

WEAVE_ON_JACQUARD: Final[dict[str, Any]] = {
    "weave": {
        "stripes": [
            {"weave": "plain", "ends": 40},
            {"weave": "5-end satin move 2", "ends": 60},
        ]
    },
    "ends_per_cm": 60,
    "picks_per_cm": 30,
    "reed_width_cm": 160,
    "shedding": {
        "kind": "jacquard",
        "hooks": 2640,
        "ends_per_hook": 4,
        "harness_ends_per_cm": 60,
    },
}

DESIGN: Final[dict[str, Any]] = {
    "construction": {
        "warp": {"yarns": {"A": {"designation": "Ne 60/2", "fibre": "cotton"}}, "ends_per_cm": 40},
        "weft": {"yarns": {"A": {"designation": "Ne 30", "fibre": "cotton"}}, "picks_per_cm": 32},
        "weave": {
            "design": {
                "picture_png": EXAMPLE_PICTURE,
                "covers": "hooks",
                "effects": {
                    "#ffffff": {"name": "ground", "weave": "8-end satin move 3"},
                    "#c01030": {"name": "flower", "weave": "8-end satin move 3", "face": "weft"},
                },
                "float_limits": {"warp_mm": 3, "weft_mm": 2.25},
                "correct": True,
            }
        },
        "width_cm": 160,
        "selvedge": {"ends_per_side": 24, "weave": "2/2 weft rib"},
        "length_m": 600,
    },
    "loom": {
        "insertion": {"system": "rapier"},
        "reed_width_cm": 190,
        "max_speed_picks_per_min": 450,
        "shedding": {
            "kind": "jacquard",
            "hooks": 32,
            "harness_ends_per_cm": 39,
            "tie": [{"from_hook": 1, "hooks": 32, "order": "centred", "times": 100}],
        },
    },
}
