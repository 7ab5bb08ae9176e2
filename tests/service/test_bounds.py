"""Every number is taken at its bounds and refused just beyond them, by the service as a whole."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from typing import Any

import pytest
from flask.testing import FlaskClient
from service.support import full_request
from service.test_schemas import FIELDS, NUMBERS, WHOLE

from weavability.service.schemas.fields import Items, Number, WholeNumber

# Instead of the field of the other unit, which the example states.
TWINS = {"_in": "_cm", "_yd": "_m"}


_NAMES_ANOTHER = re.compile(r"must be \w+ \w+ [a-z_]+ \(")


def stated() -> dict[str, Any]:
    """A request that states a loom, with room for every field."""
    request = full_request()
    request.pop("loom_id", None)
    return request


def pointer_of(path: str) -> str:
    """Return where a field is in a request: yarns and fibres have a key, lists a first entry."""
    parts: list[str] = []
    for part in path.strip("/").split("/"):
        parts.append(part)
        if part == "yarns":
            parts.append("A")
        elif part == "fibre_pct":
            parts.append("cotton")
        elif isinstance(FIELDS.get("/" + "/".join(each for each in parts if each != "A")), Items):
            parts.append("0")
    return "/" + "/".join(parts)


def put(request: dict[str, Any], pointer: str, value: float) -> dict[str, Any]:
    *path, last = pointer.strip("/").split("/")
    node: Any = request
    for step, following in zip(path, [*path[1:], last], strict=True):
        if isinstance(node, list):
            node = node[int(step)]
            continue
        node = node.setdefault(step, [{}] if following == "0" else {})
    if isinstance(node, dict):
        for inch, metric in TWINS.items():
            if last.endswith(inch):
                node.pop(last.removesuffix(inch) + metric, None)
        node[last] = value
    return request


def complaints(client: FlaskClient, pointer: str, value: float) -> list[str]:
    """What the service has against a value as such."""
    answer = client.post("/v1/validations", json=put(stated(), pointer, value))
    if answer.status_code == 200:
        return []
    found = answer.get_json(force=True)["errors"]
    return [each["message"] for each in found if each["pointer"] == pointer]


def offenders(client: FlaskClient) -> Iterator[str]:
    numbers: dict[str, Number | WholeNumber] = {**NUMBERS, **WHOLE}
    for path, field in numbers.items():
        if path.startswith("/construction/weave/"):
            continue
        bounds, pointer = field.bounds, pointer_of(path)
        for bound, beyond in (
            (bounds.least, -math.inf),
            (bounds.most, math.inf),
        ):
            outside = (
                bound + math.copysign(1, beyond) if path in WHOLE else math.nextafter(bound, beyond)
            )
            at_it = complaints(client, pointer, bound)
            # That another field disagrees is another matter.
            if any("must be" in each and not _NAMES_ANOTHER.search(each) for each in at_it):
                yield f"{pointer} refuses its own bound {bound:g}: {at_it}"
            if not any("must be" in each for each in complaints(client, pointer, outside)):
                yield f"{pointer} takes {outside!r}, beyond {bound:g}"


@pytest.mark.slow
def test_numbers_are_taken_at_their_bounds_and_not_beyond(client: FlaskClient) -> None:
    assert list(offenders(client)) == []
