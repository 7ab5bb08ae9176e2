"""Published values of ``tests/reference``, and how near to them a computed value must come."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

REFERENCE = Path(__file__).parents[1] / "reference"


@cache
def read(name: str) -> Any:
    """Return the content of a reference file."""
    return json.loads((REFERENCE / name).read_text(encoding="utf-8"))


@cache
def setting_cases() -> dict[str, dict[str, Any]]:
    """Return the published cases on setting, by their id."""
    return {case["id"]: case for case in read("setting.json")}


def tolerance(case: dict[str, Any]) -> float:
    """Return what a case allows: as stated; else half a unit of its last printed digit."""
    if case["tolerance"] is not None:
        return float(case["tolerance"])
    _, _, decimals = str(case["published_digits"]).partition(".")
    published = float(case["published"])
    return 0.5 * 10.0 ** -len(decimals) if decimals else 1e-9 * abs(published)
