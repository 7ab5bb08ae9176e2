"""Named weaves: published constructions, forgiving spelling, helpful refusals."""

from __future__ import annotations

import json
from math import gcd
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from weavability.textiles.assumptions import Ledger
from weavability.textiles.basic_weaves import (
    best_satin_move,
    end_and_end,
    float_line,
    hopsack,
    multiple_cloth,
    pick_and_pick,
    plain,
    satin,
    satin_moves,
    twill,
)
from weavability.textiles.errors import InputError
from weavability.textiles.notation import notations, parse_weave
from weavability.textiles.weave_matrix import Weave
from weavability.textiles.weave_structure import analyse
from weavability.textiles.weave_symmetry import (
    RELATIONS,
    complement,
    equivalent,
    quarter_turn,
    reverse_side,
)

REFERENCE = json.loads(
    (Path(__file__).parents[1] / "reference" / "weave_notation.json").read_text("utf-8")
)


def sequence(name: str) -> dict[int, int]:
    found = next(case for case in REFERENCE["sequences"] if case["name"] == name)
    return dict(enumerate(found["values"], start=found["first"]))


@pytest.mark.parametrize("case", REFERENCE["matrices"], ids=lambda case: case["notation"])
def test_published_matrices(case: dict[str, Any]) -> None:
    assert parse_weave(case["notation"]).rows == tuple(case["matrix"].split("/"))


@pytest.mark.parametrize("case", REFERENCE["sizes"], ids=lambda case: case["notation"])
def test_published_repeats(case: dict[str, Any]) -> None:
    weave = parse_weave(case["notation"])
    assert (weave.ends, weave.picks) == (case["ends"], case["picks"])


@pytest.mark.parametrize("case", REFERENCE["satins"], ids=lambda case: f"{case['ends']} ends")
def test_published_satin_moves(case: dict[str, Any]) -> None:
    moves = satin_moves(case["ends"])
    if "all_moves" in case:
        assert list(moves) == case["all_moves"]
    else:
        assert [move for move in moves if 2 * move < case["ends"]] == case["moves_to_half"]


@pytest.mark.parametrize("case", REFERENCE["bindings"], ids=lambda case: case["id"])
def test_published_order_of_binding(case: dict[str, Any]) -> None:
    weave = satin(case["ends"], move=case["move"], face="weft")
    assert (weave.matrix.argmax(axis=1) + 1).tolist() == case["lifted"]


@pytest.mark.parametrize("ends", range(5, 41))
def test_square_and_symmetric_satins_are_as_many_as_published(ends: int) -> None:
    square = symmetric = 0
    for move in satin_moves(ends):
        if 2 * move > ends:
            continue
        weave = satin(ends, move=move, face="weft")
        transposed = Weave(matrix=weave.matrix.T)
        mirror = Weave(matrix=weave.matrix[:, ::-1])
        symmetric += equivalent(weave, transposed)
        square += equivalent(mirror, transposed)
    assert square == sequence("square satins")[ends]
    assert symmetric == sequence("symmetric satins")[ends]
    assert square + symmetric == sequence("isonemal satins")[ends]


def akin(one: Weave, other: Weave) -> bool:
    return any(equivalent(turn(one), other) for turn in RELATIONS.values())


def twill_classes(ends: int) -> dict[int, int]:
    """Count twills by exact period, up to shift, reversal and exchange of the sides."""
    found: list[Weave] = []
    for number in range(1, 2**ends - 1):
        line = np.array([number >> place & 1 for place in range(ends)], dtype=np.uint8)
        start = (np.arange(ends)[None, :] - np.arange(ends)[:, None]) % ends
        weave = Weave(matrix=line[start])
        sides = (weave, complement(weave))
        if not any(akin(side, other) for side in sides for other in found):
            found.append(weave)
    periods = [weave.reduced().ends for weave in found]
    return {period: periods.count(period) for period in set(periods)}


@pytest.mark.slow
@pytest.mark.parametrize("ends", range(2, 8))
def test_twills_are_as_many_as_published(ends: int) -> None:
    counted = twill_classes(ends)
    assert sum(counted.values()) == sequence("twills of period n")[ends]
    assert counted[ends] == sequence("twills of exact period n")[ends]


def test_a_twill_line_moves_one_end_to_the_right_for_z_and_to_the_left_for_s() -> None:
    assert parse_weave("1/3 twill Z").rows == ("1000", "0100", "0010", "0001")
    assert parse_weave("1/3 twill S").rows == ("1000", "0001", "0010", "0100")


@pytest.mark.parametrize(
    ("spelling", "canonical"),
    [
        ("PLAIN", "plain"),
        ("  plain   weave ", "plain"),
        ("1/1", "plain"),
        ("1/1 twill", "plain"),
        ("1/1 warp rib", "plain"),
        ("1/1 hopsack", "plain"),
        ("twill 2/1 z", "2/1 twill Z"),
        ("2/1-Z-Twill", "2/1 twill Z"),
        ("2 / 1 twill, right-hand", "2/1 twill Z"),
        ("2/1 left hand twill", "2/1 twill S"),
        ("2 up 1 down twill S", "2/1 twill S"),
        ("2/2/2/2 twill Z", "2/2 twill Z"),
        ("2⁄1 twill Z", "2/1 twill Z"),
        ("8-shaft satin, step 3", "8-end satin move 3"),
        ("satin 8 (3)", "8-end satin move 3"),
        ("8/3 satin", "8-end satin move 3"),
        ("Satin 7/1 move 5", "8-end satin move 5"),
        ("1/4 satin move 2", "5-end sateen move 2"),
        ("weft satin 5 move 3", "5-end sateen move 3"),
        ("5 end warp-faced sateen move 2", "5-end satin move 2"),
        ("rep 2/2 warp", "2/2 warp rib"),
        ("2/2 filling rib", "2/2 weft rib"),
        ("4/1 satin move 2", "5-end satin move 2"),
        ("4/1 sateen move 2", "5-end satin move 2"),
        ("5/2 sateen", "5-end sateen move 2"),
        ("5/2 satin", "5-end satin move 2"),
        ("Panama 2/2", "2/2 hopsack"),
        ("3/2 hop-sack", "3/2 hopsack"),
        ("4/4×2/2 basket weave", "4/4 x 2/2 hopsack"),
        ("2/2 herring-bone 8", "2/2 herringbone 8"),
        ("2/2 herringbone 8 and 4 S", "2/2 herringbone 8 and 4 S"),
        ("2/2 zig-zag twill 8", "2/2 pointed twill 8"),
        ("2/2 twill Z move 3", "2/2 reclined twill Z move 3"),
        ("63° steep twill 5/2/1/2 Z", "5/2/1/2 steep twill Z move 2"),
        ("waffle 8", "honeycomb 8"),
        ("mock-leno 3x3", "mock leno 3"),
        ("huck-a-back 10", "huckaback 10"),
        ("DOUBLE CLOTH plain+2/2 twill Z", "double cloth plain + 2/2 twill Z"),
    ],
)
def test_spelling_is_forgiving(spelling: str, canonical: str) -> None:
    ledger = Ledger()
    assert parse_weave(spelling, ledger=ledger).name == canonical
    assert not list(ledger)


# A twill whose line rises by n threads at once lies at atan n: 63, 72, 76 degrees, rounded as the
# trade does to 63, 70 or 72, 75 or 76, and a reclined one at what is left of 90.
@pytest.mark.parametrize(
    ("degrees", "kind", "move"),
    [
        *((63, "steep", 2), (70, "steep", 3), (72, "steep", 3), (75, "steep", 4)),
        *((76, "steep", 4), (27, "reclined", 2), (20, "reclined", 3), (18, "reclined", 3)),
        *((15, "reclined", 4), (14, "reclined", 4)),
    ],
)
def test_the_angle_of_a_twill_says_how_it_moves(degrees: int, kind: str, move: int) -> None:
    found = parse_weave(f"{degrees}° {kind} twill 5/2/1/2 Z")
    assert found.name == f"5/2/1/2 {kind} twill Z move {move}"


@pytest.mark.parametrize(
    ("text", "canonical", "reason"),
    [
        ("2/1", "2/1 twill Z", "read as a twill"),
        ("3/1 twill", "3/1 twill Z", "no direction given"),
        ("8-end satin", "8-end satin move 3", "no move given"),
        ("honeycomb", "honeycomb 8", "usual 8 by 8"),
        ("2/2 herringbone", "2/2 herringbone 4", "no stripe given"),
        ("mock leno", "mock leno 3", "usual 3 and 3"),
        ("huckaback", "huckaback 10", "usual 10 by 10"),
        ("2/2 steep twill", "2/2 steep twill Z move 2", "twill of 2"),
    ],
)
def test_what_the_text_leaves_open_is_written_down(text: str, canonical: str, reason: str) -> None:
    ledger = Ledger("/weave")
    assert parse_weave(text, ledger=ledger).name == canonical
    (line,) = ledger
    assert line.pointer == "/weave"
    assert line.value == canonical
    assert reason in line.reason


def test_every_notation_listed_is_understood_as_it_is_written() -> None:
    named = [notation for notation in notations() if notation.name != "crepe"]
    for notation in named:
        assert parse_weave(notation.example).name == notation.example
    assert {"plain", "twill", "satin", "double cloth"} <= {notation.name for notation in named}


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("twil 2/2", 'Did you mean "2/2 twill Z"?'),
        ("3/1 twil S", 'Did you mean "3/1 twill S"?'),
        ("twil sattin", "Did you mean 'twill'?"),
        ("8-end stain", 'Did you mean "8-end satin move 3"?'),
        ("2/2 herringbon 8", 'Did you mean "2/2 herringbone 8"?'),
        ("4-end satin", "no regular satin on 4 ends"),
        ("7/1 4/1 satin", "number of ends"),
        ("6 end sateen move 2", "no regular satin on 6 ends"),
        ("2/2 twill z s", "two directions, Z and S"),
        ("3/1 RH LH twill", "two directions, Z and S"),
        ("left-hand 3/1 twill Z", "two directions, S and Z"),
        ("warp-faced weft 8-end satin", "two faces, warp and weft"),
        ("plain twill", "It names 2 weaves: plain, twill."),
        ("twill plain", "It names 2 weaves: plain, twill."),
        ("-8-end satin", "leave out the sign of -8"),
        ("8-end satin move 4", "cannot have the move 4"),
        ("5-end satin move 4", "cannot have the move 4"),
        ("2/2 rib", "warp rib or a weft rib"),
        ("plain Z", "takes no direction"),
        ("2/2 twill 8", "takes no number"),
        ("2/1/1 twill", 'as many "down" as "up"'),
        ("0/2 twill", "1 or more"),
        ("2/1 broken twill", "cannot be broken"),
        ("crepe", "rows"),
        ("leno", "cross each other"),
        ("double cloth plain", "made of 2 weaves"),
        ("double cloth end and end plain + plain", "cannot be combined again"),
        ("satin twill herringbone 2/2", "names 2 weaves"),
        ("", "not a weave"),
        ("@@@", "not a weave"),
        ("9", "does not say which weave"),
        ("honeycomb 7", "even number"),
        ("5/2/1/2 steep twill Z 50 degrees", "63"),
    ],
)
def test_refusals_say_what_to_write_instead(text: str, says: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_weave(text)
    (fault,) = caught.value.faults
    assert says in fault.message
    assert fault.allowed


def test_irregular_satins_that_are_offered_hang_together_and_bind_no_neighbours() -> None:
    for ends in (4, 6):
        with pytest.raises(InputError) as caught:
            parse_weave(f"{ends}-end satin")
        offered = caught.value.faults[0].allowed
        assert isinstance(offered, dict)
        weave = Weave.from_rows(offered["rows"])
        lifted = weave.matrix.argmax(axis=1)
        assert analyse(weave).hangs_together
        assert sorted(lifted.tolist()) == list(range(ends))
        steps = np.diff(lifted, append=lifted[0]) % ends
        # On four ends a twill step cannot be avoided altogether.
        assert ends == 4 or not np.isin(steps, (1, ends - 1)).any()


@pytest.mark.parametrize(("threads", "read"), [(200, True), (201, False)])
def test_a_fraction_has_at_most_200_threads(threads: int, read: bool) -> None:
    text = f"{threads - 1}/1 twill Z"
    if read:
        assert parse_weave(text).ends == threads
    else:
        with pytest.raises(InputError, match="200"):
            parse_weave(text)


@pytest.mark.parametrize(
    "text", ["x" * 201, "9" * 200, "(" * 200, "1/" * 99, "2 up " * 40, "+" * 200]
)
def test_hostile_text_is_refused_in_a_short_sentence(text: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_weave(text)
    assert len(str(caught.value)) < 600


def test_a_long_fraction_is_cut_to_its_repeat() -> None:
    assert parse_weave("1/" * 99 + "1").name == "plain"
    assert parse_weave("2 up 1 down " * 15 + "twill Z").name == "2/1 twill Z"


def test_a_combination_that_grows_too_large_is_refused_before_it_is_made() -> None:
    with pytest.raises(InputError, match="too large"):
        parse_weave("end and end 100/99 twill Z + 98/99 twill Z + 96/97 twill Z")


def test_best_move_spreads_the_binding_points() -> None:
    assert [best_satin_move(ends) for ends in (5, 7, 8, 9, 10, 11, 12, 13)] == [
        2, 2, 3, 2, 3, 3, 5, 5,
    ]  # fmt: skip


def test_steep_twill_keeps_every_second_end_and_reclined_every_second_pick() -> None:
    base = twill((5, 2, 1, 2)).matrix
    steep = twill((5, 2, 1, 2), picks_per_end=2)
    reclined = twill((5, 2, 1, 2), ends_per_pick=2)
    assert np.array_equal(steep.matrix, base[:, ::2])
    assert np.array_equal(reclined.matrix, base[::2])


@pytest.mark.parametrize("move", range(1, 11))
def test_a_steep_twill_repeats_on_the_ends_that_bring_the_line_home(move: int) -> None:
    weave = twill((5, 2, 1, 2), picks_per_end=move)
    assert (weave.ends, weave.picks) == (10 // gcd(10, move), 10)


@pytest.mark.parametrize("case", REFERENCE["angles"], ids=lambda case: case["id"])
def test_published_angles_of_twill_lines(case: dict[str, Any]) -> None:
    weave = parse_weave(f"3/2 steep twill {case['degrees']} degrees")
    assert weave.name == f"3/2 steep twill Z move {case['picks_up']}"


def test_honeycomb_has_the_published_longest_floats() -> None:
    # Encyclopaedia Britannica 1911, Honeycomb: weft floats to 7 and warp floats to 5 on the face.
    structure = analyse(parse_weave("honeycomb 8"))
    assert structure.weft_face_float_ends == 7
    assert structure.warp_face_float_picks == 5
    assert structure.hangs_together


def test_unequal_hopsack_groups_ends_and_picks() -> None:
    assert parse_weave("3/2 hopsack").rows == ("11100",) * 3 + ("00011",) * 2
    assert hopsack((2, 2), (1, 1)) == parse_weave("2/2 weft rib")


def test_herringbone_is_cut_clean_on_the_shafts_of_its_twill() -> None:
    weave = parse_weave("2/2 herringbone 8")
    assert (weave.ends, weave.picks) == (16, 4)
    assert analyse(weave).shafts_needed == 4
    matrix = weave.matrix
    for left, right in ((7, 8), (15, 0)):
        assert np.array_equal(matrix[:, left], 1 - matrix[:, right])


def test_an_unbalanced_herringbone_keeps_its_face_unless_opposite() -> None:
    assert analyse(parse_weave("3/1 herringbone 8")).face == "warp"
    assert analyse(parse_weave("3/1 herringbone 8")).shafts_needed == 4
    assert analyse(parse_weave("3/1 herringbone 8 opposite")).face == "balanced"
    assert analyse(parse_weave("3/1 herringbone 8 opposite")).shafts_needed == 8


def test_diamond_is_symmetrical_both_ways() -> None:
    matrix = parse_weave("2/2 diamond 8").matrix
    assert np.array_equal(matrix[1:], matrix[:0:-1])
    assert np.array_equal(matrix[:, 1:], matrix[:, :0:-1])


def test_a_mock_leno_of_four_binds_in_its_outer_threads() -> None:
    """From memory: plain in the outer threads of each group, the inner ones float."""
    assert parse_weave("mock leno 4").rows[:4] == ("10010110", "00001111", "00001111", "10010110")


def test_mock_leno_and_huckaback_hang_together_in_every_size() -> None:
    for name in ("mock leno 3", "mock leno 4", "mock leno 5", "huckaback 6", "huckaback 14"):
        structure = analyse(parse_weave(name))
        assert structure.hangs_together
        assert not structure.loose_ends + structure.loose_picks


def test_cloths_laid_on_one_another_fall_apart_into_as_many() -> None:
    structure = analyse(parse_weave("double cloth 2/2 twill Z + plain"))
    assert structure.layer_count == 2
    assert [len(layer.ends) for layer in structure.layers] == [4, 4]


def test_a_stitch_binds_two_cloths_into_one() -> None:
    # Taylor 1909, p. 199: lift a back end over a face pick.
    stitched = multiple_cloth([plain(), plain()], stitches=[(1, 2)])
    assert analyse(stitched).hangs_together
    with pytest.raises(InputError) as caught:
        multiple_cloth([plain(), plain()], stitches=[(5, 1)])
    assert caught.value.faults[0].pointer == "/stitches/0"


def test_every_weave_keeps_its_picks_end_and_end_and_its_ends_pick_and_pick() -> None:
    first, second = twill((2, 2)), twill((2, 1))
    ends_mixed = end_and_end([first, second]).matrix
    assert np.array_equal(ends_mixed[:, ::2], np.tile(first.matrix, (3, 3)))
    picks_mixed = pick_and_pick([first, second]).matrix
    assert np.array_equal(picks_mixed[1::2], np.tile(second.matrix, (4, 4)))


def test_the_back_of_a_named_weave_is_the_named_weave_expected() -> None:
    assert equivalent(reverse_side(parse_weave("3/1 twill Z")), parse_weave("1/3 twill S"))
    assert equivalent(quarter_turn(parse_weave("2/2 warp rib")), parse_weave("2/2 weft rib"))


def test_a_fraction_is_read_warp_up_first() -> None:
    assert float_line((2, 1, 1, 2)).tolist() == [1, 1, 0, 1, 0, 0]


@pytest.mark.parametrize("text", ["digest", "degre", "twil twil twil twil", "2/2 twil degre"])
def test_a_word_whose_correction_is_no_weave_either_is_refused(text: str) -> None:
    with pytest.raises(InputError) as refusal:
        parse_weave(text)
    assert f"'{text}' cannot be read as a weave." in refusal.value.faults[0].message
