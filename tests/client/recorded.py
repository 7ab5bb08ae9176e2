"""Recorded answers of the service, each beside its request.

``openapi/regenerate`` records them anew, after a change of rules or shapes.
"""

from __future__ import annotations

import json
import re
import sys
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from flask.testing import FlaskClient

import weavability
from weavability.service import create_app
from weavability.service.http.links import pack
from weavability.service.openapi.example_requests import DESIGN
from weavability.service.requests.canonical import canonical_request

FOLDER: Final = Path(__file__).parent / "samples"
REPORTS: Final = ("weavable", "weavable_with_warnings", "not_weavable")
REQUEST_ID: Final = "0123456789abcdef"
DIGESTS: Final = frozenset({"validation_id", "ruleset", "park", "etag"})
"""Members that name rules and limits: they change with any of them, and nothing reads them."""
LINKED: Final = re.compile(r"v1\.[A-Za-z0-9_-]{20,}")
"""A request packed into a link: it changes with the form of requests."""

JSON: Final = "application/json"
LINES: Final = "application/x-ndjson"
SVG: Final = "image/svg+xml"
ORDERS: Final[Mapping[str, Mapping[str, Any]]] = {
    each["construction"]["reference"]: {
        "construction": each["construction"],
        "loom_id": each["loom_id"],
    }
    for each in tomllib.loads(
        (Path(weavability.__file__).parent / "data" / "demo_orders.toml").read_text("utf-8")
    )["order"]
}
LINK: Final = f"/v1/validations/{pack(canonical_request(dict(ORDERS['D-101'])))}"
COLOURS: Final = {"order": "24A 4B", "colours": {"A": "#1c2a4a", "B": "#f4f1e8"}}
WEAVE: Final[Mapping[str, Any]] = {
    "weave": "2/2 twill Z",
    "ends_per_cm": 32,
    "picks_per_cm": 24,
    "warp": COLOURS,
    "weft": COLOURS,
    "reed_width_cm": 160,
    "draft": {"threading": "straight"},
    "shedding": {"kind": "dobby", "shafts": 20},
    "against": "2/2 twill S",
}
WEAVE_ON_HOOKS: Final[Mapping[str, Any]] = {
    "weave": "8-end satin move 3",
    "ends_per_cm": 36,
    "reed_width_cm": 150,
    "shedding": {
        "kind": "jacquard",
        "hooks": 2400,
        "ends_per_hook": 2,
        "harness_ends_per_cm": 36,
    },
}
WINDOW: Final[Mapping[str, Any]] = {
    **ORDERS["D-116"],
    "across": {"pointer": "/construction/warp/ends_per_cm", "from": 6, "to": 12, "points": 7},
    "along": {"pointer": "/construction/weft/picks_per_cm", "from": 4, "to": 10, "points": 7},
}
INVALID: Final[Mapping[str, Any]] = {
    "construction": {
        "warp": {"yarns": {"A": {"designation": "Ne 40", "fibre": "cotton"}}},
        "weft": {
            "yarns": {"A": {"designation": "Ne 40", "fibre": "coton"}},
            "picks_per_cm": 30,
        },
        "weave": "plain",
        "width_cm": -3,
    },
    "loom_id": "rapier-190-doby",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A request to the service; several requests make a batch."""

    method: str = "POST"
    path: str = "/v1/validations"
    request: Any = None
    batch: bool = False
    accept: str = JSON


CASES: Final[Mapping[str, Case]] = {
    "weavable": Case(request=ORDERS["D-105"]),
    "weavable_with_warnings": Case(request=ORDERS["D-115"]),
    "not_weavable": Case(request=ORDERS["D-116"]),
    "decisive": Case(request=dict(ORDERS["D-101"]) | {"options": {"decisive_assumptions": True}}),
    "invalid": Case(request=INVALID),
    "batch": Case(request=[ORDERS["D-101"], INVALID], batch=True, accept=LINES),
    "again": Case(method="GET", path=LINK),
    "changes": Case(
        path="/v1/validation-changes",
        request={
            "items": [
                {"link": LINK, "etag": "0", "codes": ["warp.beam_capacity", "reed.not_in_stock"]},
                {"link": LINK, "etag": "0"},
                {"link": "/v1/validations/v1.damaged", "etag": "0"},
            ]
        },
    ),
    "rates": Case(
        path="/v1/insertion-rates",
        request=dict(ORDERS["D-103"])
        | {"sweep": {"over": "speed_picks_per_min", "from": 300, "to": 600, "points": 3}},
    ),
    "rates_of_a_jet": Case(
        path="/v1/insertion-rates",
        request={"loom_id": "air-jet-190-cam", "weft": {"designation": "Ne 40", "fibre": "cotton"}},
    ),
    "drawn_rates": Case(
        path="/v1/insertion-rates",
        request={
            "loom_id": "rapier-190-dobby",
            "weft": {"designation": "Ne 20", "fibre": "cotton"},
        },
        accept=SVG,
    ),
    "matches": Case(
        path="/v1/loom-matches",
        request={
            "construction": ORDERS["D-103"]["construction"],
            "loom_ids": ["rapier-190-dobby", "rapier-190-jacquard", "shuttle-130-cam"],
            "on_loom": {"rapier-190-dobby": ORDERS["D-109"]["construction"]},
        },
    ),
    "remedies": Case(path="/v1/remedies", request=ORDERS["D-116"]),
    "window": Case(path="/v1/windows", request=WINDOW),
    "drawn_window": Case(path="/v1/windows", request=WINDOW, accept=SVG),
    "design": Case(path="/v1/designs", request=DESIGN),
    "changeover": Case(
        path="/v1/changeovers",
        request={
            "from": ORDERS["D-103"]["construction"],
            "to": ORDERS["D-109"]["construction"],
            "loom_id": "rapier-190-dobby",
            "rates": {"knots_per_h": 5000},
        },
    ),
    "changeover_that_cannot_be_woven": Case(
        path="/v1/changeovers",
        request={
            "from": ORDERS["D-103"]["construction"],
            "to": ORDERS["D-104"]["construction"],
            "loom_id": "rapier-190-dobby",
        },
    ),
    "sequence": Case(
        path="/v1/changeovers",
        request={
            "orders": [ORDERS[name]["construction"] for name in ("D-103", "D-109", "D-104")],
            "on_loom": ORDERS["D-109"]["construction"],
            "loom_id": "rapier-190-dobby",
        },
    ),
    "notations": Case(method="GET", path="/v1/weaves"),
    "weave": Case(path="/v1/weaves", request=WEAVE),
    "weave_on_hooks": Case(path="/v1/weaves", request=WEAVE_ON_HOOKS),
    "weave_with_faults": Case(
        path="/v1/weaves",
        request={"weave": {"rows": ["1000", "1110", "0010", "1011"]}, "against": "plain"},
    ),
    "drawn_weave": Case(path="/v1/weaves", request={"weave": "2/2 twill Z"}, accept=SVG),
    "loom": Case(method="GET", path="/v1/looms/rapier-190-dobby"),
    "check": Case(method="GET", path="/v1/checks/sett.tight"),
    "not_found": Case(method="GET", path="/v1/looms/rapier-190-doby"),
}


def sample(name: str) -> dict[str, Any]:
    """Return ``{"request": ..., "status": ..., "answer": ...}`` as recorded."""
    read: dict[str, Any] = json.loads((FOLDER / f"{name}.json").read_text("utf-8"))
    return read


def ask(service: FlaskClient, case: Case) -> Any:
    """Return what the service answers now, as it is recorded."""
    response = service.open(
        case.path,
        method=case.method,
        data=_body(case),
        content_type=None if case.request is None else LINES if case.batch else JSON,
        headers={"Accept": f"{case.accept}, application/problem+json", "X-Request-Id": REQUEST_ID},
    )
    text = response.get_data(as_text=True)
    kind = response.mimetype or ""
    answer = text if kind == SVG else _lines(text) if kind == LINES else json.loads(text)
    return masked(
        {
            "method": case.method,
            "path": case.path,
            "request": case.request,
            "status": response.status_code,
            "content_type": kind,
            "answer": answer,
        }
    )


def _lines(text: str) -> list[Any]:
    return [json.loads(line) for line in text.splitlines()]


def _body(case: Case) -> str | None:
    if case.request is None:
        return None
    return "\n".join(map(json.dumps, case.request)) if case.batch else json.dumps(case.request)


def masked(value: Any) -> Any:
    """Return parsed JSON with every digest of rules and limits, and every link, masked."""
    match value:
        case dict():
            return {
                key: "masked" if key in DIGESTS else masked(each) for key, each in value.items()
            }
        case list():
            return [masked(each) for each in value]
        case str():
            return LINKED.sub("v1.masked", value)
        case _:
            return value


def record() -> None:
    """Write every sample anew."""
    service = create_app().test_client()
    for name, case in CASES.items():
        text = json.dumps(ask(service, case), indent=1, ensure_ascii=False)
        path = FOLDER / f"{name}.json"
        path.write_text(text + "\n", "utf-8")
        sys.stdout.write(f"wrote tests/client/samples/{path.name}\n")


if __name__ == "__main__":
    record()
