"""Shuttle boxes: orders worked by hand, and every order against a search of its own."""

from __future__ import annotations

from itertools import product
from math import inf

import pytest
from builders import construction, finding, severity, threads
from hypothesis import given
from hypothesis import strategies as st

from weavability.looms.carriers import InsertionSystem
from weavability.looms.loom import Insertion, Loom, Shedding, SheddingKind
from weavability.looms.loom_limits import resolve_loom
from weavability.looms.shuttle_boxes import MOST_BOXES, boxes_needed
from weavability.service.schemas.loom_schema import LoomSchema
from weavability.textiles.construction import Construction
from weavability.textiles.errors import InputError
from weavability.textiles.yarns import Yarn

COTTON = Yarn(designation="20 tex", fibre="cotton")


def shuttle_loom(**given: tuple[int, int] | int | None) -> Loom:
    return Loom(
        insertion=Insertion(system=InsertionSystem.SHUTTLE, max_rate_m_per_min=400.0),
        reed_width_cm=190.0,
        max_speed_picks_per_min=150.0,
        shedding=Shedding(kind=SheddingKind.DOBBY, shafts=8),
        **given,  # type: ignore[arg-type]
    )


def cloth(order: str) -> Construction:
    keys = sorted({part[-1] for part in order.split()})
    return construction(
        weft=threads(22.0, yarns=dict.fromkeys(keys, COTTON), order=order), panels=1
    )


@pytest.mark.parametrize(
    ("order", "boxes", "expected"),
    [
        ("2A 2B", (1, 4), None),
        ("24A 4B 2C 6D", (1, 4), None),
        ("1A 1B", (1, 4), "error"),
        ("1A 1B", (4, 1), "error"),
        ("1A 1B", (2, 2), None),
        ("3A 3B", (1, 4), "error"),
        ("3A 3B", (2, 2), None),
        ("3A 2B 3A", (1, 4), None),  # one repeat after another: 6 picks of A between those of B
        ("3A 2B 2A", (1, 4), "error"),
        ("7A", (1, 1), None),
        ("2A 2B 2C 2D 2E", (1, 4), "error"),
        ("1A 1B 1C", (3, 3), None),
    ],
)
def test_odd_picks_need_boxes_on_both_sides(
    order: str, boxes: tuple[int, int], expected: str | None
) -> None:
    assert severity("weft.boxes", cloth(order), shuttle_loom(boxes=boxes)) == expected


def test_boxes_that_are_only_assumed_warn() -> None:
    assumed = shuttle_loom(weft_selectors=4)
    assert severity("weft.boxes", cloth("1A 1B"), assumed) == "warning"
    assert severity("weft.boxes", cloth("2A 2B"), assumed) is None
    assert {line.pointer: line.value for line in resolve_loom(assumed).assumptions}["/boxes"] == (
        1,
        4,
    )


def test_the_finding_points_at_the_order() -> None:
    seen = finding("weft.boxes", cloth("1A 1B"), shuttle_loom(boxes=(1, 4)))
    assert seen is not None
    assert seen.pointer == "/construction/weft/order"
    assert "even number of picks" in seen.message


@pytest.mark.parametrize(
    ("order", "boxes", "says"),
    [
        ("2A 2B", (1, 1), "there is one shuttle, and so one weft"),
        ("1A 1B", (1, 4), "each weft must come in an even number of picks"),
        ("2A 2B 2C", (1, 2), "Beside the 1 on one side it needs 3 on the other"),
    ],
)
def test_the_message_says_what_the_order_lacks(
    order: str, boxes: tuple[int, int], says: str
) -> None:
    seen = finding("weft.boxes", cloth(order), shuttle_loom(boxes=boxes))
    assert seen is not None
    assert says in seen.message


def test_boxes_give_the_wefts_that_a_loom_takes() -> None:
    assert resolve_loom(shuttle_loom(boxes=(2, 2))).weft_selectors == 3
    assert resolve_loom(shuttle_loom(boxes=(1, 4), weft_selectors=3)).weft_selectors == 3


@pytest.mark.parametrize("boxes", [(0, 4), (1, 7)])
def test_boxes_that_no_loom_has_are_refused(boxes: tuple[int, int]) -> None:
    with pytest.raises(InputError):
        resolve_loom(shuttle_loom(boxes=boxes))


def test_a_rapier_has_no_boxes() -> None:
    rapier = Loom(
        insertion=Insertion(system=InsertionSystem.RAPIER),
        reed_width_cm=190.0,
        max_speed_picks_per_min=300.0,
        shedding=Shedding(kind=SheddingKind.DOBBY, shafts=8),
        boxes=(1, 4),
    )
    with pytest.raises(InputError) as refusal:
        resolve_loom(rapier)
    assert refusal.value.faults[0].pointer == "/boxes"


def test_boxes_are_two_numbers_in_a_request() -> None:
    body = {
        "insertion": {"system": "shuttle"},
        "reed_width_cm": 120,
        "max_speed_picks_per_min": 180,
        "shedding": {"kind": "dobby", "shafts": 8},
    }
    assert LoomSchema().read({**body, "boxes": [1, 4]}).boxes == (1, 4)
    for wrong, pointer in (([1], "/boxes"), ([1, 7], "/boxes/1"), ([0, 2], "/boxes/0")):
        with pytest.raises(InputError) as refusal:
            LoomSchema().read({**body, "boxes": wrong})
        assert refusal.value.faults[0].pointer == pointer
    with pytest.raises(InputError) as refusal:
        LoomSchema().read({**body, "insertion": {"system": "rapier"}, "boxes": [1, 4]})
    assert refusal.value.faults[0].pointer == "/boxes"


def can_be_woven(order: str, left: int, right: int) -> bool:
    """Throw the shuttles pick by pick, from every place at which they may start."""
    shuttles = sorted(set(order))
    for start in product((0, 1), repeat=len(shuttles)):
        side = dict(zip(shuttles, start, strict=True))
        for key in ("", *order, *order):
            if key:
                side[key] = 1 - side[key]
            at_right = sum(side.values())
            if at_right > right or len(side) - at_right > left:
                break
        else:
            return True
    return False


@given(order=st.text("ABCD", min_size=1, max_size=12), boxes=st.integers(1, MOST_BOXES))
def test_boxes_are_those_that_a_search_finds(order: str, boxes: int) -> None:
    found = boxes_needed(order).beside(boxes)
    searched = next((other for other in range(13) if can_be_woven(order, boxes, other)), inf)
    assert found == searched
