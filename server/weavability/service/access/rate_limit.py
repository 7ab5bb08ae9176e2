"""The limit of one caller: requests a minute, per token, or per address without a token.

The few lines below instead of a library: the generic cell rate algorithm keeps one number a caller,
needs no store and no clock of its own, and says exactly when the next may come. Libraries for this
job bring stores, decorators and error pages, none of which the service could use.

Each worker process counts for itself; a caller whose connections end at several workers has the
limit at each of them. That bounds what one caller can take from the others, which is what it is
for; a count across processes would need a store, and the service keeps none.
"""

from __future__ import annotations

import math
from collections import OrderedDict
from dataclasses import dataclass
from ipaddress import IPv6Address, ip_address
from threading import Lock
from typing import Final

MOST_CALLERS: Final = 10_000
_BURST_S: Final = 10.0
_MINUTE_S: Final = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Allowance:
    """The requests that a caller has left.

    Attributes:
        allowed: Whether this request may pass.
        requests_per_min: The caller's limit.
        burst: Requests that may come at once.
        remaining: Requests that may come now, after this one.
        wait_s: How long until the next may come; 0 if one may come now.
        full_s: How long until all of ``burst`` may come at once again.
    """

    allowed: bool
    requests_per_min: int
    burst: int
    remaining: int
    wait_s: float
    full_s: float


class Limiter:
    """Counts requests, a rate and a burst of ten seconds' worth to each caller.

    Remembers the ``MOST_CALLERS`` that called last; a caller that is forgotten starts afresh.
    """

    def __init__(self) -> None:
        self._due: OrderedDict[str, float] = OrderedDict()
        self._lock = Lock()

    def take(self, caller: str, *, requests_per_min: int, now_s: float) -> Allowance:
        """Count a request of ``caller`` at ``now_s`` on a clock that never goes back.

        >>> limiter = Limiter()
        >>> [limiter.take("erp", requests_per_min=12, now_s=0.0).allowed for _ in range(3)]
        [True, True, False]
        >>> limiter.take("erp", requests_per_min=12, now_s=5.0).allowed
        True
        """
        interval = _MINUTE_S / requests_per_min
        burst = max(1, int(_BURST_S / interval))
        with self._lock:
            due = max(self._due.get(caller, now_s), now_s)
            allowed = due - now_s <= (burst - 1) * interval + 1e-9
            if allowed:
                due += interval
            self._keep(caller, due)
        behind = due - now_s
        remaining = max(0, math.floor(burst - behind / interval + 1e-9))
        wait = max(0.0, behind - (burst - 1) * interval)
        return Allowance(
            allowed=allowed,
            requests_per_min=requests_per_min,
            burst=burst,
            remaining=remaining,
            wait_s=wait,
            full_s=behind,
        )

    def _keep(self, caller: str, due: float) -> None:
        self._due[caller] = due
        self._due.move_to_end(caller)
        if len(self._due) > MOST_CALLERS:
            self._due.popitem(last=False)


def address_key(address: str) -> str:
    """Return what callers without a token are counted by: an address, or the /64 of an IPv6 one.

    >>> address_key("192.0.2.7"), address_key("2001:db8::1:2:3:4"), address_key("")
    ('192.0.2.7', '2001:db8::/64', 'unknown')
    """
    try:
        read = ip_address(address)
    except ValueError:
        return "unknown"
    if not isinstance(read, IPv6Address):
        return str(read)
    network = IPv6Address(int(read) >> 64 << 64)
    return f"{network}/64"
