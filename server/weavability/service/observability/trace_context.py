"""The caller's trace context (W3C Trace Context, Recommendation of 2021-11-23), for the log."""

from __future__ import annotations

import re
import secrets
from dataclasses import dataclass
from typing import Final

HEADER: Final = "traceparent"
_PARENT: Final = re.compile(r"([0-9a-f]{2})-([0-9a-f]{32})-([0-9a-f]{16})-([0-9a-f]{2})(-.*)?")
_SAMPLED: Final = 0x01


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """The place of a request in the caller's trace.

    Attributes:
        trace_id: The whole trace, 32 hexadecimal digits.
        parent_id: The caller's span.
        span_id: This request, made here.
        sampled: Whether the caller keeps the trace.
    """

    trace_id: str
    parent_id: str
    span_id: str
    sampled: bool


def read_traceparent(given: str) -> Trace | None:
    """Read a ``traceparent`` header; ``None`` if it is absent or breaks the recommendation.

    A later version is read by the first four fields, as section 3.2.4 requires; version 00 has no
    more than these, and version ff does not exist. All zeros name nothing.

    >>> trace = read_traceparent("00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01")
    >>> trace.trace_id, trace.sampled
    ('4bf92f3577b34da6a3ce929d0e0e4736', True)
    >>> read_traceparent("00-00000000000000000000000000000000-00f067aa0ba902b7-01") is None
    True
    """
    match = _PARENT.fullmatch(given.strip(" \t"))
    if match is None:
        return None
    version, trace_id, parent_id, flags, more = match.groups()
    if version == "ff" or (version == "00" and more) or not int(trace_id, 16):
        return None
    if not int(parent_id, 16):
        return None
    return Trace(
        trace_id=trace_id,
        parent_id=parent_id,
        span_id=secrets.token_hex(8),
        sampled=bool(int(flags, 16) & _SAMPLED),
    )
