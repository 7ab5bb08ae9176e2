"""The warp of every group of ends on the beams of a loom, reckoned by hand."""

from __future__ import annotations

from dataclasses import replace
from math import pi
from typing import Any

import pytest
from builders import COTTON_20_TEX, construction, finding, loom, report, severity, threads, weave

from weavability.answers.columns import judge_columns
from weavability.answers.report import Report, WarpGroupSummary
from weavability.answers.validation import judge
from weavability.looms.loom import BeamArrangement, Loom, WarpBeam
from weavability.looms.loom_limits import resolve_loom
from weavability.textiles.assumptions import Ledger
from weavability.textiles.basic_weaves import multiple_cloth
from weavability.textiles.cloth import cloth_facts
from weavability.textiles.construction import (
    Allowances,
    Construction,
    Joined,
    Layers,
    Reed,
    Selvedge,
    WarpGroup,
)
from weavability.textiles.errors import InputError
from weavability.textiles.layered_cloth import LayerFacts
from weavability.textiles.notation import parse_weave
from weavability.textiles.stripes import Stripe, striped_weave
from weavability.textiles.yarns import Yarn

NO_SIZE = Allowances(size_pct=0.0, loom_waste_m=4.6)
STACKED = BeamArrangement.STACKED
ABREAST = BeamArrangement.ABREAST
ONE = BeamArrangement.ONE


def with_beams(**stated: Any) -> Loom:
    return loom(warp_beam=WarpBeam(flange_diameter_cm=100, barrel_diameter_cm=20, **stated))


def two_warps(
    *, pile_ratio: float | None = None, b: Yarn = COTTON_20_TEX, **changes: Any
) -> Construction:
    """3840 ends of 20 tex, two of three on the ground beam, in cotton without size."""
    beams = (
        WarpGroup(name="ground", yarns=("A",)),
        WarpGroup(name="other", yarns=("B",), pile_ratio=pile_ratio),
    )
    warp = threads(24.0, yarns={"A": COTTON_20_TEX, "B": b}, order="2A B", beams=beams)
    return construction(warp=warp, allowances=NO_SIZE, **changes)


def rows(answer: Report) -> dict[str, WarpGroupSummary]:
    return {row.name: row for row in answer.warp.beams}


def capacity_m(ends: int, tex: float, *, width_cm: float, density: float = 0.5) -> float:
    grams = pi / 4 * (98**2 - 20**2) * width_cm * density
    return grams / (ends * tex) * 1000


class TestArrangement:
    @pytest.mark.parametrize(
        ("stated", "arrangement", "width_cm", "abreast", "let_offs"),
        [
            ({}, ONE, 190, 1, 1),
            ({"count": 1}, ONE, 190, 1, 1),
            ({"count": 2}, ABREAST, 95, 2, 1),
            ({"count": 4}, ABREAST, 47.5, 4, 1),
            ({"arrangement": ABREAST}, ABREAST, 95, 2, 1),
            ({"arrangement": STACKED}, STACKED, 190, 1, 2),
            ({"count": 3, "arrangement": STACKED}, STACKED, 190, 1, 3),
            # Two beams as wide as the reed have no room side by side.
            ({"count": 2, "width_cm": 190.0}, STACKED, 190, 1, 2),
            ({"count": 2, "width_cm": 92.0}, ABREAST, 92, 2, 1),
        ],
    )
    def test_what_is_not_stated_follows_from_the_rest(
        self,
        stated: dict[str, Any],
        arrangement: BeamArrangement,
        width_cm: float,
        abreast: int,
        let_offs: int,
    ) -> None:
        beams = resolve_loom(with_beams(**stated)).beams
        assert (beams.arrangement, beams.width_cm) == (arrangement, width_cm)
        assert (beams.abreast, beams.let_offs) == (abreast, let_offs)

    @pytest.mark.parametrize(
        ("stated", "pointer"),
        [
            ({"count": 2, "arrangement": ONE}, "/warp_beam/count"),
            ({"count": 1, "arrangement": STACKED}, "/warp_beam/count"),
            ({"count": 1, "arrangement": ABREAST}, "/warp_beam/count"),
            ({"count": 2, "arrangement": ABREAST, "width_cm": 190.0}, "/warp_beam/width_cm"),
        ],
    )
    def test_a_contradiction_is_refused_at_its_field(
        self, stated: dict[str, Any], pointer: str
    ) -> None:
        with pytest.raises(InputError) as refused:
            resolve_loom(with_beams(**stated))
        assert [fault.pointer for fault in refused.value.faults] == [pointer]

    def test_an_arrangement_and_width_that_are_assumed_are_listed_with_their_band(self) -> None:
        lines = {line.pointer: line for line in resolve_loom(with_beams(count=2)).assumptions}
        assert lines["/warp_beam/arrangement"].value == ABREAST
        assert lines["/warp_beam/arrangement"].grade == "common_practice"
        width = lines["/warp_beam/width_cm"]
        assert width.band is not None
        assert (width.value, width.band.low, width.band.high) == (95, 90.25, 99.75)

    @pytest.mark.parametrize("count", [1, 2, 4])
    def test_beams_abreast_hold_as_much_as_one_of_the_width_of_the_reed(self, count: int) -> None:
        answer = report(construction(allowances=NO_SIZE), with_beams(count=count))
        expected = capacity_m(3840, 20, width_cm=190)
        assert answer.warp.beam_capacity_m == pytest.approx(expected, rel=1e-5)

    def test_beams_abreast_of_a_stated_width_hold_what_both_do(self) -> None:
        answer = report(construction(allowances=NO_SIZE), with_beams(count=2, width_cm=92.0))
        expected = capacity_m(3840, 20, width_cm=184)
        assert answer.warp.beam_capacity_m == pytest.approx(expected, rel=1e-5)

    def test_a_stacked_beam_that_an_order_leaves_empty_holds_nothing(self) -> None:
        one = report(construction(), with_beams(count=1)).warp
        assert report(construction(), with_beams(count=2, arrangement=STACKED)).warp == one

    def test_stacked_beams_are_no_wider_together_than_one(self) -> None:
        stacked = with_beams(count=2, arrangement=STACKED, width_cm=150.0)
        abreast = with_beams(count=2, arrangement=ABREAST, width_cm=90.0)
        assert severity("warp.beam_width", construction(), stacked) == "error"
        assert severity("warp.beam_width", construction(), abreast) is None


class TestGroups:
    def test_each_group_has_length_capacity_and_mass_of_its_own(self) -> None:
        answer = report(two_warps(pile_ratio=4.0), with_beams(count=2, arrangement=STACKED))
        ground, pile = rows(answer)["ground"], rows(answer)["other"]
        assert (ground.ends, pile.ends) == (2560, 1280)
        assert (ground.take_up, pile.take_up) == (1.05, 4.0)
        assert ground.length_m == pytest.approx(3000 * 1.05 + 4.6)
        assert pile.length_m == pytest.approx(3000 * 4 + 4.6)
        assert ground.beam_capacity_m == pytest.approx(capacity_m(2560, 20, width_cm=190), rel=1e-5)
        assert pile.beam_capacity_m == pytest.approx(capacity_m(1280, 20, width_cm=190), rel=1e-5)
        assert pile.mass_kg == pytest.approx(1280 * 20 * (3000 * 4 + 4.6) / 1e6, rel=1e-5)
        assert pile.cloth_per_beam_m == pytest.approx((pile.beam_capacity_m - 4.6) / 4, rel=1e-5)
        assert answer.warp.mass_kg == pytest.approx(ground.mass_kg + pile.mass_kg, rel=1e-5)
        assert answer.warp.length_m == ground.length_m
        assert answer.warp.days_between_warps == pile.days_between_beams

    def test_the_pile_beam_is_changed_more_often(self) -> None:
        order = two_warps(pile_ratio=10.0, length_m=6000.0)
        answer = report(order, with_beams(count=2, arrangement=STACKED))
        found = finding("warp.beam_capacity", order, with_beams(count=2, arrangement=STACKED))
        assert (rows(answer)["ground"].beams_needed, rows(answer)["other"].beams_needed) == (1, 3)
        assert rows(answer)["other"].knots == 3 * 1280
        assert answer.warp.knots == 2560 + 3 * 1280
        assert found is not None
        assert found.message_key == "warp.beam_capacity.of_group"
        assert "warp other" in found.message

    def test_groups_of_one_take_up_share_the_only_beam(self) -> None:
        shared = report(two_warps(), with_beams(count=1))
        alone = report(
            construction(warp=replace(two_warps().warp, beams=()), allowances=NO_SIZE),
            with_beams(count=1),
        )
        for row in shared.warp.beams:
            assert row.beam_capacity_m == alone.warp.beam_capacity_m
        assert shared.warp.knots == alone.warp.knots
        assert [each.warps for each in shared.setup.beams] == [("ground", "other")]

    def test_the_density_of_a_beam_is_that_of_its_yarn_unless_it_is_stated(self) -> None:
        polyester = Yarn(designation="200 dtex f 36", fibre="polyester")
        stacked = with_beams(count=2, arrangement=STACKED)
        order = two_warps(b=polyester)
        by_kind = rows(report(order, stacked))
        assert by_kind["ground"].density_g_per_cm3 == 0.5
        assert by_kind["other"].density_g_per_cm3 == pytest.approx(0.57 * 1.39)
        stated = replace(
            order.warp,
            beams=(order.warp.beams[0], replace(order.warp.beams[1], density_g_per_cm3=0.7)),
        )
        by_group = rows(report(replace(order, warp=stated), stacked))
        assert by_group["other"].density_g_per_cm3 == 0.7
        loom_states = with_beams(count=2, arrangement=STACKED, density_g_per_cm3=0.6)
        by_loom = rows(report(replace(order, warp=stated), loom_states))
        assert [by_loom[name].density_g_per_cm3 for name in ("ground", "other")] == [0.6, 0.7]

    def test_selvedge_ends_are_wound_with_the_group_of_their_yarn(self) -> None:
        order = two_warps(selvedge=Selvedge(ends_per_side=30, yarn="B"), reed=Reed(ends_per_dent=2))
        answer = report(order, with_beams(count=2, arrangement=STACKED))
        assert rows(answer)["other"].ends == 1280 + 60
        assert rows(answer)["other"].beam_capacity_m == pytest.approx(
            capacity_m(1340, 20, width_cm=190), rel=1e-5
        )

    def test_slack_ends_have_a_length_of_their_own(self) -> None:
        """A seersucker: its slack stripes take up 20 % more than the ground."""
        slack = replace(COTTON_20_TEX, crimp_pct=25.0)
        stacked = with_beams(count=2, arrangement=STACKED)
        answer = report(two_warps(b=slack), stacked)
        assert rows(answer)["other"].length_m == pytest.approx(3000 * 1.25 + 4.6)
        assert rows(answer)["ground"].length_m == pytest.approx(3000 * 1.05 + 4.6)
        assert severity("warp.second_warp", two_warps(b=slack), stacked) is None
        one_let_off = report(two_warps(b=slack), with_beams(count=1))
        assert severity("warp.second_warp", two_warps(b=slack), with_beams(count=1)) == "error"
        assert rows(one_let_off)["other"].length_m == pytest.approx(3000 * 1.25 + 4.6)
        one_beam = replace(two_warps(b=slack), warp=replace(two_warps(b=slack).warp, beams=()))
        found = finding("warp.second_warp", one_beam, with_beams(count=1))
        assert found is not None
        assert "above 4, the most in warp B: " in found.message

    def test_a_seersucker_without_slack_ends_is_flat_cloth(self) -> None:
        named = Ledger()
        plain = parse_weave("seersucker", ledger=named)
        order = construction(weave=plain, weave_notes=tuple(named))
        found = finding("warp.second_warp", order, with_beams(count=1))
        assert found is not None
        assert (found.severity, found.pointer) == ("warning", "/construction/warp/beams")
        assert "names seersucker and states one warp" in found.message
        slack = two_warps(b=replace(COTTON_20_TEX, crimp_pct=25.0), weave_notes=order.weave_notes)
        assert severity("warp.second_warp", slack, with_beams(count=2, arrangement=STACKED)) is None


def plain_and_satin(*, second: str = "5-end satin move 2", **warp: Any) -> Construction:
    """Stripes of 40 ends of plain on one beam and 40 ends of another weave on another."""
    stripes = [Stripe(weave=parse_weave(name), ends=40) for name in ("plain", second)]
    beams = (WarpGroup(name="plain", yarns=("A",)), WarpGroup(name="other", yarns=("B",)))
    yarns = {"A": COTTON_20_TEX, "B": COTTON_20_TEX}
    striped = threads(28.0, crimp_pct=None, yarns=yarns, order="40A 40B", beams=beams)
    return construction(
        warp=replace(striped, **warp),
        weft=threads(22.0, crimp_pct=None),
        weave=striped_weave(stripes),
    )


def uneven_double(
    face_pct: float | None = None,
    back_pct: float | None = None,
    weft_pct: float | None = None,
    *,
    on_beams: bool = True,
) -> Construction:
    """Two ends of a fine plain face over one of a coarse plain back."""
    face = Yarn(designation="Ne 30", fibre="cotton", crimp_pct=face_pct)
    back = Yarn(designation="Ne 20", fibre="cotton", crimp_pct=back_pct)
    beams = (WarpGroup(name="face", yarns=("F",)), WarpGroup(name="back", yarns=("B",)))
    warp = threads(60.0, crimp_pct=None, yarns={"F": face, "B": back}, order="2F 1B")
    rows = ("100100", "010010", "111110", "100100", "010010", "110111")
    return construction(
        warp=replace(warp, beams=beams if on_beams else ()),
        weft=threads(
            45.0, crimp_pct=weft_pct, yarns={"A": Yarn(designation="Ne 30", fibre="cotton")}
        ),
        weave=weave(*rows),
        layers=Layers(ends="2F 1B", picks="2F 1B", joined=Joined.SEPARATE),
    )


def crimps_of(layer: LayerFacts) -> tuple[float, float]:
    assert layer.grey is not None
    return layer.grey.warp_crimp_pct, layer.grey.weft_crimp_pct


class TestCrimpOfGroups:
    def test_each_stripe_takes_up_as_a_cloth_of_its_weave_does(self) -> None:
        facts = cloth_facts(plain_and_satin())
        for key, name in (("A", "plain"), ("B", "5-end satin move 2")):
            alone = cloth_facts(replace(plain_and_satin(), weave=parse_weave(name)))
            # A stripe has two edges, at which its weave meets another.
            own_pct = facts.warp.crimps_pct[key]
            assert own_pct == pytest.approx(alone.warp.crimps_pct[key], rel=0.03)

    def test_their_mean_is_the_crimp_of_the_whole_warp(self) -> None:
        groups = cloth_facts(plain_and_satin())
        whole = plain_and_satin(beams=())
        assert groups.warp.crimp_pct == pytest.approx(cloth_facts(whole).warp.crimp_pct, abs=0.006)
        assert groups.weft.crimp_pct == cloth_facts(whole).weft.crimp_pct
        assert groups.warp.crimp_pct == sum(groups.warp.crimps_pct.values()) / 2

    def test_each_beam_has_the_length_of_its_own_take_up(self) -> None:
        stacked = report(plain_and_satin(), with_beams(count=2, arrangement=STACKED))
        crimps = cloth_facts(plain_and_satin()).warp.crimps_pct
        for name, key in (("plain", "A"), ("other", "B")):
            assert rows(stacked)[name].take_up == pytest.approx(1 + crimps[key] / 100, abs=1e-4)
        shared = report(plain_and_satin(), with_beams(count=1))
        assert len({row.take_up for row in shared.warp.beams}) == 1

    def test_what_is_estimated_of_a_group_is_listed_for_its_yarns_and_can_be_stated(self) -> None:
        order = plain_and_satin()
        facts = cloth_facts(order)
        lines = {line.pointer: line for line in facts.assumptions}
        assert "/warp/crimp_pct" not in lines
        plain, other = (lines[f"/warp/yarns/{key}/crimp_pct"] for key in "AB")
        assert (plain.value, other.value) == tuple(facts.warp.crimps_pct.values())
        assert "ends of plain" in plain.reason
        yarns = {key: replace(COTTON_20_TEX, crimp_pct=facts.warp.crimps_pct[key]) for key in "AB"}
        again = cloth_facts(plain_and_satin(yarns=yarns))
        assert again.numbers.warp_crimp_pct == pytest.approx(facts.numbers.warp_crimp_pct)
        assert again.weft.crimp_pct == pytest.approx(facts.weft.crimp_pct, abs=0.01)

    def test_a_stated_crimp_stays_and_the_other_group_has_its_estimate(self) -> None:
        yarns = {"A": replace(COTTON_20_TEX, crimp_pct=9.0), "B": COTTON_20_TEX}
        found = cloth_facts(plain_and_satin(yarns=yarns)).warp.crimps_pct
        # The satin takes up as satin does, whatever is known of the plain beside it.
        assert found == {"A": 9.0, "B": cloth_facts(plain_and_satin()).warp.crimps_pct["B"]}

    def test_a_stated_crimp_that_is_the_estimate_changes_nothing(self) -> None:
        before = cloth_facts(plain_and_satin())
        for key, other in ("AB", "BA"):
            known = replace(COTTON_20_TEX, crimp_pct=before.warp.crimps_pct[key])
            after = cloth_facts(plain_and_satin(yarns={key: known, other: COTTON_20_TEX}))
            assert after.warp.crimps_pct == before.warp.crimps_pct
            assert after.weft.crimp_pct == pytest.approx(before.weft.crimp_pct, abs=0.011)
            assert after.warp.crimp_pct == pytest.approx(before.warp.crimp_pct)

    def test_a_stated_crimp_is_compared_with_the_estimate_of_its_own_ends(self) -> None:
        fine = Yarn(designation="Ne 40", fibre="cotton")

        def striped(**crimps_pct: float) -> Construction:
            yarns = {key: replace(fine, crimp_pct=crimps_pct.get(key)) for key in "AB"}
            order = plain_and_satin(yarns=yarns, threads_per_cm=48.0)
            return replace(order, weft=threads(30.0, crimp_pct=None, yarns={"A": fine}))

        estimates = cloth_facts(striped()).warp.crimps_pct
        loom = with_beams(count=2, arrangement=STACKED)
        of_satin = striped(B=estimates["B"])
        assert finding("contraction.implausible", of_satin, loom) is None
        found = finding("contraction.implausible", striped(A=1.0), loom)
        assert found is not None
        assert f"about {estimates['A']:.0f} %" in found.message
        assert "warp A" in found.message

    def test_coarser_ends_take_up_more(self) -> None:
        coarse = Yarn(designation="60 tex", fibre="cotton")
        order = plain_and_satin(second="plain", yarns={"A": COTTON_20_TEX, "B": coarse})
        found = cloth_facts(order).warp.crimps_pct
        assert found["B"] > found["A"]

    def test_ends_in_turn_of_one_weave_take_up_alike(self) -> None:
        order = plain_and_satin(second="plain", order="1A 1B")
        assert len(set(cloth_facts(order).warp.crimps_pct.values())) == 1

    def test_layers_on_beams_of_their_own_take_up_as_each_layer_does(self) -> None:
        double = multiple_cloth([parse_weave("plain"), parse_weave("2/2 twill Z")])
        order = replace(
            plain_and_satin(order="A B"),
            weave=double,
            layers=Layers(ends="F B", picks="F B", joined=Joined.SEPARATE),
        )
        facts = cloth_facts(order)
        face, back = (layer.grey for layer in facts.layers)
        assert face is not None
        assert back is not None
        crimps = facts.warp.crimps_pct
        assert crimps["A"] == pytest.approx(face.warp_crimp_pct, abs=0.02)
        assert crimps["B"] == pytest.approx(back.warp_crimp_pct, abs=0.02)

    @pytest.mark.parametrize("on_beams", [True, False])
    def test_stating_the_estimate_of_layers_changes_nothing(self, on_beams: bool) -> None:
        before = cloth_facts(uneven_double(on_beams=on_beams))
        face, back = before.warp.crimps_pct.values()
        weft = before.weft.crimp_pct
        for stated in ((face, back, None), (face, None, None), (None, back, weft)):
            after = cloth_facts(uneven_double(*stated, on_beams=on_beams))
            assert after.warp.crimps_pct == pytest.approx(before.warp.crimps_pct, abs=0.011)
            assert after.weft.crimp_pct == pytest.approx(weft, abs=0.011)
            for layer, was in zip(after.layers, before.layers, strict=True):
                assert crimps_of(layer) == pytest.approx(crimps_of(was), abs=0.011)

    def test_a_crimp_that_is_stated_of_a_layer_is_its_own(self) -> None:
        facts = cloth_facts(uneven_double(None, 12.0))
        of_face, of_back = (crimps_of(layer) for layer in facts.layers)
        before = cloth_facts(uneven_double())
        assert of_back[0] == 12.0
        assert of_face[0] == facts.warp.crimps_pct["F"] == before.warp.crimps_pct["F"]
        # The back bends its own picks less, and no others.
        assert facts.weft.crimp_pct < before.weft.crimp_pct

    @pytest.mark.slow
    def test_a_finding_on_layers_names_the_layer(self) -> None:
        double = uneven_double()
        close = replace(double, warp=replace(double.warp, threads_per_cm=110.0))
        for code, words in (
            ("sett.jammed", "Layer F is set to"),
            ("sett.warp_crowding", "The ends of layer F side by side fill"),
        ):
            found = finding(code, close, loom())
            assert found is not None
            assert found.message.startswith(words)

    def test_columns_find_the_same_lengths(self) -> None:
        orders = [construction(), plain_and_satin(), two_warps(pile_ratio=4.0)]
        orders += [uneven_double(), uneven_double(None, 12.0), uneven_double(9.0, on_beams=False)]
        looms = [with_beams(count=2, arrangement=STACKED), with_beams(count=1)]
        judged = judge_columns(orders, looms, numbers=["warp_length_m"])
        for row, order in enumerate(orders):
            for column, on in enumerate(looms):
                length_m = judge(order, on).numbers.warp_length_m
                assert judged.numbers["warp_length_m"][row, column] == length_m


class TestSetUp:
    def test_beams_abreast_deal_the_ends_between_them(self) -> None:
        answer = report(construction(width_cm=160.0), with_beams(count=7, arrangement=ABREAST))
        ends = [each.ends for each in answer.setup.beams]
        assert sum(ends) == answer.setup.total_ends == 3840
        assert (len(ends), max(ends) - min(ends)) == (7, 1)

    def test_stacked_beams_have_a_group_each(self) -> None:
        answer = report(two_warps(pile_ratio=4.0), with_beams(count=2, arrangement=STACKED))
        lines = [(each.beam, each.warps, each.ends) for each in answer.setup.beams]
        assert lines == [(1, ("ground",), 2560), (2, ("other",), 1280)]
        assert answer.setup.beams[1].ends_per_cm == pytest.approx(1280 / 190, rel=1e-5)
        assert answer.setup.beam_arrangement == STACKED

    def test_slack_ends_have_a_beam_apart_from_those_that_take_up_alike(self) -> None:
        slack = replace(COTTON_20_TEX, crimp_pct=30.0)
        yarns = {"A": COTTON_20_TEX, "B": COTTON_20_TEX, "S": slack}
        beams = tuple(WarpGroup(name=f"beam {key}", yarns=(key,)) for key in yarns)
        warp = threads(24.0, crimp_pct=None, yarns=yarns, order="8A 8B 8S", beams=beams)
        answer = report(construction(warp=warp), with_beams(count=2, arrangement=STACKED))
        assert [each.warps for each in answer.setup.beams] == [("beam A", "beam B"), ("beam S",)]
        assert rows(answer)["beam S"].take_up == pytest.approx(1.3)

    def test_a_stated_crimp_within_the_band_of_the_others_is_no_take_up_of_its_own(self) -> None:
        estimate = cloth_facts(plain_and_satin()).warp.crimps_pct["B"]
        yarns = {"A": COTTON_20_TEX, "B": replace(COTTON_20_TEX, crimp_pct=estimate)}
        for order in (plain_and_satin(), plain_and_satin(yarns=yarns)):
            assert severity("warp.second_warp", order, with_beams(count=1)) == "warning"

    def test_a_loom_that_cannot_let_them_off_is_not_set_up(self) -> None:
        assert report(two_warps(pile_ratio=4.0), with_beams(count=1)).setup.beams == ()


class TestSecondWarp:
    @pytest.mark.parametrize(
        ("stated", "expected"),
        [
            ({"count": 1}, "error"),
            ({"count": 2, "arrangement": ABREAST}, "error"),
            ({"count": 2, "arrangement": STACKED}, None),
            # An arrangement or a number that is only assumed rejects nothing.
            ({"count": 2}, "warning"),
            ({}, "warning"),
        ],
    )
    def test_unequal_ratios_need_let_offs_of_their_own(
        self, stated: dict[str, Any], expected: str | None
    ) -> None:
        found = severity("warp.second_warp", two_warps(pile_ratio=4.0), with_beams(**stated))
        assert found == expected

    @pytest.mark.parametrize(
        ("stated", "words"),
        [
            ({"count": 1}, "only one beam"),
            ({"count": 2, "arrangement": ABREAST}, "beams abreast are let off at one speed"),
            ({"count": 2, "arrangement": STACKED}, "state warp.beams"),
        ],
    )
    def test_the_finding_says_what_the_loom_has(self, stated: dict[str, Any], words: str) -> None:
        slack = replace(COTTON_20_TEX, crimp_pct=25.0)
        order = replace(two_warps(b=slack), warp=replace(two_warps(b=slack).warp, beams=()))
        found = finding("warp.second_warp", order, with_beams(**stated))
        assert found is not None
        assert words in found.message
