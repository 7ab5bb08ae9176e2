"""The items of a batch, in whatever form they come, and the outcome of each on its own."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from typing import Final, Generic, TypeVar

import orjson
from flask import g, request

from weavability.service.http import problems
from weavability.service.http.failures import failure, problem_for
from weavability.service.http.json_bodies import parse
from weavability.service.http.problems import LONGEST_GIVEN, Problem, ProblemError
from weavability.textiles.errors import InputError
from weavability.textiles.sentences import say

A = TypeVar("A")

OK: Final = 200
_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """An item as it came.

    Attributes:
        line: Its line in the body, counted from 1; of a sheet, its row.
        read: Returns its request; raises if there is none.
        reference: The caller's name of it, if it is known before it is read.
        faults: Puts what is wrong with it in the words of its form.
    """

    line: int
    read: Callable[[], object]
    reference: str | None = None
    faults: Callable[[InputError], InputError] = lambda error: error


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome(Generic[A]):
    """The outcome of an item.

    Attributes:
        index: Its place in the batch, from 0.
        entry: The item as it came.
        answer: Its report in the form in which it is written, or the problem that it alone met.
        reference: The caller's name of it, as far as it could be read.
    """

    index: int
    entry: Entry
    answer: A | Problem
    reference: str | None = None

    @property
    def status(self) -> int:
        """The HTTP status that the item would have got on its own."""
        return self.answer.status if isinstance(self.answer, Problem) else OK


def refuse(error: Exception) -> object:
    """Raise ``error``: how an item is read that holds nothing readable."""
    raise error


def too_long(longest: int) -> ProblemError:
    """Make the problem of a line that is over the limit."""
    return ProblemError(
        kind=problems.BODY_TOO_LARGE,
        detail=say(
            "problem.line_too_long",
            "A line may have at most {most_bytes} bytes. Send this item in a request of its own.",
            most_bytes=longest,
        ),
    )


def json_entries(lines: Iterator[bytes | None], *, longest: int, first: int = 1) -> Iterator[Entry]:
    """Yield the items of newline-delimited JSON; blank lines are skipped.

    Args:
        lines: The lines.
        longest: Bytes that a line may have.
        first: Number of the first line.
    """
    for number, line in enumerate(lines, start=first):
        if line is None:
            yield Entry(line=number, read=partial(refuse, too_long(longest)))
        elif line.strip():
            yield Entry(line=number, read=partial(parse, line))


def reference_in(given: object) -> str | None:
    """Return the caller's name of a request that may be anything."""
    construction = given.get("construction") if isinstance(given, dict) else None
    reference = construction.get("reference") if isinstance(construction, dict) else None
    return reference[:LONGEST_GIVEN] if isinstance(reference, str) else None


def json_line(outcome: Outcome[object], *, member: str) -> bytes:
    """Write an outcome as a line of newline-delimited JSON, which has the answer as ``member``."""
    answer = outcome.answer
    part = {"problem" if isinstance(answer, Problem) else member: answer}
    named = {"reference": outcome.reference} if isinstance(answer, Problem) else {}
    line = {"index": outcome.index, "status": outcome.status, **named, **part}
    return orjson.dumps(line, default=str, option=orjson.OPT_APPEND_NEWLINE)


def problem_of(error: Exception, index: int) -> Problem:
    """Return what went wrong with the item ``index``; a failure of the service is logged too."""
    found = problem_for(error)
    if found is None:
        _log.error("item %d failed", index, exc_info=error)
        found = failure(g.request_id)
    problem = found.document(path=request.path, request_id=g.request_id)
    return replace(problem, instance=f"{problem.instance}/{index}")
