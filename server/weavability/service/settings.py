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
        tokens: Token file (TOML); no token is asked for where there is none.
        max_body_bytes: Longest body that is read.
        requests_per_min: What one caller may ask of one worker process; no limit where ``None``.
        patience_s: Longest time that the head of a request, or its body, may take to arrive.
        proxies: Proxies of the operator's own in front, whose ``X-Forwarded-For`` is believed.
    """

    looms: Path | None = None
    tokens: Path | None = None
    max_body_bytes: int = 8 * MEBIBYTE
    requests_per_min: int | None = None
    patience_s: float = 20.0
    proxies: int = 0
