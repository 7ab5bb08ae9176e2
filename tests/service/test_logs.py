"""The log: a line a request, in JSON, that nobody outside can write into."""

from __future__ import annotations

import io
import json
import logging
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st
from service.support import PARK_TEXT, full_request, small_request

from weavability.service import Settings, create_app
from weavability.service.access.tokens import Scope, make_token
from weavability.service.http import work
from weavability.service.observability import json_logs
from weavability.service.observability.trace_context import read_traceparent
from weavability.service.requests.park import parse_park

TRACE = "00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01"


@pytest.fixture
def written() -> Iterator[io.StringIO]:
    """What the service writes into its log."""
    stream = io.StringIO()
    handler = json_logs.handler(stream)
    logger = logging.getLogger("weavability")
    level = logger.level
    logger.addHandler(handler)
    logger.setLevel(logging.INFO)
    yield stream
    logger.removeHandler(handler)
    logger.setLevel(level)


def lines(written: io.StringIO) -> list[dict[str, Any]]:
    return [json.loads(line) for line in written.getvalue().splitlines()]


def only(written: io.StringIO) -> dict[str, Any]:
    (line,) = lines(written)
    return line


class TestOneLineARequest:
    def test_it_states_what_became_of_it(self, client: FlaskClient, written: io.StringIO) -> None:
        answer = client.post("/v1/validations", json=small_request(), buffered=True)
        line = only(written)
        assert line["request_id"] == answer.headers["X-Request-Id"]
        assert (line["method"], line["route"]) == ("POST", "/v1/validations")
        assert (line["status"], line["level"]) == (200, "info")
        assert line["verdict"] == answer.get_json()["verdict"]
        assert line["reports"] == 1
        assert line["bytes_out"] == len(answer.data)
        assert line["bytes_in"] == len(json.dumps(small_request()))
        assert 0 < line["duration_ms"] < 60_000
        assert line["caller"] is None
        assert line["time"].endswith("+00:00")

    def test_a_link_is_logged_without_its_token(
        self, client: FlaskClient, written: io.StringIO
    ) -> None:
        link = client.post("/v1/validations", json=full_request()).get_json()["links"]["self"]
        written.truncate(0)
        written.seek(0)
        client.get(link + "?reference=hidden", buffered=True)
        assert only(written)["route"] == "/v1/validations/{token}"
        assert link.rpartition("/")[2][:20] not in written.getvalue()
        assert "hidden" not in written.getvalue()

    def test_nothing_of_a_body_is_logged(self, client: FlaskClient, written: io.StringIO) -> None:
        request = small_request()
        request["construction"]["reference"] = "SECRET-ORDER"
        request["construction"]["weave"] = "SECRET-WEAVE"
        assert client.post("/v1/validations", json=request, buffered=True).status_code == 422
        line = only(written)
        assert (line["problem"], line["level"]) == ("invalid-request", "warning")
        assert "SECRET" not in written.getvalue()

    def test_an_unknown_address_is_not_repeated(
        self, client: FlaskClient, written: io.StringIO
    ) -> None:
        client.get("/wv_a-token-pasted-into-the-address", buffered=True)
        line = only(written)
        assert (line["route"], line["status"]) == (None, 404)
        assert "pasted" not in written.getvalue()

    def test_a_caller_is_named_and_the_token_is_not(
        self, tmp_path: Path, written: io.StringIO
    ) -> None:
        token, text = make_token("erp", [Scope.VALIDATE])
        path = tmp_path / "tokens.toml"
        path.write_text(text, encoding="utf-8")
        park = parse_park(PARK_TEXT, name="park.toml")
        guarded = create_app(Settings(tokens=path), park=park).test_client()
        guarded.get("/v1/looms", headers={"Authorization": f"Bearer {token}"}, buffered=True)
        guarded.get("/v1/looms", headers={"Authorization": f"Bearer {token}x"}, buffered=True)
        known, unknown = lines(written)
        assert (known["caller"], known["status"]) == ("erp", 200)
        assert (unknown["caller"], unknown["problem"]) == (None, "unauthorized")
        assert token[3:] not in written.getvalue()

    def test_a_failure_is_logged_with_the_id_that_the_caller_sees(
        self, written: io.StringIO
    ) -> None:
        app = create_app(park=parse_park(PARK_TEXT, name="park.toml"))

        def failing() -> str:
            raise RuntimeError("the loom is\non fire")

        app.view_functions["GET /healthz"] = failing
        answer = app.test_client().get("/healthz", buffered=True)
        failure, line = lines(written)
        request_id = answer.get_json(force=True)["request_id"]
        assert failure["request_id"] == line["request_id"] == request_id
        assert "the loom is\non fire" in failure["exception"]
        assert (line["status"], line["level"]) == (500, "error")


class TestTrace:
    def test_the_callers_trace_is_in_the_line(
        self, client: FlaskClient, written: io.StringIO
    ) -> None:
        client.get("/healthz", headers={"traceparent": TRACE}, buffered=True)
        line = only(written)
        assert line["trace_id"] == "4bf92f3577b34da6a3ce929d0e0e4736"
        assert line["parent_id"] == "00f067aa0ba902b7"
        assert line["span_id"] not in (None, line["parent_id"])

    # W3C Trace Context, sections 3.2.2 and 3.2.4.
    @pytest.mark.parametrize(
        "given",
        [
            TRACE.replace("00-", "cc-", 1),
            TRACE.replace("00-", "cc-", 1) + "-what-the-future-will-be-like",
            TRACE.replace("-01", "-00"),
            TRACE.replace("-01", "-ff"),
            f" {TRACE}\t",
        ],
    )
    def test_what_the_recommendation_asks_to_read(self, given: str) -> None:
        trace = read_traceparent(given)
        assert trace is not None
        assert trace.trace_id == "4bf92f3577b34da6a3ce929d0e0e4736"
        assert trace.sampled is not given.endswith("-00")

    @pytest.mark.parametrize(
        "given",
        [
            "", "00", TRACE[:-1], TRACE + "-", TRACE + "-x", TRACE.upper(),
            TRACE.replace("00-", "ff-", 1), TRACE.replace("00-", "cc-", 1) + ".x",
            "00-" + "0" * 32 + "-00f067aa0ba902b7-01",
            "00-4bf92f3577b34da6a3ce929d0e0e4736-" + "0" * 16 + "-01",
            TRACE.replace("4", "g"), TRACE.replace("-", "_"), f"{TRACE},{TRACE}",
        ],
    )  # fmt: skip
    def test_what_it_says_to_ignore(self, given: str) -> None:
        assert read_traceparent(given) is None


class TestInjection:
    @given(text=st.text(max_size=300), name=st.text(min_size=1, max_size=30))
    def test_whatever_is_logged_stays_one_line_of_ascii(self, text: str, name: str) -> None:
        stream = io.StringIO()
        logger = logging.Logger("probe")
        logger.addHandler(json_logs.handler(stream))
        logger.warning("%s", text, extra={"facts": {f"x{name}": text}})
        (line,) = stream.getvalue().splitlines()
        assert line.isascii()
        assert line.isprintable()
        assert json.loads(line)["message"] == text

    @pytest.mark.parametrize(
        "headers",
        [
            {"X-Request-Id": 'x"} {"level": "error'},
            {"traceparent": TRACE + '"} {"level": "error'},
            {"Authorization": "Bearer \x1b[2J"},
            {"User-Agent": "\x1b]0;owned\x07"},
        ],
    )
    def test_headers_cannot_write_lines(
        self, client: FlaskClient, written: io.StringIO, headers: dict[str, str]
    ) -> None:
        client.get("/healthz", headers=headers, buffered=True)
        assert only(written)["level"] == "info"
        assert "\x1b" not in written.getvalue()
        assert "owned" not in written.getvalue()

    def test_a_caller_who_hangs_up_is_no_late_body(
        self, client: FlaskClient, written: io.StringIO, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def gone() -> None:
            raise ConnectionResetError("the caller has hung up")

        monkeypatch.setattr(work, "_LOOK_EVERY_S", 0)
        monkeypatch.setattr(work, "_stop_if_nobody_waits", gone)
        items = {"items": [{"link": "/v1/validations/v1.x", "etag": "x"}]}
        client.post("/v1/validation-changes", json=items, buffered=True)
        line = only(written)
        assert (line["status"], line["problem"]) == (499, "caller-hung-up")
        assert line["level"] == "warning"
        assert 'route="/v1/validation-changes",status="499"}' in client.get("/metrics").text

    def test_a_method_of_a_caller_is_shortened(
        self, client: FlaskClient, written: io.StringIO
    ) -> None:
        client.open("/healthz", method="X" * 500, buffered=True)
        assert only(written)["method"] == "X" * 32


def test_gunicorns_messages_take_the_same_form() -> None:
    record = logging.LogRecord(
        "gunicorn.error", logging.WARNING, "x.py", 1, "Worker (pid:%s)\n was sent %s", (7, "a"),
        None,
    )  # fmt: skip
    line = json.loads(json_logs.JsonFormatter().format(record))
    assert line["message"] == "Worker (pid:7)\n was sent a"
    assert (line["level"], line["logger"]) == ("warning", "gunicorn.error")


def test_an_exception_is_one_line(app: Flask) -> None:
    try:
        raise ValueError("a\nb\u2028c")
    except ValueError:
        record = logging.LogRecord("x", 40, "x.py", 1, "failed", (), sys.exc_info())
    line = json_logs.JsonFormatter().format(record)
    assert len(line.splitlines()) == 1
    assert "ValueError: a\nb\u2028c" in json.loads(line)["exception"]
