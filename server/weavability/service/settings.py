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
        thresholds: The mill's own thresholds (TOML); those of the package if there is none.
        max_body_bytes: Longest body that is read.
        max_line_bytes: Longest line or row of a batch, whose body may have any length.
        max_batch_items: Most items of a batch; no limit where ``None``.
        batch_read_ahead_bytes: What is taken of a batch before the first answer is sent, into a
            temporary file; clients that send more have to read while they send.
        requests_per_min: What one caller may ask of one worker process; no limit where ``None``.
        patience_s: Longest time that the head of a request, or its body, may take to arrive.
        proxies: Proxies of the operator's own in front, whose ``X-Forwarded-For`` is believed.
    """

    looms: Path | None = None
    tokens: Path | None = None
    thresholds: Path | None = None
    max_body_bytes: int = 8 * MEBIBYTE
    max_line_bytes: int = MEBIBYTE
    max_batch_items: int | None = None
    batch_read_ahead_bytes: int = 256 * MEBIBYTE
    requests_per_min: int | None = None
    patience_s: float = 20.0
    proxies: int = 0
