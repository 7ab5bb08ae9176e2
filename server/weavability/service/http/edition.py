"""The edition of the service: what its entity tags change with, besides request and park."""

from __future__ import annotations

import hashlib
from functools import cache, lru_cache
from importlib import resources

from weavability.answers.validation import digest_of_files, ruleset


def edition() -> str:
    """Return a short digest of the rules and of everything that shapes an answer from them.

    It covers :func:`~weavability.answers.validation.ruleset`, and source, templates and static
    files of the service: a caller's copy is good as long as none of these changed.
    """
    return _edition(ruleset())


@lru_cache(maxsize=8)
def _edition(rules: str) -> str:
    return hashlib.sha256(_service_digest() + rules.encode()).hexdigest()[:16]


@cache
def _service_digest() -> bytes:
    """Digest every file of the service; read once a process."""
    return digest_of_files(resources.files("weavability.service"))
