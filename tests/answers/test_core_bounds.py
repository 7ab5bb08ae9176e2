"""The core takes every number at its bounds and refuses it just beyond, as the service does."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from operator import attrgetter
from typing import Any

import numpy as np
import pytest
from builders import bare_loom, example_loom, example_order
from stating import stated

from weavability.looms.harness_tie import TieSection
from weavability.looms.loom import CurvePoint, Loom, WarpBeam
from weavability.looms.loom_bounds import LOOM_BOUNDS, MOST_CURVE_POINTS, MOST_REEDS
from weavability.looms.loom_contradictions import impossible_figures
from weavability.looms.loom_limits import resolve_loom
from weavability.textiles.bounds import (
    CONSTRUCTION_BOUNDS,
    LONGEST_DRAFT,
    MOST_WARP_GROUPS,
    MOST_YARNS,
    REQUIRED_UNITS,
    Bounds,
)
from weavability.textiles.cloth_bounds import refuse_impossible
from weavability.textiles.construction import (
    Construction,
    DraftRequest,
    PieceOrder,
    Reed,
    RequiredRange,
    Requirements,
    WarpGroup,
)
from weavability.textiles.errors import Fault, InputError
from weavability.textiles.figured.effect_picture import EffectPicture
from weavability.textiles.figured.figured_design import Design, Effect, FloatLimits

# Computed from hooks and width where nobody states it, and then stated on trial.
COMPUTED_TOO = "/shedding/harness_ends_per_cm"


def order() -> Construction:
    """An order with room for every number."""
    example = example_order()
    open_range = RequiredRange(min=1.0, max=1.0)
    required: dict[str, Any] = dict.fromkeys(REQUIRED_UNITS, open_range)
    return replace(
        example,
        warp=replace(example.warp, beams=(WarpGroup(name="ground", yarns=("A",)),)),
        order=PieceOrder(pieces=1, piece_length_m=1.0),
        reed=Reed(ends_in_dents=(2, 2)),
        draft=DraftRequest(threading=(1, 2)),
        requirements=Requirements(**{**required, "fibre_pct": {"cotton": open_range}}),
    )


def machine() -> Loom:
    """A loom with room for every number."""
    example = example_loom()
    return replace(
        example,
        shedding=replace(example.shedding, tie=(TieSection(from_hook=1, hooks=1),)),
        boxes=(1, 1),
        speed_curve=(CurvePoint(reed_width_cm=100.0, picks_per_min=500.0),),
        reeds_in_stock_dents_per_10cm=(100.0,),
        changeover_rates=tuple(
            (each.rpartition("/")[2], 1.0) for each in LOOM_BOUNDS if "changeover_rates" in each
        ),
    )


def refused(of: Construction) -> list[Fault]:
    try:
        refuse_impossible(of)
    except InputError as error:
        return list(error.faults)
    return []


LISTS = (
    "beams",
    "ends_in_dents",
    "threading",
    "boxes",
    "reeds_in_stock_dents_per_10cm",
    "tie",
    "speed_curve",
)


def place(pointer: str) -> str:
    """Return where a number is: the first of a list, the share of a fibre."""
    parts = [f"{part}/0" if part in LISTS else part for part in pointer.split("/")]
    return "/".join(parts).replace("fibre_pct", "fibre_pct/cotton")


def with_number(of: Any, kind: str, pointer: str, value: float) -> Any:
    rate = pointer.removeprefix("/changeover_rates/")
    if rate != pointer:
        rates = {**dict(of.changeover_rates), rate: value}
        return replace(of, changeover_rates=tuple(rates.items()))
    path = place(pointer)
    if kind == "construction":
        for name in ("ends_per_cm", "picks_per_cm"):
            if not path.startswith("/requirements"):
                path = path.replace(name, "threads_per_cm")
    pair = stated(
        of if kind == "construction" else order(),
        of if kind == "loom" else machine(),
        [(f"/{kind}{path}", value)],
    )
    return pair[kind == "loom"]


def offenders(
    kind: str, of: object, table: Mapping[str, Bounds], faults: Callable[[Any], list[Fault]]
) -> Iterator[str]:
    assert faults(of) == []
    for pointer, bounds in table.items():
        taken = [bounds.least, bounds.most, *[0.0] * bounds.or_zero]
        for value in taken:
            if found := faults(with_number(of, kind, pointer, value)):
                yield f"{pointer} refuses {value!r}: {found}"
        below, above = (
            math.nextafter(bounds.least, -math.inf),
            math.nextafter(bounds.most, math.inf),
        )
        for value in (below, above, math.nan):
            found = faults(with_number(of, kind, pointer, value))
            if [each.pointer for each in found] != [place(pointer)]:
                yield f"{pointer} takes {value!r}: {found}"


def test_an_order_is_refused_beyond_every_bound() -> None:
    table = {
        at: bounds
        for at, bounds in CONSTRUCTION_BOUNDS.items()
        # Read with the groups, whose words are better.
        if at != "/warp/beams/pile_ratio"
        and not at.endswith(("/max", "/nominal", "/tolerance_pct"))
    }
    assert list(offenders("construction", order(), table, refused)) == []


@pytest.mark.parametrize(("figure", "most"), [("mass_g_per_m2", 2e6), ("fibre_pct", 200)])
def test_a_tolerance_may_reach_twice_the_greatest_figure(figure: str, most: float) -> None:
    table = {f"/requirements/{figure}/max": Bounds(0, most)}
    assert list(offenders("construction", order(), table, refused)) == []


def test_a_loom_is_refused_beyond_every_bound() -> None:
    table = {at: bounds for at, bounds in LOOM_BOUNDS.items() if at != COMPUTED_TOO}
    assert list(offenders("loom", machine(), table, impossible_figures)) == []


def test_a_changed_order_is_refused_for_what_changed() -> None:
    good = order()
    wide = replace(good, width_cm=1e6)
    wasteful = replace(good, allowances=replace(good.allowances, warp_waste_pct=101))
    for changed, pointer in ((wide, "/width_cm"), (wasteful, "/allowances/warp_waste_pct")):
        with pytest.raises(InputError) as caught:
            refuse_impossible(changed, good)
        assert [fault.pointer for fault in caught.value.faults] == [pointer]


def crowded() -> Iterator[tuple[Construction, str]]:
    """Orders that state one part more than may be stated."""
    good = order()
    yarns = {f"Y{place}": good.weft.yarns["A"] for place in range(MOST_YARNS + 1)}
    groups = (WarpGroup(name="ground", yarns=("A",)),) * (MOST_WARP_GROUPS + 1)
    yield replace(good, weft=replace(good.weft, yarns=yarns)), "/weft/yarns"
    yield replace(good, warp=replace(good.warp, yarns=yarns)), "/warp/yarns"
    yield replace(good, warp=replace(good.warp, beams=groups)), "/warp/beams"
    draft = DraftRequest(threading=(1,) * (LONGEST_DRAFT + 1))
    yield replace(good, draft=draft), "/draft/threading"


def test_more_parts_than_may_be_stated_are_refused() -> None:
    for crowd, pointer in crowded():
        assert [fault.pointer for fault in refused(crowd)] == [pointer]
    point = CurvePoint(reed_width_cm=100.0, picks_per_min=500.0)
    points = tuple(replace(point, reed_width_cm=100.0 + at) for at in range(MOST_CURVE_POINTS + 1))
    reeds = (100.0,) * (MOST_REEDS + 1)
    for crowd_of_loom, pointer in (
        (replace(machine(), speed_curve=points), "/speed_curve"),
        (replace(machine(), reeds_in_stock_dents_per_10cm=reeds), "/reeds_in_stock_dents_per_10cm"),
    ):
        assert [fault.pointer for fault in impossible_figures(crowd_of_loom)] == [pointer]


def test_no_design_states_a_float_or_size_that_no_cloth_has() -> None:
    for length_mm in (-3.0, 0.0, 1_001.0, math.nan):
        for name in ("warp_mm", "weft_mm", "back_mm"):
            with pytest.raises(InputError) as caught:
                FloatLimits(**{name: length_mm})
            assert [fault.pointer for fault in caught.value.faults] == [f"/{name}"]
        with pytest.raises(InputError):
            Effect(name="ground", weave=order().weave, max_float_mm=length_mm)
    picture = EffectPicture(pixels=np.zeros((4, 4), dtype=np.uint8), colours=("#ffffff",))
    effects = {"#ffffff": Effect(name="ground", weave=order().weave)}
    with pytest.raises(InputError) as caught:
        Design(picture=picture, effects=effects, designed_cm=(0.0, 2e5))
    pointers = [fault.pointer for fault in caught.value.faults]
    assert pointers == ["/designed_width_cm", "/designed_height_cm"]


@pytest.mark.parametrize(
    ("changes", "pointer", "says", "allowed"),
    [
        ({"cloth_roll_diameter_cm": 5.0}, "/cloth_roll_diameter_cm", "is taken to be 15 cm", 15),
        (
            {"warp_beam": WarpBeam(flange_diameter_cm=21.0)},
            "/warp_beam/flange_diameter_cm",
            "warp_beam.barrel_diameter_cm, which is not stated, is taken to be 20 cm",
            22,
        ),
        (
            {"cloth_roll_diameter_cm": 5.0, "cloth_tube_diameter_cm": 15.0},
            "/cloth_tube_diameter_cm",
            "With 15 cm there is no room to wind",
            5,
        ),
        ({"cloth_tube_diameter_cm": 90.0}, "/cloth_tube_diameter_cm", "With 90 cm", None),
    ],
)
def test_a_loom_without_room_is_refused_at_what_it_states(
    changes: dict[str, Any], pointer: str, says: str, allowed: float | None
) -> None:
    with pytest.raises(InputError) as caught:
        resolve_loom(replace(bare_loom(), **changes))
    (fault,) = caught.value.faults
    assert fault.pointer == pointer
    assert says in str(fault.message)
    assert fault.given == attrgetter(pointer[1:].replace("/", "."))(replace(bare_loom(), **changes))
    if allowed is not None:
        assert fault.allowed is not None
        assert str(fault.allowed).endswith(f" {allowed}")
