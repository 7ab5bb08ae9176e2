"""Requests and a small park for the tests of the service."""

from __future__ import annotations

import json
from copy import deepcopy
from typing import Any, Final

from weavability.service.openapi import example_requests

PARK_TEXT: Final = """
[[loom]]
loom_id = "rapier-190-dobby"
description = "Rapier, 190 cm, dobby"
reed_width_cm = 190.0
max_speed_picks_per_min = 620
insertion = { system = "rapier", max_rate_m_per_min = 1150 }
shedding = { kind = "dobby", shafts = 20 }

[[loom]]
loom_id = "air-jet-190-cam"
reed_width_cm = 190
max_speed_picks_per_min = 900
insertion = { system = "air_jet" }
shedding = { kind = "cam", shafts = 8 }
"""


class _Delete:
    """Take a member out; named where a test shows it."""

    def __repr__(self) -> str:
        return "DELETE"


DELETE: Final = _Delete()


def full_request() -> dict[str, Any]:
    """The contract's construction on the contract's loom."""
    return deepcopy(example_requests.VALIDATION)


def small_request() -> dict[str, Any]:
    """The least that can be asked, in metric units, on a loom of the park."""
    return {
        "construction": {
            "warp": {
                "yarns": {"A": {"designation": "Ne 30", "fibre": "cotton"}},
                "ends_per_cm": 28,
            },
            "weft": {
                "yarns": {"A": {"designation": "Ne 30", "fibre": "cotton"}},
                "picks_per_cm": 24,
            },
            "weave": "plain",
            "width_cm": 150,
        },
        "loom_id": "rapier-190-dobby",
    }


def changed(request: dict[str, Any], pointer: str, value: object) -> dict[str, Any]:
    """Return ``request`` with the value at ``pointer`` set, or taken out (``DELETE``)."""
    result = deepcopy(request)
    *path, last = pointer.strip("/").split("/")
    node: Any = result
    for step in path:
        node = node[int(step)] if isinstance(node, list) else node.setdefault(step, {})
    if value is DELETE:
        del node[last]
    elif isinstance(node, list):
        node[int(last)] = value
    else:
        node[last] = value
    return result


def pretty(value: object) -> bytes:
    """Write JSON with plenty of white space, names in reverse order."""
    text = json.dumps(value, sort_keys=True, indent=4)
    return text.encode()
