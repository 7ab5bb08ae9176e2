"""The pages that every page leads to."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

NAVIGATION: Final[Sequence[tuple[str, str]]] = (
    ("/", "Judge an order"),
    ("/matches", "Rank looms"),
    ("/board", "Board"),
    ("/v1/looms", "Looms"),
    ("/v1/checks", "Checks"),
    ("/evidence", "Evidence"),
    ("/docs", "Documentation"),
)
"""Address and name of each."""
