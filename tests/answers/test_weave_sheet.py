"""The sheet of a weave: published cases, and what setts, drafts, hooks and colours add to it."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import numpy as np
import orjson
import pytest
from builders import construction, jacquard, loom, shedding
from checks.test_limits import LIMITS, Limit
from textiles.published import read

from weavability.answers.caution import CAUTION
from weavability.answers.validation import judge
from weavability.answers.weave_analysis.analysis import (
    MOST_CROSSINGS_PRINTED,
    MOST_THREADS_LISTED,
    examine_weave,
)
from weavability.answers.weave_analysis.answer import JacquardSheet, WeaveSheet
from weavability.answers.weave_analysis.request import ColouredThreads, DraftToCheck, WeaveRequest
from weavability.checks.finding import Finding, Severity
from weavability.checks.registry import run_checks
from weavability.looms.loom import Loom, Shedding, SheddingKind
from weavability.textiles.assumptions import Assumption, Grade
from weavability.textiles.colouring import colour_repeat
from weavability.textiles.drafting import draft_weave, healds_per_shaft
from weavability.textiles.errors import InputError
from weavability.textiles.notation import parse_weave
from weavability.textiles.sentences import say
from weavability.textiles.stripes import Stripe, striped_weave
from weavability.textiles.units import CM_PER_INCH
from weavability.textiles.weave_matrix import Weave
from weavability.textiles.weave_symmetry import equivalent

STRUCTURE, DRAFTING = read("weave_structure.json"), read("weave_drafting.json")
JACQUARD, COLOURING = read("weave_jacquard.json"), read("weave_colouring.json")

DARK, LIGHT = "#1c2a4a", "#f4f1e8"


def sheet(weave: str | Weave = "plain", **known: Any) -> WeaveSheet:
    read_weave = parse_weave(weave) if isinstance(weave, str) else weave
    return examine_weave(WeaveRequest(weave=read_weave, **known))


def from_text(matrix: str) -> Weave:
    return Weave.from_rows(matrix.split("/"))


def codes(found: WeaveSheet) -> set[str]:
    return {finding.code for finding in found.findings}


def left_out(found: WeaveSheet) -> set[str]:
    return {part.pointer for part in found.left_out}


def assumed(found: WeaveSheet) -> dict[str, object]:
    return {line.pointer: line.value for line in found.assumptions}


def figured(*, ends: int, picks: int) -> Weave:
    """A design whose threads all weave differently."""
    cells = np.random.default_rng(5).integers(0, 2, size=(picks, ends), dtype=np.uint8)
    return Weave(matrix=cells)


def on_hooks(hooks: int, **stated: Any) -> Shedding:
    return Shedding(kind=SheddingKind.JACQUARD, hooks=hooks, **stated)


def hooks_of(found: WeaveSheet) -> JacquardSheet:
    assert found.jacquard is not None
    return found.jacquard


def threads(order: str, **colours: str) -> ColouredThreads:
    return ColouredThreads(order=order, colours=colours or {"A": DARK, "B": LIGHT})


def in_letters(letters: str) -> ColouredThreads:
    """A thread order whose letters are one dark and one light yarn."""
    known = {"A": DARK, "B": LIGHT}
    return ColouredThreads(
        order=" ".join(letters), colours={letter: known[letter] for letter in sorted(set(letters))}
    )


# structure


@pytest.mark.parametrize("case", STRUCTURE["structures"], ids=lambda case: case["name"])
def test_table_of_structures(case: dict[str, Any]) -> None:
    found = sheet(from_text(case["matrix"]))
    floats, interlacings = found.floats, found.interlacings
    assert (found.repeat.ends, found.repeat.picks) == (case["ends"], case["picks"])
    assert found.repeat.rows == tuple(case["matrix"].split("/"))
    assert (interlacings.of_ends, interlacings.of_picks) == (
        case["interlacings_of_ends"],
        case["interlacings_of_picks"],
    )
    assert (floats.warp_face_float_picks, floats.warp_back_float_picks) == (
        case["warp_face"],
        case["warp_back"],
    )
    assert (floats.weft_face_float_ends, floats.weft_back_float_ends) == (
        case["weft_face"],
        case["weft_back"],
    )
    assert found.drafting.shafts_needed == case["shafts"]
    assert found.integrity.hangs_together == case["hangs_together"]
    crossings = case["ends"] * case["picks"]
    assert found.repeat.crossings == crossings
    assert found.warp_up_pct == pytest.approx(100 * case["up_in_repeat"] / crossings, rel=1e-5)
    assert floats.mean_warp_float_picks == pytest.approx(
        crossings / case["interlacings_of_ends"], rel=1e-5
    )
    assert floats.mean_weft_float_ends == pytest.approx(
        crossings / case["interlacings_of_picks"], rel=1e-5
    )


@pytest.mark.parametrize("case", STRUCTURE["integrity"], ids=lambda case: case["id"])
def test_published_integrity(case: dict[str, Any]) -> None:
    weave = from_text(case["matrix"])
    integrity = sheet(weave).integrity
    assert integrity.hangs_together == (case["layers"] == 1)
    if weave == weave.reduced():
        # One case counts the loose picks of a matrix that repeats within itself.
        assert integrity.layer_count == case["layers"]
        assert len(integrity.layers) == (0 if case["layers"] == 1 else case["layers"])


def test_layers_name_their_threads_from_the_top() -> None:
    # Two plain cloths, one above the other: C. P. Brooks, Cotton Manufacturing, p. 69.
    upper, lower = sheet(from_text("1000/1101/0100/1110")).integrity.layers
    assert (upper.ends, upper.picks) == ((1, 2), (1, 3))
    assert (lower.ends, lower.picks) == ((3, 4), (2, 4))
    assert (upper.end_count, upper.pick_count) == (2, 2)


def test_a_weave_that_falls_apart_is_an_error_and_a_loose_thread_another() -> None:
    assert codes(sheet(from_text("1000/1101/0100/1110"))) == {"weave.falls_apart"}
    loose = sheet(from_text("111/101/011"))
    assert codes(loose) == {"weave.loose_thread"}
    assert loose.integrity.loose_ends == (3,)
    assert loose.integrity.loose_picks == (1,)


@pytest.mark.parametrize("case", STRUCTURE["turnings"], ids=lambda case: case["id"])
def test_published_turnings(case: dict[str, Any]) -> None:
    found = sheet(from_text(case["from"]), against=from_text(case["to"]))
    turned = {"back": found.reverse_side, "quarter turn": found.quarter_turn}.get(case["turn"])
    if turned is not None:
        # The sources let the repeat begin where they like.
        assert equivalent(Weave.from_rows(turned.rows or ()), from_text(case["to"]))
    assert found.comparison is not None
    names = {"back": "reverse side", "quarter turn": "quarter turn", "mirror": "mirrored"}
    assert names[case["turn"]] in (found.comparison.relations or ())


def test_the_back_of_a_twill_is_named() -> None:
    found = sheet("3/1 twill Z")
    assert found.reverse_side.name == "1/3 twill S"
    assert found.face == "warp"


def test_a_matrix_is_recognised_wherever_it_begins() -> None:
    found = sheet(from_text("0110/0011/1001/1100"))
    assert found.name is None
    assert found.recognised_name == "2/2 twill Z"


def test_a_name_is_kept_beside_what_the_trade_would_say() -> None:
    found = sheet(Weave.from_rows(["10", "01"], name="1/1 of ours"))
    assert (found.name, found.recognised_name) == ("1/1 of ours", "plain")


def test_the_true_repeat_is_shown_whatever_was_given() -> None:
    found = sheet(from_text("101010/010101/101010/010101"))
    assert found.repeat.rows == ("10", "01")
    assert found.recognised_name == "plain"


def test_another_weave_is_compared() -> None:
    found = sheet("3/1 twill Z", against=parse_weave("1/3 twill Z")).comparison
    assert found is not None
    assert (found.name, found.same) == ("1/3 twill Z", False)
    assert "complement" in (found.relations or ())
    assert "reverse side" not in (found.relations or ())
    moved = sheet("plain", against=from_text("01/10")).comparison
    assert moved is not None
    assert (moved.name, moved.same) == ("plain", True)
    strange = sheet("plain", against=parse_weave("2/2 twill Z")).comparison
    assert strange is not None
    assert (strange.same, strange.relations) == (False, ())


def test_symmetries_of_a_broken_and_of_a_straight_twill() -> None:
    assert set(sheet("2/2 twill Z").symmetries or ()) == {"complement", "half turn"}
    assert "reverse side" in (sheet("2/2 hopsack").symmetries or ())
    assert "mirrored" not in (sheet("2/1 twill Z").symmetries or ())


def test_ends_that_interlace_unequally_are_reported() -> None:
    # Plain beside satin: the plain stripe takes up more and needs a beam of its own.
    plain, satin = parse_weave("plain"), parse_weave("5-end satin move 2")
    striped = striped_weave([Stripe(weave=plain, ends=4), Stripe(weave=satin, ends=5)])
    found = sheet(striped).interlacings
    assert found.uneven_ends
    assert found.per_end == (10,) * 4 + (4,) * 5
    assert not sheet("2/2 twill Z").interlacings.uneven_ends


# lengths


def test_floats_and_repeat_in_the_cloth() -> None:
    # Seven picks at 28 a cm are 2.5 mm, and as many ends at 35 a cm 2 mm.
    found = sheet("8-end satin move 3", ends_per_cm=35.0, picks_per_cm=28.0)
    assert found.floats.warp_face_float_mm == pytest.approx(2.5)
    assert found.floats.weft_back_float_mm == pytest.approx(2.0)
    assert found.floats.longest_float_mm == pytest.approx(2.5)
    assert found.repeat.width_cm == pytest.approx(8 / 35, rel=1e-5)
    assert found.repeat.length_cm == pytest.approx(8 / 28, rel=1e-5)


def test_one_sett_gives_the_lengths_that_follow_from_it() -> None:
    found = sheet("2/2 twill Z", picks_per_cm=20.0)
    assert found.floats.warp_face_float_mm == 1.0
    assert found.floats.weft_face_float_mm is None
    assert found.floats.longest_float_mm is None
    assert (found.repeat.length_cm, found.repeat.width_cm) == (0.2, None)


# drafts


@pytest.mark.parametrize("case", DRAFTING["drafts"], ids=lambda case: case["weave"])
def test_published_drafts(case: dict[str, Any]) -> None:
    least = sheet(case["weave"]).drafting.least
    assert least is not None
    assert list(least.threading) == case["threading"]
    assert (least.shafts, least.kind) == (case["shafts"], case["kind"])
    if "lift_plan" in case:
        assert least.lift_plan == tuple(case["lift_plan"].split("/"))
    if "healds" in case:
        assert list(least.healds_per_repeat) == case["healds"]


def test_published_stripe() -> None:
    case = DRAFTING["stripes"][0]
    stripes = [Stripe(weave=parse_weave(name), ends=ends) for name, ends in case["stripes"]]
    found = sheet(striped_weave(stripes), total_ends=10 * case["ends"])
    assert (found.repeat.ends, found.repeat.picks) == (case["ends"], case["picks"])
    assert found.drafting.least is not None
    assert list(found.drafting.least.healds_per_repeat) == case["healds"]
    assert found.drafting.least.healds_per_shaft == tuple(10 * each for each in case["healds"])


def test_a_published_peg_plan_is_held_against_its_cloth() -> None:
    case = DRAFTING["peg_plan"]
    draft = DraftToCheck(threading=tuple(case["threading"]), lift_plan=tuple(case["lift_plan"]))
    given = sheet(from_text(case["cloth"]), draft=draft).drafting.given
    assert given is not None
    assert given.weaves_the_cloth
    assert given.draft is not None
    assert given.draft.lift_plan == tuple(case["lift_plan"])
    other = sheet("2/2 twill Z", draft=draft).drafting.given
    assert other is not None
    assert not other.weaves_the_cloth
    assert other.faults[0].pointer.startswith("/draft/")
    assert other.draft is None


def test_tie_up_and_treadling_make_the_lift_plan() -> None:
    least = sheet("mock leno 3").drafting.least
    assert least is not None
    assert least.tie_up is not None
    assert least.treadling is not None
    assert least.lift_plan == tuple(least.tie_up[treadle - 1] for treadle in least.treadling)
    assert least.treadles == 4


@pytest.mark.parametrize(
    ("sett", "shafts", "in_use"),
    [(20.0, 2, "least"), (20.1, 4, "spread"), (40.0, 4, "spread"), (40.1, 6, "spread")],
)
def test_crowded_healds_request_a_skip_draft(sett: float, shafts: int, in_use: str) -> None:
    found = sheet(
        ends_per_cm=sett, shedding=shedding(shafts=8, max_healds_per_cm_per_shaft=10.0)
    ).drafting
    assert found.in_use == in_use
    draft = found.spread or found.least
    assert draft is not None
    assert draft.shafts == shafts


def test_a_skip_draft_takes_no_more_shafts_than_there_are() -> None:
    found = sheet(ends_per_cm=60.0, shedding=shedding(shafts=4, max_healds_per_cm_per_shaft=10.0))
    assert found.drafting.spread is not None
    assert found.drafting.spread.shafts == 4
    assert found.drafting.spread.healds_per_cm_per_shaft == 15.0
    assert "shedding.heald_crowding" in codes(found)


def test_healds_are_counted_over_the_whole_width() -> None:
    least = sheet("2/1 twill Z", total_ends=1000, reed_width_cm=50.0).drafting.least
    assert least is not None
    assert least.healds_per_shaft == (334, 333, 333)
    assert least.healds_per_cm_per_shaft == 6.68


def test_a_draft_that_weaves_the_cloth_is_the_one_in_use() -> None:
    draft = DraftToCheck(threading="skip", shafts=6)
    found = sheet(draft=draft, shedding=shedding(shafts=4))
    assert found.drafting.in_use == "given"
    wrong = next(finding for finding in found.findings if finding.code == "shedding.shafts")
    assert (wrong.actual, wrong.limit, wrong.pointer) == (6, 4, "/draft/threading")


@pytest.mark.parametrize(
    ("draft", "says"),
    [
        (DraftToCheck(threading=(1, 2, 3, 1)), "Ends 1 and 4 are both on shaft 1"),
        (DraftToCheck(threading=(1, 2, 3, 4, 1)), "repeats on 4"),
        (DraftToCheck(threading=(1, 2)), "repeats on 4"),
        (DraftToCheck(threading="point"), "Ends 2 and 4 are both on shaft 2"),
        (DraftToCheck(threading="straight", shafts=68), "no loom carries more than 64"),
        (DraftToCheck(threading=(1, 2, 3, 65)), "no loom carries more than 64"),
        (
            DraftToCheck(threading=(1, 2, 3, 4), lift_plan=("1" * 65,)),
            "no loom carries more than 64",
        ),
        (
            DraftToCheck(threading="straight", lift_plan=("1100", "0110", "0011", "1000")),
            "On pick 4",
        ),
    ],
)
def test_a_draft_that_does_not_weave_the_cloth_says_why(draft: DraftToCheck, says: str) -> None:
    found = sheet("2/2 twill Z", draft=draft)
    given = found.drafting.given
    assert given is not None
    assert not given.weaves_the_cloth
    assert says in given.faults[0].message
    assert codes(found) == {"weave.draft_mismatch"}
    assert found.drafting.in_use == "least"


def test_a_jacquard_design_is_more_than_a_draft_can_weave() -> None:
    found = sheet(figured(ends=70, picks=40), draft=DraftToCheck(threading=(1, 2) * 35))
    given = found.drafting.given
    assert given is not None
    assert given.faults[0].message == "The draft has 2 shafts; the weave needs 70."


@pytest.mark.parametrize("shafts", [4, 64])
def test_a_straight_draft_may_take_as_many_shafts_as_a_loom_carries(shafts: int) -> None:
    given = sheet("2/2 twill Z", draft=DraftToCheck(threading="straight", shafts=shafts))
    assert given.drafting.given is not None
    assert given.drafting.given.weaves_the_cloth


@pytest.mark.parametrize(
    ("draft", "pointer"),
    [
        (DraftToCheck(threading="zigzag"), "/draft/threading"),
        (DraftToCheck(threading=()), "/draft/threading"),
        (DraftToCheck(threading=(0, 1)), "/draft/threading"),
        (DraftToCheck(threading=(1,) * 200_001), "/draft/threading"),
        (DraftToCheck(threading=(1, 2), shafts=2), "/draft/shafts"),
        (DraftToCheck(threading=(1, 2), lift_plan=("10", "0x")), "/draft/lift_plan/1"),
        (DraftToCheck(threading=(1, 2), lift_plan=()), "/draft/lift_plan"),
    ],
)
def test_a_draft_that_cannot_be_read_is_refused(draft: DraftToCheck, pointer: str) -> None:
    with pytest.raises(InputError) as caught:
        sheet(draft=draft)
    assert [fault.pointer for fault in caught.value.faults] == [pointer]


@pytest.mark.parametrize(("ends", "drafted"), [(64, True), (65, False)])
def test_a_weave_of_more_shafts_than_any_loom_is_a_jacquard_design(
    ends: int, drafted: bool
) -> None:
    found = sheet(figured(ends=ends, picks=20))
    assert found.drafting.shafts_needed == ends
    assert (found.drafting.least is not None) == drafted
    assert ("/drafting/least" in left_out(found)) != drafted


# shedding


def as_request(changes: dict[str, Any], on: Loom) -> tuple[WeaveRequest, tuple[Finding, ...]]:
    """A cloth on a loom as a request about its weave, and what the report's checks say of it."""
    fit = judge(construction(**changes), on)
    cloth, draft = fit.cloth, fit.cloth.construction.draft
    request = WeaveRequest(
        weave=cloth.construction.weave,
        ends_per_cm=cloth.warp.threads_per_cm,
        picks_per_cm=cloth.weft.threads_per_cm,
        total_ends=cloth.ends.total,
        reed_width_cm=cloth.widths.reed_cm,
        shedding=on.shedding,
        draft=None if draft is None else DraftToCheck(threading=draft.threading),
    )
    return request, tuple(run_checks(fit))


def figures(findings: tuple[Finding, ...]) -> set[tuple[Any, ...]]:
    """What findings on weave and shedding say and compare, to the four decimals of a report."""

    def rounded(figure: Any) -> Any:
        return round(figure, 4) if isinstance(figure, float) else figure

    return {
        (one.code, one.severity, one.message, rounded(one.actual), rounded(one.limit), one.unit)
        for one in findings
        if one.code.startswith(("weave.", "shedding."))
    }


SHARED = [
    limit
    for limit in LIMITS
    # The request about a weave knows no selvedge with shafts of its own, and no cords.
    if limit.code.startswith(("weave.", "shedding."))
    and limit.code != "shedding.lift_slant"
    and "selvedge" not in limit.inside
]


@pytest.mark.slow
@pytest.mark.parametrize("limit", SHARED, ids=str)
def test_a_sheet_says_what_a_report_says_on_both_sides_of_every_limit(limit: Limit) -> None:
    for changes, on in (
        (limit.inside, limit.inside_loom or loom()),
        (limit.outside, limit.outside_loom or loom()),
    ):
        request, reported = as_request(changes, on)
        assert figures(examine_weave(request).findings) == figures(reported)


def test_the_shared_limits_cover_every_shared_check() -> None:
    assert {limit.code for limit in SHARED} >= {
        "shedding.shafts",
        "shedding.heald_crowding",
        "shedding.healds_per_shaft",
        "shedding.repeat_picks",
        "shedding.uneven_lift",
        "shedding.hooks",
        "shedding.hooks_idle",
        "shedding.harness_density",
        "weave.falls_apart",
        "weave.loose_thread",
        "weave.long_float",
        "weave.draft_mismatch",
    }


def test_limits_that_a_loom_does_not_state_are_assumed() -> None:
    cam = sheet("5-end satin move 2", shedding=Shedding(kind=SheddingKind.CAM, shafts=8))
    assert assumed(cam) == {"/shedding/max_repeat_picks": 8}
    dobby = sheet(ends_per_cm=24.0, shedding=Shedding(kind=SheddingKind.DOBBY, shafts=8))
    assert assumed(dobby) == {
        "/reed_width_cm": None,
        "/shedding/max_healds_per_cm_per_shaft": 10,
        "/shedding/max_pattern_picks": 6400,
    }


@pytest.mark.parametrize("picks", [8, 9])
def test_a_cam_repeats_within_its_picks(picks: int) -> None:
    cam = Shedding(kind=SheddingKind.CAM, shafts=12, max_repeat_picks=8)
    found = sheet(f"{picks}-end satin move {3 if picks == 8 else 2}", shedding=cam)
    assert ("shedding.repeat_picks" in codes(found)) == (picks == 9)


@pytest.mark.parametrize("kind", list(SheddingKind))
def test_a_shedding_motion_states_what_it_carries(kind: SheddingKind) -> None:
    with pytest.raises(InputError) as caught:
        sheet(shedding=Shedding(kind=kind))
    expected = "hooks" if kind is SheddingKind.JACQUARD else "shafts"
    assert caught.value.faults[0].pointer == f"/shedding/{expected}"


# hooks


@pytest.mark.parametrize("case", JACQUARD["casting_out"], ids=lambda case: case["id"])
def test_published_casting_out(case: dict[str, Any]) -> None:
    design = figured(ends=case["ground"], picks=12)
    plan = hooks_of(sheet(design, shedding=on_hooks(case["hooks"])))
    assert (plan.hooks_used, plan.hooks_idle) == (case["used"], case["idle"])
    assert plan.ends_per_hook is None


@pytest.mark.parametrize("case", JACQUARD["ends_per_hook"], ids=lambda case: str(case["repeat"]))
def test_published_ends_per_hook(case: dict[str, Any]) -> None:
    design = figured(ends=case["repeat"], picks=12)
    found = sheet(design, shedding=on_hooks(case["hooks"]), total_ends=case["ends"])
    assert hooks_of(found).ends_per_hook == case["ends_per_hook"]
    assert hooks_of(found).repeats_across == case["similar"]
    assert hooks_of(found).remainder_ends == 0


@pytest.mark.parametrize("case", JACQUARD["divisors"], ids=lambda case: case["id"])
def test_published_repeats_that_use_every_hook_are_proposed(case: dict[str, Any]) -> None:
    shorter, longer = 25, 40
    assert {shorter, longer} <= set(case["repeats"])
    plan = hooks_of(sheet(figured(ends=33, picks=9), shedding=on_hooks(case["hooks"])))
    assert plan.nearest_full_repeats_ends == (shorter, longer)
    full = hooks_of(sheet(figured(ends=40, picks=9), shedding=on_hooks(case["hooks"])))
    assert full.nearest_full_repeats_ends == (40,)


@pytest.mark.parametrize("case", JACQUARD["reed"], ids=lambda case: case["id"])
def test_published_reed_after_casting_out(case: dict[str, Any]) -> None:
    used = case["hooks"] - case["cast_out"]
    found = sheet(
        figured(ends=used, picks=9),
        ends_per_cm=87.5,
        total_ends=4 * used,
        shedding=on_hooks(case["hooks"], harness_ends_per_cm=case["reed_in"]),
    )
    plan = hooks_of(found)
    # The source drops the half.
    assert int(plan.usable_harness_ends_per_cm or 0) == case["reed_out"]
    assert plan.harness_density_ratio == 1.0
    assert plan.harness_width_cm == pytest.approx(4 * used / 87.5)


@pytest.mark.parametrize("case", JACQUARD["hooks"], ids=lambda case: case["id"])
def test_published_width_of_a_repeat(case: dict[str, Any]) -> None:
    found = sheet(
        figured(ends=case["hooks"], picks=9),
        ends_per_cm=case["ends_per_in"] / CM_PER_INCH,
        shedding=on_hooks(400),
    )
    assert (hooks_of(found).repeat_width_cm or 0) / CM_PER_INCH == pytest.approx(case["repeat_in"])


@pytest.mark.parametrize(
    "case", [case for case in JACQUARD["paper"] if case["first"] == 8], ids=lambda case: case["id"]
)
def test_published_design_paper(case: dict[str, Any]) -> None:
    found = sheet(
        ends_per_cm=case["ends"] / CM_PER_INCH,
        picks_per_cm=case["picks"] / CM_PER_INCH,
        shedding=on_hooks(400),
    )
    assert hooks_of(found).design_paper == (case["first"], case["second"])


def test_a_design_that_the_hooks_do_not_hold_has_no_plan() -> None:
    found = sheet(figured(ends=401, picks=9), shedding=on_hooks(400, harness_ends_per_cm=30.0))
    plan = hooks_of(found)
    assert not plan.fits
    assert (plan.hooks_used, plan.ends_per_hook) == (None, None)
    assert "shedding.hooks" in codes(found)


def test_a_stated_tie_gives_the_ends_where_no_width_is_known() -> None:
    plan = hooks_of(sheet("8-end satin move 3", shedding=on_hooks(400, ends_per_hook=4)))
    assert (plan.ends_per_hook, plan.repeats_across) == (4, 200)


def test_a_narrow_cloth_does_not_thin_the_harness() -> None:
    found = sheet(
        total_ends=200,
        ends_per_cm=30.0,
        shedding=on_hooks(400, ends_per_hook=1, harness_ends_per_cm=30.0),
    )
    assert hooks_of(found).hooks_used == 200
    assert hooks_of(found).usable_harness_ends_per_cm == 30.0
    assert codes(found) == set()


def test_hooks_need_no_draft() -> None:
    found = sheet("2/2 twill Z", shedding=jacquard().shedding)
    assert found.drafting.in_use is None
    assert sheet("2/2 twill Z").jacquard is None


# colours


@pytest.mark.parametrize(
    "case",
    [case for case in COLOURING["effects"] if "dark_share" in case],
    ids=lambda case: f"{case['id']}-{case['warp']}-{case['weft']}",
)
def test_published_colour_and_weave_effects(case: dict[str, Any]) -> None:
    colour = sheet(
        case["weave"], warp=in_letters(case["warp"]), weft=in_letters(case["weft"])
    ).colour
    assert colour is not None
    assert (colour.repeat_ends, colour.repeat_picks) == (case["ends"], case["picks"])
    shares = {share.colour: share.share_pct for share in colour.face}
    assert shares[DARK] == pytest.approx(100 * case["dark_share"])
    assert sum(shares.values()) == pytest.approx(100)


def test_a_check_is_centred_over_the_width() -> None:
    colour = sheet(warp=threads("24A 4B"), weft=threads("24A 4B"), total_ends=1000).colour
    assert colour is not None
    assert colour.weft.centring is None
    centring = colour.warp.centring
    assert centring is not None
    assert (centring.whole_repeats, centring.remainder_threads) == (35, 20)
    assert centring.balanced
    assert centring.left_edge_threads == centring.right_edge_threads


def test_a_thread_order_is_given_by_its_colours() -> None:
    one = threads("2(A B) C", A=DARK, B=LIGHT, C=DARK.upper())
    colour = sheet(warp=one, weft=threads("2A 2B"), ends_per_cm=20.0).colour
    assert colour is not None
    assert [(each.yarn, each.colour, each.threads) for each in colour.warp.yarns] == [
        ("A", DARK, 2),
        ("B", LIGHT, 2),
        ("C", DARK, 1),
    ]
    assert (colour.warp.threads, colour.warp.repeat_threads) == (5, 5)
    assert (colour.repeat_width_cm, colour.repeat_length_cm) == (0.5, None)
    assert colour.weave_breaks_in_warp
    assert not colour.weave_breaks_in_weft


def test_yarns_of_one_colour_repeat_as_one() -> None:
    colour = sheet(warp=threads("A B", A=DARK, B=DARK), weft=threads("A", A=LIGHT)).colour
    assert colour is not None
    assert (colour.warp.threads, colour.warp.repeat_threads) == (2, 1)


def test_colours_of_one_system_alone_leave_the_other_undyed() -> None:
    found = sheet("3/1 twill Z", warp=threads("A", A=DARK))
    assert found.colour is not None
    assert found.colour.face[0].share_pct == 75.0
    assert assumed(found) == {"/weft": found.colour.weft.yarns[0].colour}
    assert sheet("3/1 twill Z").colour is None


@pytest.mark.parametrize(
    ("known", "pointers"),
    [
        ({"warp": threads("2A 2C")}, ["/warp/order"]),
        ({"weft": threads("2A", A=DARK, B=LIGHT)}, ["/weft/order"]),
        ({"warp": threads("2A", A="navy")}, ["/warp/colours/A"]),
        ({"warp": threads("(", A=DARK), "weft": threads("A", A="#12345")},
         ["/warp/order", "/weft/colours/A"]),
        ({"ends_per_cm": 0.0}, ["/ends_per_cm"]),
        ({"ends_per_cm": float("nan")}, ["/ends_per_cm"]),
        ({"picks_per_cm": 1_001.0}, ["/picks_per_cm"]),
        ({"total_ends": 0}, ["/total_ends"]),
        ({"total_ends": 1_000_001}, ["/total_ends"]),
        ({"reed_width_cm": 0.0}, ["/reed_width_cm"]),
        ({"reed_width_cm": 10_001.0}, ["/reed_width_cm"]),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_pointed_at(known: dict[str, Any], pointers: list[str]) -> None:
    with pytest.raises(InputError) as caught:
        sheet(**known)
    assert [fault.pointer for fault in caught.value.faults] == pointers


# the whole


def test_what_a_notation_left_open_is_an_assumption_of_the_sheet() -> None:
    reason = say("assumption.x", "'2/2 twill': Z unless it says S")
    note = Assumption.of("", "2/2 twill Z", None, reason, Grade.COMMON_PRACTICE)
    found = sheet("2/2 twill Z", weave_notes=(note,))
    assert found.assumptions == (replace(note, pointer="/weave"),)


def test_ends_follow_from_the_width_and_the_width_from_the_ends() -> None:
    assert assumed(sheet(ends_per_cm=30.0, reed_width_cm=150.0)) == {"/total_ends": 4500}
    assert assumed(sheet(ends_per_cm=30.0, total_ends=4500)) == {"/reed_width_cm": 150.0}
    assert assumed(sheet(ends_per_cm=30.0, total_ends=4500, reed_width_cm=155.0)) == {}
    assert assumed(sheet(ends_per_cm=30.0)) == {}


def test_a_sheet_can_be_written_as_json() -> None:
    found = sheet(
        "2/2 twill Z",
        ends_per_cm=30.0,
        picks_per_cm=25.0,
        total_ends=4500,
        warp=threads("24A 4B"),
        draft=DraftToCheck(threading="straight"),
        shedding=on_hooks(400, ends_per_hook=12, harness_ends_per_cm=30.0),
        against=parse_weave("2/2 twill S"),
    )
    written = json.loads(orjson.dumps(found))
    assert written["comparison"] == {
        "name": "2/2 twill S",
        "same": False,
        "relations": [
            "mirrored",
            "upside down",
            "reverse side",
            "quarter turn",
            "three quarter turns",
        ],
    }
    assert written["caution"] == CAUTION
    assert written["repeat"]["rows"] == ["1100", "0110", "0011", "1001"]


def test_nothing_is_left_out_of_a_weave_that_can_be_printed() -> None:
    assert sheet(figured(ends=60, picks=200)).left_out == ()


@pytest.mark.parametrize(("picks", "printed"), [(200, True), (201, False)])
def test_rows_are_printed_up_to_a_size(picks: int, printed: bool) -> None:
    ends = MOST_CROSSINGS_PRINTED // 200
    found = sheet(figured(ends=ends, picks=picks))
    assert (found.repeat.rows is not None) == printed
    assert (found.reverse_side.rows is not None) == printed
    assert (found.symmetries is not None) == printed
    assert ("/repeat/rows" in left_out(found)) != printed
    assert found.repeat.crossings == ends * picks


def test_a_large_design_is_judged_but_not_printed() -> None:
    design = figured(ends=MOST_THREADS_LISTED + 1, picks=300)
    found = sheet(design, against=design)
    assert found.integrity.hangs_together
    assert found.interlacings.per_end is None
    assert found.interlacings.per_pick is not None
    assert found.comparison is not None
    assert found.comparison.relations is None
    assert left_out(found) >= {"/comparison/relations", "/interlacings/per_end"}
    assert len(orjson.dumps(found)) < 20_000


def test_the_threads_of_large_layers_are_counted_and_the_first_are_listed() -> None:
    # The last pick lies under every end: a layer of its own, below the rest.
    woven = figured(ends=MOST_THREADS_LISTED + 500, picks=40).matrix
    below = np.ones((1, woven.shape[1]), dtype=np.uint8)
    found = sheet(Weave(matrix=np.concatenate([woven, below])))
    upper, lower = found.integrity.layers
    assert (upper.end_count, upper.pick_count) == (MOST_THREADS_LISTED + 500, 40)
    assert upper.ends == tuple(range(1, MOST_THREADS_LISTED + 1))
    assert upper.picks == tuple(range(1, 41))
    assert (lower.ends, lower.picks) == ((), (41,))
    assert found.integrity.loose_picks == (41,)
    assert "/integrity/layers/0/ends" in left_out(found)


@pytest.mark.parametrize(
    ("known", "pointer"),
    [
        ({"ends_per_cm": 50.0}, "/ends_per_cm"),
        ({"total_ends": 1000, "reed_width_cm": 20.0}, "/total_ends"),
        ({"ends_per_cm": 50.0, "draft": DraftToCheck(threading=(1, 2))}, "/draft/threading"),
    ],
)
def test_crowding_is_pointed_at_what_drives_it(known: dict[str, Any], pointer: str) -> None:
    found = sheet(shedding=shedding(shafts=2, max_healds_per_cm_per_shaft=10.0), **known)
    crowding = next(one for one in found.findings if one.code == "shedding.heald_crowding")
    assert (crowding.pointer, crowding.actual) == (pointer, 25.0)


def test_the_colour_repeat_is_the_one_of_weave_and_orders() -> None:
    weave = parse_weave("5-end satin move 2")
    colour = sheet(weave, warp=threads("3A 4B"), weft=threads("2A 2B")).colour
    together = colour_repeat(weave, warp="AAABBBB", weft="AABB")
    assert colour is not None
    assert (colour.repeat_ends, colour.repeat_picks) == (together.ends, together.picks) == (35, 20)


def test_severities_are_those_of_a_report() -> None:
    found = sheet("4/1 twill Z", shedding=shedding())
    assert [(one.code, one.severity) for one in found.findings] == [
        ("shedding.uneven_lift", Severity.NOTE)
    ]


def test_healds_of_the_sheet_are_those_of_the_draft() -> None:
    weave = parse_weave("2/2 herringbone 8")
    least = sheet(weave, total_ends=1001).drafting.least
    assert least is not None
    assert least.healds_per_shaft == healds_per_shaft(draft_weave(weave), 1001)
