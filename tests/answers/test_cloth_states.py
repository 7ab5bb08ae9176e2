"""The three states of a cloth, its finishing, and crimp stated in its several forms."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import astuple, replace
from typing import Any

import pytest
from answers.test_cloth_facts import between_two_ends, grey_cloths
from builders import COTTON_20_TEX, construction, finding, loom, report, severity, threads
from hypothesis import assume, given
from hypothesis import strategies as st

from weavability.answers.report import ClothState, ClothStates
from weavability.looms.loom import BeamArrangement, WarpBeam
from weavability.textiles.assumptions import Grade
from weavability.textiles.cloth import ClothFacts, States, cloth_facts
from weavability.textiles.cloth_states import StateNumbers
from weavability.textiles.construction import (
    Allowances,
    Construction,
    Finish,
    Finishing,
    Reed,
    Stage,
    ThreadSystem,
    WarpGroup,
)
from weavability.textiles.crimp import contraction_of_crimp_pct
from weavability.textiles.errors import InputError
from weavability.textiles.fibres import fibres
from weavability.textiles.finishes import NOT_KNOWN, finished_fibre
from weavability.textiles.yarns import Yarn

STATE_OF: dict[Stage, Callable[[States], StateNumbers[float]]] = {
    Stage.LOOM_STATE: lambda states: states.loom_state,
    Stage.GREY: lambda states: states.grey,
    Stage.FINISHED: lambda states: states.finished,
}
stages = st.sampled_from(Stage)


def stated_as(cloth: Construction, stage: Stage, states: States) -> Construction:
    """The same cloth, as it is measured in another state."""
    state = STATE_OF[stage](states)
    return replace(
        cloth,
        stage=stage,
        warp=replace(cloth.warp, threads_per_cm=state.ends_per_cm),
        weft=replace(cloth.weft, threads_per_cm=state.picks_per_cm),
        width_cm=state.width_cm,
        length_m=state.length_m,
    )


def figures(states: States) -> list[float]:
    three = (states.loom_state, states.grey, states.finished)
    return [float(figure) for state in three for figure in astuple(state)]


@given(grey_cloths(), stages, stages)
def test_a_cloth_is_the_same_from_whichever_state_it_is_stated(
    cloth: Construction, first: Stage, second: Stage
) -> None:
    assume(not between_two_ends(cloth))
    states = cloth_facts(cloth).states
    there = cloth_facts(stated_as(cloth, first, states)).states
    back = cloth_facts(stated_as(cloth, second, there)).states
    assert figures(there) == pytest.approx(figures(states), rel=1e-9)
    assert figures(back) == pytest.approx(figures(states), rel=1e-9)


# An estimate has two decimals, and the loom state is found by it: a step of the last one is left.
@given(grey_cloths(), stages)
def test_so_it_is_if_its_crimps_are_estimated(cloth: Construction, stage: Stage) -> None:
    unsaid = replace(
        cloth,
        warp=replace(cloth.warp, crimp_pct=None),
        weft=replace(cloth.weft, crimp_pct=None),
    )
    facts = cloth_facts(unsaid)
    there = cloth_facts(stated_as(unsaid, stage, facts.states))
    assert there.weft.crimp_pct == pytest.approx(facts.weft.crimp_pct, abs=0.025)
    assert figures(there.states) == pytest.approx(figures(facts.states), rel=5e-4)


@given(grey_cloths(), st.floats(-50.0, 100.0))
def test_the_yarn_of_a_piece_is_the_same_in_every_state(
    cloth: Construction, change_pct: float
) -> None:
    changed = replace(cloth, finishing=replace(cloth.finishing, mass_change_pct=change_pct))
    states = cloth_facts(changed).states
    grey, loom, finished = (
        state.width_cm * state.length_m * state.mass_g_per_m2
        for state in (states.grey, states.loom_state, states.finished)
    )
    assert loom == pytest.approx(grey)
    assert finished == pytest.approx(grey * (1 + change_pct / 100))


def in_report(state: ClothState) -> tuple[float, ...]:
    return tuple(float(value) for value in astuple(state))


# 24 x 22, 160 cm and 3000 m grey; weft crimp 5 %, 2 % off the loom, 4 and 3 % in finishing, of
# which 6 % of the mass is lost: by hand.
def test_the_report_has_all_three_states() -> None:
    answer = report(
        construction(
            finishing=Finishing(
                width_shrinkage_pct=4.0,
                length_shrinkage_pct=3.0,
                relaxation_pct=2.0,
                mass_change_pct=-6.0,
            )
        )
    )
    assert isinstance(answer.states, ClothStates)
    assert in_report(answer.states.grey) == pytest.approx((24.0, 22.0, 160.0, 3000.0, 96.6))
    assert in_report(answer.states.loom_state) == pytest.approx(
        (24 / 1.05, 22 * 0.98, 168.0, 3000 / 0.98, 96.6 * 0.98 / 1.05), rel=1e-5
    )
    assert in_report(answer.states.finished) == pytest.approx(
        (25.0, 22 / 0.97, 153.6, 2910.0, 96.6 * 0.94 / (0.96 * 0.97)), rel=1e-5
    )
    assert answer.cloth.finished_mass_g_per_m2 == answer.states.finished.mass_g_per_m2
    assert answer.cloth.finished_width_cm == answer.states.finished.width_cm


# 160 cm grey with 5 % of crimp need 168 cm in the reed; 3840 ends, two in a dent of 120, fill 160.
def test_in_a_stated_reed_the_cloth_on_the_loom_is_as_wide_as_its_ends_fill() -> None:
    answer = report(construction(reed=Reed(dents_per_10cm=120, ends_per_dent=2)))
    assert answer.states is not None
    loom_state = answer.states.loom_state
    assert loom_state.width_cm == answer.setup.reed_width_cm == 160.0
    assert (loom_state.ends_per_cm, answer.states.grey.width_cm) == (24.0, 160.0)
    needed = report(construction(reed=Reed())).states
    assert needed is not None
    assert loom_state.mass_g_per_m2 == pytest.approx(
        needed.loom_state.mass_g_per_m2 * 168 / 160, rel=1e-5
    )


# 1920 dents of a reed of 110 are 174.5 cm, of one of 120 160 cm; grey that is 5 % narrower, and
# 8 % less finished.
@pytest.mark.parametrize(
    ("stage", "dents", "key", "expected"),
    [
        (Stage.GREY, 110, "warning", [174.545, 166.234, 160.0, 9.091]),
        (Stage.GREY, 120, "narrower_than_grey", [160.0, 152.381, 160.0]),
        (Stage.LOOM_STATE, 110, "in_loom_state", [174.545, 160.0]),
        (Stage.FINISHED, 110, "warning", [174.545, 152.935, 147.2, 9.091]),
    ],
)
def test_a_reed_that_contradicts_the_width_is_reported_with_both_widths(
    stage: Stage, dents: float, key: str, expected: list[float]
) -> None:
    cloth = construction(
        stage=stage,
        reed=Reed(dents_per_10cm=dents, ends_per_dent=2),
        finishing=Finishing(width_shrinkage_pct=8.0),
    )
    if stage is Stage.FINISHED:
        warp = replace(cloth.warp, threads_per_cm=cloth.warp.threads_per_cm / 0.92)
        cloth = replace(cloth, width_cm=147.2, warp=warp)
    found = finding("reed.sett_mismatch", cloth)
    assert found is not None
    assert (found.severity, found.pointer) == ("warning", "/construction/reed/dents_per_10cm")
    assert found.message_key == f"reed.sett_mismatch.{key}"
    names = ("in_reed_cm", "width_cm", "stated_cm", "needed_crimp_pct")
    given = [found.message_values[name] for name in names if name in found.message_values]
    assert given == pytest.approx(expected, abs=0.02)


def assumed(cloth: Construction) -> dict[str, Any]:
    return {line.pointer: line for line in cloth_facts(cloth).assumptions}


def of_fibre(fibre: str, *, stage: Stage | None = None, finish: Finish | None = None) -> Any:
    yarns = {"A": Yarn(linear_density_tex=40.0, fibre=fibre)}
    return construction(
        stage=stage or Stage.GREY,
        warp=threads(14.0, yarns=yarns),
        weft=threads(12.0, yarns=yarns),
        finishing=Finishing(finish=finish),
    )


@pytest.mark.parametrize(
    ("fibre", "finish", "width_pct", "length_pct"),
    [
        ("cotton", None, 5.0, 3.0),
        ("polyester 65 cotton 35", None, 5.0, 3.0),
        ("cotton", Finish.PRE_SHRUNK, 5.0, 8.0),
        ("worsted", None, 8.0, 5.0),
        ("worsted", Finish.MILLED, 15.0, 8.0),
        ("wool", None, 8.0, 5.0),
        ("wool", Finish.WASHED, 8.0, 5.0),
        ("silk", None, 3.0, 2.0),
        ("glass", None, 0.0, 0.0),
    ],
)
def test_shrinkage_follows_fibre_and_finish(
    fibre: str, finish: Finish | None, width_pct: float, length_pct: float
) -> None:
    lines = assumed(of_fibre(fibre, stage=Stage.FINISHED, finish=finish))
    width = lines["/finishing/width_shrinkage_pct"]
    length = lines["/finishing/length_shrinkage_pct"]
    assert (width.value, length.value) == (width_pct, length_pct)
    for line in (width, length):
        assert line.band.low <= line.value <= line.band.high
        assert line.grade is not None


# Published: cotton poplin 37 in grey and 35-36 in finished; polyester/cotton 63 in and 57-58 in.
@pytest.mark.parametrize(
    ("fibre", "grey_in", "finished_in"),
    [("cotton", 37.0, (35.0, 36.0)), ("polyester 65 cotton 35", 63.0, (57.0, 58.0))],
)
def test_published_shrinkages_lie_in_the_band(
    fibre: str, grey_in: float, finished_in: tuple[float, float]
) -> None:
    band = assumed(of_fibre(fibre, stage=Stage.FINISHED))["/finishing/width_shrinkage_pct"].band
    for width in finished_in:
        assert band.low <= 100 * (1 - width / grey_in) <= band.high


# Published: a worsted serge is 72 in wide in the loom and 57 in finished, a woollen broadcloth 90
# and 56 in.
@pytest.mark.parametrize(
    ("fibre", "loom_in", "finished_in"), [("worsted", 72.0, 57.0), ("wool", 90.0, 56.0)]
)
def test_published_loom_widths_lie_in_the_band(
    fibre: str, loom_in: float, finished_in: float
) -> None:
    cloth = of_fibre(fibre, stage=Stage.FINISHED)
    band = assumed(cloth)["/finishing/width_shrinkage_pct"].band
    low, high = (
        finished_in / (1 - pct / 100) * (1 + cloth.weft.crimp_pct / 100)
        for pct in (band.low, band.high)
    )
    assert low <= loom_in <= high


def test_a_stated_finish_shrinks_grey_cloth_too() -> None:
    grey = cloth_facts(of_fibre("cotton"))
    washed = cloth_facts(of_fibre("cotton", finish=Finish.WASHED))
    assert grey.states.finished == grey.states.grey
    assert washed.states.grey == grey.states.grey
    assert washed.widths.finished_cm == pytest.approx(160.0 * 0.95)


def test_what_finishing_does_to_the_mass_is_not_known() -> None:
    line = assumed(of_fibre("cotton", stage=Stage.FINISHED))["/finishing/mass_change_pct"]
    assert line.value == 0.0
    assert (line.band.low, line.band.high) == (-12.0, 5.0)
    assert "state it" in line.reason
    assert line.grade is Grade.FROM_MEMORY  # The source is of the band, not of the value.


def test_a_fibre_of_which_nothing_is_known_says_so() -> None:
    lines = assumed(of_fibre("elastane", stage=Stage.FINISHED))
    line = lines["/finishing/width_shrinkage_pct"]
    assert (line.value, line.band) == (0.0, NOT_KNOWN.band)
    assert line.reason == "elastane cloth, washed: not known: state it"
    stretch = assumed(of_fibre("98/2 cotton/elastane", stage=Stage.FINISHED))
    assert stretch["/finishing/width_shrinkage_pct"] == line
    milled = assumed(of_fibre("cotton", finish=Finish.MILLED))["/finishing/width_shrinkage_pct"]
    assert milled.reason == "cotton cloth, milled: not known: state it"


def test_every_usual_change_lies_in_its_band() -> None:
    for fibre in fibres():
        usual = finished_fibre(fibre.key)
        for change in (
            usual.mass_change_pct,
            *usual.width_shrinkage_pct.values(),
            *usual.length_shrinkage_pct.values(),
        ):
            assert change.band.low <= change.value <= change.band.high, fibre.key


def test_width_shrinks_by_the_weft_and_length_by_the_warp() -> None:
    union = construction(
        stage=Stage.FINISHED,
        weft=threads(12.0, yarns={"A": Yarn(linear_density_tex=60.0, fibre="wool")}),
        finishing=Finishing(),
    )
    lines = assumed(union)
    assert lines["/finishing/width_shrinkage_pct"].value == 8.0
    assert lines["/finishing/length_shrinkage_pct"].value == 3.0


def test_wool_without_a_finish_is_not_milled_but_may_be() -> None:
    wool = {
        finish: finished_fibre("wool").width_shrinkage_pct[finish] for finish in (None, *Finish)
    }
    assert wool[None].value == wool[Finish.WASHED].value
    assert wool[None].band.high == wool[Finish.MILLED].band.high
    assert "finish is not stated, taken as washed" in wool[None].reason
    worsted = finished_fibre("worsted").width_shrinkage_pct[None].band
    assert (worsted.low, worsted.high) == (3.0, 20.0)


COARSE = Yarn(designation="60 tex", fibre="cotton")


def striped(**of_yarns: dict[str, Any]) -> ThreadSystem:
    """Three ends of A for one of B, which is three times as heavy."""
    yarns = {"A": replace(COTTON_20_TEX, **of_yarns.get("A", {})), "B": COARSE}
    yarns["B"] = replace(COARSE, **of_yarns.get("B", {}))
    return threads(24.0, yarns=yarns, order="3A 1B", crimp_pct=None)


# Crimp of the warp (3 x 4 + 1 x 20) / 4 = 8 %; mass 18 x 20 x 1.04 + 6 x 60 x 1.20 g per 10 m2.
def test_the_crimp_of_a_set_is_the_mean_over_its_threads() -> None:
    facts = cloth_facts(construction(warp=striped(A={"crimp_pct": 4.0}, B={"crimp_pct": 20.0})))
    assert facts.warp.crimp_pct == pytest.approx(8.0)
    assert facts.warp.crimps_pct == {"A": 4.0, "B": 20.0}
    weft = 22.0 * 20.0 * 1.05
    warp = 18 * 20 * 1.04 + 6 * 60 * 1.20
    assert facts.states.grey.mass_g_per_m2 == pytest.approx((warp + weft) / 10)


# 3840 ends: 2880 of A at 3000 x 1.04 m, 960 of B at 3000 x 1.20 m, with 4.6 m on the loom and 1 %.
def test_each_yarn_is_needed_by_its_own_crimp() -> None:
    warp = striped(A={"crimp_pct": 4.0}, B={"crimp_pct": 20.0})
    answer = report(construction(warp=warp, allowances=Allowances(size_pct=0.0)))
    of_a, of_b = answer.yarn[:2]
    assert of_a.length_km == pytest.approx(2880 * (3120 + 4.6) * 1.01 / 1000, rel=1e-5)
    assert of_b.length_km == pytest.approx(960 * (3600 + 4.6) * 1.01 / 1000, rel=1e-5)
    assert (of_a.crimp_pct, of_b.crimp_pct) == (4.0, 20.0)
    assert of_b.contraction_pct == pytest.approx(100 * 20 / 120, rel=1e-5)
    assert answer.warp.length_m == pytest.approx(3000 * 1.08 + 4.6)
    assert answer.warp.mass_kg == pytest.approx(
        (2880 * 3124.6 * 20 + 960 * 3604.6 * 60) / 1e6, rel=1e-5
    )


# 160 cm of cloth: weft A straight at 166.4 cm, B at 176 cm, A and B in turn; 12 cm of waste.
def test_a_weft_of_its_own_crimp_is_longer_than_the_reed_is_wide() -> None:
    yarns = {
        "A": replace(COTTON_20_TEX, crimp_pct=4.0),
        "B": replace(COTTON_20_TEX, crimp_pct=10.0),
    }
    answer = report(construction(weft=threads(22.0, yarns=yarns, order="A B", crimp_pct=None)))
    assert answer.setup.reed_width_cm == pytest.approx(160 * 1.07)
    _, of_a, of_b = answer.yarn[:3]
    picks = 3000 * 2200 / 2
    assert of_a.length_km == pytest.approx(picks * (1.664 + 0.12) * 1.01 / 1000, rel=1e-5)
    assert of_b.length_km == pytest.approx(picks * (1.760 + 0.12) * 1.01 / 1000, rel=1e-5)


def test_a_yarn_without_a_crimp_takes_that_of_its_set() -> None:
    cloth = construction(warp=replace(striped(B={"crimp_pct": 20.0}), crimp_pct=4.0))
    assert cloth_facts(cloth).warp.crimps_pct == {"A": 4.0, "B": 20.0}
    assert "/warp/crimp_pct" not in assumed(cloth)


def test_a_yarn_without_a_crimp_of_a_set_without_one_is_estimated() -> None:
    cloth = construction(warp=striped(B={"crimp_pct": 20.0}), weft=threads(22.0, crimp_pct=None))
    unsaid = construction(warp=striped(), weft=threads(22.0, crimp_pct=None))
    lines, facts = assumed(cloth), cloth_facts(cloth)
    assert facts.warp.crimps_pct == {"A": lines["/warp/crimp_pct"].value, "B": 20.0}
    # Slack ends among the others pucker; the weft is held by the tight ones.
    assert facts.weft.crimp_pct == cloth_facts(unsaid).weft.crimp_pct


def reckoned(facts: ClothFacts) -> list[float]:
    return [*figures(facts.states), facts.widths.reed_cm, facts.warp.crimp_pct, facts.ends.total]


@given(grey_cloths())
def test_contraction_is_another_way_to_state_the_crimp(cloth: Construction) -> None:
    def as_contraction(system: ThreadSystem) -> ThreadSystem:
        assert system.crimp_pct is not None
        contraction = contraction_of_crimp_pct(system.crimp_pct)
        return replace(system, crimp_pct=None, contraction_pct=contraction)

    other = replace(cloth, warp=as_contraction(cloth.warp), weft=as_contraction(cloth.weft))
    assert reckoned(cloth_facts(other)) == pytest.approx(reckoned(cloth_facts(cloth)))


@given(grey_cloths())
def test_what_each_yarn_states_is_what_its_set_states(cloth: Construction) -> None:
    def by_yarn(system: ThreadSystem) -> ThreadSystem:
        yarns = {
            key: replace(yarn, crimp_pct=system.crimp_pct) for key, yarn in system.yarns.items()
        }
        return replace(system, crimp_pct=None, yarns=yarns)

    other = replace(cloth, warp=by_yarn(cloth.warp), weft=by_yarn(cloth.weft))
    assert reckoned(cloth_facts(other)) == pytest.approx(reckoned(cloth_facts(cloth)))


def test_the_report_states_contraction_beside_crimp() -> None:
    cloth = report(construction(warp=threads(24.0, crimp_pct=25.0))).cloth
    assert (cloth.warp_crimp_pct, cloth.warp_contraction_pct) == (25.0, 20.0)
    assert cloth.weft_contraction_pct == pytest.approx(100 * 5 / 105, rel=1e-5)


@pytest.mark.parametrize(
    ("warp", "pointers"),
    [
        (replace(threads(24.0), contraction_pct=4.0), ["/warp/contraction_pct"]),
        (striped(A={"crimp_pct": 4.0, "contraction_pct": 3.8}), ["/warp/yarns/A/contraction_pct"]),
        (
            replace(striped(A={"crimp_pct": 4.0}, B={"crimp_pct": 9.0}), crimp_pct=5.0),
            ["/warp/crimp_pct"],
        ),
        (
            replace(striped(A={"crimp_pct": 4.0}, B={"crimp_pct": 9.0}), contraction_pct=5.0),
            ["/warp/contraction_pct"],
        ),
        (threads(24.0, crimp_pct=None, contraction_pct=100.0), ["/warp/contraction_pct"]),
        (threads(24.0, crimp_pct=None, contraction_pct=75.1), ["/warp/contraction_pct"]),
        (striped(B={"contraction_pct": 100.0}), ["/warp/yarns/B/contraction_pct"]),
        (striped(B={"crimp_pct": -1.0}), ["/warp/yarns/B/crimp_pct"]),
    ],
)
def test_a_crimp_that_cannot_be_is_refused_at_its_field(
    warp: ThreadSystem, pointers: list[str]
) -> None:
    with pytest.raises(InputError) as refused:
        cloth_facts(construction(warp=warp))
    assert [fault.pointer for fault in refused.value.faults] == pointers


@pytest.mark.parametrize("change_pct", [-80.1, 501.0, float("nan")])
def test_a_mass_change_that_leaves_no_cloth_is_refused(change_pct: float) -> None:
    with pytest.raises(InputError) as refused:
        cloth_facts(construction(finishing=Finishing(mass_change_pct=change_pct)))
    assert refused.value.faults[0].pointer == "/finishing/mass_change_pct"


def with_beams(warp: ThreadSystem, pile_ratio: float | None) -> ThreadSystem:
    beams = (
        WarpGroup(name="ground", yarns=("A",)),
        WarpGroup(name="other", yarns=("B",), pile_ratio=pile_ratio),
    )
    return replace(warp, beams=beams)


# Of 3840 ends a quarter is slack: 3000 m of cloth take 3120 and 3600 m, and 4.6 m on the loom.
def test_slack_ends_on_a_beam_of_their_own_are_as_long_as_their_crimp_says() -> None:
    slack = striped(A={"crimp_pct": 4.0}, B={"crimp_pct": 20.0})
    stacked = loom(warp_beam=WarpBeam(arrangement=BeamArrangement.STACKED))
    answer = report(construction(warp=with_beams(slack, None)), stacked)
    ground, other = answer.warp.beams
    assert (ground.length_m, other.length_m) == pytest.approx((3124.6, 3604.6))
    assert answer.warp.mass_kg == pytest.approx(ground.mass_kg + other.mass_kg, rel=1e-5)


# Pile of 5.2 times the cloth's length is no crimp that bends the weft: the ground alone does.
def test_pile_counts_in_the_mass_and_not_in_the_mean_crimp() -> None:
    ground = striped(A={"crimp_pct": 4.0})
    facts = cloth_facts(construction(warp=with_beams(ground, 5.2)))
    assert facts.warp.crimp_pct == 4.0
    assert facts.warp.crimps_pct["B"] == pytest.approx(420.0)
    warp = 18 * 20 * 1.04 + 6 * 60 * 5.2
    assert facts.states.grey.mass_g_per_m2 == pytest.approx((warp + 22 * 20 * 1.05) / 10)


@pytest.mark.parametrize("name", ["crimp_pct", "contraction_pct"])
def test_the_crimp_of_pile_is_its_ratio_and_is_not_stated_beside_it(name: str) -> None:
    pile = with_beams(striped(A={"crimp_pct": 4.0}, B={name: 50.0}), 5.2)
    with pytest.raises(InputError) as refused:
        cloth_facts(construction(warp=pile))
    assert [fault.pointer for fault in refused.value.faults] == [f"/warp/yarns/B/{name}"]


class TestImplausibleCrimp:
    """A close poplin of Ne 40, whose planned contraction would be 13 to 17 % of the beam length."""

    NE_40 = Yarn(designation="Ne 40", fibre="cotton")

    def poplin(self, *, weft: Yarn = NE_40, **warp: Any) -> Construction:
        yarns = {"A": self.NE_40}
        return construction(
            warp=threads(50.0, yarns=yarns, **{"crimp_pct": None, **warp}),
            weft=threads(30.0, crimp_pct=None, yarns={"A": weft}),
        )

    def test_a_contraction_that_the_cloth_cannot_have_is_questioned_at_its_field(self) -> None:
        found = finding("contraction.implausible", self.poplin(contraction_pct=3.0))
        assert found is not None
        assert (found.severity, found.pointer) == ("warning", "/construction/warp/contraction_pct")
        for words in ("3.09 %", "contraction of 3 %", "at least 10.3 %", "held at 30 %"):
            assert words in found.message

    def test_a_planned_contraction_is_not(self) -> None:
        for planned_pct in (13.0, 15.0, 17.0):
            assert (
                severity("contraction.implausible", self.poplin(contraction_pct=planned_pct))
                is None
            )

    def test_a_yarn_that_contracts_by_itself_may_have_more(self) -> None:
        for fibre, more in (("cotton", "note"), ("97/3 cotton/elastane", None)):
            weft = Yarn(designation="Ne 40", fibre=fibre, crimp_pct=40.0)
            assert severity("contraction.implausible", self.poplin(weft=weft)) == more

    def test_slack_ends_on_a_beam_of_their_own_may_have_more(self) -> None:
        yarns = {"A": self.NE_40, "B": replace(self.NE_40, crimp_pct=45.0)}
        beams = tuple(WarpGroup(name=key, yarns=(key,)) for key in "AB")
        for groups, said, of_beams in (((), "note", "warning"), (beams, None, "error")):
            warp = threads(50.0, crimp_pct=None, yarns=yarns, order="9A 9B", beams=groups)
            order = replace(self.poplin(), warp=warp)
            assert severity("contraction.implausible", order) == said
            assert severity("warp.second_warp", order) == of_beams

    @pytest.mark.parametrize("rest", [{}, {"crimp_pct": 6.0}])
    def test_the_yarn_that_states_it_is_named_whatever_the_others_state(
        self, rest: dict[str, float]
    ) -> None:
        yarns = {"A": self.NE_40, "B": replace(self.NE_40, contraction_pct=31.0)}
        warp = threads(36.0, yarns=yarns, order="9A 9B", **{"crimp_pct": None, **rest})
        order = replace(self.poplin(), warp=warp)
        found = finding("contraction.implausible", order)
        assert found is not None
        assert (found.severity, found.pointer) == (
            "note",
            "/construction/warp/yarns/B/contraction_pct",
        )
        assert found.message.startswith("The stated crimp of warp B is 44.9 %")

    def test_two_straight_sets_cannot_cross_one_another(self) -> None:
        def stated(pct: float) -> Construction:
            yarns = {"A": Yarn(designation="Ne 30", fibre="cotton")}
            return construction(
                warp=threads(26.0, crimp_pct=pct, yarns=yarns),
                weft=threads(25.0, crimp_pct=pct, yarns=yarns),
            )

        for pct, said in ((0.0, "warning"), (0.3, "warning"), (5.0, None)):
            assert severity("contraction.implausible", stated(pct)) == said
        found = finding("contraction.implausible", stated(0.0))
        assert found is not None
        assert (found.pointer, found.actual) == ("/construction/warp/crimp_pct", 0.0)

    def test_what_is_estimated_is_not_questioned(self) -> None:
        order = self.poplin()
        assert severity("contraction.implausible", order) is None
        known = cloth_facts(order).warp.crimp_pct
        assert severity("contraction.implausible", self.poplin(crimp_pct=known)) is None


def test_slack_ends_pucker_the_cloth_and_leave_the_weft_as_wavy() -> None:
    """A seersucker: its slack stripes take up twice as much as the ground."""

    def facts(**crimps_pct: float) -> ClothFacts:
        yarns = {key: replace(COTTON_20_TEX, crimp_pct=crimps_pct.get(key)) for key in ("A", "B")}
        warp = threads(34.0, crimp_pct=None, yarns=yarns, order="12A 12B")
        return cloth_facts(construction(warp=warp, weft=threads(24.0, crimp_pct=None)))

    even = facts()
    slack = facts(B=28.0)
    tight_pct = even.warp.crimp_pct
    assert slack.warp.crimps_pct == {"A": tight_pct, "B": 28.0}
    assert slack.weft.crimp_pct == even.weft.crimp_pct
    assert slack.widths.reed_cm == even.widths.reed_cm
    assert slack.warp.crimp_pct == pytest.approx((tight_pct + 28.0) / 2)
    # Stating what is estimated changes nothing, and ends that are all alike bend the weft.
    assert facts(A=tight_pct, B=28.0).weft.crimp_pct == even.weft.crimp_pct
    assert facts(A=20.0, B=20.0).weft.crimp_pct < even.weft.crimp_pct
    assert facts(B=tight_pct - 4.0).weft.crimp_pct > even.weft.crimp_pct
