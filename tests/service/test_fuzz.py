"""Whatever is sent, the answer is a report or a problem; never a 5xx, never a hang."""

from __future__ import annotations

import json
from copy import deepcopy
from functools import reduce
from typing import Any

import pytest
from flask.testing import FlaskClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from profiles import examples
from service.support import full_request, small_request

pytestmark = pytest.mark.slow

ADDRESS = "/v1/validations"

SCALARS = (
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=30)
    | st.sampled_from(
        ["", "plain", "Ne 30/2", "1/0", "999999999A", "((((((A))))))", "Z" * 500, "\u202e", "👕",
         "%s", "5-end satin move 0", "0/0 twill", "1e309 tex", "Ne 1e-300", "cotton 0 polyester 0"]
    )
)  # fmt: skip
VALUES = st.recursive(
    SCALARS,
    lambda below: st.lists(below, max_size=4) | st.dictionaries(st.text(max_size=8), below),
    max_leaves=8,
)


def pointers(value: object, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """List the places in a JSON value."""
    found = [path] if path else []
    if isinstance(value, dict):
        for name, each in value.items():
            found.extend(pointers(each, (*path, name)))
    elif isinstance(value, list):
        for index, each in enumerate(value):
            found.extend(pointers(each, (*path, index)))
    return found


def put(request: Any, path: tuple[Any, ...], value: object) -> Any:
    result = deepcopy(request)
    node = result
    for step in path[:-1]:
        if not isinstance(node, dict | list):
            return result
        try:
            node = node[step]
        except (KeyError, IndexError, TypeError):
            return result
    if isinstance(node, dict | list):
        try:
            node[path[-1]] = value
        except (IndexError, TypeError):
            return result
    return result


REQUESTS = [full_request(), small_request()]
PLACES = [pointers(request) for request in REQUESTS]


def judged(client: FlaskClient, body: bytes) -> int:
    answer = client.post(ADDRESS, data=body, content_type="application/json")
    content = json.loads(answer.data)
    if answer.status_code == 200:
        assert content["verdict"] in {"weavable", "weavable_with_warnings", "not_weavable"}
    else:
        assert answer.status_code in {400, 422}, answer.text
        assert answer.mimetype == "application/problem+json"
        assert content["detail"]
        for error in content["errors"]:
            assert error["message"]
            assert error["pointer"] == "" or error["pointer"].startswith("/")
    return answer.status_code


QUIET = settings(
    max_examples=examples(2), suppress_health_check=[HealthCheck.function_scoped_fixture]
)


@QUIET
@given(st.data())
def test_a_request_with_anything_anywhere(client: FlaskClient, data: st.DataObject) -> None:
    which = data.draw(st.integers(0, len(REQUESTS) - 1))
    request = REQUESTS[which]
    for _ in range(data.draw(st.integers(1, 3))):
        place = data.draw(st.sampled_from(PLACES[which]))
        request = put(request, place, data.draw(VALUES))
    judged(client, json.dumps(request).encode("utf-8", "replace"))


def at(request: Any, place: tuple[Any, ...]) -> Any:
    return reduce(lambda node, step: node[step], place, request)


NUMBER_PLACES = [place for place in PLACES[0] if isinstance(at(REQUESTS[0], place), int | float)]


@QUIET
@given(st.data())
def test_a_request_with_numbers_from_end_to_end_of_their_ranges(
    client: FlaskClient, data: st.DataObject
) -> None:
    request = REQUESTS[0]
    for _ in range(data.draw(st.integers(1, 5))):
        place = data.draw(st.sampled_from(NUMBER_PLACES))
        size = data.draw(st.floats(0.01, 100_000) | st.integers(0, 1_000))
        request = put(request, place, size)
    judged(client, json.dumps(request).encode())


@QUIET
@given(VALUES)
def test_any_json(client: FlaskClient, value: object) -> None:
    assert judged(client, json.dumps(value).encode("utf-8", "replace")) in {400, 422}


@QUIET
@given(st.binary(max_size=200))
def test_any_bytes(client: FlaskClient, body: bytes) -> None:
    assert judged(client, body) in {400, 422}


@QUIET
@given(st.text(max_size=200))
def test_any_token(client: FlaskClient, token: str) -> None:
    answer = client.get("/v1/validations/v1." + token.replace("/", "").replace("?", ""))
    assert answer.status_code in {400, 404, 422}


HOSTILE = {
    "rows of 12 001 ends": ("/construction/weave", {"rows": ["1" * 12_001]}),
    "12 001 picks": ("/construction/weave", {"rows": ["1"] * 12_001}),
    "very wide repeat": ("/construction/weave", {"rows": ["10" * 6_000, "01" * 6_000]}),
    "order of very many threads": ("/construction/warp/order", "99999999(99999999A)"),
    "order nested in itself": ("/construction/warp/order", "(" * 500 + "A" + ")" * 500),
    "order of 2000 groups": ("/construction/warp/order", "2A " * 600),
    "designation of many plies": ("/construction/warp/yarns/A/designation", "1 tex" + " x 9" * 15),
    "blend of many": ("/construction/warp/yarns/A/fibre", "/".join(["cotton"] * 11)),
    "twill of huge steps": ("/construction/weave", "99999999/99999999 twill"),
    "twill of many steps": ("/construction/weave", "/".join(["1"] * 90) + " twill"),
    "satin of a million": ("/construction/weave", "1000000-end satin move 3"),
    "name of another kind": ("/construction/weave", "__class__"),
    "draft of 20 000": ("/construction/draft", {"threading": [1, 2] * 10_000}),
    "widest and densest": ("/construction/width_cm", 3_500),
    "most panels": ("/construction/panels", 100),
    "longest": ("/construction/length_m", 100_000_000),
}


@pytest.mark.parametrize("case", HOSTILE)
def test_hostile_requests_are_answered(client: FlaskClient, case: str) -> None:
    place, value = HOSTILE[case]
    request = put(small_request(), tuple(place.strip("/").split("/")), value)
    judged(client, json.dumps(request).encode())
