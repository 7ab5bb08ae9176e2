"""Drawing-in and lift plan for the shop floor: read back, they are those of the draft."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from numpy.typing import NDArray

from weavability.drawing.draft_plan import MOST_DRAWN, draw_draft_plans, draw_lift_picture
from weavability.textiles.drafting import Draft, draft_weave
from weavability.textiles.notation import parse_weave
from weavability.textiles.weave_matrix import Weave

NS = "{http://www.w3.org/2000/svg}"


def panels(drawing: str) -> list[NDArray[np.uint8]]:
    """The marks of each panel, the lowest line first."""
    found = []
    for group in ET.fromstring(drawing).findall(f"{NS}g"):
        rect = group.findall(f"{NS}rect")[0]
        marks = np.zeros((int(rect.attrib["height"]), int(rect.attrib["width"])), dtype=np.uint8)
        data = group.findall(f"{NS}path")[0].attrib["d"]
        for x, y, length in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\d+z", data):
            marks[int(y), int(x) : int(x) + int(length)] = 1
        for x, y, length in re.findall(r"M(\d+) (\d+)v(\d+)h1v-\d+z", data):
            marks[int(y) : int(y) + int(length), int(x)] = 1
        found.append(marks[::-1])
    return found


def test_a_small_draft_is_one_drawing_of_threading_weave_and_lift_plan() -> None:
    draft = draft_weave(parse_weave("2/2 herringbone 8"))
    (plan,) = draw_draft_plans(draft)
    threading, woven, lift = panels(plan.drawing)
    assert tuple(threading.argmax(axis=0) + 1) == draft.threading
    assert np.array_equal(lift[: draft.picks], draft.lift_plan)
    assert np.array_equal(woven[: draft.picks], draft.cloth().matrix)


def test_a_long_draft_goes_on_in_strips_and_columns() -> None:
    rng = np.random.default_rng(3)
    threading = tuple(int(each) for each in rng.integers(1, 9, 130))
    lift_plan = rng.integers(0, 2, (110, 8), dtype=np.uint8)
    drawn = draw_draft_plans(Draft(threading=threading, lift_plan=lift_plan, kind="irregular"))
    marks = [panel for plan in drawn for panel in panels(plan.drawing)]
    strips = [panel for panel in marks if len(panel) == 8]
    columns = [panel for panel in marks if len(panel) != 8]
    assert tuple(np.hstack(strips).argmax(axis=0) + 1) == threading
    assert np.array_equal(np.vstack(columns), lift_plan)


def test_a_draft_beyond_all_paper_is_not_drawn() -> None:
    plan = np.eye(2, dtype=np.uint8)
    threading = (1, 2) * (MOST_DRAWN // 2 + 1)
    assert draw_draft_plans(Draft(threading=threading, lift_plan=plan, kind="straight")) == []


@pytest.mark.parametrize("side", [8, 96, 600])
def test_what_hooks_lift_is_a_picture_of_bounded_size(side: int) -> None:
    matrix = (np.random.default_rng(1).random((side, side)) < 0.5).astype(np.uint8)
    plan = draw_lift_picture(Weave(matrix=matrix))
    root = ET.fromstring(plan.drawing)
    assert float(root.attrib["width"]) == plan.width < 330
    assert "first pick at the bottom" in root.attrib["aria-label"]
