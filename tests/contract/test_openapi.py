"""The OpenAPI document: committed, valid, complete, and true of what the service answers."""

from __future__ import annotations

import json
from collections.abc import Iterator
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from jsonschema import Draft202012Validator
from openapi_spec_validator import OpenAPIV31SpecValidator

from weavability.service import create_app, examples
from weavability.service.openapi.document import written
from weavability.service.openapi.shapes import spoken
from weavability.service.problems import KINDS

COMMITTED = Path(__file__).parents[2] / "openapi" / "openapi.json"
DOCUMENT: dict[str, Any] = json.loads(written())
SCHEMAS: dict[str, Any] = DOCUMENT["components"]["schemas"]
OPERATIONS = {
    f"{method.upper()} {path}": operation
    for path, methods in DOCUMENT["paths"].items()
    for method, operation in methods.items()
}


@pytest.fixture(scope="module")
def app() -> Flask:
    return create_app()


def strict(schema: Any) -> Any:
    """Return the document's schema with unknown members refused.

    The document leaves answers open, so that clients survive new members; the tests do not.
    """
    closed = deepcopy({"components": DOCUMENT["components"], **schema})
    for each in closed["components"]["schemas"].values():
        if "properties" in each:
            each["additionalProperties"] = False
    return closed


def errors_of(value: object, schema: Any) -> list[str]:
    found = Draft202012Validator(strict(schema)).iter_errors(value)
    return [f"{error.json_path}: {error.message}" for error in found]


def test_the_committed_document_is_current() -> None:
    assert COMMITTED.read_bytes() == written(), (
        "write it anew: python -m weavability.service.openapi openapi/openapi.json"
    )


def test_it_is_valid_openapi_31() -> None:
    OpenAPIV31SpecValidator(DOCUMENT).validate()
    for schema in SCHEMAS.values():
        Draft202012Validator.check_schema(schema)


def test_it_is_what_the_service_serves(app: Flask) -> None:
    assert json.loads(app.test_client().get("/openapi.json").data) == DOCUMENT


def test_every_address_of_the_service_is_described(app: Flask) -> None:
    rules = {
        f"{method} {rule.rule.replace('<', '{').replace('>', '}')}"
        for rule in app.url_map.iter_rules()
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS", "QUERY"}
        if rule.endpoint != "static"
    }
    assert rules == OPERATIONS.keys()


@pytest.mark.parametrize("name", OPERATIONS)
def test_every_operation_is_explained(name: str) -> None:
    operation = OPERATIONS[name]
    assert operation["summary"]
    assert operation["description"]
    assert operation["tags"]
    for parameter in operation["parameters"]:
        assert parameter["description"]
    for status, answer in operation["responses"].items():
        assert status.isdecimal()
        assert answer.get("description") or answer.get("$ref")


def test_operation_names_are_unique() -> None:
    names = [operation["operationId"] for operation in OPERATIONS.values()]
    assert len(names) == len(set(names))


def members() -> Iterator[tuple[str, str]]:
    for title, schema in SCHEMAS.items():
        for name in schema.get("properties", {}):
            yield title, name


@pytest.mark.parametrize(("title", "name"), list(members()))
def test_every_field_is_described_in_words_of_its_own(title: str, name: str) -> None:
    words = SCHEMAS[title]["properties"][name]["description"]
    assert words.endswith(".")
    assert words.partition(" [")[0].rstrip(".") != spoken(name)


UNITS = ("_cm", "_mm", "_m", "_pct", "_tex", "_per_min", "_per_cm", "_kg", "_km", "_ms", "_cn")


@pytest.mark.parametrize(("title", "name"), list(members()))
def test_every_field_that_ends_in_a_unit_states_it(title: str, name: str) -> None:
    schema = SCHEMAS[title]["properties"][name]
    if name.endswith(UNITS) and "$ref" not in schema:
        assert "[" in schema["description"]


def answers() -> Iterator[tuple[str, str, Any, Any]]:
    """Every example of an answer, with its schema."""
    for name, operation in OPERATIONS.items():
        content = operation["responses"]["200"]["content"].get("application/json", {})
        for example, shown in content.get("examples", {}).items():
            yield name, example, shown["value"], content["schema"]


@pytest.mark.parametrize(
    ("value", "schema"),
    [(value, schema) for _, _, value, schema in answers()],
    ids=[f"{name} {example}" for name, example, _, _ in answers()],
)
def test_the_services_own_answers_hold_against_the_schemas(value: object, schema: Any) -> None:
    assert errors_of(value, schema) == []


UNSHOWN = {"GET /openapi.json", "GET /metrics", "GET /docs"}


@pytest.mark.parametrize("name", sorted(OPERATIONS.keys() - UNSHOWN))
def test_every_operation_shows_an_answer(name: str) -> None:
    assert name in {shown for shown, _, _, _ in answers()}


@pytest.mark.parametrize("name", [n for n, each in OPERATIONS.items() if "requestBody" in each])
def test_every_request_shows_a_body_that_holds_against_its_schema(name: str) -> None:
    content = OPERATIONS[name]["requestBody"]["content"]["application/json"]
    assert content["examples"]
    for shown in content["examples"].values():
        assert errors_of(shown["value"], content["schema"]) == []


@pytest.mark.parametrize("slug", KINDS)
def test_every_problem_shows_an_example(slug: str) -> None:
    content = DOCUMENT["components"]["responses"][slug]["content"]["application/problem+json"]
    value = content["examples"][slug]["value"]
    assert value["status"] == KINDS[slug].status
    assert value["type"] == f"/problems/{slug}"
    assert errors_of(value, content["schema"]) == []


def test_the_example_of_a_bad_request_shows_several_faults() -> None:
    content = DOCUMENT["components"]["responses"]["invalid-request"]["content"]
    shown = content["application/problem+json"]["examples"]["invalid-request"]["value"]
    assert len(shown["errors"]) >= 4


@pytest.mark.parametrize(
    "change",
    [
        {"length_m": None},
        {"stage": "finished"},
        {"stage": "loom_state"},
        {"width_cm": 400},
        {"panels": 2, "width_cm": 70},
        {"weave": "8-end satin move 3"},
        {"weave": {"rows": ["1100", "0110", "0011", "1001"]}},
        {"reed": None, "draft": None, "requested_speed_picks_per_min": None},
    ],
    ids=repr,
)
@pytest.mark.parametrize(
    "loom_id", ["R190-dobby", "R190-cam", "R280-jacquard", "A190-cam", "P360-cam", "S130-cam"]
)
def test_reports_hold_against_the_schema(app: Flask, change: dict[str, Any], loom_id: str) -> None:
    request = {"construction": examples.CONSTRUCTION | change, "loom_id": loom_id}
    answer = app.test_client().post("/v1/validations", json=request)
    value = json.loads(answer.data)
    title = "Report" if answer.status_code == 200 else "Problem"
    assert errors_of(value, {"$ref": f"#/components/schemas/{title}"}) == []
    assert answer.status_code in {200, 422}


def accepts(value: object) -> bool:
    return not errors_of(value, {"$ref": "#/components/schemas/ValidationRequest"})


def test_the_schema_of_requests_refuses_what_the_service_refuses(app: Flask) -> None:
    for change in (
        {"width_cm": -1},
        {"width_cm": "150"},
        {"panels": 1.5},
        {"stage": "greige"},
        {"unknown": 1},
        {"weave": 3},
        {"weave": {"rows": [1]}},
        {"reference": "x" * 201},
    ):
        request = {"construction": examples.CONSTRUCTION | change, "loom_id": "R190-dobby"}
        assert not accepts(request), change
        assert app.test_client().post("/v1/validations", json=request).status_code == 422
