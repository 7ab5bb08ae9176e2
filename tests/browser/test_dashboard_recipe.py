"""The recipe of a dashboard on another address, as the documentation has it."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread

import pytest
from browser.tabs import ROOT, Tab
from selenium.webdriver import Chrome
from service.servers import serving
from service.support import small_request

from weavability_client import Client


class Quiet(SimpleHTTPRequestHandler):
    def log_message(self, *_: object) -> None:
        """Stay silent."""


@pytest.fixture(scope="module")
def elsewhere() -> Iterator[str]:
    """The folder of recipes at an address of its own."""
    handler = partial(Quiet, directory=str(ROOT / "server/docs/recipes"))
    with ThreadingHTTPServer(("127.0.0.1", 0), handler) as server:
        Thread(target=server.serve_forever).start()
        yield f"http://127.0.0.1:{server.server_port}"
        server.shutdown()


def test_it_shows_verdicts_of_a_service_that_allows_it(chrome: Chrome, elsewhere: str) -> None:
    with serving("--workers", "1", "--allow-origin", elsewhere) as service:
        with Client(service.url) as client:
            report = client.validate(**small_request())
        tab = Tab(chrome, elsewhere)
        tab.open("/dashboard.html")
        tab.fill("Address", service.url)
        tab.fill("Links", f"{service.url}{report.link}\n{report.link}x")
        tab.press("Look")
        tab.until(lambda: "2 reports, looked at" in tab.text)
        first, second = (each.text for each in tab.all("#rows tr"))
        assert str(report.verdict).replace("_", " ") in first
        assert "There is nothing at this address" in second
        assert report.caution in tab.text
        tab.press("Look")
        tab.until(lambda: "2 reports, looked at" in tab.text)
        tab.complaints()  # the folder has no icon


def test_one_that_does_not_is_said(chrome: Chrome, elsewhere: str) -> None:
    with serving("--workers", "1") as service:
        tab = Tab(chrome, elsewhere)
        tab.open("/dashboard.html")
        tab.fill("Address", service.url)
        tab.fill("Links", "/v1/validations/v1.x")
        tab.press("Look")
        tab.until(lambda: "No answer" in tab.text)
        tab.complaints()
