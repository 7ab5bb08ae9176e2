"""Thresholds of the trade, and those that a mill sets itself."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import fields
from pathlib import Path

import pytest
from builders import COTTON_20_TEX, construction, finding, loom, named, report, severity, threads

from weavability.answers.changeover import change_style
from weavability.answers.insertion_rate import RateRequest, insertion_rates
from weavability.answers.loom_matching import match_looms
from weavability.answers.validation import ruleset
from weavability.answers.weave_analysis.analysis import examine_weave
from weavability.answers.weave_analysis.request import WeaveRequest
from weavability.checks.registry import all_checks, find_check
from weavability.looms.thresholds import (
    ThresholdFileError,
    Usual,
    put_in_force,
    read_thresholds,
    shipped,
)
from weavability.textiles.assumptions import Assumption, Grade
from weavability.textiles.construction import Construction
from weavability.textiles.yarns import Yarn


@pytest.fixture(autouse=True)
def _as_shipped() -> Iterator[None]:
    yield
    put_in_force(shipped())


def put(tmp_path: Path, text: str) -> None:
    put_in_force(read_thresholds(stated(tmp_path, text)))


def stated(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "thresholds.toml"
    path.write_text(text, "utf-8")
    return path


def test_the_record_has_a_field_for_every_threshold() -> None:
    assert {one.name for one in shipped().listed()} == {field.name for field in fields(Usual)}


def test_every_threshold_is_listed_at_a_check() -> None:
    listed = {one.name for check in all_checks() for one in check.thresholds}
    assert listed == {field.name for field in fields(Usual)}


def test_without_a_file_nothing_is_replaced() -> None:
    assert read_thresholds(None) is shipped()


def test_a_mill_moves_a_verdict_and_the_report_says_so(tmp_path: Path) -> None:
    # Square plain cloth at 34.553 threads/cm jams; 0.7 of it is far from tight.
    square = {"warp": threads(24.2), "weft": threads(24.2)}
    assert severity("sett.tight", construction(**square)) is None
    put(tmp_path, "sett_tight_note_pct = 65\nsett_tight_warning_pct = 90.5\n")
    found = finding("sett.tight", construction(**square))
    assert found is not None
    assert (found.severity, found.limit) == ("note", 65.0)
    assert found.message_values["limit"] == 65.0
    assert "90.5 %, 65 %: set by the mill" in found.source
    lines = [one for one in report(construction()).assumptions if one.grade == "mill"]
    assert [(one.pointer, one.value, one.unit) for one in lines] == [
        ("/thresholds/sett_tight_note_pct", 65.0, "%"),
        ("/thresholds/sett_tight_warning_pct", 90.5, "%"),
    ]


def test_a_mill_moves_the_limits_of_stated_crimps(tmp_path: Path) -> None:
    code = "contraction.implausible"
    wavy = {"warp": threads(36.0, crimp_pct=26.72), "weft": threads(36.0, crimp_pct=5.0)}
    straight = {system: threads(24.0, crimp_pct=0.56) for system in ("warp", "weft")}
    found = [severity(code, construction(**crimps)) for crimps in (wavy, straight)]
    assert found == ["note", "warning"]
    put(tmp_path, "contraction_far_times = 2.1\ncontraction_heights_least_pct = 24.8\n")
    assert severity(code, construction(**wavy)) is None
    assert severity(code, construction(**straight)) is None


def by_mill(assumptions: Iterable[Assumption]) -> set[str]:
    return {one.pointer.removeprefix("/thresholds/") for one in assumptions if one.grade == "mill"}


@pytest.mark.slow
def test_every_answer_lists_the_thresholds_of_the_mill_that_decide_in_it(tmp_path: Path) -> None:
    of_weft = {"weft_strength_note_pct", "yarn_weakest_place_least_pct"}
    of_weave, of_shedding = {"weave_float_note_mm"}, {"shedding_idle_hooks_note_pct"}
    every = of_weft | of_weave | of_shedding | {"order_short_run_hours"}
    put(tmp_path, "".join(f"{name} = 1.5\n" for name in every))
    cloth, on = construction(), loom()
    weave, motion = named("plain"), on.shedding
    answers: list[tuple[tuple[Assumption, ...], set[str]]] = [
        (match_looms(cloth, [on]).assumptions, every),
        (change_style(cloth, cloth, on).assumptions, every),
        (insertion_rates(RateRequest(weft=COTTON_20_TEX), on).assumptions, of_weft),
        (insertion_rates(RateRequest(), on).assumptions, set()),
        (examine_weave(WeaveRequest(weave=weave)).assumptions, of_weave),
        (
            examine_weave(WeaveRequest(weave=weave, shedding=motion)).assumptions,
            of_weave | of_shedding,
        ),
    ]
    assert [by_mill(found) for found, _ in answers] == [listed for _, listed in answers]


def test_a_check_lists_the_values_in_force(tmp_path: Path) -> None:
    put(tmp_path, "order_short_run_hours = 12\n")
    check = find_check("order.length")
    assert check is not None
    (listed,) = check.thresholds
    assert (listed.value, listed.unit, listed.grade) == (12.0, "h", Grade.MILL)
    assert "12 h" in check.compares


@pytest.mark.slow
@pytest.mark.parametrize(
    ("text", "code", "before", "after"),
    [
        ("weft_strength_note_pct = 5", "weft.strength", None, "note"),
        (
            "warp_strength_warning_pct = 5\nwarp_strength_note_pct = 4",
            "warp.strength",
            None,
            "warning",
        ),
        ("warp_beam_least_useful_m = 1e6", "warp.beam_capacity", None, "warning"),
        ("reed_knot_width_diameters = 9", "reed.air_space", None, "note"),
        ("sett_holding_times = 0.3", "sett.open", None, "warning"),
    ],
)
def test_thresholds_reach_the_figures_behind_the_checks(
    tmp_path: Path, text: str, code: str, before: str | None, after: str
) -> None:
    assert severity(code, construction(), loom()) == before
    put(tmp_path, text)
    assert severity(code, construction(), loom()) == after


# Ends of 1100 dtex polyester at 69.6 per cm take 260 % of their room, half of it on either side of
# the picks. Two plain cloths of 27 x 26 per cm, set as one, are at 119 % of the jam.
WEBBING = construction(
    warp=threads(
        69.6, crimp_pct=None, yarns={"A": Yarn(designation="1100 dtex", fibre="polyester")}
    ),
    weft=threads(7.0, crimp_pct=None, yarns={"A": Yarn(designation="550 dtex", fibre="polyester")}),
    weave=named("2/2 twill Z"),
    width_cm=4.6,
)
NE_30 = {"A": Yarn(designation="Ne 30", fibre="cotton")}
DOUBLE_CLOTH = construction(
    warp=threads(54.0, crimp_pct=None, yarns=NE_30),
    weft=threads(52.0, crimp_pct=None, yarns=NE_30),
    weave=named("double cloth plain + plain"),
)


@pytest.mark.parametrize(
    ("text", "cloth"),
    [("sett_abreast_pct = 115", WEBBING), ("sett_over_pct = 116", DOUBLE_CLOTH)],
    ids=["webbing", "double cloth"],
)
def test_thresholds_reach_the_formulas_of_the_cloth(
    tmp_path: Path, text: str, cloth: Construction
) -> None:
    before, after = "sett.not_judged", "sett.jammed"
    assert [severity(code, cloth) for code in (before, after)] == ["warning", None]
    put(tmp_path, text)
    assert [severity(code, cloth) for code in (before, after)] == [None, "error"]


def test_a_tightness_that_is_at_a_threshold_but_for_rounding_is_not_beyond_it(
    tmp_path: Path,
) -> None:
    found = finding("sett.not_judged", DOUBLE_CLOTH)
    assert found is not None
    assert isinstance(found.actual, float)
    tightness_pct = found.actual
    put(tmp_path, f"sett_over_pct = {tightness_pct * (1 - 1e-10)!r}")
    assert severity("sett.jammed", DOUBLE_CLOTH) is None
    put(tmp_path, f"sett_over_pct = {tightness_pct * (1 - 1e-3)!r}")
    assert severity("sett.jammed", DOUBLE_CLOTH) == "error"


def test_the_strength_that_the_mill_allows_limits_the_speed(tmp_path: Path) -> None:
    free = report().rates
    put(
        tmp_path,
        "weft_strength_error_pct = 9\nweft_strength_warning_pct = 5\nweft_strength_note_pct = 4\n",
    )
    bound = report().rates
    assert bound.limited_by == "weft_strength"
    assert bound.speed_picks_per_min < free.speed_picks_per_min
    assert bound.weft_strength_use_pct == pytest.approx(9.0, rel=1e-4)


def test_the_rule_set_changes_with_a_threshold(tmp_path: Path) -> None:
    before = ruleset()
    put(tmp_path, "order_short_run_hours = 12\n")
    assert ruleset() != before
    put_in_force(shipped())
    assert ruleset() == before


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("sett_tigth_note_pct = 80", "Did you mean sett_tight_note_pct?"),
        ("rubbish = 1", "GET /v1/checks lists all."),
        ("order_short_run_hours = '8 h'", "order_short_run_hours is '8 h'; allowed is a number "),
        ("order_short_run_hours = true", "order_short_run_hours is true"),
        ("order_short_run_hours = 1979-05-27", "order_short_run_hours is 1979-05-27;"),
        ("order_short_run_hours = [1]", "order_short_run_hours is a list;"),
        ("order_short_run_hours = 0", "above 0, at most"),
        ("order_short_run_hours = nan", "order_short_run_hours is nan"),
        ("order_short_run_hours = inf", "order_short_run_hours is inf"),
        ("weft_strength_error_pct = 101", "at most 100 [%]"),
        ("shedding_healds_error_times = 0.9", "above 1, at most"),
        ("sett_tight_note_pct = 103", "103, above sett_tight_warning_pct, which is 102"),
        ("[order]\nlength = 3", "there is no threshold 'order'"),
        ("order_short_run_hours", "thresholds.toml: "),
    ],
)
def test_an_unknown_name_or_an_impossible_value_is_refused(
    tmp_path: Path, text: str, says: str
) -> None:
    with pytest.raises(ThresholdFileError) as refused:
        read_thresholds(stated(tmp_path, text))
    assert says in str(refused.value)


def test_a_note_may_have_the_threshold_of_its_warning(tmp_path: Path) -> None:
    read = read_thresholds(stated(tmp_path, "sett_tight_note_pct = 102"))
    assert read.usual.sett_tight_note_pct == read.usual.sett_tight_warning_pct == 102.0


def test_a_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ThresholdFileError, match=r"nowhere\.toml"):
        read_thresholds(tmp_path / "nowhere.toml")
