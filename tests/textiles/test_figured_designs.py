"""Figured designs: laws that hold for every picture, and integrity against a graph library."""

from __future__ import annotations

import io
import struct
import zlib
from dataclasses import replace
from functools import partial
from importlib import resources
from itertools import groupby
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image
from profiles import share_of_examples
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components
from textiles.figured import WEAVES, design_of, pictures
from textiles.pictures import png

from weavability.textiles.errors import InputError
from weavability.textiles.figured.design_figures import count_floats, tightest_of_parts
from weavability.textiles.figured.effect_picture import read_effect_picture
from weavability.textiles.figured.figured_cloth import FiguredCloth, HarnessTie, weave_design
from weavability.textiles.figured.figured_design import (
    Back,
    Covers,
    DesignWeft,
    Face,
    FloatLimits,
    Insertion,
    Role,
)
from weavability.textiles.figured.float_binding import bind_floats
from weavability.textiles.figured.float_limits import (
    System,
    long_floats,
    thread_limits,
    unbound_effects,
)
from weavability.textiles.figured.float_search import count_lengths, floats_of
from weavability.textiles.figured.hook_lifts import lay_on_hooks
from weavability.textiles.jamming import tightness_by_place, tightness_pct
from weavability.textiles.notation import parse_weave
from weavability.textiles.weave_matrix import Matrix, Repeat, Weave
from weavability.textiles.weave_structure import analyse

SATIN, SATEEN = parse_weave("8-end satin move 3"), parse_weave("8-end sateen move 3")
TEN_PER_CM = {"ends_per_cm": 10.0, "picks_per_cm": 10.0}
NO_TIE = HarnessTie(hooks=2_688)


def laid(pixels: NDArray[Any], weaves: Any, **more: Any) -> Matrix:
    return lay_on_hooks(design_of(pixels, weaves, **more)).lift


def strong_parts(cloth: Matrix) -> int:
    """Strongly connected parts of the graph with an arrow from each upper thread to the lower."""
    picks, ends = cloth.shape
    arrows = np.zeros((picks + ends, picks + ends), dtype=np.int8)
    arrows[:picks, picks:] = 1 - cloth
    arrows[picks:, :picks] = cloth.T
    count, _ = connected_components(csr_array(arrows), directed=True, connection="strong")
    return int(count)


@given(pixels=pictures(colours=1), weave=st.sampled_from(WEAVES))
@share_of_examples(0.2)
def test_one_colour_is_its_weave_repeated(pixels: NDArray[Any], weave: str) -> None:
    matrix = parse_weave(weave).matrix
    lines, columns = pixels.shape
    repeated = np.tile(matrix, (lines // len(matrix) + 1, columns // len(matrix[0]) + 1))
    assert np.array_equal(laid(pixels, [weave]), repeated[:lines, :columns])


@given(pixels=pictures(), weave=st.sampled_from(WEAVES))
@share_of_examples(0.2)
def test_colours_of_one_weave_join_without_a_break(pixels: NDArray[Any], weave: str) -> None:
    assert np.array_equal(laid(pixels, [weave] * 4), laid(0 * pixels, [weave]))


@given(pixels=pictures())
@share_of_examples(0.2)
def test_complemented_weaves_complement_the_lift_and_its_floats_change_sides(
    pixels: NDArray[Any],
) -> None:
    weaves = [parse_weave(name) for name in WEAVES[:4]]
    lift = laid(pixels, weaves)
    turned = laid(pixels, [Weave(matrix=1 - each.matrix) for each in weaves])
    assert np.array_equal(turned, 1 - lift)
    down, up = count_lengths(lift)
    turned_down, turned_up = count_lengths(turned)
    assert np.array_equal(down, turned_up)
    assert np.array_equal(up, turned_down)


@given(pixels=pictures(), picks=st.integers(0, 40), ends=st.integers(0, 40))
@share_of_examples(0.2)
def test_moving_picture_and_weaves_moves_the_cloth(
    pixels: NDArray[Any], picks: int, ends: int
) -> None:
    # Sides that all weaves divide, since a weave breaks at the edge of any other.
    whole = np.tile(pixels, (8, 8))
    lift = laid(whole, WEAVES[:4])
    moved = np.roll(whole, (picks, ends), (0, 1))
    again = laid(moved, WEAVES[:4], shifts=[(ends, picks)] * 4)
    assert np.array_equal(again, np.roll(lift, (picks, ends), (0, 1)))


@given(pixels=pictures())
@share_of_examples(0.2)
def test_a_mirrored_picture_of_mirrored_weaves_is_the_mirrored_cloth(pixels: NDArray[Any]) -> None:
    columns = pixels.shape[1]
    weaves = [parse_weave(name) for name in WEAVES[:4]]
    mirrored = [Weave(matrix=each.matrix[:, ::-1]) for each in weaves]
    shifts = [(columns % each.ends, 0) for each in weaves]
    assert np.array_equal(
        laid(pixels[:, ::-1], mirrored, shifts=shifts), laid(pixels, weaves)[:, ::-1]
    )


@given(pixels=pictures())
@share_of_examples(0.2)
def test_a_quarter_turn_exchanges_warp_and_weft(pixels: NDArray[Any]) -> None:
    weaves = [parse_weave(name) for name in WEAVES[:4]]
    turned = [Weave(matrix=1 - each.matrix.T) for each in weaves]
    lift, other = laid(pixels, weaves), laid(pixels.T, turned)
    assert np.array_equal(other, 1 - lift.T)
    one, quarter = analyse(Weave(matrix=lift)), analyse(Weave(matrix=other))
    assert one.warp_face_float_picks == quarter.weft_face_float_ends
    assert one.weft_back_float_ends == quarter.warp_back_float_picks


@given(pixels=pictures())
@share_of_examples(0.2)
def test_floats_add_up_to_the_crossings_of_threads_that_interlace(pixels: NDArray[Any]) -> None:
    lift = laid(pixels, WEAVES)
    down, up = count_lengths(lift)
    interlacing = (lift != lift[:, :1]).any(axis=1)
    lengths = np.arange(lift.shape[1] + 1)
    assert int(((down + up) * lengths).sum()) == int(interlacing.sum()) * lift.shape[1]
    longest = max(floats_of(row).lengths.max() for row in lift[interlacing])
    assert np.flatnonzero(down + up).max() == longest


@given(pixels=pictures())
@share_of_examples(0.1)
def test_a_float_within_an_area_is_one_of_its_weave(pixels: NDArray[Any]) -> None:
    longest = [analyse(parse_weave(weave)).longest_weft_float_ends for weave in WEAVES]
    for effects, row in zip(pixels, laid(pixels, WEAVES), strict=True):
        places = groupby(zip(effects.tolist(), row.tolist(), strict=True))
        for (effect, _), run in places:
            assert len(list(run)) <= longest[effect]


@given(
    weaves=st.lists(st.sampled_from(WEAVES), min_size=2, max_size=2),
    widths=st.lists(st.integers(8, 40), min_size=2, max_size=2),
    shift=st.integers(0, 7),
)
@share_of_examples(0.2)
def test_a_float_across_one_edge_is_no_longer_than_those_of_both_weaves(
    weaves: list[str], widths: list[int], shift: int
) -> None:
    pixels = np.repeat([[0] * widths[0] + [1] * widths[1]], 40, axis=0)
    lift = laid(pixels, weaves, shifts=[(0, 0), (shift, 0)])
    both = sum(analyse(parse_weave(weave)).longest_weft_float_ends for weave in weaves)
    assert max(floats_of(row, has_edges=True).lengths.max() for row in lift) <= both


@given(pixels=pictures(colours=2, most=32), order=st.permutations(range(4)), centred=st.booleans())
@share_of_examples(0.1)
def test_cloth_cards_and_shares_of_a_design_add_up(
    pixels: NDArray[Any], order: list[int], centred: bool
) -> None:
    made = design_of(pixels, ["plain", SATEEN])
    colour = made.picture.colours[-1]
    design = replace(
        made,
        effects={**made.effects, colour: replace(made.effects[colour], weft="B")},
        wefts={
            "A": DesignWeft(role=Role.GROUND, weave=parse_weave("plain")),
            "B": DesignWeft(role=Role.FIGURE, insert=Insertion.WHERE_IT_SHOWS),
        },
    )
    # A quarter of the hooks after another, and back.
    quarters = np.array_split(np.arange(pixels.shape[1]), 4)
    tie = np.concatenate([quarters[each] for each in order])
    tie = np.concatenate((tie, tie[::-1])) if centred else tie
    harness = HarnessTie(hooks=pixels.shape[1], hook_of_end=tuple(tie.tolist()))
    woven = weave_design(lay_on_hooks(design), harness, **TEN_PER_CM)
    picture = replace(design.picture, pixels=design.picture.pixels[:, tie])
    covering = replace(design, picture=picture, covers=Covers.CLOTH)
    held = weave_design(lay_on_hooks(covering), harness, **TEN_PER_CM)
    assert held.numbers.tie_conflicts == 0
    assert np.array_equal(held.weave.matrix, woven.weave.matrix)
    assert sum(woven.lifts.picks_by_weft.values()) == len(woven.lifts.lift) == woven.weave.picks
    assert int(woven.lifts.effect_lines.sum()) == pixels.size


@given(pixels=pictures(), centred=st.booleans(), times=st.sampled_from([1, 2]))
@share_of_examples(0.3)
def test_a_correction_binds_every_float_and_keeps_the_cloth_whole(
    pixels: NDArray[Any], centred: bool, times: int
) -> None:
    limits_mm = FloatLimits(warp_mm=9.0, weft_mm=9.0)
    design = design_of(pixels, WEAVES, correct=True, float_limits=limits_mm)
    hooks = tuple(range(pixels.shape[1]))
    tied = (hooks + hooks[::-1]) if centred else hooks
    harness = HarnessTie(hooks=len(hooks), hook_of_end=times * tied)
    woven = weave_design(lay_on_hooks(design), harness, **TEN_PER_CM)
    lifts, limits, tie = woven.lifts, woven.limits, woven.tie
    corrected = woven.correction.lift
    before = lifts.lift if tie is None else lifts.lift[:, tie]

    assert int((corrected != lifts.lift).sum()) == woven.correction.dots
    assert sum(woven.correction.dots_by_effect) == woven.correction.dots
    assert strong_parts(woven.weave.matrix) <= strong_parts(before)
    for system in System:
        stated = _excess(woven, lifts.lift, system)
        assert _excess(woven, corrected, system) <= stated
    edges = {"has_edges": woven.has_edges}
    assert woven.has_edges is (times == 1)
    again = bind_floats(replace(lifts, lift=corrected), tie, limits, **edges)
    if woven.numbers.long_floats == 0:
        assert np.array_equal(again.lift, corrected)
    same = bind_floats(lifts, tie, limits, **edges)
    assert same.lift.tobytes() == corrected.tobytes()


def _excess(woven: FiguredCloth, lift: Matrix, system: System) -> int:
    found = long_floats(
        woven.lifts, lift, woven.tie, woven.limits, system, has_edges=woven.has_edges
    )
    return sum(int((each.lengths - each.limits).sum()) for each in found)


@pytest.fixture(scope="module")
def drawn_by_others() -> NDArray[Any]:
    """A picture of things that an installed package ships, in four colours: 512 x 448 pixels."""
    drawings = resources.files("networkx.drawing.tests") / "baseline"
    content = (drawings / "test_house_with_colors.png").read_bytes()
    with Image.open(io.BytesIO(content)) as drawing:
        few = drawing.convert("RGB").quantize(4, dither=Image.Dither.NONE)
    pixels = np.asarray(few)[16:464, 64:576]
    assert len(np.unique(pixels)) > 2
    return pixels


@pytest.mark.slow
@pytest.mark.parametrize("tied", [False, True])
def test_a_picture_that_somebody_else_drew_is_bound_whole(
    drawn_by_others: NDArray[Any], tied: bool
) -> None:
    limit = 10
    design = design_of(
        drawn_by_others,
        [SATIN, SATEEN, "3/1 twill Z", "2/2 twill S"],
        correct=True,
        float_limits=FloatLimits(warp_mm=limit, weft_mm=limit),
    )
    hooks = tuple(range(512))
    harness = HarnessTie(hooks=512, hook_of_end=hooks + hooks[::-1] if tied else ())
    woven = weave_design(lay_on_hooks(design), harness, **TEN_PER_CM)
    cloth = woven.weave.matrix
    asked = woven.lifts.lift if woven.tie is None else woven.lifts.lift[:, woven.tie]

    def longest(lines: Matrix) -> int:
        # Twice the line joins its ends; a cloth from edge to edge has none to join.
        return max(
            len(list(run))
            for line in lines.tolist()
            for _, run in groupby(line if woven.has_edges else line + line)
        )

    assert longest(asked) > limit
    assert max(longest(cloth), longest(np.hstack([cloth.T, cloth.T]))) <= limit
    assert woven.numbers.long_floats == 0
    assert strong_parts(cloth) <= strong_parts(asked)
    assert int((cloth != asked).sum()) == woven.correction.dots * (2 if tied else 1)


def test_long_floats_of_stripes_at_an_edge_are_bound_by_a_dot_each() -> None:
    # Sateen with its dots at the ends that satin has down: at the edge a weft float is one longer.
    pixels = np.repeat([[0] * 16 + [1] * 16], 32, axis=0)
    design = design_of(pixels, [SATEEN, SATIN], shifts=[(0, 0), (0, 0)])
    lift = lay_on_hooks(design).lift
    longest = max(int(floats_of(row).lengths.max()) for row in lift)
    assert longest > 7
    limits_mm = FloatLimits(weft_mm=7.0)
    corrected = weave_design(
        lay_on_hooks(replace(design, correct=True, float_limits=limits_mm)), NO_TIE, **TEN_PER_CM
    )
    assert corrected.correction.dots > 0
    assert max(int(floats_of(row).lengths.max()) for row in corrected.weave.matrix) == 7


def test_an_effect_without_a_binding_is_left_as_it_is() -> None:
    pixels = np.zeros((24, 24), dtype=int)
    pixels[4:20, 4:20] = 1
    design = design_of(
        pixels,
        ["plain", Weave.from_rows(["0"])],
        correct=True,
        float_limits=FloatLimits(warp_mm=5.0, weft_mm=5.0),
    )
    lifts = lay_on_hooks(design)
    limits = thread_limits(design, **TEN_PER_CM)
    assert unbound_effects(design, limits) == (1,)
    woven = weave_design(lifts, NO_TIE, **TEN_PER_CM)
    assert woven.correction.dots == 0
    assert (woven.numbers.unbound_effects, woven.numbers.unbound_lines) == (1, 0)
    assert woven.numbers.long_floats == 32
    assert woven.words.first_long == "17 picks on hook 5 from pick 4"


@given(pixels=pictures(colours=2, most=32), times=st.integers(2, 3))
@share_of_examples(0.2)
def test_a_straight_tie_of_several_repeats_changes_nothing(
    pixels: NDArray[Any], times: int
) -> None:
    design = design_of(
        pixels, ["3/1 twill Z", "plain"], correct=True, float_limits=FloatLimits(weft_mm=4.0)
    )
    hooks = tuple(range(pixels.shape[1]))
    once = weave_design(lay_on_hooks(design), HarnessTie(hooks=len(hooks)), **TEN_PER_CM)
    often = weave_design(
        lay_on_hooks(design),
        HarnessTie(hooks=len(hooks), hook_of_end=hooks * times),
        **TEN_PER_CM,
    )
    assert np.array_equal(once.weave.matrix, often.weave.matrix)
    assert replace(often.numbers, is_tied=False, tie_columns=0, tie_hooks=0, tie_ends=0) == (
        once.numbers
    )


def test_weaves_are_laid_on_the_hooks_and_turned_by_the_tie() -> None:
    pixels = np.zeros((8, 8), dtype=int)
    hooks = tuple(range(8))
    woven = weave_design(
        lay_on_hooks(design_of(pixels, [SATIN])),
        HarnessTie(hooks=8, hook_of_end=hooks + hooks[::-1]),
        **TEN_PER_CM,
    )
    assert np.array_equal(woven.weave.matrix, np.hstack([SATIN.matrix, SATIN.matrix[:, ::-1]]))
    # The ends beside a turn are lifted alike, so that the float is doubled: Bell 1895, p. 134.
    assert (woven.numbers.turn_float_ends, woven.numbers.turn_limit_ends) == (14, 8)


@given(pixels=pictures(colours=2, most=32))
@share_of_examples(0.1)
def test_a_tie_over_the_whole_cloth_once_ends_at_its_edges(pixels: NDArray[Any]) -> None:
    limits_mm = FloatLimits(weft_mm=4.0)
    lifts = lay_on_hooks(design_of(pixels, [SATIN, "plain"], float_limits=limits_mm))
    hooks = tuple(range(pixels.shape[1]))
    once = weave_design(lifts, HarnessTie(hooks=len(hooks), hook_of_end=hooks), **TEN_PER_CM)
    panels = HarnessTie(hooks=len(hooks), hook_of_end=3 * hooks, panels=3)
    each = weave_design(lifts, panels, **TEN_PER_CM)

    assert once.has_edges
    assert np.array_equal(once.weave.matrix, each.weave.matrix)
    assert replace(each.numbers, tie_ends=len(hooks)) == once.numbers
    rows = [row for row in once.weave.matrix.tolist() if 0 < sum(row) < len(row)]
    runs = [len(list(run)) for row in rows for _, run in groupby(row)]
    weft = [each for each in count_floats(once, once.weave.matrix) if each.system is System.WEFT]
    counted = weft[0].counts + weft[1].counts
    assert np.array_equal(counted, np.bincount(runs, minlength=len(counted)))
    assert analyse(once.weave).longest_weft_float_ends == max(runs, default=0)
    # A pick that binds nowhere is too long once, and no float of any length.
    loose = len(once.weave.matrix) - len(rows)
    assert once.numbers.long_floats == loose + sum(each > 4 for each in runs)


def test_borders_that_meet_only_round_the_loom_do_not_turn_there() -> None:
    # A border, the centre and the border turned: 8-end satin breaks and turns nowhere but inside.
    hooks = tuple(range(16))
    lifts = lay_on_hooks(design_of(np.zeros((8, 16), dtype=int), [SATIN]))
    tied = hooks + hooks[::-1]
    once = weave_design(lifts, HarnessTie(hooks=16, hook_of_end=tied), **TEN_PER_CM)
    twice = weave_design(lifts, HarnessTie(hooks=16, hook_of_end=2 * tied), **TEN_PER_CM)
    assert [each.words.turns[0].end for each in (once, twice)] == [16, 32]
    # 14 across the turn inside; at the edges the same float is cut in two.
    assert once.numbers.turn_float_ends == twice.numbers.turn_float_ends == 14
    gathered = (*range(8), *range(8, 16), *range(7, -1, -1))
    numbers = [
        weave_design(
            lifts, HarnessTie(hooks=16, hook_of_end=times * gathered), **TEN_PER_CM
        ).numbers.turn_float_ends
        for times in (1, 2)
    ]
    assert numbers == [0, 14]


def test_a_picture_of_the_cloth_is_held_against_the_tie() -> None:
    half = np.array([[0, 0, 1, 1, 0, 1], [0, 1, 1, 0, 0, 0]])
    cloth = np.hstack([half, half[:, ::-1]])
    hooks = tuple(range(6))
    harness = HarnessTie(hooks=6, hook_of_end=hooks + hooks[::-1])
    weaves = ["plain", "2/2 twill Z"]
    alike = weave_design(
        lay_on_hooks(design_of(cloth, weaves, covers=Covers.CLOTH)), harness, **TEN_PER_CM
    )
    assert (alike.numbers.tie_conflicts, alike.words.conflicts) == (0, ())
    of_hooks = weave_design(lay_on_hooks(design_of(half, weaves)), harness, **TEN_PER_CM)
    assert np.array_equal(alike.weave.matrix, of_hooks.weave.matrix)

    cloth[:, 9] ^= 1
    cloth[1, 11] ^= 1
    unlike = weave_design(
        lay_on_hooks(design_of(cloth, weaves, covers=Covers.CLOTH)), harness, **TEN_PER_CM
    )
    assert (unlike.numbers.tie_conflicts, unlike.numbers.conflicting_ends) == (3, 2)
    assert [place[:2] for place in unlike.words.conflicts] == [(10, 1), (12, 2)]
    assert unlike.words.conflicts[1].what == (
        "end 12 shows effect 1 on pick 2, and end 1 on the same hook effect 0; "
        "pixels that differ: 1"
    )


def test_a_ground_that_does_not_divide_the_repeat_breaks_there() -> None:
    pixels = np.zeros((24, 400), dtype=int)
    broken = weave_design(
        lay_on_hooks(design_of(pixels, ["12-end satin move 5"])), NO_TIE, **TEN_PER_CM
    )
    assert broken.words.broken == ("effect 0",)
    # Taylor 1909, p. 220: four of the 400 hooks are cast out.
    assert broken.words.fitting_ends == 396
    whole = weave_design(
        lay_on_hooks(design_of(pixels[:, :396], ["12-end satin move 5"])), NO_TIE, **TEN_PER_CM
    )
    assert whole.numbers.broken_effects == 0


def brocade(back: Back, insert: Insertion) -> Any:
    pixels = np.zeros((48, 48), dtype=int)
    pixels[10:26, 8:32] = 1
    design = design_of(pixels, ["plain", SATEEN])
    flower = design.picture.colours[1]
    return replace(
        design,
        effects={**design.effects, flower: replace(design.effects[flower], weft="B")},
        wefts={
            "A": DesignWeft(role=Role.GROUND, weave=parse_weave("plain")),
            "B": DesignWeft(
                role=Role.FIGURE,
                back=back,
                binding=parse_weave("16-end sateen move 7") if back is Back.BOUND else None,
                insert=insert,
            ),
        },
    )


def test_a_figuring_weft_has_its_own_picks_and_cards() -> None:
    every = lay_on_hooks(brocade(Back.FLOAT, Insertion.EVERY_LINE))
    assert every.picks_by_weft == {"A": 48, "B": 48}
    shown = lay_on_hooks(brocade(Back.FLOAT, Insertion.WHERE_IT_SHOWS))
    assert shown.picks_by_weft == {"A": 48, "B": 16}
    assert len(shown.lift) == 64

    loose = weave_design(every, NO_TIE, **TEN_PER_CM).numbers
    assert loose.loose_weft_picks == 32
    bound = weave_design(shown, NO_TIE, **TEN_PER_CM).numbers
    # It floats behind the ground from one side of the figure to the other.
    assert (bound.loose_weft_picks, bound.back_float_ends >= 24) == (0, True)


def test_a_bound_back_floats_no_further_than_its_binding() -> None:
    lifts = lay_on_hooks(brocade(Back.BOUND, Insertion.WHERE_IT_SHOWS))
    numbers = weave_design(lifts, NO_TIE, **TEN_PER_CM).numbers
    assert numbers.back_float_ends <= 16 + 7
    # Plain ground has no weft float that could hide a binding.
    assert numbers.binding_shows_pct == 100
    rows = lifts.lift[lifts.weft_of_pick == 1]
    assert np.array_equal(
        rows[:, 12:24], SATEEN.matrix[np.arange(16) % 8][:, np.arange(12, 24) % 8]
    )


def test_a_face_turns_a_weave_at_the_same_places() -> None:
    design = design_of(np.zeros((8, 8), dtype=int), [SATIN])
    colour = design.picture.colours[0]
    turned = replace(design.effects[colour], face=Face.WEFT)
    lift = lay_on_hooks(replace(design, effects={colour: turned})).lift
    assert np.array_equal(lift, 1 - SATIN.matrix)


def test_thin_outlines_are_counted_by_effect() -> None:
    pixels = np.zeros((20, 20), dtype=int)
    pixels[5, 2:12] = 1
    pixels[10:14, 2:7] = 1
    numbers = weave_design(
        lay_on_hooks(design_of(pixels, ["plain", "2/2 twill Z"])), NO_TIE, **TEN_PER_CM
    )
    assert numbers.numbers.thin_pct == pytest.approx(100 * 10 / 30)
    assert (numbers.words.thin, numbers.words.thin_place) == ("effect 1", (6, 3))
    assert numbers.words.thin_shares == pytest.approx((0, 10 / 30))


def test_groups_of_ends_take_up_as_they_interlace() -> None:
    pixels = np.repeat([[0] * 80 + [1] * 80], 16, axis=0)
    woven = weave_design(lay_on_hooks(design_of(pixels, ["plain", SATIN])), NO_TIE, **TEN_PER_CM)
    # An end of plain interlaces at each pick, one of 8-end satin twice in eight.
    assert woven.numbers.take_up_times == pytest.approx(4.0)


def test_stripes_are_as_tight_as_their_own_weaves_and_the_map_keeps_the_tightest() -> None:
    pixels = np.repeat([[0] * 80 + [1] * 80], 16, axis=0)
    weave = Weave(matrix=laid(pixels, ["plain", SATIN]))
    set_in = partial(
        tightness_pct,
        ends_per_cm=40.0,
        picks_per_cm=30.0,
        warp_diameter_mm=0.15,
        weft_diameter_mm=0.18,
    )
    squares = tightness_by_place(Repeat.of(weave), **set_in.keywords)
    # An end of plain interlaces at each pick, one of 8-end satin twice in eight.
    for square, mean_float in ((2, 1.0), (12, 4.0)):
        alone = set_in(mean_float_of_picks=mean_float, mean_float_of_ends=mean_float)
        assert squares[0, square] == pytest.approx(alone)
    wide = np.tile(squares, (1, 10))
    parts = tightest_of_parts(wide)
    assert parts.shape == (1, 64)
    assert parts.max() == squares.max()


def palette_png(pixels: NDArray[Any], colours: int) -> bytes:
    picture = Image.fromarray(pixels.astype(np.uint8), mode="P")
    picture.putpalette([channel for value in range(colours) for channel in (value, 0, 255 - value)])
    return png(picture)


def with_palette(colours: int, *, bits: int = 8, step: int = 1) -> bytes:
    """A picture of values 0 and 1 whose palette is replaced."""
    picture = Image.fromarray(np.array([[0, 1]], dtype=np.uint8), mode="P")
    picture.putpalette([0, 0, 0, 1, 1, 1])
    made = png(picture, bits=bits)
    at = made.index(b"PLTE") - 4
    end = at + 12 + int.from_bytes(made[at : at + 4])
    body = b"PLTE" + bytes(channel for value in range(colours) for channel in (step * value, 7, 7))
    chunk = struct.pack(">I", len(body) - 4) + body + struct.pack(">I", zlib.crc32(body))
    return made[:at] + (chunk if colours else b"") + made[end:]


def test_a_picture_is_read_from_the_bottom_left() -> None:
    read = read_effect_picture(palette_png(np.array([[0, 1, 2], [2, 2, 2]]), 3))
    assert read.colours == ("#0000ff", "#0100fe", "#0200fd")
    assert read.pixels.tolist() == [[2, 2, 2], [0, 1, 2]]


@pytest.mark.parametrize(
    ("picture", "words"),
    [
        (b"GIF89a", "This is not a PNG picture."),
        (png(Image.new("L", (4, 4))), "Save the picture with a palette."),
        (palette_png(np.arange(65).reshape(5, 13), 65), "The picture uses 65 colours; 64 at most"),
        (palette_png(np.zeros((4, 4)), 1)[:-20], "The PNG picture is damaged"),
        (with_palette(0), "says that it has a palette, and has none"),
        (with_palette(1), "has pixels of value 1; its palette ends at 0"),
        (with_palette(3, bits=1), "The palette has 3 colours; 1-bit pixels allow 2"),
        (with_palette(2, step=0), "uses #000707 under the values 0 and 1"),
    ],
)
def test_a_picture_that_cannot_be_read_is_refused(picture: bytes, words: str) -> None:
    with pytest.raises(InputError, match=words):
        read_effect_picture(picture)


def test_every_fault_of_a_colour_map_comes_at_once() -> None:
    design = design_of(np.array([[0, 1], [1, 0]]), ["plain", "plain"])
    one, _ = design.effects.values()
    with pytest.raises(InputError) as raised:
        replace(
            design,
            effects={
                design.picture.colours[0]: replace(one, weft="Z", face=Face.WARP),
                "#123456": one,
            },
            wefts={"A": DesignWeft(role=Role.FIGURE, binding=SATEEN)},
            correct=True,
        )
    assert [fault.pointer for fault in raised.value.faults] == [
        "/effects",
        "/effects/#123456",
        "/effects/#000000/weft",
        "/effects/#000000/face",
        "/wefts",
        "/wefts/A/binding",
        "/float_limits",
    ]
