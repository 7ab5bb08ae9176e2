"""Many requests of one kind: lines of JSON, many a request, each item with a result of its own."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Final, Generic, TypeVar

from weavability_client._batch import in_order, packed
from weavability_client._json import elements, members
from weavability_client._record import Record
from weavability_client._wire import LINES, Request, build_request, error_of_item, to_bytes
from weavability_client.errors import (
    AnswerUnreadable,
    ConnectionFailed,
    NotAcceptable,
    NotAuthenticated,
    NotPermitted,
    ServiceFault,
    TooLarge,
    UnsupportedMediaType,
    UsageError,
    WeavabilityError,
)
from weavability_client.models import MatchReport, Report, ReportSummary
from weavability_client.policies import BATCH_BYTES, BATCH_ITEMS, BATCHES_AT_ONCE, RETRY_STATUSES

T = TypeVar("T")
_log = logging.getLogger("weavability_client")


@dataclass(frozen=True, kw_only=True)
class Result(Generic[T]):
    """What became of one item of a batch: a report, or the error that it alone met.

    Attributes:
        index: Place of the item, from 0.
        report: The answer, such as a ``Report``; ``None`` if the item failed.
        error: The error; ``None`` if there is an answer.
    """

    index: int
    report: T | None = None
    error: WeavabilityError | None = None

    def unwrap(self) -> T:
        """Return the answer, or raise the item's error."""
        if self.report is None:
            raise self.error or UsageError(f"item {self.index} has neither report nor error")
        return self.report


@dataclass(frozen=True, kw_only=True)
class ItemResult(Result[Report]):
    """The result of a validation of a batch: its report, or the error that it alone met."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind(Generic[T]):
    """What a batch asks for.

    Attributes:
        path: Where it goes.
        member: Name under which a line of the answer has it.
        read: Reads one answer, which is at a place of the line.
    """

    path: str
    member: str
    read: Callable[[object, str], T]


REPORTS: Final = Kind(path="/v1/validations", member="report", read=Report.from_json)
SUMMARIES: Final = Kind(
    path="/v1/validations?fields=summary", member="summary", read=ReportSummary.from_json
)
MATCHES: Final = Kind(path="/v1/loom-matches", member="report", read=MatchReport.from_json)


@dataclass(frozen=True, slots=True)
class _Item:
    """One item as it is sent; ``error`` if it cannot be."""

    index: int
    line: bytes = b""
    error: UsageError | None = None


OF_ALL: Final = (ConnectionFailed, NotAuthenticated, NotPermitted)
"""Errors that every item would meet alike, so that they end the batch."""


class Batches(Generic[T]):
    """Sends requests of one kind in packs; one by one if the service takes no lines."""

    def __init__(self, call: Callable[[Request], object], kind: Kind[T]) -> None:
        self._call = call
        self._kind = kind
        self._takes_lines = True

    def run(
        self, requests: Iterable[Record | Mapping[str, object]], *, total: int | None, at_once: int
    ) -> Iterator[Result[T]]:
        """Yield the result of every request, in order.

        Args:
            requests: The requests; read ahead by what is under way.
            total: Their number, if it is known: few are spread over the connections.
            at_once: Most requests under way at once.
        """
        at_once = min(at_once, BATCHES_AT_ONCE)
        share = BATCH_ITEMS if total is None else -(-total // at_once)
        packs = packed(
            (_item(index, each) for index, each in enumerate(requests)),
            size_of=lambda item: len(item.line) + 1,
            most_items=max(1, min(BATCH_ITEMS, share)),
            most_bytes=BATCH_BYTES,
        )
        for results in in_order(lambda _, pack: self._pack(pack), packs, at_once=at_once):
            yield from results

    def _pack(self, pack: list[_Item]) -> list[Result[T]]:
        sendable = [each for each in pack if each.error is None]
        answers = iter(self._report_of(sendable))
        return [
            next(answers) if each.error is None else Result(index=each.index, error=each.error)
            for each in pack
        ]

    def _report_of(self, pack: list[_Item]) -> list[Result[T]]:
        if len(pack) < 2 or not self._takes_lines:
            return [self._alone(each) for each in pack]
        try:
            return self._together(pack)
        except WeavabilityError as error:
            if isinstance(error, OF_ALL):
                raise
            if not self._may_help_alone(error):
                return [Result(index=each.index, error=error) for each in pack]
        return [self._alone(each) for each in pack]

    def _may_help_alone(self, error: WeavabilityError) -> bool:
        """Return whether the items of a pack that failed should be sent one by one."""
        if isinstance(error, UnsupportedMediaType | NotAcceptable):
            _log.warning("the service takes no batches; sending one by one from now on: %s", error)
            self._takes_lines = False
            return True
        if isinstance(error, ServiceFault):
            return error.status not in RETRY_STATUSES
        return isinstance(error, TooLarge | AnswerUnreadable)

    def _together(self, pack: list[_Item]) -> list[Result[T]]:
        request = build_request(
            "POST", self._kind.path, lines=[each.line for each in pack], accept=LINES
        )
        answers = elements(self._call(request)) or ()
        if len(answers) != len(pack):
            raise AnswerUnreadable(f"{len(answers)} answers to a batch of {len(pack)}")
        return [
            _result(item, partial(_answer_of, each, self._kind))
            for item, each in zip(pack, answers, strict=True)
        ]

    def _alone(self, item: _Item) -> Result[T]:
        request = build_request("POST", self._kind.path, lines=[item.line])
        return _result(item, lambda: self._kind.read(self._call(request), ""))


def _item(index: int, request: Record | Mapping[str, object]) -> _Item:
    try:
        return _Item(index, line=to_bytes(request))
    except UsageError as error:
        return _Item(index, error=error)


def _answer_of(answer: object, kind: Kind[T]) -> T:
    """Read one line of the answer to a batch, or raise the error that it reports."""
    line = members(answer) or {}
    status = line.get("status")
    if not isinstance(status, int):
        raise AnswerUnreadable(f"a line of the batch has no status: {str(answer)[:80]}")
    if status >= 400:
        raise error_of_item(line.get("problem"), status=status)
    return kind.read(line.get(kind.member), f"/{kind.member}")


def _result(item: _Item, answer: Callable[[], T]) -> Result[T]:
    try:
        return Result(index=item.index, report=answer())
    except WeavabilityError as error:
        if isinstance(error, OF_ALL):
            raise
        return Result(index=item.index, error=error)
