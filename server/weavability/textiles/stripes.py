"""Warp stripes: several weaves side by side in one cloth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import lcm
from typing import Final

import numpy as np

from weavability.textiles.basic_weaves import MAX_COMBINED_CELLS
from weavability.textiles.errors import Fault, InputError
from weavability.textiles.sentences import say
from weavability.textiles.weave_matrix import MAX_SIDE, Weave, about_to_make

MAX_STRIPES: Final = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class Stripe:
    """A stripe of the warp.

    Attributes:
        weave: Its weave, which begins with its first end at the stripe's left edge.
        ends: Its ends; they need not be whole repeats of the weave.
    """

    weave: Weave
    ends: int


def striped_weave(stripes: Sequence[Stripe]) -> Weave:
    """Put weaves side by side: the ends add up, the picks are the least common multiple.

    Args:
        stripes: The stripes of one repeat, from the left.

    Returns:
        The weave of the whole repeat, at its true smallest repeat, which knows its stripes.

    Raises:
        InputError: At ``/stripes`` or ``/stripes/<index>/ends``: no or too many stripes, a stripe
            without ends, or a repeat that is too large.

    The stripe of 20 ends of five-end satin and 16 of plain needs seven shafts and repeats on ten
    picks ([TAYLOR-1909], p. 166):

    >>> from weavability.textiles.notation import parse_weave
    >>> from weavability.textiles.weave_structure import analyse
    >>> satin, plain = parse_weave("5-end satin move 2"), parse_weave("plain")
    >>> cloth = striped_weave([Stripe(weave=satin, ends=20), Stripe(weave=plain, ends=16)])
    >>> cloth.ends, cloth.picks, analyse(cloth).shafts_needed
    (36, 10, 7)
    """
    _check_stripes(stripes)
    picks = _common_picks(stripes)
    about_to_make(ends=sum(stripe.ends for stripe in stripes), picks=picks)
    columns = [_columns(stripe, picks=picks) for stripe in stripes]
    made = Weave(matrix=np.concatenate(columns, axis=1)).reduced()
    return replace(made, stripes=tuple((stripe.weave, stripe.ends) for stripe in stripes))


def _check_stripes(stripes: Sequence[Stripe]) -> None:
    """Refuse no stripes, too many, and stripes without ends."""
    if not 1 <= len(stripes) <= MAX_STRIPES:
        message = say(
            "fault.stripes.count",
            "A striped cloth has 1 to {most_stripes} stripes in the repeat.",
            most_stripes=MAX_STRIPES,
        )
        raise InputError.of("/stripes", message, given=len(stripes))
    faults = [
        Fault(
            f"/stripes/{index}/ends",
            say("fault.stripes.no_end", "A stripe has one end or more."),
            stripe.ends,
            "1 or more",
        )
        for index, stripe in enumerate(stripes)
        if stripe.ends < 1
    ]
    if faults:
        raise InputError(faults)


def _common_picks(stripes: Sequence[Stripe]) -> int:
    """Return the picks on which all stripes come out, refusing a repeat that is too large."""
    ends = sum(stripe.ends for stripe in stripes)
    picks = 1
    for stripe in stripes:
        picks = lcm(picks, stripe.weave.reduced().picks)
        if picks > MAX_SIDE:
            break
    if max(picks, ends) > MAX_SIDE or picks * ends > MAX_COMBINED_CELLS:
        message = say(
            "fault.stripes.too_large",
            "The stripes together repeat on {ends} ends and {picks} picks or more: "
            "too large. Choose weaves whose repeats in picks have common factors.",
            ends=ends,
            picks=picks,
        )
        limit = f"at most {MAX_SIDE} ends and picks each, and {MAX_COMBINED_CELLS} crossings"
        raise InputError.of("/stripes", message, given=[picks, ends], allowed=limit)
    return picks


def _columns(stripe: Stripe, *, picks: int) -> np.typing.NDArray[np.uint8]:
    """Return the columns of one stripe, as high as the whole repeat."""
    matrix = stripe.weave.reduced().matrix
    across = matrix[:, np.arange(stripe.ends) % matrix.shape[1]]
    return np.tile(across, (picks // matrix.shape[0], 1))
