"""Batches in newline-delimited JSON: in order, each line on its own, in bounded memory."""

from __future__ import annotations

import errno
import json
import os
import socket
import tracemalloc
from collections.abc import Iterator
from io import BytesIO
from typing import Any

import pytest
import requests
from flask import Flask
from flask.testing import FlaskClient
from gunicorn.http.errors import NoMoreData, ParseException  # type: ignore[import-untyped]
from hypothesis import given
from hypothesis import strategies as st
from profiles import share_of_examples
from service.servers import serving
from service.support import changed, full_request, small_request

from weavability.answers import validation
from weavability.service import Settings, create_app
from weavability.service.http.slow_clients import BodyCutError, BodyLateError
from weavability.service.http.streams import ReadAhead, lines
from weavability.service.requests.park import Park

NDJSON = "application/x-ndjson"
BATCH = "/v1/validations"
GOOD = json.dumps(small_request()).encode()
BOM = b"\xef\xbb\xbf"


def ask(client: FlaskClient, body: bytes, **headers: str) -> list[dict[str, Any]]:
    answer = client.post(BATCH, data=body, headers={"Content-Type": NDJSON, **headers})
    assert answer.status_code == 200, answer.text
    assert answer.mimetype == NDJSON
    return [json.loads(line) for line in answer.data.splitlines()]


def statuses(items: list[dict[str, Any]]) -> list[int]:
    return [item["status"] for item in items]


class TestLines:
    @given(
        st.lists(st.binary(max_size=30).filter(lambda line: not set(line) & set(b"\r\n"))),
        st.sampled_from([b"\n", b"\r\n"]),
    )
    def test_law_lines_come_out_as_they_went_in(self, parts: list[bytes], end: bytes) -> None:
        body = b"".join(part + end for part in parts)
        if not body.startswith(BOM):
            assert list(lines(BytesIO(body), longest=30)) == parts

    @pytest.mark.parametrize("length", [65_535, 65_536, 65_537, 131_072])
    def test_a_line_may_lie_across_chunks(self, length: int) -> None:
        body = b"x" * length + b"\nend"
        assert list(lines(BytesIO(body), longest=length)) == [b"x" * length, b"end"]
        assert list(lines(BytesIO(body), longest=length - 1)) == [None, b"end"]

    def test_a_line_end_of_two_signs_may_lie_across_chunks(self) -> None:
        body = b"x" * 65_535 + b"\r\nend\r\n"
        assert list(lines(BytesIO(body), longest=65_535)) == [b"x" * 65_535, b"end"]

    @pytest.mark.slow
    def test_an_endless_line_takes_no_memory(self) -> None:
        class Endless:
            left = 500 * 2**20

            def read(self, size: int, /) -> bytes:
                size = min(size, self.left)
                self.left -= size
                return b"x" * size

        tracemalloc.start()
        try:
            assert list(lines(Endless(), longest=2**20)) == [None]
            assert tracemalloc.get_traced_memory()[1] < 8 * 2**20
        finally:
            tracemalloc.stop()

    @given(st.binary(max_size=300), st.integers(0, 400))
    def test_law_reading_ahead_changes_nothing(self, body: bytes, most: int) -> None:
        ahead = ReadAhead(BytesIO(body), most=most)
        found = b""
        while chunk := ahead.read(7):
            found += chunk
        ahead.close()
        assert found == body


class TestItems:
    def test_each_line_is_answered_in_order(self, client: FlaskClient) -> None:
        widths = [150, 120, 180, 140]
        body = [changed(small_request(), "/construction/width_cm", width) for width in widths]
        items = ask(client, b"\n".join(json.dumps(each).encode() for each in body))
        assert [item["index"] for item in items] == [0, 1, 2, 3]
        for item, request in zip(items, body, strict=True):
            assert item.keys() == {"index", "status", "report"}
            assert item["report"] == client.post(BATCH, json=request).get_json()

    def test_a_refused_order_keeps_its_reference(self, client: FlaskClient) -> None:
        wrong = changed(small_request(), "/construction/width_cm", -1)
        wrong = changed(wrong, "/construction/reference", "SO-7")
        items = ask(client, json.dumps(wrong).encode())
        assert [item["reference"] for item in items] == ["SO-7"]

    @pytest.mark.parametrize(
        ("line", "status"),
        [
            (b"{", 400),
            (b"NaN", 400),
            (b"\xff\xfe", 400),
            (b'{"a": 1, "a": 2}', 400),
            (b"[" * 50 + b"]" * 50, 400),
            (b"null", 422),
            (b"{}", 422),
            (b"x" * (2**20 + 1), 413),
            (GOOD.replace(b"rapier-190-dobby", b"nowhere"), 422),
        ],
        ids=["cut", "nan", "not utf-8", "twice", "deep", "null", "empty", "long", "no such loom"],
    )
    def test_a_bad_line_spoils_only_itself(
        self, client: FlaskClient, line: bytes, status: int
    ) -> None:
        items = ask(client, b"\n".join([GOOD, line, GOOD]))
        assert statuses(items) == [200, status, 200]
        assert items[1].keys() == {"index", "status", "reference", "problem"}
        problem = items[1]["problem"]
        assert problem["status"] == status
        assert problem["detail"]
        assert problem["instance"].endswith(f"{problem['request_id']}/1")

    def test_a_failure_of_the_service_spoils_only_its_line(
        self, client: FlaskClient, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
    ) -> None:
        assess = validation.assess

        def failing(construction: Any, *rest: Any, **named: Any) -> Any:
            if construction.width_cm == 77:
                raise ZeroDivisionError
            return assess(construction, *rest, **named)

        monkeypatch.setattr(validation, "assess", failing)
        bad = json.dumps(changed(small_request(), "/construction/width_cm", 77)).encode()
        items = ask(client, b"\n".join([GOOD, bad, GOOD]))
        assert statuses(items) == [200, 500, 200]
        assert "ZeroDivisionError" not in json.dumps(items)
        assert "ZeroDivisionError" in caplog.text

    @pytest.mark.parametrize(
        "body",
        [
            GOOD + b"\n" + GOOD,
            GOOD + b"\n" + GOOD + b"\n",
            GOOD + b"\r\n" + GOOD + b"\r\n",
            BOM + GOOD + b"\n" + GOOD,
            b"\n\n" + GOOD + b"\n \t \n\r\n" + GOOD + b"\n\n\n",
        ],
        ids=["no last end", "last end", "crlf", "mark", "blank lines"],
    )
    def test_ends_of_lines_and_blank_lines_make_no_items(
        self, client: FlaskClient, body: bytes
    ) -> None:
        items = ask(client, body)
        assert [(item["index"], item["status"]) for item in items] == [(0, 200), (1, 200)]

    @pytest.mark.parametrize("body", [b"", b"\n \n"])
    def test_an_empty_batch_is_refused_as_an_empty_sheet_is(
        self, client: FlaskClient, body: bytes
    ) -> None:
        answer = client.post("/v1/validations", data=body, content_type="application/x-ndjson")
        assert answer.status_code == 400
        assert answer.get_json()["detail"] == "The body is empty. Send a JSON object a line."

    def test_a_line_as_long_as_allowed_is_read(self, park: Park) -> None:
        room = create_app(Settings(max_line_bytes=len(GOOD)), park=park).test_client()
        tight = create_app(Settings(max_line_bytes=len(GOOD) - 1), park=park).test_client()
        assert statuses(ask(room, GOOD)) == [200]
        assert statuses(ask(tight, GOOD)) == [413]

    def test_what_is_over_the_number_of_items_is_not_judged(self, park: Park) -> None:
        app = create_app(Settings(max_batch_items=3), park=park)
        assert statuses(ask(app.test_client(), b"\n".join([GOOD] * 3))) == [200] * 3
        assert statuses(ask(app.test_client(), b"\n".join([GOOD] * 9))) == [200] * 3 + [413]

    def test_each_item_is_judged_only_when_it_is_needed(
        self, app: Flask, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        judged = 0
        assess = validation.assess

        def counting(*given: Any, **named: Any) -> Any:
            nonlocal judged
            judged += 1
            return assess(*given, **named)

        monkeypatch.setattr(validation, "assess", counting)
        answer = app.test_client().post(
            BATCH, data=b"\n".join([GOOD] * 20), headers={"Content-Type": NDJSON}
        )
        body = answer.iter_encoded()
        assert json.loads(next(body))["index"] == 0
        assert judged <= 2
        answer.close()
        assert judged <= 2

    @pytest.mark.parametrize(
        ("error", "status"),
        [
            (BodyLateError(), 408),
            (ParseException(), 400),
            (NoMoreData(), 400),
            (OSError(), 500),
            (BodyCutError(), 400),
        ],
    )
    def test_a_body_that_ends_badly_spoils_only_what_was_to_come(
        self, park: Park, error: Exception, status: int
    ) -> None:
        class Body(BytesIO):
            def read(self, size: int | None = -1) -> bytes:
                if got := super().read(size):
                    return got
                raise error

        client = create_app(Settings(batch_read_ahead_bytes=len(GOOD)), park=park).test_client()
        answer = client.post(
            BATCH,
            headers={"Content-Type": NDJSON},
            environ_overrides={"wsgi.input": Body(GOOD + b"\n"), "wsgi.input_terminated": True},
        )
        items = [json.loads(line) for line in answer.data.splitlines()]
        assert statuses(items) == [200, status]

    @pytest.mark.parametrize("number", [errno.ENOSPC, errno.EDQUOT])
    def test_a_batch_for_which_there_is_no_room_may_come_again(
        self, park: Park, monkeypatch: pytest.MonkeyPatch, number: int
    ) -> None:
        class FullDisk(BytesIO):
            def write(self, data: object, /) -> int:
                raise OSError(number, os.strerror(number))

        monkeypatch.setattr(
            "weavability.service.http.streams.SpooledTemporaryFile", lambda **_: FullDisk()
        )
        client = create_app(Settings(), park=park).test_client()
        body = BytesIO(b" " * 300_000)
        answer = client.post(
            BATCH,
            headers={"Content-Type": NDJSON},
            environ_overrides={"wsgi.input": body, "wsgi.input_terminated": True},
        )
        # Most clients see no answer before they have sent their body.
        assert body.read() == b""
        assert answer.headers["Connection"] == "close"
        assert answer.status_code == 503
        assert int(answer.headers["Retry-After"]) > 0
        assert json.loads(answer.data)["type"] == "/problems/not-ready"

    @pytest.mark.slow
    def test_a_body_longer_than_what_is_read_ahead_is_read_to_its_end(self, park: Park) -> None:
        app = create_app(Settings(batch_read_ahead_bytes=1000), park=park)
        assert statuses(ask(app.test_client(), b"\n".join([GOOD] * 300))) == [200] * 300

    def test_a_body_that_breaks_off_is_said_to(self, park: Park) -> None:
        app = create_app(Settings(batch_read_ahead_bytes=len(GOOD) + 1), park=park)
        body = GOOD + b"\n" + GOOD[:50]
        answer = app.test_client().post(
            BATCH,
            data=body,
            headers={"Content-Type": NDJSON},
            environ_overrides={"CONTENT_LENGTH": str(10 * len(GOOD))},
        )
        items = [json.loads(line) for line in answer.data.splitlines()]
        assert statuses(items) == [200, 400]
        assert items[1]["problem"]["type"] == "/problems/malformed-http"

    @pytest.mark.slow
    @share_of_examples(0.6)
    @given(st.binary(max_size=200))
    def test_law_any_bytes_are_answered_line_by_line(self, body: bytes) -> None:
        client = create_app().test_client()
        expected = [part for part in body.removeprefix(BOM).split(b"\n") if part.strip()]
        items = ask(client, body) if expected else []
        assert len(items) == len(expected)
        assert all(item["status"] in (400, 422) for item in items)


class TestForms:
    def test_lines_are_answered_in_lines_by_default(self, client: FlaskClient) -> None:
        assert statuses(ask(client, GOOD, Accept="*/*")) == [200]
        assert statuses(ask(client, GOOD, Accept=NDJSON)) == [200]

    def test_another_form_is_refused_before_anything_is_judged(self, client: FlaskClient) -> None:
        headers = {"Content-Type": NDJSON, "Accept": "application/json"}
        answer = client.post(BATCH, data=GOOD, headers=headers)
        assert answer.status_code == 406
        assert NDJSON in answer.get_json()["detail"]

    def test_a_single_order_is_not_answered_as_a_batch(self, client: FlaskClient) -> None:
        answer = client.post(BATCH, json=small_request(), headers={"Accept": NDJSON})
        assert answer.status_code == 406

    @pytest.mark.parametrize(
        "headers",
        [
            {"Content-Encoding": "gzip"},
            {"Content-Type": f"{NDJSON}; charset=utf-16"},
            {"Content-Type": "application/x-ndjson-lines"},
        ],
        ids=str,
    )
    def test_other_codings_are_refused(self, client: FlaskClient, headers: dict[str, str]) -> None:
        answer = client.post(BATCH, data=GOOD, headers={"Content-Type": NDJSON, **headers})
        assert answer.status_code == 415

    def test_a_refused_media_type_is_answered_with_all_that_are_taken(
        self, client: FlaskClient
    ) -> None:
        answer = client.post(BATCH, data=b"x", headers={"Content-Type": "text/plain"})
        assert answer.headers["Accept"] == "application/json, text/csv, application/x-ndjson"

    def test_a_batch_can_be_a_query(self, client: FlaskClient) -> None:
        answer = client.open(BATCH, method="QUERY", data=GOOD, headers={"Content-Type": NDJSON})
        assert json.loads(answer.data)["status"] == 200


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with serving("--workers", "1") as server:
        yield server.url


@pytest.mark.slow
class TestOverASocket:
    def test_a_client_that_sends_all_before_it_reads_is_answered(self, address: str) -> None:
        heavy = json.dumps(full_request()).encode().ljust(4_000) + b"\n"
        count, small_buffer = 400, 4096
        host, port = address.removeprefix("http://").split(":")
        with socket.socket() as peer:
            peer.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, small_buffer)
            peer.settimeout(60)
            peer.connect((host, int(port)))
            head = (
                f"POST {BATCH} HTTP/1.1\r\nHost: {host}\r\nContent-Type: {NDJSON}\r\n"
                f"Content-Length: {len(heavy) * count}\r\nConnection: close\r\n\r\n"
            )
            peer.sendall(head.encode() + heavy * count)
            received = b"".join(iter(lambda: peer.recv(65_536), b""))
        assert received.startswith(b"HTTP/1.1 200 ")
        assert received.count(b'{"index":') == count

    def test_a_batch_of_unknown_length_is_read_to_its_end(self, address: str) -> None:
        def body() -> Iterator[bytes]:
            for _ in range(50):
                yield GOOD[:100]
                yield GOOD[100:] + b"\n"

        with requests.post(
            address + BATCH,
            data=body(),
            headers={"Content-Type": NDJSON},
            stream=True,
            timeout=30,
        ) as answer:
            items = [json.loads(line) for line in answer.iter_lines()]
        assert [item["index"] for item in items] == list(range(50))

    def test_the_connection_is_good_for_another_batch(self, address: str) -> None:
        with requests.Session() as session:
            for _ in range(3):
                answer = session.post(
                    address + BATCH, data=GOOD, headers={"Content-Type": NDJSON}, timeout=30
                )
                assert answer.json()["status"] == 200

    def test_query_passes_the_server(self, address: str) -> None:
        asked = requests.request("QUERY", address + BATCH, json=small_request(), timeout=30)
        assert asked.status_code == 200
        condition = {"If-None-Match": asked.headers["ETag"]}
        again = requests.request(
            "QUERY", address + BATCH, json=small_request(), headers=condition, timeout=30
        )
        assert (again.status_code, again.content) == (304, b"")
