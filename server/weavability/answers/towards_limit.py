"""How far each value of a corner goes alone towards the limit that they pass together."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from weavability.answers.decisive_section import CornerValue
from weavability.answers.few_names import joined, named_of
from weavability.checks.codes import CheckCode


def in_a_sentence(values: Sequence[CornerValue], code: CheckCode) -> str:
    """Say how far the values that a sentence names go alone: the first is measured first.

    Args:
        values: The values of a corner, the most effective first.
        code: The check whose limit they pass.
    """
    named = named_of(values)
    shares = [each.towards_limit_pct for each in named if each.towards_limit_pct is not None]
    if len(values) < 2 or len(shares) < len(named):
        return ""
    if max(shares) <= 0:
        return (
            " Alone, none of these goes any of the distance to the limit: they act only together."
        )
    held, none = "", ""
    if max(shares) >= _AT_LIMIT_PCT and code is CheckCode.WEFT_STRENGTH:
        held = "; at 100 % the loom is slowed so far that the limit is just kept"
    if min(shares) <= 0:
        none = "; what goes none of it acts only together with the others"
    listed = joined([_in_words(each) for each in shares])
    return f" Alone, these go {listed} % of the distance to the limit{held}{none}."


_AT_LIMIT_PCT: Final = 100 - 1e-4
"""All of the distance, but for rounding."""


def _in_words(share_pct: float) -> str:
    """Write a share, and no small one as nothing, nor one that is short of the limit as all."""
    if 0 < share_pct < 1:
        return "under 1"
    if _ALMOST_PCT < share_pct < _AT_LIMIT_PCT:
        return "over 99"
    return f"{share_pct:.0f}"


_ALMOST_PCT: Final = 99.0
