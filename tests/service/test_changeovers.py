"""``POST /v1/changeovers``: steps and hours, whose rates count, and what is refused."""

from __future__ import annotations

import json
from typing import Any

import pytest
from flask.testing import FlaskClient
from service.support import DELETE, changed, small_request

from weavability.answers.changeover import RATE_NAMES
from weavability.service.openapi import example_requests
from weavability.service.schemas import request_schemas

ADDRESS = "/v1/changeovers"
# With the crimp stated, so that another weft does not ask for another width in the reed.
OLD = changed(small_request()["construction"], "/weft/crimp_pct", 5)


def request(pointer: str = "", value: object = None, **changes: Any) -> dict[str, Any]:
    """Ask for the change to the same cloth, with one thing of the new one changed."""
    new = changed(OLD, pointer, value) if pointer else OLD
    return {"from": OLD, "to": new, "loom_id": "rapier-190-dobby"} | changes


def sequence(**changes: Any) -> dict[str, Any]:
    """Ask for the sequence of three orders."""
    orders = [OLD, changed(OLD, "/weave", "5-end satin move 2"), changed(OLD, "/length_m", 500)]
    return {"orders": orders, "loom_id": "rapier-190-dobby"} | changes


def plan(client: FlaskClient, body: object) -> Any:
    answer = client.post(ADDRESS, json=body)
    assert answer.status_code == 200, answer.text
    return json.loads(answer.data)


def faults(client: FlaskClient, body: object) -> dict[str, str]:
    answer = client.post(ADDRESS, json=body)
    assert answer.status_code == 422, answer.text
    return {error["pointer"]: error["message"] for error in json.loads(answer.data)["errors"]}


@pytest.mark.parametrize(
    ("pointer", "value", "route", "steps"),
    [
        ("/length_m", 500, "keep", []),
        ("/weft/yarns/A/designation", "Ne 20", "keep", ["change_weft"]),
        ("/weft/picks_per_cm", 20, "keep", ["set_picks"]),
        ("/weave", "3/1 twill Z", "keep", ["load_design"]),  # on the draft of the plain cloth
        ("/weave", "5-end satin move 2", "draw_in", None),
        ("/warp/yarns/A/colour", "#1c2a4a", "tie_in", ["tie_in"]),
    ],
)
def test_the_work_follows_from_what_differs(
    client: FlaskClient, pointer: str, value: object, route: str, steps: list[str] | None
) -> None:
    found = plan(client, request(pointer, value))
    assert found["route"] == route
    if steps is not None:
        assert [step["step"] for step in found["steps"]] == steps
    stopped = sum(step["hours"] for step in found["steps"] if step["stops_loom"])
    assert found["loom_stop_hours"] == pytest.approx(stopped, rel=1e-5)
    assert found["caution"]


def test_both_styles_are_summed_up(client: FlaskClient) -> None:
    found = plan(client, example_requests.CHANGEOVER)
    assert (found["old"]["reference"], found["new"]["reference"]) == ("SO-10477/3", "SO-10482/1")
    assert found["new"]["total_ends"] == 4912  # 32/cm x 152 cm + 48
    assert found["loom_id"] == "rapier-190-dobby"


def test_hours_follow_from_ends_and_the_stated_rate(client: FlaskClient) -> None:
    rates = {"knots_per_h": 1000, "tie_in_ends_per_h": 10_000_000, "tie_in_fixed_hours": 0}
    found = plan(client, request("/warp/yarns/A/colour", "#1c2a4a", rates=rates))
    (step,) = found["steps"]
    assert step["hours"] == pytest.approx(found["new"]["total_ends"] / 1000, rel=1e-3)


class TestWhoseRatesCount:
    def assumed(self, found: Any) -> set[str]:
        pointers = {line["pointer"] for line in found["assumptions"]}
        return {name for name in RATE_NAMES if f"/rates/{name}" in pointers}

    def test_starting_values_are_assumptions(self, client: FlaskClient) -> None:
        assert self.assumed(plan(client, request())) == set(RATE_NAMES)

    def test_the_looms_own_and_then_those_of_the_request(self, client: FlaskClient) -> None:
        loom = example_requests.LOOM | {
            "changeover_rates": {"knots_per_h": 500, "gaiting_hours": 9}
        }
        body = request("/warp/yarns/A/colour", "#1c2a4a", loom=loom, loom_id=None)
        own = plan(client, body)
        stated = plan(client, body | {"rates": {"knots_per_h": 50_000}})
        assert self.assumed(own) == set(RATE_NAMES) - {"knots_per_h", "gaiting_hours"}
        assert stated["loom_stop_hours"] < own["loom_stop_hours"]

    @pytest.mark.parametrize(
        ("rates", "pointer", "words"),
        [
            ({"knots": 1}, "/rates/knots", "knots_per_h"),
            ({"knots_per_h": 0}, "/rates/knots_per_h", "at least 1"),
            ({"gaiting_hours": -1}, "/rates/gaiting_hours", "at least 0"),
            ({"gaiting_hours": "6"}, "/rates/gaiting_hours", "6 instead of '6'"),
            ([1], "/rates", "must be an object"),
        ],
    )
    def test_a_rate_that_is_none(
        self, client: FlaskClient, rates: object, pointer: str, words: str
    ) -> None:
        assert words in faults(client, request(rates=rates))[pointer]


@pytest.mark.parametrize(
    ("body", "pointer", "words"),
    [
        ({}, "/from", "from is missing"),
        ({}, "/to", "to is missing"),
        ({}, "/loom_id", "exactly one of loom_id or loom"),
        ("plain", "", "object"),
        (request(loom_id="R191"), "/loom_id", "no loom of this name"),
        (request(loom=example_requests.LOOM), "/loom", "both loom_id and loom"),
        (request("/weave", "plan"), "/to/weave", "plain"),
        (request("/weave", {"rows": ["1", "01"]}), "/to/weave/rows/1", "threads"),
        (request("/warp/ends_per_cm", DELETE), "/to/warp/ends_per_cm", "exactly one"),
        (request() | {"from": changed(OLD, "/width_cm", 0)}, "/from/width_cm", "at least 1 cm"),
        (request() | {"from": 3}, "/from", "must be an object"),
        (request(old=OLD), "/old", "no field"),
        (request(on_loom=OLD), "/on_loom", "goes with orders"),
        (request(orders=[OLD]), "/from", "Leave out from"),
        (request(orders=[OLD]), "/to", "Leave out to"),
        (sequence(warp_left_m=5), "/warp_left_m", "which on_loom states"),
        (request(warp_left_m=-1), "/warp_left_m", "at least 0 m"),
        (sequence(orders=[]), "/orders", "1 to 12 constructions"),
        (sequence(orders=[OLD] * 13), "/orders", "1 to 12 constructions"),
        (sequence(orders=OLD), "/orders", "1 to 12 constructions"),
        (sequence(orders=[OLD, 3]), "/orders/1", "object"),
        (sequence(orders=[OLD, changed(OLD, "/width_cm", 0)]), "/orders/1/width_cm", "1 cm"),
        (
            sequence(orders=[OLD, changed(OLD, "/warp/order", "7Q")]),
            "/orders/1/warp/order",
            "Q",
        ),
        (sequence(on_loom=changed(OLD, "/warp/order", "7Q")), "/on_loom/warp/order", "Q"),
        (sequence(loom_id="R191"), "/loom_id", "no loom of this name"),
        (sequence(rates={"knots": 1}), "/rates/knots", "knots_per_h"),
        (request(loom={}, loom_id=None), "/loom/insertion", "insertion is missing"),
    ],
)
def test_the_answer_points_at_the_field_and_says_what_to_change(
    client: FlaskClient, body: object, pointer: str, words: str
) -> None:
    assert words in faults(client, body)[pointer]


def test_what_the_domain_refuses_is_pointed_at_in_its_own_style(client: FlaskClient) -> None:
    """Sett and width are good each alone, but together they are more ends than any warp has."""
    dense = OLD | {"width_cm": 3500, "warp": OLD["warp"] | {"ends_per_cm": 500}}
    (pointer,) = faults(client, request() | {"from": dense})
    assert pointer.startswith("/from/")
    (pointer,) = faults(client, request() | {"to": dense})
    assert pointer.startswith("/to/")


def test_it_is_answered_as_json_only(client: FlaskClient) -> None:
    headers = {"Accept": "image/svg+xml"}
    assert client.post(ADDRESS, json=request(), headers=headers).status_code == 406
    assert client.get(ADDRESS).status_code == 405


def test_the_same_question_has_the_same_answer_and_tag(client: FlaskClient) -> None:
    one, other = (client.post(ADDRESS, json=example_requests.CHANGEOVER) for _ in range(2))
    assert (one.data, one.headers["ETag"]) == (other.data, other.headers["ETag"])
    shorter = client.post(
        ADDRESS, json=example_requests.CHANGEOVER | {"loom_id": "air-jet-190-cam"}
    )
    assert shorter.headers["ETag"] != one.headers["ETag"]


def test_a_cloth_that_cannot_be_woven_gets_its_findings_first(client: FlaskClient) -> None:
    found = plan(client, request("/width_cm", 300))
    assert list(found)[:2] == ["loom_id", "findings"]
    assert (found["route"], found["steps"], found["loom_stop_hours"]) == (None, [], None)
    pointers = {each["pointer"] for each in found["findings"] if each["severity"] == "error"}
    assert "/to/width_cm" in pointers
    assert found["caution"]


class TestSequence:
    def test_the_best_sequence_is_answered(self, client: FlaskClient) -> None:
        found = plan(client, sequence())
        assert sorted(each["index"] for each in found["sequence"]) == [0, 1, 2]
        assert [each["route"] for each in found["sequence"]].count("draw_in") == 1
        assert found["saved_hours"] == pytest.approx(
            found["given_loom_stop_hours"] - found["loom_stop_hours"], rel=1e-5
        )
        assert found["saved_hours"] > 0
        assert len(found["matrix"]) == 3
        assert found["caution"]

    def test_what_is_on_the_loom_counts(self, client: FlaskClient) -> None:
        satin = changed(OLD, "/weave", "5-end satin move 2")
        found = plan(client, sequence(on_loom=satin))
        assert found["sequence"][0]["index"] == 1
        assert found["sequence"][0]["route"] == "keep"

    def test_weaves_that_are_too_large_together_are_refused(
        self, client: FlaskClient, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(request_schemas, "MOST_CROSSINGS_ON_LOOMS", 20)
        found = faults(client, sequence())
        assert "send fewer orders" in found["/orders/2/weave"]
