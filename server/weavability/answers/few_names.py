"""Names in a sentence: all or some of many in a row, and the first letter of one that begins it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, TypeVar

T = TypeVar("T")


def named_of(values: Sequence[T]) -> Sequence[T]:
    """Return those of some values that :func:`few` names."""
    return values if len(values) <= _MOST_NAMED + 1 else values[:_MOST_NAMED]


def few(words: Sequence[str], which: str) -> str:
    """List some values, the rest by their number."""
    named = named_of(words)
    if len(named) == len(words):
        return ", ".join(words)
    return f"{', '.join(named)} and {len(words) - len(named)} other values {which}".rstrip()


_MOST_NAMED: Final = 3
"""Values that a sentence names before it counts the rest, if that is more than one."""


def joined(names: Sequence[str]) -> str:
    """List names with a last "and", or some of many, the rest by their number."""
    return listed(names) if len(names) <= _MOST_NAMED + 1 else few(names, "")


def listed(names: Sequence[str]) -> str:
    """Write all names in a row.

    >>> listed(["A", "B", "C"])
    'A, B and C'
    """
    return " and ".join(filter(None, (", ".join(names[:-1]), *names[-1:])))


def capitalised(words: str) -> str:
    """Return words that begin a sentence or a row, the rest as they are.

    >>> capitalised("shrinkage in the width of WARP A")
    'Shrinkage in the width of WARP A'
    """
    return words[:1].upper() + words[1:]
