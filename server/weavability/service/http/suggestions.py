"""The nearest known names, for messages about a misspelt one."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

from weavability.textiles.sentences import NO_WORDS, Sentence, say

# Longer names are not misspelt ones, and matching costs length × length.
_LONGEST = 80


def nearest(name: object, known: Iterable[str], *, most: int = 3) -> list[str]:
    """Return up to ``most`` of the ``known`` names that look like ``name``, the best first.

    >>> nearest("end_per_cm", ["ends_per_cm", "ends_per_in", "crimp_pct"])
    ['ends_per_cm', 'ends_per_in']
    """
    if not isinstance(name, str) or len(name) > _LONGEST:
        return []
    by_lower = {each.lower(): each for each in known}
    return [by_lower[each] for each in get_close_matches(name.lower(), by_lower, n=most)]


def did_you_mean(name: object, known: Iterable[str]) -> Sentence:
    """Return `` Did you mean "…"?`` with a leading space, or an empty string."""
    found = nearest(name, known, most=1)
    if not found:
        return NO_WORDS
    return say("part.did_you_mean", ' Did you mean "{name}"?', name=found[0])
