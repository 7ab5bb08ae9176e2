"""Whether and when a failed attempt is made again."""

from __future__ import annotations

import random

from weavability_client.errors import ApiError, ConnectionFailed, TimedOut, WeavabilityError
from weavability_client.policies import (
    BACKOFF_CAP_S,
    BACKOFF_START_S,
    RETRY_AFTER_CAP_S,
    RETRY_STATUSES,
)


def pause_s(error: WeavabilityError, *, attempt: int) -> float | None:
    """Return the pause before the next attempt, or ``None`` if there should be none.

    Args:
        error: What the attempt ended with.
        attempt: Attempts made before this one.
    """
    match error:
        case ApiError(retry_after_s=float(wait_s)) if error.status in RETRY_STATUSES:
            return wait_s if wait_s <= RETRY_AFTER_CAP_S else None
        case ApiError() if error.status not in RETRY_STATUSES:
            return None
        case ApiError() | ConnectionFailed() | TimedOut():
            return random.uniform(0, backoff_s(attempt))  # noqa: S311 (jitter, not a secret)
        case _:
            return None


def backoff_s(attempt: int) -> float:
    """Return the longest pause after ``attempt`` earlier attempts.

    Example:
        >>> [backoff_s(attempt) for attempt in range(7)]
        [0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 8.0]
    """
    return min(BACKOFF_CAP_S, BACKOFF_START_S * 2.0 ** min(attempt, 20))
