"""What can be asked of the service, a module a subject."""

from __future__ import annotations

from importlib import import_module
from typing import Final

from weavability.service.operations import OPERATIONS

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
    """Import every module, so that its operations are registered, in the order that stands here."""
    rank = {f"{__name__}.{name}": place for place, name in enumerate(_MODULES)}
    for module in rank:
        import_module(module)
    ordered = sorted(OPERATIONS.items(), key=lambda entry: rank[entry[1].view.__module__])
    OPERATIONS.clear()
    OPERATIONS.update(ordered)
