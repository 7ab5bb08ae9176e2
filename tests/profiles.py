"""How many examples a law tries, as a share of the hypothesis profile that was chosen."""

from __future__ import annotations

from hypothesis import HealthCheck, settings


def share_of_examples(share: float) -> settings:
    """Settings of a law that tries ``share`` times as many examples as its profile says.

    Five of six orders that are drawn may contradict themselves: how many do among so few is chance.
    """
    return settings(
        max_examples=examples(share), suppress_health_check=[HealthCheck.filter_too_much]
    )


def examples(share: float) -> int:
    return max(1, round(share * settings().max_examples))
