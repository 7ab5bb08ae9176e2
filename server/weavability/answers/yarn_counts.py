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

_TENS_OF_TURNS_FROM: Final = 200
"""From so many turns/m on a twist is written in tens; common practice, no source."""

_DIRECT: Final = {system.key: system.direct for system in SYSTEMS}


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
    read = None if stated or yarn.linear_density_tex is not None else _read(yarn)
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
    read = _read(yarn)
    if read is None:
        return ()
    is_direct = _DIRECT[read.system]
    counts = usual_counts()[read.system]
    count = _count_now(read, is_direct=is_direct, counts=counts, yarn=yarn)
    if count is None:
        return ()
    made = (
        _other(yarn, read, _written(read, each, twisted_from=count))
        for each in _beside(counts, count, rising=is_direct != finer, beyond=beyond)
    )
    return tuple(_moved(yarn, each) for each in made if each is not None)


def _moved(yarn: Yarn, other: OtherYarn) -> OtherYarn:
    """Add what is stated of a yarn and moves with its count."""
    root = (1 + other.change_pct / 100) ** 0.5
    moved: list[tuple[str, float]] = []
    if yarn.twist_per_m:
        moved.append(("twist_per_m", _turns(yarn.twist_per_m / root)))
    if yarn.diameter_mm is not None:
        moved.append(("diameter_mm", float(f"{yarn.diameter_mm * root:.3g}")))
    return other._replace(moved=tuple(each for each in moved if each[1] != getattr(yarn, each[0])))


def _turns(per_m: float) -> float:
    return round(per_m, -1 if per_m >= _TENS_OF_TURNS_FROM else 0)


@lru_cache(maxsize=256)
def folded_counts(yarn: Yarn) -> tuple[OtherYarn, ...]:
    """Return a single yarn as one of two finer singles, if these are usual."""
    if any(getattr(yarn, name) is not None for name in (*_TIED, *_OF_A_SINGLE)):
        return ()
    read = _read(yarn)
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


def _beside(counts: tuple[float, ...], now: float, *, rising: bool, beyond: bool) -> list[float]:
    """Return the counts above or below one, the nearest first, near it or beyond these."""
    least = MOST_TIMES * _LAST_DIGIT if beyond else 1.001  # its own count, rounded
    most = FARTHEST_TIMES if beyond else MOST_TIMES * _LAST_DIGIT
    if rising:
        return list(counts[bisect_right(counts, now * least) : bisect_right(counts, now * most)])
    return list(
        reversed(counts[bisect_left(counts, now / most) : bisect_left(counts, now / least)])
    )


def _read(yarn: Yarn) -> Designation | None:
    if yarn.designation is None:
        return None
    try:
        fibre = None if yarn.fibre is None else find_fibre(yarn.fibre)
        return parse_designation(yarn.designation, fibre=fibre)
    except InputError:
        return None


def _count_now(
    read: Designation, *, is_direct: bool, counts: tuple[float, ...], yarn: Yarn
) -> float | None:
    """Return the count of one single in its own system."""
    middle = counts[len(counts) // 2]
    one = _other(yarn, read, _written(read, middle))
    if one is None:
        return None
    times = 1 + one.change_pct / 100
    return middle / times if is_direct else middle * times


def _written(read: Designation, count: float, *, twisted_from: float | None = None) -> str:
    """Write a yarn of a count, of singles if it is folded.

    Args:
        read: The yarn as it is.
        count: The count.
        twisted_from: That which it has, if a twist in its designation is to go with the count.
    """
    text = _of_count(read, count)
    if read.twist_per_m is None or twisted_from is None:
        return text
    if not read.twist_per_m:
        return f"{text} T0"
    times = count / twisted_from if _DIRECT[read.system] else twisted_from / count
    return f"{text} {read.twist_direction} {_turns(read.twist_per_m / times**0.5):.0f}"


def _of_count(read: Designation, count: float) -> str:
    of_fibre, _, unit = read.system.rpartition(" ")  # jute 8 lb
    text = f"{of_fibre} {count:g} {unit}" if _DIRECT[read.system] else f"{read.system} {count:g}"
    text = text.lstrip()
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
