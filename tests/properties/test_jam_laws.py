"""Laws of the squares by which a cloth's jam is found."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, Final, NamedTuple, TypedDict

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from weavability.textiles.jamming import squares_tightness_pct, tightness_pct
from weavability.textiles.weave_matrix import Matrix, Repeat, Weave
from weavability.textiles.weave_squares import all_squares, squares_of

SIDE: Final = 16
STEP: Final = 8


class Yarns(TypedDict):
    ends_per_cm: float
    picks_per_cm: float
    warp_diameter_mm: float
    weft_diameter_mm: float


cloths: st.SearchStrategy[Yarns] = st.builds(
    Yarns,
    ends_per_cm=st.floats(2.0, 150.0),
    picks_per_cm=st.floats(2.0, 150.0),
    warp_diameter_mm=st.floats(0.02, 1.5),
    weft_diameter_mm=st.floats(0.02, 1.5),
)


def by_chance(picks: int, ends: int, kind: int, seed: int) -> Matrix:
    """Crossings by chance, or one weave beside another."""
    if kind == 0:
        return np.random.default_rng(seed).integers(0, 2, (picks, ends), dtype=np.uint8)
    y, x = np.mgrid[:picks, :ends]
    left, right = (x + y) % 2, (y + kind * x) % (kind + 2) == 0
    striped: Matrix = np.where(x < seed % (ends + 1), left, right).astype(np.uint8)
    return striped


weaves = st.builds(
    by_chance, st.integers(1, 44), st.integers(1, 44), st.integers(0, 6), st.integers(0, 50)
)
dentings = st.one_of(
    st.just(()),
    st.lists(st.integers(0, 5), min_size=1, max_size=8).filter(any).map(tuple),
)


class Found(NamedTuple):
    tightness: float
    lies_over: bool
    first_end: int
    first_pick: int


def one_by_one(matrix: Matrix, denting: tuple[int, ...], yarns: Yarns) -> Iterator[Found]:
    """Every square, crossing by crossing, as the definition says."""
    picks, ends = matrix.shape
    high, wide = min(picks, SIDE), min(ends, SIDE)
    dented = sum(denting)
    even = len(set(denting)) < 2 or math.lcm(ends, dented) <= SIDE
    meetings = 1 if even else math.lcm(ends, dented) // ends
    pitch = pitches(denting)
    first_picks = range(0, picks if picks > SIDE else 1, STEP)
    starts = range(0, ends if ends > SIDE else 1, STEP)
    grid = [[one_square(matrix, pick, start) for start in starts] for pick in first_picks]
    for down, pick in enumerate(first_picks):
        for across, start in enumerate(starts):
            here, corners = grid[down][across], around(grid, down, across)
            nests = here.nests or (
                all(one.nests for one in corners)
                and max(one.of_picks for one in corners) >= here.of_picks
                and max(one.of_ends for one in corners) >= here.of_ends
            )
            for meeting in range(meetings):
                end = start + meeting * ends
                of_ends = sum(pitch[(end + k) % dented] for k in range(SIDE)) if not even else 1.0
                share = 1.0 if even else SIDE * len(denting) / dented / of_ends
                tightness = tightness_pct(
                    ends_per_cm=yarns["ends_per_cm"] * share,
                    picks_per_cm=yarns["picks_per_cm"],
                    warp_diameter_mm=yarns["warp_diameter_mm"],
                    weft_diameter_mm=yarns["weft_diameter_mm"],
                    mean_float_of_picks=high * wide / max(here.of_picks, 1),
                    mean_float_of_ends=high * wide / max(here.of_ends, 1),
                )
                yield Found(tightness, nests, end + 1, pick + 1)


class Square(NamedTuple):
    of_picks: int
    of_ends: int
    nests: bool


def one_square(matrix: Matrix, pick: int, start: int) -> Square:
    """Interlacings of a square, and whether its own threads lie over one another."""
    picks, ends = matrix.shape
    high, wide = min(picks, SIDE), min(ends, SIDE)
    rows, columns = range(pick - 1, pick + high), range(start - 1, start + wide)
    square = matrix[np.ix_(np.array(rows) % picks, np.array(columns) % ends)].astype(int)
    along, down = np.abs(np.diff(square, axis=1))[1:], np.abs(np.diff(square, axis=0))[:, 1:]
    # Longer floats than eight threads are not seen whole.
    whole_picks = ends <= SIDE or along.sum() * 8 >= high * wide
    whole_ends = picks <= SIDE or down.sum() * 8 >= high * wide
    nests = bool(
        (whole_picks and over(matrix[:, one_repeat(columns, ends)], rows) * 2 >= high)
        or (whole_ends and over(matrix[one_repeat(rows, picks)].T, columns) * 2 >= wide)
    )
    return Square(int(along.sum()), int(down.sum()), nests)


def around(grid: list[list[Square]], down: int, across: int) -> list[Square]:
    """The four squares that each have a quarter of one in them."""
    return [
        grid[(down + up) % len(grid)][(across + left) % len(grid[0])]
        for up in (-1, 1)
        for left in (-1, 1)
    ]


def pitches(denting: tuple[int, ...]) -> list[float]:
    """Dents that each end takes; an empty dent goes with the end after it."""
    found: list[float] = []
    empty = 0
    for ends in denting:
        found += [empty + 1 / ends, *[1 / ends] * (ends - 1)] if ends else []
        empty = 0 if ends else empty + 1
    if found:
        found[0] += empty
    return found


def one_repeat(places: range, length: int) -> list[int]:
    """The places of a square in the repeat, without the one before it."""
    return [place % length for place in places[1:]]


def over(lines: np.typing.NDArray[Any], places: range) -> int:
    """Lines of a square that lie over or under one before and one after, six apart at most.

    One of the two lies so beside a neighbour of its own.
    """
    sets = [frozenset(np.flatnonzero(line).tolist()) for line in lines]
    crossings = lines.shape[1]

    def unlike(one: int, other: int) -> bool:
        few, many = sorted((len(sets[one] - sets[other]), len(sets[other] - sets[one])))
        return 4 * (few + many) > crossings and 3 * few <= many

    def anchored(one: int) -> bool:
        return any(unlike(one, (one + step) % len(sets)) for step in (-1, 1))

    def nearest(place: int, direction: int) -> int:
        apart = range(1, min(6, len(sets)))
        for k in apart:
            other = (place + direction * k) % len(sets)
            if unlike(place, other) and (anchored(place) or anchored(other)):
                return k
        return 6

    inside = one_repeat(places, len(sets))
    return sum(nearest(place, -1) + nearest(place, 1) <= 6 for place in inside)


@given(weaves, dentings, cloths)
def test_the_squares_that_are_kept_govern_all_others(
    matrix: Matrix, denting: tuple[int, ...], yarns: Yarns
) -> None:
    weave = Repeat.of(Weave(matrix=matrix))
    squares = squares_of(weave, ends_in_dents=denting)
    tightness = squares_tightness_pct(squares.lists, **yarns)
    every = list(one_by_one(weave.weave.matrix, denting, yarns))
    for lies_over in (True, False):
        kept = tightness[squares.lists.figures["lies_over"] == lies_over].max(initial=0.0)
        worst = max((one.tightness for one in every if one.lies_over == lies_over), default=0.0)
        assert math.isclose(kept, worst, rel_tol=1e-9)
    for place, here in zip(squares.places, tightness, strict=True):
        assert any(
            (one.first_end, one.first_pick) == (place.first_end, place.first_pick)
            and math.isclose(one.tightness, here, rel_tol=1e-9)
            for one in every
        )


def test_picks_for_which_the_take_up_stops_lie_closer() -> None:
    """By hand: 24 of 32 picks move the cloth on: 8, 12, 16 and 12 in the rows of squares."""
    weave = Repeat.of(Weave(matrix=np.eye(32, dtype=np.uint8)))
    stops = bytes([1, 0] * 8 + [1] * 16)
    assert all_squares(weave, (), stops).rows.tolist() == [1.5, 1, 0.75, 1]
    closest = squares_of(weave, taken_up=stops).lists.figures["picks_share"].max()
    assert closest == 1.5
    # A weave of fewer picks meets the stops at every place of its repeat.
    plain = Repeat.of(Weave.from_rows(["10", "01"]))
    assert all_squares(plain, (), stops).rows.tolist() == [1.5]


def test_the_last_square_of_a_cloth_ends_at_its_edge() -> None:
    """By hand: of 40 ends from edge to edge the squares begin at 1, 9, 17 and 25, none at 33."""
    twill = np.eye(8, dtype=np.uint8)
    plain = np.indices((8, 16)).sum(axis=0).astype(np.uint8) % 2
    bordered = np.hstack([twill, twill, twill, plain])
    for matrix, first_end in ((bordered, 25), (np.fliplr(bordered), 1)):
        weave = Repeat.of(Weave(matrix=matrix, has_edges=True))
        squares, every = squares_of(weave), all_squares(weave, ())
        assert every.picks.shape == (1, 4)
        (place,) = squares.places
        assert place == (first_end, first_end + 15, 1, 8)


@given(weaves, cloths, st.sampled_from(tuple(Yarns.__annotations__)), st.floats(1.0, 3.0))
def test_the_tightest_square_grows_with_sett_and_diameter(
    matrix: Matrix, yarns: Yarns, name: str, factor: float
) -> None:
    lists = squares_of(Repeat.of(Weave(matrix=matrix))).lists
    before = squares_tightness_pct(lists, **yarns).max()
    grown: Any = {**yarns, name: yarns[name] * factor}  # type: ignore[literal-required]
    assert squares_tightness_pct(lists, **grown).max() >= before * (1 - 1e-9)
