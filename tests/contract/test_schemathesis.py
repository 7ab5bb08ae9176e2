"""The whole document, tried: every operation, every check, hundreds of requests each in process.

CONTRACT_EXAMPLES in the environment sets how many; more than the 200 of every run find more.

QUERY has no place in OpenAPI 3.1; here it is described as OpenAPI 3.2 would, so that it is tried as
well. In process the problems that any address may answer (``default``) are taken out, so that a
status that is not named for its operation is found.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator
from copy import deepcopy
from typing import Any, Final

import pytest
import schemathesis
from flask import Flask
from hypothesis import HealthCheck, Phase, settings
from schemathesis.specs.openapi.checks import positive_data_acceptance
from service.servers import serving

from weavability.service import create_app
from weavability.service.app import openapi_document
from weavability.service.openapi.document import written

EXAMPLES: Final = int(os.environ.get("CONTRACT_EXAMPLES", "200"))
BATCHES: Final = ("application/x-ndjson", "text/csv")
CHECKS: Final = {
    # A schema cannot tell a good yarn or weave from a bad one, so it may take what is refused.
    "positive_data_acceptance": {"expected-statuses": ["2xx", "304", "404", "422"]},
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
            methods["query"]["operationId"] += "_by_query"
        for operation in methods.values() if strict else ():
            del operation["responses"]["default"]
    return {**document, "openapi": "3.2.0"}


def schema_of_the_service(app: Flask | None) -> Any:
    document = with_queries(json.loads(written(openapi_document())), strict=app is not None)
    config = schemathesis.Config.from_dict({"checks": CHECKS})
    schema = schemathesis.openapi.from_dict(document, config=config)
    schema.app = app
    return schema


def tried(examples: int, **more: Any) -> settings:
    return settings(
        max_examples=examples,
        deadline=None,
        derandomize=True,
        database=None,
        suppress_health_check=list(HealthCheck),
        **more,
    )


def validate(case: Any, **where: Any) -> None:
    # Any bytes are a batch by the schema, but not every sheet has a header.
    excluded = [positive_data_acceptance] if case.media_type in BATCHES else []
    case.call_and_validate(excluded_checks=excluded, **where)


IN_PROCESS: Final = schema_of_the_service(create_app())
operations: Final[Callable[..., Any]] = IN_PROCESS.exclude(method="QUERY").parametrize()
queries: Final[Callable[..., Any]] = IN_PROCESS.include(method="QUERY").parametrize()
over_http: Final[Callable[..., Any]] = schema_of_the_service(None).parametrize()


@operations
@tried(EXAMPLES)
def test_the_service_keeps_to_its_document(case: Any) -> None:
    validate(case)


@queries
@tried(EXAMPLES // 4)
def test_queries_are_answered_as_posts_are_described(case: Any) -> None:
    validate(case)


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with serving("--workers", "1") as server:
        yield server.url


@over_http
@tried(EXAMPLES // 20, phases=[Phase.generate])
def test_the_running_service_keeps_to_its_document(case: Any, address: str) -> None:
    validate(case, base_url=address)
