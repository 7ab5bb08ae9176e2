"""The limits of one caller, requests and work a minute: per token, or per address without one.

The few lines below instead of a library: the generic cell rate algorithm keeps one number a caller,
needs no store and no clock of its own, and says exactly when the next may come. Libraries for this
job bring stores, decorators and error pages, none of which the service could use.

Each worker process counts for itself; a caller whose connections end at several workers has the
limit at each of them. That bounds what one caller can take from the others, which is what it is
for; a count across processes would need a store, and the service keeps none.
"""

from __future__ import annotations

import math
import re
from collections import OrderedDict
from dataclasses import dataclass
from ipaddress import IPv6Address, ip_address
from threading import Lock
from typing import Final

MOST_CALLERS: Final = 10_000
_BURST_S: Final = 10.0
_MINUTE_S: Final = 60.0
_WITH_PORT: Final = re.compile(r"(?:\[(?P<v6>[0-9A-Fa-f:.]+)\]|(?P<v4>[0-9.]+)):[0-9]{1,5}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Allowance:
    """What a caller has left, in requests or in units of work.

    Attributes:
        allowed: Whether this one may pass.
        per_min: The caller's limit.
        burst: What may come at once.
        remaining: What may come now, after this.
        wait_s: How long until the next may come; 0 if one may come now.
        full_s: How long until all of ``burst`` may come at once again.
    """

    allowed: bool
    per_min: int
    burst: int
    remaining: int
    wait_s: float
    full_s: float


class Limiter:
    """Counts requests, or units of work: a rate and a burst of ten seconds' worth to each caller.

    Remembers the ``MOST_CALLERS`` that called last; a caller that is forgotten starts afresh.
    """

    def __init__(self) -> None:
        self._due: OrderedDict[str, float] = OrderedDict()
        self._lock = Lock()

    def take(self, caller: str, *, per_min: int, now_s: float) -> Allowance:
        """Count one of ``caller`` at ``now_s``, on a clock that never goes back, if it may come.

        >>> limiter = Limiter()
        >>> [limiter.take("erp", per_min=12, now_s=0.0).allowed for _ in range(3)]
        [True, True, False]
        >>> limiter.take("erp", per_min=12, now_s=5.0).allowed
        True
        """
        interval = _MINUTE_S / per_min
        most = (max(1, int(_BURST_S / interval)) - 1) * interval
        with self._lock:
            due = max(self._due.get(caller, now_s), now_s)
            allowed = due - now_s <= most + 1e-9
            if allowed:
                due += interval
            self._keep(caller, due)
        return _allowance(due - now_s, per_min=per_min, allowed=allowed)

    def charge(self, caller: str, units: float, *, per_min: int, now_s: float) -> Allowance:
        """Count what was done, also if it is more than was left: what comes next then waits longer.

        >>> limiter = Limiter()
        >>> limiter.charge("erp", 30, per_min=60, now_s=0.0).wait_s
        21.0
        >>> limiter.take("erp", per_min=60, now_s=20.0).allowed
        False
        >>> limiter.take("erp", per_min=60, now_s=21.0).allowed
        True
        """
        with self._lock:
            due = max(self._due.get(caller, now_s), now_s) + units * _MINUTE_S / per_min
            self._keep(caller, due)
        return _allowance(due - now_s, per_min=per_min, allowed=True)

    def _keep(self, caller: str, due: float) -> None:
        self._due[caller] = due
        self._due.move_to_end(caller)
        if len(self._due) > MOST_CALLERS:
            self._due.popitem(last=False)


def _allowance(behind: float, *, per_min: int, allowed: bool) -> Allowance:
    interval = _MINUTE_S / per_min
    burst = max(1, int(_BURST_S / interval))
    return Allowance(
        allowed=allowed,
        per_min=per_min,
        burst=burst,
        remaining=max(0, math.floor(burst - behind / interval + 1e-9)),
        wait_s=max(0.0, behind - (burst - 1) * interval),
        full_s=behind,
    )


def address_key(address: str) -> str:
    """Return what callers without a token are counted by: an address, or the /64 of an IPv6 one.

    Proxies may write the port behind the address.

    >>> address_key("192.0.2.7"), address_key("2001:db8::1:2:3:4"), address_key("")
    ('192.0.2.7', '2001:db8::/64', 'unknown')
    >>> address_key("192.0.2.7:4711"), address_key("[2001:db8::1]:4711")
    ('192.0.2.7', '2001:db8::/64')
    """
    with_port = _WITH_PORT.fullmatch(address)
    if with_port:
        address = with_port["v6"] or with_port["v4"]
    try:
        read = ip_address(address)
    except ValueError:
        return "unknown"
    if not isinstance(read, IPv6Address):
        return str(read)
    network = IPv6Address(int(read) >> 64 << 64)
    return f"{network}/64"
