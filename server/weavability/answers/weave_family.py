"""Weaves of the family of one that is stated: the same kind with other floats or repeat."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache
from typing import Final, NamedTuple

from weavability.textiles.basic_weaves import best_satin_move
from weavability.textiles.errors import InputError
from weavability.textiles.naming import name_of
from weavability.textiles.notation import parse_weave
from weavability.textiles.weave_matrix import Weave
from weavability.textiles.weave_structure import MAX_REMEMBERED_CELLS, remembered_structure

_TWILL: Final = re.compile(r"(\d+(?:/\d+)+) (broken twill|twill|herringbone|pointed twill) (\w+)")
_SATIN: Final = re.compile(r"(\d+)-end (satin|sateen) move \d+")
_RIB: Final = re.compile(r"(\d+)/\1 (warp|weft) rib")
_HOPSACK: Final = re.compile(r"(\d+)/\1(?: x \1/\1)? hopsack")
_CELLS: Final = re.compile(r"(honeycomb|huckaback) (\d+)")
_SIZES: Final = {"honeycomb": (6, 8, 10, 12, 14, 16), "huckaback": (6, 10, 14, 18)}
_OF_PLAIN: Final = ("2/2 warp rib", "2/2 weft rib", "2/2 hopsack")
_LONGEST_TWILL: Final = 8
_TO_AND_FRO: Final = ("herringbone", "pointed twill")
_LONGER: Final = 2
_SATIN_ENDS: Final = (5, 7, 8, 10, 12, 16)
_SATINETTES: Final = {"satin": "3/1 broken twill Z", "sateen": "1/3 broken twill Z"}
"""On four ends there is no regular satin."""

_GROUPS: Final = (2, 3, 4)


class Member(NamedTuple):
    """A weave of a family.

    Attributes:
        name: Its notation.
        mean_float: Mean of the floats of its picks and ends.
        shafts: Ends that weave differently.
        picks: Of the repeat.
        up_share: Share of the warp raised, 0 to 1.
        longest_float: Of warp or weft, in threads.
    """

    name: str
    mean_float: float
    shafts: int
    picks: int
    up_share: float
    longest_float: int


def family_of(weave: Weave) -> tuple[Member, tuple[Member, ...]] | None:
    """Return a weave and the others of its family; ``None`` if it has no family that is known."""
    name = _name(weave)
    if name is None:
        return None
    own = _member(name)
    found = [_member(each) for each in _names(name) if each != name]
    others = tuple(one for one in found if one)
    return None if own is None or not others else (own, others)


def _name(weave: Weave) -> str | None:
    if _names(weave.name):
        return weave.name
    return _named(weave) if weave.matrix.size <= MAX_REMEMBERED_CELLS else None


@lru_cache(maxsize=128)
def _named(weave: Weave) -> str | None:
    return name_of(weave)


@lru_cache(maxsize=256)
def _names(name: str) -> tuple[str, ...]:
    if name == "plain":
        return _OF_PLAIN
    if found := _TWILL.fullmatch(name):
        fraction, kind, rest = found.groups()
        floats = tuple(map(int, fraction.split("/")))
        return tuple(f"{each} {kind} {rest}" for each in _fractions(floats, kind))
    if found := _SATIN.fullmatch(name):
        moves = (f"{ends}-end {found[2]} move {best_satin_move(ends)}" for ends in _SATIN_ENDS)
        return (_SATINETTES[found[2]], *moves)
    if found := _RIB.fullmatch(name):
        return ("plain", *(f"{each}/{each} {found[2]} rib" for each in _GROUPS))
    if _HOPSACK.fullmatch(name):
        return ("plain", *(f"{each}/{each} hopsack" for each in _GROUPS))
    if found := _CELLS.fullmatch(name):
        return tuple(f"{found[1]} {threads}" for threads in _SIZES[found[1]])
    return ()


def _fractions(floats: tuple[int, ...], kind: str) -> Iterator[str]:
    """Yield the twills of two floats, and of one with more floats those that are shorter.

    A herringbone or pointed twill, which repeats on more ends, has only those of like length.
    """
    least, longest = 4 if kind == "broken twill" else 3, _LONGEST_TWILL
    if kind in _TO_AND_FRO:
        least, longest = max(least, sum(floats) // 2), min(longest, sum(floats) + _LONGER)
    for threads in range(least, longest + 1):
        for up in range(1, threads):
            yield f"{up}/{threads - up}"
    now = sum(floats[::2]) / sum(floats)
    while len(floats) > 2 and sum(floats) > len(floats) + 1:  # two floats are listed above
        shorter = (
            (*floats[:place], each - 1, *floats[place + 1 :])
            for place, each in enumerate(floats)
            if each > 1
        )
        # The face stays as like as it can, and the longest float is the first to go.
        floats = min(shorter, key=lambda one: (abs(sum(one[::2]) / sum(one) - now), max(one), one))
        yield "/".join(map(str, floats))


@lru_cache(maxsize=256)
def _member(name: str) -> Member | None:
    try:
        weave = parse_weave(name)
    except InputError:
        return None
    _, structure = remembered_structure(weave)
    return Member(
        name=name,
        mean_float=(structure.mean_float_of_picks + structure.mean_float_of_ends) / 2,
        shafts=structure.shafts_needed,
        picks=structure.picks,
        up_share=structure.warp_up_share,
        longest_float=max(structure.longest_warp_float_picks, structure.longest_weft_float_ends),
    )
