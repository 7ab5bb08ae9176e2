"""Size, tension, thickness and density on the beam, as they follow from the yarns of an order."""

from __future__ import annotations

from dataclasses import replace
from math import hypot

import pytest
from builders import COTTON_20_TEX, construction, finding, loom, report, severity, threads

from weavability.answers.validation import judge
from weavability.looms.loom import Loom, WarpBeam, WarpStrain
from weavability.textiles.assumptions import Assumption, ValueBand
from weavability.textiles.construction import Allowances, Construction
from weavability.textiles.errors import InputError
from weavability.textiles.yarns import Yarn


def woven(yarn: Yarn, **changes: object) -> Construction:
    """The plain cloth with a warp of another yarn."""
    return construction(warp=threads(24.0, yarns={"A": yarn}), **changes)


def assumed(cloth: Construction, pointer: str, on: Loom | None = None) -> Assumption:
    (line,) = (line for line in report(cloth, on).assumptions if line.pointer == pointer)
    return line


SIZE = "/construction/allowances/size_pct"


def test_cotton_singles_get_a_tenth_of_size_in_mass_and_beam() -> None:
    plain, bare = report(), report(construction(allowances=Allowances(size_pct=0.0)))
    assert assumed(construction(), SIZE).value == 10.0
    assert assumed(construction(), SIZE).band == ValueBand(8.0, 14.0)
    assert plain.warp.mass_kg == pytest.approx(1.1 * bare.warp.mass_kg, rel=1e-4)
    assert plain.warp.size_kg == pytest.approx(0.1 * bare.warp.mass_kg, rel=1e-4)
    assert bare.warp.size_kg == 0.0
    assert plain.yarn[0].mass_kg == bare.yarn[0].mass_kg


def test_the_band_of_the_size_is_that_of_the_published_inventory() -> None:
    # 0.198 - 0.0004 dtex: 11.92 % at 197 dtex, as the inventory prints it.
    for dtex, add_on_pct in ((145, 14.0), (197, 11.92), (295, 8.0)):
        assert 100 * (0.198 - 0.0004 * dtex) == pytest.approx(add_on_pct, abs=1e-9)
        assert 8.0 <= add_on_pct <= 14.0


@pytest.mark.parametrize(
    "yarn",
    [
        Yarn(designation="Ne 40/2", fibre="cotton"),
        Yarn(designation="Nm 12", fibre="wool"),
        Yarn(designation="NeL 25", fibre="linen"),
        Yarn(designation="jute 8 lb", fibre="jute"),
        Yarn(designation="84 dtex f36", fibre="polyester"),
    ],
    ids=lambda yarn: yarn.designation,
)
def test_no_size_is_assumed_on_other_warps(yarn: Yarn) -> None:
    assert assumed(woven(yarn), SIZE).value == 0.0
    assert severity("warp.unsized", woven(yarn, allowances=Allowances(size_pct=0.0))) is None


def test_a_warp_that_is_stated_unsized_leaves_no_size_to_assume() -> None:
    unsized = report(woven(Yarn(designation="20 tex", fibre="cotton", sized=False)))
    assert SIZE not in {each.pointer for each in unsized.assumptions}


def test_only_the_ends_that_are_sized_carry_size() -> None:
    folded = Yarn(designation="20 tex x 3", fibre="cotton")
    stripes = threads(24.0, yarns={"A": COTTON_20_TEX, "B": folded}, order="3A 1B")
    # Three ends of 20 tex and one of 60 tex: half of the mass is sized.
    assert assumed(construction(warp=stripes), SIZE).value == 5.0


@pytest.mark.parametrize(("sized", "size_pct"), [(False, 8.0), (True, 0.0)])
def test_size_that_is_stated_twice_and_unlike_is_a_fault(sized: bool, size_pct: float) -> None:
    yarn = Yarn(designation="20 tex", fibre="cotton", sized=sized)
    with pytest.raises(InputError) as caught:
        report(woven(yarn, allowances=Allowances(size_pct=size_pct)))
    assert [fault.pointer for fault in caught.value.faults] == ["/construction/warp/yarns/A/sized"]


def test_a_weft_is_not_sized() -> None:
    sized = Yarn(designation="20 tex", fibre="cotton", sized=True)
    with pytest.raises(InputError) as caught:
        report(construction(weft=threads(22.0, yarns={"A": sized})))
    assert [fault.pointer for fault in caught.value.faults] == ["/construction/weft/yarns/A/sized"]


DETOUR_CM = hypot(25, 4) - 25 + hypot(50, 4) - 50


@pytest.mark.parametrize(
    ("strain", "base_cn", "shed_cn"),
    [
        # 20 tex of 17 cN/tex, elongation 6 %: 340 cN, modulus 283.3 cN/tex.
        (WarpStrain(), 20.4, 0.5),
        (WarpStrain(easing_pct=0.0), 20.4, 1.0),
        (WarpStrain(base_tension_pct=3.0, easing_pct=0.0), 10.2, 1.0),
        (WarpStrain(base_tension_cn_per_tex=1.0, easing_pct=0.0), 20.0, 1.0),
    ],
)
def test_the_peak_of_an_end_by_hand(strain: WarpStrain, base_cn: float, shed_cn: float) -> None:
    stretch = shed_cn * DETOUR_CM / 150 * 20 * 1700 / 6
    on, unsized = loom(warp_strain=strain), construction(allowances=Allowances(size_pct=0.0))
    found = report(unsized, on).warp.peak_tension_cn
    assert found == pytest.approx(max(base_cn + stretch, 1.5 * base_cn), rel=1e-4)
    # Size adds 30 % of strength and takes off 25 % of elongation: it is stiffer by 1.3 / 0.75.
    found = report(on=on).warp.peak_tension_cn
    assert found == pytest.approx(max(base_cn + stretch * 1.3 / 0.75, 1.5 * base_cn), rel=1e-4)


def test_a_base_tension_by_tex_and_one_by_strength_are_a_fault() -> None:
    both = WarpStrain(base_tension_cn_per_tex=1.0, base_tension_pct=6.0)
    with pytest.raises(InputError, match="once"):
        report(on=loom(warp_strain=both))


BEAM = "/loom/warp_beam/density_g_per_cm3"


@pytest.mark.parametrize(
    ("yarn", "least", "most"),
    [
        # A technologist's ranges on the beam: spun 0.50 to 0.60, polyester filament 0.75 to 0.85,
        # glass above 1.2 g/cm3; common practice, no source but for spun yarn.
        (COTTON_20_TEX, 0.50, 0.60),
        (Yarn(designation="167 dtex f48", fibre="polyester"), 0.75, 0.85),
        (Yarn(designation="68 tex", fibre="glass"), 1.2, 1.6),
    ],
    ids=lambda given: given.fibre if isinstance(given, Yarn) else "",
)
def test_density_on_the_beam_by_kind_of_yarn(yarn: Yarn, least: float, most: float) -> None:
    line = assumed(woven(yarn), BEAM)
    assert isinstance(line.value, float)
    assert least <= line.value <= most
    assert line.band is not None
    assert line.grade is not None


def test_a_stated_density_of_the_beam_holds_for_every_yarn() -> None:
    beam = WarpBeam(flange_diameter_cm=100.0, barrel_diameter_cm=20.0, density_g_per_cm3=0.5)
    on, glass = loom(warp_beam=beam), woven(Yarn(designation="20 tex", fibre="glass"))
    assert all(line.pointer != BEAM for line in report(glass, on).assumptions)
    unsized = construction(allowances=Allowances(size_pct=0.0))
    assert report(glass, on).warp.beam_capacity_m == report(unsized, on).warp.beam_capacity_m


def test_rolls_of_tape_cloth_hold_what_the_tapes_measure() -> None:
    tape = Yarn(
        designation="111 tex",
        fibre="polypropylene tape",
        tape_width_mm=2.5,
        tape_thickness_mm=0.05,
    )
    one = {"A": tape}
    cloth = construction(warp=threads(3.9, yarns=one), weft=threads(3.9, yarns=one))
    found = report(cloth)
    assert found.cloth.thickness_mm == pytest.approx(0.1)
    # pi/4 (55^2 - 15^2) cm2 of cloth that is 0.01 cm thick.
    assert found.warp.cloth_roll_capacity_m == pytest.approx(2199.11, abs=0.01)
    # In the reed it is as wide as it lies, and on the beam without gaps: 0.75 of 0.125 mm2.
    setup = found.setup
    pitch_mm = 100 / setup.reed_dents_per_10cm
    gap_mm = pitch_mm * (1 - setup.wire_share_pct / 100)
    assert setup.gap_fill_pct == pytest.approx(100 * setup.ends_per_dent * 2.5 / gap_mm, rel=1e-3)
    line = next(line for line in found.assumptions if line.pointer == BEAM)
    assert line.value == pytest.approx(0.75 * 0.111 / 0.125, abs=1e-4)
    # A knot draws it together.
    assert "reed.air_space" not in {one.code for one in found.findings}


def test_size_makes_a_yarn_stronger_and_stiffer() -> None:
    cotton = construction(warp=threads(24.0))

    def use_pct(**allowances: float) -> float:
        sized = replace(cotton, allowances=Allowances(size_pct=10.0, **allowances))
        return judge(sized, loom()).numbers.warp_strength_use_pct

    unsized = replace(cotton, allowances=Allowances(size_pct=0.0))
    bare = judge(unsized, loom()).numbers.warp_strength_use_pct
    none = use_pct(size_strength_gain_pct=0.0, size_elongation_loss_pct=0.0)
    assert none == pytest.approx(bare)
    assert use_pct(size_strength_gain_pct=25.0, size_elongation_loss_pct=0.0) < bare
    assert use_pct(size_strength_gain_pct=0.0, size_elongation_loss_pct=20.0) > bare
    assumed = {line.pointer: line.value for line in report(cotton).assumptions}
    assert assumed["/construction/allowances/size_strength_gain_pct"] == 30.0
    assert assumed["/construction/allowances/size_elongation_loss_pct"] == 25.0
    assert use_pct(size_strength_gain_pct=30.0, size_elongation_loss_pct=25.0) == use_pct()
    filament = Yarn(designation="167 dtex f48", fibre="polyester")
    for order in (unsized, woven(filament, allowances=Allowances(size_pct=10.0))):
        pointers = {line.pointer.rpartition("/")[2] for line in report(order).assumptions}
        assert not pointers & {"size_strength_gain_pct", "size_elongation_loss_pct"}


def test_a_warp_of_everyday_bast_or_woollen_yarn_gets_a_note_at_most() -> None:
    for designation, fibre in (
        ("jute 8 lb", "jute"),
        ("NeL 25", "linen"),
        ("Nm 10", "hemp"),
        ("Nm 12", "wool"),
    ):
        yarn = Yarn(designation=designation, fibre=fibre)
        cloth = construction(warp=threads(5.0, yarns={"A": yarn}))
        found = finding("warp.strength", cloth)
        assert found is None or found.severity == "note", fibre
        # None of them is sized by rule.
        assert found is None or found.message.endswith("or more. Keep the shed low."), fibre
