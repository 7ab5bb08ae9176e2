"""The set-up sheet: what is set to what, in the order in which it is done."""

from __future__ import annotations

import re
import tomllib
from copy import deepcopy
from importlib import resources
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from service.pages import Page, read
from service.support import changed, full_request

from weavability.answers.caution import CAUTION
from weavability.service.pages.setup_blocks import written_threading

HTML = {"Accept": "text/html"}


def sheet(client: FlaskClient, request: dict[str, Any]) -> tuple[dict[str, Any], Page]:
    report = client.post("/v1/validations", json=request).get_json()
    answer = client.get(f"{report['links']['self']}/setup-sheet?reference=SO-7", headers=HTML)
    assert answer.status_code == 200, answer.text
    return report, read(answer.text)


def steps(page: Page) -> list[str]:
    return [each.text.partition(" ")[2] for each in page.all("h2")]


def settings(page: Page) -> dict[str, str]:
    terms, values = page.all("dt"), page.all("dd")
    return {term.text: value.text for term, value in zip(terms, values, strict=True)}


def test_a_count_is_written_as_in_the_order(client: FlaskClient) -> None:
    request = full_request()
    for system in ("warp", "weft"):
        request["construction"][system]["yarns"]["A"]["designation"] = "2/40 Nm"
    _, page = sheet(client, request)
    text = " ".join(page.one("main").text.split())
    assert "2/40 Nm" in [each.text.strip() for each in page.all("td")]
    assert "Nm 40/2" not in text


def test_its_steps_and_its_figures_are_those_of_the_report(client: FlaskClient) -> None:
    request = full_request()
    request["loom"]["insertion"]["max_rate_m_per_min"] = 3000
    request["construction"]["warp"]["yarns"]["A"]["colour"] = "#1c2a4a"
    report, page = sheet(client, request)
    assert report["verdict"] != "not_weavable"
    assert "#1c2a4a" in [each.text.strip() for each in page.all("td")]
    assert steps(page) == [
        "Warp", "Reed", "Drawing-in and lift plan", "Weft", "Running", "Check before start",
    ]  # fmt: skip
    found, setup = settings(page), report["setup"]
    assert found["Ends"].startswith(f"{setup['total_ends']} (")
    assert found["Reed"].startswith(f"{setup['reed_dents_per_10cm']:g} dents/10 cm")
    assert found["Width in reed"].endswith(f"{setup['dents']} dents")
    free_cm = (request["loom"]["reed_width_cm"] - setup["reed_width_cm"]) / 2
    assert float(found["First dent"].split()[0]) == pytest.approx(free_cm, rel=0.05)
    assert found["Shafts"] == str(setup["shafts_used"])
    assert found["Speed"] == f"{report['rates']['speed_picks_per_min']:.0f} picks/min"
    assert found["Picks to set"] == f"{setup['picks_per_cm_on_loom']:.4g} picks/cm"
    drawing = next(each for each in page.all("svg") if each.attributes.get("role") == "img")
    assert f"on {setup['shafts_used']} shafts" in drawing.attributes["aria-label"]
    text = " ".join(page.one("main").text.split())
    assert "SO-7" in text
    assert f"Rule set {report['ruleset']}" in text
    assert CAUTION in text


@pytest.fixture(scope="module")
def demo(demo_app: Flask) -> FlaskClient:
    """The service with the looms of the demo, some of which have reeds in stock."""
    return demo_app.test_client()


@pytest.mark.parametrize(
    ("reference", "first_dent_cm", "dent"), [("D-101", 10.9, 137), ("D-102", 10.8, 65)]
)
def test_width_and_first_dent_are_those_of_the_reed_that_is_named(
    demo: FlaskClient, reference: str, first_dent_cm: float, dent: int
) -> None:
    book = resources.files("weavability").joinpath("data/demo_orders.toml").read_text("utf-8")
    tables = tomllib.loads(book)["order"]
    order = next(each for each in tables if each["construction"]["reference"] == reference)
    sent = {name: order[name] for name in ("construction", "loom_id")}
    report, page = sheet(demo, sent)
    setup, found = report["setup"], settings(page)
    filled_cm = 10 * setup["dents"] / setup["reed_dents_per_10cm"]
    assert setup["filled_width_cm"] == pytest.approx(filled_cm)
    width = found["Width in reed"]
    wider_cm = round(filled_cm, 1) - round(setup["reed_width_cm"], 1)
    assert width == (
        f"{filled_cm:.1f} cm, {setup['dents']} dents; needed {setup['reed_width_cm']:.1f}, "
        f"so {wider_cm:.2g} cm wider"
    )
    start = f"{first_dent_cm:g} cm from each edge, dent {dent} of a full reed"
    assert found["First dent"] == start


def test_a_cloth_that_may_not_fit_the_reed_has_no_first_dent(demo: FlaskClient) -> None:
    construction = {
        "warp": {"yarns": {"A": {"designation": "Ne 30", "fibre": "cotton"}}, "ends_per_cm": 32},
        "weft": {"yarns": {"A": {"designation": "Ne 20", "fibre": "cotton"}}, "picks_per_cm": 24},
        "weave": "2/2 twill Z",
        "width_cm": 150,
        "length_m": 3000,
    }
    request = {"construction": construction, "loom_id": "rapier-150-dobby"}
    report, page = sheet(demo, request)
    assert report["verdict"] == "weavable_with_warnings"
    assert report["setup"]["first_dent_cm"] is None
    beyond_cm = report["setup"]["filled_width_cm"] - 150
    assert beyond_cm > 5
    assert settings(page)["First dent"] == (
        f"does not fit: {beyond_cm:.2g} cm more than the 150 cm of the loom's reed. "
        "Measure the weft crimp before setting up"
    )


def test_an_order_that_cannot_be_woven_has_no_instructions(client: FlaskClient) -> None:
    report, page = sheet(client, changed(full_request(), "/construction/width_cm", 192))
    text = " ".join(page.one("main").text.split())
    assert "this loom cannot weave this order. Do not set it up." in text
    errors = [each for each in report["findings"] if each["severity"] == "error"]
    for each in errors:
        assert each["message"] in text
        assert each["remedies"][0]["message"] in text
    assert settings(page) == {}
    assert not [each for each in page.all("svg") if "role" in each.attributes]
    assert CAUTION in text


def test_a_jacquard_has_its_harness(client: FlaskClient) -> None:
    request = changed(full_request(), "/loom/shedding", {
        "kind": "jacquard", "hooks": 2400, "ends_per_hook": 3, "harness_ends_per_cm": 33,
    })  # fmt: skip
    request["loom"]["insertion"]["max_rate_m_per_min"] = 3000
    report, page = sheet(client, request)
    assert report["verdict"] != "not_weavable"
    found = settings(page)
    assert found["Hooks"].startswith(f"{report['setup']['hooks_used']} of 2400 used")
    assert found["Tie"] == "3 ends on a hook"
    assert "Shafts" not in found
    setup = report["setup"]
    ground = setup["total_ends"] - setup["selvedge_ends"]
    cords = 3 * setup["hooks_used"]
    assert ground < cords
    assert found["Cords"] == f"{ground} of {cords} lift an end, {cords - ground} are empty"
    assert "none cast out" not in found["Hooks"]


def test_panels_on_a_jacquard_have_their_own_repeats(client: FlaskClient) -> None:
    request = changed(full_request(), "/loom/shedding", {
        "kind": "jacquard", "hooks": 2400, "ends_per_hook": 3, "harness_ends_per_cm": 33,
    })  # fmt: skip
    request["loom"]["insertion"]["max_rate_m_per_min"] = 3000
    request["construction"].update(panels=2, width_cm=request["construction"]["width_cm"] / 2)
    report, page = sheet(client, request)
    assert report["verdict"] != "not_weavable"
    found = settings(page)["Repeat"]
    times = float(found.partition("picks, ")[2].split()[0])
    assert times == pytest.approx(report["setup"]["weave_repeats_across"] / 2, rel=0.01)
    assert found.endswith(" times across each of 2 panels")


def test_an_order_too_long_for_a_link_is_posted(client: FlaskClient) -> None:
    request = deepcopy(full_request())
    threading = [1 + (end * end) % 8 for end in range(600)]
    lift_plan = ["10110100", "01101001", "10010110", "01001011"]
    request["construction"]["weave"] = {
        "threading": [each + end % 2 for end, each in enumerate(threading)],
        "lift_plan": [f"{row}0" for row in lift_plan],
    }
    request["construction"]["warp"]["yarns"]["A"]["fibre"] = "cotton"
    request["construction"]["selvedge"] = {"weave": {"rows": ["10", "01"]}, "ends_per_side": 24}
    answer = client.post("/v1/setup-sheets", json=request, headers=HTML)
    assert answer.status_code == 200, answer.text
    page = read(answer.text)
    assert request["construction"]["reference"] in page.one("main").text
    refused = client.post("/v1/setup-sheets", json=request, headers={"Accept": "application/json"})
    assert refused.status_code == 406


@pytest.mark.parametrize(
    "threading",
    [[1, 2, 3, 4], [1, 2] * 3 + [3, 4] * 3, [1, 2, 3, 4, 5, 4, 3, 2], [1, 1, 1, 1, 2, 9, 8], [5]],
)
def test_a_written_threading_can_be_read_back(threading: list[int]) -> None:
    assert expanded(written_threading(threading)) == threading


def expanded(text: str) -> list[int]:
    """Read ``3 × (1 2) 5–8 2 × 1`` back."""
    grouped = re.sub(
        r"(\d+) × (?:\(([^)]*)\)|(\d+))",
        lambda found: " ".join([found[2] or found[3]] * int(found[1])),
        text,
    )
    ends = (part.partition("–")[::2] for part in grouped.split())
    return [end for first, last in ends for end in range(int(first), int(last or first) + 1)]
