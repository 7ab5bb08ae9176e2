"""The method QUERY (RFC 10008): POST's question with GET's promises."""

from __future__ import annotations

import json

import pytest
from flask.testing import FlaskClient
from service.support import full_request, pretty, small_request

from weavability.answers import validation

QUERIED = "/v1/validations"


def test_a_query_is_answered_as_a_post(client: FlaskClient) -> None:
    queried = client.open(QUERIED, method="QUERY", json=full_request())
    posted = client.post(QUERIED, json=full_request())
    assert queried.status_code == 200
    assert queried.data == posted.data
    assert queried.headers["ETag"] == posted.headers["ETag"]


def test_it_names_the_address_that_requests_the_same(client: FlaskClient) -> None:
    queried = client.open(QUERIED, method="QUERY", json=small_request())
    again = client.get(queried.headers["Location"])
    assert again.data == queried.data
    assert "Location" not in client.post(QUERIED, json=small_request()).headers


def test_a_current_copy_is_recognised_before_any_rule_runs(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    etag = client.open(QUERIED, method="QUERY", json=small_request()).headers["ETag"]
    monkeypatch.setattr(validation, "assess", None)
    answer = client.open(
        QUERIED,
        method="QUERY",
        data=pretty(small_request()),
        headers={"Content-Type": "application/json", "If-None-Match": etag},
    )
    assert (answer.status_code, answer.data) == (304, b"")
    assert answer.headers["ETag"] == etag
    assert answer.headers["Cache-Control"] == "private, no-cache"


def test_another_question_is_answered_in_full(client: FlaskClient) -> None:
    etag = client.open(QUERIED, method="QUERY", json=small_request()).headers["ETag"]
    answer = client.open(
        QUERIED, method="QUERY", json=full_request(), headers={"If-None-Match": etag}
    )
    assert answer.status_code == 200


def test_post_is_never_answered_with_304(client: FlaskClient) -> None:
    etag = client.post(QUERIED, json=small_request()).headers["ETag"]
    for condition in (etag, "*"):
        answer = client.post(QUERIED, json=small_request(), headers={"If-None-Match": condition})
        assert answer.status_code == 200


@pytest.mark.parametrize("method", ["OPTIONS", "QUERY", "POST", "DELETE"])
def test_the_address_says_that_it_can_be_queried(client: FlaskClient, method: str) -> None:
    answer = client.open(QUERIED, method=method, json=small_request())
    assert "application/json" in answer.headers["Accept-Query"].split(", ")


def test_other_addresses_cannot_be_queried(client: FlaskClient) -> None:
    answer = client.open("/v1/looms", method="QUERY", json={})
    assert answer.status_code == 405
    assert "Accept-Query" not in answer.headers


def test_a_query_without_a_media_type_is_refused(client: FlaskClient) -> None:
    answer = client.open(QUERIED, method="QUERY", data=json.dumps(small_request()).encode())
    assert answer.status_code == 415


def test_a_bad_query_is_a_problem(client: FlaskClient) -> None:
    answer = client.open(QUERIED, method="QUERY", json={})
    assert answer.status_code == 422
    assert answer.mimetype == "application/problem+json"
