"""The whole document, tried: every operation, every check, hundreds of requests each in process.

How many requests are made up at random follows the hypothesis profile. Beside them every bound of
every field is tried once, with an operation of its own: a construction or a loom has some 2,300
bounds, and whatever else takes one is tried with a good one in its place.

QUERY has no place in OpenAPI 3.1; here it is described as OpenAPI 3.2 would, so that it is tried as
well. In process the problems that any address may answer (``default``) are taken out, so that a
status that is not named for its operation is found.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from copy import deepcopy
from pathlib import Path
from typing import Any, Final
from unittest import SkipTest

import pytest
import schemathesis
from flask import Flask
from hypothesis import HealthCheck, Phase, settings
from profiles import examples
from schemathesis.checks import load_all_checks
from schemathesis.core.result import Ok
from schemathesis.pytest.lazy import get_all_tests
from schemathesis.specs.openapi.checks import positive_data_acceptance
from service.servers import serving

from weavability.service import create_app

pytestmark = pytest.mark.slow

BY_QUERY: Final = "_by_query"
SCHEMAS: Final = "#/components/schemas/"
LONGEST_ARRAY: Final = 1000
BOUNDS_OF_PARTS: Final = "validate_construction"
ALTERNATIVES: Final = {
    "ValidationRequest": ["loom_id"],
    "LoomMatchRequest": ["loom_ids"],
    "InsertionRateRequest": ["loom_id", "reed_width_in", "weft"],
    "ChangeoverRequest": ["loom_id", "orders", "on_loom"],
    "WeaveRequest": ["ends_per_in", "picks_per_in", "reed_width_in"],
    "Construction": ["width_in", "length_yd"],
    "Warp": ["ends_per_in", "contraction_pct"],
    "Weft": ["picks_per_in", "contraction_pct"],
    "Yarn": [
        *("linear_density_tex", "sample_length_m", "sample_length_yd", "sample_mass_g"),
        *("sample_mass_grains", "contraction_pct", "tape_width_mm", "tape_thickness_mm"),
    ],
    "Reed": ["count", "system", "ends_in_dents"],
    "Loom": ["boxes"],
}
"""What is stated in place of another field: beside it, every request would be refused for that."""
IN_PROCESS: Final = (Phase.explicit, Phase.generate, Phase.shrink)
BATCHES: Final = ("application/x-ndjson", "text/csv")
CHECKS: Final = {
    # A schema cannot separate good yarns and weaves from bad ones: it may take what is refused. A
    # form leads to the address of its page.
    "positive_data_acceptance": {"expected-statuses": ["2xx", "303", "304", "404", "422"]},
    "negative_data_rejection": {
        "expected-statuses": ["400", "404", "405", "406", "413", "414", "415", "422", "431"]
    },
}


@schemathesis.serializer(*BATCHES)
def as_it_is(_: Any, value: Any) -> bytes:
    """Send a batch as the bytes that were made up."""
    data = getattr(value, "data", value)
    return data if isinstance(data, bytes) else str(data).encode("utf-8", "replace")


def with_queries(document: dict[str, Any], *, strict: bool) -> dict[str, Any]:
    """Describe QUERY beside POST; where strict, leave out what any address may answer."""
    for methods in document["paths"].values():
        post = methods.get("post")
        if post and "Accept-Query" in post["responses"]["200"]["headers"]:
            methods["query"] = deepcopy(post)
            methods["query"]["operationId"] += BY_QUERY
        for operation in methods.values() if strict else ():
            del operation["responses"]["default"]
    return {**document, "openapi": "3.2.0"}


def without_long_arrays(part: Any) -> Any:
    """Leave out the bounds of arrays whose first row too many makes a body of 48 MB."""
    if isinstance(part, dict):
        return {
            key: without_long_arrays(value)
            for key, value in part.items()
            if key != "maxItems" or value <= LONGEST_ARRAY
        }
    return [without_long_arrays(each) for each in part] if isinstance(part, list) else part


def without_alternatives(document: dict[str, Any]) -> dict[str, Any]:
    """Leave out what would contradict another field, so that only a bound can refuse a request."""
    for name, alternatives in ALTERNATIVES.items():
        for each in alternatives:
            del document["components"]["schemas"][name]["properties"][each]
    return document


def with_good_parts(document: dict[str, Any]) -> dict[str, Any]:
    """Put a good construction, loom, weave and yarn into requests, in place of their schemas."""
    schemas = document["components"]["schemas"]
    good = document["paths"]["/v1/validations"]["post"]["requestBody"]["content"]
    values = [each["value"] for each in good["application/json"]["examples"].values()]
    cloth, loom = values[0]["construction"], next(each["loom"] for each in values if "loom" in each)
    parts = {
        "Construction": cloth,
        "Weave": cloth["weave"],
        "Yarn": next(iter(cloth["weft"]["yarns"].values())),
        "Loom": loom,
        "Shedding": loom["shedding"],
    }

    def replaced(part: Any) -> Any:
        if isinstance(part, dict):
            kind = next((each for each in part.get("anyOf", ()) if "$ref" in each), part)
            name = str(kind.get("$ref", "")).removeprefix(SCHEMAS)
            if name in parts:
                good_or_none = [parts[name]] if kind is part else [parts[name], None]
                return {"enum": good_or_none, "examples": [parts[name]]}
            return {key: replaced(value) for key, value in part.items()}
        return [replaced(each) for each in part] if isinstance(part, list) else part

    for name in [each for each in schemas if each.endswith("Request")]:
        schemas[name] = replaced(schemas[name])
    return document


def schema_of_the_service(
    app: Flask | None, *, bounds: bool = False, good_parts: bool = False
) -> Any:
    """Read the document; with the bounds of each field to try, or else to make up requests from."""
    document = with_queries(json.loads(DOCUMENT), strict=app is not None)
    if bounds:
        document = without_alternatives(without_long_arrays(document))
    if good_parts:
        document = with_good_parts(document)
    phases = {"coverage": {"enabled": bounds}, "examples": {"enabled": not bounds}}
    config = schemathesis.Config.from_dict({"checks": CHECKS, "phases": phases})
    schema = schemathesis.openapi.from_dict(document, config=config)
    schema.app = app
    return schema


def hold(
    schema: Any, operation: str, *phases: Phase, most: int = 1, base_url: str | None = None
) -> None:
    """Try one operation: as described (``explicit``), and made up at random (``generate``)."""
    limits = settings(
        max_examples=most,
        deadline=None,
        derandomize=True,
        database=None,
        suppress_health_check=list(HealthCheck),
        phases=phases,
    )

    def validate(case: Any) -> None:
        # Any bytes are a batch by the schema, but not every sheet has a header.
        excluded = [positive_data_acceptance] if case.media_type in BATCHES else []
        case.call_and_validate(excluded_checks=excluded, base_url=base_url)

    load_all_checks()
    chosen = schema.include(operation_id=operation)
    (made,) = get_all_tests(schema=chosen, test_func=validate, settings=limits, given_kwargs={})
    assert isinstance(made, Ok), made
    _, test = made.ok()
    try:
        test()
    except SkipTest as skipped:
        pytest.fail(f"nothing was tried: {skipped}")


# The committed document is the one that is served: test_openapi.py holds that. Cases are made up by
# the test that needs them; made with the list of tests, they would cost every worker half a minute.
DOCUMENT: Final = (Path(__file__).parents[2] / "openapi" / "openapi.json").read_bytes()
IDS: Final = [
    operation["operationId"]
    for methods in with_queries(json.loads(DOCUMENT), strict=True)["paths"].values()
    for operation in methods.values()
]
QUERIES: Final = [each for each in IDS if each.endswith(BY_QUERY)]
OTHERS: Final = [each for each in IDS if each not in QUERIES]


@pytest.fixture(scope="module")
def app() -> Flask:
    return create_app()


@pytest.fixture(scope="module")
def in_process(app: Flask) -> Any:
    return schema_of_the_service(app)


@pytest.fixture(scope="module")
def over_http() -> Any:
    return schema_of_the_service(None)


@pytest.fixture(scope="module")
def bounds_with_good_parts(app: Flask) -> Any:
    return schema_of_the_service(app, bounds=True, good_parts=True)


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with serving("--workers", "1") as server:
        yield server.url


@pytest.mark.parametrize("operation", OTHERS)
def test_the_service_keeps_to_its_document(in_process: Any, operation: str) -> None:
    hold(in_process, operation, *IN_PROCESS, most=examples(0.5))


@pytest.mark.parametrize("operation", QUERIES)
def test_queries_are_answered_as_posts_are_described(in_process: Any, operation: str) -> None:
    hold(in_process, operation, *IN_PROCESS, most=examples(0.25))


@pytest.mark.parametrize("operation", IDS)
def test_the_running_service_keeps_to_its_document(
    over_http: Any, operation: str, address: str
) -> None:
    hold(over_http, operation, Phase.generate, most=examples(0.1), base_url=address)


def test_every_bound_of_a_construction_and_a_loom_is_kept(app: Flask) -> None:
    hold(schema_of_the_service(app, bounds=True), BOUNDS_OF_PARTS, Phase.explicit)


@pytest.mark.parametrize("operation", [each for each in OTHERS if each != BOUNDS_OF_PARTS])
def test_every_other_bound_is_kept(bounds_with_good_parts: Any, operation: str) -> None:
    hold(bounds_with_good_parts, operation, Phase.explicit)
