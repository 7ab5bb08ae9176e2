"""What follows from the matrix of a weave, held against published values and a graph library."""

from __future__ import annotations

import json
from itertools import groupby, product
from operator import ne
from pathlib import Path
from typing import Any

import networkx as nx
import numpy as np
import pytest
from builders import named

from weavability.textiles.errors import InputError
from weavability.textiles.weave_matrix import MAX_SIDE, Weave, packed_lines
from weavability.textiles.weave_structure import analyse, layers_from_counts
from weavability.textiles.weave_symmetry import (
    RELATIONS,
    complement,
    equivalent,
    mirrored,
    quarter_turn,
    reverse_side,
)

REFERENCE = json.loads(
    (Path(__file__).parents[1] / "reference" / "weave_structure.json").read_text("utf-8")
)


def from_text(text: str) -> Weave:
    return Weave.from_rows(text.split("/"))


def layers_by_graph(weave: Weave) -> set[frozenset[tuple[str, int]]]:
    """Strongly connected components of the arrows from upper to lower thread."""
    graph = nx.DiGraph()
    for pick, row in enumerate(weave.matrix.tolist(), start=1):
        for end, up in enumerate(row, start=1):
            threads = [("end", end), ("pick", pick)]
            graph.add_edge(*(threads if up else reversed(threads)))
    return {frozenset(part) for part in nx.strongly_connected_components(graph)}


def layers_found(weave: Weave) -> set[frozenset[tuple[str, int]]]:
    return {
        frozenset([("end", end) for end in layer.ends] + [("pick", pick) for pick in layer.picks])
        for layer in analyse(weave).layers
    }


@pytest.mark.parametrize("case", REFERENCE["integrity"], ids=lambda case: case["id"])
def test_published_integrity(case: dict[str, Any]) -> None:
    weave = from_text(case["matrix"])
    up = weave.matrix.astype(np.int64)
    count, _ = layers_from_counts(up_per_end=up.sum(axis=0), up_per_pick=up.sum(axis=1))
    assert count == case["layers"]
    assert analyse(weave).hangs_together == (case["layers"] == 1)


def test_layers_are_the_strongly_connected_components() -> None:
    for seed in range(120):
        rng = np.random.default_rng(seed)
        shape = rng.integers(1, 13, size=2)
        # From nearly empty to nearly full, so that many of them fall apart.
        cells = rng.random(shape) < rng.choice([0.05, 0.2, 0.5, 0.8, 0.95])
        weave = Weave(matrix=cells.astype(np.uint8)).reduced()
        assert layers_found(weave) == layers_by_graph(weave), weave.rows


def every_matrix(picks: int, ends: int) -> Any:
    for number in range(2 ** (picks * ends)):
        bits = np.array([number >> place & 1 for place in range(picks * ends)], dtype=np.uint8)
        yield bits.reshape(picks, ends)


@pytest.mark.slow
@pytest.mark.parametrize("case", REFERENCE["counts"], ids=lambda case: case["id"])
def test_exhaustive_counts_of_weaves_that_hang_together(case: dict[str, Any]) -> None:
    hang = 0
    for matrix in every_matrix(case["picks"], case["ends"]):
        up = matrix.astype(np.int64)
        count, _ = layers_from_counts(up_per_end=up.sum(axis=0), up_per_pick=up.sum(axis=1))
        hang += count == 1
    assert hang == case["hang_together"]


@pytest.mark.parametrize("case", REFERENCE["structures"], ids=lambda case: case["name"])
def test_table_of_structures(case: dict[str, Any]) -> None:
    structure = analyse(from_text(case["matrix"]))
    found = {
        "ends": structure.ends,
        "picks": structure.picks,
        "interlacings_of_ends": int(structure.interlacings_per_end.sum()),
        "interlacings_of_picks": int(structure.interlacings_per_pick.sum()),
        "warp_face": structure.warp_face_float_picks,
        "warp_back": structure.warp_back_float_picks,
        "weft_face": structure.weft_face_float_ends,
        "weft_back": structure.weft_back_float_ends,
        "shafts": structure.shafts_needed,
        "hangs_together": structure.hangs_together,
    }
    assert found == {key: case[key] for key in found}
    cells = structure.ends * structure.picks
    assert structure.mean_float_of_picks == cells / case["interlacings_of_picks"]
    assert structure.mean_float_of_ends == cells / case["interlacings_of_ends"]
    assert structure.warp_up_share == pytest.approx(case["up_in_repeat"] / cells)


def test_wadding_end_between_two_cloths_is_a_layer_of_its_own_but_not_loose() -> None:
    # A double plain cloth whose fifth end lies over every back pick and under every face pick.
    structure = analyse(from_text("10000/10111/00100/11101"))
    assert structure.loose_ends == ()
    assert [layer.ends for layer in structure.layers] == [(1, 3), (5,), (2, 4)]


def test_a_thread_that_never_interlaces_is_loose_and_has_no_float() -> None:
    structure = analyse(from_text("100001/001001/000011/010001/000101"))
    assert structure.loose_ends == (6,)
    assert structure.warp_face_float_picks == 1
    assert not structure.hangs_together


def test_a_cloth_without_any_interlacing_has_finite_averages() -> None:
    structure = analyse(from_text("111/111"))
    assert (structure.ends, structure.picks) == (1, 1)
    assert structure.mean_float_of_picks == 1.0
    assert structure.loose_ends == structure.loose_picks == (1,)


def test_floats_run_over_the_edge_of_the_repeat() -> None:
    structure = analyse(from_text("110001/001110"))
    assert structure.weft_back_float_ends == 3


def test_floats_and_interlacings_of_any_size_are_those_counted_one_by_one() -> None:
    rng = np.random.default_rng(8)
    for shape, has_edges in product(((7, 11), (37, 41)), (False, True)):
        weave = Weave(matrix=(rng.random(shape) < 0.3).astype(np.uint8), has_edges=has_edges)
        found = analyse(weave)
        ends, picks = weave.matrix.T.tolist(), weave.matrix.tolist()
        for lines, counts in (
            (ends, found.interlacings_per_end),
            (picks, found.interlacings_per_pick),
        ):
            changes = [sum(map(ne, line, line[1:] + line[:1])) for line in lines]
            assert counts.tolist() == changes
        assert found.warp_face_float_picks == longest(ends, 1)
        assert found.warp_back_float_picks == longest(ends, 0)
        assert found.weft_back_float_ends == longest(picks, 1, is_cyclic=not has_edges)
        assert found.weft_face_float_ends == longest(picks, 0, is_cyclic=not has_edges)


def longest(lines: list[list[int]], crossing: int, *, is_cyclic: bool = True) -> int:
    """The longest run of a crossing along any line that has both."""
    runs = (
        len(list(run))
        for line in lines
        if len({*line}) == 2
        for kind, run in groupby(2 * line if is_cyclic else line)
        if kind == crossing
    )
    return max(runs)


@pytest.mark.parametrize("case", REFERENCE["turnings"], ids=lambda case: case["id"])
def test_reverse_side_and_quarter_turn(case: dict[str, Any]) -> None:
    turn = {"back": reverse_side, "quarter turn": quarter_turn, "mirror": mirrored}[case["turn"]]
    assert equivalent(turn(from_text(case["from"])), from_text(case["to"]))


def test_relations_name_how_two_weaves_are_kin() -> None:
    twill = from_text("1110/0111/1011/1101")

    def relation(other: Weave) -> str | None:
        kin = (name for name, turn in RELATIONS.items() if equivalent(turn(twill), other))
        return next(kin, None)

    assert relation(twill) == "same"
    assert relation(mirrored(twill)) == "mirrored"
    assert relation(complement(twill)) == "complement"
    assert relation(from_text("10/01")) is None


def test_equivalent_weaves_may_begin_anywhere_but_differ_in_nothing_else() -> None:
    rng = np.random.default_rng(5)
    matrix = (rng.random((31, 17)) < 0.4).astype(np.uint8)
    shifted = np.roll(matrix, (5, 11), axis=(0, 1))
    assert equivalent(Weave(matrix=matrix), Weave(matrix=shifted))
    moved = shifted.copy()
    one, zero = np.argwhere(moved == 1)[0], np.argwhere(moved == 0)[0]
    moved[tuple(one)], moved[tuple(zero)] = 0, 1
    assert not equivalent(Weave(matrix=matrix), Weave(matrix=moved))


def test_equivalence_of_very_large_repeats_is_refused_not_attempted() -> None:
    rng = np.random.default_rng(6)
    matrix = (rng.random((2049, 2053)) < 0.5).astype(np.uint8)
    with pytest.raises(InputError, match="too large"):
        equivalent(Weave(matrix=matrix), Weave(matrix=np.roll(matrix, 1, axis=0)))


def test_reduced_finds_the_true_repeat_of_a_repeated_weave() -> None:
    twill = from_text("110/011/101")
    assert Weave(matrix=np.tile(twill.matrix, (7, 12))).reduced() == twill


@pytest.mark.parametrize("shape", [(1, 1), (7, 3), (8, 8), (9, 2), (173, 11_999), (11_999, 173)])
def test_lines_are_packed_bit_for_bit_however_many_blocks_they_fill(shape: tuple[int, int]) -> None:
    matrix = np.random.default_rng(4).integers(0, 2, size=shape, dtype=np.uint8)
    by_pick, by_end = packed_lines(matrix, axis=0), packed_lines(matrix, axis=1)
    for packed, lines in ((by_pick, matrix), (by_end, matrix.T)):
        assert np.array_equal(np.unpackbits(packed, axis=1, count=lines.shape[1]), lines)


def test_analysis_is_of_the_true_repeat() -> None:
    structure = analyse(Weave(matrix=np.tile(from_text("110/011/101").matrix, (4, 5))))
    assert (structure.ends, structure.picks) == (3, 3)
    assert structure.interlacings_per_end.tolist() == [2, 2, 2]
    assert structure.warp_up_share == pytest.approx(2 / 3)


@pytest.mark.parametrize(
    ("rows", "pointer"),
    [
        ([], "/rows"),
        ([""], "/rows"),
        (["10", "1"], "/rows/1"),
        (["10", "01", "1x"], "/rows/2"),
        (["10", "１0"], "/rows/1"),
        (["1" * (MAX_SIDE + 1)], "/rows"),
        (["1"] * (MAX_SIDE + 1), "/rows"),
    ],
)
def test_rows_that_cannot_be_read_are_pointed_at(rows: list[str], pointer: str) -> None:
    with pytest.raises(InputError) as caught:
        Weave.from_rows(rows)
    assert caught.value.faults[0].pointer == pointer


def test_the_largest_weave_each_way_is_read() -> None:
    assert Weave.from_rows(["1" * MAX_SIDE]).ends == MAX_SIDE
    assert Weave.from_rows(["1"] * MAX_SIDE).picks == MAX_SIDE


def test_at_most_ten_faults_are_listed() -> None:
    with pytest.raises(InputError) as caught:
        Weave.from_rows(["10"] + ["1"] * 500)
    assert len(caught.value.faults) == 10


@pytest.mark.parametrize("matrix", [np.zeros((0, 2)), np.zeros(4), np.full((2, 2), 2)])
def test_a_matrix_that_is_no_weave_is_refused(matrix: Any) -> None:
    with pytest.raises(InputError):
        Weave(matrix=matrix.astype(np.uint8))


def test_the_matrix_cannot_be_changed_afterwards() -> None:
    source = np.eye(3, dtype=np.uint8)
    weave = Weave(matrix=source)
    source[0, 0] = 0
    assert weave.matrix[0, 0] == 1
    with pytest.raises(ValueError, match="read-only"):
        weave.matrix[0, 0] = 0


def test_weaves_are_equal_and_hash_alike_by_matrix() -> None:
    assert from_text("10/01") == from_text("10/01")
    assert hash(from_text("10/01")) == hash(from_text("10/01"))
    assert from_text("10/01") != from_text("01/10")
    assert from_text("1001") != from_text("10/01")
    assert from_text("10/01") != "10/01"


@pytest.mark.parametrize(
    ("name", "times"),
    # Interlacings of every four neighbouring ends by hand: honeycomb 22 against 16, huckaback 36
    # against 32, mock leno 14 against 14 in threes; plain beside 8-end satin is four to one.
    [("honeycomb 8", 22 / 16), ("huckaback", 36 / 32), ("mock leno", 1.0), ("plain", 1.0)],
)
def test_neighbouring_ends_of_cloths_from_one_beam_interlace_nearly_alike(
    name: str, times: float
) -> None:
    structure = analyse(named(name))
    assert structure.interlacing_times == pytest.approx(times)
