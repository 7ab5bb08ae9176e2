from __future__ import annotations

import pytest
from flask import Flask
from flask.testing import FlaskClient
from service.support import PARK_TEXT

from weavability.service import create_app
from weavability.service.requests.park import Park, parse_park


@pytest.fixture(scope="session")
def park() -> Park:
    return parse_park(PARK_TEXT, name="park.toml")


@pytest.fixture(scope="session")
def app(park: Park) -> Flask:
    return create_app(park=park)


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    return app.test_client()
