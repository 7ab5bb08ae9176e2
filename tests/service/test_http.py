"""What holds for every address: ids, headers, methods, negotiation, failures."""

from __future__ import annotations

import json
import logging
import re
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from service.pages import read
from service.support import PARK_TEXT, changed, small_request

from weavability.looms.thresholds import put_in_force, shipped
from weavability.service import create_app
from weavability.service.app import openapi_document
from weavability.service.http.problems import KINDS
from weavability.service.http.responses import PAGE_POLICY
from weavability.service.requests.park import Park, parse_park
from weavability.service.resources import OPERATIONS
from weavability.service.settings import Settings

GETS = sorted(path for method, path in OPERATIONS if method == "GET" and "{" not in path)


def problem_of(answer: Any, status: int) -> Any:
    assert answer.status_code == status, answer.text
    assert answer.mimetype == "application/problem+json"
    problem = json.loads(answer.data)
    assert problem["status"] == status
    assert problem["request_id"] == answer.headers["X-Request-Id"]
    assert problem["instance"].endswith("#" + problem["request_id"])
    assert re.fullmatch(r"/problems/[a-z-]+", problem["type"])
    assert answer.headers["Cache-Control"] == "no-store"
    return problem


class TestRequestId:
    def test_the_callers_own_comes_back(self, client: FlaskClient) -> None:
        answer = client.get("/healthz", headers={"X-Request-Id": "ERP-2026.11/0042"})
        assert answer.headers["X-Request-Id"] == "ERP-2026.11/0042"

    @pytest.mark.parametrize("given", ["", "a b", "x" * 129, "<script>", 'a"b', "ä"])
    def test_anything_else_is_replaced(self, client: FlaskClient, given: str) -> None:
        answer = client.get("/healthz", headers={"X-Request-Id": given})
        assert re.fullmatch(r"[0-9a-f]{32}", answer.headers["X-Request-Id"])

    def test_each_request_has_its_own(self, client: FlaskClient) -> None:
        made = {client.get("/healthz").headers["X-Request-Id"] for _ in range(20)}
        assert len(made) == 20


@pytest.mark.parametrize("path", [*GETS, "/nowhere"])
def test_every_answer_has_the_security_headers_and_no_banner(
    client: FlaskClient, path: str
) -> None:
    headers = client.get(path).headers
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Content-Security-Policy"].startswith("default-src 'none'")
    assert headers["Referrer-Policy"] == "no-referrer"
    assert headers["X-Frame-Options"] == "DENY"
    assert "Server" not in headers
    assert "X-Powered-By" not in headers


class TestMethods:
    @pytest.mark.parametrize("path", GETS)
    def test_head_is_get_without_the_body(self, client: FlaskClient, path: str) -> None:
        full, head = client.get(path), client.head(path)
        assert (head.status_code, head.data) == (200, b"")
        for name in ("Content-Type", "Content-Length", "ETag", "Cache-Control"):
            assert head.headers.get(name) == full.headers.get(name)

    @pytest.mark.parametrize(
        ("path", "allow"),
        [
            ("/v1/validations", {"OPTIONS", "POST", "QUERY"}),
            ("/v1/looms", {"GET", "HEAD", "OPTIONS"}),
            ("/v1/looms/rapier-190-dobby", {"GET", "HEAD", "OPTIONS"}),
        ],
    )
    def test_options_states_the_methods(
        self, client: FlaskClient, path: str, allow: set[str]
    ) -> None:
        answer = client.options(path)
        assert (answer.status_code, answer.data) == (204, b"")
        assert set(answer.headers["Allow"].split(", ")) == allow

    @pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "GET", "HEAD"])
    def test_other_methods_are_refused(self, client: FlaskClient, method: str) -> None:
        answer = client.open("/v1/validations", method=method)
        assert answer.status_code == 405
        assert set(answer.headers["Allow"].split(", ")) == {"OPTIONS", "POST", "QUERY"}

    def test_the_refusal_is_a_problem(self, client: FlaskClient) -> None:
        problem = problem_of(client.delete("/v1/looms"), 405)
        assert problem["detail"] == "/v1/looms accepts GET, HEAD, OPTIONS."


class TestAddresses:
    @pytest.mark.parametrize(
        "path",
        ["/nowhere", "/v1", "/v1/looms/", "//v1/looms", "/v1/looms/rapier-190-dobby/x",
         "/v1/%2e%2e/etc", "/static/../app.py", "/static/nothing.css", "/" + "a" * 5000,
         "/v1/looms/%00", "/%ff"],
    )  # fmt: skip
    def test_unknown_ones_are_not_found(self, client: FlaskClient, path: str) -> None:
        problem_of(client.get(path), 404)

    def test_a_slip_is_met_with_the_nearest(self, client: FlaskClient) -> None:
        problem = problem_of(client.get("/v1/validation"), 404)
        assert "/v1/validations" in problem["detail"]

    def test_an_unknown_loom_with_near_names(self, client: FlaskClient) -> None:
        problem = problem_of(client.get("/v1/looms/rapier-190-doby"), 404)
        assert 'Did you mean "rapier-190-dobby"?' in problem["detail"]

    def test_an_unknown_check_with_near_names(self, client: FlaskClient) -> None:
        problem = problem_of(client.get("/v1/checks/width.reed_spce"), 404)
        assert 'Did you mean "width.reed_space"?' in problem["detail"]

    def test_an_unknown_type_of_problem_with_near_names(self, client: FlaskClient) -> None:
        problem = problem_of(client.get("/problems/invalid-requests"), 404)
        assert 'Did you mean "invalid-request"?' in problem["detail"]


class TestNegotiation:
    @pytest.mark.parametrize(
        "accept", ["application/json", "*/*", "application/*", "text/html, */*;q=0.1", ""]
    )
    def test_json_is_given_to_whoever_takes_it(self, client: FlaskClient, accept: str) -> None:
        answer = client.get("/readyz", headers={"Accept": accept})
        assert (answer.status_code, answer.mimetype) == (200, "application/json")

    @pytest.mark.parametrize("accept", ["text/plain", "image/png", "application/json;q=0"])
    def test_nothing_else_is(self, client: FlaskClient, accept: str) -> None:
        problem = problem_of(client.get("/readyz", headers={"Accept": accept}), 406)
        assert "application/json" in problem["detail"]

    def test_a_person_whose_link_does_not_work_gets_a_page(self, client: FlaskClient) -> None:
        browser = "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"
        answer = client.get("/v1/looms/rapier", headers={"Accept": browser})
        assert (answer.status_code, answer.mimetype) == (404, "text/html")
        assert answer.headers["Content-Security-Policy"] == PAGE_POLICY
        text = read(answer.text).one("main").text
        assert "There is no loom" in text
        assert answer.headers["X-Request-Id"] in text

    def test_refusing_comes_before_the_body_is_read(self, client: FlaskClient) -> None:
        answer = client.post("/v1/validations", data=b"{", headers={"Accept": "image/png"})
        problem_of(answer, 406)


@pytest.mark.parametrize("slug", KINDS)
class TestProblemPages:
    def test_there_is_one_for_people(self, client: FlaskClient, slug: str) -> None:
        answer = client.get(f"/problems/{slug}", headers={"Accept": "text/html"})
        assert answer.status_code == 200
        assert answer.mimetype == "text/html"
        assert answer.headers["Vary"] == "Accept"
        page = answer.text
        assert f"<h1>{KINDS[slug].title}</h1>" in page
        assert "/static/plain.css" in page

    def test_and_one_for_programs(self, client: FlaskClient, slug: str) -> None:
        page = client.get(f"/problems/{slug}").json
        assert page is not None
        assert page["status"] == KINDS[slug].status


def test_the_style_sheet_is_there(client: FlaskClient) -> None:
    with client.get("/static/plain.css") as answer:
        assert answer.mimetype == "text/css"


@pytest.mark.parametrize("path", ["/v1/looms", "/v1/looms/air-jet-190-cam", "/v1/checks",
                                  "/openapi.json", "/v1/checks/width.reed_space"])  # fmt: skip
def test_a_current_copy_is_not_sent_again(client: FlaskClient, path: str) -> None:
    first = client.get(path)
    again = client.get(path, headers={"If-None-Match": first.headers["ETag"]})
    assert (again.status_code, again.data) == (304, b"")
    assert again.headers["ETag"] == first.headers["ETag"]


def test_a_loom_of_the_park_can_be_sent_back(client: FlaskClient) -> None:
    loom = client.get("/v1/looms/rapier-190-dobby").json
    request = small_request()
    del request["loom_id"]
    inline = client.post("/v1/validations", json=request | {"loom": loom}).json
    named = client.post("/v1/validations", json=small_request()).json
    assert inline is not None
    assert named is not None
    for part in ("verdict", "findings", "rates", "setup"):
        assert inline[part] == named[part]


def test_the_index_lists_what_answers(client: FlaskClient) -> None:
    index = client.get("/").json
    assert index is not None
    paths = {address["path"] for address in index["addresses"]}
    assert {"/v1/validations", "/v1/looms", "/openapi.json"} <= paths


@pytest.mark.slow
def test_a_mill_that_sets_a_threshold_sees_it_everywhere(tmp_path: Path) -> None:
    own = tmp_path / "mill.toml"
    own.write_text("order_short_run_hours = 1000", encoding="utf-8")
    try:
        client = create_app(
            Settings(thresholds=own), park=parse_park(PARK_TEXT, name="-")
        ).test_client()
        check = client.get("/v1/checks/order.length").json
        assert check is not None
        assert check["thresholds"] == [
            {
                "name": "order_short_run_hours",
                "value": 1000.0,
                "unit": "h",
                "grade": "mill",
                "source": "set by the mill",
                "meaning": "running time of an order below which the style change costs more",
            }
        ]
        request = changed(small_request(), "/construction/length_m", 3000)
        report = client.post("/v1/validations", json=request).json
        assert report is not None
        assert "order.length" in {finding["code"] for finding in report["findings"]}
        (line,) = [one for one in report["assumptions"] if one["grade"] == "mill"]
        assert (line["pointer"], line["value"]) == ("/thresholds/order_short_run_hours", 1000.0)
        # The description answers its examples in the same process, which is nobody's traffic.
        before = client.get("/readyz", buffered=True).json
        counts = reports_and_open(client)
        openapi_document.__wrapped__()
        assert client.get("/readyz", buffered=True).json == before
        assert reports_and_open(client) == counts
    finally:
        put_in_force(shipped())


def reports_and_open(client: FlaskClient) -> list[str]:
    """The lines of the metrics on reports that were made and on requests in flight."""
    lines = client.get("/metrics", buffered=True).text.splitlines()
    names = ("weavability_verdicts_total", "weavability_findings_total", "weavability_requests_in")
    return [line for line in lines if line.startswith(names)]


def test_checks_are_explained(client: FlaskClient) -> None:
    listed = client.get("/v1/checks").json
    assert listed is not None
    for check in listed["checks"]:
        shown = client.get(f"/v1/checks/{check['code']}").json
        assert shown == {**check, "caution": listed["caution"]}


def test_readiness_names_park_and_rules(client: FlaskClient, park: Park) -> None:
    ready = client.get("/readyz").json
    checks = client.get("/v1/checks").json
    assert ready is not None
    assert checks is not None
    assert ready == {
        "status": "ready",
        "looms": 2,
        "park": park.digest,
        "ruleset": checks["ruleset"],
    }


class TestFailure:
    @pytest.fixture
    def broken(self, park: Park, monkeypatch: pytest.MonkeyPatch) -> Flask:
        def fail(*_: object, **__: object) -> None:
            raise RuntimeError("secret of the inside")

        monkeypatch.setattr("weavability.answers.validation.assess", fail)
        return create_app(park=park)

    def test_it_is_a_problem_without_a_word_of_the_inside(
        self, broken: Flask, caplog: pytest.LogCaptureFixture
    ) -> None:
        headers = {"X-Request-Id": "trace-me"}
        with caplog.at_level(logging.ERROR):
            answer = broken.test_client().post(
                "/v1/validations", json=small_request(), headers=headers
            )
        problem = problem_of(answer, 500)
        assert "secret" not in answer.text
        assert "Traceback" not in answer.text
        assert "trace-me" in problem["detail"]
        (record,) = (each for each in caplog.records if each.name != "weavability.requests")
        assert "trace-me" in record.getMessage()
        assert record.exc_info is not None

    def test_the_next_request_is_not_affected(self, broken: Flask) -> None:
        client = broken.test_client()
        client.post("/v1/validations", json=small_request())
        assert client.get("/healthz").status_code == 200
