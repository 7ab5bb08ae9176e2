"""Cloths and looms to be changed one field at a time: a plain, an example and a bare pair."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from weavability.answers.report import Report
from weavability.answers.validation import assess
from weavability.checks.finding import Finding, Severity
from weavability.looms.carriers import InsertionSystem
from weavability.looms.loom import (
    Band,
    CurvePoint,
    Insertion,
    Loom,
    Running,
    Shedding,
    SheddingKind,
    WarpBeam,
)
from weavability.looms.motion_laws import MotionLaw
from weavability.textiles.construction import (
    Construction,
    DraftRequest,
    Finishing,
    Reed,
    Selvedge,
    Stage,
    ThreadSystem,
)
from weavability.textiles.crimp import Crimps, estimate_crimps, mean_crimps
from weavability.textiles.notation import parse_weave
from weavability.textiles.weave_matrix import Weave
from weavability.textiles.yarns import Yarn

COTTON_20_TEX = Yarn(designation="20 tex", fibre="cotton")


def weave(*rows: str) -> Weave:
    return Weave.from_rows(rows)


def named(text: str) -> Weave:
    return parse_weave(text)


def threads(per_cm: float, *, crimp_pct: float | None = 5.0, **changes: Any) -> ThreadSystem:
    return replace(
        ThreadSystem(yarns={"A": COTTON_20_TEX}, threads_per_cm=per_cm, crimp_pct=crimp_pct),
        **changes,
    )


def construction(**changes: Any) -> Construction:
    """A plain cotton cloth, 24 x 22 per cm of 20 tex, 160 cm wide: nothing is wrong with it."""
    plain = Construction(
        stage=Stage.GREY,
        warp=threads(24.0),
        weft=threads(22.0),
        weave=parse_weave("plain"),
        width_cm=160.0,
        selvedge=Selvedge(ends_per_side=0),
        panels=1,
        length_m=3000.0,
        reed=Reed(ends_per_dent=2),
        finishing=Finishing(width_shrinkage_pct=0.0, length_shrinkage_pct=0.0, relaxation_pct=0.0),
    )
    return replace(plain, **changes)


def loom(**changes: Any) -> Loom:
    """A rapier loom of 190 cm with a dobby, on which that cloth runs."""
    rapier = Loom(
        loom_id="test-rapier",
        insertion=Insertion(system=InsertionSystem.RAPIER, max_rate_m_per_min=1200.0),
        reed_width_cm=190.0,
        min_reed_width_cm=100.0,
        max_speed_picks_per_min=600.0,
        speed_curve=(
            CurvePoint(reed_width_cm=100.0, picks_per_min=600.0),
            CurvePoint(reed_width_cm=190.0, picks_per_min=500.0),
        ),
        shedding=Shedding(
            kind=SheddingKind.DOBBY,
            shafts=16,
            max_speed_picks_per_min=550.0,
            max_pattern_picks=4000,
            max_healds_per_cm_per_shaft=10.0,
            max_healds_per_shaft=1900,
        ),
        weft_selectors=8,
        picks_per_cm=Band(min=4.0, max=80.0),
        weft_tex=Band(min=7.0, max=500.0),
        warp_beam=WarpBeam(flange_diameter_cm=100.0, barrel_diameter_cm=20.0, count=1),
        cloth_roll_diameter_cm=55.0,
        max_tightness_pct=105.0,
        running=Running(efficiency_pct=88.0),
    )
    return replace(rapier, **changes)


def shedding(**changes: Any) -> Shedding:
    return replace(loom().shedding, **changes)


def insertion(**changes: Any) -> Insertion:
    return replace(loom().insertion, **changes)


def jacquard(**changes: Any) -> Loom:
    """The same loom under a Jacquard of 1200 hooks tied in four repeats at 23 ends/cm."""
    tie = Shedding(
        kind=SheddingKind.JACQUARD,
        hooks=1200,
        ends_per_hook=4,
        harness_ends_per_cm=23.0,
        selvedge_hooks=16,
    )
    return loom(shedding=replace(tie, **changes))


def example_order() -> Construction:
    """A twill of coloured stripes, as an order states it."""
    cotton = Yarn(designation="Ne 40/2", fibre="cotton")
    return Construction(
        reference="SO-10482/1",
        stage=Stage.GREY,
        warp=ThreadSystem(
            yarns={"A": cotton, "B": cotton},
            order="24A 4B 24A 8B",
            threads_per_cm=32.0,
            crimp_pct=8.0,
        ),
        weft=ThreadSystem(
            yarns={"A": Yarn(designation="Ne 20", fibre="cotton")},
            order="A",
            threads_per_cm=24.0,
            crimp_pct=5.0,
        ),
        weave=parse_weave("2/2 twill Z"),
        width_cm=152.0,
        selvedge=Selvedge(ends_per_side=24),
        panels=1,
        length_m=3000.0,
        reed=Reed(dents_per_10cm=160.0, ends_per_dent=2),
        draft=DraftRequest(threading="straight"),
        finishing=Finishing(width_shrinkage_pct=4.0, length_shrinkage_pct=3.0),
        requested_speed_picks_per_min=520.0,
    )


def example_loom() -> Loom:
    """The loom of a mill's list that the example order is for."""
    return Loom(
        loom_id="rapier-190-dobby",
        insertion=Insertion(
            system=InsertionSystem.RAPIER,
            max_rate_m_per_min=1150.0,
            entry_deg=70.0,
            exit_deg=290.0,
            motion_law=MotionLaw.MODIFIED_SINE,
        ),
        reed_width_cm=190.0,
        min_reed_width_cm=120.0,
        max_speed_picks_per_min=620.0,
        speed_curve=(
            CurvePoint(reed_width_cm=140.0, picks_per_min=620.0),
            CurvePoint(reed_width_cm=190.0, picks_per_min=560.0),
        ),
        shedding=Shedding(
            kind=SheddingKind.DOBBY,
            shafts=20,
            max_speed_picks_per_min=600.0,
            max_pattern_picks=6400,
            max_healds_per_cm_per_shaft=10.0,
            max_healds_per_shaft=1800,
        ),
        weft_selectors=8,
        picks_per_cm=Band(min=4.0, max=80.0),
        weft_tex=Band(min=7.0, max=500.0),
        warp_beam=WarpBeam(flange_diameter_cm=100.0, barrel_diameter_cm=20.0, count=1),
        cloth_roll_diameter_cm=55.0,
        max_tightness_pct=100.0,
        reeds_in_stock_dents_per_10cm=(120.0, 140.0, 160.0, 180.0),
        running=Running(efficiency_pct=88.0),
    )


def bare_order() -> Construction:
    """No more than an order must state."""
    cotton = Yarn(linear_density_tex=20.0)
    return Construction(
        warp=ThreadSystem(yarns={"A": cotton}, threads_per_cm=24.0),
        weft=ThreadSystem(yarns={"A": cotton}, threads_per_cm=22.0),
        weave=parse_weave("plain"),
        width_cm=80.0,
        selvedge=Selvedge(ends_per_side=24),
        panels=2,
    )


def bare_loom() -> Loom:
    """No more than must be stated of a loom."""
    return Loom(
        insertion=Insertion(system=InsertionSystem.RAPIER),
        reed_width_cm=190.0,
        max_speed_picks_per_min=600.0,
        shedding=Shedding(kind=SheddingKind.DOBBY, shafts=16),
    )


def terry_document() -> dict[str, Any]:
    """Three-pick terry with loops on one side, of the chapter on orders, as JSON."""
    return {
        "warp": {
            "yarns": {
                "G": {"designation": "R 50 tex/2", "fibre": "cotton"},
                "P": {"designation": "R 60 tex/2", "fibre": "cotton"},
            },
            "order": "G P",
            "ends_per_cm": 22,
            "beams": [
                {"name": "ground", "yarns": ["G"]},
                {"name": "pile", "yarns": ["P"], "pile_ratio": 5.2},
            ],
        },
        "weft": {"yarns": {"A": {"designation": "34 tex", "fibre": "cotton"}}, "picks_per_cm": 20},
        "weave": {"rows": ["1000", "1101", "0111"]},
        "layers": {"ends": "G P", "picks": "G", "pile": ["P"]},
        "width_cm": 100,
    }


def report(cloth: Construction | None = None, on: Loom | None = None) -> Report:
    return assess(cloth or construction(), on or loom())


def finding(code: str, cloth: Construction | None = None, on: Loom | None = None) -> Finding | None:
    """The heaviest finding with a code, or None."""
    return _heaviest(code, report(cloth, on))


def severity(code: str, cloth: Construction | None = None, on: Loom | None = None) -> str | None:
    """The heaviest severity of a code, found without a search for remedies."""
    found = _heaviest(code, assess(cloth or construction(), on or loom(), remedies=False))
    return None if found is None else found.severity.value


def _heaviest(code: str, found: Report) -> Finding | None:
    order = list(Severity)
    alike = [one for one in found.findings if one.code == code]
    return min(alike, key=lambda one: order.index(one.severity), default=None)


def estimated_crimps(
    *, warp_crimp_pct: float | None, weft_crimp_pct: float | None, **cloth: float
) -> Crimps[float]:
    """Crimps of a cloth of which none, one or both are stated."""
    stated = {
        "warp_stated_share": float(warp_crimp_pct is not None),
        "warp_crimp_pct": warp_crimp_pct or 0.0,
        "weft_stated_share": float(weft_crimp_pct is not None),
        "weft_crimp_pct": weft_crimp_pct or 0.0,
    }
    return mean_crimps(estimate_crimps(**cloth, **stated), **stated)
