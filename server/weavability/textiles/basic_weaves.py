"""Weaves by construction: twills, satins, ribs, hopsacks and what the trade derives from them.

A fraction such as 2/1/1/2 is read warp-up first along the first pick: up 2, down 1, up 1, down 2.
(Books disagree about the order; the convention here is that of [ICS-1905].)
"""

from __future__ import annotations

from collections.abc import Sequence
from math import gcd, lcm
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from weavability.textiles.errors import InputError
from weavability.textiles.sentences import say
from weavability.textiles.weave_matrix import MAX_SIDE, Matrix, Weave

Direction = Literal["Z", "S"]
Fraction = tuple[int, ...]
Order = NDArray[np.intp]

MAX_FRACTION_THREADS: Final = 200
"""Most threads that the numbers of a fraction may add up to."""

MAX_REPEAT_THREADS: Final = 500
"""Most threads of a stripe, satin or honeycomb that is named by its size."""

MAX_COMBINED_CELLS: Final = 4_000_000
"""Most crossings of a weave that is combined from several."""

IRREGULAR_SATEENS: Final = {
    4: ("1000", "0100", "0001", "0010"),
    6: ("100000", "001000", "000010", "010000", "000001", "000100"),
}
"""Sateens for the two sizes that have no regular one: moves 1, 2, 3, 2 and 2, 2, 3, 4, 4, 3."""


def checked_fraction(fraction: Sequence[int]) -> Fraction:
    """Check a fraction and cut it to its smallest repeat.

    Raises:
        InputError: When it has an odd number of terms, a zero, or too many threads.

    >>> checked_fraction([2, 2, 2, 2])
    (2, 2)
    """
    text = "/".join(map(str, fraction))
    if len(fraction) < 2 or len(fraction) % 2:
        message = say(
            "fault.weave.unlike_ups_and_downs",
            '\'{text}\' needs as many "down" as "up" numbers.',
            text=text,
        )
        raise InputError.of("", message, given=text, allowed="such as 2/1 or 5/2/1/2")
    if min(fraction) < 1 or sum(fraction) > MAX_FRACTION_THREADS:
        message = say(
            "fault.weave.fraction_out_of_range",
            "The numbers of '{text}' must be 1 or more and add up to {most_threads} at most.",
            text=text,
            most_threads=MAX_FRACTION_THREADS,
        )
        raise InputError.of("", message, given=text, allowed="such as 2/1 or 5/2/1/2")
    terms = tuple(fraction)
    period = next(p for p in range(2, len(terms) + 1, 2) if terms == terms[:p] * (len(terms) // p))
    return terms[:period]


def float_line(fraction: Fraction) -> Matrix:
    """Return the fraction as one line of 1 (up) and 0 (down).

    >>> float_line((2, 1))
    array([1, 1, 0], dtype=uint8)
    """
    ups = np.arange(len(fraction)) % 2 == 0
    return np.repeat(ups.astype(np.uint8), fraction)


def plain() -> Weave:
    """Return the plain weave, its first end up on the first pick."""
    return Weave(matrix=np.eye(2, dtype=np.uint8), name="plain")


def twill(
    fraction: Sequence[int],
    *,
    direction: Direction = "Z",
    picks_per_end: int = 1,
    ends_per_pick: int = 1,
) -> Weave:
    """Return a regular, steep or reclined twill.

    Args:
        fraction: Up and down along the first pick, from the first end.
        direction: ``Z``: the line rises to the right; ``S``: to the left.
        picks_per_end: Picks that the line climbs for one end; 2 or more makes a steep twill (only
            every second, third ... end of the regular twill is kept).
        ends_per_pick: Ends that the line moves in one pick; 2 or more makes a reclined twill.

    >>> twill((2, 2)).rows
    ('1100', '0110', '0011', '1001')
    """
    terms = checked_fraction(fraction)
    line = float_line(terms)
    n = len(line)
    pick, end = np.arange(n // gcd(n, ends_per_pick)), np.arange(n // gcd(n, picks_per_end))
    sign = -1 if direction == "Z" else 1
    place = picks_per_end * end[None, :] + sign * ends_per_pick * pick[:, None]
    weave = Weave(matrix=line[place % n])
    # A fraction does not repeat within itself, so that the regular twill is its own repeat.
    return weave if picks_per_end == ends_per_pick == 1 else weave.reduced()


def satin_moves(ends: int) -> tuple[int, ...]:
    """Return the moves that make a regular satin: coprime to the ends, and neither 1 nor ends - 1.

    Source: [WOLFENSBERGER-1921], p. 33.

    >>> satin_moves(8), satin_moves(6)
    ((3, 5), ())
    """
    return tuple(move for move in range(2, ends - 1) if gcd(move, ends) == 1)


def best_satin_move(ends: int) -> int:
    """Return the move that sets the binding points furthest apart, the smaller of two equals.

    Raises:
        InputError: When no regular satin exists on so many ends.

    >>> [best_satin_move(ends) for ends in (5, 8, 10, 12)]
    [2, 3, 3, 5]
    """
    _check_satin(ends, None)
    return max(satin_moves(ends), key=lambda move: (_nearest_binding(ends, move), -move))


def satin(ends: int, *, move: int, face: Literal["warp", "weft"]) -> Weave:
    """Return a regular satin (warp face) or sateen (weft face).

    Args:
        ends: Ends, and picks, of the repeat.
        move: Ends by which the binding point moves to the right each pick.
        face: Which system lies on the face.

    Raises:
        InputError: When there is no such satin, saying which moves there are, or which irregular
            satin on 4 or 6 ends may be given by matrix.

    >>> satin(5, move=2, face="weft").rows
    ('10000', '00100', '00001', '01000', '00010')
    """
    _check_satin(ends, move)
    pick = np.arange(ends)
    sateen = np.zeros((ends, ends), dtype=np.uint8)
    sateen[pick, pick * move % ends] = 1
    return Weave(matrix=sateen if face == "weft" else 1 - sateen)


def warp_rib(fraction: Sequence[int]) -> Weave:
    """Return a warp rib: the first end follows the fraction pick by pick, the second opposes it.

    >>> warp_rib((2, 2)).rows
    ('10', '10', '01', '01')
    """
    line = float_line(checked_fraction(fraction))
    return Weave(matrix=np.stack((line, 1 - line), axis=1))


def weft_rib(fraction: Sequence[int]) -> Weave:
    """Return a weft rib: the first pick follows the fraction end by end, the second opposes it.

    >>> weft_rib((2, 2)).rows
    ('1100', '0011')
    """
    line = float_line(checked_fraction(fraction))
    return Weave(matrix=np.stack((line, 1 - line)))


def hopsack(across: Sequence[int], upward: Sequence[int] | None = None) -> Weave:
    """Return a hopsack: plain weave with ends and picks in groups.

    Args:
        across: Sizes of the groups of ends, an even count of them.
        upward: Sizes of the groups of picks; the same as ``across`` when not given.

    >>> hopsack((2, 2)).rows
    ('1100', '1100', '0011', '0011')
    >>> hopsack((3, 2), (1, 1)).rows
    ('11100', '00011')
    """
    end_line = float_line(checked_fraction(across))
    pick_line = float_line(checked_fraction(across if upward is None else upward))
    return Weave(matrix=(end_line[None, :] == pick_line[:, None]).astype(np.uint8))


def herringbone(
    fraction: Sequence[int],
    *,
    first_ends: int,
    second_ends: int,
    direction: Direction = "Z",
    opposite: bool = False,
) -> Weave:
    """Return a herringbone: stripes of twill in turn to the right and to the left, cut clean.

    The second stripe runs back after a skip of half the twill's repeat, on the same shafts and with
    the same face. With ``opposite`` it is the complement of the first run backwards, so that the
    face changes with the stripe if the twill is not balanced (and the shafts double).

    Args:
        fraction: The twill.
        first_ends: Ends of the first stripe.
        second_ends: Ends of the second stripe.
        direction: Direction of the first stripe.
        opposite: Make the second stripe the opposite of the first.

    >>> herringbone((2, 2), first_ends=4, second_ends=4).rows[1]
    '01101001'
    """
    base = twill(fraction, direction=direction).matrix
    n = base.shape[1]
    forward = np.arange(_thread_count(first_ends))
    skip = 0 if opposite else n // 2
    back = first_ends - 1 - skip - np.arange(_thread_count(second_ends))
    second = base[:, back % n]
    stripes = (base[:, forward % n], 1 - second if opposite else second)
    return Weave(matrix=np.concatenate(stripes, axis=1)).reduced()


def pointed(fraction: Sequence[int], *, shafts: int, direction: Direction = "Z") -> Weave:
    """Return a pointed twill: a twill drawn in on a point draft, 1 2 ... h ... 2.

    Args:
        fraction: The twill.
        shafts: Ends up to the point, both counted; the repeat is ``2*shafts - 2`` ends.
        direction: Direction of the first half.

    >>> pointed((2, 2), shafts=4).rows[0]
    '110001'
    """
    base = twill(fraction, direction=direction).matrix
    return Weave(matrix=base[:, point_order(shafts) % base.shape[1]]).reduced()


def diamond(fraction: Sequence[int], *, shafts: int) -> Weave:
    """Return a diamond twill: a twill pointed in the ends and in the picks.

    Args:
        fraction: The twill.
        shafts: Threads up to the point, across and along.
    """
    line = float_line(checked_fraction(fraction))
    order = point_order(shafts)
    return Weave(matrix=line[(order[None, :] - order[:, None]) % len(line)]).reduced()


def point_order(shafts: int) -> Order:
    """Return the point draft 0, 1 ... h-1 ... 1: ``2h - 2`` ends ([WOLFENSBERGER-1921], p. 11).

    Raises:
        InputError: With fewer than three shafts, which have no point.

    >>> point_order(4)
    array([0, 1, 2, 3, 2, 1])
    """
    if shafts < 3:
        message = say("fault.weave.point_too_small", "A point needs at least 3 threads up to it.")
        raise InputError.of("", message, given=shafts, allowed="3 or more")
    rising = np.arange(_thread_count(shafts))
    return np.concatenate((rising, rising[-2:0:-1]))


def broken_twill(fraction: Sequence[int], *, direction: Direction = "Z") -> Weave:
    """Return a broken twill: the second half of the twill's ends in reversed order.

    On four ends the order is 1, 2, 4, 3.

    Args:
        fraction: Threads up and down in turn, up first.
        direction: Direction of the twill that is broken.

    Raises:
        InputError: The twill has fewer than four ends: nothing would be broken.

    >>> broken_twill((2, 2)).rows
    ('1100', '0101', '0011', '1010')
    """
    base = twill(fraction, direction=direction).matrix
    n = base.shape[1]
    if n < 4:
        message = say(
            "fault.weave.not_broken",
            "A twill on {ends} ends cannot be broken: the order would only be reversed.",
            ends=n,
        )
        raise InputError.of("", message, given=n, allowed="4 ends or more, such as 3/1 or 2/2")
    half = (n + 1) // 2
    order = np.concatenate((np.arange(half), np.arange(n - 1, half - 1, -1)))
    return Weave(matrix=base[:, order])


def honeycomb(threads: int) -> Weave:
    """Return the ordinary honeycomb, on a point draft of ``threads/2 + 1`` shafts.

    On 8 ends it has the draft 1 2 3 4 5 4 3 2 ([BROOKS-1892], fig. 37), a
    longest weft float of 7 and a longest warp float of 5 [BRITANNICA-1911].

    Args:
        threads: Ends, and picks, of a cell: even and at least 6.

    Raises:
        InputError: No honeycomb has that number of threads.

    >>> honeycomb(8).rows[:3]
    ('10000000', '01000001', '10100010')
    """
    if threads < 6 or threads % 2:
        message = say(
            "fault.weave.honeycomb", "A honeycomb has an even number of threads, at least 6."
        )
        raise InputError.of("", message, given=threads, allowed="6, 8, 10 ...")
    fold = point_order(threads // 2 + 1)
    depth = fold[:, None] - fold[None, :]
    return Weave(matrix=((depth == 0) | (depth >= 2)).astype(np.uint8))


def mock_leno(group: int) -> Weave:
    """Return a mock leno of ``group`` ends and picks, in four blocks, alternate ones opposed.

    The 3-and-3 is that of [TAYLOR-1909], p. 183; the
    4-and-4 and 5-and-5 are from memory.

    Raises:
        InputError: For other groups than 3, 4 and 5.

    >>> mock_leno(3).rows[:2]
    ('101010', '000111')
    """
    if group not in (3, 4, 5):
        message = say(
            "fault.weave.mock_leno",
            "A mock leno is 3 and 3, 4 and 4 or 5 and 5; give others as rows.",
        )
        raise InputError.of("", message, given=group, allowed=[3, 4, 5])
    tight = np.isin(np.arange(group), (0, 3) if group == 4 else (0, 2, 4))
    block = (tight[:, None] & tight[None, :]).astype(np.uint8)
    return Weave(matrix=np.block([[block, 1 - block], [1 - block, block]]))


def huckaback(threads: int) -> Weave:
    """Return a huckaback: plain blocks, in turn with blocks of weft floats on a plain base.

    Args:
        threads: Ends, and picks: twice an odd number, at least 6; 10 is the usual.

    Raises:
        InputError: No huckaback has that number of threads.

    >>> huckaback(10).rows[:2]
    ('1010101010', '0000010101')
    """
    half, odd = divmod(threads, 2)
    if odd or half % 2 == 0 or half < 3:
        message = say(
            "fault.weave.huckaback", "A huckaback has twice an odd number of threads, at least 6."
        )
        raise InputError.of("", message, given=threads, allowed="6, 10, 14, 18 ...")
    thread = np.arange(_thread_count(half))
    plain_block = (thread[:, None] + thread[None, :]) % 2
    figure = ((thread[:, None] % 2 == 0) & (thread[None, :] % 2 == 0)).astype(np.intp)
    blocks = np.block([[figure, plain_block], [plain_block, figure]])
    return Weave(matrix=blocks.astype(np.uint8))


def bedford_cord(face_ends: int) -> Weave:
    """Return a plain-faced Bedford cord with its picks in pairs.

    A cord has two cutting ends, which weave plain throughout, and face ends. Two picks weave plain
    with the face ends of the first cord and lie below those of the second, the next two change
    over. Source: [CORD-LECTURE].

    Args:
        face_ends: Face ends of one cord: an even number, 2 or more.

    Raises:
        InputError: No cord has that number of face ends.

    >>> bedford_cord(2).rows
    ('10111010', '01110101', '10101011', '01010111')
    """
    if face_ends < 2 or face_ends % 2:
        message = say(
            "fault.weave.bedford_cord", "A cord has an even number of face ends, at least 2."
        )
        raise InputError.of("", message, given=face_ends, allowed="2, 4, 6 ...")
    cord = 2 + _thread_count(face_ends)
    pick, end = np.arange(4)[:, None], np.arange(2 * cord)[None, :]
    plain_everywhere = (pick + end) % 2 == 0
    is_face, cord_of = end % cord >= 2, end // cord
    lies_below = is_face & (cord_of == pick // 2)
    return Weave(matrix=(plain_everywhere | lies_below).astype(np.uint8))


def multiple_cloth(cloths: Sequence[Weave], *, stitches: Sequence[tuple[int, int]] = ()) -> Weave:
    """Lay cloths one above the other, their ends and picks in turn 1, 2 ... from the top.

    An upper end lies over every lower pick, a lower end under every upper pick. Without stitches
    the cloths are separate.

    Args:
        cloths: The weaves from the face down, at least two.
        stitches: Crossings (pick, end), 1-based in the combined repeat, at which a lower end is
            lifted over an upper pick, or an upper end is left down under a lower pick.

    Raises:
        InputError: When the combined repeat is too large or a stitch lies outside it.

    >>> multiple_cloth([plain(), plain()]).rows
    ('1000', '1110', '0010', '1011')
    """
    layers = len(cloths)
    ends = layers * lcm(*(cloth.ends for cloth in cloths))
    picks = layers * lcm(*(cloth.picks for cloth in cloths))
    _check_combined(picks, ends)
    pick_layer, end_layer = np.arange(picks) % layers, np.arange(ends) % layers
    matrix = (end_layer[None, :] < pick_layer[:, None]).astype(np.uint8)
    for layer, cloth in enumerate(cloths):
        tiles = (picks // layers // cloth.picks, ends // layers // cloth.ends)
        matrix[layer::layers, layer::layers] = np.tile(cloth.matrix, tiles)
    _stitch(matrix, stitches)
    return Weave(matrix=matrix)


def end_and_end(weaves: Sequence[Weave]) -> Weave:
    """Combine weaves end by end in turn; every weave keeps its own picks.

    Raises:
        InputError: The repeat of the combined weave is too large.

    >>> both = end_and_end([twill((2, 2)), twill((2, 1))])
    >>> both.ends, both.picks
    (24, 12)
    """
    turns = len(weaves)
    picks = lcm(*(weave.picks for weave in weaves))
    ends = turns * lcm(*(weave.ends for weave in weaves))
    _check_combined(picks, ends)
    matrix = np.empty((picks, ends), dtype=np.uint8)
    for turn, weave in enumerate(weaves):
        tiles = (picks // weave.picks, ends // turns // weave.ends)
        matrix[:, turn::turns] = np.tile(weave.matrix, tiles)
    return Weave(matrix=matrix).reduced()


def pick_and_pick(weaves: Sequence[Weave]) -> Weave:
    """Combine weaves pick by pick in turn; every weave keeps its own ends.

    Raises:
        InputError: The repeat of the combined weave is too large.
    """
    turned = [Weave(matrix=weave.matrix.T) for weave in weaves]
    return Weave(matrix=end_and_end(turned).matrix.T)


def _check_satin(ends: int, move: int | None) -> None:
    """Refuse a satin that does not exist, naming the nearest that does."""
    if ends in IRREGULAR_SATEENS:
        message = say(
            "fault.weave.no_regular_satin",
            "There is no regular satin on {ends} ends: every move except 1 and "
            "{last_move} shares a factor with {ends}. Give an irregular one as rows.",
            ends=ends,
            last_move=ends - 1,
        )
        example = {"rows": list(IRREGULAR_SATEENS[ends])}
        raise InputError.of("", message, given=ends, allowed=example)
    if not 5 <= ends <= MAX_REPEAT_THREADS:
        message = say(
            "fault.weave.satin_ends",
            "A satin has 5, 7 or more ends, at most {most_ends}.",
            most_ends=MAX_REPEAT_THREADS,
        )
        raise InputError.of("", message, given=ends, allowed="such as 5, 7, 8, 10, 12, 16")
    if move is not None and move not in satin_moves(ends):
        message = say(
            "fault.weave.satin_move",
            "A satin on {ends} ends cannot have the move {move}.",
            ends=ends,
            move=move,
        )
        raise InputError.of("", message, given=move, allowed=list(satin_moves(ends)[:50]))


def _nearest_binding(ends: int, move: int) -> int:
    """Return the squared distance from a binding point to its nearest neighbour."""
    pick = np.arange(1, ends)
    across = pick * move % ends
    distance = np.minimum(pick, ends - pick) ** 2 + np.minimum(across, ends - across) ** 2
    return int(distance.min())


def _thread_count(threads: int) -> int:
    """Refuse a count of threads that is no stripe or is too large."""
    if 1 <= threads <= MAX_REPEAT_THREADS:
        return threads
    message = say(
        "fault.weave.stripe_threads",
        "A stripe has 1 to {most_threads} threads.",
        most_threads=MAX_REPEAT_THREADS,
    )
    raise InputError.of("", message, given=threads, allowed=f"1 to {MAX_REPEAT_THREADS}")


def _check_combined(picks: int, ends: int) -> None:
    """Refuse a combined repeat that is too large, before it is made."""
    if max(picks, ends) > MAX_SIDE or picks * ends > MAX_COMBINED_CELLS:
        message = say(
            "fault.weave.combined_too_large",
            "Combined, the weaves repeat on {ends} ends and {picks} picks, which is "
            "too large. Choose weaves whose repeats have common factors.",
            ends=ends,
            picks=picks,
        )
        limit = f"at most {MAX_SIDE} ends and picks each, and {MAX_COMBINED_CELLS} crossings"
        raise InputError.of("", message, given=[picks, ends], allowed=limit)


def _stitch(matrix: Matrix, stitches: Sequence[tuple[int, int]]) -> None:
    """Turn over the crossings at which cloths are stitched."""
    picks, ends = matrix.shape
    for index, (pick, end) in enumerate(stitches):
        if not (1 <= pick <= picks and 1 <= end <= ends):
            message = say(
                "fault.weave.stitch_outside",
                "Stitch {stitch} lies outside the repeat of {picks} picks, {ends} ends.",
                stitch=index + 1,
                picks=picks,
                ends=ends,
            )
            raise InputError.of(f"/stitches/{index}", message, given=[pick, end])
        matrix[pick - 1, end - 1] ^= 1
