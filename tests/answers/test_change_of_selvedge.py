"""Changes of style that keep the ground's draft: what becomes of the selvedges and of the yarns.

Worked by hand: common practice, no source. 150 ends an hour are drawn in on the loom.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from builders import construction, loom, named, shedding, threads

from weavability.answers.changeover import ChangeoverReport, change_style
from weavability.looms.loom import SheddingKind
from weavability.textiles.construction import Allowances, Construction, Selvedge
from weavability.textiles.yarns import Yarn

NONE = Selvedge()
RIB = Selvedge(ends_per_side=24, weave=named("2/2 weft rib"))
PLAIN = Selvedge(ends_per_side=24, weave=named("plain"))
OF_48_ENDS_H = pytest.approx(48 / 150, rel=1e-3)


def cloth(
    weave: str = "2/2 twill Z", selvedge: Selvedge | None = None, **more: Any
) -> Construction:
    return construction(weave=named(weave), selvedge=selvedge or Selvedge(), **more)


def work(old: Construction, new: Construction, *, kind: SheddingKind | None = None) -> Any:
    on = loom() if kind is None else loom(shedding=shedding(kind=kind, max_pattern_picks=8))
    found: ChangeoverReport = change_style(old, new, on)
    return found.route, {step.step.value: step.hours for step in found.steps}


@pytest.mark.parametrize(("old", "new"), [(RIB, PLAIN), (PLAIN, RIB)])
def test_another_selvedge_weave_is_drawn_in_anew(old: Selvedge, new: Selvedge) -> None:
    """In the rib two neighbours are on one shaft, which plain lifts one by one."""
    route, steps = work(cloth(selvedge=old), cloth(selvedge=new))
    assert (route, steps["draw_selvedges"]) == ("keep", OF_48_ENDS_H)


def test_selvedges_stay_on_shafts_that_weave_them() -> None:
    on_two = cloth(selvedge=RIB)
    for ground in ("plain", "8-end satin"):
        # Plain would hold the rib on its own shafts: the ends stay where they are.
        _, steps = work(on_two, cloth(ground, RIB))
        assert "draw_selvedges" not in steps
    again = work(cloth("2/2 hopsack", RIB), cloth("2/2 hopsack", RIB))
    assert again == ("keep", {})


def test_selvedges_in_the_ground_are_drawn_in_anew_for_another_weave() -> None:
    """Rib and plain both hang on the shafts of plain, by two and by one."""
    _, steps = work(cloth("plain", RIB), cloth("plain", Selvedge(ends_per_side=24)))
    assert steps == {"draw_selvedges": OF_48_ENDS_H}


def test_the_denting_of_the_edges_follows_the_loom_if_it_is_left_open() -> None:
    """A selvedge of no stated weave has its dents doubled; the same weave stated is no work."""
    unstated = cloth("plain", Selvedge(ends_per_side=24))
    assert work(unstated, cloth("plain", PLAIN)) == ("keep", {})
    stated = cloth("plain", replace(PLAIN, ends_per_dent=2))
    assert "set_width" in work(unstated, stated)[1]


def test_ends_at_the_sides_are_drawn_in_once_and_those_left_out_not_at_all() -> None:
    _, more = work(cloth(), cloth(selvedge=RIB))
    assert more["draw_in_by_hand"] == OF_48_ENDS_H
    assert "draw_selvedges" not in more
    _, fewer = work(cloth(selvedge=RIB), cloth())
    assert "leave_out_ends" in fewer
    assert "draw_selvedges" not in fewer
    assert "load_design" not in fewer


A = Yarn(designation="20 tex", fibre="cotton")
WARP_OF = {"A": A, "S": Yarn(designation="Ne 30/2", fibre="cotton")}


def test_a_selvedge_of_another_yarn_is_another_warp() -> None:
    warp = threads(24.0, yarns=WARP_OF, order="46A 2S")
    old = cloth(selvedge=RIB, warp=warp)
    assert work(old, old) == ("keep", {})
    assert work(old, replace(old, selvedge=replace(RIB, yarn="S")))[0] == "tie_in"


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ({"twist_per_m": 800.0, "twist_direction": "Z"}, {"twist_direction": "S"}),
        ({"twist_per_m": 500.0, "twist_direction": "Z"}, {"twist_per_m": 1800.0}),
    ],
)
def test_another_twist_is_another_yarn(old: dict[str, Any], new: dict[str, Any]) -> None:
    one, other = replace(A, **old), replace(A, **(old | new))
    of_warp = [cloth(warp=threads(24.0, yarns={"A": yarn})) for yarn in (one, other)]
    of_weft = [cloth(weft=threads(22.0, yarns={"A": yarn})) for yarn in (one, other)]
    assert work(*of_warp)[0] == "tie_in"
    assert "change_weft" in work(*of_weft)[1]


def test_another_size_is_another_warp() -> None:
    sized, bare = (
        cloth(warp=threads(24.0, yarns={"A": replace(A, sized=sized)})) for sized in (True, False)
    )
    assert work(sized, bare)[0] == "tie_in"
    twelve, none = (cloth(allowances=Allowances(size_pct=each)) for each in (12.0, 0.0))
    assert work(twelve, none)[0] == "tie_in"
