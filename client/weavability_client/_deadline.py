"""Connections whose answers end within a deadline, however slowly they drip.

A read timeout bounds each silence only: a service, or a proxy, that sends one byte every few
seconds would hold its caller for hours. Here every wait for the socket is cut to what is left.
"""

from __future__ import annotations

import http.client
import io
import socket
import time
from typing import Any

from requests.adapters import HTTPAdapter
from urllib3 import HTTPConnectionPool, HTTPSConnectionPool, PoolManager
from urllib3.connection import HTTPConnection, HTTPSConnection

from weavability_client.policies import ANSWER_DEADLINE_S


class _TimelyReader(io.RawIOBase):
    """Reads from a socket until the deadline, each wait no longer than the read timeout."""

    def __init__(self, inner: io.RawIOBase, connection: socket.socket) -> None:
        self._inner = inner
        self._connection = connection
        self._silence_s = connection.gettimeout()
        self._deadline = time.monotonic() + ANSWER_DEADLINE_S

    def readable(self) -> bool:
        """Return True: it reads."""
        return True

    def readinto(self, buffer: Any, /) -> int | None:
        """Read what has come, up to the size of ``buffer``.

        Raises:
            TimeoutError: Nothing came in time, or the deadline has passed.
        """
        left_s = self._deadline - time.monotonic()
        if left_s <= 0:
            raise TimeoutError(f"the answer was not complete after {ANSWER_DEADLINE_S:g} s")
        silence_s = left_s if self._silence_s is None else self._silence_s
        self._connection.settimeout(min(silence_s, left_s))
        return self._inner.readinto(buffer)

    def close(self) -> None:
        """Let go of the socket."""
        self._inner.close()
        super().close()


class _TimelyResponse(http.client.HTTPResponse):
    """An answer that is read, head and body, within the deadline."""

    def __init__(self, sock: socket.socket, *args: Any, **options: Any) -> None:
        super().__init__(sock, *args, **options)
        self.fp = io.BufferedReader(_TimelyReader(self.fp.detach(), sock))


class _Connection(HTTPConnection):
    response_class = _TimelyResponse


class _SecureConnection(HTTPSConnection):
    response_class = _TimelyResponse


class _Pool(HTTPConnectionPool):
    ConnectionCls = _Connection  # pyright: ignore[reportAssignmentType] (as urllib3 itself has it)


class _SecurePool(HTTPSConnectionPool):
    ConnectionCls = _SecureConnection  # pyright: ignore[reportAssignmentType] (likewise)


class DeadlineAdapter(HTTPAdapter):
    """The adapter of ``requests``, with a deadline on every answer; through proxies too."""

    def init_poolmanager(self, *args: Any, **options: Any) -> None:
        """Make the pools."""
        super().init_poolmanager(*args, **options)
        _timely(self.poolmanager)

    def proxy_manager_for(self, proxy: str, **options: Any) -> Any:
        """Return the pools behind a proxy."""
        manager = super().proxy_manager_for(proxy, **options)
        if not proxy.lower().startswith("socks"):
            _timely(manager)
        return manager


def _timely(manager: PoolManager) -> None:
    pools: dict[str, type[HTTPConnectionPool] | type[HTTPSConnectionPool]]
    pools = {"http": _Pool, "https": _SecurePool}
    manager.pool_classes_by_scheme = pools
