"""The service as it really runs, and Debian's Chromium to look at it."""

from __future__ import annotations

import shutil
from collections.abc import Iterator

import pytest
from browser.tabs import AXE, Tab
from selenium.webdriver import Chrome, ChromeOptions
from selenium.webdriver.chrome.service import Service
from service.servers import Server, serving


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark every test in this folder: it needs a browser."""
    for item in items:
        if item.path.is_relative_to(AXE.parents[4] / "tests/browser"):
            item.add_marker(pytest.mark.browser)


@pytest.fixture(scope="session")
def service() -> Iterator[Server]:
    with serving() as server:
        yield server


@pytest.fixture(scope="session")
def chrome() -> Iterator[Chrome]:
    driver, program = shutil.which("chromedriver"), shutil.which("chromium")
    if driver is None or program is None or not AXE.exists():
        pytest.fail("Run tests/browser/install first.")
    options = ChromeOptions()
    options.binary_location = program
    options.add_argument("--headless=new")
    options.add_argument("--no-sandbox")  # in a container there is none
    options.add_argument("--disable-dev-shm-usage")
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    chrome = Chrome(options=options, service=Service(executable_path=driver))
    yield chrome
    chrome.quit()


@pytest.fixture
def tab(chrome: Chrome, service: Server) -> Iterator[Tab]:
    """A tab of 1280 px in light colours; whatever the browser complained of fails the test."""
    made = Tab(chrome, service.url)
    made.sized(1280)
    made.scheme("light")
    yield made
    complaints = made.complaints()
    chrome.get("about:blank")
    assert complaints == []
