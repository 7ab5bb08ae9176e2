"""Windows of feasibility as the client reads and prints them."""

from __future__ import annotations

from typing import Any

import pytest
from client.recorded import sample

from weavability_client.errors import UsageError
from weavability_client.models import Window


def recorded() -> Window:
    return Window.from_json(sample("window")["answer"])


def test_a_window_is_read_at_its_points_and_drawn_in_signs() -> None:
    window = recorded()
    assert window.case_at(6.1, 4.2) == window.cases[window.grid[0][0]]
    rows = window.to_rows()
    assert len(rows) == sum(case.points for case in window.cases) == 49
    assert rows[0]["/construction/warp/ends_per_cm"] == 6
    assert window.ok is False
    page = str(window)
    assert "nearest better: " in page
    # The greatest value of the rows is at the top, and both axes have their ends.
    lines = page.splitlines()
    (top,) = (at for at, line in enumerate(lines) if line.strip().endswith(", upwards"))
    picture = lines[top + 1 : top + 8]
    assert all(set(line.partition("|")[2]) <= set(".!#+o") for line in picture)
    assert picture[0].endswith("#")
    ends = [f"{window.along.values[at]:g}" for at in (-1, 0)]
    assert [picture[at].partition("|")[0].strip() for at in (0, 6)] == ends
    assert lines[top + 8].split() == [f"{window.across.values[at]:g}" for at in (0, -1)]
    assert lines[top + 9].strip().partition(",")[0] == window.across.words
    assert "+ this order" in page


def test_a_window_marks_the_order_and_the_nearest_point_in_its_field() -> None:
    document = sample("window")["answer"]
    across, along = (document[name]["values"] for name in ("across", "along"))
    own = document["own"] | {"across": across[1], "along": along[2]}
    nearest = document["own"] | {"across": across[-1], "along": along[0]}
    page = str(Window.from_json(document | {"own": own, "nearest": nearest}))
    field = [line.partition("|")[2] for line in page.splitlines() if "|" in line]
    assert field[-1 - 2][1] == "+"
    assert field[-1][-1] == "o"
    outside = own | {"across": 10 * across[-1]}
    page = str(Window.from_json(document | {"own": outside, "nearest": None}))
    assert not [line for line in page.splitlines() if "|" in line and "+" in line]


def test_a_point_outside_of_a_window_has_no_case() -> None:
    window = recorded()
    low, high = window.across.values[0], window.across.values[-1]
    half = (high - low) / (len(window.across.values) - 1) / 2
    row = window.along.values[0]
    assert window.case_at(high + 0.9 * half, row) == window.case_at(high, row)
    with pytest.raises(UsageError, match=f"{window.across.words} .* outside of this window: "):
        window.case_at(high + 1.1 * half, row)
    with pytest.raises(UsageError, match=window.along.words):
        window.case_at(low, -100.0)


def test_what_decides_the_same_is_a_line_of_a_window_and_nearly_all_are_listed() -> None:
    document = sample("window")["answer"]
    case = document["cases"][0] | {"errors": [], "verdict": "weavable_with_warnings"}
    many = [
        case | {"warnings": [code], "decided_by": [code], "points": 50 - at}
        for at, code in enumerate(f"check.{number}" for number in range(35))
    ]
    page = str(Window.from_json(document | {"cases": many}))
    assert page.count("check.") == 30
    assert "not listed here but among the cases: 5 more" in page
    # Neither the speed limit nor a reed that can be bought makes a line of its own.
    alike = [
        case | {"warnings": codes, "decided_by": codes[:1], "limited_by": limit}
        for codes in (["width.reed_space"], ["width.reed_space", "reed.not_in_stock"])
        for limit in ("shedding", "insertion_rate")
    ]
    alone = case | {"warnings": ["reed.not_in_stock"], "decided_by": ["reed.not_in_stock"]}
    page = str(Window.from_json(document | {"cases": [*alike, alone] * 5}))
    rows = [
        line.split("  ")[-1] for line in page.splitlines() if "weavable with warnings  " in line
    ]
    assert rows == [
        "width.reed_space (in part also reed.not_in_stock)",
        "reed.not_in_stock",
    ]
    # What is found at all of its points is not in a part of them.
    page = str(Window.from_json(document | {"cases": alike[2:] * 10}))
    assert "width.reed_space reed.not_in_stock" in page
    assert "in part" not in page


def test_a_window_marks_what_rests_on_assumed_values_and_says_why_nothing_is_nearer() -> None:
    document = sample("window")["answer"]
    code = "width.reed_space"
    fair = {"verdict": "weavable_with_warnings", "errors": [], "warnings": [code]}
    cases = [document["cases"][0] | fair | {"rejected_if_assumed": [code]}, *document["cases"][1:]]
    point = document["own"] | {"verdict": "weavable_with_warnings", "rejected_if_assumed": [code]}
    window: Any = Window.from_json(document | {"cases": cases, "nearest": point})
    rows = window.to_rows()
    doubted = [row for row in rows if row["rejected_if_assumed"] == code]
    assert len(doubted) == cases[0]["points"]
    page = str(window)
    assert page.count("?") > cases[0]["points"]
    assert "rejected if assumed" in page
    assert f"; not weavable if what is assumed is so ({code})" in page
    nothing = document | {"nearest": None, "nearest_note": "Each has an error of sett.jammed."}
    page = str(Window.from_json(nothing))
    assert "nearest better: Each has an error of sett.jammed." in page
    assert "rejected if assumed" not in page


@pytest.mark.parametrize("given", ["178", None, True, float("nan"), [178]])
def test_a_case_is_at_numbers_alone(given: Any) -> None:
    window = recorded()
    first, last = window.across.values[0], window.across.values[-1]
    with pytest.raises(UsageError) as refused:
        window.case_at(given, window.along.values[0])
    said = str(refused.value)
    assert said.startswith(f"across must be a number, not {given!r}")
    assert f"{window.across.words}, {first:g} to {last:g}" in said
    with pytest.raises(ValueError, match="along must be a number"):
        window.case_at(first, given)
