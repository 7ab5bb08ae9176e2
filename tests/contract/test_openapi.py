"""The OpenAPI document: committed, valid, complete, and true of what the service answers."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from collections.abc import Iterator
from copy import deepcopy
from functools import cache
from pathlib import Path
from typing import Any, Final

import pytest
from flask import Flask
from jsonschema import Draft202012Validator

from weavability.service.app import openapi_document
from weavability.service.http.problems import KINDS
from weavability.service.openapi import example_requests
from weavability.service.openapi.document import written

COMMITTED = Path(__file__).parents[2] / "openapi" / "openapi.json"
DOCUMENT: dict[str, Any] = json.loads(COMMITTED.read_bytes())
"""The committed one, which a test holds to be that of the service: to make it takes seconds."""

SCHEMAS: dict[str, Any] = DOCUMENT["components"]["schemas"]
OPERATIONS = {
    f"{method.upper()} {path}": operation
    for path, methods in DOCUMENT["paths"].items()
    for method, operation in methods.items()
}


def resolved(part: Any) -> Any:
    """Follow the reference, where a part of the document is one."""
    if "$ref" not in part:
        return part
    found: Any = DOCUMENT
    for step in part["$ref"].removeprefix("#/").split("/"):
        found = found[step]
    return found


@pytest.fixture(scope="module")
def app(demo_app: Flask) -> Flask:
    return demo_app


@cache
def closed_components() -> dict[str, Any]:
    """Components of the document with unknown members refused.

    The document leaves answers open, so that clients survive new members; the tests do not.
    """
    closed: dict[str, Any] = deepcopy(DOCUMENT["components"])
    for each in closed["schemas"].values():
        if "properties" in each:
            each["additionalProperties"] = False
    return closed


def errors_of(value: object, schema: Any) -> list[str]:
    strict = Draft202012Validator({"components": closed_components(), **schema})
    return [f"{error.json_path}: {error.message}" for error in strict.iter_errors(value)]


def test_the_committed_document_is_current() -> None:
    assert COMMITTED.read_bytes() == written(openapi_document()), (
        "the service has changed: run openapi/regenerate"
    )


@pytest.mark.slow
def test_the_order_does_not_hang_on_what_was_imported_first() -> None:
    program = (
        "import weavability.service.resources.weaves, weavability.service.resources.meta\n"
        "from weavability.service import create_app\n"
        "create_app()\n"
        "from weavability.service.operations import OPERATIONS\n"
        "print(*dict.fromkeys(path for _, path in OPERATIONS))"
    )
    printed = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert printed.stdout.split() == list(DOCUMENT["paths"])


@pytest.mark.slow
def test_it_is_valid_openapi_31() -> None:
    from openapi_spec_validator import OpenAPIV31SpecValidator  # slow to import

    OpenAPIV31SpecValidator(DOCUMENT).validate()
    for schema in SCHEMAS.values():
        Draft202012Validator.check_schema(schema)


@pytest.mark.slow
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


def test_every_operation_is_explained() -> None:
    for name, operation in OPERATIONS.items():
        assert operation["summary"], name
        assert operation["description"], name
        assert not operation["description"].startswith(operation["summary"]), name
        assert operation["tags"], name
        for parameter in operation["parameters"]:
            assert parameter["description"], (name, parameter["name"])
        for status, answer in operation["responses"].items():
            assert status.isdecimal() or status == "default", (name, status)
            assert resolved(answer)["description"], (name, status)


def test_operation_names_are_unique_and_say_what_is_done_to_what() -> None:
    names = [operation["operationId"] for operation in OPERATIONS.values()]
    assert len(names) == len(set(names))
    verbs = {"analyse", "compute", "find", "list", "plan", "rank", "show", "validate"}
    for name in names:
        verb, _, noun = name.partition("_")
        assert verb in verbs, name
        assert re.fullmatch("[a-z]+(_[a-z]+)*", noun), name


PYTHON: Final = re.compile(r":(class|func|data|meth|mod|attr):|``|(?<!-)\bNone\b(?!-)")


def texts(part: Any, place: str = "") -> Iterator[tuple[str, str]]:
    """Every text of the document, with its place."""
    if isinstance(part, str):
        yield place, part
    elif isinstance(part, dict):
        for name, each in part.items():
            yield from texts(each, f"{place}/{name}")
    elif isinstance(part, list):
        for each in part:
            yield from texts(each, place)


def test_no_text_of_the_document_is_in_the_words_of_a_programming_language() -> None:
    wrong = [(place, text[:200]) for place, text in texts(DOCUMENT) if PYTHON.search(text)]
    assert wrong == []


def members() -> Iterator[tuple[str, str, Any]]:
    """Every field of every schema: the schema's title, the field's name and its schema."""
    for title, schema in SCHEMAS.items():
        for name, field in schema.get("properties", {}).items():
            yield title, name, field


def test_every_field_is_described_in_words_of_its_own() -> None:
    bare = [
        f"{title}.{name}: {words!r}"
        for title, name, field in members()
        for words in [field["description"]]
        if not words.endswith(".")
        or words.partition(" [")[0].rstrip(".") == name.replace("_", " ").capitalize()
    ]
    assert bare == []


UNITS = ("_cm", "_mm", "_m", "_pct", "_tex", "_per_min", "_per_cm", "_kg", "_km", "_ms", "_cn")


def test_every_field_that_ends_in_a_unit_states_it() -> None:
    silent = [
        f"{title}.{name}: {field['description']!r}"
        for title, name, field in members()
        if name.endswith(UNITS) and "$ref" not in field and "[" not in field["description"]
    ]
    assert silent == []


def answers() -> Iterator[tuple[str, str, Any, Any]]:
    """Every example of an answer, with its schema."""
    for name, operation in OPERATIONS.items():
        content = operation["responses"]["200"]["content"].get("application/json", {})
        for example, shown in content.get("examples", {}).items():
            yield name, example, shown["value"], content["schema"]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("value", "schema"),
    [(value, schema) for _, _, value, schema in answers()],
    ids=[f"{name} {example}" for name, example, _, _ in answers()],
)
def test_the_services_own_answers_hold_against_the_schemas(value: object, schema: Any) -> None:
    assert errors_of(value, schema) == []


PAGES = {"GET /openapi.json", "GET /docs"}


def test_every_operation_shows_an_answer_in_every_form() -> None:
    shown = {
        (name, media_type): form.get("examples")
        for name in OPERATIONS.keys() - PAGES
        for media_type, form in OPERATIONS[name]["responses"]["200"]["content"].items()
    }
    assert {name for name, _ in shown} == OPERATIONS.keys() - PAGES
    bare = [each for each, examples in shown.items() if not examples]
    assert [each for each in bare if each[1] not in ("text/html", "image/png")] == []


REQUESTS = [name for name, each in OPERATIONS.items() if "requestBody" in each]


@pytest.mark.parametrize("name", REQUESTS)
def test_every_request_shows_a_body_that_holds_against_its_schema(name: str) -> None:
    for media_type, content in OPERATIONS[name]["requestBody"]["content"].items():
        assert content["examples"]
        for shown in content["examples"].values():
            if media_type == "application/json":
                assert errors_of(shown["value"], content["schema"]) == []
            else:
                assert isinstance(shown["value"], str)


def problems_of(name: str) -> Iterator[tuple[str, str, Any]]:
    """Every example of a problem that an operation answers: its status, slug and value."""
    for status, answer in OPERATIONS[name]["responses"].items():
        if status[0] in "45d":
            for content in resolved(answer)["content"].values():
                for slug, example in content["examples"].items():
                    yield status, slug, example["value"]


@pytest.mark.slow
@pytest.mark.parametrize("name", OPERATIONS)
def test_every_problem_of_an_operation_shows_an_example(name: str) -> None:
    found = list(problems_of(name))
    assert {"406", "500", "default"} <= {status for status, _, _ in found}
    for status, slug, value in found:
        assert status in {str(KINDS[slug].status), "default"}
        assert value["status"] == KINDS[slug].status
        assert value["type"] == f"/problems/{slug}"
        assert errors_of(value, {"$ref": "#/components/schemas/Problem"}) == []


def test_every_problem_is_answered_by_some_operation() -> None:
    answered = {slug for name in OPERATIONS for _, slug, _ in problems_of(name)}
    assert KINDS.keys() - answered == set()


def test_each_line_of_a_batch_is_an_item() -> None:
    content = OPERATIONS["POST /v1/validations"]["responses"]["200"]["content"]
    shown = content["application/x-ndjson"]
    lines = shown["examples"]["orders"]["value"].splitlines()
    assert [json.loads(line)["status"] for line in lines] == [200, 422]
    for line in lines:
        assert errors_of(json.loads(line), shown["schema"]["contentSchema"]) == []


def test_every_column_of_the_example_is_explained() -> None:
    operation = OPERATIONS["POST /v1/validations"]
    asked = operation["requestBody"]["content"]["text/csv"]
    answered = operation["responses"]["200"]["content"]["text/csv"]
    for content in (asked, answered):
        header = content["examples"]["orders"]["value"].splitlines()[0]
        for heading in header.split(","):
            named = heading.replace("_B", "_A").replace("weft_yarn", "warp_yarn")
            named = named.replace("weft_fibre", "warp_fibre")
            assert f"* `{named}`: " in content["schema"]["description"]


OPEN = {"/healthz", "/readyz", "/openapi.json", "/docs", "/evidence", "/problems/{slug}"}


def test_every_address_but_the_open_ones_may_request_a_token() -> None:
    for name, operation in OPERATIONS.items():
        path = name.partition(" ")[2]
        if path in OPEN:
            assert operation["security"] == [], name
        else:
            assert {"bearer": []} in operation["security"], name
            assert {"401", "403"} <= operation["responses"].keys(), name
            assert ("429" in operation["responses"]) == (path != "/metrics"), name


def parts(schema: Any) -> Iterator[Any]:
    """Every schema within a schema, references not followed; what is not read does not count."""
    if isinstance(schema, dict):
        if schema.get("readOnly"):
            return
        if "type" in schema or "anyOf" in schema or "$ref" in schema:
            yield schema
        for name, each in schema.items():
            if name not in {"examples", "enum", "const"}:
                yield from parts(each)
    elif isinstance(schema, list):
        for each in schema:
            yield from parts(each)


def incoming() -> dict[str, Any]:
    """The schemas of all that comes in, by name."""
    found: dict[str, Any] = {}
    waiting: list[Any] = [
        OPERATIONS[name]["requestBody"]["content"]["application/json"]["schema"]
        for name in REQUESTS
    ]
    while waiting:
        for part in parts(waiting.pop()):
            title = part.get("$ref", "").rpartition("/")[2]
            if title and title not in found:
                found[title] = SCHEMAS[title]
                waiting.append(SCHEMAS[title])
    return found


def is_bounded(part: Any) -> bool:
    """Whether a schema bounds what it takes, whichever its kinds are."""
    kinds = {part["type"]} if isinstance(part.get("type"), str) else set(part.get("type", ()))
    is_open_text = "string" in kinds and "enum" not in part and "const" not in part
    return (
        (not is_open_text or {"maxLength", "pattern"} <= part.keys())
        and (not kinds & {"integer", "number"} or {"minimum", "maximum"} <= part.keys())
        and ("array" not in kinds or "maxItems" in part)
        and (
            "object" not in kinds
            or part.get("additionalProperties") is False
            or "maxProperties" in part
        )
    )


def test_all_that_comes_in_is_bounded() -> None:
    found = [(title, part) for title, schema in incoming().items() for part in parts(schema)]
    assert len(found) > 500
    assert [each for each in found if not is_bounded(each[1])] == []


def test_the_example_of_a_bad_request_shows_several_faults() -> None:
    found = list(problems_of("POST /v1/validations"))
    shown = next(value for _, slug, value in found if slug == "invalid-request")
    assert len(shown["errors"]) >= 4


@pytest.mark.slow
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
    "loom_id",
    [
        "rapier-190-dobby",
        "rapier-190-cam",
        "rapier-280-jacquard",
        "air-jet-190-cam",
        "projectile-360-cam",
        "shuttle-130-cam",
    ],
)
def test_reports_hold_against_the_schema(app: Flask, change: dict[str, Any], loom_id: str) -> None:
    request = {"construction": example_requests.CONSTRUCTION | change, "loom_id": loom_id}
    answer = app.test_client().post("/v1/validations", json=request)
    value = json.loads(answer.data)
    title = "Report" if answer.status_code == 200 else "Problem"
    assert errors_of(value, {"$ref": f"#/components/schemas/{title}"}) == []
    assert answer.status_code in {200, 422}


def accepts(value: object) -> bool:
    return not errors_of(value, {"$ref": "#/components/schemas/ValidationRequest"})


@pytest.mark.slow
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
        request = {
            "construction": example_requests.CONSTRUCTION | change,
            "loom_id": "rapier-190-dobby",
        }
        assert not accepts(request), change
        assert app.test_client().post("/v1/validations", json=request).status_code == 422
