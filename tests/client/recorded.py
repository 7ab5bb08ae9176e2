"""Recorded answers of the service, each beside its request."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parent / "samples"
REPORTS = ("weavable", "weavable_with_warnings", "not_weavable")


def sample(name: str) -> dict[str, Any]:
    """Return ``{"request": ..., "answer": ...}`` as recorded."""
    read: dict[str, Any] = json.loads((FOLDER / f"{name}.json").read_text("utf-8"))
    return read
