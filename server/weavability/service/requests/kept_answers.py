"""Answers that are given again without computing: those of the last requests, within a bound.

An answer is kept under its ``validation_id``, which digests the technical request, the rules and
the limits of the park's loom, so that none outlives a change of these. The caller's reference is no
part of it and is written in anew. Each worker keeps its own.
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass
from threading import Lock
from typing import Final

import orjson

from weavability.checks.codes import CheckCode
from weavability.checks.finding import Severity, Verdict
from weavability.service.requests.validation_answer import ValidationAnswer

LONGEST_KEPT: Final = 64 * 2**10
"""Bytes of an answer that is kept: that of an order without a large design has a third of it."""

_REFERENCE: Final = b'"reference":'
_BESIDE_TEXT: Final = 1_000
"""Bytes that an answer takes in memory besides its text, about."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptAnswer:
    """An answer as it is sent, without the reference.

    Attributes:
        head: What comes before the reference.
        tail: What comes after it.
        own: Its address; ``None`` if the request is too long for one.
        verdict: Of its report.
        findings: Code and severity of each finding.
    """

    head: bytes
    tail: bytes
    own: str | None
    verdict: Verdict
    findings: tuple[tuple[CheckCode, Severity], ...]

    @classmethod
    def of(cls, answer: ValidationAnswer) -> KeptAnswer:
        """Write an answer.

        Raises:
            ArithmeticError: A figure is NaN or infinite.
        """
        # Only digests come before the reference, so the first of its name is it.
        text = orjson.dumps({**answer.written(), "reference": None})
        head, name, tail = text.partition(_REFERENCE + b"null")
        return cls(
            head=head + name.removesuffix(b"null"),
            tail=tail,
            own=answer.links["self"],
            verdict=answer.report.verdict,
            findings=tuple((each.code, each.severity) for each in answer.report.findings),
        )

    def written(self, reference: str | None) -> orjson.Fragment:
        """Return the answer to a request of this reference."""
        return orjson.Fragment(self.head + orjson.dumps(reference) + self.tail)

    @property
    def size(self) -> int:
        """Bytes that it takes."""
        return len(self.head) + len(self.tail) + len(self.own or "") + _BESIDE_TEXT


class KeptAnswers:
    """The last answers, up to a number of bytes.

    Answers over ``LONGEST_KEPT`` are not kept, and none whose request is too long for a link.
    """

    def __init__(self, most_bytes: int) -> None:
        self._most_bytes = most_bytes
        self._bytes = 0
        self._kept: OrderedDict[str, KeptAnswer] = OrderedDict()
        self._lock = Lock()

    def find(self, validation_id: str) -> KeptAnswer | None:
        """Return the answer that is kept under a name."""
        with self._lock:
            found = self._kept.get(validation_id)
            if found is not None:
                self._kept.move_to_end(validation_id)
            return found

    def keep(self, validation_id: str, answer: KeptAnswer) -> None:
        """Keep an answer; those that were not given for longest make room."""
        if answer.own is None or answer.size > min(LONGEST_KEPT, self._most_bytes):
            return
        with self._lock:
            if validation_id in self._kept:
                return
            self._kept[validation_id] = answer
            self._bytes += answer.size
            while self._bytes > self._most_bytes:
                self._bytes -= self._kept.popitem(last=False)[1].size
