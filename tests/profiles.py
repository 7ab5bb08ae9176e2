"""How many examples a law tries, as a share of the hypothesis profile that was chosen."""

from __future__ import annotations

from hypothesis import settings


def share_of_examples(share: float) -> settings:
    """Settings of a law that tries ``share`` times as many examples as its profile says."""
    return settings(max_examples=examples(share))


def examples(share: float) -> int:
    return max(1, round(share * settings().max_examples))
