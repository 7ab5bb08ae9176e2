"""Rules about weave and shedding alone: what is not known, and how it is said."""

from __future__ import annotations

import math
from typing import Any

import pytest
from builders import construction, jacquard, loom, named, report, shedding, weave

from weavability.answers.weave_analysis.analysis import examine_weave
from weavability.answers.weave_analysis.request import DraftToCheck, WeaveRequest
from weavability.checks.codes import CheckCode
from weavability.checks.facts import WeaveNumbers
from weavability.checks.finding import Finding, Severity
from weavability.checks.registry import comparisons_of, observe_weave
from weavability.looms.loom import Shedding, SheddingKind
from weavability.looms.thresholds import shipped
from weavability.textiles.construction import DraftRequest

OF_WEAVE = [code for code in CheckCode if code.value.startswith(("weave.", "layers.", "shedding."))]


def numbers(**changes: Any) -> WeaveNumbers[float]:
    """A weave of which nothing is known but that it is one cloth."""
    nothing: dict[str, Any] = dict.fromkeys(WeaveNumbers.__slots__, 0.0)
    limits = {name: math.inf for name in nothing if name.startswith("max_")}
    truths = {"is_jacquard": False, "harness_known": False}
    known = {
        "cloths": 1,
        "cloths_meant": 1,
        "layer_parts": 1,
        "loom_shafts": math.inf,
        "repeat_ends": 1,
    }
    return WeaveNumbers(**(nothing | limits | truths | known | changes))


def seen(code: str, **changes: Any) -> list[Severity]:
    checks = comparisons_of([CheckCode(code)])
    return [one.severity for one in observe_weave(checks, numbers(**changes), shipped().usual)]


def on_hooks(hooks: float, repeat_ends: float, **changes: Any) -> dict[str, Any]:
    in_use = hooks - hooks % repeat_ends
    return {
        "is_jacquard": True,
        "hooks": hooks,
        "repeat_ends": repeat_ends,
        "hooks_in_use": in_use,
        "harness_ends": in_use * changes.get("ends_per_hook", 0),
        **changes,
    }


def faults(code: str, **request: Any) -> list[Finding]:
    found = examine_weave(WeaveRequest(**request)).findings
    return [one for one in found if one.code == code]


def test_nothing_is_said_of_what_is_not_known() -> None:
    assert list(observe_weave(comparisons_of(OF_WEAVE), numbers(), shipped().usual)) == []
    assert seen("shedding.heald_crowding", healds_per_cm=99.0) == []
    assert seen("shedding.heald_crowding", max_healds_per_cm=1.0) == []
    assert seen("shedding.healds_per_shaft", healds_on_fullest_shaft=9) == []
    assert seen("shedding.repeat_picks", lift_picks=9999) == []
    assert seen("shedding.shafts", shafts_needed=9) == []
    assert seen("shedding.shafts", shafts_used=9) == []


@pytest.mark.parametrize(
    ("shafts", "pointer", "key"),
    [(8, "/draft/threading", "shedding.shafts.draft"), (7, "/weave", "shedding.shafts.weave")],
)
def test_a_draft_is_to_blame_only_if_a_better_one_would_do(
    shafts: int, pointer: str, key: str
) -> None:
    (found,) = faults(
        "shedding.shafts",
        weave=named("8-end satin move 3"),
        draft=DraftToCheck(threading=(1, 2, 3, 4, 5, 6, 7, 8, 1, 2, 3, 4, 5, 6, 9, 10)),
        shedding=Shedding(kind=SheddingKind.CAM, shafts=shafts),
    )
    assert (found.pointer, found.message_key) == (pointer, key)
    assert (found.actual, found.limit) == (10, shafts)


def test_loose_threads_are_named_one_or_many() -> None:
    def loose(*rows: str) -> list[str]:
        return [one.message for one in faults("weave.loose_thread", weave=weave(*rows))]

    assert loose("110", "101", "111") == [
        "End 1 of the repeat never interlaces and lies loose on the cloth. Bind it with at least "
        "one crossing in the repeat.",
        "Pick 3 of the repeat never interlaces and lies loose on the cloth. Bind it with at least "
        "one crossing in the repeat.",
    ]
    (ends,) = loose("1" * 9 + "01", "1" * 9 + "10")
    assert ends.startswith("Ends 1, 2, 3, 4, 5, 6, 7, 8 and 1 more of the repeat never interlace ")
    assert [text.split(" of ")[0] for text in loose("11", "00")] == ["Picks 1, 2"]


def test_another_draft_is_reported_only_if_there_is_one() -> None:
    request = {"weave": named("2/2 twill Z"), "draft": DraftToCheck(threading=(1, 2, 3, 3))}
    (replaced,) = faults("weave.draft_mismatch", **request)
    assert replaced.message.startswith("The requested draft cannot weave this cloth: ")
    assert replaced.message.endswith("refer to another draft, which does weave it.")
    hooked = Shedding(kind=SheddingKind.JACQUARD, hooks=400)
    (alone,) = faults("weave.draft_mismatch", **request, shedding=hooked)
    assert alone.message_key == "weave.draft_mismatch.alone"
    assert (alone.actual, alone.limit, alone.unit, alone.margin_pct) == (None,) * 4


def test_the_same_rule_points_into_the_request_that_it_judges() -> None:
    asked = DraftRequest(threading=(1, 2, 3, 3))
    found = report(construction(weave=named("2/2 twill Z"), draft=asked)).findings
    (of_order,) = [one for one in found if one.code is CheckCode.WEAVE_DRAFT_MISMATCH]
    (of_weave,) = faults(
        "weave.draft_mismatch",
        weave=named("2/2 twill Z"),
        draft=DraftToCheck(threading=(1, 2, 3, 3)),
    )
    assert of_order.pointer == "/construction/draft/threading"
    assert of_weave.pointer.startswith("/draft/threading")
    assert (of_order.message_key, of_order.source) == (of_weave.message_key, of_weave.source)


@pytest.mark.parametrize(
    ("hooks", "ground_ends", "says"),
    [(120, 240, []), (120, 241, [Severity.ERROR]), (129, 240, [])],
)
def test_cords_are_counted_under_whole_repeats(
    hooks: int, ground_ends: int, says: list[Severity]
) -> None:
    # A repeat of 12 lifts 2 x 120 ends from 120 hooks or 129.
    case = on_hooks(hooks, 12, ground_ends=ground_ends, ends_per_hook=2)
    assert seen("shedding.hooks", **case) == says


def test_a_repeat_that_the_hooks_do_not_hold_is_reported_once() -> None:
    # On 11 hooks there is nothing to count.
    case = on_hooks(11, 12, ground_ends=9999, ends_per_hook=2)
    assert seen("shedding.hooks", **case) == [Severity.ERROR]
    assert seen("shedding.hooks_idle", **case) == []
    density = {"harness_known": True, "reed_ends_per_cm": 99.0, "harness_ends_per_cm": 1.0}
    assert seen("shedding.harness_density", **case, **density) == []


def test_a_narrow_cloth_leaves_cords_empty_at_its_sides_and_thins_no_harness() -> None:
    # 2880 ends of plain in 126 cm, on a harness of 4800 hooks tied at 23 ends/cm.
    found = report(construction(width_cm=120.0), jacquard(hooks=4800, ends_per_hook=1))
    assert [one for one in found.findings if one.code.startswith("shedding.")] == []


def test_hooks_cast_out_thin_the_harness() -> None:
    # A repeat of 100 ends leaves 60 of 160 hooks idle: 30 ends/cm become 18.75, on which 1875 ends
    # are 100 cm wide. In the reed they are at least 94.92 cm, or at the very least 89.84.
    for reed_ends_per_cm, says in (
        (19.75, []),
        (19.76, [Severity.WARNING]),
        (20.87, [Severity.WARNING]),
        (20.88, [Severity.ERROR]),
    ):
        case = on_hooks(160, 100, ground_ends=1875, harness_known=True, harness_ends_per_cm=30.0)
        assert seen("shedding.harness_density", **case, reed_ends_per_cm=reed_ends_per_cm) == says


@pytest.mark.parametrize(
    ("repeat", "ends_per_hook", "says"),
    [
        # 4800 ends, 120 cm in the reed, are 96 cm on a harness of 50/cm. Here no cord is spare.
        (80, 60, Severity.ERROR),
        # With 7680 cords 50 hooks would do for plain ends; a repeat of 80 hooks needs them all.
        (1, 96, Severity.NOTE),
        (80, 96, Severity.ERROR),
    ],
)
def test_a_narrow_harness_is_only_noted_if_its_cords_can_be_cast_out(
    repeat: int, ends_per_hook: int, says: Severity
) -> None:
    case = on_hooks(80, repeat, ground_ends=4800, ends_per_hook=ends_per_hook)
    case |= {"harness_ends": 80.0 * ends_per_hook, "harness_known": True}
    case |= {"reed_ends_per_cm": 40.0, "harness_ends_per_cm": 50.0}
    assert seen("shedding.harness_density", **case) == [says]


@pytest.mark.parametrize(
    ("harness_ends_per_cm", "says"),
    # 120 cm in the reed; an inch a side less is 114.92 cm, two inches 109.84.
    [
        (41.76, []),
        (41.78, [Severity.WARNING]),
        (43.69, [Severity.WARNING]),
        (43.71, [Severity.ERROR]),
    ],
)
def test_a_harness_without_spare_cords_is_as_wide_as_the_warp(
    harness_ends_per_cm: float, says: list[Severity]
) -> None:
    case = on_hooks(80, 80, ground_ends=4800, ends_per_hook=60)
    case |= {"harness_known": True, "reed_ends_per_cm": 40.0}
    case["harness_ends_per_cm"] = harness_ends_per_cm
    assert seen("shedding.harness_density", **case) == says


def test_the_figure_of_crowding_is_the_limit_of_the_loom_at_any_severity() -> None:
    narrow = loom(shedding=shedding(shafts=2, max_healds_per_cm_per_shaft=5.0))
    found = [
        one
        for one in report(construction(), narrow).findings
        if one.code is CheckCode.SHEDDING_HEALD_CROWDING
    ]
    assert [(one.severity, one.limit) for one in found] == [(Severity.ERROR, 5.0)]
