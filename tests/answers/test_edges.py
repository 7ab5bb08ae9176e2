"""Input at and beyond the edge of sense: refused with its field, or judged, never a crash."""

from __future__ import annotations

import time
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from answers.strategies import constructions, looms
from builders import (
    construction,
    finding,
    insertion,
    jacquard,
    loom,
    named,
    report,
    shedding,
    threads,
)
from hypothesis import assume, given
from profiles import share_of_examples

from weavability.answers.report import Report
from weavability.answers.validation import assess, judge
from weavability.answers.verdicts import verdict_of
from weavability.checks.finding import Severity
from weavability.checks.registry import SUBJECTS, find_check
from weavability.looms.loom import Band, CurvePoint, Loom, Running, SheddingKind, WarpBeam
from weavability.textiles.construction import (
    Allowances,
    Construction,
    DraftRequest,
    Finishing,
    Reed,
    Selvedge,
)
from weavability.textiles.errors import InputError
from weavability.textiles.weave_matrix import Weave
from weavability.textiles.yarns import Yarn


def pointers(cloth: Construction, on: Loom) -> list[str]:
    with pytest.raises(InputError) as refused:
        assess(cloth, on)
    return [fault.pointer for fault in refused.value.faults]


def judged(cloth: Construction, on: Loom) -> Report | None:
    try:
        return assess(cloth, on)
    except InputError as error:
        faults = error.faults
    assert all(fault.pointer.startswith(("/construction/", "/loom/")) for fault in faults), faults
    return None


def is_readable(cloth: Construction, on: Loom) -> bool:
    try:
        judge(cloth, on)
    except InputError:
        return False
    return True


@pytest.mark.slow
@given(constructions, looms())
def test_any_request_is_judged_or_refused_at_a_field(cloth: Construction, on: Loom) -> None:
    answer = judged(cloth, on)
    assume(answer is not None)
    assert answer is not None
    assert answer == assess(cloth, on)
    severities = [found.severity for found in answer.findings]
    assert answer.verdict is verdict_of(answer.findings)
    assert answer.counts.errors == severities.count(Severity.ERROR)
    assert answer.counts.warnings == severities.count(Severity.WARNING)
    assert answer.counts.notes == severities.count(Severity.NOTE)
    for found in answer.findings:
        check = find_check(found.code)
        assert check is not None
        assert found.severity in check.severities
        assert found.source == check.source
    subjects = [each.__name__.rpartition(".")[2] for each in SUBJECTS]
    places = [subjects.index(found.code.split(".")[0]) for found in answer.findings]
    assert places == sorted(places)


@pytest.mark.slow
@share_of_examples(0.4)
@given(constructions, looms(), looms())
def test_whether_a_cloth_can_be_read_does_not_depend_on_the_loom(
    cloth: Construction, one: Loom, other: Loom
) -> None:
    plain = construction()
    assume(is_readable(plain, one) and is_readable(plain, other))
    assert is_readable(cloth, one) == is_readable(cloth, other)


@pytest.mark.parametrize(
    ("changes", "pointer"),
    [
        ({"running": Running(efficiency_pct=0.0)}, "/loom/running/efficiency_pct"),
        ({"running": Running(efficiency_pct=101.0)}, "/loom/running/efficiency_pct"),
        ({"running": Running(hours_per_day=0.0)}, "/loom/running/hours_per_day"),
        ({"max_speed_picks_per_min": 0.0}, "/loom/max_speed_picks_per_min"),
        ({"max_speed_picks_per_min": float("nan")}, "/loom/max_speed_picks_per_min"),
        ({"reed_width_cm": -190.0}, "/loom/reed_width_cm"),
        ({"reeds_in_stock_dents_per_10cm": (120.0, 0.0)}, "/loom/reeds_in_stock_dents_per_10cm/1"),
        (
            {"speed_curve": (CurvePoint(reed_width_cm=100.0, picks_per_min=0.0),)},
            "/loom/speed_curve/0/picks_per_min",
        ),
        (
            {"speed_curve": (CurvePoint(reed_width_cm=100.0, picks_per_min=500.0),) * 2},
            "/loom/speed_curve",
        ),
        (
            {"warp_beam": WarpBeam(flange_diameter_cm=80.0, barrel_diameter_cm=78.5)},
            "/loom/warp_beam/barrel_diameter_cm",
        ),
        (
            {"cloth_roll_diameter_cm": 15.0, "cloth_tube_diameter_cm": 15.0},
            "/loom/cloth_tube_diameter_cm",
        ),
        ({"shedding": shedding(max_healds_per_shaft=0)}, "/loom/shedding/max_healds_per_shaft"),
        ({"insertion": insertion(max_rate_m_per_min=0.0)}, "/loom/insertion/max_rate_m_per_min"),
        (
            {"picks_per_cm": Band(min=20.0, max=10.0)},
            "/loom/picks_per_cm/min",
        ),
    ],
)
def test_a_loom_that_cannot_be(changes: dict[str, Any], pointer: str) -> None:
    assert pointers(construction(), loom(**changes)) == [pointer]


def test_stops_that_leave_no_time_to_weave() -> None:
    stops = Running(
        warp_stops_per_100k_picks=5000.0,
        weft_stops_per_100k_picks=5000.0,
        minutes_per_warp_stop=60.0,
        minutes_per_weft_stop=60.0,
        looms_per_weaver=10,
    )
    expected = ["/loom/running/warp_stops_per_100k_picks"]
    assert pointers(construction(), loom(running=stops)) == expected


@pytest.mark.parametrize(
    ("changes", "pointer"),
    [
        ({"warp": threads(0.0)}, "/construction/warp/ends_per_cm"),
        ({"weft": threads(-22.0)}, "/construction/weft/picks_per_cm"),
        ({"weft": threads(float("nan"))}, "/construction/weft/picks_per_cm"),
        ({"width_cm": 0.0}, "/construction/width_cm"),
        ({"width_cm": 0.0, "inch_fields": frozenset({"/width_in"})}, "/construction/width_in"),
        ({"length_m": 0.0}, "/construction/length_m"),
        ({"panels": 0}, "/construction/panels"),
        ({"panels": 100, "width_cm": 160.0}, "/construction/width_cm"),
        ({"warp": threads(24.0, crimp_pct=-1.0)}, "/construction/warp/crimp_pct"),
        (
            {"finishing": Finishing(width_shrinkage_pct=100.0)},
            "/construction/finishing/width_shrinkage_pct",
        ),
        ({"reed": Reed(ends_per_dent=65)}, "/construction/reed/ends_per_dent"),
        ({"reed": Reed(ends_per_dent=0)}, "/construction/reed/ends_per_dent"),
        ({"warp": threads(500.0), "width_cm": 2500.0}, "/construction/warp/ends_per_cm"),
        ({"length_m": 5e8}, "/construction/length_m"),
    ],
)
def test_a_cloth_that_cannot_be(changes: dict[str, Any], pointer: str) -> None:
    assert pointers(construction(**changes), loom()) == [pointer]


def test_a_limit_that_is_left_open_gives_way_to_the_one_that_is_stated() -> None:
    # A rapier takes 5 tex and 3 picks/cm upward where nobody says otherwise.
    fine = loom(weft_tex=Band(max=4.0), picks_per_cm=Band(max=2.0))
    values = {line.pointer: line.value for line in report(construction(), fine).assumptions}
    assert values["/loom/weft_tex/min"] == 4.0
    assert values["/loom/picks_per_cm/min"] == 2.0


def beam(barrel_cm: float) -> Loom:
    return loom(warp_beam=WarpBeam(flange_diameter_cm=82.0, barrel_diameter_cm=barrel_cm, count=1))


def test_a_beam_that_is_mostly_waste_is_no_beam() -> None:
    # 3840 ends of 20 tex, 190 cm between the flanges wound to 80 cm, 0.5 g/cm3: on a barrel of d
    # the beam holds 0.97156 x (6400 - d^2) m; twice 4.6 m of waste is reached at d = 79.9408 cm.
    code = "warp.beam_capacity"
    unsized = construction(allowances=Allowances(size_pct=0.0), length_m=None)
    assert finding(code, unsized, beam(79.940)) is None
    heavy = finding(code, unsized, beam(79.942))
    assert heavy is not None
    assert heavy.severity is Severity.WARNING
    assert "/loom/warp_beam/density_g_per_cm3" in heavy.rests_on
    assert report(unsized, beam(79.942)).warp.beam_capacity_m == pytest.approx(9.0, abs=0.1)


def test_a_tied_warp_has_no_waste_and_still_needs_a_metre_on_the_beam() -> None:
    # 1 m: 6400 - d^2 = 1.02927, d = 79.99357 cm.
    cloth = construction(allowances=Allowances(loom_waste_m=0.0, size_pct=0.0), length_m=None)
    assert finding("warp.beam_capacity", cloth, beam(79.9935)) is None
    assert finding("warp.beam_capacity", cloth, beam(79.9936)) is not None


def random_weave(picks: int, ends: int) -> Weave:
    crossings = np.random.default_rng(7).integers(0, 2, (picks, ends), dtype=np.uint8)
    return Weave(matrix=crossings)


WEAK = Yarn(designation="20 tex", strength_cv_pct=34.0, tenacity_cn_per_tex=0.1)
CROWDED = {"shedding": shedding(shafts=64, max_healds_per_cm_per_shaft=0.5)}

EXTREMES: dict[str, tuple[dict[str, Any], Loom]] = {
    "thinnest sett": ({"warp": threads(0.5), "weft": threads(0.5)}, loom()),
    "closest sett": ({"warp": threads(500.0), "weft": threads(500.0)}, loom()),
    "one centimetre": ({"width_cm": 1.0, "warp": threads(0.5)}, loom()),
    "half as long again as wide": ({"weft": threads(22.0, crimp_pct=300.0)}, loom()),
    "fifty panels": ({"panels": 50, "width_cm": 3.0}, loom()),
    "selvedge only": (
        {"width_cm": 1.0, "warp": threads(0.5), "selvedge": Selvedge(ends_per_side=2000)},
        loom(),
    ),
    "selvedge takes every shaft": (
        {"selvedge": Selvedge(ends_per_side=24, shafts=8)},
        loom(shedding=shedding(shafts=2)),
    ),
    "coarsest yarn": ({"warp": threads(1.0, yarns={"A": Yarn(linear_density_tex=5000.0)})}, loom()),
    "finest yarn": ({"weft": threads(60.0, yarns={"A": Yarn(linear_density_tex=0.5)})}, loom()),
    "weak weft": ({"weft": threads(22.0, yarns={"A": WEAK})}, loom()),
    "weak warp": ({"warp": threads(22.0, yarns={"A": WEAK})}, loom()),
    "a draft of 64 shafts": ({"draft": DraftRequest(threading=(*range(1, 65),) * 80)}, loom()),
    "a draft of 20000 ends": ({"draft": DraftRequest(threading=(1, 2) * 10_000)}, loom()),
    "12000 ends on a dobby": ({"weave": random_weave(24, 12_000)}, loom()),
    "12000 picks": ({"weave": random_weave(12_000, 8)}, loom()),
    "12000 ends on a Jacquard": ({"weave": random_weave(24, 12_000)}, jacquard()),
    "a large satin, too fast": (
        {"weave": named("500-end satin move 7"), "requested_speed_picks_per_min": 900.0},
        jacquard(),
    ),
    "a cam and a long repeat": (
        {"weave": named("48-end satin move 7")},
        loom(shedding=shedding(kind=SheddingKind.CAM, shafts=10)),
    ),
    "healds that never suffice": ({"warp": threads(60.0)}, loom(**CROWDED)),
}


# Some hundred times what the dearest takes: a guard against hanging, not a measure of speed.
HANGS_MS = 5_000


def cpu_ms(cloth: Construction, on: Loom) -> float:
    began = time.process_time()
    assess(cloth, on)
    return 1000 * (time.process_time() - began)


@pytest.mark.slow
@pytest.mark.parametrize("name", EXTREMES)
def test_extremes_are_judged_without_hanging(name: str) -> None:
    changes, on = EXTREMES[name]
    cloth = construction(**changes)
    assert cpu_ms(cloth, on) < HANGS_MS


@pytest.mark.slow
def test_a_report_of_extremes_stays_small_enough_to_read() -> None:
    for changes, on in EXTREMES.values():
        setup = report(construction(**changes), on).setup
        assert len(setup.threading or ()) <= 20_000
        assert sum(map(len, setup.lift_plan or ())) <= 200_000


def test_a_loom_of_another_name_gives_the_same_report() -> None:
    other = assess(construction(), replace(loom(), loom_id="other"))
    assert replace(other, loom_id="test-rapier") == report()


@pytest.mark.parametrize("wire_share_pct", [4.9, 90.1])
def test_a_wire_share_that_no_reed_has_is_pointed_at(wire_share_pct: float) -> None:
    cloth = construction(reed=Reed(ends_per_dent=2, wire_share_pct=wire_share_pct))
    assert pointers(cloth, loom()) == ["/construction/reed/wire_share_pct"]
