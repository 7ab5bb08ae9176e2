"""Published cases of loom, reed, output, queue, beam and change-over, one test each.

The cases, their sources and tolerances are in ``tests/reference/loom.json``.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from weavability.looms import beams, interference, output, reeds
from weavability.looms.carriers import (
    DEGREES_PER_SECOND_PER_PICK,
    InsertionSetup,
    InsertionSystem,
    Rapiers,
    insertion_legs,
    insertion_motion,
)
from weavability.looms.changeover_rates import ChangeoverRates
from weavability.looms.loom import SheddingKind
from weavability.looms.motion_laws import MotionLaw
from weavability.looms.style_change import changeover
from weavability.looms.style_on_loom import StyleOnLoom
from weavability.looms.weft_insertion import (
    extra_weft_pct,
    feeder_speed_m_per_min,
    insertion_rate_m_per_min,
)
from weavability.looms.weft_tension import strain_of
from weavability.textiles.geometry import warp_yarn_length_km

DOCUMENT = json.loads(
    (Path(__file__).parents[1] / "reference" / "loom.json").read_text(encoding="utf-8")
)
CASES: list[dict[str, Any]] = DOCUMENT["cases"]

Arguments = Mapping[str, Any]
Result = float | list[float]
CM_PER_IN = 2.54
M_PER_YD = 0.9144


def setup_of(fields: Mapping[str, Any]) -> InsertionSetup:
    law = fields.get("motion_law")
    given = {**fields, "system": InsertionSystem(fields["system"])}
    if law is not None:
        given["motion_law"] = MotionLaw(law)
    if "rapiers" in given:
        given["rapiers"] = Rapiers(given["rapiers"])
    return InsertionSetup(**given, free_weft_length_m=0.5, base_tension_cn=10.0)


def motion(a: Arguments) -> list[float]:
    found = insertion_motion(
        setup_of(a["setup"]),
        speed_picks_per_min=a["speed_picks_per_min"],
        reed_width_cm=a["reed_width_cm"],
    )
    return [getattr(found, field) for field in a["fields"]]


def speed_for_mean(a: Arguments) -> float:
    (leg,) = insertion_legs(setup_of(a["setup"]), reed_width_cm=a["reed_width_cm"])
    return float(a["mean_speed_m_per_s"] / leg.speed_per_pick())


def inertia_tension(a: Arguments) -> float:
    """The base tension, mu·v², and mu·L·a of a length that is accelerated."""
    weft = strain_of(linear_density_tex=float(a["linear_density_tex"]), modulus_cn_per_tex=1.0)
    pulled = a.get("moving_length_m", 0.0) * a.get("acceleration_m_per_s2", 0.0)
    return float(a.get("base_tension_cn", 0.0) + weft.thrust * (a["speed_m_per_s"] ** 2 + pulled))


def jerk_tension(a: Arguments) -> float:
    yarn = {key: float(a[key]) for key in ("linear_density_tex", "modulus_cn_per_tex")}
    return float(a["speed_m_per_s"]) * strain_of(**yarn).blow


def ends_in_inches(a: Arguments) -> float:
    metric = reeds.dents_per_10cm(a["count"], system=a["system"])
    return metric * int(a["ends_per_dent"]) * float(a["inches"]) * CM_PER_IN / 10


def ends_of_parts(a: Arguments) -> float:
    return sum(
        ends_in_inches({**a, "ends_per_dent": ends_per_dent, "inches": inches})
        for ends_per_dent, inches in a["parts"]
    )


def warp_hanks(a: Arguments) -> float:
    metres = a["yards"] * M_PER_YD
    return warp_yarn_length_km(ends=a["ends"], warp_length_m=metres) * 1000 / (840 * M_PER_YD)


def stockport_for_cloth(a: Arguments) -> float:
    in_reed = a["cloth_ends_per_in"] / CM_PER_IN / (1 + a["weft_crimp_pct"] / 100)
    metric = reeds.reed_for_sett(reed_ends_per_cm=in_reed, ends_per_dent=a["ends_per_dent"])
    return reeds.convert_reed_count(metric, from_system="metric", to_system="stockport")


def reed_for_sett(a: Arguments) -> list[float]:
    return [
        reeds.reed_for_sett(
            reed_ends_per_cm=a["ends_per_in"] / CM_PER_IN, ends_per_dent=ends_per_dent
        )
        * CM_PER_IN
        / 10
        for ends_per_dent in a["ends_per_dent"]
    ]


def air_space(a: Arguments) -> list[float]:
    room = reeds.air_space(**a, ends_per_dent=2, end_width_mm=0.2, knot_widths=2.5)
    return [room.gap_mm, 100 / a["dents_per_10cm"] - room.gap_mm]


def weft_waste(a: Arguments) -> float:
    extra = extra_weft_pct(**a)
    return extra / (1 + extra / 100)


def production(a: Arguments) -> float:
    metres_per_h: float = output.output_m_per_h(
        speed_picks_per_min=float(a["speed_picks_per_min"]),
        picks_per_cm=a["picks_per_in"] * a.get("inches_per_m", 100 / CM_PER_IN) / 100,
        efficiency_pct=a["efficiency_pct"],
    )
    metres = metres_per_h * float(a["hours"]) * int(a.get("looms", 1))
    return metres / M_PER_YD if a["unit"] == "yd" else metres


def efficiency_from_output(a: Arguments) -> float:
    """The efficiency that a measured output shows: cloth made over cloth possible."""
    made_m = a["output_m"] if "output_m" in a else a["output_yd"] * M_PER_YD
    possible_m_per_h = output.output_m_per_h(
        speed_picks_per_min=a["speed_picks_per_min"],
        picks_per_cm=a["picks_per_in"] / CM_PER_IN,
        efficiency_pct=100.0,
    )
    return float(made_m / a["hours"] / possible_m_per_h * 100)


def stopped_minutes(a: Arguments) -> float:
    """The rates know warp and weft stops; the third kind of the example is a pair of its own."""
    (warp, weft, other) = a["stops"]
    first = stops(warp[0], warp[1], weft[0], weft[1])
    return first.minutes_per_100k_picks + stops(other[0], other[1], 0, 0).minutes_per_100k_picks


def stops(
    warp: float, warp_minutes: float, weft: float, weft_minutes: float, looms: int = 1
) -> interference.StopRates:
    return interference.StopRates(
        warp_stops_per_100k_picks=warp,
        weft_stops_per_100k_picks=weft,
        minutes_per_warp_stop=warp_minutes,
        minutes_per_weft_stop=weft_minutes,
        looms_per_set=looms,
    )


def stop_rates(a: Arguments) -> list[float]:
    rates = stops(a["stops"], a["minutes"] / a["stops"], 0, 0, a["looms_per_weaver"])
    facts = interference.efficiency_from_stops(rates, speed_picks_per_min=a["speed_picks_per_min"])
    assert facts.constant_repair_efficiency_pct is not None
    return [facts.efficiency_pct, facts.constant_repair_efficiency_pct]


def repair_ratio(a: Arguments) -> float:
    """One loom never waits, so its repair-to-run ratio is stop loss over efficiency."""
    rates = stops(a["stops"], a["minutes"] / a["stops"], 0, 0)
    facts = interference.efficiency_from_stops(rates, speed_picks_per_min=a["speed_picks_per_min"])
    return facts.stop_loss_pct / facts.efficiency_pct


def breaks_within_band(a: Arguments) -> list[float]:
    """The published standard deviation of breaks, moved into our band if it lies outside."""
    facts = interference.efficiency_from_stops(stops(6, 1.5, 4, 0.6), speed_picks_per_min=500)
    expected = a["breaks"] / a["looms"]
    band = interference.order_stops(facts, hours=expected / facts.stops_per_loom_hour).deviation
    return [min(max(a["variance"] ** 0.5, band.low), band.high)]


def queue(a: Arguments) -> list[float]:
    given = {key: value for key, value in a.items() if key != "fields"}
    facts = interference.finite_source_queue(**given)
    known = {
        "stopped": facts.machines - facts.running,
        "served_share": (facts.running + facts.in_repair) / facts.machines,
    }
    return [known[field] if field in known else getattr(facts, field) for field in a["fields"]]


def denting(a: Arguments) -> float:
    return float(getattr(reeds.DentingPattern(ends_in_dent=tuple(a["pattern"])), a["field"]))


STYLE = StyleOnLoom(
    ends=3000,
    reed_dents_per_10cm=120,
    ends_per_dent=2,
    threading=(1, 2, 3, 4),
    lift_plan="twill",
    weft_yarns=("A",),
    warp="white",
    shedding=SheddingKind.DOBBY,
    picks_per_cm=20,
    reed_width_cm=125,
)


def tie_in_hours(ends: int, rates: ChangeoverRates) -> float:
    old = replace(STYLE, ends=ends)
    return changeover(old, replace(old, warp="navy"), rates=rates).taken.steps[0].hours


def knotting_rate_range(a: Arguments) -> list[float]:
    """Published effective rates; ours must lie between them."""
    published = [a["ends"] / minutes for minutes in a["minutes"]]
    assert min(published) <= ChangeoverRates().knots_per_h / 60 <= max(published)
    return published


def hand_tying_hours(a: Arguments) -> list[float]:
    return [
        tie_in_hours(
            a["ends"],
            ChangeoverRates(
                knots_per_h=rate, tie_in_ends_per_h=1e9, tie_in_fixed_hours=0.0, gaiting_hours=100.0
            ),
        )
        for rate in a["knots_per_h"]
    ]


def beam_mass(a: Arguments) -> float:
    size = {key: a[key] for key in ("winding_diameter_cm", "barrel_diameter_cm", "width_cm")}
    volume: float = beams.beam_volume_cm3(**size)
    return volume * float(a["density_g_per_cm3"]) / 1000


CALLS: dict[str, Callable[[Arguments], Result]] = {
    "insertion_rate": lambda a: insertion_rate_m_per_min(**a),
    "crank_speed": lambda a: DEGREES_PER_SECOND_PER_PICK * a["speed_picks_per_min"],
    "motion": motion,
    "speed_for_mean": speed_for_mean,
    "inertia_tension": inertia_tension,
    "jerk_tension": jerk_tension,
    "convert": lambda a: reeds.convert_reed_count(**a),
    "convert_many": lambda a: [
        reeds.convert_reed_count(count, from_system=a["from_system"], to_system=a["to_system"])
        for count in a["counts"]
    ],
    "ends_per_inch": lambda a: [
        ends_in_inches({**a, "ends_per_dent": each, "inches": 1}) for each in a["ends_per_dent"]
    ],
    "ends_in_inches": ends_in_inches,
    "ends_of_parts": ends_of_parts,
    "warp_hanks": warp_hanks,
    "reed_for_sett": reed_for_sett,
    "denting": denting,
    "denting_density": lambda a: (
        a["ends_per_in"] / reeds.DentingPattern(ends_in_dent=tuple(a["pattern"])).mean_ends_per_dent
    ),
    "stockport_for_cloth": stockport_for_cloth,
    "air_space": air_space,
    "warp_length": lambda a: beams.warp_length_m(**a),
    "weft_waste": weft_waste,
    "feeder_speed": lambda a: feeder_speed_m_per_min(**a),
    "production": production,
    "efficiency_from_output": efficiency_from_output,
    "output_m_per_h": lambda a: output.output_m_per_h(**a),
    "order_days": lambda a: output.days_for_hours(
        hours=output.hours_for_order(length_m=a["length_m"], output_m_per_h=a["output_m_per_h"]),
        hours_per_day=a["hours_per_day"],
    ),
    "stopped_minutes": stopped_minutes,
    "stop_efficiency": lambda a: (
        interference.efficiency_from_stops(
            stops(1, a["stopped"], 0, 0), speed_picks_per_min=a["speed_picks_per_min"]
        ).efficiency_without_waiting_pct
    ),
    "queue": queue,
    "breaks_within_band": breaks_within_band,
    "repair_ratio": repair_ratio,
    "stop_rates": stop_rates,
    "constant_repair": lambda a: interference.constant_repair_running(**a),
    "beam_volume": lambda a: beams.beam_volume_cm3(**a),
    "beam_mass": beam_mass,
    "beam_capacity": lambda a: beams.beam_capacity_m(**a),
    "warp_mass": lambda a: beams.warp_mass_kg(**a),
    "tie_in_ends_per_h": lambda a: [n / tie_in_hours(n, ChangeoverRates()) for n in a["ends"]],
    "knotting_rate_range": knotting_rate_range,
    "hand_tying_hours": hand_tying_hours,
    "days_between_warps": lambda a: beams.days_between_warps(**a),
}


@pytest.mark.slow
@pytest.mark.parametrize("case", CASES, ids=[case["id"] for case in CASES])
def test_the_published_case_is_reproduced(case: dict[str, Any]) -> None:
    result = CALLS[case["function"]](case["arguments"])
    tolerance = {"rel": 0.0, "abs": 0.0, **case["tolerance"]}
    expected = np.atleast_1d(np.asarray(case["expected"], dtype=np.float64))
    assert np.atleast_1d(result) == pytest.approx(expected, **tolerance)


def test_the_wrong_tutor_answer_is_not_what_we_compute() -> None:
    """Rejected case R08: eight machines, one repairer, said to run free 0.20 of the time."""
    facts = interference.finite_source_queue(machines=8, weavers=1, mean_run=20, mean_repair=2)
    assert facts.all_running_probability == pytest.approx(0.3383, abs=1e-4)
    assert facts.machines - facts.running == pytest.approx(1.3832, abs=1e-4)
