"""The count in a designation, and the same designation of a yarn in another count.

A designation is written in several ways: ``Ne 30/2``, ``2/30s``, ``20 tex x 2``, ``R 40 tex/2``,
``34 tex S600 x 2 Z400; R 69.3 tex`` (ISO 1139). Another count goes to the place of the first, so
that a mill reads its own notation.
"""

from __future__ import annotations

import re
from math import isclose, sqrt
from typing import Final, NamedTuple

from weavability.textiles.count_systems import SYSTEMS, System
from weavability.textiles.designation_parts import TWIST, Designation
from weavability.textiles.designations import parse_designation
from weavability.textiles.errors import InputError
from weavability.textiles.fibres import find_fibre
from weavability.textiles.yarns import Yarn

SYSTEM_OF: Final = {system.key: system for system in SYSTEMS}
"""Systems by their key."""

_NUMBER: Final = re.compile(r"(?<![\d.f])(?<!f )(?:\d+(?:\.\d+)?|\.\d+)", re.IGNORECASE)
"""Any number of a designation but one of filaments."""

_RESULTANT: Final = re.compile(r"(?<![a-z])r(?![a-z])", re.IGNORECASE)

_TENS_OF_TURNS_FROM: Final = 200
"""From so many turns/m on a twist is written in tens; common practice, no source."""

_RESULTANT_DIGITS: Final = 3
"""Figures of a resultant that follows from another count, as ISO 1139 writes one."""


class WrittenCount(NamedTuple):
    """The count in a designation.

    Attributes:
        value: As it is written.
        at: Where it is.
    """

    value: float
    at: slice

    def replaced(self, text: str, written: str) -> str:
        """Return the designation with something else in its place."""
        return text[: self.at.start] + written + text[self.at.stop :]


def read_designation(yarn: Yarn) -> Designation | None:
    """Return what the designation of a yarn says; ``None`` if it has none that can be read."""
    if yarn.designation is None:
        return None
    try:
        fibre = None if yarn.fibre is None else find_fibre(yarn.fibre)
        return parse_designation(yarn.designation, fibre=fibre)
    except InputError:
        return None


def count_of(read: Designation) -> float:
    """Return the count by which a yarn is bought: of one single, of folded spun silk of the whole.

    >>> count_of(parse_designation("R 60 tex/2")), count_of(parse_designation("20 tex x 2"))
    (30.0, 20.0)
    """
    system = SYSTEM_OF[read.system]
    return system.number(read.single_tex * (read.plies if system.resultant else 1))


def written_count(yarn: Yarn) -> WrittenCount | None:
    """Return the count in the designation of a yarn; ``None`` if it has none or several.

    Several are in one that folds unlike singles, and in one that states the resultant beside the
    single; a titre of raw silk is a range.

    >>> written_count(Yarn(designation="2/30 Ne")).value
    30.0
    >>> written_count(Yarn(designation="R 60 tex/2")).value
    60.0
    >>> written_count(Yarn(designation="Ne 30 + Ne 40"))
    """
    text, read = yarn.designation, read_designation(yarn)
    if text is None or read is None or ";" in text or len(read.folded_tex) > 1:
        return None
    return _count_in(text, read)


def _count_in(text: str, read: Designation) -> WrittenCount | None:
    """Find the count before any resultant that is stated beside it."""
    main = text.partition(";")[0]
    times = read.plies if _RESULTANT.search(main) else 1
    twists = [found.span() for found in TWIST.finditer(main.lower())]
    for found in _NUMBER.finditer(main):
        if isclose(float(found[0]), times * count_of(read), rel_tol=1e-6) and not any(
            start <= found.start() < stop for start, stop in twists
        ):
            return WrittenCount(float(found[0]), slice(*found.span()))
    return None


def in_count(yarn: Yarn, read: Designation, count: float) -> str | None:
    """Return the designation of a yarn in another count, written as its own is.

    A twist goes with the root of the linear density, and a stated resultant with the singles. What
    cannot be written so is written in canonical form.

    Args:
        yarn: The yarn as it is.
        read: What its designation says.
        count: Of one single, or of folded spun silk.

    Returns:
        ``None`` if it would read as another yarn: the smaller number of ``Ne 2/3`` is the ply.
    """
    system, text = SYSTEM_OF[read.system], yarn.designation or ""
    times = system.tex(count) / system.tex(count_of(read))
    place = _count_in(text, read)
    forms = [in_full(read, count) + _twist(read, times)]
    if place is not None:
        forms.insert(0, _moved(text, place, count / count_of(read), times))
    return next((each for each in forms if _is_of(each, yarn, read, count)), None)


def in_full(read: Designation, count: float) -> str:
    """Return a yarn of a count, of singles if it is folded, in canonical form without its twist."""
    text = _with_system(SYSTEM_OF[read.system], count)
    if read.filaments:
        text += f" f{read.filaments}"
    if read.plies == 1:
        return text
    is_direct = SYSTEM_OF[read.system].direct
    return f"{text} x {read.plies}" if is_direct else f"{text}/{read.plies}"


def _with_system(system: System, count: float) -> str:
    of_fibre, _, unit = system.key.rpartition(" ")  # jute 8 lb
    text = f"{of_fibre} {count:g} {unit}" if system.direct else f"{system.key} {count:g}"
    return text.lstrip()


def _moved(text: str, place: WrittenCount, ratio: float, times: float) -> str:
    """Put another count, the twists that go with it and the resultant into a designation."""
    main, mark, resultant = place.replaced(text, f"{place.value * ratio:.6g}").partition(";")

    def turned(found: re.Match[str]) -> str:
        before, turns = found[0][: -len(found["turns"])], float(found["turns"])
        return f"{before}{turns_in_count(turns, times):.0f}"

    def in_proportion(found: re.Match[str]) -> str:
        return f"{float(found[0]) * times:.{_RESULTANT_DIGITS}g}"

    main = re.sub(TWIST.pattern, turned, main, flags=TWIST.flags | re.IGNORECASE)
    return main + mark + _NUMBER.sub(in_proportion, resultant)


def _is_of(text: str, yarn: Yarn, read: Designation, count: float) -> bool:
    """Return whether a designation is of the same yarn in a count."""
    found = read_designation(_renamed(yarn, text))
    return (
        found is not None
        and (found.system, found.plies, found.filaments)
        == (read.system, read.plies, read.filaments)
        and isclose(count_of(found), count, rel_tol=1e-6)
    )


def _renamed(yarn: Yarn, text: str) -> Yarn:
    return Yarn(designation=text, fibre=yarn.fibre)


def _twist(read: Designation, times: float) -> str:
    if read.twist_per_m is None:
        return ""
    if not read.twist_per_m:
        return " T0"
    return f" {read.twist_direction} {turns_in_count(read.twist_per_m, times):.0f}"


def turns_in_count(per_m: float, times: float) -> float:
    """Return the twist of a yarn so many times as heavy, with the twist factor that it has."""
    turns = per_m / sqrt(times)
    return round(turns, -1 if turns >= _TENS_OF_TURNS_FROM else 0)
