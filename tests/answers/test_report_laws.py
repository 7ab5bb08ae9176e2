"""Laws of the report: what it assumes, and how it answers to limits that move."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict, fields, is_dataclass, replace
from typing import Any

import pytest
from answers.strategies import constructions, looms, trade_looms, trade_orders
from builders import bare_loom, bare_order, construction, jacquard, loom, report, threads
from hypothesis import assume, given
from hypothesis import strategies as st
from profiles import share_of_examples

from weavability.answers.report import Counts, Report
from weavability.answers.validation import assess
from weavability.checks.finding import Finding, Severity, Verdict
from weavability.looms.carriers import InsertionSystem
from weavability.looms.loom import (
    Band,
    CurvePoint,
    Insertion,
    Loom,
    Running,
    Shedding,
    SheddingKind,
    WarpBeam,
)
from weavability.textiles.assumptions import Assumption, ValueBand
from weavability.textiles.construction import (
    Construction,
    DraftRequest,
    Finishing,
    Reed,
    ThreadSystem,
)
from weavability.textiles.errors import InputError
from weavability.textiles.notation import parse_weave
from weavability.textiles.yarns import Yarn

ATTRIBUTES = {"ends_per_cm": "threads_per_cm", "picks_per_cm": "threads_per_cm"}


def stated(parent: Any, path: list[str], value: object) -> Any:
    """A request part with one field stated, by the steps of its pointer."""
    name, *rest = path
    if isinstance(parent, Mapping):
        return {**parent, name: stated(parent[name], rest, value) if rest else value}
    if isinstance(parent, tuple):
        at = int(name)
        return (*parent[:at], stated(parent[at], rest, value), *parent[at + 1 :])
    name = ATTRIBUTES.get(name, name) if isinstance(parent, ThreadSystem) else name
    return replace(parent, **{name: stated(getattr(parent, name), rest, value) if rest else value})


def with_stated(
    cloth: Construction, on: Loom, lines: list[Assumption]
) -> tuple[Construction, Loom]:
    for line in lines:
        _, part, *path = line.pointer.split("/")
        if part == "construction":
            cloth = stated(cloth, path, line.value)
        else:
            on = stated(on, path, line.value)
    return cloth, on


# An order without a length has no hours, so to state 1000 m is to order them: the report has more.
# A limit that is only assumed warns, a stated one rejects.
MEANS_MORE_WHEN_STATED = {
    "/construction/length_m",
    "/loom/weft_tex/min",
    "/loom/weft_tex/max",
    "/loom/weft_selectors",
    "/loom/boxes",
    "/loom/insertion/max_rate_m_per_min",
    "/loom/max_tightness_pct",
    "/loom/warp_beam/count",
    "/loom/warp_beam/arrangement",
}
# Two crimps that are both estimated share out one height: to state one of them lets the other go.
# The wires of a reed are assumed for each reed: one share stated for all of them chooses anew.
STATED_TOGETHER = {
    "/construction/warp/crimp_pct",
    "/construction/weft/crimp_pct",
    "/construction/reed/wire_share_pct",
}


def sayable(answer: Report) -> list[Assumption]:
    return [line for line in answer.assumptions if line.pointer not in MEANS_MORE_WHEN_STATED]


def without_assumptions(answer: Report) -> Report:
    """The report but for what is assumed, its bands, and remedies, which may follow a change.

    What rests on an assumed value is a warning and becomes an error when the value is stated.
    Crimps of yarns on one beam are only held against each other if both are stated, and crimps
    against what is expected of them if they are. A requirement that is only perhaps met is met if
    all is as it is assumed.
    """
    found = tuple(
        _however_sure(one)
        for one in answer.findings
        if not one.message_key.startswith("warp.second_warp.crimp")
        and not one.message_key.endswith("_perhaps")
        and one.code != "contraction.implausible"
    )
    steps = tuple(replace(step, grade=None) for step in answer.order.steps)
    no_band = ValueBand(0.0, 0.0)
    required = tuple(replace(one, band=no_band, met="perhaps") for one in answer.requirements)
    rates = replace(answer.rates, efficiency_pct_band=None, hours_for_order_band=None)
    return replace(
        answer,
        assumptions=(),
        findings=found,
        rates=rates,
        order=replace(answer.order, steps=steps),
        requirements=required,
        verdict=Verdict.WEAVABLE,
        verdict_note=None,
        counts=Counts(errors=0, warnings=0, notes=0),
    )


NAMING_WHAT_IS_ASSUMED = ("weft.strength", "warp.strength", "reed.not_in_stock")
"""Findings that say what was assumed: a strength, or a denting of which others serve too."""


def _however_sure(found: Finding) -> Finding:
    """A finding without remedies; of an error, stated or resting, only what is compared."""
    is_eased = found.message_key.endswith("_if_assumed")
    if found.code in NAMING_WHAT_IS_ASSUMED and not (is_eased or found.severity is Severity.ERROR):
        if found.code == "reed.not_in_stock":
            found = replace(found, severity=Severity.NOTE, actual=0.0, limit=0.0, margin_pct=None)
        found = replace(found, rests_on=(), pointer="", message="", remedies=(), tried=())
        return replace(found, message_key="", message_values={})
    required = found.code.startswith("requirement.") and found.rests_on
    if found.severity is not Severity.ERROR and not (is_eased or required):
        return replace(found, remedies=(), tried=(), rests_on=())
    return replace(
        found,
        remedies=(),
        tried=(),
        rests_on=(),
        severity=Severity.ERROR,
        pointer="",
        message="",
        message_key="",
        message_values={},
    )


def alike(one: Any, other: Any, *, to: float = 0.0) -> bool:
    """Whether two answers say the same, but for the last of six digits."""
    if isinstance(one, float) and isinstance(other, float):
        return one == pytest.approx(other, rel=1e-5, abs=to)
    if isinstance(one, dict) and isinstance(other, dict):
        if "beam_end_m" in one:  # What is left over of two long lengths has fewer digits.
            ends = [each.get("beam_end_m") or 0.0 for each in (one, other)]
            beam_m = (one["pieces_per_beam"] or 0) * (one["piece_grey_m"] or 0.0)
            same_to = 1e-5 * max(1.0, one["warp_m"] or 1.0, beam_m, *ends)
            one, other = ({**each, "beam_end_m": None} for each in (one, other))
            if abs(ends[0] - ends[1]) > same_to:
                return False
        # What is left between two close numbers has fewer digits than either.
        left = {"margin_pct": 1e-3}
        return one.keys() == other.keys() and all(
            alike(one[key], other[key], to=left.get(key, 0.0)) for key in one
        )
    if isinstance(one, list | tuple) and isinstance(other, list | tuple):
        return len(one) == len(other) and all(map(alike, one, other))
    return bool(one == other)


@pytest.mark.slow
@given(trade_orders, trade_looms)
def test_to_state_what_was_assumed_changes_nothing_else(cloth: Construction, on: Loom) -> None:
    before = assess(cloth, on, remedies=False)
    lines = sayable(before)
    after = assess(*with_stated(cloth, on, lines), remedies=False)
    assert without_assumptions(after) == without_assumptions(before)
    assert {line.pointer for line in after.assumptions} <= MEANS_MORE_WHEN_STATED


@pytest.mark.slow
@share_of_examples(0.4)
@given(constructions, looms())
def test_even_where_it_makes_no_sense(cloth: Construction, on: Loom) -> None:
    try:
        before = assess(cloth, on, remedies=False)
    except InputError:
        assume(False)
    # Warps whose take-ups are stated need a beam each; while they are estimated they may share one.
    left_out = ("/designation", "/crimp_pct") if cloth.warp.beams else ("/designation",)
    lines = [line for line in sayable(before) if not line.pointer.endswith(left_out)]
    after = assess(*with_stated(cloth, on, lines), remedies=False)
    # What is stated again is the assumed figure as it was written, with six digits.
    assert alike(asdict(without_assumptions(after)), asdict(without_assumptions(before)))


@pytest.mark.slow
@share_of_examples(0.25)
@given(trade_orders, trade_looms, st.randoms(use_true_random=False))
def test_each_assumption_is_taken_back_alone(
    cloth: Construction, on: Loom, choose: random.Random
) -> None:
    before = assess(cloth, on, remedies=False)
    alone = [line for line in sayable(before) if line.pointer not in STATED_TOGETHER]
    for line in choose.sample(alone, 6):
        after = assess(*with_stated(cloth, on, [line]), remedies=False)
        assert without_assumptions(after) == without_assumptions(before)
        gone = {one.pointer for one in before.assumptions} - {
            one.pointer for one in after.assumptions
        }
        assert line.pointer in gone


# What may be left out without an assumption, because its absence is itself the statement.
ABSENCE_SPEAKS = {
    "/construction/reference": "a name",
    "/construction/warp/order": "one yarn follows itself",
    "/construction/weft/order": "one yarn follows itself",
    "/construction/reed/dents_per_10cm": "computed, and in the set-up",
    "/construction/reed/count": "another way to state the reed",
    "/construction/reed/system": "another way to state the reed",
    "/construction/draft": "computed, and in the set-up",
    "/construction/selvedge/weave": "its ends weave as the ground",
    "/construction/warp/contraction_pct": "another way to state the crimp",
    "/construction/weft/contraction_pct": "another way to state the crimp",
    "/construction/finishing/finish": "the shrinkages are assumed",
    "/construction/design": "the weave is no figured design",
    "/construction/figured": "no loom weaves a design until it is known",
    "/construction/layers": "all threads lie in one plane",
    "/loom/power_kw": "energy is not reported",
    "/loom/air_m3_per_h": "air is not reported",
    "/loom/loom_hour": "costs are not reported without prices",
    "/loom/price": "another way to state the loom hour",
    "/loom/interest_pct": "another way to state the loom hour",
    "/loom/life_years": "another way to state the loom hour",
    "/loom/hours_per_year": "another way to state the loom hour",
    "/construction/order": "another way to state the length",
    "/construction/requirements": "nothing is required",
    "/construction/requested_speed_picks_per_min": "as fast as the loom runs",
    "/loom/loom_id": "a name",
    "/loom/description": "words",
    "/loom/shedding/max_healds_per_shaft": "no such limit",
    "/loom/warp_strain/base_tension_cn_per_tex": "the share of the breaking load is assumed",
    "/loom/running/warp_stops_per_100k_picks": "the efficiency is assumed",
    "/loom/running/weft_stops_per_100k_picks": "the efficiency is assumed",
    "/loom/running/minutes_per_warp_stop": "the efficiency is assumed",
    "/loom/running/minutes_per_weft_stop": "the efficiency is assumed",
    "/loom/running/looms_per_weaver": "the efficiency is assumed",
    "/loom/running/looms_per_set": "the efficiency is assumed",
    "/loom/running/weavers": "the efficiency is assumed",
}
YARN_ABSENCE_SPEAKS = {
    "designation": "the linear density is given",
    "linear_density_tex": "the designation is given",
    "colour": "a colour",
    "diameter_mm": "follows from the packing fraction",
    "folding_take_up_pct": "a single yarn is not folded",
    "crimp_pct": "that of its set",
    "contraction_pct": "another way to state the crimp",
    "sample_length_m": "the count is given",
    "sample_length_yd": "the count is given",
    "sample_mass_g": "the count is given",
    "sample_mass_grains": "the count is given",
    "twist_per_m": "not judged; a finding asks for it if it decides",
    "twist_direction": "goes with the twist",
    "sized": "follows from the size of the warp, which is assumed",
    "monofilament": "as the designation says",
    "elastane_draft": "no elastane",
    "tape_width_mm": "no tape",
    "tape_thickness_mm": "no tape",
    "flattening_ratio": "a spun yarn is round",
}
# Fields of another insertion system or shedding motion, which do not apply here.
ELSEWHERE = {
    "carrier_length_cm",
    "launch_length_cm",
    "stopping_length_cm",
    "picks_per_insertion",
    "boxes",
    "max_repeat_picks",
    "hooks",
    "ends_per_hook",
    "harness_ends_per_cm",
    "selvedge_hooks",
    "cord_cm",
    "hook_lift_cm",
}


def left_out(part: Any, pointer: str) -> Iterator[str]:
    """Pointers of all fields that are None, as deep as the request goes."""
    if isinstance(part, Mapping):
        for key, value in part.items():
            yield from left_out(value, f"{pointer}/{key}")
    elif is_dataclass(part):
        for one in fields(part):
            yield from left_out(getattr(part, one.name), f"{pointer}/{one.name}")
    elif part is None:
        yield pointer


def test_every_field_that_is_left_out_is_assumed_or_says_something_by_its_absence() -> None:
    cloth, on = bare_order(), bare_loom()
    assumed = {line.pointer for line in assess(cloth, on).assumptions}
    missing = {*left_out(cloth, "/construction"), *left_out(on, "/loom")} - assumed
    silent = {
        pointer
        for pointer in missing
        if pointer not in ABSENCE_SPEAKS
        and not ("/yarns/" in pointer and pointer.rsplit("/", 1)[1] in YARN_ABSENCE_SPEAKS)
        and pointer.rsplit("/", 1)[1] not in ELSEWHERE
    }
    assert silent == set()


@pytest.mark.slow
@pytest.mark.parametrize("system", InsertionSystem)
@pytest.mark.parametrize("kind", SheddingKind)
def test_every_kind_of_loom_gives_its_reasons(system: InsertionSystem, kind: SheddingKind) -> None:
    shedding = (
        Shedding(kind=kind, hooks=2688)
        if kind is SheddingKind.JACQUARD
        else Shedding(kind=kind, shafts=8)
    )
    on = replace(bare_loom(), insertion=Insertion(system=system), shedding=shedding)
    for line in assess(bare_order(), on).assumptions:
        assert line.pointer.startswith(("/construction/", "/loom/"))
        assert line.reason
        assert "c.p." not in line.reason


def errors(cloth: Construction, on: Loom) -> set[str]:
    found = assess(cloth, on, remedies=False).findings
    return {one.code for one in found if one.severity is Severity.ERROR}


def part(name: str, **changes: Callable[[Any], Any]) -> Callable[[Loom], Loom]:
    """Change fields of a part of the loom, those that it states."""

    def change(on: Loom) -> Loom:
        now = getattr(on, name)
        moved = {
            field: to(getattr(now, field))
            for field, to in changes.items()
            if getattr(now, field) is not None
        }
        return replace(on, **{name: replace(now, **moved)})

    return change


def whole(name: str, to: Callable[[Any], Any]) -> Callable[[Loom], Loom]:
    return lambda on: replace(on, **{name: to(getattr(on, name))})


def times(factor: float) -> Callable[[float], float]:
    return lambda value: value * factor


def fewer(by: int, least: int) -> Callable[[int], int]:
    return lambda value: max(least, value - by)


def slower_curve(on: Loom) -> Loom:
    points = tuple(
        CurvePoint(reed_width_cm=point.reed_width_cm, picks_per_min=0.8 * point.picks_per_min)
        for point in on.speed_curve
    )
    return replace(on, speed_curve=points)


TIGHTER: dict[str, Callable[[Loom], Loom]] = {
    "narrower": whole("reed_width_cm", times(0.85)),
    "less to narrow": whole("min_reed_width_cm", times(1.1)),
    "slower": whole("max_speed_picks_per_min", times(0.8)),
    "slower by the curve": slower_curve,
    "less weft a minute": part("insertion", max_rate_m_per_min=times(0.8)),
    "slower shedding": part("shedding", max_speed_picks_per_min=times(0.8)),
    "fewer shafts": part("shedding", shafts=fewer(3, 2)),
    "shorter lift plan": part("shedding", max_pattern_picks=lambda picks: max(1, picks // 2)),
    "healds closer": part("shedding", max_healds_per_cm_per_shaft=times(0.8)),
    "fewer healds": part("shedding", max_healds_per_shaft=lambda healds: int(0.8 * healds)),
    "fewer ends on a hook": part("shedding", ends_per_hook=fewer(1, 1)),
    "fewer selectors": whole("weft_selectors", fewer(1, 1)),
    "fewer picks": part("picks_per_cm", max=times(0.8)),
    "more picks at least": part("picks_per_cm", min=times(1.2)),
    "finer weft only": part("weft_tex", max=times(0.8)),
    "coarser weft only": part("weft_tex", min=times(1.2)),
    "weaker beat-up": whole("max_tightness_pct", times(0.9)),
    "narrower beam": part("warp_beam", width_cm=times(0.8)),
}


@pytest.mark.slow
@share_of_examples(0.2)
@given(trade_orders, trade_looms)
def test_a_tighter_limit_forgives_nothing(cloth: Construction, on: Loom) -> None:
    # Which reads from the other side: a wider, faster, better loom finds no new error.
    before = errors(cloth, on)
    for name, tighter in TIGHTER.items():
        after = errors(cloth, tighter(on))
        # A warp that is too wide for the reed gets no finding on its beam as well.
        follows = {"warp.beam_width"} if "width.reed_space" in after else set()
        assert before <= after | follows, name


@pytest.mark.slow
@share_of_examples(0.6)
@given(trade_orders, trade_looms)
def test_figures_agree_with_one_another(cloth: Construction, on: Loom) -> None:
    answer = assess(cloth, on, remedies=False)
    rates, setup, summary = answer.rates, answer.setup, answer.cloth
    limits = rates.speed_limits_picks_per_min
    assert rates.speed_picks_per_min == min(limits.values())
    assert limits[rates.limited_by] == rates.speed_picks_per_min
    assert rates.insertion_rate_m_per_min == pytest.approx(
        rates.speed_picks_per_min * setup.reed_width_cm / 100, rel=1e-5
    )
    assert rates.insertion_rate_use_pct <= 100 + 1e-4
    assert rates.output_m2_per_h == pytest.approx(
        rates.output_m_per_h * summary.grey_width_cm / 100 * setup.panels, rel=1e-5
    )
    assert setup.reed_width_use_pct == pytest.approx(
        100 * setup.reed_width_cm / on.reed_width_cm, rel=1e-5
    )
    if setup.healds_per_shaft is not None:
        assert sum(setup.healds_per_shaft) == setup.total_ends
        assert setup.healds_per_cm_per_shaft == pytest.approx(
            max(setup.healds_per_shaft) / setup.reed_width_cm, rel=1e-5
        )
    # Leno ends and catch cords come from bobbins, beside the warp.
    warp = [use for use in answer.yarn if use.yarn.startswith("warp ")]
    assert sum(use.threads or 0 for use in warp) == setup.total_ends
    for use in answer.yarn:
        assert use.mass_kg == pytest.approx(use.length_km * use.linear_density_tex / 1e3, rel=1e-5)


@pytest.mark.parametrize("stops", [Running(), Running(efficiency_pct=80.0, hours_per_day=16.0)])
def test_hours_follow_from_output_and_length(stops: Running) -> None:
    answer = report(construction(length_m=1234.0), loom(running=stops))
    rates = answer.rates
    assert rates.hours_for_order == pytest.approx(1234.0 / rates.output_m_per_h, rel=1e-5)
    assert rates.days_for_order == pytest.approx(
        (rates.hours_for_order or 0.0) / (stops.hours_per_day or 24.0), rel=1e-5
    )


def test_an_order_without_a_length_has_no_hours() -> None:
    rates = report(construction(length_m=None)).rates
    assert rates.hours_for_order is None
    assert rates.days_for_order is None


def test_the_verdict_in_its_three_words() -> None:
    assert report().verdict is Verdict.WEAVABLE
    warned = construction(finishing=Finishing(), warp=threads(8.0), weft=threads(8.0))
    assert report(warned).verdict is Verdict.WEAVABLE_WITH_WARNINGS
    assert report(construction(width_cm=200.0)).verdict is Verdict.NOT_WEAVABLE


def test_a_finding_points_at_the_field_as_it_was_stated() -> None:
    wide = construction(width_cm=200.0, requested_speed_picks_per_min=900.0)
    inches = replace(wide, inch_fields=frozenset({"/width_in"}))
    metric, imperial = report(wide), report(inches)
    at = {found.pointer.replace("/width_cm", "/width_in") for found in metric.findings}
    assert {found.pointer for found in imperial.findings} == at
    assert "/construction/width_in" in at
    assert imperial.cloth == metric.cloth
    assert imperial.setup == metric.setup
    assert imperial.rates == metric.rates


# Plain on two shafts would hang 1920 healds on each.
@pytest.mark.parametrize(("most", "shafts"), [(1920, 2), (1919, 4), (960, 4), (959, 6)])
def test_ends_are_dealt_over_shafts_until_they_hold_them(most: int, shafts: int) -> None:
    dobby = replace(loom().shedding, max_healds_per_cm_per_shaft=20.0, max_healds_per_shaft=most)
    answer = report(on=loom(shedding=dobby))
    assert answer.verdict is Verdict.WEAVABLE
    assert answer.setup.shafts_used == shafts


def test_an_odd_end_does_not_lift_one_shaft_alone() -> None:
    # 3841 ends: one shaft of a plain weave would hang 1921, the other 1920.
    odd = construction(width_cm=3841 / 24)
    dobby = replace(loom().shedding, max_healds_per_cm_per_shaft=20.0, max_healds_per_shaft=1920)
    setup = report(odd, loom(shedding=dobby)).setup
    assert setup.total_ends == 3841
    assert setup.threading == (1, 2, 3, 4)


def test_a_straight_draft_is_dealt_too() -> None:
    twill = construction(weave=parse_weave("2/2 twill Z"))
    straight = replace(twill, draft=DraftRequest(threading="straight"))
    dobby = replace(loom().shedding, max_healds_per_cm_per_shaft=20.0, max_healds_per_shaft=900)
    setup = report(straight, loom(shedding=dobby)).setup
    assert setup.threading == (1, 2, 3, 4, 5, 6, 7, 8)
    assert setup.healds_per_shaft == (480,) * 8


@pytest.mark.slow
def test_the_gap_between_panels_is_the_one_that_is_stated() -> None:
    # Two panels of 84 cm in the reed and a gap of 22 cm take 190 cm.
    narrow = construction(width_cm=80.0, panels=1)
    for gap_cm, fits in ((22.0, True), (22.1, False), (0.0, True)):
        answer = report(replace(narrow, panel_gap_cm=gap_cm))
        assert ("width.panels" in {found.code for found in answer.findings}) is fits
    touching = replace(narrow, panel_gap_cm=0.0)
    assert report(touching, loom(reed_width_cm=168.0)).findings
    (note,) = (
        found
        for found in report(touching, loom(reed_width_cm=168.0)).findings
        if found.code == "width.panels"
    )
    assert note.limit == 2


def test_a_weft_whose_weakest_place_is_nothing_is_reported_with_the_strength_that_was_used() -> (
    None
):
    weak = Yarn(designation="20 tex", tenacity_cn_per_tex=10.0, strength_cv_pct=40.0)
    answer = report(construction(weft=threads(22.0, yarns={"A": weak})))
    (found,) = (one for one in answer.findings if one.code == "weft.strength")
    assert "(2 cN)" in found.message  # 1 % of 200 cN


def test_a_jacquard_says_nothing_of_shafts() -> None:
    setup = report(on=jacquard()).setup
    assert setup.shafts_used is None
    assert setup.threading is None
    assert setup.healds_per_shaft is None
    assert setup.hooks_used == 1200


def test_a_reed_in_stock_is_taken_within_its_tolerance() -> None:
    asked = construction(reed=Reed())
    answer = report(asked, loom(reeds_in_stock_dents_per_10cm=(115.0, 60.0), weft_tex=Band()))
    assert answer.setup.reed_dents_per_10cm == 115.0
    assert answer.setup.ends_per_dent == 2


def test_beams_side_by_side_hold_more() -> None:
    beam = WarpBeam(flange_diameter_cm=80.0, barrel_diameter_cm=20.0, width_cm=90.0)
    one = report(on=loom(warp_beam=replace(beam, count=1))).warp.beam_capacity_m
    two = report(on=loom(warp_beam=replace(beam, count=2))).warp.beam_capacity_m
    assert two == pytest.approx(2 * one, rel=1e-5)
