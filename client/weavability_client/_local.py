"""The service inside the client's own process: what ``weavability --local`` runs on.

The client imports nothing of the server. This module is the one exception, and it is none at import
time: it looks the service up by name when it is asked to, so that the base install works without
it, and hands it requests through its public WSGI application. Everything else of the client is the
same, and so are the answers.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable, Iterator, Mapping
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import unquote, urlsplit

import requests
from requests.adapters import BaseAdapter
from urllib3 import HTTPResponse

from weavability_client.errors import UsageError

if TYPE_CHECKING:
    from _typeshed.wsgi import WSGIApplication

ADDRESS: Final = "http://weavability.local"
SERVICE: Final = "weavability.service"


def local_session(looms: Path | None = None, thresholds: Path | None = None) -> requests.Session:
    """Return a session that answers requests to ``ADDRESS`` in this process.

    Args:
        looms: Park file; the demo park where there is none.
        thresholds: The mill's own thresholds; those of the package where there is none.

    Raises:
        UsageError: The service is not installed, or a file cannot be used.
    """
    session = requests.Session()
    session.trust_env = False
    session.mount(ADDRESS, WsgiAdapter(_application(looms, thresholds)))
    return session


def _application(looms: Path | None, thresholds: Path | None) -> WSGIApplication:
    try:
        service = import_module(SERVICE)
        settings = import_module(f"{SERVICE}.settings")
    except ImportError as error:
        raise UsageError(
            f"--local needs the service in this environment ({error}): install weavability[server]"
        ) from error
    try:
        application: WSGIApplication = service.create_app(
            settings.Settings(looms=looms, thresholds=thresholds)
        )
    except (OSError, ValueError) as error:
        what = "thresholds" if str(error).startswith(f"{thresholds}: ") else "loom park"
        raise UsageError(f"the {what} cannot be used: {error}") from error
    return application


class WsgiAdapter(BaseAdapter):
    """Sends the requests of a session to a WSGI application (PEP 3333)."""

    def __init__(self, application: WSGIApplication) -> None:
        super().__init__()
        self._application = application

    def send(
        self, request: requests.PreparedRequest, *_arguments: Any, **_options: Any
    ) -> requests.Response:
        """Answer a request; timeouts and certificates have no meaning here."""
        told: dict[str, Any] = {}

        def start_response(
            status: str, headers: list[tuple[str, str]], _exc_info: Any = None
        ) -> Callable[[bytes], object]:
            told.update(status=status, headers=headers)
            return written.append

        written: list[bytes] = []
        returned = b"".join(_drained(self._application(_environ(request), start_response)))
        return _response(request, told["status"], told["headers"], b"".join(written) + returned)

    def close(self) -> None:
        """Close nothing: there are no connections."""


def _drained(chunks: Iterable[bytes]) -> Iterator[bytes]:
    """Yield all chunks and close, as the protocol asks."""
    try:
        yield from chunks
    finally:
        close = getattr(chunks, "close", None)
        if close is not None:
            close()


def _environ(request: requests.PreparedRequest) -> dict[str, Any]:
    parts = urlsplit(request.url or "")
    body = request.body or b""
    content = body.encode() if isinstance(body, str) else bytes(body)
    return {
        "REQUEST_METHOD": request.method,
        "SCRIPT_NAME": "",
        "PATH_INFO": unquote(parts.path, "latin-1"),
        "QUERY_STRING": parts.query,
        "SERVER_NAME": parts.hostname,
        "SERVER_PORT": "80",
        "SERVER_PROTOCOL": "HTTP/1.1",
        "REMOTE_ADDR": "127.0.0.1",
        "CONTENT_LENGTH": str(len(content)),
        "wsgi.version": (1, 0),
        "wsgi.url_scheme": parts.scheme,
        "wsgi.input": io.BytesIO(content),
        "wsgi.errors": io.StringIO(),
        "wsgi.multithread": True,
        "wsgi.multiprocess": False,
        "wsgi.run_once": False,
        **_header_variables(request.headers),
    }


def _header_variables(headers: Mapping[str, str]) -> dict[str, str]:
    variables = {name.upper().replace("-", "_"): value for name, value in headers.items()}
    plain = {"CONTENT_TYPE": variables.pop("CONTENT_TYPE", "")}
    variables.pop("CONTENT_LENGTH", None)
    return plain | {f"HTTP_{name}": value for name, value in variables.items()}


def _response(
    request: requests.PreparedRequest, status: str, headers: list[tuple[str, str]], body: bytes
) -> requests.Response:
    code, _, reason = status.partition(" ")
    response = requests.Response()
    response.status_code = int(code)
    response.reason = reason
    response.headers.update(headers)
    response.url = request.url or ""
    response.request = request
    response.raw = HTTPResponse(
        body=io.BytesIO(body), headers=dict(headers), status=int(code), preload_content=False
    )
    return response
