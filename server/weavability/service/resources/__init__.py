"""What can be asked of the service, a module a subject."""

from __future__ import annotations

from importlib import import_module
from typing import Final

_MODULES: Final = (
    "validations",
    "validation_changes",
    "loom_matches",
    "insertion_rates",
    "changeovers",
    "weaves",
    "looms",
    "checks",
    "meta",
)


def load() -> None:
    """Import every module, so that its operations are registered."""
    for name in _MODULES:
        import_module(f"{__name__}.{name}")
