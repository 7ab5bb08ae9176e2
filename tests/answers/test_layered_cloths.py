"""Cloths whose threads lie over one another: each layer is judged against itself."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import numpy as np
import pytest
from answers.fabrics import Row, rows
from answers.strategies import trade_looms, trade_orders
from builders import construction, finding, insertion, loom, report, severity, threads
from hypothesis import given
from profiles import share_of_examples

from weavability.answers.changeover import change_style
from weavability.answers.columns import NUMBERS, SEVERITY_RANKS, judge_columns
from weavability.answers.layer_summary import LayerSummary
from weavability.answers.order_columns import judge_on_looms
from weavability.answers.report import Report
from weavability.answers.validation import assess, judge
from weavability.checks.registry import observe
from weavability.looms.fit import fit_cloth
from weavability.looms.loom import Band, BeamArrangement, Loom, WarpBeam
from weavability.looms.loom_limits import resolve_loom
from weavability.textiles.basic_weaves import multiple_cloth
from weavability.textiles.cloth import cloth_facts
from weavability.textiles.construction import (
    Allowances,
    Construction,
    Joined,
    Layers,
    Reed,
    Selvedge,
    ThreadSystem,
    WarpGroup,
)
from weavability.textiles.errors import InputError
from weavability.textiles.notation import parse_weave
from weavability.textiles.stripes import Stripe, striped_weave
from weavability.textiles.weave_matrix import Weave
from weavability.textiles.yarns import Yarn

REFERENCE: Final = Path(__file__).parents[1] / "reference"
NE_30: Final = Yarn(designation="Ne 30", fibre="cotton")
TERRY_YARNS: Final = {
    "G": Yarn(designation="R 50 tex/2", fibre="cotton"),
    "P": Yarn(designation="R 60 tex/2", fibre="cotton"),
}
GROUND_AND_PILE: Final = (
    WarpGroup(name="ground", yarns=("G",)),
    WarpGroup(name="pile", yarns=("P",), pile_ratio=5.2),
)
TERRY_LAYERS: Final = Layers(ends="G P", picks="G", pile=("P",))
PLAIN: Final = parse_weave("plain")


def of_ne_30(per_cm: float, **changes: Any) -> ThreadSystem:
    return threads(per_cm, crimp_pct=None, yarns={"A": NE_30}, **changes)


def double_cloth(joined: Joined, *stitches: tuple[int, int], repeat: int = 4) -> Construction:
    """Two plain cloths of 26 x 25 per cm over one another, stitched at some (pick, end)."""
    matrix = np.tile(multiple_cloth([PLAIN, PLAIN]).matrix, (repeat // 4, repeat // 4))
    for pick, end in stitches:
        matrix[pick - 1, end - 1] ^= 1
    return construction(
        warp=of_ne_30(52.0),
        weft=of_ne_30(50.0),
        weave=Weave(matrix=matrix),
        layers=Layers(ends="F B", picks="F B", joined=joined),
    )


def terry(**changes: Any) -> Construction:
    """A towel of three-pick terry, ground and pile ends in turn."""
    return construction(
        **{
            "warp": ThreadSystem(
                yarns=TERRY_YARNS,
                order="G P",
                threads_per_cm=22.0,
                crimp_pct=8.0,
                beams=GROUND_AND_PILE,
            ),
            "weft": threads(20.0, yarns={"A": Yarn(designation="34 tex", fibre="cotton")}),
            "weave": Weave.from_rows(["1000", "1101", "0111"]),
            "layers": TERRY_LAYERS,
        }
        | changes
    )


STACKED_BEAMS: Final = loom(warp_beam=WarpBeam(arrangement=BeamArrangement.STACKED))


def towel(case: Mapping[str, Any]) -> Construction:
    """A part of a published towel; the fringe is not woven, so that its ends have no crimp."""
    pile = WarpGroup(name="pile", yarns=("P",), pile_ratio=case.get("pile_ratio", 5.2))
    return terry(
        warp=replace(terry().warp, crimp_pct=0.0, beams=(GROUND_AND_PILE[0], pile)),
        weft=replace(terry().weft, crimp_pct=0.0),
        width_cm=case.get("reed_width_cm", 2 * 576 / 22.0),
        length_m=case["cloth_length_cm"] / 100,
        selvedge=Selvedge(ends_per_side=59),
        allowances=Allowances(warp_waste_pct=0.0, weft_waste_pct=0.0, loom_waste_m=0.0),
    )


def towel_kg(case: Mapping[str, Any]) -> float:
    """The mass of one yarn in a part of a published towel."""
    answer = report(towel(case), loom(insertion=insertion(extra_weft_cm=0.0)))
    (use,) = (each for each in answer.yarn if each.yarn == case["yarn"])
    assert use.threads == case.get("ends")
    return use.mass_kg


def weft_pile(ground: Weave, *, piles: int, ends: int = 6) -> Weave:
    """A ground with so many pile picks after each of its picks, each bound by one end in six."""
    lines = []
    for place in range(ground.picks * ends):
        lines.append(np.resize(ground.matrix[place % ground.picks], ends))
        for pile in range(piles):
            pick = np.zeros(ends, dtype=np.uint8)
            pick[(2 * (place * piles + pile) + 1) % ends] = 1
            lines.append(pick)
    return Weave(matrix=np.array(lines))


def layers_of(answer: Report) -> dict[str, LayerSummary]:
    assert answer.layers is not None
    return {each.layer: each for each in answer.layers.layers}


def codes(answer: Report) -> set[str]:
    return {each.code.value for each in answer.findings}


class TestDoubleCloth:
    def test_each_layer_is_as_tight_as_it_is_alone(self) -> None:
        alone = report(construction(warp=of_ne_30(26.0), weft=of_ne_30(25.0)))
        both = report(double_cloth(Joined.SEPARATE))
        assert alone.cloth.tightness_pct == pytest.approx(73.13, abs=0.01)
        assert both.cloth.tightness_pct == alone.cloth.tightness_pct
        for layer in layers_of(both).values():
            assert layer.tightness_pct == alone.cloth.tightness_pct
            assert layer.weave == "plain"
            assert (layer.ends_per_cm, layer.picks_per_cm) == (26.0, 25.0)
            assert layer.mass_g_per_m2 == alone.cloth.mass_g_per_m2
            assert layer.thickness_mm == pytest.approx(alone.cloth.thickness_mm, abs=0.001)
            assert layer.warp_crimp_pct == alone.cloth.warp_crimp_pct
            assert layer.weft_crimp_pct == alone.cloth.weft_crimp_pct
        assert both.cloth.warp_crimp_pct == alone.cloth.warp_crimp_pct
        assert both.cloth.weft_crimp_pct == alone.cloth.weft_crimp_pct
        assert both.setup.reed_width_cm == alone.setup.reed_width_cm
        assert both.cloth.longest_float_mm == alone.cloth.longest_float_mm
        assert both.cloth.thickness_mm == pytest.approx(2 * alone.cloth.thickness_mm, abs=0.001)

    def test_the_ends_of_each_layer_have_room_side_by_side(self) -> None:
        close = replace(double_cloth(Joined.SEPARATE), warp=of_ne_30(64.0))
        assert severity("sett.warp_crowding", close) is None
        assert severity("sett.warp_crowding", replace(close, layers=None)) == "warning"

    def test_separate_layers_are_meant(self) -> None:
        declared = double_cloth(Joined.SEPARATE)
        assert severity("weave.falls_apart", replace(declared, layers=None)) == "error"
        assert report(declared).counts.errors == 0

    def test_a_separate_layer_that_falls_apart_itself_is_found(self) -> None:
        # The back layer is itself two cloths.
        inner = multiple_cloth([PLAIN, PLAIN])
        cloth = replace(
            double_cloth(Joined.SEPARATE), weave=multiple_cloth([parse_weave("plain"), inner])
        )
        found = finding("layers.contradicted", cloth)
        assert found is not None
        assert "layer B do not make one cloth" in found.message

    def test_a_stitched_cloth_counts_its_stitches(self) -> None:
        answer = report(double_cloth(Joined.STITCHED, (1, 2), repeat=16))
        assert answer.layers is not None
        assert answer.layers.stitches_per_repeat == 1
        # One in 16 ends x 16 picks at 52 x 50 per cm.
        assert answer.layers.stitches_per_cm2 == pytest.approx(52 * 50 / 256, rel=1e-5)
        assert answer.cloth.tightness_pct == pytest.approx(73.13, abs=0.01)
        assert answer.counts.errors == 0

    def test_a_stitched_cloth_without_a_stitch_is_refused_once(self) -> None:
        answer = report(double_cloth(Joined.STITCHED))
        assert "layers.unstitched" in codes(answer)
        assert not codes(answer) & {"weave.falls_apart", "layers.contradicted"}

    def test_a_mistyped_letter_is_hinted_at(self) -> None:
        cloth = double_cloth(Joined.SEPARATE)
        mistyped = replace(cloth, layers=Layers(ends="F B", picks="F X", joined=Joined.SEPARATE))
        halves = finding("layers.contradicted", mistyped)
        assert halves is not None
        assert halves.message.endswith(
            "Layer B has no picks and layer X no ends: if they are one layer, give its ends and "
            "picks the same letter."
        )

    def test_a_contradiction_names_the_crossing(self) -> None:
        found = finding("layers.contradicted", double_cloth(Joined.SEPARATE, (3, 6), repeat=16))
        assert found is not None
        assert (found.actual, found.limit, found.unit) == (1, 0, "crossings")
        assert found.message.startswith(
            "At pick 3 and end 6 of the repeat layer B lies above layer F, which lies above it "
            "elsewhere. 1 of the repeat's crossings hold"
        )
        assert found.pointer == "/construction/layers"

    def test_layers_of_unlike_yarns_have_their_own_mass_and_yarn(self) -> None:
        fine, coarse = NE_30, Yarn(designation="Ne 10", fibre="cotton")
        answer = report(
            replace(
                double_cloth(Joined.SEPARATE),
                warp=ThreadSystem(
                    yarns={"A": fine, "B": coarse}, order="2A 1B", threads_per_cm=39.0
                ),
                weft=ThreadSystem(
                    yarns={"A": fine, "B": coarse}, order="2A 1B", threads_per_cm=39.0
                ),
                weave=_two_and_one(),
                layers=Layers(ends="2F 1B", picks="2F 1B", joined=Joined.SEPARATE),
            )
        )
        face, back = layers_of(answer)["F"], layers_of(answer)["B"]
        assert (face.ends_per_cm, back.ends_per_cm) == (26.0, 13.0)
        assert answer.cloth.mass_g_per_m2 == pytest.approx(
            face.mass_g_per_m2 + back.mass_g_per_m2, rel=1e-5
        )
        by_yarn = {use.yarn: use.mass_kg for use in answer.yarn}
        assert face.warp_yarn_kg == pytest.approx(by_yarn["warp A"], rel=1e-3)
        assert back.warp_yarn_kg == pytest.approx(by_yarn["warp B"], rel=1e-3)
        assert face.weft_yarn_kg == pytest.approx(by_yarn["weft A"], rel=1e-5)
        assert back.weft_yarn_kg == pytest.approx(by_yarn["weft B"], rel=1e-5)
        assert answer.counts.errors == 0


def _two_and_one() -> Weave:
    """A plain face of 2 ends and picks to one of a plain back."""
    end_layers, pick_layers = "FFB" * 2, "FFB" * 2
    matrix = np.zeros((6, 6), dtype=np.uint8)
    counted: dict[str, int] = {}
    number = []
    for letter in pick_layers:
        counted[letter] = counted.get(letter, -1) + 1
        number.append(counted[letter])
    for pick, pick_layer in enumerate(pick_layers):
        for end, end_layer in enumerate(end_layers):
            same = (number[pick] + number[end]) % 2 == 0
            matrix[pick, end] = same if pick_layer == end_layer else end_layer == "F"
    return Weave(matrix=matrix)


class TestPile:
    @pytest.mark.slow
    @pytest.mark.parametrize(
        "case",
        json.loads((REFERENCE / "terry.json").read_text("utf-8")),
        ids=lambda case: case["id"],
    )
    def test_the_yarn_of_a_towel_is_as_published(self, case: dict[str, Any]) -> None:
        assert 1000 * towel_kg(case) == pytest.approx(case["mass_g"], abs=0.01)

    def test_the_ground_of_terry_is_set_against_itself(self) -> None:
        answer = report(terry(), STACKED_BEAMS)
        ground = report(
            construction(
                warp=threads(11.0, crimp_pct=8.0, yarns={"A": TERRY_YARNS["G"]}),
                weft=terry().weft,
                weave=Weave.from_rows(["10", "10", "01"]),
            )
        )
        assert answer.cloth.tightness_pct == ground.cloth.tightness_pct
        assert (answer.cloth.warp_crimp_pct, answer.counts.errors) == (8.0, 0)
        assert layers_of(answer)["P"].tightness_pct is None
        # 4.2 cm of yarn a cm of cloth beyond its length, in two legs of 20 / 3 loops a cm.
        assert layers_of(answer)["P"].pile_height_mm == pytest.approx(10 * 4.2 / (2 * 20 / 3))

    def test_the_pile_ratio_counts_in_mass_yarn_and_warp(self) -> None:
        with_pile, without = report(terry()), report(terry(layers=None, warp=_one_warp()))
        undeclared = finding("warp.pile_ratio", terry(layers=None))
        assert undeclared is not None
        assert undeclared.pointer == "/construction/layers"
        assert "warp.pile_ratio" not in codes(with_pile)
        pile_tex_cm = 11.0 * 60.0
        more = pile_tex_cm * (5.2 - 1.08) / 10
        assert with_pile.cloth.mass_g_per_m2 - without.cloth.mass_g_per_m2 == pytest.approx(
            more, rel=0.02
        )
        ground, pile = with_pile.warp.beams
        assert pile.length_m == pytest.approx(5.2 * 3000 + 4.6 * pile.beams_needed)
        assert ground.length_m == with_pile.warp.length_m
        assert pile.beams_needed > ground.beams_needed
        assert with_pile.warp.mass_kg == pytest.approx(ground.mass_kg + pile.mass_kg, rel=1e-5)
        assert with_pile.warp.knots == (
            ground.ends * ground.beams_needed + pile.ends * pile.beams_needed
        )
        assert ground.ends + pile.ends == with_pile.setup.total_ends
        use = {each.yarn: each for each in with_pile.yarn}["warp P"]
        assert use.length_km == pytest.approx(1.01 * pile.ends * pile.length_m / 1000, rel=1e-5)

    def test_pile_is_pressed_on_the_cloth_roll(self) -> None:
        on = replace(STACKED_BEAMS, cloth_roll_diameter_cm=80.0)
        answer, tube_cm = report(terry(), on), 15.0
        assert answer.layers is not None
        flat_mm, pile_mm = (layer.thickness_mm for layer in answer.layers.layers)
        assert answer.cloth.thickness_mm == pytest.approx(flat_mm + pile_mm, rel=1e-3)
        (line,) = (one for one in answer.assumptions if one.pointer.endswith("/thickness_mm"))
        assert line.band is not None
        assert line.band.low == pytest.approx(flat_mm, abs=0.002)
        # Half of the height of the pile, as common practice takes it.
        metres = math.pi / 4 * (80**2 - tube_cm**2) / (flat_mm + pile_mm / 2) / 10
        assert answer.warp.cloth_roll_capacity_m == pytest.approx(metres, rel=1e-3)
        stated = report(terry(thickness_mm=answer.cloth.thickness_mm), on)
        assert stated.warp.cloth_roll_capacity_m == pytest.approx(metres, rel=1e-3)

    @pytest.mark.slow
    def test_a_change_to_terry_mounts_a_beam_and_another_ratio_is_set(self) -> None:
        """Hours at the starting rates: 2 h for a beam, half an hour for the pile."""
        higher = replace(GROUND_AND_PILE[1], pile_ratio=6.0)
        other = terry(warp=replace(terry().warp, beams=(GROUND_AND_PILE[0], higher)))
        plan = change_style(terry(length_m=200.0), replace(other, length_m=200.0), STACKED_BEAMS)
        assert (plan.route, [step.step for step in plan.steps]) == ("keep", ["set_pile"])
        assert plan.steps[0].hours == 0.5
        assert "a ratio of 6 instead of 5.2" in plan.steps[0].message
        flat = construction(warp=threads(22.0), weft=threads(14.0), width_cm=140.0)
        to_pile = change_style(flat, terry(), STACKED_BEAMS)
        first = to_pile.steps[0]
        assert (first.step, first.hours) == ("mount_beams", 2.0)
        assert "set_pile" in [step.step for step in to_pile.steps]
        assert change_style(terry(), flat, STACKED_BEAMS).steps[0].step == "take_beams_off"

    def test_a_pile_ratio_of_1_is_yarn_as_long_as_the_cloth(self) -> None:
        flat = replace(GROUND_AND_PILE[1], pile_ratio=1.0)
        answer = report(terry(warp=replace(terry().warp, beams=(GROUND_AND_PILE[0], flat))))
        assert layers_of(answer)["P"].pile_height_mm == 0.0
        assert "warp.pile_ratio" in codes(answer)
        assert answer.warp.beams[1].length_m == pytest.approx(
            3000 + 4.6 * answer.warp.beams[1].beams_needed
        )

    def test_slack_ends_may_have_a_ratio_without_layers(self) -> None:
        slack = (
            WarpGroup(name="tight", yarns=("G",)),
            WarpGroup(name="slack", yarns=("P",), pile_ratio=1.3),
        )
        order = construction(warp=replace(terry().warp, order="20G 20P", beams=slack))
        answer = report(order)
        assert answer.layers is None
        assert answer.warp.beams[1].length_m > 1.2 * answer.warp.beams[0].length_m

    @pytest.mark.parametrize(
        ("beams", "pointer", "words"),
        [
            ((), "/warp/beams", "pile ratio of warp yarn P"),
            ((WarpGroup(name="all", yarns=("G", "P")),), "/warp/beams", "pile ratio"),
            ((GROUND_AND_PILE[0],), "/warp/beams", "Yarn P is in no group"),
            (
                (GROUND_AND_PILE[0], replace(GROUND_AND_PILE[1], yarns=("P", "G"))),
                "/warp/beams/1/yarns/1",
                "Yarn G is in ground already",
            ),
            (
                (GROUND_AND_PILE[0], replace(GROUND_AND_PILE[1], yarns=("P", "X"))),
                "/warp/beams/1/yarns/1",
                "no yarn 'X'",
            ),
            (
                (GROUND_AND_PILE[0], replace(GROUND_AND_PILE[1], pile_ratio=0.9)),
                "/warp/beams/1/pile_ratio",
                "at least 1",
            ),
            (
                (replace(GROUND_AND_PILE[0], pile_ratio=2.0), GROUND_AND_PILE[1]),
                "/warp/beams/0/pile_ratio",
                "Every group has a pile ratio",
            ),
            (
                (GROUND_AND_PILE[0], replace(GROUND_AND_PILE[1], name="ground")),
                "/warp/beams/1/name",
                "Two groups",
            ),
        ],
        ids=str,
    )
    def test_groups_that_do_not_go_with_yarns_and_pile_are_refused(
        self, beams: tuple[WarpGroup, ...], pointer: str, words: str
    ) -> None:
        with pytest.raises(InputError) as error:
            report(terry(warp=replace(terry().warp, beams=beams)))
        assert error.value.faults[0].pointer == f"/construction{pointer}"
        assert words in error.value.faults[0].message

    def test_ground_and_pile_need_yarns_of_their_own(self) -> None:
        with pytest.raises(InputError, match="weaves both pile and ground"):
            report(terry(warp=replace(terry().warp, order="2G 1P")))

    def test_a_ratio_on_ground_ends_is_refused(self) -> None:
        swapped = (
            WarpGroup(name="ground", yarns=("P",)),
            WarpGroup(name="pile", yarns=("G",), pile_ratio=5.2),
        )
        with pytest.raises(InputError) as error:
            report(terry(warp=replace(terry().warp, beams=swapped)))
        assert {fault.pointer for fault in error.value.faults} == {
            "/construction/warp/beams",
            "/construction/warp/beams/1/pile_ratio",
        }


def test_ground_and_pile_in_one_group_are_refused_at_its_yarns() -> None:
    together = (WarpGroup(name="all", yarns=("G", "P"), pile_ratio=5.2),)
    spare = replace(terry().warp, yarns={**TERRY_YARNS, "S": NE_30})
    groups = (*together, WarpGroup(name="edge", yarns=("S",)))
    order = terry(warp=replace(spare, beams=groups), selvedge=Selvedge(ends_per_side=8, yarn="S"))
    with pytest.raises(InputError) as error:
        report(order)
    (fault,) = error.value.faults
    assert fault.pointer == "/construction/warp/beams/0/yarns"
    assert "put the yarns of pile in a group of their own" in fault.message


def _one_warp() -> ThreadSystem:
    return replace(terry().warp, beams=())


# Ground and pile picks as the sources state them. How the pile is bound they only draw; as pile is
# set against nothing, the verdict does not depend on it.
VELVETS: Final = {
    "F023": ("plain", 3),
    "F024": ("plain", 4),
    "F025": ("plain", 5),
    "F026": ("plain", 4),
    "F027": ("2/1 twill Z", 4),
}


def velvet(row: Row) -> Construction:
    ground, piles = VELVETS[row["id"]]
    warp, weft = (
        Yarn(linear_density_tex=row[f"{way}_tex"], fibre="cotton") for way in ("warp", "weft")
    )
    return construction(
        warp=threads(row["ends_per_cm"], crimp_pct=None, yarns={"A": warp}),
        weft=threads(row["picks_per_cm"], crimp_pct=None, yarns={"A": weft}),
        weave=weft_pile(parse_weave(ground), piles=piles),
        layers=Layers(ends="G", picks=f"G {piles}P", pile=("P",)),
        width_cm=61.0,
        reed=Reed(),
    )


def velvet_loom() -> Loom:
    return loom(
        reed_width_cm=90.0,
        min_reed_width_cm=30.0,
        picks_per_cm=Band(min=4.0, max=300.0),
        weft_tex=Band(min=5.0, max=100.0),
    )


@pytest.mark.parametrize(
    "row", [row for row in rows() if row["id"] in VELVETS], ids=lambda row: str(row["id"])
)
def test_published_velvets_are_woven(row: Row) -> None:
    answer = report(velvet(row), velvet_loom())
    assert answer.counts.errors == 0
    assert answer.cloth.tightness_pct < 80
    undeclared = report(replace(velvet(row), layers=None), velvet_loom())
    assert undeclared.cloth.tightness_pct > 110
    assert "sett.not_judged" in codes(undeclared)
    assert undeclared.counts.errors == 0


def test_the_mass_of_a_velvet_is_within_its_published_range() -> None:
    # 18 to 30 lb of 110 yd at 24 in, by changing the picks. F026, 30 to 34 lb of 104 yd at 26 in or
    # 217 to 247 g/m2, is left out: the yarn alone, straight, is 246 g/m2 at its sett in the reed.
    row = next(row for row in rows() if row["id"] == "F023")
    g_per_m2 = 453.59237 / (110 * 0.9144 * 24 * 0.0254)
    mass = report(velvet(row), velvet_loom()).cloth.mass_g_per_m2
    assert 18 * g_per_m2 < mass < 30 * g_per_m2


@pytest.mark.parametrize(("ends", "picks", "tex"), [(24.0, 62.0, 28.0), (22.0, 55.0, 36.9)])
def test_a_corduroy_is_woven(ends: float, picks: float, tex: float) -> None:
    yarns = {"A": Yarn(linear_density_tex=tex, fibre="cotton")}
    cloth = construction(
        warp=threads(ends, crimp_pct=None, yarns=yarns),
        weft=threads(picks, crimp_pct=None, yarns=yarns),
        weave=weft_pile(PLAIN, piles=2),
        layers=Layers(ends="G", picks="G 2P", pile=("P",)),
        reed=Reed(),
    )
    answer = report(cloth)
    assert answer.counts.errors == 0
    assert answer.cloth.tightness_pct < 80
    # Floats over five ends are cut in the middle.
    assert layers_of(answer)["P"].pile_height_mm == pytest.approx(10 * 5 / ends / 2, rel=1e-5)
    undeclared = replace(cloth, layers=None)
    assert severity("sett.jammed", undeclared) is None
    assert severity("sett.not_judged", undeclared) == "warning"


def seat_belt(layers: int) -> Construction:
    """320 ends of 1100 dtex in 46 mm, in so many stitched layers of 2/2 twill."""
    twills = [parse_weave("2/2 twill Z")] * layers
    letters = " ".join("ABCD"[:layers])
    stitches = [(place, place + 1) for place in range(1, layers)]
    return construction(
        warp=threads(
            320 / 4.6, crimp_pct=None, yarns={"A": Yarn(designation="1100 dtex", fibre="polyester")}
        ),
        weft=threads(
            20.0, crimp_pct=None, yarns={"A": Yarn(designation="550 dtex", fibre="polyester")}
        ),
        weave=multiple_cloth(twills, stitches=stitches),
        layers=Layers(ends=letters, picks=letters, joined=Joined.STITCHED),
        width_cm=4.6,
        reed=Reed(),
    )


def test_a_layer_says_where_it_is_set_closest() -> None:
    face = striped_weave(
        [Stripe(weave=parse_weave(name), ends=24) for name in ("8-end satin move 3", "plain")]
    )
    cloth = construction(
        weave=multiple_cloth([face, PLAIN]),
        layers=Layers(ends="1F 1B", picks="1F 1B", joined=Joined.SEPARATE),
    )
    answer = report(cloth)
    assert answer.cloth.tightest_square is None
    of_face, of_back = (layers_of(answer)[letter].tightest_square for letter in "FB")
    assert of_back is None
    assert of_face is not None
    assert 25 <= of_face.first_end < of_face.last_end <= 48


@pytest.mark.slow
@pytest.mark.parametrize(("layers", "verdict"), [(2, "warning"), (3, None), (4, None)])
def test_a_seat_belt_is_judged_in_as_many_layers_as_have_room(
    layers: int, verdict: str | None
) -> None:
    on = loom(reed_width_cm=12.0, min_reed_width_cm=2.0)
    assert severity("sett.not_judged", seat_belt(layers), on) == verdict
    assert severity("sett.jammed", seat_belt(layers), on) is None


class TestOneSystemOfPicks:
    """A seat belt of 320 ends of 1100 dtex in 46 mm, in 2/2 twill with 7 picks per cm."""

    ON: Final = loom(reed_width_cm=12.0, min_reed_width_cm=2.0)

    def belt(self, ends: str = "", weave: str = "2/2 twill Z") -> Construction:
        layers = Layers(ends=ends, picks="A", joined=Joined.STITCHED) if ends else None
        belt = replace(seat_belt(3), weave=parse_weave(weave), layers=layers)
        return replace(belt, weft=replace(belt.weft, threads_per_cm=7.0))

    def test_undeclared_it_is_not_judged(self) -> None:
        found = finding("sett.not_judged", self.belt(), self.ON)
        assert found is not None
        assert found.message_key == "sett.not_judged.on_levels"
        assert found.message.startswith("The ends side by side take 260 % of their room")
        said = {severity(code, self.belt(), self.ON) for code in ("sett.jammed", "sett.open")}
        assert said == {None}

    def test_with_more_picks_the_interlacings_jam_it(self) -> None:
        for belt in (self.belt(), self.belt("A B")):
            close = replace(belt, weft=replace(belt.weft, threads_per_cm=40.0))
            assert severity("sett.jammed", close, self.ON) == "error"

    def test_more_than_in_published_webbing_is_none(self) -> None:
        # 268, 273 and 299 %; filaments that are packed as closely as assumed values allow are 7 %
        # thinner, with which 273 % would not pass the 270 %.
        ends_per_cm = self.belt().warp.threads_per_cm
        for times, verdict in ((1.03, None), (1.05, "warning"), (1.15, "error")):
            crammed = threads(times * ends_per_cm, crimp_pct=None, yarns=self.belt().warp.yarns)
            close = replace(self.belt(), warp=crammed)
            assert severity("sett.jammed", close, self.ON) == verdict
            assert (severity("sett.not_judged", close, self.ON) is None) == (verdict is not None)

    def test_twin_picks_of_one_shed_leave_the_room_of_one(self) -> None:
        once = parse_weave("2/2 twill Z").matrix.tolist()
        twice = Weave.from_rows(["".join(map(str, row)) for row in once for _ in range(2)])
        fine = {"A": Yarn(designation="550 dtex", fibre="polyester filament")}
        for ends in ("", "1A 1B 1C"):
            belt = self.belt(ends)
            weft = replace(belt.weft, yarns=fine, threads_per_cm=10.0)
            assert severity("sett.jammed", replace(belt, weft=weft, weave=twice), self.ON) is None
            folded = replace(weft, yarns={"A": Yarn(designation="550 dtex x 2", fibre="polyester")})
            one = replace(belt, weft=replace(folded, threads_per_cm=5.0))
            assert severity("sett.jammed", one, self.ON) is None

    def test_one_layer_declared_is_none(self) -> None:
        one = replace(self.belt(), layers=Layers(ends="A", picks="A"))
        assert report(one, self.ON).findings == report(self.belt(), self.ON).findings

    @pytest.mark.slow
    @pytest.mark.parametrize(("ends", "too_few"), [("A B", True), ("A B C", False)])
    def test_layers_of_ends_with_the_same_picks_are_set_each_by_itself(
        self, ends: str, too_few: bool
    ) -> None:
        answer = report(self.belt(ends), self.ON)
        assert not {"layers.contradicted", "sett.jammed", "sett.open"} & set(codes(answer))
        found = finding("sett.not_judged", self.belt(ends), self.ON)
        assert (found is not None) == too_few
        if found is not None:
            assert found.message_key == "sett.not_judged.on_more_levels"
            assert found.message.startswith("The ends of layer A side by side take 130 %")
            assert found.pointer == "/construction/layers"
        assert answer.layers is not None
        assert (answer.layers.stitches_per_repeat, answer.layers.stitches_per_cm2) == (None, None)
        for layer in layers_of(answer).values():
            assert layer.ends_per_cm == pytest.approx(320 / 4.6 / len(ends.split()), rel=1e-5)

    @pytest.mark.slow
    @pytest.mark.parametrize("letters", ["", "A B", "A B C"])
    def test_letters_make_no_layers_where_picks_leave_no_room_to_pass(self, letters: str) -> None:
        cotton = {"A": Yarn(designation="Ne 40", fibre="cotton")}
        shirting = replace(
            self.belt(letters),
            warp=threads(140.0, yarns=cotton),
            weft=threads(40.0, yarns=cotton),
            width_cm=10.0,
        )
        assert severity("sett.jammed", shirting, self.ON) == "error"
        assert report(shirting, self.ON).cloth.tightness_pct == pytest.approx(201, abs=0.1)

    @pytest.mark.slow
    @pytest.mark.parametrize("weave", ["plain", "2/2 hopsack", "2/2 warp rib"])
    def test_ends_that_do_not_pass_one_another_are_no_layers(self, weave: str) -> None:
        assert severity("layers.contradicted", self.belt("A B", weave), self.ON) == "error"


@pytest.mark.slow
class TestColumns:
    def orders(self) -> list[Construction]:
        velvets = [velvet(row) for row in rows() if row["id"] in VELVETS]
        return [
            construction(),
            double_cloth(Joined.SEPARATE),
            double_cloth(Joined.STITCHED),
            double_cloth(Joined.STITCHED, (1, 2), repeat=16),
            double_cloth(Joined.SEPARATE, (1, 2), repeat=16),
            double_cloth(Joined.INTERCHANGING),
            terry(),
            terry(length_m=None),
            *velvets,
            seat_belt(2),
            seat_belt(4),
        ]

    def test_layered_orders_are_judged_like_pairs(self) -> None:
        orders, looms = self.orders(), [loom(), velvet_loom()]
        judged = judge_columns(orders, looms, numbers=NUMBERS)
        assert not judged.refused
        for i, order in enumerate(orders):
            for j, machine in enumerate(looms):
                fit = judge(order, machine)
                expected: dict[str, int] = {}
                for seen in observe(fit):
                    rank = SEVERITY_RANKS[seen.severity]
                    expected[seen.code] = max(expected.get(seen.code, 0), rank)
                found = {
                    code.value: int(rank)
                    for code, rank in zip(judged.codes, judged.severities[i, j], strict=True)
                    if rank
                }
                assert found == expected
                for name in ("tightness_pct", "reed_width_cm", "longest_float_mm"):
                    number = getattr(fit.cloth.numbers, name)
                    assert judged.numbers[name][i, j] == pytest.approx(number, rel=1e-12)
                for name in ("warp_length_m", "beam_capacity_m"):
                    number = getattr(fit.numbers, name)
                    assert judged.numbers[name][i, j] == pytest.approx(number, rel=1e-12)

    def test_a_layered_cloth_is_judged_on_many_looms_as_on_each(self) -> None:
        looms = [resolve_loom(machine) for machine in (loom(), velvet_loom())]
        for order in self.orders():
            cloth = cloth_facts(order)
            for limits, pair in zip(looms, judge_on_looms(cloth, looms), strict=True):
                assert pair is not None
                alone = observe(fit_cloth(cloth, limits))
                assert [(each.code, each.actual) for each in pair.found] == [
                    (each.code, each.actual) for each in alone
                ]
                if "layers.contradicted" in {each.code for each in pair.found}:
                    assert pair.words.weave.contradiction is not None


@pytest.mark.slow
@share_of_examples(0.25)
@given(trade_orders, trade_looms)
def test_one_layer_for_all_threads_changes_no_figure(order: Construction, machine: Loom) -> None:
    # Remedies do not try another weave where layers are declared.
    before = assess(order, machine, remedies=False)
    in_one = replace(order, layers=Layers(ends="F", picks="F"))
    after = assess(in_one, machine, remedies=False)
    assert after.findings == before.findings
    assert after.cloth == before.cloth
    assert (after.rates, after.setup, after.yarn) == (before.rates, before.setup, before.yarn)
