"""Every answer that can come back, given as three literals: status, headers, body."""

from __future__ import annotations

import json
import pickle
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weavability_client import _wire
from weavability_client.errors import (
    BY_STATUS,
    AnswerUnreadable,
    ApiError,
    InvalidInput,
    NotFound,
    ServiceFault,
    TooManyRequests,
    Unavailable,
    UsageError,
    WeavabilityError,
)

JSON = {"Content-Type": "application/json; charset=utf-8"}
PROBLEM = {"Content-Type": "application/problem+json", "X-Request-Id": "req-7"}
PROXY_PAGE = b"<html><head><title>502 Bad  Gateway</title></head><body><h1>nginx</h1></body></html>"


def refusal(status: int, headers: dict[str, str], body: bytes) -> ApiError:
    with pytest.raises(ApiError) as caught:
        _wire.read_response(status=status, headers=headers, body=body)
    return caught.value


def unreadable(status: int, headers: dict[str, str], body: bytes) -> str:
    with pytest.raises(AnswerUnreadable) as caught:
        _wire.read_response(status=status, headers=headers, body=body)
    return str(caught.value)


def problem(status: int, **members: object) -> bytes:
    return json.dumps({"type": "/problems/x", "title": "T", "status": status, **members}).encode()


def test_an_answer_is_parsed_whatever_the_case_of_its_headers() -> None:
    read = _wire.read_response(
        status=200, headers={"CONTENT-TYPE": "Application/JSON"}, body=b"[1]"
    )
    assert read == [1]


@pytest.mark.parametrize("status", sorted(BY_STATUS))
def test_each_status_has_its_own_error(status: int) -> None:
    error = refusal(status, PROBLEM, problem(status, detail="what is wrong"))
    assert type(error) is BY_STATUS[status]
    assert error.status == status
    assert "what is wrong" in str(error)
    assert "[request req-7]" in str(error)


@pytest.mark.parametrize(
    ("status", "kind"),
    [(400 + 18, ApiError), (500, ServiceFault), (504, ServiceFault)],
)
def test_other_statuses_fall_into_their_family(status: int, kind: type[ApiError]) -> None:
    assert type(refusal(status, PROBLEM, problem(status))) is kind


def test_an_unavailable_service_is_a_service_fault() -> None:
    assert issubclass(Unavailable, ServiceFault)


def test_every_refused_field_is_in_the_message() -> None:
    errors: list[dict[str, object]] = [
        {"pointer": "/construction/width_cm", "message": "must be over 0", "given": -3},
        {"pointer": "", "message": "no loom", "allowed": ["loom", "loom_id"]},
    ]
    errors[0] |= {"message_key": "fault.x", "message_values": {"least": 1}}
    stated = {"detail": "2 things", "detail_key": "problem.x", "detail_values": {"errors": 2}}
    error = refusal(422, PROBLEM, problem(422, errors=errors, **stated))
    assert (error.problem.detail_key, error.problem.detail_values) == ("problem.x", {"errors": 2})
    assert (error.errors[0].message_key, error.errors[0].message_values) == (
        "fault.x",
        {"least": 1},
    )
    assert (error.errors[1].message_key, error.errors[1].message_values) == ("", {})
    assert isinstance(error, InvalidInput)
    assert error.pointer == "/construction/width_cm"
    assert error.errors[0].given == -3
    assert "/construction/width_cm: must be over 0" in str(error)
    assert "(whole body): no loom (allowed: loom, loom_id)" in str(error)


def test_a_long_list_of_allowed_values_is_cut_in_the_message_only() -> None:
    allowed = [f"fibre-{number}" for number in range(30)]
    errors = [{"pointer": "/f", "message": "unknown", "allowed": allowed}]
    error = refusal(422, PROBLEM, problem(422, errors=errors))
    assert "fibre-7 ...)" in str(error)
    assert error.errors[0].allowed == allowed


def test_members_that_are_not_known_are_kept() -> None:
    error = refusal(404, JSON, problem(404, request_id="in-body", colour="blue"))
    assert error.problem.extra == {"request_id": "in-body", "colour": "blue"}
    assert error.request_id == "in-body"


@pytest.mark.parametrize(
    "errors",
    [None, "no list", [1, "two"], {"pointer": "/x"}],
    ids=["null", "text", "scalars", "object"],
)
def test_a_problem_with_odd_members_is_still_a_problem(errors: object) -> None:
    error = refusal(422, PROBLEM, problem(422, errors=errors, title=3, detail=["x"]))
    assert error.errors == ()
    assert error.pointer == ""


@pytest.mark.parametrize("body", [b"[]", b'"text"', b"{", b"", b"\xff\xfe"])
def test_a_problem_that_cannot_be_read_keeps_its_status(body: bytes) -> None:
    assert isinstance(refusal(404, PROBLEM, body), NotFound)


def test_a_proxys_page_is_explained_and_quoted() -> None:
    error = refusal(502, {"Content-Type": "text/html"}, PROXY_PAGE)
    assert type(error) is ServiceFault
    assert "'502 Bad Gateway'" in str(error)
    assert "proxy" in str(error)


def test_a_sign_in_page_in_place_of_an_answer_is_explained() -> None:
    message = unreadable(200, {"Content-Type": "text/html"}, b"<h1>Please <b>sign in</b></h1>")
    assert "text/html" in message
    assert "Please sign in" in message
    assert "base_url" in message


def test_an_answer_without_content_type_is_explained() -> None:
    assert "no content type" in unreadable(200, {}, b"{}")


@pytest.mark.parametrize("body", [b'{"verdict": "weav', b"", b"[" * 200_000])
def test_json_that_is_cut_is_said_to_be_cut(body: bytes) -> None:
    assert "not complete JSON" in unreadable(200, JSON, body)


@pytest.mark.parametrize("status", [301, 302, 307, 308])
def test_a_redirect_is_not_followed_but_explained(status: int) -> None:
    message = unreadable(status, {"Location": "https://elsewhere.example/"}, b"")
    assert "https://elsewhere.example/" in message
    assert "base_url" in message


STEERING = "\0\a\b\r\x1b\x7f\x9b\u202e\u2066"


@pytest.mark.parametrize("member", ["detail", "title", "request_id"])
def test_a_problem_does_not_steer_a_terminal(member: str) -> None:
    document = {"title": "x", "status": 500, member: f"a{STEERING}b"}
    error = refusal(500, {"Content-Type": _wire.PROBLEM}, json.dumps(document).encode())
    assert "a" + "\ufffd" * len(STEERING) + "b" in str(error)
    assert str(pickle.loads(pickle.dumps(error))) == str(error)
    assert error.problem.detail == document.get("detail", "")


def test_fields_and_redirects_do_not_steer_a_terminal() -> None:
    fault = {"pointer": f"/{STEERING}", "message": STEERING, "allowed": [STEERING]}
    error = refusal(422, PROBLEM, json.dumps({"status": 422, "errors": [fault]}).encode())
    said = [str(error), unreadable(302, {"Location": f"http://x/{STEERING}"}, b"")]
    said += [unreadable(200, {"Content-Type": f"text/{STEERING}"}, b"")]
    assert not any(set(STEERING) & set(each) for each in said)


def test_retry_after_is_part_of_the_error() -> None:
    error = refusal(429, {**PROBLEM, "Retry-After": "12"}, problem(429))
    assert isinstance(error, TooManyRequests)
    assert error.retry_after_s == 12
    assert "Try again in 12 s." in str(error)


NOON = datetime(2026, 3, 1, 12, 0, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("stated", "seconds"),
    [
        ("0", 0.0),
        (" 7 ", 7.0),
        ("Sun, 01 Mar 2026 12:00:30 GMT", 30.0),
        ("Sun, 01 Mar 2026 11:59:00 GMT", 0.0),
        ("Sun, 01 Mar 2026 12:00:30 -0000", 30.0),
        ("soon", None),
        ("-3", None),
        ("", None),
    ],
)
def test_retry_after_is_read_in_both_forms(stated: str, seconds: float | None) -> None:
    assert _wire.retry_after_s({"retry-after": stated}, now=NOON) == seconds


def test_retry_after_may_be_absent() -> None:
    assert _wire.retry_after_s({}) is None


@pytest.mark.parametrize("kind", [*BY_STATUS.values(), ApiError, ServiceFault])
def test_errors_survive_pickling(kind: type[ApiError]) -> None:
    body = problem(422, errors=[{"pointer": "/x", "message": "m", "given": [1]}])
    read = refusal(422, {**PROBLEM, "Retry-After": "3"}, body)
    error = kind(read.problem, request_id=read.request_id, retry_after_s=read.retry_after_s)
    again = pickle.loads(pickle.dumps(error))
    assert type(again) is kind
    assert str(again) == str(error)
    assert (again.problem, again.request_id, again.retry_after_s) == (
        error.problem,
        "req-7",
        3.0,
    )


def test_a_request_without_payload_has_no_body_and_no_content_type() -> None:
    request = _wire.build_request("GET", "/v1/looms")
    assert request.body is None
    assert "Content-Type" not in request.headers


def test_only_what_has_changed_is_requested_by_its_etag() -> None:
    request = _wire.build_request("GET", "/x", etag='W/"abc"')
    assert request.headers["If-None-Match"] == '"abc"'


@pytest.mark.parametrize("etag", ["", '""', 'a"b', "a\nb", "é"])
def test_an_etag_that_would_break_the_header_is_refused(etag: str) -> None:
    with pytest.raises(UsageError, match="not an etag"):
        _wire.build_request("GET", "/x", etag=etag)


def test_an_unchanged_answer_is_none_only_where_it_was_requested() -> None:
    assert _wire.read_response(status=304, headers={}, body=b"", conditional=True) is None
    assert "304" in unreadable(304, {}, b"")


def test_lines_are_parsed_one_by_one() -> None:
    read = _wire.read_response(
        status=200, headers={"Content-Type": _wire.LINES}, body=b"1\n\n[2]\n", accept=_wire.LINES
    )
    assert read == [1, [2]]


def test_a_line_that_is_cut_is_said_to_be_cut() -> None:
    with pytest.raises(AnswerUnreadable, match="not complete JSON"):
        _wire.read_response(
            status=200, headers={"Content-Type": _wire.LINES}, body=b"1\n[2", accept=_wire.LINES
        )


def test_a_drawing_is_text() -> None:
    as_drawing = {"status": 200, "headers": {"Content-Type": _wire.SVG}, "accept": _wire.SVG}
    assert _wire.read_response(**as_drawing, body="<svg>ö</svg>".encode()) == "<svg>ö</svg>"  # type: ignore[arg-type]
    with pytest.raises(AnswerUnreadable, match="UTF-8"):
        _wire.read_response(**as_drawing, body=b"\xff")  # type: ignore[arg-type]


def test_json_in_place_of_a_drawing_is_explained() -> None:
    with pytest.raises(AnswerUnreadable, match="instead of SVG"):
        _wire.read_response(status=200, headers=JSON, body=b"{}", accept=_wire.SVG)


def test_a_payload_is_sent_as_compact_utf8_json() -> None:
    request = _wire.build_request("POST", "/x", payload={"cloth": "Köper", "n": (1, 2.5)})
    assert request.body == '{"cloth":"Köper","n":[1,2.5]}'.encode()
    assert request.headers["Content-Type"] == "application/json"


@pytest.mark.parametrize("payload", [float("nan"), float("inf"), {1, 2}, object(), "\ud800"])
def test_what_json_does_not_know_is_refused_before_sending(payload: object) -> None:
    with pytest.raises(UsageError, match="cannot be written as JSON"):
        _wire.to_bytes({"x": payload})


def test_a_payload_without_end_is_refused_before_sending() -> None:
    endless: dict[str, object] = {}
    endless["self"] = endless
    with pytest.raises(UsageError):
        _wire.to_bytes(endless)


@pytest.mark.parametrize(
    "address",
    ["", "127.0.0.1:8080", "ftp://x", "http://", "http://u:p@x", "http://x?q=1", "http://x#f"],
)
def test_an_address_that_is_none_is_refused_with_an_example(address: str) -> None:
    with pytest.raises(UsageError, match=r"http://127\.0\.0\.1:8080"):
        _wire.read_base_url(address)


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("http://[evil", "host"),
        ("http://[evil]:80", "host|http or https"),
        ("http://127.0.0.1:99999", "port from 1 to 65535"),
        ("http://127.0.0.1:0", "port from 1 to 65535"),
        ("http://127.0.0.1:-1", "port from 1 to 65535"),
        ("http://127.0.0.1:８０８０", "port from 1 to 65535"),
        ("http://127.0.0.1:http", "port from 1 to 65535"),
        ("http://127.0.0.1\n:80", "http or https"),
        ("http://a b", "http or https"),
        ("http://[::1]x:3", "host that is none"),
        ("http://loom..example:80", "host that is none"),
        (f"http://{'a' * 64}.example", "host that is none"),
        ("http://.example", "host that is none"),
    ],
)
def test_what_is_wrong_with_an_address_is_said(address: str, said: str) -> None:
    with pytest.raises(UsageError, match=said) as caught:
        _wire.read_base_url(address)
    assert "for example http://127.0.0.1:8080" in str(caught.value)


def test_a_path_in_the_address_is_kept() -> None:
    assert _wire.read_base_url("https://mill.example/weavability/") == (
        "https://mill.example/weavability"
    )


@pytest.mark.parametrize(("token", "read"), [(None, None), ("", None), (" abc\n", "abc")])
def test_white_space_around_a_token_is_no_part_of_it(token: str | None, read: str | None) -> None:
    assert _wire.read_token(token) == read


@pytest.mark.parametrize("token", ["a b", "a\nb", "schlüssel", "a\x00"])
def test_a_token_that_would_break_the_header_is_refused(token: str) -> None:
    with pytest.raises(UsageError, match="token"):
        _wire.read_token(token)


@given(
    status=st.integers(200, 599),
    kind=st.sampled_from(["application/json", "text/html", ""]),
    body=st.binary(max_size=200) | st.sampled_from([b"{}", b"[]", b"null", PROXY_PAGE]),
)
def test_law_no_answer_escapes_the_errors_of_the_client(
    status: int, kind: str, body: bytes
) -> None:
    answer = {"status": status, "headers": {"content-type": kind}, "body": body}
    if status >= 300 or kind != "application/json" or not is_json(body):
        with pytest.raises(WeavabilityError, match=r"\S"):
            _wire.read_response(**answer)  # type: ignore[arg-type]
    else:
        assert _wire.read_response(**answer) == json.loads(body)  # type: ignore[arg-type]


def is_json(body: bytes) -> bool:
    try:
        json.loads(body)
    except ValueError:
        return False
    return True
