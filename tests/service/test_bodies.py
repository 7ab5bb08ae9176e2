from __future__ import annotations

import json
import math
from typing import Any

import pytest
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st
from service.support import small_request

from weavability.service import Settings, create_app
from weavability.service.http.json_bodies import DEEPEST, parse
from weavability.service.http.problems import ProblemError
from weavability.service.requests.park import Park

ADDRESS = "/v1/validations"
JSON = "application/json"


def refused(client: FlaskClient, data: bytes, status: int, **facts: Any) -> Any:
    answer = client.post(ADDRESS, data=data, **({"content_type": JSON} | facts))
    assert answer.status_code == status, answer.text
    assert answer.mimetype == "application/problem+json"
    return json.loads(answer.data)


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"   ",
        b"{",
        b'{"a": 1,}',
        b"{'a': 1}",
        b'{"a": NaN}',
        b'{"a": Infinity}',
        b'{"a": 1e999}',
        b'{"a": 01}',
        b'{"a": "\xff"}',
        b'{"a": "\\ud800"}',
        b"\xef\xbb\xbf{}",
        b'{"a": 1} {"b": 2}',
        b'{"a": "line\nbreak"}',
        b"not json",
        b"\x00" * 50,
        b"1" * 5000,
    ],
    ids=repr,
)
def test_what_is_not_json_is_refused(client: FlaskClient, body: bytes) -> None:
    problem = refused(client, body, 400)
    assert problem["type"] == "/problems/unreadable-json"


def test_the_place_of_the_mistake_is_stated(client: FlaskClient) -> None:
    problem = refused(client, b'{"construction": {},\n "loom_id": }', 400)
    assert problem["detail"].startswith("At line 2, column 13: ")
    assert '"loom_id": }' in problem["errors"][0]["given"]


@pytest.mark.parametrize(
    "body",
    [
        b'{"a": 1, "a": 2}',
        b'{"x": {"a": 1, "b": 2, "a": 1}}',
        b'[{"a": 1, "\\u0061": 2}]',
        b'{"a\\\\": 1, "a\\\\": 2}',
        b'{"a" : 1, "a"\n:\t2}',
    ],
    ids=repr,
)
def test_a_field_that_is_there_twice_is_refused(client: FlaskClient, body: bytes) -> None:
    assert "twice" in refused(client, body, 400)["detail"]


@pytest.mark.parametrize(
    "body", [b'{"a": {"a": 1}}', b'[{"a": 1}, {"a": 2}]', b'{"a": "\\":\\" :", "b": "a\\":"}']
)
def test_a_name_may_be_in_several_objects(body: bytes) -> None:
    assert parse(body) == json.loads(body)


JSON_VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53), 2**53)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(),
    lambda below: st.lists(below) | st.dictionaries(st.text(), below),
    max_leaves=20,
)


ODD_NAMES = st.text(alphabet='ab":\\ ,', min_size=1)


@given(JSON_VALUES)
def test_parsing_gives_what_the_standard_library_gives(value: object) -> None:
    try:
        written = json.dumps(value, ensure_ascii=False).encode()
    except UnicodeEncodeError:  # a lone surrogate is no text
        return
    assert parse(written) == json.loads(written)


@pytest.mark.slow
@given(st.dictionaries(ODD_NAMES, JSON_VALUES, min_size=1, max_size=4))
def test_doubling_any_name_is_found(value: dict[str, object]) -> None:
    name = next(iter(value))
    try:
        members = [f"{json.dumps(k)} : {json.dumps(v)}" for k, v in [*value.items(), (name, 0)]]
        written = ("{" + ", ".join(members) + "}").encode()
        json.loads(written)
    except UnicodeEncodeError:
        return
    with pytest.raises(ProblemError, match=r"twice|not|surrogate"):
        parse(written)


def nested(depth: int) -> bytes:
    return b'{"a":' * (depth - 1) + b"{}" + b"}" * (depth - 1)


def test_nesting_is_bounded() -> None:
    assert parse(nested(DEEPEST + 1))
    with pytest.raises(ProblemError, match="nested more than 32 deep"):
        parse(nested(DEEPEST + 2))
    with pytest.raises(ProblemError):
        parse(b"[" * 100_000)


@pytest.mark.parametrize("body", [b"[" + b"[]," * 60_000 + b"0]", b"[" + b"0," * 1_100_000 + b"0]"])
def test_the_number_of_values_is_bounded(body: bytes) -> None:
    with pytest.raises(ProblemError, match="more than"):
        parse(body)


def test_long_lists_of_strings_are_read() -> None:
    rows = json.dumps({"rows": ["10" * 500] * 1000}).encode()
    assert isinstance(parse(rows), dict)


@pytest.mark.parametrize(
    "content_type",
    [
        None,
        "",
        "text/plain",
        "application/x-www-form-urlencoded",
        "application/json; charset=utf-16",
        "multipart/form-data; boundary=x",
        "application/problem+json",
    ],
)
def test_other_media_types_are_refused(client: FlaskClient, content_type: str | None) -> None:
    data = json.dumps(small_request()).encode()
    problem = refused(client, data, 415, content_type=content_type)
    assert "application/json" in problem["detail"]


@pytest.mark.parametrize(
    "content_type", ["application/json", "application/json; charset=UTF-8", "APPLICATION/JSON"]
)
def test_json_is_taken_however_it_is_spelt(client: FlaskClient, content_type: str) -> None:
    data = json.dumps(small_request())
    assert client.post(ADDRESS, data=data, content_type=content_type).status_code == 200


@pytest.mark.parametrize("coding", ["gzip", "deflate", "br", "gzip, gzip", "x"])
def test_compressed_bodies_are_refused(client: FlaskClient, coding: str) -> None:
    answer = client.post(
        ADDRESS, data=b"\x1f\x8b", content_type=JSON, headers={"Content-Encoding": coding}
    )
    assert answer.status_code == 415
    assert answer.headers["Accept-Encoding"] == "identity"


class TestSize:
    def client(self, park: Park, limit: int) -> FlaskClient:
        return create_app(Settings(max_body_bytes=limit), park=park).test_client()

    def test_ten_megabytes_are_refused_by_default(self, client: FlaskClient) -> None:
        body = b'{"construction": "' + b"x" * 10_000_000 + b'"}'
        problem = refused(client, body, 413)
        assert "8 MiB" in problem["detail"]

    def test_the_limit_is_met_exactly(self, park: Park) -> None:
        body = json.dumps(small_request()).encode()
        assert (
            self.client(park, len(body)).post(ADDRESS, data=body, content_type=JSON).status_code
            == 200
        )
        refused(self.client(park, len(body) - 1), body, 413)

    def test_a_body_of_unknown_length_is_bounded_too(self, park: Park) -> None:
        body = json.dumps(small_request()).encode()
        unknown = {
            "environ_overrides": {
                "wsgi.input_terminated": True,
                "HTTP_TRANSFER_ENCODING": "chunked",
            }
        }
        good = self.client(park, len(body)).post(ADDRESS, data=body, content_type=JSON, **unknown)
        assert good.status_code == 200
        refused(self.client(park, len(body) - 1), body, 413, **unknown)


def test_numbers_that_are_not_finite_never_leave_a_parser() -> None:
    for text in (b"1e400", b"-1e400", b"1" * 400):
        with pytest.raises(ProblemError):
            parse(text)
    assert math.isfinite(parse(b"1e308"))  # type: ignore[arg-type]
