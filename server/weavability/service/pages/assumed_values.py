"""The assumed values of a report, in groups: estimates, limits of the loom, constants."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from weavability.answers.few_names import capitalised
from weavability.answers.field_names import own_words
from weavability.service.pages.wording import GRADES, between, measure
from weavability.textiles.assumptions import Assumption, Grade

_LEAST_RUN: Final = 2
_YARN: Final = re.compile(r"/construction/(warp|weft)/yarns/([^/]+)")


@dataclass(frozen=True, slots=True, kw_only=True)
class AssumedRow:
    """One assumed value, with every place at which it was assumed.

    Attributes:
        words: What it is.
        places: Of what.
        value: The value with its unit.
        band: Between which values it is expected.
        grade: How well it is supported.
        reason: Why this value.
    """

    words: str
    places: str
    value: str
    band: str
    grade: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AssumedGroup:
    """Assumed values of a kind."""

    title: str
    rows: Sequence[AssumedRow]


def assumed_groups(assumptions: Iterable[Assumption]) -> Iterator[AssumedGroup]:
    """Yield the groups that have values."""
    groups: dict[str, list[Assumption]] = {
        "Estimates, computed from what is stated": [],
        "Limits and settings of the loom": [],
        "Constants and usual values": [],
    }
    estimates, limits, constants = groups.values()
    for line in assumptions:
        if line.grade is Grade.ESTIMATE:
            estimates.append(line)
        elif line.pointer.startswith("/loom/"):
            limits.append(line)
        else:
            constants.append(line)
    for title, lines in groups.items():
        if lines:
            yield AssumedGroup(title=title, rows=list(assumed_rows(lines)))


def assumed_rows(assumptions: Iterable[Assumption]) -> Iterator[AssumedRow]:
    """Yield the assumptions, the same value for the same reason in one row."""
    places: dict[tuple[str, ...], list[str]] = {}
    for each in assumptions:
        place, words = each.pointer.rpartition("/")[0], own_words(each.pointer)
        key = (
            capitalised(words),
            measure(each.value, each.unit),
            between(each.band),
            GRADES[each.grade],
            each.reason,
        )
        places.setdefault(key, []).append(place)
    for (words, value, band, grade, reason), found in places.items():
        yield AssumedRow(
            words=words,
            value=value,
            band=band,
            grade=grade,
            reason=reason,
            places=_in_words(found),
        )


def _in_words(pointers: Iterable[str]) -> str:
    """Name parts of a request in words, yarns of a system together.

    >>> _in_words(["/construction/warp/yarns/A", "/construction/warp/yarns/B", "/loom"])
    'warp yarns A, B; loom'
    >>> _in_words([f"/construction/weft/yarns/{key}" for key in "ABCDX"])
    'weft yarns A–D, X'
    """
    keys: dict[str, list[str]] = {}
    others: list[str] = []
    for pointer in pointers:
        yarn = _YARN.fullmatch(pointer)
        if yarn is not None:
            keys.setdefault(yarn[1], []).append(yarn[2])
        else:
            path = pointer.strip("/").removeprefix("construction").strip("/")
            others.append(path.replace("/", " ").replace("_", " ") or "order")
    yarns = [
        f"{system} yarn{'s' if len(found) > 1 else ''} {_keys(found)}"
        for system, found in keys.items()
    ]
    return "; ".join((*yarns, *others))


def _keys(keys: Sequence[str]) -> str:
    """Write keys, three or more letters that follow one another by the first and the last."""
    parts: list[str] = []
    start = 0
    for end in range(1, len(keys) + 1):
        goes_on = (
            end < len(keys)
            and len(keys[end]) == len(keys[end - 1]) == 1
            and ord(keys[end]) == ord(keys[end - 1]) + 1
        )
        if goes_on:
            continue
        run = keys[start:end]
        parts += [f"{run[0]}–{run[-1]}"] if len(run) > _LEAST_RUN else run
        start = end
    return ", ".join(parts)
