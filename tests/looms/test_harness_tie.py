"""The tie of a harness, against published ties."""

from __future__ import annotations

from collections import Counter

import pytest

from weavability.looms.harness_tie import (
    MOST_TIED_ENDS,
    TieOrder,
    TiePoint,
    TieSection,
    check_tie,
    hook_of_end,
)
from weavability.textiles.errors import InputError

CENTRED, RETURNED = TieOrder.CENTRED, TieOrder.RETURNED


def cords(*sections: TieSection) -> dict[int, int]:
    """How many hooks have how many cords."""
    return dict(Counter(Counter(hook_of_end(sections)).values()))


def test_a_published_border_and_centre() -> None:
    # Bell 1895, p. 97-99: hooks 1-80 centred on both sides of four repeats of 120.
    border = TieSection(from_hook=1, hooks=80, order=CENTRED)
    tie = hook_of_end((border, TieSection(from_hook=81, hooks=120, times=4), border))
    assert len(tie) == 800
    assert [end for end, hook in enumerate(tie, 1) if hook == 0][1] == 160
    assert {Counter(tie)[hook] for hook in range(80)} == {4}
    assert 208 - len(set(tie)) == 8


def test_published_borders_that_are_gathered_to_each_other() -> None:
    # Bell 1895, p. 99-100: hook 48 has the innermost end of both borders.
    left = TieSection(from_hook=1, hooks=48)
    centre = TieSection(from_hook=49, hooks=160, times=3)
    tie = hook_of_end((left, centre, TieSection(from_hook=1, hooks=48, order=RETURNED)))
    assert (tie[47], tie[48 + centre.ends]) == (47, 47)


def test_a_published_tie_of_straight_and_point_sections() -> None:
    # Posselt 1888, ch. 31, fig. XLIX.
    point = TieSection(from_hook=1, hooks=100, order=CENTRED)
    sections = (
        point,
        TieSection(from_hook=101, hooks=100),
        TieSection(from_hook=201, hooks=200),
        TieSection(from_hook=101, hooks=100, order=RETURNED),
        point,
    )
    assert len(hook_of_end(sections)) == 800
    assert cords(*sections) == {4: 100, 2: 100, 1: 200}


def test_a_published_straight_repeat_and_margin() -> None:
    # Bell 1895, p. 107, and Posselt 1888, p. 39.
    assert TieSection(from_hook=1, hooks=400, times=6).ends == 2_400
    assert cords(TieSection(from_hook=1, hooks=8, times=12)) == {12: 8}


@pytest.mark.parametrize("order", TieOrder)
@pytest.mark.parametrize("point", TiePoint)
def test_cords_add_up_to_the_ends(order: TieOrder, point: TiePoint) -> None:
    section = TieSection(from_hook=3, hooks=7, order=order, times=3, point=point)
    counted = Counter(hook_of_end((section,)))
    assert sum(counted.values()) == section.ends
    assert set(counted) == set(range(2, 9))
    once = {TieOrder.STRAIGHT: 7, RETURNED: 7, CENTRED: 14 - (point is TiePoint.SINGLE)}
    assert section.ends == 3 * once[order]


@pytest.mark.parametrize(
    ("sections", "pointers"),
    [
        ((TieSection(from_hook=1, hooks=80), TieSection(from_hook=1, hooks=80)), []),
        ((TieSection(from_hook=1, hooks=80), TieSection(from_hook=41, hooks=80)), ["/1"]),
        ((TieSection(from_hook=100, hooks=102),), ["/0"]),
        ((TieSection(from_hook=1, hooks=200, times=MOST_TIED_ENDS // 200),), []),
        ((TieSection(from_hook=1, hooks=200, times=MOST_TIED_ENDS // 200 + 1),), [""]),
    ],
)
def test_a_tie_that_the_machine_does_not_have_is_refused(
    sections: tuple[TieSection, ...], pointers: list[str]
) -> None:
    if not pointers:
        check_tie(sections, 200)
        return
    with pytest.raises(InputError) as raised:
        check_tie(sections, 200)
    assert [fault.pointer for fault in raised.value.faults] == pointers
