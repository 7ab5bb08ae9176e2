"""Answers that are given again without computing are those that would be computed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import orjson
import pytest
from flask.testing import FlaskClient
from service.support import PARK_TEXT, changed, full_request, small_request

from weavability.answers import validation
from weavability.looms.thresholds import put_in_force, read_thresholds, shipped
from weavability.service import Settings, create_app
from weavability.service.requests.park import parse_park

ADDRESS = "/v1/validations"
PARK = parse_park(PARK_TEXT, name="park.toml")


@pytest.fixture
def computed(monkeypatch: pytest.MonkeyPatch) -> list[object]:
    """What was judged, in turn."""
    seen: list[object] = []
    assess = validation.assess

    def counted(construction: Any, loom: Any, **options: Any) -> Any:
        seen.append(construction)
        return assess(construction, loom, **options)

    monkeypatch.setattr(validation, "assess", counted)
    return seen


def keeping(most_bytes: int = Settings().kept_answers_bytes, text: str = PARK_TEXT) -> FlaskClient:
    park = parse_park(text, name="park.toml")
    return create_app(Settings(kept_answers_bytes=most_bytes), park=park).test_client()


@pytest.fixture
def client() -> FlaskClient:
    return keeping()


def fresh(request: object) -> bytes:
    """The answer of a service that keeps nothing."""
    return bytes(keeping(0).post(ADDRESS, json=request).data)


def varied() -> Iterator[dict[str, Any]]:
    """Requests of which several mean the same, in other words."""
    for base in (small_request(), full_request()):
        for width in (150, 150.0, 151.5):
            for reference in (None, "a", 'he said "reference":null', "ünïcode"):
                request = changed(base, "/construction/width_cm", width)
                yield changed(request, "/construction/reference", reference)
    turned = full_request()
    yarns = turned["construction"]["warp"]["yarns"]
    turned["construction"]["warp"]["yarns"] = dict(reversed(yarns.items()))
    yield turned
    yield full_request()
    described = full_request()
    described["loom"]["description"] = "beside the window"
    yield described


def test_a_repeated_request_is_not_judged_again(
    client: FlaskClient, computed: list[object]
) -> None:
    first = client.post(ADDRESS, json=small_request())
    second = client.post(ADDRESS, json=small_request())
    assert first.data == second.data
    # Of the headers, only the id of the request differs.
    names = {"ETag", "Content-Location", "Cache-Control", "Content-Type", "Content-Length"}
    assert {name: first.headers[name] for name in names} == {
        name: second.headers[name] for name in names
    }
    assert len(computed) == 1


@pytest.mark.slow
def test_every_answer_is_the_one_that_would_be_computed() -> None:
    kept = keeping()
    requests = list(varied())
    for request in [*requests, *reversed(requests)]:
        assert kept.post(ADDRESS, json=request).data == fresh(request), request


def test_each_caller_reads_its_own_reference(client: FlaskClient, computed: list[object]) -> None:
    for reference in ("first", "second", None, '"},{', "first"):
        request = changed(small_request(), "/construction/reference", reference)
        assert client.post(ADDRESS, json=request).get_json()["reference"] == reference
    assert len(computed) == 1


def test_a_link_gives_the_answer_without_the_reference(
    client: FlaskClient, computed: list[object]
) -> None:
    request = changed(small_request(), "/construction/reference", "mine")
    posted = client.post(ADDRESS, json=request)
    link = posted.get_json()["links"]["self"]
    shown = client.get(link)
    assert shown.json == {**posted.get_json(), "reference": None}
    assert "Content-Location" not in shown.headers
    head = client.head(link)
    assert (head.status_code, head.data) == (200, b"")
    assert head.headers["ETag"] == posted.headers["ETag"]
    assert head.headers["Content-Length"] == str(len(shown.data))
    assert len(computed) == 1


@pytest.mark.slow
def test_a_page_is_still_a_page(client: FlaskClient) -> None:
    link = client.post(ADDRESS, json=small_request()).get_json()["links"]["self"]
    page = client.get(link, headers={"Accept": "text/html"})
    assert page.mimetype == "text/html"
    assert page.headers["ETag"] != client.get(link).headers["ETag"]


def test_conditions_hold_for_kept_answers(client: FlaskClient) -> None:
    posted = client.post(ADDRESS, json=small_request())
    etag, link = posted.headers["ETag"], posted.get_json()["links"]["self"]
    condition = {"If-None-Match": etag}
    assert client.get(link, headers=condition).status_code == 304
    assert client.head(link, headers=condition).status_code == 304
    queried = client.open(ADDRESS, method="QUERY", json=small_request(), headers=condition)
    assert (queried.status_code, queried.headers["Location"]) == (304, link)
    assert client.post(ADDRESS, json=small_request(), headers=condition).status_code == 200
    other = client.open(
        ADDRESS, method="QUERY", json=small_request(), headers={"If-None-Match": '"other"'}
    )
    assert (other.status_code, other.data) == (200, posted.data)
    assert other.headers["Location"] == other.headers["Content-Location"] == link


def test_a_faulty_request_is_refused_although_its_like_is_kept(client: FlaskClient) -> None:
    assert client.post(ADDRESS, json=small_request()).status_code == 200
    for pointer, value in (("/nonsense", {}), ("/construction/reference", 7)):
        assert (
            client.post(ADDRESS, json=changed(small_request(), pointer, value)).status_code == 422
        )


def test_other_limits_of_the_loom_are_judged_anew(computed: list[object]) -> None:
    one, other = keeping(), keeping(text=PARK_TEXT.replace("1150", "400"))
    one_answer, other_answer = (each.post(ADDRESS, json=small_request()) for each in (one, other))
    assert one_answer.headers["ETag"] != other_answer.headers["ETag"]
    assert len(computed) == 2


def test_other_thresholds_are_judged_anew(
    client: FlaskClient, computed: list[object], tmp_path: Any
) -> None:
    before = client.post(ADDRESS, json=small_request())
    file = tmp_path / "thresholds.toml"
    file.write_text("sett_open_warning_pct = 89\n")
    put_in_force(read_thresholds(file))
    try:
        after = client.post(ADDRESS, json=small_request())
    finally:
        put_in_force(shipped())
    assert len(computed) == 2
    assert before.get_json()["ruleset"] != after.get_json()["ruleset"]
    assert client.post(ADDRESS, json=small_request()).data == before.data
    assert len(computed) == 2


def widths(count: int) -> list[dict[str, Any]]:
    return [
        changed(small_request(), "/construction/width_cm", 120 + number) for number in range(count)
    ]


def test_the_bytes_that_are_kept_are_bounded(computed: list[object]) -> None:
    requests = widths(3)
    length = len(fresh(requests[0]))
    client = keeping(3 * length)  # room for two, and what is held beside them
    computed.clear()
    for request in requests:
        client.post(ADDRESS, json=request)
    client.post(ADDRESS, json=requests[2])
    client.post(ADDRESS, json=requests[1])
    assert len(computed) == 3
    client.post(ADDRESS, json=requests[0])  # given longest ago, so it had to make room
    assert len(computed) == 4


def test_nothing_is_kept_without_room(computed: list[object]) -> None:
    client = keeping(0)
    for _ in range(2):
        client.post(ADDRESS, json=small_request())
    assert len(computed) == 2


def test_a_request_too_long_for_a_link_is_not_kept(
    client: FlaskClient, computed: list[object]
) -> None:
    figure = [f"{(number * 2654435761) % 2**64:064b}" for number in range(400)]
    request = changed(small_request(), "/construction/weave", {"rows": figure})
    answers = [client.post(ADDRESS, json=request) for _ in range(2)]
    assert answers[0].get_json()["links"]["self"] is None
    assert answers[0].data == answers[1].data
    assert len(computed) == 2


def test_a_repeated_answer_is_counted_as_a_report_and_as_one_unit() -> None:
    client = create_app(Settings(work_per_min=6_000), park=PARK).test_client()
    left = [
        int(client.post(ADDRESS, json=small_request()).headers["RateLimit-Remaining"])
        for _ in range(2)
    ]
    assert left[0] - left[1] in {0, 1}  # a part of a unit may be earned back meanwhile
    counted = _reports(client)
    client.post(ADDRESS, json=small_request())
    assert _reports(client) == counted + 1


def _reports(client: FlaskClient) -> float:
    lines = client.get("/metrics").text.splitlines()
    return sum(
        float(line.split()[-1]) for line in lines if line.startswith("weavability_verdicts_total")
    )


def test_it_is_the_same_bytes_as_a_report_written_at_once(client: FlaskClient) -> None:
    written = client.post(ADDRESS, json=full_request()).data
    assert orjson.dumps(orjson.loads(written)) == written
