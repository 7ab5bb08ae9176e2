"""``POST /v1/remedies``, and the option of a validation that asks for none."""

from __future__ import annotations

from typing import Any, Final

import pytest
from flask import Flask
from flask.testing import FlaskClient

from weavability.service.openapi.example_requests import REMEDIES

URL: Final = "/v1/remedies"
CLOTH: Final = REMEDIES["construction"]


@pytest.fixture(scope="module")
def client(demo_app: Flask) -> FlaskClient:
    return demo_app.test_client()


def changed(request: dict[str, Any], remedy: dict[str, Any]) -> dict[str, Any]:
    """The request with every change of a remedy made, by its pointers."""
    result = {**request, "construction": dict(request["construction"])}
    for change in remedy["changes"]:
        _, name = change["pointer"][1:].split("/")
        result["construction"][name] = change["to"]
    return result


@pytest.mark.slow
def test_the_way_out_is_answered_and_judged_so(client: FlaskClient) -> None:
    (on,) = client.post(URL, json=REMEDIES).get_json()["looms"]
    whole = next(each for each in on["remedies"] if each["verdict"] == "weavable")
    assert len(whole["changes"]) == 2
    report = client.post("/v1/validations", json=changed(REMEDIES, whole)).get_json()
    assert report["verdict"] == "weavable"


@pytest.mark.slow
def test_of_several_looms_the_best_are_searched(client: FlaskClient) -> None:
    named = ["shuttle-130-cam", "projectile-360-cam"]
    found = client.post(URL, json={"construction": CLOTH, "loom_ids": named}).get_json()
    assert [each["loom_id"] for each in found["looms"]] == named[::-1]
    park = client.post(URL, json={"construction": CLOTH}).get_json()
    assert len(park["looms"]) == 8


@pytest.mark.parametrize(
    ("more", "pointer"),
    [
        ({"loom_id": "nowhere"}, "/loom_id"),
        ({"loom_ids": ["rapier-190-dobby", "nowhere"]}, "/loom_ids/1"),
        ({"loom_id": "rapier-190-dobby", "loom_ids": ["rapier-190-cam"]}, "/loom_ids"),
        ({"loom_ids": ["rapier-190-cam", "rapier-190-cam"]}, "/loom_ids/1"),
    ],
)
def test_a_loom_that_cannot_be_meant_is_refused(
    client: FlaskClient, more: dict[str, Any], pointer: str
) -> None:
    problem = client.post(URL, json={"construction": CLOTH, **more})
    assert problem.status_code == 422
    assert [each["pointer"] for each in problem.get_json()["errors"]] == [pointer]


def test_a_validation_may_do_without_remedies(client: FlaskClient) -> None:
    with_them, stated, without = (
        client.post("/v1/validations", json={**REMEDIES, **more}).get_json()
        for more in ({}, {"options": {"remedies": True}}, {"options": {"remedies": False}})
    )
    assert any(each["remedies"] for each in with_them["findings"])
    assert not any(each["remedies"] or each["tried"] for each in without["findings"])
    assert stated["validation_id"] == with_them["validation_id"] != without["validation_id"]
    linked = client.get(without["links"]["self"]).get_json()
    assert linked["findings"] == without["findings"]
