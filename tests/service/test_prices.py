"""Prices of a request: costs in its answer, faults at their place, and nowhere else a trace."""

from __future__ import annotations

import csv
import io
import json
import logging
import re
from collections.abc import Iterator
from typing import Any

import pytest
from flask.testing import FlaskClient
from service.support import PARK_TEXT, full_request, small_request

from weavability.answers import validation
from weavability.service import Settings, create_app
from weavability.service.batches.csv_columns import column
from weavability.service.http.links import opened, pack
from weavability.service.observability import json_logs
from weavability.service.requests.canonical import canonical
from weavability.service.requests.park import parse_park

# Figures that occur nowhere else, to be looked for.
PRICES: dict[str, Any] = {
    "currency": "TALER",
    "yarn_per_kg": {"warp A": 7.5319, "weft A": 8.6427},
    "size_per_kg": 1.9753,
    "loom_hour": 6.4297,
    "changeover_hour": 43.1719,
    "energy_per_kwh": 0.193737,
    "second_quality_value_pct": 47.1153,
}
OF_LOOM = {"price": 71_717.3, "interest_pct": 7.1717, "life_years": 9.7, "hours_per_year": 5_737}
SECRETS = ["TALER", "75319", "86427", "19753", "64297", "431719", "193737", "471153"]
SECRETS += ["717173", "71717", "5737", "98765"]
PARK = parse_park(PARK_TEXT.replace("shafts = 8 }", "shafts = 8 }\nloom_hour = 9.8765"), name="p")


def priced(request: dict[str, Any], **prices: Any) -> dict[str, Any]:
    return {**request, "prices": {**PRICES, **prices}}


@pytest.fixture(scope="module")
def client() -> FlaskClient:
    return create_app(Settings(), park=PARK).test_client()


@pytest.fixture
def written() -> Iterator[io.StringIO]:
    """What the service writes into its log."""
    stream = io.StringIO()
    handler = json_logs.handler(stream)
    logger = logging.getLogger("weavability")
    level = logger.level
    logger.addHandler(handler)
    logger.setLevel(logging.DEBUG)
    yield stream
    logger.removeHandler(handler)
    logger.setLevel(level)


def traces(text: str) -> list[str]:
    written = re.sub(r' (?:d|points)="[^"]*"', "", text)  # lines of drawings are any numbers
    plain = written.replace(".", "").replace(",", "")
    return [secret for secret in SECRETS if secret in plain]


@pytest.mark.slow
def test_prices_are_in_no_name_link_tag_or_log(client: FlaskClient, written: io.StringIO) -> None:
    request = full_request()
    plain = client.post("/v1/validations", json=request, buffered=True)
    request["loom"].update(OF_LOOM)
    answer = client.post("/v1/validations", json=priced(request), buffered=True)
    assert answer.get_json()["costs"]["loom_hour_from"] == "/loom/price"
    for name in ("validation_id", "links"):
        assert answer.get_json()[name] == plain.get_json()[name]
    token = answer.get_json()["links"]["self"].rpartition("/")[2]
    assert traces(opened(token).decode()) == []
    headers = answer.headers
    assert headers["Cache-Control"] == "no-store"
    assert {"ETag", "Content-Location", "Location"}.isdisjoint(headers.keys())
    # Neither does a copy that the caller has count, nor is this answer kept for others.
    tag = {"If-None-Match": plain.headers["ETag"]}
    again = client.open(
        "/v1/validations", method="QUERY", json=priced(request), headers=tag, buffered=True
    )
    assert again.status_code == 200
    assert again.get_json()["costs"] == answer.get_json()["costs"]
    unpriced = client.post("/v1/validations", json=full_request(), buffered=True)
    assert unpriced.get_json()["costs"] is None
    assert traces(written.getvalue()) == []
    assert len(written.getvalue().splitlines()) == 4


def test_a_failure_logs_no_price(
    client: FlaskClient, written: io.StringIO, monkeypatch: pytest.MonkeyPatch
) -> None:
    def failing(*_: object, **__: object) -> None:
        raise RuntimeError("out of order")

    monkeypatch.setattr(validation, "order_cost", failing)
    body = priced(small_request())
    assert client.post("/v1/validations", json=body, buffered=True).status_code == 500
    line = json.dumps(body) + "\n"
    batch = client.post(
        "/v1/validations", data=line, content_type="application/x-ndjson", buffered=True
    )
    assert json.loads(batch.data)["status"] == 500
    refused = priced(small_request(), loom_hour=-98765, yarn_per_kg={"warp Q": 75319})
    assert client.post("/v1/validations", json=refused, buffered=True).status_code == 422
    assert "out of order" in written.getvalue()
    assert traces(written.getvalue()) == []


@pytest.mark.slow
def test_a_report_from_a_link_has_no_costs(client: FlaskClient) -> None:
    answer = client.post("/v1/validations", json=priced(small_request())).get_json()
    shown = client.get(answer["links"]["self"])
    assert shown.get_json() == {
        **answer,
        "costs": None,
        "assumptions": shown.get_json()["assumptions"],
    }
    page = client.get(answer["links"]["self"], headers={"Accept": "text/html"})
    assert "Costs" not in page.text
    assert traces(shown.text + page.text) == []
    made_by_hand = pack(canonical(priced(small_request())))
    refused = client.get(f"/v1/validations/{made_by_hand}")
    assert (refused.status_code, refused.get_json()["errors"][0]["pointer"]) == (422, "/prices")


def test_the_park_keeps_the_price_of_its_looms_to_itself(client: FlaskClient) -> None:
    jet = {**small_request(), "loom_id": "air-jet-190-cam"}
    costs = client.post("/v1/validations", json=priced(jet)).get_json()["costs"]
    assert (costs["loom_hour"], costs["loom_hour_from"]) == (9.8765, "/loom/loom_hour")
    listed = client.get("/v1/looms").text + client.get("/v1/looms/air-jet-190-cam").text
    assert traces(listed) == []
    cheap = parse_park(PARK_TEXT, name="p")
    name = "air-jet-190-cam"
    assert PARK.digest == cheap.digest
    assert PARK.looms[name].limits == cheap.looms[name].limits


def test_every_fault_of_prices_is_named_at_its_place(client: FlaskClient) -> None:
    body = small_request()
    body["prices"] = {
        "currency": 5,
        "yarn_per_kg": {"warp A": -1, "weft B": 2, "warp A/B": 3, "A": True},
        "loom_hour": "6,5",
        "size_per_kg": -0.01,
        "second_quality_value_pct": 101,
        "energy_per_kw": 1,
    }
    answer = client.post("/v1/validations", json=body)
    errors = {each["pointer"]: each for each in answer.get_json()["errors"]}
    assert errors.keys() == {
        f"/prices/{name}"
        for name in (
            *("currency", "loom_hour", "size_per_kg", "second_quality_value_pct", "energy_per_kw"),
            *("yarn_per_kg/warp A", "yarn_per_kg/weft B", "yarn_per_kg/warp A~1B", "yarn_per_kg/A"),
        )
    }
    stranger = errors["/prices/yarn_per_kg/weft B"]
    assert stranger["given"] == 2
    assert stranger["allowed"][:2] == ["warp A", "weft A"]
    assert "at least 0" in errors["/prices/size_per_kg"]["message"]
    wrongs: list[object] = [[], 5, {"yarn_per_kg": [1]}]
    for wrong in wrongs:
        answer = client.post("/v1/validations", json={**small_request(), "prices": wrong})
        assert answer.status_code == 422
        assert answer.get_json()["errors"][0]["pointer"].startswith("/prices")
    any_text = client.post(
        "/v1/validations", json={**small_request(), "prices": {"currency": "¤¤"}}
    )
    assert any_text.get_json()["costs"]["currency"] == "¤¤"


def test_a_loom_states_its_hour_once(client: FlaskClient) -> None:
    for stated, pointers in (
        ({"price": 5}, {"/interest_pct", "/life_years", "/hours_per_year"}),
        ({**OF_LOOM, "loom_hour": 5}, {f"/{name}" for name in OF_LOOM}),
    ):
        body = full_request()
        body["loom"].update(stated)
        answer = client.post("/v1/validations", json=body)
        assert {each["pointer"] for each in answer.get_json()["errors"]} == {
            f"/loom{pointer}" for pointer in pointers
        }


def test_ranking_with_prices_has_costs_and_no_tag(client: FlaskClient) -> None:
    request = {"construction": small_request()["construction"]}
    plain = client.post("/v1/loom-matches", json=request)
    answer = client.post("/v1/loom-matches", json={**priced(request), "rank_by": "cost"})
    assert answer.get_json()["currency"] == "TALER"
    costs = [each["costs"] for each in answer.get_json()["matches"]]
    assert {each["loom_hour"] for each in costs} == {6.4297, 9.8765}
    assert ("ETag" in plain.headers, "ETag" in answer.headers) == (True, False)
    assert answer.headers["Cache-Control"] == "no-store"
    refused = client.post("/v1/loom-matches", json={**request, "rank_by": "cost"})
    assert [each["pointer"] for each in refused.get_json()["errors"]] == ["/rank_by"]
    strange = priced(request, yarn_per_kg={"weft Z": 1})
    assert client.post("/v1/loom-matches", json=strange).get_json()["errors"][0]["pointer"] == (
        "/prices/yarn_per_kg/weft Z"
    )


def test_a_remedy_states_the_change_of_cost(client: FlaskClient) -> None:
    """It is that of the changed order; another yarn has no price."""
    too_wide = small_request()
    too_wide["construction"].update(width_cm=205, length_m=3000)
    answer = client.post("/v1/remedies", json=priced(too_wide))
    assert ("ETag" in answer.headers, answer.headers["Cache-Control"]) == (False, "no-store")
    (narrower,) = answer.get_json()["looms"][0]["remedies"]
    (cost,) = [each for each in narrower["alters"] if each["name"] == "cost_per_m"]
    assert cost["unit"] == "TALER/m"
    before = client.post("/v1/validations", json=priced(too_wide)).get_json()
    assert cost["from"] == before["costs"]["cost_per_m"]
    too_wide["construction"]["width_cm"] = narrower["to"]
    after = client.post("/v1/validations", json=priced(too_wide)).get_json()
    assert cost["to"] == after["costs"]["cost_per_m"]
    (finding,) = [each for each in before["findings"] if each["code"] == "width.reed_space"]
    assert cost in finding["remedies"][0]["alters"]
    strange = priced(too_wide, yarn_per_kg={"warp Z": 1})
    refused = client.post("/v1/remedies", json=strange).get_json()
    assert [each["pointer"] for each in refused["errors"]] == ["/prices/yarn_per_kg/warp Z"]
    del strange["prices"]
    assert "ETag" in client.post("/v1/remedies", json=strange).headers


def test_a_sheet_has_columns_of_prices_and_costs(client: FlaskClient) -> None:
    found = column("prices.yarn_per_kg.warp A")
    assert found is not None
    assert found.pointer == "/prices/yarn_per_kg/warp A"
    assert column("prices.yarn_per_kg.silk") is None
    sheet = (
        "reference,loom_id,weave,width_cm,length_m,ends_per_cm,picks_per_cm,warp_yarn_A,"
        "weft_yarn_A,prices.currency,prices.loom_hour,prices.yarn_per_kg.warp A\n"
        "S1,rapier-190-dobby,plain,152,3000,28,24,Ne 30,Ne 30,EUR,6.5,4.2\n"
        "S2,rapier-190-dobby,plain,152,3000,28,24,Ne 30,Ne 30,,,\n"
    )
    answer = client.post("/v1/validations", data=sheet, content_type="text/csv")
    first, second = csv.DictReader(io.StringIO(answer.text))
    assert first["costs.currency"] == "EUR"
    assert float(first["costs.cost_per_m"]) == pytest.approx(
        float(first["costs.cost_for_order"]) / 3000, rel=1e-5
    )
    assert [each["driver"] for each in json.loads(first["costs.drivers"])] == [
        *("warp A", "leno A", "catch cord A", "loom hours"),
    ]
    assert first["costs.not_priced"] == "weft A; size; change-over; energy"
    assert {second[name] for name in second if name.startswith("costs.")} == {""}


@pytest.mark.slow
def test_a_page_that_is_requested_with_prices_shows_them(client: FlaskClient) -> None:
    html = {"Accept": "text/html"}
    page = client.post("/v1/validations", json=priced(small_request()), headers=html)
    assert page.mimetype == "text/html"
    assert "Costs, in TALER" in page.text
    assert "State the power of the loom." in page.text
    assert (page.headers["Cache-Control"], page.headers.get("ETag")) == ("no-store", None)
    plain = client.post("/v1/validations", json=small_request(), headers=html)
    assert "Costs" not in plain.text
    assert "-page-" in plain.headers["ETag"]
