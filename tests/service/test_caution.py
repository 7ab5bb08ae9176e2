"""The caution is on everything that a machine may be set up from, in whatever form."""

from __future__ import annotations

import csv
import html
import json
from collections.abc import Iterator
from io import BytesIO, StringIO
from typing import Any
from xml.etree import ElementTree as ET

import pytest
from flask import Flask
from flask.testing import FlaskClient
from PIL import Image

from weavability.answers.caution import CAUTION, SHORT_CAUTION
from weavability.service.openapi.example_answers import example_bodies
from weavability.service.operations import OPERATIONS, Operation
from weavability.textiles.notation import parse_weave

NEED_NONE = {
    "/": "an index of addresses",
    "/healthz": "the health of a process",
    "/readyz": "the health of the service",
    "/metrics": "counts",
    "/v1/messages": "sentences without a figure",
    "/openapi.json": "a description of the operations",
    "/docs": "the same as a page",
    "/problems/{slug}": "what went wrong with a request",
}
JSON, NDJSON, CSV, SVG = "application/json", "application/x-ndjson", "text/csv", "image/svg+xml"
PNG = "image/png"
SVG_NAMES = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def client(demo_app: Flask) -> FlaskClient:
    return demo_app.test_client()


def asked(operation: Operation) -> Iterator[tuple[str, dict[str, Any]]]:
    """Every request by which an operation is shown, with each form of its answer."""
    path = operation.path
    for each in operation.parameters:
        path = path.replace(f"{{{each.name}}}", each.example)
    bodies = [(media_type, value) for media_type, _, value in example_bodies(operation)]
    for media_type, value in bodies or [(JSON, None)]:
        data = value if isinstance(value, str) else json.dumps(value)
        sent = {} if value is None else {"data": data, "content_type": media_type}
        for form in operation.forms(media_type):
            yield (
                form,
                {"path": path, "method": operation.method, "headers": {"Accept": form}} | sent,
            )


def lacks(form: str, text: str) -> bool:
    """Whether an answer lacks the caution in a place where a reader of this form looks for it."""
    match form:
        case "application/json":
            return bool(json.loads(text)["caution"] != CAUTION)
        case "application/x-ndjson":
            reports = [json.loads(line).get("report") for line in text.splitlines()]
            return any(report["caution"] != CAUTION for report in reports if report)
        case "text/csv":
            rows = list(csv.DictReader(StringIO(text)))
            good = [row for row in rows if row["status"] == "200"]
            return not good or any(row["caution"] != SHORT_CAUTION for row in good)
        case "image/svg+xml":
            return not in_drawing(text)
        case _:
            return CAUTION not in html.unescape(" ".join(text.split()))


def in_picture(data: bytes) -> str:
    """The disclaimer of a picture."""
    return str(Image.open(BytesIO(data)).info["Disclaimer"])


def in_drawing(text: str) -> bool:
    """Whether the caution can be read in a drawing, is in its metadata and is read aloud."""
    svg = ET.fromstring(text)
    drawn = " ".join(each.text or "" for each in svg.iter(f"{SVG_NAMES}text"))
    described = svg.findtext(f"{SVG_NAMES}desc", "")
    whole = svg.findtext(f"{SVG_NAMES}metadata")
    return SHORT_CAUTION in drawn and SHORT_CAUTION in described and whole == CAUTION


@pytest.mark.slow
def test_every_form_of_every_answer_carries_the_caution(client: FlaskClient) -> None:
    missing = []
    seen: set[tuple[str, str]] = set()
    for operation in OPERATIONS.values():
        if operation.path in NEED_NONE:
            continue
        for form, request in asked(operation):
            answer = client.open(**request)
            text = in_picture(answer.data) if form == PNG else answer.get_data(as_text=True)
            assert answer.status_code == 200, (operation.name, form, text)
            seen.add((operation.name, form))
            if lacks(form, text):
                missing.append((operation.name, form))
    assert not missing
    assert {form for _, form in seen} == {JSON, NDJSON, CSV, SVG, PNG, "text/html"}
    assert {path for _, path in OPERATIONS} >= NEED_NONE.keys()


def test_the_short_caution_agrees_with_the_whole() -> None:
    beginning = "A computed result is not a safety approval"
    assert CAUTION.startswith(beginning)
    assert SHORT_CAUTION.startswith(beginning)
    for words in ("isolate and lock out before reaching into", "ualified staff decide."):
        assert words in CAUTION
        assert words in SHORT_CAUTION


UNBOUND = parse_weave("double cloth plain + plain").rows


@pytest.mark.parametrize("view", ["point_paper", "cloth_face"])
@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (
            ("1111", "1010", "0101", "1010"),
            "Loose picks of the repeat, which never interlace: 1.",
        ),
        (UNBOUND, "Falls apart: 2 cloths that are not bound to one another."),
    ],
)
def test_a_drawing_of_a_cloth_that_falls_apart_says_so(
    client: FlaskClient, view: str, rows: tuple[str, ...], words: str
) -> None:
    body = {"weave": {"rows": rows}, "view": view}
    svg = ET.fromstring(client.post("/v1/weaves", json=body, headers={"Accept": SVG}).data)
    drawn = " ".join(each.text or "" for each in svg.iter(f"{SVG_NAMES}text"))
    assert words in drawn
    assert words in svg.findtext(f"{SVG_NAMES}desc", "")
    whole = client.post(
        "/v1/weaves", json={**body, "weave": "2/2 twill Z"}, headers={"Accept": SVG}
    )
    assert "Falls apart" not in whole.text
    assert "never interlace" not in whole.text


def test_layers_that_are_meant_to_be_separate_do_not_fall_apart(client: FlaskClient) -> None:
    layers = {"ends": "1F 1B", "picks": "1F 1B", "joined": "separate"}
    body = {"weave": "double cloth plain + plain", "layers": layers}
    drawn = client.post("/v1/weaves", json=body, headers={"Accept": SVG}).text
    assert "Falls apart" not in drawn
    body["layers"] = {**layers, "joined": "stitched"}
    assert (
        "Falls apart: 2 parts" in client.post("/v1/weaves", json=body, headers={"Accept": SVG}).text
    )


@pytest.mark.slow
def test_the_drawing_of_a_report_says_so_too(client: FlaskClient) -> None:
    yarn = {"yarns": {"A": {"designation": "Ne 30"}}}
    construction = {
        "warp": {**yarn, "ends_per_cm": 28},
        "weft": {**yarn, "picks_per_cm": 24},
        "weave": {"rows": UNBOUND},
        "width_cm": 150,
    }
    request = {"construction": construction, "loom_id": "rapier-190-dobby"}
    link = client.post("/v1/validations", json=request).get_json()["links"]["self"]
    page = client.get(link, headers={"Accept": "text/html"}).text
    assert "Falls apart: 2 cloths that are not bound" in page
