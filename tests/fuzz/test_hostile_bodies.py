"""No body makes the service fail, hang or swell; the answer is a report or a problem."""

from __future__ import annotations

import json
import resource
import time
from collections.abc import Mapping
from typing import Any

import pytest
from flask.testing import FlaskClient
from fuzz.corpus import FILES, cases, of_files

from weavability.service import create_app
from weavability.service.resources import OPERATIONS

pytestmark = pytest.mark.slow

# A guard against hanging, not a measure of speed: coverage and a busy machine multiply what
# an answer costs (the dearest takes about half a second on its own).
MOST_S = 30.0
MOST_GROWTH_MIB = 700

TAKING_BODIES = {each.path: each for each in OPERATIONS.values() if each.body is not None}


@pytest.fixture(scope="module")
def client() -> FlaskClient:
    return create_app().test_client()


def send(client: FlaskClient, path: str, body: bytes, **headers: str) -> tuple[str | None, int]:
    """Send a body; return what is wrong with how it was answered, and the status."""
    began = time.process_time()
    answer = client.post(path, data=body, headers={"Content-Type": "application/json", **headers})
    took_s = time.process_time() - began
    return complaint(answer, took_s), answer.status_code


def complaint(answer: Any, took_s: float) -> str | None:
    if took_s > MOST_S:
        return f"{took_s:.1f} s"
    if answer.status_code >= 500:
        return str(answer.status_code)
    if answer.status_code == 200:
        if answer.mimetype != "text/html":
            json.loads(answer.data)
        return None
    problem = json.loads(answer.data)
    if answer.mimetype != "application/problem+json" or problem["status"] != answer.status_code:
        return f"no problem: {answer.text[:200]}"
    if not problem["type"].startswith("/problems/") or len(problem["errors"]) > 50:
        return "no good problem"
    if len(answer.data) > 100_000:
        return f"a problem of {len(answer.data)} bytes"
    return None


def example_of(path: str) -> Mapping[str, Any]:
    return next(iter(TAKING_BODIES[path].examples.values()))


@pytest.mark.parametrize("path", sorted(TAKING_BODIES))
def test_every_body_is_answered_in_time_with_a_report_or_a_problem(
    client: FlaskClient, path: str
) -> None:
    corpus = cases(example_of(path))
    assert len({name for name, _ in corpus}) == len(corpus) >= 300
    before_kib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    statuses: set[int] = set()
    wrong = {}
    for name, body in corpus:
        found, status = send(client, path, body)
        statuses.add(status)
        if found:
            wrong[name] = found
    assert wrong == {}
    assert statuses >= {200, 400, 413, 422}
    grown_mib = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before_kib) / 1024
    assert grown_mib < MOST_GROWTH_MIB


def test_the_corpus_is_the_same_every_time() -> None:
    example = example_of("/v1/validations")
    assert cases(example) == cases(example)
    assert len(list(of_files())) == len(list(FILES.iterdir())) >= 20


def test_what_is_wrong_is_seen(client: FlaskClient) -> None:
    good = client.get("/healthz")
    assert complaint(good, 0.1) is None
    assert complaint(good, 30.1) == "30.1 s"
    page = client.get("/problems/not-found", headers={"Accept": "text/html"})
    page.status_code = 400
    page.data = b'{"status": 400}'
    assert str(complaint(page, 0.1)).startswith("no problem")
    page.status_code = 503
    assert complaint(page, 0.1) == "503"


@pytest.mark.parametrize(
    "media_type",
    ["application/x-ndjson", "text/csv", "text/plain", "application/xml", "multipart/form-data",
     "application/x-www-form-urlencoded", "application/json; charset=utf-16", "application/json;x",
     "application/jsonx", "", "/", "a" * 5000, "application/json\x00"],
)  # fmt: skip
def test_bodies_under_another_name(client: FlaskClient, media_type: str) -> None:
    for _, body in [*of_files(), ("request", json.dumps(example_of("/v1/validations")).encode())]:
        headers = {"Content-Type": media_type}
        answer = client.post("/v1/validations", data=body, headers=headers, buffered=True)
        assert answer.status_code < 500
        assert answer.data


@pytest.mark.parametrize(
    "coding", ["gzip", "br", "zstd", "deflate", "gzip, gzip", "GZIP", "x" * 99]
)
@pytest.mark.parametrize("path", sorted(TAKING_BODIES))
def test_nothing_is_unpacked(client: FlaskClient, path: str, coding: str) -> None:
    headers = {"Content-Type": "application/json", "Content-Encoding": coding}
    answer = client.post(path, data=b"\x1f\x8b" * 100, headers=headers)
    assert answer.status_code == 415
    assert answer.headers["Accept-Encoding"] == "identity"
