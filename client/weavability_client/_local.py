"""The service inside the client's own process: what ``weavability --local`` runs on.

The client imports nothing of the server, but for this module: the service is imported only on use,
by its name, so that the base install works without it, and gets requests through its public WSGI
application. Everything else of the client is the same, and so are the answers.
"""

from __future__ import annotations

import io
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

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
        looms: Park file; the demo park if there is none.
        thresholds: The mill's own thresholds; those of the package if there is none.

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
    """Sends the requests of a session to a WSGI application (PEP 3333), as werkzeug does it."""

    def __init__(self, application: WSGIApplication) -> None:
        super().__init__()
        # By name, as the service is: the base install has no werkzeug.
        self._client = import_module("werkzeug.test").Client(application, use_cookies=False)

    def send(
        self, request: requests.PreparedRequest, *_arguments: Any, **_options: Any
    ) -> requests.Response:
        """Answer a request; timeouts and certificates have no meaning here."""
        answer = self._client.open(
            request.path_url,
            base_url=ADDRESS,
            method=request.method,
            headers=dict(request.headers),
            data=request.body,
            environ_base={"REMOTE_ADDR": "127.0.0.1"},
        )
        body = answer.get_data()
        answer.close()
        response = requests.Response()
        response.status_code = answer.status_code
        response.reason = answer.status.partition(" ")[2]
        response.headers.update(answer.headers)
        response.url = request.url or ""
        response.request = request
        response.raw = HTTPResponse(
            body=io.BytesIO(body),
            headers=dict(answer.headers),
            status=answer.status_code,
            preload_content=False,
        )
        return response

    def close(self) -> None:
        """Close nothing: there are no connections."""
