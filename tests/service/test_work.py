"""The work of a request: bounded before it is done, and counted for its caller."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest
from flask.testing import FlaskClient
from service.support import PARK_TEXT, changed, small_request

from weavability.service import Settings, create_app
from weavability.service.batches.flat_order import query_of, write_fields
from weavability.service.http import work
from weavability.service.http.links import opened, pack
from weavability.service.requests.canonical import canonical_request
from weavability.service.requests.park import parse_park
from weavability.service.resources import validation_changes
from weavability.service.resources.validations import identity_of, resolved

PARK = parse_park(PARK_TEXT, name="park.toml")
NDJSON = {"Content-Type": "application/x-ndjson"}
PER_MIN = 6_000
WIDTH = "/construction/width_cm"


def design(side: int) -> dict[str, Any]:
    """An order for a design of ``side`` ends and picks, which a short body or link can state."""
    plain = [1 + place % 2 for place in range(side)]
    tie_up = {"threading": plain, "tie_up": ["10", "01"], "treadling": plain}
    return changed(small_request(), "/construction/weave", tie_up)


def link(request: dict[str, Any]) -> str:
    token = pack(canonical_request(request))
    assert token is not None
    return f"/v1/validations/{token}"


@pytest.fixture
def limited() -> FlaskClient:
    return create_app(Settings(work_per_min=PER_MIN), park=PARK).test_client()


@pytest.fixture
def client() -> FlaskClient:
    return create_app(park=PARK).test_client()


def left(answer: Any) -> int:
    return int(answer.headers["RateLimit-Remaining"])


def test_an_order_on_a_loom_is_a_unit(limited: FlaskClient) -> None:
    first = limited.post("/v1/validations", json=small_request())
    second = limited.post("/v1/validations", json=small_request())
    assert left(first) - left(second) in (0, 1)  # a unit, less what time has given back
    assert left(first) >= PER_MIN // 6 - 2


@pytest.mark.slow
def test_faulty_lines_of_a_batch_are_work(limited: FlaskClient) -> None:
    """Eighty kilobytes of them took seven seconds and counted as one unit."""
    answer = limited.post(
        "/v1/validations",
        data="reference,weave\n" + "x,y\n" * 500,
        headers={"Content-Type": "text/csv"},
    )
    assert answer.data.count(b"\n") > 500
    assert left(limited.get("/v1/looms")) < PER_MIN // 6 - 10


def _of_many_yarns() -> dict[str, Any]:
    """Warp and weft of 64 yarns each, in 9 kB."""
    yarns = {f"Y{place}": {"designation": f"Ne {20 + place}"} for place in range(64)}
    body = small_request()
    for system in ("warp", "weft"):
        body["construction"][system] |= {"yarns": yarns, "order": " ".join(yarns)}
    return body


def test_yarns_and_requirements_are_work(client: FlaskClient) -> None:
    def units(order: dict[str, Any]) -> float:
        return work.units_of(resolved(order, PARK).request.construction)

    required = {"mass_g_per_m2": {"max": 200}}
    assert units(small_request()) == 1
    assert units(changed(small_request(), "/construction/requirements", required)) == 2
    assert units(_of_many_yarns()) == 8.5


@pytest.mark.slow
def test_assumed_values_of_many_yarns_are_too_much_work(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On eight looms they took minutes; the form answers without them."""
    options = {"decisive_assumptions": True}
    order = {**_of_many_yarns(), "options": options}
    answer = client.post("/v1/validations", json=order)
    assert answer.status_code == 413
    assert "one request may spend 1000" in answer.get_json(force=True)["detail"]
    cloth = order["construction"]
    matches = client.post(
        "/v1/loom-matches", json={"construction": cloth, "options": {"decisive_assumptions": True}}
    )
    assert matches.status_code == 413
    # What one loom takes may be allowed: it says how many looms are too many.
    monkeypatch.setattr(work, "MOST_UNITS_OF_VALUES", 100)
    cloth = small_request()["construction"]
    answer = client.post("/v1/loom-matches", json={"construction": cloth, "options": options})
    assert answer.status_code == 413
    assert "on the first 2 of the looms alone" in answer.get_json(force=True)["detail"]
    address = query_of(write_fields(_of_many_yarns()).cells)
    assert address is not None
    assert client.get(f"/?{address}").status_code == 200


def test_a_design_that_one_order_reads_too_often_says_what_to_leave_out(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(work, "MAX_KEPT_CELLS", 0)
    monkeypatch.setattr(work, "UNITS_OF_A_MILLION_CROSSINGS", 2_000_000_000)
    across = {"pointer": "/construction/width_cm", "from": 140, "to": 180, "points": 30}
    along = {"pointer": "/construction/weft/crimp_pct", "from": 1, "to": 9, "points": 3}
    window = client.post("/v1/windows", json={**small_request(), "across": across, "along": along})
    decisive = client.post(
        "/v1/validations", json={**small_request(), "options": {"decisive_assumptions": True}}
    )
    assert (window.status_code, decisive.status_code) == (413, 413)
    assert "would be read 2 times" in window.get_json(force=True)["detail"]
    assert "or judge single orders" in window.get_json(force=True)["detail"]
    assert "leave out options.decisive_assumptions" in decisive.get_json(force=True)["detail"]


def test_crossings_are_work_before_anything_is_judged(limited: FlaskClient) -> None:
    body = design(2000)
    del body["construction"]["weft"]
    answer = limited.post("/v1/validations", json=body)
    assert answer.status_code == 422
    assert PER_MIN // 6 - left(answer) in range(75, 90)


@pytest.mark.slow
def test_a_batch_is_counted_by_its_lines() -> None:
    few = PER_MIN // 10
    limited = create_app(Settings(work_per_min=few), park=PARK).test_client()
    lines = b"\n".join([json.dumps(small_request()).encode()] * 90)
    answer = limited.post("/v1/validations", data=lines, headers=NDJSON)
    assert len(answer.data.splitlines()) == 90
    assert left(limited.get("/v1/looms")) < few // 6 - 30


@pytest.mark.slow
def test_who_has_done_too_much_has_to_wait(limited: FlaskClient) -> None:
    lines = b"\n".join([json.dumps(design(1000)).encode()] * 60)
    answer = limited.post("/v1/validations", data=lines, headers=NDJSON)
    assert {json.loads(line)["status"] for line in answer.data.splitlines()} == {200}
    refused = limited.get("/v1/looms")
    assert refused.status_code == 429
    assert int(refused.headers["Retry-After"]) >= 1
    assert "units of work" in refused.get_json(force=True)["detail"]


def test_links_share_the_bound_of_their_request(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A link of some hundred letters can hold a design of a hundred million crossings."""
    monkeypatch.setattr(work, "MOST_UNITS", 65)
    stale = "0" * 32
    items = [{"link": link(changed(design(1000), "/construction/width_cm", 100 + place)),
              "etag": stale} for place in range(10)]  # fmt: skip
    found = client.post("/v1/validation-changes", json={"items": items}).get_json()["items"]
    problems = [each["problem"] and each["problem"]["type"] for each in found]
    assert problems == [None] * 3 + ["/problems/too-much-work"] * 7


def test_links_beyond_the_bound_stay_closed(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """To open and to refuse two hundred of them took seven seconds, ten thousand minutes."""
    seen: list[str] = []

    def seeing(token: str) -> bytes:
        seen.append(token)
        return opened(token)

    monkeypatch.setattr(work, "MOST_UNITS", 25)
    monkeypatch.setattr(validation_changes, "opened", seeing)
    items = [{"link": link(changed(design(1000), "/construction/width_cm", 100 + place)),
              "etag": "0" * 32} for place in range(10)]  # fmt: skip
    client.post("/v1/validation-changes", json={"items": items})
    assert len(seen) == 2


def test_what_a_link_holds_is_work_however_short_it_is(limited: FlaskClient) -> None:
    """Of 300 letters it can hold 48 kB, which are read even if it has not changed."""
    body = canonical_request(design(12_000))
    known = {"link": link(design(12_000)), "etag": identity_of(body, json.loads(body), PARK)}
    before = left(limited.get("/v1/looms"))
    answer = limited.post("/v1/validation-changes", json={"items": 30 * [known]})
    assert answer.get_json()["items"] == []
    assert before - left(answer) in range(15, 30)


def test_one_request_is_refused_before_its_designs_are_made(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(work, "MOST_CROSSINGS_AT_ONCE", 1_500_000)
    both = {"from": design(1000)["construction"], "to": design(1000)["construction"]}
    answer = client.post("/v1/changeovers", json={**both, "loom_id": small_request()["loom_id"]})
    assert answer.status_code == 413
    assert answer.get_json(force=True)["type"] == "/problems/too-much-work"
    assert client.post("/v1/validations", json=design(1000)).status_code == 200


@pytest.fixture
def another() -> Iterator[None]:
    """Another request that computes a large design."""
    with work._large:
        yield


@pytest.mark.usefixtures("another")
def test_large_designs_are_computed_one_at_a_time(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(work, "LARGE_CROSSINGS", 90_000)
    refused = client.post("/v1/validations", json=design(400))
    assert refused.status_code == 503
    assert refused.headers["Retry-After"] == str(work.RETRY_AFTER_LARGE_S)
    assert refused.get_json(force=True)["type"] == "/problems/busy"
    assert client.post("/v1/validations", json=design(200)).status_code == 200


@pytest.mark.slow
def test_designs_of_middle_size_share_what_is_computed_at_once(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Eight of them at once took a worker from 130 to 390 MiB, and it kept a part."""
    trimmed: list[int] = []
    monkeypatch.setattr(work, "MIDDLE_CROSSINGS", 90_000)
    monkeypatch.setattr(work, "GIVEN_BACK_CROSSINGS", 90_000)
    monkeypatch.setattr(work, "MOST_MIDDLE_AT_ONCE", 200_000)
    monkeypatch.setattr(work, "give_back", lambda: trimmed.append(0))
    for _ in range(2):
        assert client.post("/v1/validations", json=design(400)).status_code == 200
    assert trimmed == [0, 0]
    assert work._middle.take(100_000)
    refused = client.post("/v1/validations", json=changed(design(400), WIDTH, 120))
    work._middle.give_back(100_000)
    assert refused.status_code == 503
    assert refused.headers["Retry-After"] == str(work.RETRY_AFTER_LARGE_S)
    assert client.post("/v1/validations", json=changed(design(400), WIDTH, 120)).status_code == 200
    assert client.post("/v1/validations", json=design(200)).status_code == 200
    assert trimmed == [0, 0, 0]
    assert work._middle.taken == 0


@pytest.mark.slow
@pytest.mark.parametrize("status", [200, 422])
def test_the_next_large_design_is_computed_when_one_is_done(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch, status: int
) -> None:
    monkeypatch.setattr(work, "LARGE_CROSSINGS", 90_000)
    body = design(400)
    if status != 200:
        del body["construction"]["weft"]
    for _ in range(2):
        assert client.post("/v1/validations", json=body).status_code == status
    lines = b"\n".join([json.dumps(body).encode()] * 2)
    answer = client.post("/v1/validations", data=lines, headers=NDJSON)
    assert [json.loads(line)["status"] for line in answer.data.splitlines()] == [status] * 2
    assert not work._large.locked()
