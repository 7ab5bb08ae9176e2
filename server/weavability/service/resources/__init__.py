"""The operations of the service, one module for each subject."""

from __future__ import annotations

from weavability.service.operations import OPERATIONS
from weavability.service.resources import (
    board,
    changeovers,
    checks,
    designs,
    evidence,
    insertion_rates,
    loom_matches,
    looms,
    matches,
    messages,
    meta,
    order_form,
    remedies,
    setup_sheets,
    validation_changes,
    validations,
    weaves,
    windows,
)

__all__ = ["OPERATIONS"]

_RANK = {
    module.__name__: place
    for place, module in enumerate(
        (
            validations,
            setup_sheets,
            validation_changes,
            board,
            loom_matches,
            matches,
            remedies,
            windows,
            insertion_rates,
            changeovers,
            weaves,
            designs,
            looms,
            checks,
            evidence,
            messages,
            meta,
            order_form,
        )
    )
}
# In one order, whatever was imported first: by module as listed, then as written there.
for _key in sorted(OPERATIONS, key=lambda key: _RANK[OPERATIONS[key].view.__module__]):
    OPERATIONS[_key] = OPERATIONS.pop(_key)
