"""What all tests share: hypothesis profiles, and the service in process with a small park.

``tests/run`` chooses a profile by ``--hypothesis-profile``; without it, the default is loaded here,
on every machine alike. A law that costs more than most asks for a share of its profile's examples
(``profiles.py``), so that a profile scales all of them.
"""

from __future__ import annotations

import gc
import linecache
import re
from collections.abc import Generator
from pathlib import Path
from typing import TYPE_CHECKING, Final

import pytest
from hypothesis import Phase, settings

if TYPE_CHECKING:  # what hands the tests out to workers imports this file as well
    from flask import Flask
    from flask.testing import FlaskClient

    from weavability.service import Settings
    from weavability.service.requests.park import Park

# No deadlines: tests hold no clock, and a shared machine is now and then ten times slower.
settings.register_profile("quick", max_examples=10, deadline=None, derandomize=True, database=None)
settings.register_profile("default", max_examples=100, deadline=None)
# What fails there is made smaller at home: that may take five minutes a law.
settings.register_profile(
    "ci",
    max_examples=100,
    deadline=None,
    derandomize=True,
    database=None,
    print_blob=True,
    phases=[Phase.explicit, Phase.generate],
)
settings.register_profile("long", max_examples=1000, deadline=None, print_blob=True)
settings.load_profile("default")

GARBAGE: Final = 50_000
"""Objects made until garbage is sought: at Python's own 700, that is a thirtieth of the time."""

OF_MODULE: Final = re.compile(r"^pytestmark = pytest\.mark\.(\w+)$", re.MULTILINE)


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Pass over what is left out as a whole: to import what its tests need takes a while."""
    mark: str | None = "browser" if collection_path == Path(__file__).parent / "browser" else None
    if collection_path.suffix == ".py":
        found = OF_MODULE.search(collection_path.read_text("utf-8"))
        mark = found.group(1) if found else None
    return (mark is not None and f"not {mark}" in config.option.markexpr) or None


class WithoutExamples:
    """Looks for examples in docstrings only in modules that have some; the rest is not imported."""

    @pytest.hookimpl(wrapper=True)
    def pytest_collect_file(
        self, file_path: Path
    ) -> Generator[None, list[pytest.Collector], list[pytest.Collector]]:
        found = yield
        if file_path.suffix != ".py" or ">>> " in file_path.read_text("utf-8"):
            return found
        # That of the examples is a subclass.
        return [each for each in found if type(each) is pytest.Module]


def pytest_configure(config: pytest.Config) -> None:
    """Import modules that hold neither tests nor examples only if nothing slow is left out."""
    if "not slow" in config.option.markexpr:
        config.pluginmanager.register(WithoutExamples())  # hooks of this file see only its folder


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Generator[None, object, object]:
    """Look for no garbage in what is collected, neither meanwhile nor later: it stays."""
    gc.disable()
    try:
        return (yield)
    finally:
        gc.set_threshold(GARBAGE)
        gc.enable()
        gc.freeze()
        # The text of every module searched for examples is kept there, and before each example
        # Python looks whether any of these files has changed.
        linecache.clearcache()


@pytest.fixture(scope="session")
def park() -> Park:
    from service.support import PARK_TEXT

    from weavability.service.requests.park import parse_park

    return parse_park(PARK_TEXT, name="park.toml")


@pytest.fixture(scope="session")
def app(park: Park) -> Flask:
    from weavability.service import create_app

    return create_app(park=park)


@pytest.fixture(scope="session")
def demo_app() -> Flask:
    """The service as it is shipped, with the demo park; for tests that leave it as it is."""
    from weavability.service import create_app

    return create_app()


@pytest.fixture
def one_application(demo_app: Flask, monkeypatch: pytest.MonkeyPatch) -> None:
    """Has what runs with ``--local`` share a service, if it states no files of its own."""
    from weavability import service

    def made(settings: Settings) -> Flask:
        return demo_app if settings == service.Settings() else create_app(settings)

    create_app = service.create_app
    monkeypatch.setattr(service, "create_app", made)


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    return app.test_client()
