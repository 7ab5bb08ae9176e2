"""Checks of figured designs, each on both sides of its limit."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from builders import construction, loom, report, threads
from numpy.typing import NDArray
from textiles.figured import design_of

from weavability.answers import design_levers, trials
from weavability.answers.columns import judge_columns
from weavability.answers.remedy_search import search_remedies
from weavability.checks.finding import Severity
from weavability.looms.harness_tie import TieOrder, TieSection
from weavability.looms.loom import Loom, Shedding, SheddingKind
from weavability.textiles.construction import Construction, Selvedge
from weavability.textiles.figured import figured_cloth, float_binding
from weavability.textiles.figured.figured_design import (
    Back,
    Covers,
    Design,
    DesignWeft,
    FloatLimits,
    Insertion,
    Role,
)
from weavability.textiles.figured.hook_lifts import lay_on_hooks
from weavability.textiles.notation import parse_weave
from weavability.textiles.weave_matrix import Weave

CENTRED = TieOrder.CENTRED
PLAIN = np.zeros((8, 40), dtype=int)


def order(design: Design, **changes: Any) -> Construction:
    """160 cm of 24 ends/cm with 22 picks/cm, which the design weaves."""
    lifts = lay_on_hooks(design)
    made = construction(
        weave=lifts.weave, design=lifts, selvedge=Selvedge(ends_per_side=0), **changes
    )
    if not design.wefts:
        return made
    yarn = next(iter(made.weft.yarns.values()))
    weft = replace(made.weft, yarns=dict.fromkeys(design.wefts, yarn), order=lifts.weft_order)
    return replace(made, weft=weft)


@cache
def jacquard(*tie: TieSection, hooks: int = 40, ends_per_cm: float = 24.0) -> Loom:
    ends_per_hook = None if tie else 200
    shedding = Shedding(
        kind=SheddingKind.JACQUARD,
        hooks=hooks,
        ends_per_hook=ends_per_hook,
        harness_ends_per_cm=ends_per_cm,
        tie=tie,
    )
    return loom(shedding=shedding)


def found(code: str, design: Design, on: Loom | None = None, **changes: Any) -> Severity | None:
    """How severe the finding of a code is, and that it has a sentence."""
    findings = report(order(design, **changes), on or jacquard()).findings
    named = [each for each in findings if each.code == code]
    assert all(each.message and "{" not in each.message for each in named)
    return named[0].severity if named else None


def block(width: int, height: int = 8, *, lines: int = 24, columns: int = 40) -> NDArray[Any]:
    pixels = np.zeros((lines, columns), dtype=int)
    pixels[4 : 4 + height, 4 : 4 + width] = 1
    return pixels


def test_columns_judge_a_design_of_one_tie_at_a_time() -> None:
    one = TieSection(from_hook=1, hooks=40, times=96)
    other = TieSection(from_hook=1, hooks=20, order=CENTRED, times=96)
    design = order(design_of(PLAIN, ["plain"]))
    alike = [jacquard(one), replace(jacquard(one), loom_id="same tie")]
    assert judge_columns([design], alike).refused == {}
    refused = judge_columns([design], [jacquard(one), jacquard(other)]).refused
    assert [fault.pointer for fault in refused[0].faults] == ["/construction/weave/design"]


@pytest.mark.parametrize(("columns", "severity"), [(40, None), (20, None), (41, "error")])
def test_the_columns_of_a_picture_are_those_of_the_tie(columns: int, severity: str | None) -> None:
    tied = jacquard(TieSection(from_hook=1, hooks=40, times=96))
    design = design_of(np.zeros((8, columns), dtype=int), ["plain"])
    assert found("design.tie_width", design, tied) == severity


@pytest.mark.parametrize(("first", "severity"), [(41, "error"), (36, "warning")])
def test_columns_of_the_picture_without_ends_are_named(first: int, severity: str) -> None:
    # The tie leaves hooks 41 to 50 out: a figure that lies there is lost, or a part of it.
    tied = jacquard(
        TieSection(from_hook=1, hooks=40, times=60),
        TieSection(from_hook=51, hooks=30, times=48),
        hooks=80,
    )
    pixels = np.zeros((16, 80), dtype=int)
    pixels[4:12, first : first + 8] = 1
    findings = report(order(design_of(pixels, ["plain", "2/2 twill Z"])), tied).findings
    (one,) = [each for each in findings if each.code == "design.tie_width"]
    assert (one.severity, one.actual, one.limit) == (severity, 10, 0)
    assert "columns 41 to 50" in one.message
    assert ("effect 1" in one.message) == (severity == "error")
    whole = jacquard(TieSection(from_hook=1, hooks=80, times=48), hooks=80)
    assert found("design.tie_width", design_of(pixels, ["plain", "2/2 twill Z"]), whole) is None


@pytest.mark.parametrize(
    ("columns", "severity"),
    [(3840, None), (3841, None), (3842, "note"), (3648, "note"), (3647, "error"), (4033, "error")],
)
def test_a_picture_of_the_cloth_has_its_ends_also_without_a_tie(
    columns: int, severity: str | None
) -> None:
    # 160 cm of 24 per cm are 3840 ends; 5 % of them are 192.
    on = jacquard(hooks=4096)
    on = replace(on, shedding=replace(on.shedding, ends_per_hook=1))
    pixels = np.zeros((2, columns), dtype=int)
    assert found("design.tie_width", design_of(pixels, ["plain"], covers=Covers.CLOTH), on) == (
        severity
    )


@pytest.mark.parametrize(("changed", "severity"), [(0, None), (1, "error")])
def test_a_picture_of_the_cloth_agrees_with_the_tie(changed: int, severity: str | None) -> None:
    tied = jacquard(TieSection(from_hook=1, hooks=40, order=CENTRED))
    half = block(8)
    pixels = np.hstack([half, half[:, ::-1]])
    pixels[20, 79] ^= changed
    design = design_of(pixels, ["plain", "2/2 twill Z"], covers=Covers.CLOTH)
    assert found("design.tie_conflict", design, tied) == severity


@pytest.mark.parametrize(
    ("limit_mm", "severity"), [(14 / 2.4, None), (13.9 / 2.4, "warning"), (None, "warning")]
)
def test_a_float_across_a_turn(limit_mm: float | None, severity: str | None) -> None:
    tied = jacquard(TieSection(from_hook=1, hooks=40, order=CENTRED, times=48))
    limits = FloatLimits(weft_mm=limit_mm)
    design = design_of(PLAIN, ["8-end satin move 3"], float_limits=limits)
    assert found("design.turn_float", design, tied) == severity


@pytest.mark.parametrize(("columns", "severity"), [(40, None), (39, "warning")])
def test_a_ground_divides_the_repeat(columns: int, severity: str | None) -> None:
    design = design_of(np.zeros((8, columns), dtype=int), ["8-end satin move 3"])
    assert found("design.ground_break", design, jacquard(hooks=columns)) == severity


TWELVE = "12-end satin move 5"


def damask(lines: int, columns: int) -> Design:
    """A ground of 8-end satin, and within it a figure of 5-end satin that reaches no edge."""
    pixels = np.zeros((lines, columns), dtype=int)
    pixels[3:9, 3:9] = 1
    return design_of(pixels, ["8-end satin move 3", "5-end satin move 2"])


@pytest.mark.slow
@pytest.mark.parametrize(
    ("lines", "columns", "writes", "words"),
    [
        (40, 37, {"columns": 32}, "hook 37 meets hook 1: its ends do not divide the 37 hooks"),
        (37, 40, {"lines": 32}, "do not divide the 37 picks of its weft. Cast out to 32 lines"),
        (39, 33, {"columns": 32, "lines": 32}, "Cast out to 32 columns and 32 lines"),
    ],
)
def test_a_ground_that_breaks_is_cast_out_to_what_its_own_weave_divides(
    lines: int, columns: int, writes: dict[str, int], words: str
) -> None:
    # The figure crosses no edge, so that its 5 ends and picks need not divide the repeat. Hooks
    # that are cast out thin the harness to the 24 ends/cm of the cloth.
    on = jacquard(hooks=columns, ends_per_cm=24 * columns / writes.get("columns", columns))
    broken = next(
        each
        for each in report(order(damask(lines, columns)), on).findings
        if each.code == "design.ground_break"
    )
    assert words in broken.message
    # A remedy of a finding is one field; `POST /v1/remedies` finds those of two.
    fields = {each["pointer"].rpartition("/")[2]: each["to"] for each in broken.remedies}
    assert fields == (writes if len(writes) == 1 else {})
    cut = damask(lines, columns).cut_to(**writes)
    again = report(order(cut), on).findings
    assert "design.ground_break" not in {each.code for each in again}
    if len(writes) == 1:
        ((name, to),) = writes.items()
        more = damask(lines, columns).cut_to(**{name: to + 1})
        assert "design.ground_break" in {each.code for each in report(order(more), on).findings}


def test_columns_are_cast_out_with_the_width_that_the_other_hooks_lift() -> None:
    # Exactly as many cords as ends: 400 hooks x 4, 40 cm of 40 ends/cm. 396 hooks lift 1584 ends.
    design = design_of(np.zeros((12, 400), dtype=int), [TWELVE])
    made = order(design, width_cm=40.0)
    made = replace(made, warp=replace(made.warp, threads_per_cm=40.0))
    on = jacquard(hooks=400, ends_per_cm=40.0)
    on = replace(on, shedding=replace(on.shedding, ends_per_hook=4), min_reed_width_cm=20.0)
    found_in = report(made, on).findings
    broken = next(each for each in found_in if each.code == "design.ground_break")
    assert "Cast out to 396 columns and to the 1584 ends that they lift" in broken.message
    (of_loom,) = search_remedies(made, [on]).looms
    changed = [
        {each["pointer"].rpartition("/")[2]: each["to"] for each in remedy["changes"]}
        for remedy in of_loom.remedies
    ]
    assert {"columns": 396, "width_cm": 39.6} in changed


@pytest.mark.parametrize(("lines", "points"), [(57, 100 / 57), (60, 400 / 60)])
def test_lines_of_a_picture_of_the_cloth_are_cast_out(lines: int, points: float) -> None:
    tied = jacquard(TieSection(from_hook=1, hooks=96, order=CENTRED), hooks=96)
    pixels = np.zeros((lines, 192), dtype=int)
    design = design_of(pixels, ["8-end satin move 3"], covers=Covers.CLOTH)
    (of_loom,) = search_remedies(order(design, width_cm=8.0), [tied]).looms
    cast_out = [each for each in of_loom.remedies if "design.ground_break" in each["clears"]]
    changed = [
        {each["pointer"].rpartition("/")[2]: each["to"] for each in remedy["changes"]}
        for remedy in cast_out
    ]
    assert changed == [{"lines": 56}]
    # As `server/docs/ways_out.md` weighs it: a point, and one for each percent of the lines.
    assert cast_out[0]["distance"] == pytest.approx(1 + points, rel=1e-5)


def test_a_large_design_is_cast_out_before_other_trials(monkeypatch: pytest.MonkeyPatch) -> None:
    # So large that two changes are tried, and a coarse harness is found first.
    monkeypatch.setattr(trials, "CROSSINGS_OF_A_TRIAL", 10)
    on = jacquard(hooks=74, ends_per_cm=40.0)
    made = order(damask(40, 74))
    (of_loom,) = search_remedies(made, [on]).looms
    assert "shedding.harness_density" in of_loom.codes.errors + of_loom.codes.warnings
    assert "design.ground_break" in {code for one in of_loom.remedies for code in one["clears"]}
    monkeypatch.setattr(design_levers, "MOST_WOVEN_ANEW", 1_000)
    (of_loom,) = search_remedies(made, [on]).looms
    (broken,) = (each for each in of_loom.not_found if each.code == "design.ground_break")
    assert broken.tried[0].endswith("is not woven anew for a remedy: state columns 72")


def test_one_pick_is_not_called_picks() -> None:
    design = design_of(np.zeros((1, 40), dtype=int), ["plain"])
    broken = next(
        each
        for each in report(order(design), jacquard()).findings
        if each.code == "design.ground_break"
    )
    assert "its picks do not divide the 1 pick of its weft. " in broken.message


def test_the_last_hooks_of_a_tie_are_cast_out_with_the_ends_on_them() -> None:
    # 400 hooks with a ground of 12 are cast out to 396 ([TAYLOR-1909]); 4 mails of each of 10
    # repeats are left empty, and the harness is as dense as the warp in the reed then.
    density = 22.857 * 400 / 396
    tied = jacquard(TieSection(from_hook=1, hooks=400, times=10), hooks=400, ends_per_cm=density)
    design = design_of(np.zeros((13, 400), dtype=int), [TWELVE])
    made = order(design, width_cm=4000 / 24)
    findings = report(made, tied).findings
    broken = next(each for each in findings if each.code == "design.ground_break")
    assert broken.message_key == "design.ground_break.both_fits"
    assert "Cast out to 396 columns and to the 3960 ends that they lift and 12 lines" in (
        broken.message
    )
    (of_loom,) = search_remedies(made, [tied]).looms
    changed = [
        {each["pointer"].rpartition("/")[2]: each["to"] for each in remedy["changes"]}
        for remedy in of_loom.remedies
    ]
    assert {"columns": 396, "lines": 12, "width_cm": 165} in changed
    again = report(order(design.cut_to(columns=396, lines=12), width_cm=165.0), tied)
    assert again.design is not None
    assert (again.design.plan.hooks_used, again.design.plan.repeat_ends) == (396, 396)
    assert not {each.code for each in again.findings} & {
        "shedding.hooks",
        "shedding.harness_density",
        "design.ground_break",
        "design.proportion",
        "design.tie_width",
    }
    thin = replace(tied, shedding=replace(tied.shedding, harness_ends_per_cm=density - 0.8))
    on_thin = report(order(design.cut_to(columns=396, lines=12), width_cm=165.0), thin).findings
    assert "shedding.harness_density" in {each.code for each in on_thin}
    wider = report(order(design.cut_to(columns=396, lines=12), width_cm=165.1), tied).findings
    assert "shedding.hooks" in {each.code for each in wider}


def test_a_join_within_a_tie_is_cast_out_by_the_hooks_of_its_section() -> None:
    # Hooks 1 to 20 once, then 21 to 40 nineteen times: 40 meets 21, over 20 hooks.
    sections = (TieSection(from_hook=1, hooks=20), TieSection(from_hook=21, hooks=20, times=191))
    design = design_of(PLAIN, ["8-end satin move 3"])
    found_in = report(order(design), jacquard(*sections))
    broken = next(each for each in found_in.findings if each.code == "design.ground_break")
    assert broken.message_key == "design.ground_break.across_fits"
    assert "hook 40 meets hook 21: its ends do not divide the 20 hooks" in broken.message
    assert "Cast out to 36 columns and to the 3076 ends that they lift" in broken.message
    again = report(order(design.cut_to(columns=36), width_cm=3076 / 24), jacquard(*sections))
    assert again.design is not None
    assert again.design.plan.is_whole_cloth
    assert "design.ground_break" not in {each.code for each in again.findings}


def test_a_join_that_no_casting_out_moves_is_left() -> None:
    # 20 meets 1, over 20 hooks, in each border; the hooks that can be left out come after them.
    border = TieSection(from_hook=1, hooks=20, times=48)
    tied = jacquard(border, TieSection(from_hook=21, hooks=20, times=96), border)
    found_in = report(order(design_of(PLAIN, ["8-end satin move 3"])), tied).findings
    broken = next(each for each in found_in if each.code == "design.ground_break")
    assert broken.message_key == "design.ground_break.across"


def test_a_ground_that_cannot_be_cast_out_gets_a_weave_that_divides_the_hooks() -> None:
    # Satins of 5 and of 10 ends divide the 20 hooks between and the 40 lines; 7 and 12 do not.
    border = TieSection(from_hook=1, hooks=20, times=48)
    tied = jacquard(border, TieSection(from_hook=21, hooks=20, times=96), border)
    made = order(design_of(np.zeros((40, 40), dtype=int), ["8-end satin move 3"]))
    (of_loom,) = search_remedies(made, [tied]).looms
    messages = [
        each["message"] for each in of_loom.remedies if "design.ground_break" in each["clears"]
    ]
    assert len(messages) == 2
    assert any("in 5-end satin" in each for each in messages)
    assert any("in 10-end satin" in each for each in messages)


def test_a_ground_that_no_weave_of_its_family_joins_is_to_be_drawn_anew() -> None:
    # No satin of 5, 7, 8, 10, 12 or 16 ends divides the 22 hooks between.
    border = TieSection(from_hook=1, hooks=22, times=44)
    tied = jacquard(border, TieSection(from_hook=23, hooks=22, times=87), border, hooks=44)
    design = design_of(np.zeros((8, 44), dtype=int), ["8-end satin move 3"])
    made = order(design, width_cm=22 * 175 / 24)
    (of_loom,) = search_remedies(made, [tied]).looms
    (broken,) = (each for each in of_loom.not_found if each.code == "design.ground_break")
    assert broken.tried == (
        "nothing, because it cannot be cast out in this cloth: draw it over whole repeats of the "
        "weaves that go on over its edge",
    )


def test_a_picture_that_is_repeated_on_the_hooks_is_cast_out_in_each_repeat() -> None:
    tied = jacquard(TieSection(from_hook=1, hooks=40, times=96))
    design = design_of(np.zeros((8, 20), dtype=int), ["8-end satin move 3"])
    cast_out = report(order(design.cut_to(columns=16), width_cm=128.0), tied)
    assert cast_out.design is not None
    assert cast_out.design.plan.hooks_used == 32
    assert "design.ground_break" not in {each.code for each in cast_out.findings}


def test_lines_are_cast_out_by_the_picks_of_a_weft_that_is_not_on_every_line() -> None:
    # The figuring weft shows on the first 5 lines and the last 9: 14 picks of its own, for 8.
    pixels = np.zeros((40, 40), dtype=int)
    pixels[:5, :24] = pixels[-9:, :24] = 1
    design = brocade(24, back=Back.FLOAT)
    picture = design_of(pixels, ["plain", "plain"]).picture
    design = replace(
        design,
        picture=picture,
        effects=dict(zip(picture.colours, design.effects.values(), strict=True)),
    )
    broken = next(
        each
        for each in report(order(design), jacquard()).findings
        if each.code == "design.ground_break"
    )
    assert "the 14 picks of its weft. Cast out to 34 lines" in broken.message


def test_floats_beyond_the_limits_are_bound_if_correct_is_set() -> None:
    pixels = np.repeat([[0] * 16 + [1] * 16], 32, axis=0)
    limits = FloatLimits(weft_mm=7 / 2.4)
    design = design_of(pixels, ["8-end sateen move 3", "8-end satin move 3"], float_limits=limits)
    found_in = report(order(design), jacquard(hooks=32)).findings
    (remedy,) = next(each for each in found_in if each.code == "design.long_float").remedies
    assert remedy["pointer"] == "/construction/weave/design/correct"
    assert (remedy["from"], remedy["to"]) == (False, True)


@pytest.mark.parametrize(
    ("times", "severity"), [(96, None), (97, "note"), (101, "note"), (102, "warning")]
)
def test_a_width_leaves_out_part_of_the_tie(times: int, severity: str | None) -> None:
    # 160 cm of 24 per cm are 3840 ends, 96 repeats of 40; 5 % of 4080 are 204.
    tied = jacquard(TieSection(from_hook=1, hooks=40, times=times))
    assert found("design.proportion", design_of(PLAIN, ["plain"]), tied) == severity


@pytest.mark.parametrize(
    ("height_cm", "severity"),
    [(4.0, None), (3.923, None), (3.92, "note"), (4.199, "note"), (4.21, "warning")],
)
def test_a_picture_keeps_its_proportion(height_cm: float, severity: str | None) -> None:
    # 48 columns of 24 per cm are 2 cm, 88 lines of 22 per cm 4 cm, whatever is cast out of them.
    design = design_of(np.zeros((88, 48), dtype=int), ["plain"], designed_cm=(2.0, height_cm))
    cut = design.cut_to(columns=40, lines=22)
    assert found("design.proportion", cut) == severity


def test_other_picks_give_a_picture_its_proportion() -> None:
    # 96 lines are 4 cm high at 24 picks/cm, and 96 columns of 24 per cm 4 cm wide.
    design = design_of(np.zeros((96, 96), dtype=int), ["plain"], designed_cm=(4.0, 4.0))
    cloth = order(design, weft=threads(28.0))
    findings = report(cloth, jacquard(hooks=96)).findings
    (finding,) = (each for each in findings if each.code == "design.proportion")
    assert finding.severity == "warning"
    picks = [each for each in finding.remedies if each["pointer"].endswith("/picks_per_cm")]
    assert picks
    assert 24.0 <= float(str(picks[0]["to"])) <= 24.0 * 1.05


@pytest.mark.parametrize(
    ("width", "weave", "severity"),
    [(8, ["0"], "warning"), (40, ["0"], "error"), (8, ["01", "10"], None)],
)
def test_an_effect_has_a_binding(width: int, weave: list[str], severity: str | None) -> None:
    pixels = np.zeros((24, 40), dtype=int)
    pixels[4:12, :width] = 1
    design = design_of(pixels, ["plain", Weave.from_rows(weave)])
    assert found("design.effect_unbound", design) == severity


@pytest.mark.slow
@pytest.mark.parametrize(("limit_mm", "severity"), [(7 / 2.4, "warning"), (8 / 2.4, None)])
@pytest.mark.parametrize("correct", [False, True])
def test_floats_where_effects_meet(limit_mm: float, severity: str | None, correct: bool) -> None:
    # Sateen and satin with their dots at the same ends float over 8 ends where they meet.
    pixels = np.repeat([[0] * 16 + [1] * 24], 8, axis=0)
    design = design_of(
        pixels,
        ["8-end sateen move 3", "8-end satin move 3"],
        float_limits=FloatLimits(weft_mm=limit_mm),
        correct=correct,
    )
    assert found("design.long_float", design) == (None if correct else severity)
    assert found("design.float_left", design) is None


def test_floats_that_no_dot_can_bind_are_left() -> None:
    # Where plain meets plain a thread further, floats have two ends, and no end between them.
    pixels = np.repeat([[0] * 20 + [1] * 20], 8, axis=0)
    design = design_of(
        pixels,
        ["plain", "plain"],
        shifts=[(0, 0), (1, 0)],
        float_limits=FloatLimits(weft_mm=1 / 2.4),
        correct=True,
    )
    assert found("design.float_left", design) == "warning"


def test_a_turn_is_judged_by_the_effects_that_are_there() -> None:
    # Satin turned back floats over 14 ends at the turn; the leaf is in the middle of the stretch.
    tied = jacquard(TieSection(from_hook=1, hooks=40, order=CENTRED, times=48))
    pixels = np.zeros((16, 40), dtype=int)
    pixels[4:12, 16:24] = 1
    satin = "8-end satin move 3"

    def turned(leaf: str, more_mm: float | None = None, **more: Any) -> Any:
        design = design_of(pixels, [satin, leaf], **more)
        flower = design.picture.colours[1]
        effect = replace(design.effects[flower], max_float_mm=more_mm)
        design = replace(design, effects={**design.effects, flower: effect})
        answer = report(order(design), tied)
        return answer, [each for each in answer.findings if each.code == "design.turn_float"]

    limits = FloatLimits(weft_mm=16 / 2.4)
    answer, none = turned("plain", 1.0, float_limits=limits, correct=True)
    assert not none
    assert answer.design.turn_float_ends == 14
    (unlimited,) = turned("16-end satin move 7")[1]
    assert (unlimited.actual, unlimited.limit) == (14, 8)
    assert "or state float_limits.weft_mm" in unlimited.message
    (limited,) = turned("plain", float_limits=FloatLimits(weft_mm=13 / 2.4))[1]
    assert (limited.limit, limited.message.endswith("or let correct bind it.")) == (13, True)


@pytest.mark.parametrize(
    ("bound", "words"), [("MOST_DOTS", "1 dots"), ("MOST_TRIALS", "1 trials of dots")]
)
def test_a_correction_that_stops_says_so(
    monkeypatch: pytest.MonkeyPatch, bound: str, words: str
) -> None:
    for each in (float_binding, figured_cloth):
        monkeypatch.setattr(each, bound, 1)
    design = design_of(
        np.repeat([[0] * 16 + [1] * 24], 8, axis=0),
        ["8-end sateen move 3", "8-end satin move 3"],
        float_limits=FloatLimits(weft_mm=7 / 2.4),
        correct=True,
    )
    answer = report(order(design), jacquard())
    (left,) = [each for each in answer.findings if each.code == "design.float_left"]
    assert left.message.startswith(f"The correction stopped at {words}, the most that it makes. ")
    assert answer.design is not None
    made = answer.design.correction
    assert not made.is_complete
    assert made.floats_before >= made.floats_left > 0
    assert left.actual == made.floats_left


# Of 200 squares 20 lie in a line of one thread, or of 201 21: 10.4 %.
@pytest.mark.parametrize(("lone", "severity"), [(20, None), (21, "note")])
def test_lines_of_one_thread(lone: int, severity: str | None) -> None:
    pixels = np.zeros((40, 40), dtype=int)
    pixels[2:12, 2:20] = 1
    pixels[20, 2 : 2 + lone] = 1
    assert found("design.thin_outline", design_of(pixels, ["plain", "2/2 twill Z"])) == severity


def brocade(width: int, *, back: Back, binding: Weave | None = None, ground: str = "plain") -> Any:
    pixels = np.zeros((24, 40), dtype=int)
    pixels[4:12, :width] = 1
    design = design_of(pixels, [ground, "8-end sateen move 3"])
    flower = design.picture.colours[1]
    return replace(
        design,
        effects={**design.effects, flower: replace(design.effects[flower], weft="B")},
        wefts={
            "A": DesignWeft(role=Role.GROUND, weave=parse_weave("plain")),
            "B": DesignWeft(
                role=Role.FIGURE, back=back, binding=binding, insert=Insertion.WHERE_IT_SHOWS
            ),
        },
    )


@pytest.mark.parametrize(
    ("changed", "severity"),
    [({}, "warning"), ({"without_take_up": True}, None), ({"insert": Insertion.EVERY_LINE}, None)],
)
def test_lines_of_a_brocade_are_equally_high(changed: dict[str, Any], severity: str | None) -> None:
    design = brocade(24, back=Back.FLOAT)
    weft = replace(design.wefts["B"], **changed)
    design = replace(design, wefts={**design.wefts, "B": weft})
    findings = report(order(design), jacquard()).findings
    named = [each for each in findings if each.code == "design.proportion"]
    assert [each.severity for each in named] == ([severity] if severity else [])
    if severity:
        # Two picks to a line instead of one.
        assert (named[0].actual, named[0].pointer) == (100, "/construction/weave/design/wefts")
        assert "without_take_up" in named[0].message


@pytest.mark.parametrize(
    ("insert", "severity"), [("where_it_shows", None), ("every_line", "error")]
)
def test_a_figuring_weft_binds_on_each_pick(insert: str, severity: str | None) -> None:
    design = brocade(24, back=Back.FLOAT)
    weft = replace(design.wefts["B"], insert=Insertion(insert))
    design = replace(design, wefts={**design.wefts, "B": weft})
    assert found("design.weft_loose", design) == severity


@pytest.mark.slow
@pytest.mark.parametrize(
    ("ends_behind", "more", "severity"),
    [
        (13, {}, None),
        (15, {}, "note"),
        (21, {}, "note"),
        (23, {}, "warning"),
        (13, {"back_mm": 6.2}, "warning"),
        (23, {"back_mm": 10.5}, None),
        (23, {"back": Back.CLIPPED}, None),
    ],
)
def test_a_float_behind_the_cloth(
    ends_behind: int, more: dict[str, Any], severity: str | None
) -> None:
    # 6.4 mm are 15.36 ends, 10 mm are 24; on every other pick an end of the figure on both sides
    # goes with those behind.
    pixels = np.zeros((24, 40), dtype=int)
    pixels[:, : 40 - ends_behind] = 1
    design = design_of(pixels, ["plain", Weave.from_rows(["01", "10"])])
    figure = design.picture.colours[1]
    design = replace(
        design,
        effects={**design.effects, figure: replace(design.effects[figure], weft="B")},
        wefts={
            "A": DesignWeft(role=Role.GROUND, weave=parse_weave("plain")),
            "B": DesignWeft(role=Role.FIGURE, back=more.get("back")),
        },
        float_limits=FloatLimits(back_mm=more.get("back_mm")),
    )
    assert found("design.back_float", design) == severity
    # It is judged once: floats of the ground weft and those on the face are one or two ends.
    assert found("weave.long_float", design) is None


def test_a_back_that_is_bound_is_to_be_bound_more_closely() -> None:
    # A 40-end binding of its own ties down every 40th end; beside the turn of the tie none.
    binding = Weave.from_rows(["1" * 39 + "0"])
    tied = jacquard(TieSection(from_hook=1, hooks=40, order=CENTRED, times=48))
    messages = [
        next(
            each.message
            for each in report(order(brocade(24, **back)), tied).findings
            if each.code == "design.back_float"
        )
        for back in ({"back": Back.BOUND, "binding": binding}, {"back": Back.FLOAT})
    ]
    assert "Its binding leaves it free there" in messages[0]
    assert messages[1].endswith("Bind its back.")
    assert all(each.startswith("Weft B floats over") for each in messages)


@pytest.mark.parametrize(("ground", "severity"), [("plain", "note"), ("2/2 hopsack", None)])
def test_a_binding_is_hidden_by_a_float_of_the_ground(ground: str, severity: str | None) -> None:
    # Bound where a float of two ends of hopsack is over it, on the pick before or after.
    binding = Weave.from_rows(["1101", "1101", "0111", "0111"])
    design = brocade(24, back=Back.BOUND, binding=binding, ground=ground)
    assert found("design.binding_shows", design) == severity


# On each of 8 lines 9 ends are bound: 7 of the 72 are 9.7 %, 8 are 11.1 %.
@pytest.mark.parametrize(("bare", "severity"), [(7, None), (8, "note")])
def test_one_in_ten_of_the_bindings_may_show(bare: int, severity: str | None) -> None:
    hidden = [10 * row for row in ("1101", "1101", "0111", "0111")]
    first = "1101" + bare * "1011" + (9 - bare) * "1101"
    binding = Weave.from_rows([first, *hidden[1:], *hidden])
    design = brocade(4, back=Back.BOUND, binding=binding, ground="2/2 hopsack")
    assert found("design.binding_shows", design) == severity


@pytest.mark.parametrize(
    ("weave", "severity"),
    [("3/1 twill Z", "note"), ("8-end satin move 3", "warning"), ("plain", None)],
)
def test_groups_of_ends_take_up_alike(weave: str, severity: str | None) -> None:
    # Twill 3/1 interlaces twice in four picks, plain four times.
    pixels = np.repeat([[0] * 48 + [1] * 48], 8, axis=0)
    design = design_of(pixels, ["plain", weave])
    on = jacquard(hooks=96)
    assert found("design.take_up", design, on) == severity


@pytest.mark.parametrize(("first", "plain_ends"), [(30, 20), (30, 4), (76, 8)])
def test_stripes_take_up_as_they_do_without_a_picture(first: int, plain_ends: int) -> None:
    # However narrow the repeat is, and wherever in it the stripe lies.
    pixels = np.zeros((8, 80), dtype=int)
    pixels[:, (first + np.arange(plain_ends)) % 80] = 1
    lifts = lay_on_hooks(design_of(pixels, ["8-end satin move 3", "plain"]))
    on = jacquard(hooks=80)
    of_rows = report(construction(weave=lifts.weave, selvedge=Selvedge(ends_per_side=0)), on)
    of_picture = report(order(lifts.design), on)
    one, other = (
        next(each for each in of.findings if each.code == code)
        for of, code in ((of_rows, "warp.second_warp"), (of_picture, "design.take_up"))
    )
    assert (one.severity, one.actual, one.limit) == (other.severity, other.actual, other.limit)
    assert one.actual == pytest.approx(4.0)
    busy = first + 1 if first + plain_ends <= 80 else 1
    assert f"as from end {busy} of the repeat on, interlace 4.0 times" in other.message


def test_shafts_weave_no_design() -> None:
    design = design_of(block(8), ["plain", "2/2 twill Z"])
    assert found("shedding.hooks", design, loom()) == "error"
    assert found("shedding.hooks", design) is None


@pytest.mark.parametrize(("times", "code"), [(101, "design.proportion"), (92, "shedding.hooks")])
def test_the_width_of_the_tie_is_proposed(times: int, code: str) -> None:
    tied = jacquard(TieSection(from_hook=1, hooks=40, times=times))
    findings = report(order(design_of(PLAIN, ["plain"])), tied).findings
    remedies = next(each for each in findings if each.code == code).remedies
    remedy = next(each for each in remedies if each["message"].endswith("as the harness is tied."))
    # 24 ends/cm.
    assert remedy["pointer"] == "/construction/width_cm"
    assert remedy["to"] == pytest.approx(times * 40 / 24, abs=0.01)
    assert code in remedy["clears"]


@pytest.mark.parametrize(
    ("picks_per_cm", "columns", "severity"),
    [(21, 24, None), (20.5, 24, "note"), (20.5, 4, None), (5, 24, None)],
)
def test_an_area_of_long_floats_holds_its_threads(
    picks_per_cm: float, columns: int, severity: str | None
) -> None:
    # A 16-end satin in plain is open; not if it is a line of four threads. Where the cloth is open
    # on average that is all that is said.
    pixels = np.zeros((160, 160), dtype=int)
    pixels[64:96, 64 : 64 + columns] = 1
    made = order(design_of(pixels, ["plain", "16-end satin move 7"]))
    made = replace(
        made,
        warp=replace(made.warp, threads_per_cm=16.0),
        weft=replace(made.weft, threads_per_cm=picks_per_cm),
    )
    findings = report(made, jacquard(hooks=160)).findings
    named = [each for each in findings if each.code in {"design.open_area", "sett.open"}]
    assert [each.code for each in named] == (
        ["design.open_area"] if severity else ["sett.open"] * (picks_per_cm < 20)
    )
    if severity:
        assert named[0].severity == severity
        assert named[0].message.startswith("Ends 73-88 and picks 65-80 of the repeat are set to")
