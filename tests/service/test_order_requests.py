"""Orders in pieces and what the customer requires, through the service: JSON, sheet, page, link."""

from __future__ import annotations

import csv
from copy import deepcopy
from io import StringIO
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from service.support import small_request

from weavability_client.models import Report

ORDER = {"pieces": 20, "piece_length_m": 60, "overage_pct": 5, "rejects_pct": 1}
REQUIRED = {
    "mass_g_per_m2": {"nominal": 180, "tolerance_pct": 50},
    "finished_width_cm": {"max": 10},
    "fibre_pct": {"cotton": {"min": 60}},
}


@pytest.fixture(scope="module")
def client(demo_app: Flask) -> FlaskClient:
    return demo_app.test_client()


def request_with(**fields: Any) -> dict[str, Any]:
    body = deepcopy(small_request())
    body["construction"].pop("length_m", None)
    body["construction"] |= fields
    return body


@pytest.mark.slow
def test_an_order_and_its_requirements_are_answered_linked_and_shown(client: FlaskClient) -> None:
    answer = client.post(
        "/v1/validations", json=request_with(order=ORDER, requirements=REQUIRED)
    ).get_json()
    order = answer["order"]
    assert [step["step"] for step in order["steps"]][:3] == ["overage", "rejects", "finishing"]
    assert order["finished_m"] == pytest.approx(1200 * 1.05 / 0.99, rel=1e-5)
    assert order["cuts"]["pieces_to_weave"] == 22
    mass, width, fibre = answer["requirements"]
    assert (mass["min"], mass["max"], mass["unit"]) == (90, 270, "g/m²")
    assert (width["met"], width["max"]) == ("no", 10)
    assert (fibre["fibre"], fibre["min"]) == ("cotton", 60)
    codes = {each["code"]: each for each in answer["findings"]}
    assert codes["requirement.width"]["pointer"].endswith("/requirements/finished_width_cm")
    again = client.get(answer["links"]["self"], headers={"Accept": "application/json"}).get_json()
    assert (again["order"], again["requirements"]) == (order, answer["requirements"])
    page = client.get(answer["links"]["self"], headers={"Accept": "text/html"}).text
    assert "What the customer requires of the finished cloth" in page
    assert "From finished cloth to the beam" in page
    text = str(Report.from_json(answer))
    assert "20 pieces of 60 m: weave 22; the ends of full beams cut 0" in text
    assert "finished width at most 10 cm: " in text
    assert Report.from_json(answer).summary()["order.grey_m"] == order["grey_m"]


BAD: list[tuple[dict[str, Any], str, str]] = [
    (
        {"order": ORDER, "length_m": 3},
        "/construction/length_m",
        "State the length once: both order and length_m are given; leave one out.",
    ),
    (
        {"order": ORDER, "length_yd": 3},
        "/construction/length_yd",
        "State the length once: both order and length_yd are given; leave one out.",
    ),
    ({"order": {"pieces": 2}}, "/construction/order/piece_length_m", "piece_length_m is missing"),
    ({"order": {**ORDER, "pieces": 2.5}}, "/construction/order/pieces", "pieces must be a whole"),
    (
        {"order": {**ORDER, "rejects_pct": -1}},
        "/construction/order/rejects_pct",
        "rejects_pct must be at least 0 %.",
    ),
    (
        {"requirements": {"mass_g_per_m2": {"min": 185, "max": 170}}},
        "/construction/requirements/mass_g_per_m2/max",
        "max must be at least min (185).",
    ),
    (
        {"requirements": {"mass_g_per_m2": {}}},
        "/construction/requirements/mass_g_per_m2",
        "State min, max or both.",
    ),
    (
        {"requirements": {"picks_per_cm": {"nominal": 20}}},
        "/construction/requirements/picks_per_cm/tolerance_pct",
        "tolerance_pct is missing",
    ),
    (
        {"requirements": {"picks_per_cm": {"nominal": 20, "tolerance_pct": 5, "min": 1}}},
        "/construction/requirements/picks_per_cm/min",
        "Leave out min",
    ),
    (
        {"requirements": {"fibre_pct": {"coton": {"min": 1}}}},
        "/construction/requirements/fibre_pct/coton",
        "No fibre is known as 'coton'. Did you mean 'cotton'?",
    ),
    (
        {"requirements": {"fibre_pct": {"cotton": {"min": 1}, "combed cotton": {"min": 1}}}},
        "/construction/requirements/fibre_pct/cotton",
        "The share of cotton is required twice.",
    ),
    (
        {"requirements": {"fibre_pct": {"cotton": {"min": 120}}}},
        "/construction/requirements/fibre_pct/cotton/min",
        "min must be at most 100 %.",
    ),
    (
        {"requirements": {"open_area_pct": {"max": 150}}},
        "/construction/requirements/open_area_pct/max",
        "max must be at most 100 %.",
    ),
    (
        {"requirements": {"fibre_pct": {"cotton": {"min": 60}, "polyester": {"min": 41}}}},
        "/construction/requirements/fibre_pct",
        "The least shares of all fibres together must be at most 100 %; they are 101 %.",
    ),
    ({"requirements": {"weight": 1}}, "/construction/requirements/weight", "There is no field"),
]


def test_what_is_wrong_is_said_at_its_field(client: FlaskClient) -> None:
    for fields, pointer, message in BAD:
        answer = client.post("/v1/validations", json=request_with(**fields))
        assert answer.status_code == 422, fields
        (fault,) = answer.get_json()["errors"]
        assert fault["pointer"] == pointer
        assert fault["message"].startswith(message)


@pytest.mark.slow
def test_a_sheet_has_a_column_for_each_field(client: FlaskClient) -> None:
    cells = {
        "loom_id": "rapier-190-dobby",
        "weave": "plain",
        "width_cm": "150",
        "ends_per_cm": "28",
        "picks_per_cm": "24",
        "warp_yarn_A": "Ne 30",
        "weft_yarn_A": "Ne 30",
        "order.pieces": "20",
        "order.piece_length_m": "60",
        "requirements.finished_width_cm.max": "10",
        "requirements.fibre_pct": '{"cotton": {"min": 60}}',
        "options.decisive_assumptions": "yes",
    }
    written = StringIO()
    sheet = csv.DictWriter(written, cells)
    sheet.writeheader()
    sheet.writerows([cells, {name: cells[name] for name in cells if "." not in name}])
    answer = client.post(
        "/v1/validations", data=written.getvalue(), headers={"Content-Type": "text/csv"}
    )
    row, without = csv.DictReader(StringIO(answer.text))
    assert "requirement.width" in row["codes"].split()
    assert float(row["order.ordered_m"]) == 1200
    assert not any(
        value
        for name, value in without.items()
        if name.startswith("order.") and name != "order.beam_contraction_pct"
    )
    assert float(row["order.beam_m"]) > float(row["order.grey_m"])
    assert '"met":"no"' in row["requirements"]
    assert (row["verdict_holds"], without["verdict_holds"]) == ("true", "")
    assert list(row)[-1] == "caution"


def test_a_fibre_that_no_yarn_holds_is_there_to_nothing(client: FlaskClient) -> None:
    required = {"fibre_pct": {"wool": {"max": 0}, "linen": {"min": 0}}}
    answer = client.post("/v1/validations", json=request_with(requirements=required)).get_json()
    assert [(each["met"], each["band"]) for each in answer["requirements"]] == [
        ("yes", {"low": 0, "high": 0})
    ] * 2
