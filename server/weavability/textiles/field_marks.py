"""What is written beside the words of a field of an answer, on the field itself."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Unit:
    """The unit of a field whose name does not end in it."""

    symbol: str


@dataclass(frozen=True, slots=True)
class Since:
    """The version that added a field; clients read answers of older services without it."""

    version: str


@dataclass(frozen=True, slots=True)
class Deprecated:
    """A field that is to go: its name is kept for callers that know it."""
