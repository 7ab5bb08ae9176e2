"""Every check, just inside and just outside each of its limits."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any

import pytest
from builders import (
    COTTON_20_TEX,
    construction,
    insertion,
    jacquard,
    loom,
    named,
    severity,
    shedding,
    threads,
    weave,
)

from weavability.checks.registry import all_checks
from weavability.looms.carriers import InsertionSystem
from weavability.looms.loom import Band, BeamArrangement, Insertion, Loom, SheddingKind, WarpBeam
from weavability.textiles.basic_weaves import multiple_cloth
from weavability.textiles.construction import (
    Allowances,
    DraftRequest,
    Finishing,
    Joined,
    Layers,
    PieceOrder,
    Reed,
    RequiredRange,
    Requirements,
    Selvedge,
    WarpGroup,
)
from weavability.textiles.designation_parts import TwistDirection
from weavability.textiles.weave_matrix import Weave
from weavability.textiles.yarns import Yarn


@dataclass(frozen=True)
class Limit:
    """One limit of one check: what the check says on either side of it."""

    code: str
    inside: dict[str, Any] = field(default_factory=dict)
    outside: dict[str, Any] = field(default_factory=dict)
    inside_loom: Loom | None = None
    outside_loom: Loom | None = None
    inside_says: str | None = None
    outside_says: str = "error"

    def __str__(self) -> str:
        return f"{self.code}-{self.outside_says}"


def wefts(*designations: str, fibre: str = "cotton", order: str | None = None) -> Any:
    keys = "ABCDEFGHIJKLMNOP"[: len(designations)]
    yarns = {
        key: Yarn(designation=designation, fibre=fibre)
        for key, designation in zip(keys, designations, strict=True)
    }
    return threads(22.0, yarns=yarns, order=order or " ".join(f"2{key}" for key in keys))


def columns(*ends: str) -> Weave:
    """A weave from one string an end."""
    return weave(*("".join(row) for row in zip(*ends, strict=True)))


MEASURED_COTTON = replace(COTTON_20_TEX, packing_fraction=0.6, fibre_density_g_per_cm3=1.52)
"""The same yarn, with that of which its diameter follows stated as it is assumed."""


def square(per_cm: float, yarn: Yarn = COTTON_20_TEX) -> dict[str, Any]:
    system = threads(per_cm, yarns={"A": yarn})
    return {"warp": system, "weft": system}


def warp_yarn(**stated: Any) -> dict[str, Any]:
    """A warp of one yarn that is stated."""
    return {"warp": threads(24.0, yarns={"A": Yarn(**stated)})}


def weft_yarn(**stated: Any) -> dict[str, Any]:
    """A weft of one yarn that is stated."""
    return {"weft": threads(22.0, yarns={"A": Yarn(**stated)})}


Z = TwistDirection.Z


def layered(joined: Joined, *, stitched: bool = False) -> dict[str, Any]:
    twill = named("2/2 twill Z")
    of = multiple_cloth([twill, twill], stitches=[(1, 2)] if stitched else [])
    return {"weave": of, "layers": Layers(ends="F B", picks="F B", joined=joined)}


def two_warps(*, pile_ratio: float | None = None, **changes: Any) -> dict[str, Any]:
    """Two ends of A and one of B in turn, which have beams of their own."""
    beams = (
        WarpGroup(name="ground", yarns=("A",)),
        WarpGroup(name="other", yarns=("B",), pile_ratio=pile_ratio),
    )
    yarns = {"A": COTTON_20_TEX, "B": COTTON_20_TEX}
    return {"warp": threads(24.0, yarns=yarns, order="2A B", beams=beams), **changes}


DRAWN_IN = {"finishing": Finishing(width_shrinkage_pct=20.0, length_shrinkage_pct=20.0)}
"""A cloth that elastane has drawn in."""


def shrinking(system: str, shrinkage_pct: float) -> dict[str, Any]:
    """A yarn with elastane in one system, and a shrinkage along it."""
    of_yarn = warp_yarn if system == "warp" else weft_yarn
    both = Finishing(width_shrinkage_pct=shrinkage_pct, length_shrinkage_pct=shrinkage_pct)
    return of_yarn(designation="Ne 30", fibre="97/3 cotton/elastane") | {"finishing": both}


def some_stretch_ends(*, own_beam: bool) -> dict[str, Any]:
    stretch = Yarn(designation="20 tex", fibre="97/3 cotton/elastane")
    warp = replace(two_warps()["warp"], yarns={"A": COTTON_20_TEX, "B": stretch})
    return {"warp": warp if own_beam else replace(warp, beams=()), **DRAWN_IN}


def one_crimp(system: str, crimp_pct: float) -> dict[str, Any]:
    """Plain, 36 x 36 per cm, with one crimp stated: 14.71 % is expected, within 6."""
    open_ = {"warp": threads(36.0, crimp_pct=None), "weft": threads(36.0, crimp_pct=None)}
    return {**open_, system: threads(36.0, crimp_pct=crimp_pct)}


def both_crimps(warp_pct: float) -> dict[str, Any]:
    return {"warp": threads(36.0, crimp_pct=warp_pct), "weft": threads(36.0, crimp_pct=5.0)}


def alike_crimps(pct: float) -> dict[str, Any]:
    return {"warp": threads(24.0, crimp_pct=pct), "weft": threads(24.0, crimp_pct=pct)}


def crimps_on_one_beam(a_pct: float | None, b_pct: float) -> dict[str, Any]:
    """Two yarns in turn, each with a crimp of its own."""
    yarns = {
        key: Yarn(designation="20 tex", fibre="cotton", crimp_pct=pct)
        for key, pct in (("A", a_pct), ("B", b_pct))
    }
    return {"warp": threads(24.0, yarns=yarns, order="A B", crimp_pct=None)}


def on_beams_of_their_own(a_pct: float, b_pct: float) -> dict[str, Any]:
    """The same yarns as two warps."""
    beams = (WarpGroup(name="ground", yarns=("A",)), WarpGroup(name="other", yarns=("B",)))
    return {"warp": replace(crimps_on_one_beam(a_pct, b_pct)["warp"], beams=beams)}


def with_beams(**stated: Any) -> Loom:
    return loom(warp_beam=WarpBeam(flange_diameter_cm=100, barrel_diameter_cm=20, **stated))


def required(topic: str, name: str, value: float) -> Iterator[Limit]:
    """A cloth of which every figure is stated, held against limits just beside one of them."""
    slack = 0.001 * value

    def cloth(**limits: float) -> dict[str, Any]:
        limit = RequiredRange(**limits)
        stated: Any = {name: {"polyester": limit} if name == "fibre_pct" else limit}
        blend = Yarn(designation="20 tex", fibre="60/40 polyester/cotton", diameter_mm=0.2)
        return {
            "warp": threads(24.0, yarns={"A": blend}),
            "weft": threads(22.0, yarns={"A": blend}),
            "thickness_mm": 0.3,
            "finishing": replace(construction().finishing, mass_change_pct=0.0),
            "requirements": Requirements(**stated),
        }

    for side, inward in (("min", -slack), ("max", slack)):
        yield Limit(
            f"requirement.{topic}",
            inside=cloth(**{side: value + inward}),
            outside=cloth(**{side: value - inward}),
        )


# 20 tex cotton is 0.16710 mm thick, so square plain cloth jams at 0.8660 x 2 d: 34.553 per cm.
JAM_PER_CM = 34.553

PLAIN_EDGE = Selvedge(ends_per_side=24, ends_per_dent=4, weave=named("plain"))

# Two cloths of plain, one over the other, of which every thread floats over two on average: as one
# cloth they jam at 1.3660 d, 43.81 per cm.
DOUBLE_PLAIN = weave("1000", "1110", "0010", "1011")
DOUBLE_JAM_PER_CM = 43.810

LIMITS = [
    # width: 160 cm at 5 % weft crimp takes 168 cm in the reed.
    Limit(
        "width.reed_space",
        inside_loom=loom(reed_width_cm=168.0),
        outside_loom=loom(reed_width_cm=167.9),
    ),
    Limit(
        "width.below_minimum",
        inside_loom=loom(min_reed_width_cm=168.0),
        outside_loom=loom(min_reed_width_cm=168.1),
    ),
    Limit(
        "width.reed_use_low",
        inside_loom=loom(reed_width_cm=258.0),
        outside_loom=loom(reed_width_cm=259.0),
        outside_says="note",
    ),
    # A second panel of 168 cm and a gap of 2 cm need 338 cm.
    Limit(
        "width.panels",
        inside_loom=loom(reed_width_cm=337.9),
        outside_loom=loom(reed_width_cm=338.0),
        outside_says="note",
    ),
    Limit(
        "width.panels",
        inside={"width_cm": 80.0, "panels": 1, "panel_gap_cm": 2.0},
        outside={"width_cm": 80.0, "panels": 2, "panel_gap_cm": 2.0},
        inside_loom=loom(
            insertion=Insertion(system=InsertionSystem.SHUTTLE),
            reed_width_cm=172.0 - 2.1,
            min_reed_width_cm=60.0,
        ),
        outside_loom=loom(insertion=Insertion(system=InsertionSystem.SHUTTLE)),
        outside_says="warning",
    ),
    # reed: 24 ends/cm in 160 cm are 22.857 in the reed, 114.286 dents/10 cm at 2 a dent.
    Limit(
        "reed.not_in_stock",
        inside_loom=loom(reeds_in_stock_dents_per_10cm=(116.0,)),
        outside_loom=loom(reeds_in_stock_dents_per_10cm=(116.1,)),
        outside_says="warning",
    ),
    Limit(
        "reed.sett_mismatch",
        inside={"reed": Reed(dents_per_10cm=116.0, ends_per_dent=2)},
        outside={"reed": Reed(dents_per_10cm=116.1, ends_per_dent=2)},
        outside_says="warning",
    ),
    # Five in a dent: fill = ends/cm in the reed x 0.01671 cm / (0.8 - 0.002 cm x ends/cm), so 150 %
    # at 60.9/cm, which is 63.9 in the grey, and 200 % at 77.3/cm or 81.1.
    Limit(
        "reed.air_space",
        inside={"warp": threads(63.8), "reed": Reed(ends_per_dent=5)},
        outside={"warp": threads(64.0), "reed": Reed(ends_per_dent=5)},
        outside_says="note",
    ),
    # An end that is alone in its dent, in a gap of four fifths of its 0.163 mm.
    Limit(
        "reed.air_space",
        inside={"warp": threads(35.9), "reed": Reed(ends_per_dent=1)},
        outside={"warp": threads(36.0), "reed": Reed(ends_per_dent=1)},
        inside_says="note",
        outside_says="warning",
    ),
    Limit(
        "reed.air_space",
        inside={
            "warp": threads(81.0),
            "weave": named("8-end satin move 3"),
            "reed": Reed(ends_per_dent=5),
        },
        outside={
            "warp": threads(81.2),
            "weave": named("8-end satin move 3"),
            "reed": Reed(ends_per_dent=5),
        },
        inside_says="note",
        outside_says="warning",
    ),
    # A knot of 1.75 x 0.1671 mm needs a pitch of (0.2924 + 0.1) / 0.8 mm: 203.9 dents/10 cm.
    Limit(
        "reed.air_space",
        inside={"warp": threads(42.7), "reed": Reed(ends_per_dent=2)},
        outside={"warp": threads(42.9), "reed": Reed(ends_per_dent=2)},
        outside_says="note",
    ),
    Limit(
        "reed.ends_per_dent",
        inside={"reed": Reed(ends_per_dent=5)},
        outside={"reed": Reed(ends_per_dent=6)},
        outside_says="warning",
    ),
    Limit(
        "reed.count",
        inside={"reed": Reed(dents_per_10cm=354.0, ends_per_dent=1)},
        outside={"reed": Reed(dents_per_10cm=354.1, ends_per_dent=1)},
        outside_says="warning",
    ),
    Limit(
        "reed.count",
        inside={"reed": Reed(dents_per_10cm=15.0, ends_per_dent=1)},
        outside={"reed": Reed(dents_per_10cm=14.9, ends_per_dent=1)},
        outside_says="warning",
    ),
    # shedding
    Limit(
        "shedding.shafts",
        inside={"weave": named("8-end satin move 3")},
        outside={"weave": named("8-end satin move 3")},
        inside_loom=loom(shedding=shedding(shafts=8)),
        outside_loom=loom(shedding=shedding(shafts=7)),
    ),
    Limit(
        "shedding.shafts",
        inside={"selvedge": Selvedge(ends_per_side=16, shafts=2)},
        outside={"selvedge": Selvedge(ends_per_side=16, shafts=3)},
        inside_loom=loom(shedding=shedding(shafts=4)),
        outside_loom=loom(shedding=shedding(shafts=4)),
    ),
    Limit(
        "shedding.shafts",
        inside={"draft": DraftRequest(threading=(1, 3, 2, 4))},
        outside={"draft": DraftRequest(threading=(1, 4, 2, 5, 3, 6))},
        inside_loom=loom(shedding=shedding(shafts=4)),
        outside_loom=loom(shedding=shedding(shafts=4)),
    ),
    # Plain on two shafts: 11.4286 healds/cm on each.
    Limit(
        "shedding.heald_crowding",
        inside_loom=loom(shedding=shedding(shafts=2, max_healds_per_cm_per_shaft=11.43)),
        outside_loom=loom(shedding=shedding(shafts=2, max_healds_per_cm_per_shaft=11.42)),
        outside_says="warning",
    ),
    Limit(
        "shedding.heald_crowding",
        inside_loom=loom(shedding=shedding(shafts=2, max_healds_per_cm_per_shaft=9.15)),
        outside_loom=loom(shedding=shedding(shafts=2, max_healds_per_cm_per_shaft=9.14)),
        inside_says="warning",
        outside_says="error",
    ),
    Limit(
        "shedding.healds_per_shaft",
        inside_loom=loom(shedding=shedding(shafts=4, max_healds_per_shaft=960)),
        outside_loom=loom(shedding=shedding(shafts=4, max_healds_per_shaft=959)),
    ),
    Limit(
        "shedding.repeat_picks",
        inside={"weave": named("8-end satin move 3")},
        outside={"weave": named("8-end satin move 3")},
        inside_loom=loom(shedding=shedding(kind=SheddingKind.CAM, shafts=10, max_repeat_picks=8)),
        outside_loom=loom(shedding=shedding(kind=SheddingKind.CAM, shafts=10, max_repeat_picks=7)),
    ),
    Limit(
        "shedding.repeat_picks",
        inside={"weave": named("8-end satin move 3")},
        outside={"weave": named("8-end satin move 3")},
        inside_loom=loom(shedding=shedding(max_pattern_picks=8)),
        outside_loom=loom(shedding=shedding(max_pattern_picks=7)),
    ),
    # Raised from 1 to 4 of 5 ends: a swing of 60 %; from 1 to 9 of 13: 62 %.
    Limit(
        "shedding.uneven_lift",
        inside={"weave": weave("10000", "01111", "00001", "11110")},
        outside={"weave": weave("1" + 12 * "0", "0" + 9 * "1" + "000")},
        outside_says="warning",
    ),
    # Of 4 ends 75 % are up, of 13 ends 77 %.
    Limit(
        "shedding.uneven_lift",
        inside={"weave": named("3/1 twill Z")},
        outside={"weave": named("10/3 twill Z")},
        outside_says="note",
    ),
    Limit(
        "shedding.hooks",
        inside={"weave": named("8-end satin move 3")},
        outside={"weave": named("8-end satin move 3")},
        inside_loom=jacquard(hooks=8, ends_per_hook=480),
        outside_loom=jacquard(hooks=7, ends_per_hook=600),
    ),
    Limit(
        "shedding.hooks",
        inside_loom=jacquard(hooks=960, ends_per_hook=4),
        outside_loom=jacquard(hooks=958, ends_per_hook=4),
    ),
    # Eight repeats of 27 leave 24 of 240 hooks idle (10 %), or 25 of 241 (10.4 %).
    Limit(
        "shedding.hooks_idle",
        inside={"weave": named("27-end satin move 2")},
        outside={"weave": named("27-end satin move 2")},
        inside_loom=jacquard(hooks=240, ends_per_hook=18),
        outside_loom=jacquard(hooks=241, ends_per_hook=18),
        outside_says="note",
    ),
    # 3840 ends are 168 cm in the reed: an inch a side more is 173.08 cm, two inches 178.16, an inch
    # less 162.92.
    Limit(
        "shedding.harness_density",
        inside_loom=jacquard(harness_ends_per_cm=22.19),
        outside_loom=jacquard(harness_ends_per_cm=22.18),
        outside_says="warning",
    ),
    Limit(
        "shedding.harness_density",
        inside_loom=jacquard(harness_ends_per_cm=21.56),
        outside_loom=jacquard(harness_ends_per_cm=21.55),
        inside_says="warning",
    ),
    Limit(
        "shedding.harness_density",
        inside_loom=jacquard(harness_ends_per_cm=23.56),
        outside_loom=jacquard(harness_ends_per_cm=23.58),
        outside_says="note",
    ),
    # Without a cord to spare, two inches a side less are 157.84 cm.
    Limit(
        "shedding.harness_density",
        inside_loom=jacquard(hooks=960, harness_ends_per_cm=24.32),
        outside_loom=jacquard(hooks=960, harness_ends_per_cm=24.34),
        inside_says="warning",
    ),
    # Half of the harness is 83.48 cm wide.
    Limit(
        "shedding.lift_slant",
        inside_loom=jacquard(cord_cm=168.9, hook_lift_cm=7.0),
        outside_loom=jacquard(cord_cm=168.8, hook_lift_cm=7.0),
        outside_says="note",
    ),
    # weave
    Limit(
        "weave.falls_apart",
        inside={"weave": weave("1000", "0111", "0010", "1101")},
        outside={"weave": weave("1000", "1110", "0010", "1011")},
    ),
    Limit(
        "weave.loose_thread",
        inside={"weave": weave("110", "101", "011")},
        outside={"weave": weave("111", "101", "011")},
    ),
    Limit(
        "weave.loose_thread",
        inside={"weave": weave("110", "101", "011")},
        outside={"weave": weave("11", "10", "11", "01")},
    ),
    # An end that passes over one pick does not float, however coarse the cloth: 6.7 mm here.
    Limit(
        "weave.long_float",
        inside={"weave": named("plain"), "weft": threads(1.5)},
        outside={"weave": named("2/2 warp rib"), "weft": threads(1.5)},
        outside_says="warning",
    ),
    # The 8-end satin floats over 7 picks: 5 mm at 14 picks/cm, 10 mm at 7.
    Limit(
        "weave.long_float",
        inside={"weave": named("8-end satin move 3"), "weft": threads(14.0)},
        outside={"weave": named("8-end satin move 3"), "weft": threads(13.9)},
        outside_says="note",
    ),
    Limit(
        "weave.long_float",
        inside={"weave": named("8-end satin move 3"), "weft": threads(7.0)},
        outside={"weave": named("8-end satin move 3"), "weft": threads(6.9)},
        inside_says="note",
        outside_says="warning",
    ),
    Limit(
        "weave.draft_mismatch",
        inside={"weave": named("2/2 twill Z"), "draft": DraftRequest(threading=(1, 2, 3, 4))},
        outside={"weave": named("2/2 twill Z"), "draft": DraftRequest(threading=(1, 2, 3, 3))},
    ),
    # selvedge: its ends, or those of the ground if none are stated, float over 3 and 4 picks
    Limit(
        "selvedge.unbound",
        inside={"selvedge": Selvedge(ends_per_side=24, weave=named("3/1 twill Z"))},
        outside={"selvedge": Selvedge(ends_per_side=24, weave=named("4/1 twill Z"))},
        outside_says="warning",
    ),
    Limit(
        "selvedge.unbound",
        inside={"weave": named("3/1 twill Z")},
        outside={"weave": named("5-end satin move 2")},
        outside_says="note",
    ),
    # A shuttle returns the weft: two picks in one shed are not held.
    Limit(
        "selvedge.unbound",
        inside={"selvedge": Selvedge(ends_per_side=24, weave=named("2/2 weft rib"))},
        outside={"selvedge": Selvedge(ends_per_side=24, weave=named("2/2 warp rib"))},
        inside_loom=loom(insertion=Insertion(system=InsertionSystem.SHUTTLE)),
        outside_loom=loom(insertion=Insertion(system=InsertionSystem.SHUTTLE)),
        outside_says="warning",
    ),
    Limit(
        "selvedge.unbound",
        inside={"weave": named("2/2 hopsack"), "selvedge": Selvedge(catch_cord_ends=2)},
        outside={"weave": named("2/2 hopsack")},
        inside_loom=loom(insertion=Insertion(system=InsertionSystem.SHUTTLE)),
        outside_loom=loom(insertion=Insertion(system=InsertionSystem.SHUTTLE)),
        outside_says="note",
    ),
    # 4 ends in a dent of the reed of 115 are 48.3 ends per cm of the grey cloth.
    Limit(
        "selvedge.tight",
        inside={"selvedge": PLAIN_EDGE},
        outside={"selvedge": PLAIN_EDGE},
        inside_loom=loom(max_tightness_pct=80.71),
        outside_loom=loom(max_tightness_pct=80.70),
        outside_says="warning",
    ),
    # Doubled beside a ground of 24 ends/cm, 160 cm wide in 168 cm: 137.1 ends are 3 cm.
    Limit(
        "selvedge.wide",
        inside={"selvedge": Selvedge(ends_per_side=137)},
        outside={"selvedge": Selvedge(ends_per_side=138)},
        inside_says="note",
        outside_says="warning",
    ),
    # Both are a tenth of a width of 46.666 cm in the reed: 106.7 ends each.
    Limit(
        "selvedge.wide",
        inside={"width_cm": 44.4444, "selvedge": Selvedge(ends_per_side=106)},
        outside={"width_cm": 44.4444, "selvedge": Selvedge(ends_per_side=107)},
        inside_says="note",
        outside_says="warning",
    ),
    # 14 dents of 2 ends a side of a ground of 3840 ends are 1.5 % of it, 15 are 1.6 %.
    Limit(
        "selvedge.wide",
        inside={"selvedge": Selvedge(ends_per_side=56)},
        outside={"selvedge": Selvedge(ends_per_side=57)},
        outside_says="note",
    ),
    Limit(
        "selvedge.hooks",
        inside={
            "weave": named("3/1 twill Z"),
            "selvedge": Selvedge(ends_per_side=24, weave=named("plain")),
        },
        outside={
            "weave": named("3/1 twill Z"),
            "selvedge": Selvedge(ends_per_side=24, weave=named("plain")),
        },
        inside_loom=jacquard(selvedge_hooks=2),
        outside_loom=jacquard(selvedge_hooks=1),
        outside_says="warning",
    ),
    # layers: two twills over one another, with a stitch and without.
    Limit(
        "layers.contradicted",
        inside=layered(Joined.SEPARATE),
        outside=layered(Joined.SEPARATE, stitched=True),
    ),
    Limit(
        "layers.unstitched",
        inside=layered(Joined.STITCHED, stitched=True),
        outside=layered(Joined.STITCHED),
    ),
    # crimp
    Limit("contraction.implausible", both_crimps(26.70), both_crimps(26.72), outside_says="note"),
    Limit("contraction.implausible", both_crimps(2.72), both_crimps(2.70), outside_says="note"),
    # Of 0.566 % both waves are 25 % of the diameters: 2 x 4/3 x 10/24 x sqrt(c) = 0.25 x 0.3342.
    Limit(
        "contraction.implausible", alike_crimps(0.57), alike_crimps(0.56), outside_says="warning"
    ),
    # A weft of 4.9 % leaves the warp more than the 30 % at which its estimate ends.
    Limit(
        "contraction.implausible",
        one_crimp("weft", 5.0),
        one_crimp("weft", 4.8),
        outside_says="warning",
    ),
    # A warp of 20.8 % leaves the weft as straight as an estimate may be.
    Limit(
        "contraction.implausible",
        one_crimp("warp", 20.7),
        one_crimp("warp", 50.0),
        outside_says="warning",
    ),
    # sett
    Limit(
        "sett.tight", square(0.949 * JAM_PER_CM), square(0.951 * JAM_PER_CM), outside_says="note"
    ),
    Limit(
        "sett.tight",
        square(1.019 * JAM_PER_CM),
        square(1.021 * JAM_PER_CM),
        inside_says="note",
        outside_says="warning",
    ),
    Limit(
        "sett.jammed",
        square(1.049 * JAM_PER_CM, MEASURED_COTTON),
        square(1.051 * JAM_PER_CM, MEASURED_COTTON),
    ),
    # A yarn whose diameter is assumed may be thin enough.
    Limit(
        "sett.jammed",
        square(1.049 * JAM_PER_CM),
        square(1.051 * JAM_PER_CM),
        outside_says="warning",
    ),
    # A rapier loom whose limit is not stated is assumed to beat up 110 %.
    Limit(
        "sett.jammed",
        square(1.099 * JAM_PER_CM),
        square(1.101 * JAM_PER_CM),
        inside_loom=loom(max_tightness_pct=None),
        outside_loom=loom(max_tightness_pct=None),
        outside_says="warning",
    ),
    Limit(
        "sett.jammed",
        square(1.149 * JAM_PER_CM),
        square(1.151 * JAM_PER_CM),
        inside_loom=loom(max_tightness_pct=None),
        outside_loom=loom(max_tightness_pct=None),
        inside_says="warning",
    ),
    Limit(
        "sett.not_judged",
        square(1.049 * DOUBLE_JAM_PER_CM) | {"weave": DOUBLE_PLAIN},
        square(1.051 * DOUBLE_JAM_PER_CM) | {"weave": DOUBLE_PLAIN},
        outside_says="warning",
    ),
    Limit(
        "sett.open", square(0.351 * JAM_PER_CM), square(0.349 * JAM_PER_CM), outside_says="warning"
    ),
    Limit(
        "sett.open",
        square(0.3 * JAM_PER_CM) | {"finishing": Finishing(stabilised=True)},
        square(0.3 * JAM_PER_CM),
        outside_says="warning",
    ),
    # 0.16710 mm: ends touch at 59.84 per cm.
    Limit(
        "sett.warp_crowding",
        inside={"warp": threads(59.8), "weave": named("8-end satin move 3")},
        outside={"warp": threads(59.9), "weave": named("8-end satin move 3")},
        outside_says="warning",
    ),
    # weft
    Limit(
        "weft.selectors",
        inside={"weft": wefts("20 tex", "21 tex")},
        outside={"weft": wefts("20 tex", "21 tex", "22 tex")},
        inside_loom=loom(weft_selectors=2),
        outside_loom=loom(weft_selectors=2),
    ),
    Limit(
        "weft.linear_density",
        inside={"weft": wefts("500 tex")},
        outside={"weft": wefts("501 tex")},
    ),
    Limit(
        "weft.linear_density",
        inside={"weft": wefts("7 tex")},
        outside={"weft": wefts("6.9 tex")},
    ),
    Limit(
        "weft.mixed_counts",
        inside={"weft": wefts("20 tex", "40 tex")},
        outside={"weft": wefts("20 tex", "40.1 tex")},
        outside_says="note",
    ),
    Limit(
        "weft.mixed_counts",
        inside={"weft": wefts("20 tex", "80 tex")},
        outside={"weft": wefts("20 tex", "80.1 tex")},
        inside_says="note",
        outside_says="warning",
    ),
    # Feeder: 524.44 picks/min x (1.68 + 0.12) m = 944 m/min.
    Limit(
        "weft.feeder_speed",
        inside_loom=loom(insertion=insertion(max_feeder_speed_m_per_min=944.0)),
        outside_loom=loom(insertion=insertion(max_feeder_speed_m_per_min=943.9)),
        outside_says="warning",
    ),
    Limit(
        "weft.unsuitable_for_system",
        inside={"weft": wefts("110 dtex f36", fibre="polyester")},
        outside={"weft": wefts("11 tex", fibre="cotton")},
        inside_loom=loom(insertion=Insertion(system=InsertionSystem.WATER_JET)),
        outside_loom=loom(insertion=Insertion(system=InsertionSystem.WATER_JET)),
    ),
    Limit(
        "weft.unsuitable_for_system",
        inside={"weft": wefts("110 dtex f36", fibre="polyester")},
        outside={"weft": wefts("110 dtex f36", fibre="viscose")},
        inside_loom=loom(insertion=Insertion(system=InsertionSystem.WATER_JET)),
        outside_loom=loom(insertion=Insertion(system=InsertionSystem.WATER_JET)),
    ),
    # insertion: 1.68 m; 1200 m/min are 714.286 picks/min; the curve gives 524.444, and half a
    # pick more is the same to the nearest.
    Limit(
        "insertion.rate_exceeded",
        inside={"requested_speed_picks_per_min": 714.28},
        outside={"requested_speed_picks_per_min": 714.30},
    ),
    Limit(
        "insertion.speed_exceeded",
        inside={"requested_speed_picks_per_min": 524.9},
        outside={"requested_speed_picks_per_min": 525.0},
    ),
    Limit(
        "insertion.shedding_speed",
        inside={"requested_speed_picks_per_min": 550.0},
        outside={"requested_speed_picks_per_min": 550.1},
    ),
    Limit(
        "insertion.near_limit",
        inside_loom=loom(insertion=insertion(max_rate_m_per_min=927.5)),
        outside_loom=loom(insertion=insertion(max_rate_m_per_min=927.4)),
        outside_says="note",
    ),
    # take-up
    Limit(
        "picks.out_of_range",
        inside_loom=loom(picks_per_cm=Band(min=22.0, max=80.0)),
        outside_loom=loom(picks_per_cm=Band(min=22.1, max=80.0)),
    ),
    Limit(
        "picks.out_of_range",
        inside_loom=loom(picks_per_cm=Band(min=4.0, max=22.0)),
        outside_loom=loom(picks_per_cm=Band(min=4.0, max=21.9)),
    ),
    # warp
    Limit(
        "warp.beam_width",
        inside_loom=loom(
            warp_beam=WarpBeam(flange_diameter_cm=100, barrel_diameter_cm=20, width_cm=164.8)
        ),
        outside_loom=loom(
            warp_beam=WarpBeam(flange_diameter_cm=100, barrel_diameter_cm=20, width_cm=164.6)
        ),
    ),
    Limit(
        "warp.yarn_variety",
        inside={
            "warp": threads(
                24.0, yarns={"A": COTTON_20_TEX, "B": Yarn(designation="40 tex")}, order="A B"
            )
        },
        outside={
            "warp": threads(
                24.0, yarns={"A": COTTON_20_TEX, "B": Yarn(designation="40.1 tex")}, order="A B"
            )
        },
        outside_says="note",
    ),
    # Interlacings of ends over the repeat: 16 against 10 (1.6 times), 10 against 6 (1.7 times).
    Limit(
        "warp.second_warp",
        inside={"weave": columns(8 * "10", 8 * "01", 5 * "10" + 3 * "00")},
        outside={"weave": columns("1010101010", "0101010101", "1010100000")},
        outside_says="note",
    ),
    # 8 against 4 (2 times), 66 against 32 (2.06 times).
    Limit(
        "warp.second_warp",
        inside={"weave": columns("10101010", "01010101", "10100000")},
        outside={"weave": columns(33 * "10", 33 * "01", 16 * "10" + 17 * "00")},
        inside_says="note",
        outside_says="warning",
    ),
    Limit(
        "warp.second_warp",
        inside=crimps_on_one_beam(8.0, 10.0),
        outside=crimps_on_one_beam(8.0, 10.1),
        outside_says="note",
    ),
    Limit(
        "warp.second_warp",
        inside=crimps_on_one_beam(8.0, 12.0),
        outside=crimps_on_one_beam(8.0, 12.1),
        inside_says="note",
        outside_says="warning",
    ),
    # Of plain an estimated crimp may be 6 points out; here it is 6.96 %.
    Limit(
        "warp.second_warp",
        inside=crimps_on_one_beam(None, 6.96 + 6 + 2 - 0.05),
        outside=crimps_on_one_beam(None, 6.96 + 6 + 2 + 0.05),
        outside_says="note",
    ),
    # Warps whose crimps are more than 10 points apart need let-offs of their own.
    Limit(
        "warp.second_warp",
        inside=on_beams_of_their_own(5.0, 15.0),
        outside=on_beams_of_their_own(5.0, 15.1),
        inside_loom=with_beams(count=1),
        outside_loom=with_beams(count=1),
        inside_says="warning",
    ),
    # The ends that interlace 4 times lie on a beam of their own.
    Limit(
        "warp.second_warp",
        inside=two_warps(weave=columns("1010101010", "0101010101", "1010000000")),
        outside={"weave": columns("1010101010", "0101010101", "1010000000")},
        inside_loom=with_beams(count=2, arrangement=BeamArrangement.STACKED),
        outside_loom=with_beams(count=2, arrangement=BeamArrangement.STACKED),
        outside_says="warning",
    ),
    # Beams abreast are let off at one speed, however many there are.
    Limit(
        "warp.second_warp",
        inside=two_warps(),
        outside=two_warps(),
        inside_loom=with_beams(count=2, arrangement=BeamArrangement.STACKED),
        outside_loom=with_beams(count=3, arrangement=BeamArrangement.ABREAST),
        outside_says="warning",
    ),
    Limit(
        "warp.second_warp",
        inside=two_warps(pile_ratio=4.0),
        outside=two_warps(pile_ratio=4.0),
        inside_loom=with_beams(count=2, arrangement=BeamArrangement.STACKED),
        outside_loom=with_beams(count=1),
        outside_says="error",
    ),
    # A loom whose beams are not stated may have more of them, or they may be stacked.
    Limit(
        "warp.second_warp",
        inside=two_warps(pile_ratio=4.0),
        outside=two_warps(pile_ratio=4.0),
        inside_loom=with_beams(count=2),
        outside_loom=with_beams(arrangement=BeamArrangement.ONE),
        inside_says="warning",
        outside_says="error",
    ),
    Limit(
        "warp.second_warp",
        inside=two_warps(pile_ratio=4.0),
        outside=two_warps(pile_ratio=4.0),
        inside_loom=with_beams(),
        outside_loom=with_beams(count=2, arrangement=BeamArrangement.ABREAST),
        inside_says="warning",
        outside_says="error",
    ),
    # The ground takes 1.05 m for a metre of cloth.
    Limit(
        "warp.pile_ratio",
        inside=two_warps(pile_ratio=1.051),
        outside=two_warps(pile_ratio=1.049),
        outside_says="warning",
    ),
    Limit(
        "warp.pile_ratio",
        inside=two_warps(pile_ratio=1.5),
        outside=two_warps(pile_ratio=1.51),
        outside_says="warning",
    ),
    Limit(
        "warp.unsized",
        inside={"allowances": Allowances(size_pct=1.0)},
        outside={"allowances": Allowances(size_pct=0.99)},
        outside_says="warning",
    ),
    Limit(
        "warp.unsized",
        inside=warp_yarn(designation="20 tex", fibre="cotton"),
        outside=warp_yarn(designation="20 tex", fibre="cotton", sized=False),
        outside_says="warning",
    ),
    Limit(
        "warp.unsuitable_for_system",
        inside=warp_yarn(designation="20 tex", fibre="polyester"),
        outside=warp_yarn(designation="20 tex", fibre="polyester/cotton"),
        inside_loom=loom(insertion=Insertion(system=InsertionSystem.WATER_JET)),
        outside_loom=loom(insertion=Insertion(system=InsertionSystem.WATER_JET)),
        outside_says="warning",
    ),
    Limit(
        "warp.untwisted",
        inside=warp_yarn(designation="84 dtex f36", twist_per_m=80.0, twist_direction=Z),
        outside=warp_yarn(designation="84 dtex f36", twist_per_m=79.9, twist_direction=Z),
        outside_says="warning",
    ),
    Limit(
        "warp.untwisted",
        inside=warp_yarn(designation="84 dtex f36", fibre="textured polyester"),
        outside=warp_yarn(designation="84 dtex f36"),
        outside_says="note",
    ),
    Limit(
        "warp.untwisted",
        inside=warp_yarn(designation="84 dtex f36", sized=True),
        outside=warp_yarn(designation="84 dtex f36", sized=False),
        outside_says="warning",
    ),
    # yarn: turns/m x root of 0.02 ktex.
    Limit(
        "yarn.hard_twist",
        inside=warp_yarn(designation="20 tex", twist_per_m=1067.7, twist_direction=Z),
        outside=warp_yarn(designation="20 tex", twist_per_m=1067.8, twist_direction=Z),
        outside_says="note",
    ),
    Limit(
        "yarn.hard_twist",
        inside=weft_yarn(designation="20 tex", twist_per_m=1414.2, twist_direction=Z),
        outside=weft_yarn(designation="20 tex", twist_per_m=1414.3, twist_direction=Z),
        inside_says="note",
        outside_says="warning",
    ),
    Limit(
        "yarn.elastane",
        inside=warp_yarn(designation="Ne 30", fibre="97/3 cotton/elastane") | DRAWN_IN,
        outside=warp_yarn(designation="44 dtex", fibre="elastane") | DRAWN_IN,
        inside_says="note",
        outside_says="warning",
    ),
    Limit(
        "yarn.elastane",
        inside=weft_yarn(designation="Ne 30", fibre="97/3 cotton/elastane") | DRAWN_IN,
        outside=weft_yarn(designation="44 dtex", fibre="elastane") | DRAWN_IN,
        inside_says="note",
        outside_says="warning",
    ),
    Limit(
        "yarn.elastane",
        inside=weft_yarn(designation="Ne 30", fibre="cotton") | DRAWN_IN,
        outside=weft_yarn(designation="Ne 30", fibre="97/3 cotton/elastane") | DRAWN_IN,
        outside_says="note",
    ),
    # 5 % of crimp and a shrinkage of 5.5 % keep 0.945 / 1.05, or 90 %.
    Limit(
        "yarn.elastane",
        inside=shrinking("weft", 5.51),
        outside=shrinking("weft", 5.49),
        inside_says="note",
        outside_says="warning",
    ),
    Limit(
        "yarn.elastane",
        inside=shrinking("warp", 5.51),
        outside=shrinking("warp", 5.49),
        inside_says="note",
        outside_says="warning",
    ),
    # Rigid ends beside those with elastane, on beams of their own and on one.
    Limit(
        "yarn.elastane",
        inside=some_stretch_ends(own_beam=True),
        outside=some_stretch_ends(own_beam=False),
        inside_says="note",
        outside_says="warning",
    ),
    Limit(
        "yarn.monofilament",
        inside=warp_yarn(designation="220 dtex f2"),
        outside=warp_yarn(designation="220 dtex f1"),
        outside_says="note",
    ),
    Limit(
        "yarn.monofilament",
        inside=weft_yarn(designation="220 dtex"),
        outside=weft_yarn(designation="220 dtex", monofilament=True),
        outside_says="note",
    ),
    Limit(
        "yarn.tape",
        inside=warp_yarn(designation="111 tex", fibre="polypropylene"),
        outside=warp_yarn(designation="111 tex", fibre="polypropylene tape"),
        outside_says="note",
    ),
    Limit(
        "yarn.tape",
        inside=weft_yarn(designation="200 tex", fibre="carbon"),
        outside=weft_yarn(designation="200 tex", fibre="carbon", tape_width_mm=2.0),
        outside_says="note",
    ),
    # colour: 24/cm x 160 cm = 3840 ends.
    Limit(
        "colour.warp_remainder",
        inside={
            "warp": threads(24.0, yarns={"A": COTTON_20_TEX, "B": COTTON_20_TEX}, order="20A 20B")
        },
        outside={
            "warp": threads(24.0, yarns={"A": COTTON_20_TEX, "B": COTTON_20_TEX}, order="20A 22B")
        },
        outside_says="note",
    ),
    # A weft repeat of 220 picks is 0.1 m: ten repeats in 1 m.
    Limit(
        "colour.weft_remainder",
        inside={
            "weft": threads(
                22.0, yarns={"A": COTTON_20_TEX, "B": COTTON_20_TEX}, order="110A 110B"
            ),
            "length_m": 1.01,
        },
        outside={
            "weft": threads(
                22.0, yarns={"A": COTTON_20_TEX, "B": COTTON_20_TEX}, order="110A 110B"
            ),
            "length_m": 0.99,
        },
        outside_says="note",
    ),
    Limit(
        "colour.weave_clash",
        inside={
            "weave": named("2/1 twill Z"),
            "warp": threads(24.0, yarns={"A": COTTON_20_TEX, "B": COTTON_20_TEX}, order="1A 1B"),
        },
        outside={
            "weave": named("2/1 twill Z"),
            "warp": threads(24.0, yarns={"A": COTTON_20_TEX, "B": COTTON_20_TEX}, order="2A 2B"),
        },
        outside_says="note",
    ),
    # order: 12.587 m/h; 8 h weave 100.69 m.
    Limit(
        "order.length", inside={"length_m": 100.7}, outside={"length_m": 100.6}, outside_says="note"
    ),
    # The beam gives 7737.51 m of grey cloth, the roll holds 774.34 m.
    *(
        Limit(
            "order.piece_length",
            inside={"length_m": None, "order": PieceOrder(pieces=2, piece_length_m=inside_m)},
            outside={"length_m": None, "order": PieceOrder(pieces=2, piece_length_m=outside_m)},
            inside_loom=on,
            outside_loom=on,
            outside_says="warning",
        )
        for inside_m, outside_m, on in (
            (774.3, 774.4, loom()),
            (7737.5, 7737.6, loom(cloth_roll_diameter_cm=300.0)),
        )
    ),
    # pi/4 (16.026^2 - 15^2) cm^2 of cloth 0.5 mm thick are 5 m.
    Limit(
        "order.piece_length",
        inside={"thickness_mm": 0.5},
        outside={"thickness_mm": 0.5},
        inside_loom=loom(cloth_roll_diameter_cm=16.03),
        outside_loom=loom(cloth_roll_diameter_cm=16.02),
        outside_says="warning",
    ),
    # requirement: (24 + 22) x 20 tex x 1.05 / 10 = 96.6 g/m2, 154.56 g/m at 160 cm, all stated.
    *required("mass", "mass_g_per_m2", 96.6),
    *required("mass_per_m", "mass_g_per_m", 154.56),
    *required("width", "finished_width_cm", 160.0),
    *required("ends", "ends_per_cm", 24.0),
    *required("picks", "picks_per_cm", 22.0),
    *required("thickness", "thickness_mm", 0.3),
    # Threads of 0.2 mm leave 0.52 x 0.56 open.
    *required("open_area", "open_area_pct", 29.12),
    # K1 = 10.733 and K2 = 9.839.
    *required("cover", "cover_factor", 16.63),
    *required("fibre", "fibre_pct", 60.0),
]


@pytest.mark.slow
@pytest.mark.parametrize("limit", LIMITS, ids=str)
def test_the_check_changes_its_mind_at_its_limit(limit: Limit) -> None:
    inside = severity(limit.code, construction(**limit.inside), limit.inside_loom)
    outside = severity(limit.code, construction(**limit.outside), limit.outside_loom)
    assert (inside, outside) == (limit.inside_says, limit.outside_says)


DESIGN_CHECKS = (
    "back_float",
    "binding_shows",
    "effect_unbound",
    "float_left",
    "ground_break",
    "long_float",
    "open_area",
    "proportion",
    "take_up",
    "thin_outline",
    "tie_conflict",
    "tie_width",
    "turn_float",
    "weft_loose",
)
COMPUTED = {
    "insertion.crawl",
    "weft.strength",
    "warp.strength",
    "insertion.weft_speed",
    "warp.beam_capacity",
    # In tests/looms/test_weft_tension.py and test_shuttle_boxes.py.
    "insertion.weft_velocity",
    "insertion.acceleration",
    "weft.boxes",
    "insertion.double_pick",
    # In test_design_checks.py.
    *(f"design.{name}" for name in DESIGN_CHECKS),
}


def test_every_check_has_a_case_on_both_sides() -> None:
    assert {limit.code for limit in LIMITS} | COMPUTED == {info.code for info in all_checks()}
