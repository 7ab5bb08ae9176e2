"""Published worked examples, each put in as an order and read out of the report."""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import reduce
from pathlib import Path
from typing import Any, Final

import pytest

from weavability.answers.report import Report
from weavability.answers.validation import assess
from weavability.looms.carriers import InsertionSystem
from weavability.looms.loom import Insertion, Loom, Running, Shedding, SheddingKind, WarpBeam
from weavability.textiles.construction import (
    Allowances,
    Construction,
    Finishing,
    Stage,
    ThreadSystem,
)
from weavability.textiles.notation import parse_weave
from weavability.textiles.yarns import Yarn

Case = Mapping[str, Any]

PUBLISHED: Final = json.loads(
    (Path(__file__).parent.parent / "reference/answers_published.json").read_text("utf-8")
)
# What one of the example's units is in the report's.
UNITS: Final = {
    "in": 2.54,
    "per_in": 1 / 2.54,
    "yd": 0.9144,
    "oz": 0.45359237 / 16,
    "lb": 0.45359237,
}


def threads(given: Case, way: str, name: str, *, usual: float) -> ThreadSystem:
    per_in, per_cm = given.get(f"{name}_per_in"), given.get(f"{name}_per_cm", usual)
    crimp_pct = given.get(f"{way}_crimp_pct", 0.0)
    if f"{way}_take_up_pct" in given:
        crimp_pct = 100 * given[f"{way}_take_up_pct"] / (100 - given[f"{way}_take_up_pct"])
    return ThreadSystem(
        yarns={"A": Yarn(designation=given.get(way, "20 tex"), fibre="cotton")},
        threads_per_cm=per_in / 2.54 if per_in else per_cm,
        crimp_pct=crimp_pct,
    )


def construction(given: Case) -> Construction:
    width_in, length_yd = given.get("width_in"), given.get("length_yd")
    return Construction(
        stage=Stage(given.get("stage", "grey")),
        warp=threads(given, "warp", "ends", usual=24.0),
        weft=threads(given, "weft", "picks", usual=20.0),
        weave=parse_weave(given.get("weave", "plain")),
        width_cm=width_in * 2.54 if width_in else given.get("width_cm", 100.0),
        length_m=length_yd * 0.9144 if length_yd else given.get("length_m"),
        finishing=Finishing(
            width_shrinkage_pct=given.get("width_shrinkage_pct", 0.0),
            length_shrinkage_pct=given.get("length_shrinkage_pct", 0.0),
            relaxation_pct=0.0,
        ),
        allowances=Allowances(
            warp_waste_pct=0.0,
            weft_waste_pct=0.0,
            loom_waste_m=0.0,
            size_pct=given.get("size_pct", 0.0),
        ),
    )


def shedding(given: Case) -> Shedding:
    if "hooks" in given:
        return Shedding(
            kind=SheddingKind.JACQUARD, hooks=given["hooks"], ends_per_hook=given["ends_per_hook"]
        )
    return Shedding(
        kind=SheddingKind.DOBBY,
        shafts=20,
        max_healds_per_cm_per_shaft=given.get("max_healds_per_cm_per_shaft"),
    )


def loom(given: Case) -> Loom:
    """A loom that limits nothing but what the example is about."""
    return Loom(
        insertion=Insertion(
            system=InsertionSystem.RAPIER, max_rate_m_per_min=20_000.0, extra_weft_cm=0.0
        ),
        reed_width_cm=600.0,
        max_speed_picks_per_min=given.get("speed", 100.0),
        shedding=shedding(given),
        warp_beam=WarpBeam(**given.get("beam", {"flange_diameter_cm": 300, "count": 16})),
        running=Running(
            **given.get("stops", {"efficiency_pct": given.get("efficiency_pct", 100.0)})
        ),
    )


def figure(report: Report, path: str) -> float:
    section, *rest = path.split(".")
    if section == "yarn":
        (use,) = (one for one in report.yarn if one.yarn == rest[0])
        return float(getattr(use, rest[1]))
    return float(reduce(getattr, rest, getattr(report, section)))


@pytest.mark.slow
@pytest.mark.parametrize("case", PUBLISHED["cases"], ids=lambda case: case["id"])
def test_a_published_example_comes_out(case: Case) -> None:
    given = case["given"]
    found = figure(assess(construction(given), loom(given)), case["figure"])
    found *= case.get("times", 1) / UNITS.get(case.get("unit", ""), 1.0)
    assert found == pytest.approx(case["expected"], rel=1e-6, abs=case["tolerance"])


# C. P. Brooks, p. 93: 55 oz of warp, a quarter of that in size, 45.75 oz of weft: 7 lb 2.5 oz.
def test_a_whole_piece_as_it_comes_off_the_loom() -> None:
    (case,) = (case for case in PUBLISHED["cases"] if case["id"] == "L077")
    report = assess(construction(case["given"]), loom(case["given"]))
    ounces = {use.yarn: use.mass_kg / UNITS["oz"] for use in report.yarn}
    warp_oz, weft_oz = ounces["warp A"], ounces["weft A"]
    assert 1.25 * warp_oz + weft_oz == pytest.approx(114.5, abs=0.1)


# The two readings of "8 %" differ by 8.7 m/min: no tolerance may swallow the difference.
def test_crimp_and_take_up_are_kept_apart() -> None:
    rates = [
        assess(construction(case["given"]), loom(case["given"])).rates.insertion_rate_m_per_min
        for case in PUBLISHED["cases"]
        if case["id"] in {"L002", "L003"}
    ]
    assert rates == [pytest.approx(1350.0, abs=0.01), pytest.approx(1358.696, abs=0.01)]
