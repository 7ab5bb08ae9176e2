"""Every policy number of the client, in one place."""

from __future__ import annotations

from typing import Final

Timeout = float | tuple[float, float]
"""Seconds for connecting and reading alike, or for each."""

CONNECT_TIMEOUT_S: Final = 3.05
"""Longest wait for a connection: a little over 3 s, the first retransmission of TCP."""

READ_TIMEOUT_S: Final = 10.0
"""Longest silence of the service while an answer is awaited."""

ANSWER_DEADLINE_S: Final = 120.0
"""Longest time that one answer may take from its first byte awaited to its last one read, however
steadily it drips; an answer that is merely large takes seconds."""

RETRIES: Final = 2
"""Further attempts after the first one."""

RETRY_STATUSES: Final = frozenset({408, 429, 502, 503, 504})
"""Statuses that a later attempt may cure; 500 is not among them, the calls being pure."""

BACKOFF_START_S: Final = 0.25
"""Longest pause before the first further attempt; it doubles with each (full jitter)."""

BACKOFF_CAP_S: Final = 8.0
"""Longest pause that the client chooses of itself."""

RETRY_AFTER_CAP_S: Final = 30.0
"""Longest ``Retry-After`` that is waited out; a longer one is raised to the caller instead."""

POOL_SIZE: Final = 10
"""Connections kept open."""

BATCH_ITEMS: Final = 32
"""Items of ``validate_many`` that go into one request, and so are read ahead together."""

BATCH_BYTES: Final = 512 * 1024
"""Longest body of a batch: below the limit of 1 MB that many proxies have as they are shipped."""

BATCHES_AT_ONCE: Final = 4
"""Requests of a batch that are under way at once."""

CHANGES_ITEMS: Final = 1_000
"""Reports that one question for changes names."""

MAX_ANSWER_BYTES: Final = 32 * 1024 * 1024
"""Largest answer that is read."""

READ_CHUNK_BYTES: Final = 64 * 1024
"""Bytes taken from the socket at a time."""

EXCERPT_CHARACTERS: Final = 120
"""How much of an answer that cannot be read is quoted in the error."""
