"""The samples against which the client is tested are what the service answers."""

from __future__ import annotations

import pytest
from client.recorded import CASES, FOLDER, ask, sample
from flask import Flask
from flask.testing import FlaskClient


@pytest.fixture(scope="module")
def service(demo_app: Flask) -> FlaskClient:
    return demo_app.test_client()


@pytest.mark.slow
@pytest.mark.parametrize("name", CASES)
def test_the_service_answers_as_recorded(service: FlaskClient, name: str) -> None:
    now = ask(service, CASES[name])
    assert now == sample(name), (
        "shapes, words or numbers have changed: look at the difference, and if it is meant run "
        "openapi/regenerate"
    )


def test_every_sample_is_made_by_a_case() -> None:
    assert {path.stem for path in FOLDER.iterdir()} == set(CASES)
