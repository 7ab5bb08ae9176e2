"""Yarns of the usual counts near one that is stated: finer, coarser, or folded."""

from __future__ import annotations

import tomllib
from bisect import bisect_left, bisect_right
from collections.abc import Mapping
from dataclasses import replace
from functools import cache, lru_cache
from importlib import resources
from typing import Any, Final, NamedTuple

from weavability.answers.count_notation import (
    SYSTEM_OF,
    count_of,
    in_count,
    in_full,
    read_designation,
    turns_in_count,
)
from weavability.textiles.designation_parts import Designation
from weavability.textiles.numbers import SLACK
from weavability.textiles.yarns import Yarn

MOST_TIMES: Final = 6.0
"""A yarn so many times as coarse or as fine is the farthest that is proposed; a choice of this
service, common practice, no source."""

FARTHEST_TIMES: Final = 24.0
"""A yarn up to so many times as coarse or as fine is named as that of another cloth."""

_LAST_DIGIT: Final = 1 + SLACK
"""A count is read from a linear density, which may have lost its last digit."""

FOLDED_WITHIN_PCT: Final = 6.0
"""Two usual singles whose resultant count differs by more are another yarn, not the same folded."""

_TIED: Final = {
    "tape_width_mm": "its tape_width_mm is stated, which would change with the count",
    "tape_thickness_mm": "its tape_thickness_mm is stated, which would change with the count",
    "monofilament": "it is a monofilament, which is made by its diameter",
    "sample_mass_g": "it is stated by a sample that was weighed",
    "sample_mass_grains": "it is stated by a sample that was weighed",
}
"""Why a yarn that states one of these is not proposed in another count."""

_OF_A_SINGLE: Final = ("diameter_mm", "twist_per_m", "folding_take_up_pct", "elastane_draft")
"""What a single that is stated to have it need not have when it is one of two finer ones."""


class OtherYarn(NamedTuple):
    """A yarn of another count: which field of it changes, and to what.

    Attributes:
        change_pct: Change of its linear density.
        moved: Other fields that it states and that change with the count, and what they become.
    """

    name: str
    to: str | float
    change_pct: float
    moved: tuple[tuple[str, float], ...] = ()

    def __str__(self) -> str:
        """Return it as the shop floor calls it: ``Ne 80 with 1160 turns/m``."""
        count = self.to if isinstance(self.to, str) else f"{self.to:g} tex"
        others = " and ".join(f"{to:g} {_UNITS[name]}" for name, to in self.moved)
        return f"{count} with {others}" if others else count


_UNITS: Final = {"twist_per_m": "turns/m", "diameter_mm": "mm diameter"}


def tied_to_the_count(yarn: Yarn) -> str | None:
    """Return why a yarn is proposed in no other count, by what is stated of it; ``None`` if not."""
    stated = next((why for name, why in _TIED.items() if getattr(yarn, name) is not None), None)
    read = None if stated or yarn.linear_density_tex is not None else read_designation(yarn)
    if read is not None and len(read.folded_tex) > 1:
        return "it is folded of unlike singles"
    if read is not None and read.system not in usual_counts():
        return f"the usual counts of its system, {read.system}, are not known"
    return stated


@cache
def usual_counts() -> Mapping[str, tuple[float, ...]]:
    """Return the counts in which yarns are usually made, rising, by the key of their system."""
    text = resources.files("weavability").joinpath("data/usual_counts.toml").read_text("utf-8")
    counts: dict[str, Any] = tomllib.loads(text)["counts"]
    return {key: tuple(map(float, some)) for key, some in counts.items()}


@lru_cache(maxsize=256)
def other_counts(yarn: Yarn, *, finer: bool, beyond: bool = False) -> tuple[OtherYarn, ...]:
    """Return the yarn in the usual counts on one side of its own, the nearest first.

    None is more than :data:`MOST_TIMES` as fine or as coarse, or ``beyond`` that none less, and up
    to :data:`FARTHEST_TIMES`. A stated twist keeps its twist
    factor, and a stated diameter the packing of the fibres: both go with the root of the linear
    density. The angle of the twist then stays, and with it a stated take-up in folding.
    """
    if tied_to_the_count(yarn) is not None:
        return ()
    if yarn.linear_density_tex is not None:
        now = yarn.linear_density_tex
        some = _beside(usual_counts()["tex"], now, rising=not finer, beyond=beyond)
        found = (OtherYarn("linear_density_tex", to, (to / now - 1) * 100) for to in some)
        return tuple(_moved(yarn, each) for each in found)
    read = read_designation(yarn)
    if read is None:
        return ()
    some = _beside(
        usual_counts()[read.system],
        count_of(read),
        rising=SYSTEM_OF[read.system].direct != finer,
        beyond=beyond,
    )
    written = (in_count(yarn, read, each) for each in some)
    made = (_other(yarn, read, each) for each in written if each is not None)
    return tuple(_moved(yarn, each) for each in made if each is not None)


def _moved(yarn: Yarn, other: OtherYarn) -> OtherYarn:
    """Add what is stated of a yarn and moves with its count."""
    times = 1 + other.change_pct / 100
    moved: list[tuple[str, float]] = []
    if yarn.twist_per_m:
        moved.append(("twist_per_m", turns_in_count(yarn.twist_per_m, times)))
    if yarn.diameter_mm is not None:
        moved.append(("diameter_mm", float(f"{yarn.diameter_mm * times**0.5:.3g}")))
    return other._replace(moved=tuple(each for each in moved if each[1] != getattr(yarn, each[0])))


@lru_cache(maxsize=256)
def folded_counts(yarn: Yarn) -> tuple[OtherYarn, ...]:
    """Return a single yarn as one of two finer singles, if these are usual."""
    if any(getattr(yarn, name) is not None for name in (*_TIED, *_OF_A_SINGLE)):
        return ()
    read = read_designation(yarn)
    if (
        read is None
        or read.twist_per_m is not None
        or read.plies != 1
        or read.filaments
        or read.system not in usual_counts()
    ):
        return ()
    if not (read.spun or read.system == "tex"):
        return ()
    counts = usual_counts()[read.system]
    of_single = count_of(read) / 2 if SYSTEM_OF[read.system].direct else count_of(read) * 2
    near = sorted(counts, key=lambda count: abs(count / of_single - 1))[:2]
    two = replace(read, plies=2)
    made = (_other(yarn, read, in_full(two, count)) for count in near)
    return tuple(
        each for each in made if each is not None and abs(each.change_pct) <= FOLDED_WITHIN_PCT
    )


def _beside(counts: tuple[float, ...], now: float, *, rising: bool, beyond: bool) -> list[float]:
    """Return the counts above or below one, the nearest first, near it or beyond these."""
    least = MOST_TIMES * _LAST_DIGIT if beyond else 1.001  # its own count, rounded
    most = FARTHEST_TIMES if beyond else MOST_TIMES * _LAST_DIGIT
    if rising:
        return list(counts[bisect_right(counts, now * least) : bisect_right(counts, now * most)])
    return list(
        reversed(counts[bisect_left(counts, now / most) : bisect_left(counts, now / least)])
    )


def _other(yarn: Yarn, read: Designation, text: str) -> OtherYarn | None:
    """Return the yarn of a designation, if that can be read; ``None`` if not."""
    found = read_designation(replace(yarn, designation=text))
    if found is None:
        return None
    change_pct = (found.linear_density_tex / read.linear_density_tex - 1) * 100
    return OtherYarn("designation", text, change_pct)
