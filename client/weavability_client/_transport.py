"""The one module that touches the network: a session, its failures in the client's own terms."""

from __future__ import annotations

import logging
import os
import platform
import re
import threading
import time
from collections.abc import Iterator
from functools import partial
from http.cookiejar import DefaultCookiePolicy
from urllib.parse import urlsplit

import requests
from requests.auth import AuthBase
from requests.utils import get_environ_proxies
from urllib3.exceptions import ReadTimeoutError

from weavability_client._deadline import DeadlineAdapter
from weavability_client._printable import printable
from weavability_client._version import __version__
from weavability_client._wire import REQUEST_ID_HEADER, RawAnswer, Request
from weavability_client.errors import AnswerUnreadable, ConnectionFailed, TimedOut, UsageError
from weavability_client.policies import (
    ANSWER_DEADLINE_S,
    MAX_ANSWER_BYTES,
    READ_CHUNK_BYTES,
    Timeout,
)

_log = logging.getLogger("weavability_client")
_LONGEST_LOGGED: int = 80
_PACKED_REQUEST = re.compile(r"(?<=[/=#])(v\d+\.[\w-]{8})[\w.-]+")
_TOKEN_OF_QUERY = re.compile(r"(?<=[?&])((?:access_)?token=)[^&#]*", re.IGNORECASE)


def _without_secrets(path: str) -> str:
    """Return a path in which the order of a link is cut and a token of the query is masked."""
    return _TOKEN_OF_QUERY.sub(r"\1…", _PACKED_REQUEST.sub(r"\1…", path))


class _Bearer(AuthBase):
    """Sets the token; its mere presence keeps ``requests`` from taking one out of ``.netrc``."""

    def __init__(self, token: str | None) -> None:
        self._token = token

    def __call__(self, prepared: requests.PreparedRequest) -> requests.PreparedRequest:
        if self._token is not None:
            prepared.headers["Authorization"] = f"Bearer {self._token}"
        return prepared


class Connections:
    """The session of a client and of those made from it; a forked child makes its own."""

    def __init__(self, given: requests.Session | None, pool_size: int) -> None:
        self.given = given
        self.pool_size = pool_size
        self._lock = threading.Lock()
        self._own: requests.Session | None = None
        self._process_id = os.getpid()

    def session(self) -> requests.Session:
        """Return the session; a child never shares a parent's sockets."""
        if self.given is not None:
            return self.given
        with self._lock:
            if self._own is None or self._process_id != os.getpid():
                self._own = _new_session(self.pool_size)
                self._process_id = os.getpid()
            return self._own

    def close(self) -> None:
        """Close the connections of a session that is our own."""
        with self._lock:
            own, self._own = self._own, None
        if own is not None:
            own.close()

    def __reduce__(self) -> tuple[type[Connections], tuple[requests.Session | None, int]]:
        return (Connections, (self.given, self.pool_size))


class Transport:
    """Sends one request and reads one answer; safe in threads and after a fork."""

    def __init__(
        self,
        base_url: str,
        *,
        token: str | None,
        timeout: Timeout,
        connections: Connections,
    ) -> None:
        self.base_url = base_url
        self.token = token
        self.timeout = timeout
        self.connections = connections
        self._auth = _Bearer(token)

    def send(self, request: Request) -> RawAnswer:
        """Send ``request`` once and return what came back, whatever its status.

        Raises:
            ConnectionFailed: No connection, or it broke.
            TimedOut: No answer in time, or not the whole of it.
            AnswerUnreadable: The answer is too large, or compressed wrongly.
            UsageError: The address is none.
        """
        began = time.monotonic()
        shown = f"{request.method} {_without_secrets(request.path)[:_LONGEST_LOGGED]}"
        try:
            answer = self._exchange(request)
        except (AnswerUnreadable, ConnectionFailed, TimedOut) as error:
            _log.debug("%s failed after %.0f ms: %s", shown, _ms_since(began), error)
            raise
        _log.debug(
            "%s -> %d in %.0f ms, %d bytes sent, %d received, request %s",
            shown,
            answer.status,
            _ms_since(began),
            len(request.body or b""),
            len(answer.body),
            printable(answer.headers.get(REQUEST_ID_HEADER, "unknown")),
        )
        return answer

    def _exchange(self, request: Request) -> RawAnswer:
        try:
            response = self.connections.session().request(
                request.method,
                self.base_url + request.path,
                data=request.body,
                headers=dict(request.headers),
                auth=self._auth,
                timeout=self.timeout,
                allow_redirects=False,
                stream=True,
            )
            with response:
                body = b"" if response.is_redirect else b"".join(_bounded(response))
        except requests.exceptions.ContentDecodingError as error:
            raise AnswerUnreadable(f"the answer is compressed wrongly: {error}") from error
        except requests.exceptions.InvalidURL as error:
            raise UsageError(
                f"{self.base_url} is no address that can be reached, or that of the proxy in the "
                "environment is none; for example http://127.0.0.1:8080"
            ) from error
        except requests.exceptions.RequestException as error:
            raise self._failure(error) from error
        headers = {name.lower(): value for name, value in response.headers.items()}
        return RawAnswer(status=response.status_code, headers=headers, body=body)

    def close(self) -> None:
        """Close the connections of the client's own session."""
        self.connections.close()

    def __reduce__(self) -> tuple[partial[Transport], tuple[str]]:
        rebuild = partial(
            Transport, token=self.token, timeout=self.timeout, connections=self.connections
        )
        return (rebuild, (self.base_url,))

    def _failure(self, error: requests.exceptions.RequestException) -> ConnectionFailed | TimedOut:
        root = _root(error)
        late = isinstance(error, requests.exceptions.Timeout) or isinstance(
            root, ReadTimeoutError | TimeoutError
        )
        if late:
            return TimedOut(
                f"no answer from {self.base_url} within {self.timeout} s (connect, read), or not "
                f"the whole of it within {ANSWER_DEADLINE_S:g} s: try again, or pass a longer "
                "timeout"
            )
        return ConnectionFailed(
            f"no answer from {self.base_url}: {str(root) or type(root).__name__}. "
            f"Is the service running, and is the address right?{self._by_proxy()}"
        )

    def _by_proxy(self) -> str:
        """Name the proxy that the environment puts between, which is easily forgotten."""
        if self.connections.given is not None:
            return ""
        found = get_environ_proxies(self.base_url)
        proxy = found.get(urlsplit(self.base_url).scheme) or found.get("all")
        if not proxy:
            return ""
        host = urlsplit(self.base_url).hostname
        return (
            f" The environment sends this request through the proxy {_without_password(proxy)}; if "
            f"it should not, add {host} to NO_PROXY."
        )


def _ms_since(began: float) -> float:
    return 1000 * (time.monotonic() - began)


def _without_password(proxy: str) -> str:
    return proxy.rpartition("@")[2]


class _Session(requests.Session):
    """A session to which a redirect is an answer like any other.

    The library would read the whole of its body, however long, and fail on an odd ``Location``, to
    work out a next request that is never sent.
    """

    def get_redirect_target(self, resp: requests.Response) -> None:
        """Return that there is none."""


def _new_session(pool_size: int) -> requests.Session:
    session = _Session()
    adapter = DeadlineAdapter(pool_connections=1, pool_maxsize=pool_size, pool_block=True)
    session.mount("http://", adapter)
    session.mount("https://", adapter)
    session.cookies.set_policy(DefaultCookiePolicy(allowed_domains=[]))
    session.headers["User-Agent"] = f"weavability-client/{__version__} {platform.python_version()}"
    return session


def _bounded(response: requests.Response) -> Iterator[bytes]:
    """Yield the body; stop with an error if it is larger than an answer can be."""
    size = 0
    for chunk in response.iter_content(READ_CHUNK_BYTES):
        size += len(chunk)
        if size > MAX_ANSWER_BYTES:
            raise AnswerUnreadable(f"the answer is larger than {MAX_ANSWER_BYTES} bytes")
        yield chunk


def _root(error: BaseException) -> BaseException:
    """Return what first went wrong: the libraries wrap it several times."""
    for _ in range(10):
        inner = error.__cause__ or error.__context__
        if inner is None:
            break
        error = inner
    return error
