"""Constructions that no cloth has: refused before or after the facts of the cloth are computed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import groupby
from typing import Final, NamedTuple

from weavability.textiles.bounds import (
    CONSTRUCTION_BOUNDS,
    LONGEST_DRAFT,
    MOST_WARP_GROUPS,
    MOST_YARNS,
    REQUIRED_UNITS,
    Bounds,
)
from weavability.textiles.construction import Construction, Requirements
from weavability.textiles.errors import InputError
from weavability.textiles.numbers import N, Truth
from weavability.textiles.sentences import say

MOST_ENDS: Final = 1_000_000
"""More ends than any warp has: above it sett, width or panels are mistaken."""

MOST_REED_WIDTH_CM: Final = 10_000.0
"""Wider than any loom, several times over."""

MOST_WARP_M: Final = 4e8
"""Longer than any order: ten times round the earth."""


class _Part(NamedTuple):
    """A part of a construction whose numbers have bounds.

    Attributes:
        name: Its field; empty for the construction itself.
        numbers: Pointer, attribute and bounds of each.
    """

    name: str
    numbers: tuple[tuple[str, str, Bounds], ...]


_ATTRIBUTES: Final = {"ends_per_cm": "threads_per_cm", "picks_per_cm": "threads_per_cm"}
_OF_LISTS: Final = ("/warp/beams/", "/requirements/")
"""Where a field has a number for each of several objects."""


def _parts() -> Iterator[_Part]:
    flat = [each for each in CONSTRUCTION_BOUNDS if not each.startswith(_OF_LISTS)]
    for part, pointers in groupby(sorted(flat, key=_part_of), _part_of):
        names = [(pointer, pointer.rpartition("/")[2]) for pointer in pointers]
        yield _Part(
            part,
            tuple((at, _ATTRIBUTES.get(to, to), CONSTRUCTION_BOUNDS[at]) for at, to in names),
        )


def _part_of(pointer: str) -> str:
    return pointer.rpartition("/")[0].removeprefix("/")


_PARTS: Final = tuple(_parts())


def refuse_impossible(construction: Construction, like: Construction | None = None) -> None:
    """Refuse figures that no cloth has, so that whatever is computed from them is a number.

    Args:
        construction: As stated.
        like: One that passed, from which this one was changed: the parts that both have are not
            read again.

    Raises:
        InputError: At the first such figure, relative to the construction.
    """
    for part, numbers in _PARTS:
        stated = getattr(construction, part) if part else construction
        if stated is None or (part and like is not None and stated is getattr(like, part)):
            continue
        for pointer, name, bounds in numbers:
            value = getattr(stated, name)
            if value is None:
                continue
            if type(value) is tuple:
                if value and min(value) in bounds and max(value) in bounds:
                    continue  # a draft may have 20 000 ends
                for place, item in enumerate(value):
                    _refuse_beyond(construction, f"{pointer}/{place}", item, bounds)
            elif type(value) is not str:
                _refuse_beyond(construction, pointer, value, bounds)
    for pointer, count, most in _counts(construction):
        if count > most:
            raise InputError.of(
                pointer,
                say(
                    "fault.cloth.too_many_stated",
                    "State {most} at most here; these are {count}.",
                    most=most,
                    count=count,
                ),
                given=count,
                allowed=f"at most {most}",
            )
    warp, required = construction.warp, construction.requirements
    if warp.beams and (like is None or warp is not like.warp):
        _refuse_beams(construction)
    if required is not None and (like is None or required is not like.requirements):
        for pointer, value, bounds in _required(required):
            _refuse_beyond(construction, pointer, value, bounds)


def _counts(construction: Construction) -> Iterator[tuple[str, int, int]]:
    """Yield how many parts of a kind are stated, and how many may be."""
    yield "/warp/yarns", len(construction.warp.yarns), MOST_YARNS
    yield "/weft/yarns", len(construction.weft.yarns), MOST_YARNS
    yield "/warp/beams", len(construction.warp.beams), MOST_WARP_GROUPS
    draft = construction.draft
    if draft is not None and not isinstance(draft.threading, str):
        yield "/draft/threading", len(draft.threading), LONGEST_DRAFT


def _refuse_beams(construction: Construction) -> None:
    bounds = CONSTRUCTION_BOUNDS["/warp/beams/density_g_per_cm3"]
    for place, group in enumerate(construction.warp.beams):
        if group.density_g_per_cm3 is not None:
            pointer = f"/warp/beams/{place}/density_g_per_cm3"
            _refuse_beyond(construction, pointer, group.density_g_per_cm3, bounds)


def _required(required: Requirements) -> Iterator[tuple[str, float, Bounds]]:
    """Yield the limits that are required; a tolerance reaches from none to twice a figure."""
    for figure in REQUIRED_UNITS:
        stated = getattr(required, figure)
        if stated is None:
            continue
        named = stated.items() if figure == "fibre_pct" else [("", stated)]
        for name, limits in named:
            at = f"/requirements/{figure}" + (f"/{name}" if name else "")
            bounds = CONSTRUCTION_BOUNDS[f"/requirements/{figure}/nominal"]
            reach = 1 + CONSTRUCTION_BOUNDS[f"/requirements/{figure}/tolerance_pct"].most / 100
            if limits.min is not None:
                yield f"{at}/min", limits.min, bounds
            if limits.max is not None:
                yield f"{at}/max", limits.max, replace(bounds, most=bounds.most * reach)


def _refuse_beyond(construction: Construction, pointer: str, value: float, bounds: Bounds) -> None:
    if value in bounds:
        return
    least, most = bounds.least, bounds.most
    raise InputError.of(
        construction.as_stated(pointer),
        say(
            "fault.cloth.impossible_figure",
            "No cloth has such a figure; it must lie between {least:g} and {most:g}.",
            least=least,
            most=most,
        ),
        given=value,
        allowed=f"{least:g} to {most:g}",
    )


def is_endless(*, total_ends: N, reed_cm: N, warp_m: N) -> Truth:
    """Return whether :func:`refuse_endless` refuses such figures."""
    return (total_ends > MOST_ENDS) | (reed_cm > MOST_REED_WIDTH_CM) | (warp_m > MOST_WARP_M)


def refuse_endless(
    construction: Construction, *, total_ends: int, reed_cm: float, warp_m: float
) -> None:
    """Refuse a construction whose figures are possible alone but not together.

    Args:
        construction: As stated.
        total_ends: Ends of all panels.
        reed_cm: Width of all panels in the reed.
        warp_m: Length of warp that the order takes.

    Raises:
        InputError: More ends, width in the reed or warp than any loom or order has.
    """
    if total_ends > MOST_ENDS:
        raise InputError.of(
            construction.as_stated("/warp/ends_per_cm"),
            say(
                "fault.cloth.too_many_ends",
                "Sett, width and panels make {total_ends} ends; correct the one that is mistaken.",
                total_ends=total_ends,
            ),
            given=construction.warp.threads_per_cm,
            allowed=f"at most {MOST_ENDS} ends in all",
        )
    if reed_cm > MOST_REED_WIDTH_CM:
        raise InputError.of(
            construction.as_stated("/width_cm"),
            say(
                "fault.cloth.too_wide",
                "Width and panels take {reed_width_cm:.0f} cm in the reed; correct the "
                "one that is mistaken.",
                reed_width_cm=reed_cm,
            ),
            given=construction.width_cm,
            allowed=f"at most {MOST_REED_WIDTH_CM:g} cm in the reed, all panels together",
        )
    if warp_m > MOST_WARP_M:
        raise InputError.of(
            construction.as_stated("/length_m"),
            say(
                "fault.cloth.too_long",
                "The order takes {warp_m:.3g} m of warp; correct its length.",
                warp_m=warp_m,
            ),
            given=construction.order.pieces if construction.order else construction.length_m,
            allowed=f"at most {MOST_WARP_M:g} m of warp",
        )
