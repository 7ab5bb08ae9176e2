"""At which sett, width or count a finding would be gone, if nothing of the same cloth clears it."""

from __future__ import annotations

from typing import Final

from weavability.answers.levers import NARROWER, WIDER, At, Lever, with_unit
from weavability.answers.trials import Trials

PROBES_BEYOND: Final = 24
"""Probes of a search for that, beside those that it has for remedies."""


def as_another_cloth(trials: Trials, at: At, lever: Lever) -> str | None:
    """Say beyond the reach of a lever what clears a check; ``None`` if nothing does.

    Args:
        trials: They try it.
        at: What is to be helped.
        lever: It was tried in vain as far as it makes the same cloth.
    """
    options = lever.beyond(at)
    for found in trials.clearing([at.code], options, 1) if options else ():
        return f"{lever.words}, {_only(lever, with_unit(found.writes[0]))}"
    return None


def _only(lever: Lever, value: str) -> str:
    """Say from where it is cleared; a width makes no other cloth."""
    if lever is WIDER:
        return f"but only from {value}"
    return f"but only {'down to' if lever is NARROWER else 'as another cloth:'} {value}"
