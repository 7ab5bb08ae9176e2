"""Yarns of the usual counts near one that is stated: finer, coarser, or folded."""

from __future__ import annotations

import tomllib
from bisect import bisect_left, bisect_right
from collections.abc import Mapping
from dataclasses import replace
from functools import cache, lru_cache
from importlib import resources
from typing import Any, Final, NamedTuple

from weavability.textiles.count_systems import SYSTEMS
from weavability.textiles.designation_parts import Designation
from weavability.textiles.designations import parse_designation
from weavability.textiles.errors import InputError
from weavability.textiles.fibres import find_fibre
from weavability.textiles.yarns import Yarn

MOST_COUNTS: Final = 8
"""Usual counts that are proposed on either side of the one stated."""

FOLDED_WITHIN_PCT: Final = 6.0
"""Two usual singles whose resultant count differs by more are another yarn, not the same folded."""

_TIED_TO_THE_COUNT: Final = (
    *("diameter_mm", "tape_width_mm", "tape_thickness_mm", "sample_length_m", "sample_length_yd"),
    *("elastane_draft", "twist_per_m", "monofilament", "folding_take_up_pct"),
)
"""A yarn that states one of these is not proposed in another count: they would change with it."""

_DIRECT: Final = {system.key: system.direct for system in SYSTEMS}


class OtherYarn(NamedTuple):
    """A yarn of another count: which field of it changes, and to what.

    Attributes:
        change_pct: Change of its linear density.
    """

    name: str
    to: str | float
    change_pct: float


@cache
def usual_counts() -> Mapping[str, tuple[float, ...]]:
    """Return the counts in which yarns are usually made, rising, by the key of their system."""
    text = resources.files("weavability").joinpath("data/usual_counts.toml").read_text("utf-8")
    counts: dict[str, Any] = tomllib.loads(text)["counts"]
    return {key: tuple(map(float, some)) for key, some in counts.items()}


@lru_cache(maxsize=256)
def other_counts(yarn: Yarn, *, finer: bool) -> tuple[OtherYarn, ...]:
    """Return the yarn in the usual counts on one side of its own, the nearest first."""
    if any(getattr(yarn, name) is not None for name in _TIED_TO_THE_COUNT):
        return ()
    if yarn.linear_density_tex is not None:
        now = yarn.linear_density_tex
        some = _beside(usual_counts()["tex"], now, rising=not finer)
        return tuple(OtherYarn("linear_density_tex", to, (to / now - 1) * 100) for to in some)
    read = _read(yarn)
    if read is None or read.system not in usual_counts() or len(read.folded_tex) > 1:
        return ()
    is_direct = _DIRECT[read.system]
    counts = usual_counts()[read.system]
    count = _count_now(read, is_direct=is_direct, counts=counts, yarn=yarn)
    if count is None:
        return ()
    made = (_written(read, each) for each in _beside(counts, count, rising=is_direct != finer))
    return tuple(each for each in (_other(yarn, read, text) for text in made) if each is not None)


@lru_cache(maxsize=256)
def folded_counts(yarn: Yarn) -> tuple[OtherYarn, ...]:
    """Return a single yarn as one of two finer singles, if these are usual."""
    if any(getattr(yarn, name) is not None for name in _TIED_TO_THE_COUNT):
        return ()
    read = _read(yarn)
    if read is None or read.plies != 1 or read.filaments or read.system not in usual_counts():
        return ()
    if not (read.spun or read.system == "tex"):
        return ()
    counts = usual_counts()[read.system]
    now = _count_now(read, is_direct=_DIRECT[read.system], counts=counts, yarn=yarn)
    if now is None:
        return ()
    of_single = now / 2 if _DIRECT[read.system] else now * 2
    near = sorted(counts, key=lambda count: abs(count / of_single - 1))[:2]
    two = replace(read, plies=2)
    made = (_other(yarn, read, _written(two, count)) for count in near)
    return tuple(
        each for each in made if each is not None and abs(each.change_pct) <= FOLDED_WITHIN_PCT
    )


def _beside(counts: tuple[float, ...], now: float, *, rising: bool) -> list[float]:
    """Return the counts above or below one, the nearest first."""
    if rising:
        return list(counts[bisect_right(counts, now * 1.001) :][:MOST_COUNTS])
    return list(reversed(counts[: bisect_left(counts, now * 0.999)]))[:MOST_COUNTS]


def _read(yarn: Yarn) -> Designation | None:
    if yarn.designation is None:
        return None
    try:
        fibre = None if yarn.fibre is None else find_fibre(yarn.fibre)
        read = parse_designation(yarn.designation, fibre=fibre)
    except InputError:
        return None
    return read if read.twist_per_m is None else None


def _count_now(
    read: Designation, *, is_direct: bool, counts: tuple[float, ...], yarn: Yarn
) -> float | None:
    """Return the count of one single in its own system."""
    one = _other(yarn, read, _written(read, counts[0]))
    if one is None:
        return None
    times = 1 + one.change_pct / 100
    return counts[0] / times if is_direct else counts[0] * times


def _written(read: Designation, count: float) -> str:
    """Write a yarn of a count: of singles if it is folded."""
    text = f"{count:g} {read.system}" if _DIRECT[read.system] else f"{read.system} {count:g}"
    if read.filaments:
        text += f" f{read.filaments}"
    if read.plies == 1:
        return text
    return f"{text} x {read.plies}" if _DIRECT[read.system] else f"{text}/{read.plies}"


def _other(yarn: Yarn, read: Designation, text: str) -> OtherYarn | None:
    """Return the yarn of a designation, if that can be read; ``None`` if it is the same."""
    found = _read(replace(yarn, designation=text))
    if found is None:
        return None
    change_pct = (found.linear_density_tex / read.linear_density_tex - 1) * 100
    return OtherYarn("designation", text, change_pct)
