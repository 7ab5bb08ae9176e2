"""Settings of the service: every number that an operator may want to change."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

MEBIBYTE = 2**20


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """The settings of a service.

    Attributes:
        looms: Park file (TOML); the demo park if there is none.
        tokens: Token file (TOML); no token is needed if there is none.
        thresholds: The mill's own thresholds (TOML); those of the package if there is none.
        max_body_bytes: Longest body that is read.
        max_line_bytes: Longest line or row of a batch, whose body may have any length.
        max_batch_items: Most items of a batch; ``None`` for no limit.
        batch_read_ahead_bytes: What is read of a batch before the first answer is sent, into a
            temporary file; clients that send more must read while they send.
        requests_per_min: Requests of one caller to one worker process; ``None`` for no limit.
        work_per_min: Units of work of one caller at one worker process; see ``http.work``.
        patience_s: Longest time that a client may keep the service waiting; see
            ``http.slow_clients``.
        kept_answers_bytes: Bytes of answers that a worker process keeps, to give them again
            without computing; 0 for none.
        allow_origins: Origins whose scripts may read answers; see ``access.cross_origin``.
        proxies: Proxies of the operator's own in front, whose ``X-Forwarded-For`` is trusted.
    """

    looms: Path | None = None
    tokens: Path | None = None
    thresholds: Path | None = None
    max_body_bytes: int = 8 * MEBIBYTE
    max_line_bytes: int = MEBIBYTE
    max_batch_items: int | None = None
    batch_read_ahead_bytes: int = 64 * MEBIBYTE
    requests_per_min: int | None = None
    work_per_min: int | None = None
    patience_s: float = 20.0
    kept_answers_bytes: int = 8 * MEBIBYTE
    allow_origins: frozenset[str] = frozenset()
    proxies: int = 0
