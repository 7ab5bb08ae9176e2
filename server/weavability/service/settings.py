"""Settings of the service: every number that an operator may want to change."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

MEBIBYTE = 2**20


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """How the service is set up.

    Attributes:
        looms: Park file (TOML); the demo park where there is none.
        max_body_bytes: Longest body that is read.
    """

    looms: Path | None = None
    max_body_bytes: int = 8 * MEBIBYTE
