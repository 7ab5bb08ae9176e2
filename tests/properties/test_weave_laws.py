"""Laws of weaves that hold for every matrix."""

from __future__ import annotations

import json
from itertools import product
from pathlib import Path
from typing import Any

import networkx as nx
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from textiles.pictures import png_of_weave

from weavability.textiles.basic_weaves import satin_moves
from weavability.textiles.drafting import (
    Draft,
    check_draft,
    draft_from_treadling,
    draft_weave,
    healds_per_shaft,
    spread_draft,
    treadling,
)
from weavability.textiles.notation import parse_weave
from weavability.textiles.point_paper_image import weave_from_png
from weavability.textiles.weave_matrix import Repeat, Weave
from weavability.textiles.weave_structure import analyse, layers_from_counts
from weavability.textiles.weave_symmetry import (
    complement,
    equivalent,
    mirrored,
    quarter_turn,
    reverse_side,
    upside_down,
)

REFERENCE = json.loads(
    (Path(__file__).parents[1] / "reference" / "weave_structure.json").read_text("utf-8")
)


@st.composite
def weaves(draw: st.DrawFn, most: int = 9) -> Weave:
    picks, ends = draw(st.integers(1, most)), draw(st.integers(1, most))
    cells = draw(st.lists(st.integers(0, 1), min_size=picks * ends, max_size=picks * ends))
    return Weave(matrix=np.array(cells, dtype=np.uint8).reshape(picks, ends))


fractions = (
    st.integers(1, 4)
    .flatmap(lambda pairs: st.lists(st.integers(1, 9), min_size=2 * pairs, max_size=2 * pairs))
    .map(lambda terms: "/".join(map(str, terms)))
)
directions = st.sampled_from("ZS")
satins = (
    st.integers(5, 60)
    .filter(lambda ends: bool(satin_moves(ends)))
    .flatmap(lambda ends: st.tuples(st.just(ends), st.sampled_from(satin_moves(ends))))
)
notation_texts = st.one_of(
    st.builds("{} twill {}".format, fractions, directions),
    st.builds("{} broken twill {}".format, fractions.filter(lambda f: f > "3"), directions),
    st.builds("{} steep twill {} move {}".format, fractions, directions, st.integers(2, 9)),
    st.builds("{} herringbone {}".format, fractions, st.integers(1, 40)),
    st.builds("{} pointed twill {}".format, fractions, st.integers(3, 40)),
    st.builds("{} warp rib".format, fractions),
    st.builds("{} x {} hopsack".format, fractions, fractions),
    st.builds(lambda satin: f"{satin[0]}-end satin move {satin[1]}", satins),
    st.builds(lambda satin: f"{satin[0]}-end sateen move {satin[1]}", satins),
)


@given(weave=weaves())
def test_law_draft_times_lift_plan_is_the_weave(weave: Weave) -> None:
    assert draft_weave(weave).cloth() == weave.reduced()


@given(weave=weaves(), across=st.integers(1, 3), up=st.integers(1, 3))
def test_law_a_repeat_read_once_serves_as_well_as_the_weave(
    weave: Weave, across: int, up: int
) -> None:
    read = Repeat.of(Weave(matrix=np.tile(weave.matrix, (up, across))))
    assert read.weave == weave.reduced()
    assert repr(analyse(read)) == repr(analyse(weave))
    assert analyse(read).layers == analyse(weave).layers
    assert draft_weave(read) == draft_weave(weave)
    matrix = read.weave.matrix
    assert read.up_per_end.tolist() == matrix.sum(axis=0).tolist()
    assert read.up_per_pick.tolist() == matrix.sum(axis=1).tolist()
    assert read.lift_swing == pytest.approx(np.ptp(matrix.mean(axis=1)))


@given(weave=weaves(), data=st.data())
def test_law_a_spread_draft_weaves_the_same_cloth(weave: Weave, data: st.DataObject) -> None:
    draft = draft_weave(weave)
    times = st.lists(st.integers(1, 3), min_size=draft.shafts, max_size=draft.shafts)
    spread = spread_draft(draft, shafts_per_column=data.draw(times))
    assert spread.cloth().reduced() == weave.reduced()
    per_shaft = healds_per_shaft(spread, len(spread.threading))
    for columns in np.unique(spread.lift_plan, axis=1).T:
        alike = [
            heald
            for heald, column in zip(per_shaft, spread.lift_plan.T, strict=True)
            if np.array_equal(column, columns)
        ]
        assert max(alike) == min(alike)


@given(weave=weaves())
def test_law_tie_up_and_treadling_make_the_same_draft(weave: Weave) -> None:
    draft = draft_weave(weave)
    pegs = treadling(draft)
    assert draft_from_treadling(draft.threading, pegs.tie_up, pegs.treadling) == draft


@given(weave=weaves(), data=st.data())
def test_law_a_draft_is_right_whatever_the_numbers_of_its_shafts(
    weave: Weave, data: st.DataObject
) -> None:
    draft = draft_weave(weave)
    order = data.draw(st.permutations(range(1, draft.shafts + 1)))
    renumbered = [order[shaft - 1] for shaft in draft.threading]
    assert check_draft(weave, renumbered).cloth() == weave.reduced()


@given(weave=weaves(), total=st.integers(0, 500))
def test_law_every_end_has_one_heald(weave: Weave, total: int) -> None:
    assert sum(healds_per_shaft(draft_weave(weave), total)) == total


@given(weave=weaves())
def test_law_the_reverse_of_the_reverse_is_the_face(weave: Weave) -> None:
    assert reverse_side(reverse_side(weave)) == weave


@given(weave=weaves())
def test_law_four_quarter_turns_come_home(weave: Weave) -> None:
    turned = weave
    for _ in range(4):
        turned = quarter_turn(turned)
    assert turned == weave
    assert quarter_turn(quarter_turn(weave)) == upside_down(mirrored(weave))


@given(weave=weaves(), down=st.integers(0, 20), across=st.integers(0, 20))
def test_law_nothing_depends_on_where_the_repeat_begins(
    weave: Weave, down: int, across: int
) -> None:
    moved = Weave(matrix=np.roll(weave.matrix, (down, across), axis=(0, 1)))
    assert equivalent(weave, moved)
    assert summary(weave) == summary(moved)


def summary(weave: Weave) -> tuple[Any, ...]:
    found = analyse(weave)
    return (
        found.ends, found.picks, found.shafts_needed, found.distinct_picks, found.warp_up_share,
        found.mean_float_of_ends, found.mean_float_of_picks,
        found.warp_face_float_picks, found.warp_back_float_picks,
        found.weft_face_float_ends, found.weft_back_float_ends,
        len(found.loose_ends), len(found.loose_picks), found.layer_count,
    )  # fmt: skip


@given(weave=weaves(), across=st.integers(1, 4), along=st.integers(1, 4))
def test_law_repeating_a_weave_changes_nothing(weave: Weave, across: int, along: int) -> None:
    repeated = Weave(matrix=np.tile(weave.matrix, (along, across)))
    assert repeated.reduced() == weave.reduced()
    assert summary(repeated) == summary(weave)


@given(weave=weaves())
def test_law_the_back_exchanges_face_and_back_floats(weave: Weave) -> None:
    face, back = analyse(weave), analyse(reverse_side(weave))
    assert face.warp_face_float_picks == back.warp_back_float_picks
    assert face.weft_face_float_ends == back.weft_back_float_ends
    assert face.warp_up_share + back.warp_up_share == pytest.approx(1.0)
    assert face.layer_count == back.layer_count


@given(weave=weaves())
def test_law_a_quarter_turn_exchanges_warp_and_weft(weave: Weave) -> None:
    upright, turned = analyse(weave), analyse(quarter_turn(weave))
    assert (upright.ends, upright.picks) == (turned.picks, turned.ends)
    assert upright.warp_face_float_picks == turned.weft_face_float_ends
    assert upright.warp_back_float_picks == turned.weft_back_float_ends
    assert upright.mean_float_of_ends == turned.mean_float_of_picks
    assert upright.layer_count == turned.layer_count


@given(weave=weaves())
def test_law_floats_found_are_the_longest_runs_round_the_repeat(weave: Weave) -> None:
    found, repeat = analyse(weave), weave.reduced().matrix

    def longest(lines: Any, value: int) -> int:
        best = 0
        for line in lines:
            text = "".join(map(str, line.tolist()))
            if len(set(text)) == 2:
                best = max(best, *map(len, (text * 2).split(str(1 - value))))
        return best

    assert found.warp_face_float_picks == longest(repeat.T, 1)
    assert found.warp_back_float_picks == longest(repeat.T, 0)
    assert found.weft_back_float_ends == longest(repeat, 1)
    assert found.weft_face_float_ends == longest(repeat, 0)


@given(weave=weaves(most=12))
def test_law_a_cloth_hangs_together_when_its_graph_is_strongly_connected(weave: Weave) -> None:
    graph = nx.DiGraph()
    for (pick, end), up in np.ndenumerate(weave.reduced().matrix):
        upper, lower = (("end", end), ("pick", pick)) if up else (("pick", pick), ("end", end))
        graph.add_edge(upper, lower)
    found = analyse(weave)
    assert found.hangs_together == nx.is_strongly_connected(graph)
    assert found.layer_count == nx.number_strongly_connected_components(graph)


@given(weave=weaves(most=12))
def test_law_an_upper_layer_lies_over_every_lower_one(weave: Weave) -> None:
    repeat = weave.reduced().matrix
    layers = analyse(weave).layers
    for above, upper in enumerate(layers):
        for lower in layers[above + 1 :]:
            for end, pick in product(upper.ends, lower.picks):
                assert repeat[pick - 1, end - 1] == 1
            for end, pick in product(lower.ends, upper.picks):
                assert repeat[pick - 1, end - 1] == 0


@given(weave=weaves())
def test_law_complement_is_the_reverse_side_mirrored(weave: Weave) -> None:
    assert complement(weave) == mirrored(reverse_side(weave))


@given(text=notation_texts)
def test_law_a_canonical_name_reads_as_the_same_weave(text: str) -> None:
    weave = parse_weave(text)
    again = parse_weave(weave.name)
    assert again == weave
    assert again.name == weave.name
    assert weave == weave.reduced()


@given(text=notation_texts)
def test_law_a_name_reads_the_same_in_any_spelling(text: str) -> None:
    shouted = text.upper().replace(" ", "  ").replace("-", " ")
    assert parse_weave(shouted) == parse_weave(text)


@given(weave=weaves())
def test_law_rows_read_back_as_the_weave(weave: Weave) -> None:
    assert Weave.from_rows(weave.rows) == weave


@given(weave=weaves(most=40))
def test_law_a_picture_reads_back_as_the_weave(weave: Weave) -> None:
    assert weave_from_png(png_of_weave(weave)) == weave


@given(weave=weaves())
def test_law_equal_drafts_hash_alike(weave: Weave) -> None:
    first = draft_weave(weave)
    second = Draft(threading=first.threading, lift_plan=first.lift_plan.copy(), kind=first.kind)
    assert first == second
    assert hash(first) == hash(second)


def score_pairs(picks: int, ends: int) -> dict[tuple[tuple[int, ...], tuple[int, ...]], int]:
    """Count the matrices of a size by their sorted sums of columns and rows.

    Rows are added one by one, the columns kept sorted, so that no matrix is made twice.
    """
    rows = list(product((0, 1), repeat=ends))
    states: dict[tuple[tuple[int, ...], tuple[int, ...]], int] = {((0,) * ends, ()): 1}
    for _ in range(picks):
        following: dict[tuple[tuple[int, ...], tuple[int, ...]], int] = {}
        for (columns, sums), count in states.items():
            for row in rows:
                added = tuple(sorted(a + b for a, b in zip(columns, row, strict=True)))
                key = (added, tuple(sorted((*sums, sum(row)))))
                following[key] = following.get(key, 0) + count
        states = following
    return states


@pytest.mark.parametrize("case", REFERENCE["large_counts"], ids=lambda case: case["id"])
def test_every_matrix_of_a_size_is_judged_as_counted_elsewhere(case: dict[str, Any]) -> None:
    hang = without_constant_line = 0
    picks, ends = case["picks"], case["ends"]
    for (columns, rows), count in score_pairs(picks, ends).items():
        layers, _ = layers_from_counts(up_per_end=np.array(columns), up_per_pick=np.array(rows))
        hang += count * (layers == 1)
        constant = columns[0] == 0 or columns[-1] == picks or rows[0] == 0 or rows[-1] == ends
        without_constant_line += count * (not constant)
    assert hang == case["hang_together"]
    assert without_constant_line == case.get("no_constant_line", without_constant_line)
