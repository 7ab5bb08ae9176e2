"""The near change that meets what is required as all is assumed, beside the certain one."""

from __future__ import annotations

from typing import Any, Final

import pytest
from answers.test_honest_remedies import cotton, demo_loom
from answers.test_likeliest_ways import proved
from answers.test_ways_found import searched
from answers.test_ways_of_pile_and_edges import terry

from weavability.answers.finding_remedies import STATE_FIRST
from weavability.answers.remedy_search import LoomRemedies
from weavability.answers.validation import assess
from weavability.checks.finding import Remedy, Verdict
from weavability.service.schemas.construction_schema import ConstructionSchema

MASS: Final = "requirement.mass"
DOBBY: Final = "rapier-190-dobby"


def twill(**mass_g_per_m2: float) -> dict[str, Any]:
    """A 2/2 twill of 176 g/m2, 146 to 240 over what is assumed, and the mass that is required."""
    request: dict[str, Any] = cotton("Ne 40/2 x Ne 20", (32, 24), "2/2 twill Z", 146)
    return {**request, "requirements": {"mass_g_per_m2": mass_g_per_m2}}


ORDER: Final = twill(min=185)
UNFINISHED: Final = {**terry({"min": 600}), "finishing": {}}
"""A terry of 471 g/m2 of which only a pile half as long again is heavy enough for certain."""


@pytest.fixture(scope="module")
def found() -> LoomRemedies:
    """What a search finds for the twill that is to have 185 g/m2."""
    return searched(ORDER, DOBBY)


def lifting(remedies: list[Remedy] | tuple[Remedy, ...], code: str) -> list[Remedy]:
    """The remedies after which an order is no longer rejected if all is as assumed."""
    return [each for each in remedies if code in each["leaves_warnings"]]


@pytest.mark.parametrize(
    ("request_", "on", "points", "certain_points"),
    [
        (ORDER, DOBBY, 7.7, 28.0),
        (UNFINISHED, "rapier-190-jacquard", 20.3, 45.0),
    ],
)
def test_what_is_missed_only_as_all_is_assumed_has_a_near_way_that_meets_it_so(
    request_: dict[str, Any], on: str, points: float, certain_points: float
) -> None:
    found = searched(request_, on)
    assert MASS in found.rejected_if_assumed
    near = lifting(found.remedies, MASS)
    assert near[0]["distance"] < points
    for remedy in near:
        assert (MASS in remedy["clears"], remedy["rejected_if_assumed"]) == (False, [])
        assert proved(request_, on, remedy) is Verdict.WEAVABLE_WITH_WARNINGS
        assert f"It leaves a warning of {MASS}, met if what is assumed is so." in remedy["message"]
    # What is certain is far, and listed as well.
    certain = [each["distance"] for each in found.remedies if MASS in each["clears"]]
    assert min(certain) > certain_points


def test_no_sett_or_count_nearer_than_what_is_offered_meets_what_is_required(
    found: LoomRemedies,
) -> None:
    offered = {each["pointer"]: each["distance"] for each in lifting(found.remedies, MASS)}
    for pointer, now, step in (("warp/ends_per_cm", 32, 0.2), ("weft/picks_per_cm", 24, 0.5)):
        system, name = pointer.split("/")
        least = next(
            100 * (sett / now - 1)
            for sett in (round(now + steps * step, 2) for steps in range(1, 60))
            if is_met({**ORDER, system: {**ORDER[system], name: sett}})
        )
        assert offered[f"/construction/{pointer}"] <= least + 1e-4


def test_a_report_names_the_near_way_that_the_search_finds(found: LoomRemedies) -> None:
    findings = assess(ConstructionSchema().read(ORDER), demo_loom(DOBBY)).findings
    (finding,) = (each for each in findings if each.code == MASS)
    near, *_ = lifting(finding.remedies, MASS)
    assert near in found.remedies
    assert near["distance"] < 10


STRONG: Final = {
    **cotton("Ne 20 x Ne 20", (27.8, 17.6), "2/1 twill Z", 174),
    "stage": "finished",
    "requirements": {"mass_g_per_m2": {"min": 155.644}},
}
SATIN: Final = cotton("Nm 60/2 x Ne 16", (30, 18), "5-end satin move 2", 150)
PER_METRE: Final = cotton("Ne 20 x Ne 20", (26, 18), "2/1 twill Z", 146)
WIDE_EDGES: Final = {
    **cotton("Ne 40/2 x Ne 20", (32, 24), "2/2 twill Z", 146),
    "selvedge": {"ends_per_side": 400},
    "finishing": {
        "width_shrinkage_pct": 0,
        "length_shrinkage_pct": 0,
        "relaxation_pct": 0,
        "mass_change_pct": 0,
    },
    "requirements": {"mass_g_per_m": {"max": 262}, "finished_width_cm": {"max": 147}},
}


def missed(request: dict[str, Any], figure: str, by_pct: float) -> dict[str, Any]:
    """An order of which a figure is required that it misses by so much as all is assumed."""
    asked = {**request, "requirements": {figure: {"min": 0.001}}}
    (line,) = assess(ConstructionSchema().read(asked), demo_loom(DOBBY)).requirements
    side = "min" if by_pct > 0 else "max"
    return {**request, "requirements": {figure: {side: line.value * (1 + by_pct / 100)}}}


@pytest.mark.parametrize(
    ("request_", "code", "pointer"),
    [
        (ORDER, MASS, "warp/yarns/A/designation"),
        (STRONG, MASS, "warp/yarns/A/designation"),
        (missed(SATIN, "mass_g_per_m2", 9), MASS, None),
        (missed(PER_METRE, "mass_g_per_m", -6), "requirement.mass_per_m", "width_cm"),
        (missed(PER_METRE, "mass_g_per_m", 6), "requirement.mass_per_m", "width_cm"),
        (WIDE_EDGES, "requirement.mass_per_m", "selvedge/ends_per_side"),
        (WIDE_EDGES, "requirement.width", "selvedge/ends_per_side"),
    ],
)
def test_a_report_names_the_nearest_single_change_that_the_search_finds(
    request_: dict[str, Any], code: str, pointer: str | None
) -> None:
    def nearest(remedies: Any) -> Remedy:
        helping = (each for each in remedies if code in {*each["leaves_warnings"], *each["clears"]})
        one: Remedy = min(helping, key=lambda each: each["distance"])
        return one

    findings = assess(ConstructionSchema().read(request_), demo_loom(DOBBY)).findings
    (finding,) = (each for each in findings if each.code == code)
    found = nearest(finding.remedies)
    assert pointer is None or found["pointer"] == f"/construction/{pointer}"
    assert found["distance"] <= nearest(searched(request_, DOBBY).remedies)["distance"] + 1e-4


def test_a_tolerance_that_is_narrower_than_the_band_is_met_as_all_is_assumed() -> None:
    request = twill(min=180, max=190)
    found = searched(request, DOBBY)
    near = lifting(found.remedies, MASS)
    assert near[0]["distance"] < 5
    for remedy in near:
        assert proved(request, DOBBY, remedy) is Verdict.WEAVABLE_WITH_WARNINGS
        assert remedy["rejected_if_assumed"] == []
    (missing,) = found.not_found
    assert (missing.code, missing.tried) == (MASS, (STATE_FIRST,))


def is_met(request: dict[str, Any]) -> bool:
    """Whether an order is weavable, and nothing rejects it as all is assumed."""
    after = assess(ConstructionSchema().read(request), demo_loom(DOBBY), remedies=False)
    return after.verdict is not Verdict.NOT_WEAVABLE and not after.verdict_note


def double_cloth(
    least_g_per_m2: float,
    count: str = "Ne 30",
    setts: tuple[float, float] = (52, 50),
    weave: str = "double cloth plain + plain",
) -> dict[str, Any]:
    """Two cloths by name, of which the layers are not stated, that are to be heavy enough."""
    request: dict[str, Any] = cotton(f"{count} x {count}", setts, weave, 150)
    return {**request, "requirements": {"mass_g_per_m2": {"min": least_g_per_m2}}}


@pytest.mark.parametrize(
    "request_",
    [
        *map(double_cloth, (198, 205, 212)),
        double_cloth(266.86, "Ne 16", (37.3, 34.4), "double cloth plain + 2/2 twill Z"),
    ],
)
def test_layers_are_a_way_out_though_they_only_perhaps_meet_a_required_mass(
    request_: dict[str, Any],
) -> None:
    # Without them no mass can be known: the one cloth that is reckoned cannot be woven.
    found = searched(request_, DOBBY)
    findings = assess(ConstructionSchema().read(request_), demo_loom(DOBBY)).findings
    (of_report,) = (each.remedies for each in findings if each.code == "weave.falls_apart")
    for remedy in (found.remedies[0], of_report[0]):
        assert (remedy["pointer"], remedy["distance"]) == ("/construction/layers", 0.5)
        assert remedy["rejected_if_assumed"] == []
        assert proved(request_, DOBBY, remedy) is Verdict.WEAVABLE_WITH_WARNINGS


@pytest.mark.parametrize("least_g_per_m2", [240, 250])
def test_layers_that_leave_the_cloth_too_light_have_a_coarser_yarn_beside_them(
    least_g_per_m2: float,
) -> None:
    request = double_cloth(least_g_per_m2)
    near = searched(request, DOBBY).remedies[0]
    pointers = {each["pointer"] for each in near["changes"]}
    assert pointers == {"/construction/layers", "/construction/weft/yarns/A/designation"}
    assert near["rejected_if_assumed"] == []
    assert proved(request, DOBBY, near) is Verdict.WEAVABLE_WITH_WARNINGS
