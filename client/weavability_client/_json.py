"""Parsed JSON of which nothing is known yet, narrowed to what can be looked into."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import cast


def members(value: object) -> Mapping[str, object] | None:
    """Return ``value`` if it is an object of JSON, else ``None``."""
    return cast("Mapping[str, object]", value) if isinstance(value, Mapping) else None


def elements(value: object) -> Sequence[object] | None:
    """Return ``value`` if it is a list of JSON, else ``None``."""
    return cast("Sequence[object]", value) if isinstance(value, list | tuple) else None
