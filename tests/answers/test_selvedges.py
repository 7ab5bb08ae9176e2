"""Selvedges: own yarn and weave, whether they bind, their sett, and the yarn at the edges."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from builders import COTTON_20_TEX, construction, jacquard, loom, named, threads
from hypothesis import given
from hypothesis import strategies as st
from profiles import share_of_examples

from weavability.answers.columns import judge_columns
from weavability.answers.report import Report
from weavability.answers.validation import assess
from weavability.checks.codes import CheckCode
from weavability.looms.carriers import InsertionSystem
from weavability.looms.loom import Insertion, Loom
from weavability.textiles.assumptions import Grade
from weavability.textiles.construction import (
    Construction,
    Reed,
    RequiredRange,
    Requirements,
    Selvedge,
    WarpGroup,
)
from weavability.textiles.errors import InputError
from weavability.textiles.jamming import tightness_pct
from weavability.textiles.selvedge_facts import check_selvedge_weave, shafts_beside
from weavability.textiles.weave_matrix import Repeat, Weave
from weavability.textiles.yarns import Yarn

COARSE = Yarn(designation="60 tex", fibre="cotton")


def edged(ends: int | None = 24, **changes: object) -> Selvedge:
    return Selvedge(ends_per_side=ends, **changes)  # type: ignore[arg-type]


def on(system: InsertionSystem, **changes: object) -> Loom:
    return loom(insertion=Insertion(system=system), **changes)


def yarn(report: Report) -> dict[str, tuple[int | None, float]]:
    return {each.yarn: (each.threads, each.mass_kg) for each in report.yarn}


def codes(report: Report) -> dict[str, str]:
    return {each.code: each.severity for each in report.findings}


@pytest.mark.parametrize(
    ("ground", "own", "shafts"),
    [
        ("plain", "plain", 0),
        ("plain", "2/2 weft rib", 0),
        ("2/2 twill Z", "2/2 hopsack", 0),
        ("2/2 twill Z", "plain", 2),
        ("5-end satin", "plain", 2),
        ("plain", "2/2 warp rib", 2),
        ("2/2 twill Z", "3/1 twill Z", 4),
        ("2/2 twill Z", "2/2 twill S", 0),
    ],
)
def test_a_selvedge_needs_shafts_for_ends_that_the_ground_has_not(
    ground: str, own: str, shafts: int
) -> None:
    assert shafts_beside(Repeat.of(named(ground)), Repeat.of(named(own))) == shafts
    report = assess(construction(weave=named(ground), selvedge=edged(weave=named(own))), loom())
    bare = assess(construction(weave=named(ground), selvedge=edged()), loom())
    assert (report.setup.shafts_needed or 0) - (bare.setup.shafts_needed or 0) == shafts
    assert report.setup.selvedge.own_shafts == shafts


weaves = st.tuples(st.integers(1, 4), st.integers(1, 6)).flatmap(
    lambda shape: st.lists(
        st.lists(st.integers(0, 1), min_size=shape[0], max_size=shape[0]),
        min_size=shape[1],
        max_size=shape[1],
    )
)


@given(weaves, weaves)
def test_shafts_are_those_of_both_weaves_laid_side_by_side(
    one: list[list[int]], other: list[list[int]]
) -> None:
    ground, own = (np.array(rows, dtype=np.uint8) for rows in (one, other))
    picks = np.lcm(len(ground), len(own))
    beside = np.hstack(
        [np.tile(each, (picks // len(each), 1)) for each in (ground, own)],
    )
    kinds = np.unique(beside, axis=1).shape[1]
    alone = np.unique(ground, axis=1).shape[1]
    found = shafts_beside(Repeat.of(Weave(matrix=ground)), Repeat.of(Weave(matrix=own)))
    assert found == kinds - alone


def test_the_lift_repeats_when_ground_and_selvedge_do() -> None:
    cloth = construction(weave=named("5-end satin"), selvedge=edged(weave=named("plain")))
    assert assess(cloth, loom()).setup.selvedge.lift_repeat_picks == 10
    apart = replace(cloth, selvedge=edged(weave=named("plain"), shafts=0))
    assert assess(apart, loom()).setup.selvedge.lift_repeat_picks == 5


def test_a_selvedge_yarn_need_not_be_in_the_order_and_is_counted_apart() -> None:
    warp = threads(24.0, yarns={"A": COTTON_20_TEX, "S": COARSE})
    report = assess(construction(warp=warp, selvedge=edged(yarn="S")), loom())
    used = yarn(report)
    assert used["warp A"][0] == 24 * 160
    assert used["warp S"][0] == 48
    assert used["leno S"][0] == 4
    assert used["catch cord S"][0] == 12
    assert used["warp S"][1] == pytest.approx(
        used["warp A"][1] * 48 * 60 / (24 * 160 * 20), rel=1e-4
    )
    assert used["catch cord S"][1] == pytest.approx(used["warp S"][1] * 12 / 48, rel=1e-4)
    assert report.cloth.warp_tex == 20.0


def test_a_selvedge_yarn_may_have_a_beam_of_its_own() -> None:
    beams = (
        WarpGroup(name="ground", yarns=("A",)),
        WarpGroup(name="edges", yarns=("S",)),
    )
    warp = threads(24.0, yarns={"A": COTTON_20_TEX, "S": COARSE}, beams=beams)
    report = assess(construction(warp=warp, selvedge=edged(yarn="S")), loom())
    assert yarn(report)["warp S"][0] == 48
    assert [each.ends for each in report.warp.beams] == [24 * 160, 48]


def test_without_a_yarn_of_its_own_the_selvedge_is_of_the_first() -> None:
    report = assess(construction(selvedge=edged()), loom())
    assert yarn(report)["warp A"][0] == 24 * 160 + 48
    (line,) = [each for each in report.assumptions if each.pointer.endswith("/selvedge/yarn")]
    assert (line.value, line.grade) == ("A", Grade.COMMON_PRACTICE)


@pytest.mark.parametrize(
    ("system", "leno", "catch_cord"),
    [
        (InsertionSystem.RAPIER, 2, 12),
        (InsertionSystem.AIR_JET, 2, 8),
        (InsertionSystem.WATER_JET, 2, 6),
        (InsertionSystem.PROJECTILE, 0, 0),
        (InsertionSystem.SHUTTLE, 0, 0),
        (InsertionSystem.NEEDLE, 0, 0),
    ],
)
def test_the_loom_decides_about_leno_and_catch_cords(
    system: InsertionSystem, leno: int, catch_cord: int
) -> None:
    report = assess(construction(panels=2, width_cm=70.0), on(system))
    assert report.setup.selvedge.leno_ends_per_side == leno
    assert report.setup.selvedge.catch_cord_ends == catch_cord
    used = yarn(report)
    assert used.get("leno A", (0, 0))[0] == 4 * leno
    assert used.get("catch cord A", (0, 0))[0] == catch_cord
    lines = {each.pointer: each for each in report.assumptions}
    for name in ("leno_ends_per_side", "catch_cord_ends"):
        line = lines[f"/construction/selvedge/{name}"]
        assert line.band is not None
        assert line.band.low <= int(str(line.value)) <= line.band.high


def test_what_is_stated_about_the_edges_is_not_assumed() -> None:
    stated = edged(0, leno_ends_per_side=0, catch_cord_ends=20)
    report = assess(construction(selvedge=stated), loom())
    pointers = {each.pointer for each in report.assumptions}
    assert not {p for p in pointers if p.endswith(("leno_ends_per_side", "catch_cord_ends"))}
    assert "leno A" not in yarn(report)
    assert yarn(report)["catch cord A"][0] == 20


def test_the_selvedge_has_its_own_sett_and_tightness() -> None:
    cloth = construction(selvedge=edged(ends_per_dent=4, weave=named("2/2 weft rib")))
    setup = assess(cloth, loom()).setup.selvedge
    # 24 ends/cm of 160 cm in 168 cm, and 2 selvedges of 6 dents: 115 dents/10 cm at 2 a dent.
    assert setup.ends_per_cm_in_reed == pytest.approx(46.0, rel=1e-3)
    assert (setup.ends_per_dent, setup.dents_per_side) == (4, 6)
    assert setup.width_cm == pytest.approx(6 / 11.5, rel=1e-3)
    diameter_mm = 0.16710
    alone = tightness_pct(
        ends_per_cm=46.0 * 1.05,
        picks_per_cm=22.0,
        warp_diameter_mm=diameter_mm,
        weft_diameter_mm=diameter_mm,
        mean_float_of_picks=2.0,
        mean_float_of_ends=1.0,
    )
    assert setup.tightness_pct == pytest.approx(alone, rel=1e-3)
    assert assess(construction(selvedge=edged()), loom()).setup.selvedge.tightness_pct is None


def test_a_crammed_selvedge_without_a_weave_is_set_as_the_ground_in_pairs() -> None:
    def found(ends_per_dent: int, weave: str | None) -> Report:
        own = None if weave is None else named(weave)
        return assess(construction(selvedge=edged(ends_per_dent=ends_per_dent, weave=own)), loom())

    crammed = found(9, None)
    assert codes(crammed)["selvedge.tight"] == "warning"
    in_pairs = found(9, "2/2 weft rib").setup.selvedge.tightness_pct
    assert crammed.setup.selvedge.tightness_pct == in_pairs
    # Doubled dents are what is assumed.
    assert found(4, None).setup.selvedge.tightness_pct is None


def test_what_wide_selvedges_have_beyond_usual_ones_is_beside_the_ordered_width() -> None:
    cloth = construction(selvedge=edged(500), reed=Reed())
    wide, bare = assess(cloth, loom()), assess(replace(cloth, selvedge=edged(0)), loom())
    # 125 dents a side, of 2 ends of the ground each: 10.94 cm at 24 ends/cm of 160 cm in 168 cm,
    # of which 3 cm are part of the width.
    assert wide.setup.reed_width_cm == pytest.approx(168 + 2 * 7.9375)
    # The 1920 dents of the ground and those of both selvedges fill that.
    assert wide.setup.reed_dents_per_10cm == pytest.approx(10 * 2170 / 183.875, rel=1e-5)
    assert wide.setup.ends_per_cm_in_reed == bare.setup.ends_per_cm_in_reed
    # The states are those of the ordered cloth, so that its contraction in width is its own.
    assert wide.states == bare.states
    (finding,) = [each for each in wide.findings if each.code == "selvedge.wide"]
    assert finding.severity == "warning"
    assert finding.pointer == "/construction/selvedge/ends_per_side"
    assert "175.1 cm in the grey, not 160.0 cm" in finding.message
    assert "3.3 % closer" in finding.message
    noted, remedy = finding.remedies
    # As many as are part of the width press the ground, so few do not.
    assert (noted["to"], noted["leaves_notes"]) == (137, [CheckCode.SELVEDGE_WIDE])
    assert (remedy["to"], remedy["unit"]) == (56, "ends")
    assert codes(assess(cloth, loom(reed_width_cm=183.0)))["width.reed_space"] == "error"
    # Two panels have four of them, of which a twentieth of the panel is part of the width each.
    two = construction(selvedge=edged(100), width_cm=40.0, panels=2, panel_gap_cm=2.0, reed=Reed())
    assert assess(two, loom()).setup.reed_width_cm == pytest.approx(2 * 42 + 2 + 4 * 0.0875)


@pytest.mark.parametrize(
    ("required", "is_said"),
    [
        (Requirements(finished_width_cm=RequiredRange(max=165.0)), True),
        (Requirements(mass_g_per_m=RequiredRange(min=100.0)), True),
        (Requirements(mass_g_per_m2=RequiredRange(min=50.0)), False),
        (None, False),
    ],
)
def test_what_is_required_of_a_cloth_with_wide_selvedges_is_said_to_count_them(
    required: Requirements | None, is_said: bool
) -> None:
    wide = assess(construction(selvedge=edged(500), reed=Reed(), requirements=required), loom())
    (finding,) = [each for each in wide.findings if each.code == "selvedge.wide"]
    assert ("compared with the whole cloth, 175.1 cm wide" in finding.message) is is_said
    bare = assess(construction(selvedge=edged(0), reed=Reed(), requirements=required), loom())
    assert (wide.requirements != bare.requirements) is is_said


def test_wide_selvedges_press_the_ground_in_a_stated_reed() -> None:
    # The reed in which the 3840 ends of the ground and the selvedges fill 168 cm.
    reed = Reed(dents_per_10cm=129.17, ends_per_dent=2)
    report = assess(construction(selvedge=edged(500), reed=reed), loom())
    assert report.setup.reed_width_cm == pytest.approx(168.0, abs=0.01)
    assert codes(report) | {"selvedge.wide": "warning"} == codes(report)
    (finding,) = [each for each in report.findings if each.code == "selvedge.wide"]
    assert "25.8 ends/cm in the ground there" in finding.message
    assert "need 22.9" in finding.message


def test_a_selvedge_weave_without_ends_is_noted() -> None:
    report = assess(construction(selvedge=edged(None, weave=named("plain"))), loom())
    (line,) = [each for each in report.assumptions if "selvedge/ends_per_side" in each.pointer]
    assert "its weave has none" in line.reason


@pytest.mark.parametrize(
    ("text", "ends_per_dent", "key", "advice"),
    [
        ("plain", 4, "any", "or let two ends weave as one, as in a weft rib."),
        ("2/2 weft rib", 4, "in_pairs", "Draw fewer ends in its dents, or give it a finer yarn."),
        ("2/2 weft rib", 8, "side_by_side", "room, in any weave;"),
    ],
)
def test_what_a_tight_selvedge_is_advised_depends_on_what_is_tight(
    text: str, ends_per_dent: int, key: str, advice: str
) -> None:
    edges = edged(ends_per_dent=ends_per_dent, weave=named(text))
    cloth = construction(weft=threads(36.0), selvedge=edges)
    findings = {one.code: one for one in assess(cloth, loom(max_tightness_pct=75.0)).findings}
    tight = findings[CheckCode.SELVEDGE_TIGHT]
    assert tight.message_key == f"selvedge.tight.{key}"
    assert advice in tight.message
    assert ("weft rib" in tight.message) == (key == "any")


@pytest.mark.parametrize("text", ["8-end satin move 3", "2/2 warp rib", "2/2 hopsack"])
def test_a_weave_that_binds_no_weft_at_the_edge_is_reported(text: str) -> None:
    shuttle = on(InsertionSystem.SHUTTLE)
    assert codes(assess(construction(weave=named(text)), shuttle))["selvedge.unbound"] == "note"
    stated = construction(weave=named(text), selvedge=edged())
    assert codes(assess(stated, shuttle))["selvedge.unbound"] == "warning"
    bound = replace(stated, selvedge=edged(weave=named("plain")))
    assert "selvedge.unbound" not in codes(assess(bound, shuttle))


def test_a_remedy_weaves_the_selvedge_so_that_it_binds() -> None:
    cloth = construction(weave=named("8-end satin move 3"), selvedge=edged())
    finding = next(f for f in assess(cloth, loom()).findings if f.code == "selvedge.unbound")
    assert [remedy["to"] for remedy in finding.remedies] == ["2/2 weft rib", "plain"]


def test_shafts_of_a_weave_that_is_not_stated_leave_the_edge_open() -> None:
    cloth = construction(weave=named("8-end satin move 3"), selvedge=edged(shafts=2))
    assert "selvedge.unbound" not in codes(assess(cloth, loom()))


def test_the_edge_of_a_wide_design_is_that_of_its_outermost_ends() -> None:
    edge, figure = np.tile(np.eye(2, dtype=np.uint8), (4, 10)), np.zeros((8, 80), np.uint8)
    figure[np.arange(8), np.arange(8)] = 1
    figure[:, 8:] = np.tile(figure[:, :8], (1, 9))
    design = Weave(matrix=np.hstack([edge, figure]))
    turned = Weave(matrix=np.hstack([figure, edge]))
    assert "selvedge.unbound" not in codes(assess(construction(weave=design), jacquard()))
    assert "selvedge.unbound" in codes(assess(construction(weave=turned), jacquard()))


@pytest.mark.parametrize(
    ("weave", "says"),
    [
        (Weave(matrix=np.eye(65, dtype=np.uint8)), "at most 64"),
        (Weave.from_rows(["10", "10"]), "must interlace"),
    ],
)
def test_a_weave_that_is_no_selvedge_weave_is_refused(weave: Weave, says: str) -> None:
    with pytest.raises(InputError, match=says):
        check_selvedge_weave(weave)
    with pytest.raises(InputError, match=says) as caught:
        assess(construction(selvedge=edged(weave=weave)), loom())
    assert caught.value.faults[0].pointer == "/construction/selvedge/weave"


def test_the_largest_selvedge_weave_is_read() -> None:
    assert check_selvedge_weave(Weave(matrix=np.eye(64, dtype=np.uint8))).weave.ends == 64


def test_a_yarn_that_the_warp_has_not_is_refused() -> None:
    with pytest.raises(InputError) as caught:
        assess(construction(selvedge=edged(yarn="Z")), loom())
    assert caught.value.faults[0].pointer == "/construction/selvedge/yarn"


selvedges = st.builds(
    Selvedge,
    ends_per_side=st.none() | st.sampled_from((0, 8, 24)),
    ends_per_dent=st.none() | st.integers(1, 8),
    shafts=st.none() | st.integers(0, 4),
    weave=st.none()
    | st.sampled_from(("plain", "2/2 warp rib", "5-end satin", "3/1 twill S")).map(named),
    leno_ends_per_side=st.none() | st.integers(0, 4),
    catch_cord_ends=st.none() | st.integers(0, 20),
)
grounds = st.sampled_from(("plain", "2/2 twill Z", "8-end satin", "2/2 hopsack")).map(named)


@share_of_examples(0.25)
@given(selvedges, grounds)
def test_columns_find_what_one_judgement_finds(selvedge: Selvedge, ground: Weave) -> None:
    cloth: Construction = construction(weave=ground, selvedge=selvedge)
    looms = (
        loom(),
        on(InsertionSystem.SHUTTLE, max_tightness_pct=80.0),
        jacquard(selvedge_hooks=1),
    )
    columns = judge_columns([cloth, construction()], looms)
    for at, each in enumerate(looms):
        found = assess(cloth, each, remedies=False).findings
        ranks = {"note": 1, "warning": 2, "error": 3}
        for code, rank in zip(columns.codes, columns.severities[0, at], strict=True):
            if code.startswith(("selvedge.", "shedding.")):
                listed = [ranks[one.severity] for one in found if one.code == code]
                assert max(listed, default=0) == rank, (code, found)
