"""``POST /v1/windows`` and the option for decisive assumptions: answers, forms, work and faults."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from typing import Any

import pytest
from flask.testing import FlaskClient
from service.pages import read
from service.support import changed, small_request

from weavability.answers.caution import CAUTION
from weavability.service.http import work

ADDRESS = "/v1/windows"
SVG = {"Accept": "image/svg+xml"}
AXES = {
    "across": {"pointer": "/construction/width_cm", "from": 150, "to": 200, "points": 6},
    "along": {"pointer": "/construction/weft/crimp_pct", "from": 0, "to": 12, "points": 4},
}


def request(**changes: Any) -> dict[str, Any]:
    return small_request() | AXES | changes


def is_done(client: FlaskClient, address: str, body: object) -> bool:
    answer = client.post(address, json=body)
    assert answer.status_code in (200, 413), answer.text
    return answer.status_code == 200


def faults(client: FlaskClient, body: object) -> dict[str, str]:
    answer = client.post(ADDRESS, json=body)
    assert answer.status_code == 422, answer.text
    return {error["pointer"]: error["message"] for error in json.loads(answer.data)["errors"]}


def test_a_window_is_answered_in_figures_and_as_a_drawing(client: FlaskClient) -> None:
    answer = client.post(ADDRESS, json=request())
    found = answer.get_json()
    assert [len(found["grid"]), len(found["grid"][0])] == [4, 6]
    assert found["across"]["values"] == [150, 160, 170, 180, 190, 200]
    assert found["cases"][found["grid"][0][4]]["errors"] == []
    assert found["cases"][found["grid"][0][5]]["errors"] == ["width.reed_space"]
    assert found["own"]["across"] == 150
    assert found["caution"] == CAUTION
    # A point is the verdict of a validation.
    there = changed(small_request(), "/construction/width_cm", 180)
    there = changed(there, "/construction/weft/crimp_pct", 8)
    verdict = client.post("/v1/validations", json=there).get_json()["verdict"]
    assert found["cases"][found["grid"][2][3]]["verdict"] == verdict
    drawn = client.post(ADDRESS, json=request(), headers=SVG)
    assert drawn.mimetype == "image/svg+xml"
    assert ET.fromstring(drawn.text).tag.endswith("svg")
    assert answer.headers["ETag"] != drawn.headers["ETag"]


def test_what_is_wrong_points_at_the_field(client: FlaskClient) -> None:
    assert faults(client, small_request()).keys() == {"/across", "/along"}
    wrong = {"pointer": "/construction/width_mm", "from": 200, "to": 100, "points": 300}
    found = faults(client, request(across=wrong))
    assert found.keys() == {"/across/to", "/across/points"}
    found = faults(client, request(across=wrong | {"to": 300, "points": 3}))
    assert found == {
        "/across/pointer": "There is no number at this pointer. Did you mean "
        "/construction/width_cm?"
    }
    hooks = {"pointer": "/loom/shedding/hooks", "from": 100, "to": 200}
    assert faults(client, request(along=hooks)) == {
        "/along/pointer": "Leave out hooks: a dobby motion has no such limit."
    }
    required = {"pointer": "/construction/requirements/ends_per_cm/nominal", "from": 20, "to": 30}
    pieces = {"pointer": "/construction/order/pieces", "from": 1, "to": 4}
    assert faults(client, request(across=required, along=pieces)) == {
        "/across/pointer": "nominal and tolerance_pct are read as min and max: vary one of these.",
        "/along/pointer": "The order states no pieces: state its order, or vary length_m.",
    }
    count = {"pointer": "/construction/reed/count", "from": 40, "to": 80}
    assert faults(client, request(across=count)) == {
        "/across/pointer": "The order states no reed by its count: vary dents_per_10cm."
    }
    item = {"pointer": "/construction/warp/beams/1/pile_ratio", "from": 1, "to": 4}
    tie = {"pointer": "/loom/shedding/tie/0/hooks", "from": 200, "to": 400}
    assert faults(client, request(across=item, along=tie)) == {
        "/across/pointer": "This list has no item 1: 0 are stated, counted from 0.",
        "/along/pointer": "A tie is a harness as it is knotted, and is not varied: state the loom "
        "with another.",
    }
    twice = changed(small_request(), "/construction/weft/contraction_pct", 5) | AXES
    assert faults(client, twice).keys() == {"/construction/weft/contraction_pct"}


@pytest.mark.parametrize(
    ("pointer", "start", "stop"),
    [
        ("/construction/weft/picks_per_cm", 17, 17.0000001),
        ("/construction/weft/picks_per_cm", 499.9999, 500),
        ("/construction/length_m", 4999.99, 5000),
    ],
)
def test_points_that_are_alike_in_their_digits_are_refused(
    client: FlaskClient, pointer: str, start: float, stop: float
) -> None:
    near = {"pointer": pointer, "from": start, "to": stop, "points": 11}
    answer = client.post(ADDRESS, json=request(along=near), headers=SVG)
    assert answer.status_code == 422
    (error,) = answer.get_json()["errors"]
    assert error["pointer"] == "/along/to"
    assert "do not differ in six significant digits" in error["message"]
    # What it gives as an example is drawn.
    ends = [float(each) for each in error["allowed"].split() if each[0].isdigit()]
    wide = near | dict(zip(("from", "to"), ends, strict=True))
    drawn = client.post(ADDRESS, json=request(along=wide), headers=SVG)
    assert drawn.mimetype == "image/svg+xml"


def required(body: dict[str, Any]) -> dict[str, Any]:
    return changed(body, "/construction/requirements", {"mass_g_per_m2": {"min": 100}})


def test_a_window_is_counted_by_its_points(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    of_points = {name: axis | {"points": 100} for name, axis in AXES.items()}
    panels = {"pointer": "/construction/panels", "from": 1, "to": 4, "points": 4}
    for body, units in (
        (request(**of_points), 120),
        (request(along=panels), 20 + 24 / 100 + 24 / 4),  # Read point by point.
        (required(request(**of_points)), 2 * 120),
        (required(request(along=panels)), 2 * (20 + 24 / 100) + 24),
    ):
        monkeypatch.setattr(work, "MOST_UNITS", units + 0.01)
        assert is_done(client, ADDRESS, body)
        monkeypatch.setattr(work, "MOST_UNITS", units - 0.01)
        assert not is_done(client, ADDRESS, body)


@pytest.mark.slow
def test_decisive_assumptions_are_an_option_of_a_validation(client: FlaskClient) -> None:
    wide = changed(small_request(), "/construction/width_cm", 184)
    plain = client.post("/v1/validations", json=wide)
    asked = client.post("/v1/validations", json=wide | {"options": {"decisive_assumptions": True}})
    found = asked.get_json()
    assert found["verdict_holds"] is False
    (crimp,) = [
        one
        for one in found["decisive_assumptions"]
        if one["pointer"] == "/construction/weft/crimp_pct" and one["verdict"] == "not_weavable"
    ]
    # 184 cm of grey cloth fill 190 cm of reed at a crimp of 3.26 %.
    assert (crimp["turns_at"], crimp["side"], crimp["codes"]) == (
        3.2,
        "above",
        ["width.reed_space"],
    )
    assert plain.get_json()["decisive_assumptions"] is None
    assert plain.headers["ETag"] != asked.headers["ETag"]
    # An option that is stated as it is if it is not given changes nothing, nor is it in a link.
    same = client.post("/v1/validations", json=wide | {"options": {"decisive_assumptions": False}})
    assert same.headers["ETag"] == plain.headers["ETag"]
    assert same.headers["Content-Location"] == plain.headers["Content-Location"]
    # The link of the report asks for the same; its page lists what decides.
    link = found["links"]["self"]
    assert client.get(link).get_json() == found
    page = read(client.get(link, headers={"Accept": "text/html"}).text)
    assert "Each of these assumed values turns the verdict by itself." in page.one("main").text
    assert any(crimp["message"] in each.text for each in page.all("li"))


def test_an_unknown_option_is_refused(client: FlaskClient) -> None:
    body = small_request() | {"options": {"decisive": True}}
    errors = client.post("/v1/validations", json=body).get_json()["errors"]
    assert [error["pointer"] for error in errors] == ["/options/decisive"]
    assert "decisive_assumptions" in errors[0]["allowed"]


@pytest.mark.slow
def test_decisive_assumptions_are_counted_by_the_assumed_values(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    order = changed(small_request(), "/construction/width_cm", 152.5)  # Not answered before.
    body = order | {"options": {"decisive_assumptions": True}}
    assumptions = client.post("/v1/validations", json=order).get_json()["assumptions"]
    bands = [one["band"] for one in assumptions if one["band"] is not None]
    units = 1 + sum(band["low"] < band["high"] for band in bands)
    monkeypatch.setattr(work, "MOST_UNITS", units - 1)
    assert not is_done(client, "/v1/validations", body)
    monkeypatch.setattr(work, "MOST_UNITS", units)
    assert is_done(client, "/v1/validations", body)


@pytest.mark.slow
def test_a_design_that_is_not_remembered_counts_each_time_it_is_read(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    order = changed(small_request(), "/construction/width_cm", 151)  # Not answered before.
    asked = order | {"options": {"decisive_assumptions": True}}
    monkeypatch.setattr(work, "MOST_UNITS", 100)
    monkeypatch.setattr(work, "MAX_KEPT_CELLS", 3)  # Plain has 4 crossings.
    monkeypatch.setattr(work, "UNITS_OF_A_MILLION_CROSSINGS", 1e6)
    assert not is_done(client, "/v1/validations", asked)  # 4 units for each of 4 readings.
    # A window reads it twice more, however many points it has.
    for points, is_enough in ((20, True), (150, True), (151, False)):
        window = order | AXES | {"across": AXES["across"] | {"points": points}}
        units = work.MOST_UNITS if is_enough else 20 + 4 * points / 100 + 2 * 4 - 0.01
        monkeypatch.setattr(work, "MOST_UNITS", units)
        assert is_done(client, ADDRESS, window) is is_enough
    monkeypatch.setattr(work, "MAX_KEPT_CELLS", 4)
    assert is_done(client, ADDRESS, window)
    monkeypatch.setattr(work, "MOST_UNITS", 100)
    assert is_done(client, "/v1/validations", asked)
