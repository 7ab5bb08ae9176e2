"""Batches: many orders in one request, answered one by one as they are judged."""

from __future__ import annotations

from codecs import BOM_UTF8
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing
from dataclasses import dataclass
from functools import partial
from itertools import chain, count
from typing import Any, Final, Generic, TypeVar
from urllib.parse import quote

from flask import Response, g, request, stream_with_context

from weavability.service import state
from weavability.service.batches.answer_sheet import AnswerSheet, CsvWriter
from weavability.service.batches.csv_orders import OrderSheet, Sheet, read_orders
from weavability.service.batches.items import (
    Entry,
    Outcome,
    json_entries,
    json_line,
    problem_of,
    reference_in,
    refuse,
)
from weavability.service.http import problems
from weavability.service.http.json_bodies import body_stream, require_media_type
from weavability.service.http.problems import Problem, ProblemError
from weavability.service.http.responses import CSV, NDJSON
from weavability.service.http.streams import ReadAhead, lines
from weavability.service.http.work import next_item
from weavability.service.operations import Parameter
from weavability.service.state import State
from weavability.textiles.errors import InputError
from weavability.textiles.sentences import say

FORMS: Final = {CSV: (CSV, NDJSON), NDJSON: (NDJSON, CSV)}
"""Media types of batches, each with the forms of its answer, the default first."""

A = TypeVar("A")
R = TypeVar("R")


@dataclass(frozen=True, kw_only=True)
class Batch(Generic[A, R]):
    """How the items of a batch are answered.

    Attributes:
        judge: Makes the answer of one request, as it is sent as a line of JSON.
        member: Name under which a line has it.
        orders: The columns that a sheet may have.
        sheet: How answers are written as rows; ``None`` if they never are.
    """

    judge: Callable[[object], A]
    member: str
    orders: OrderSheet
    sheet: AnswerSheet[A, R] | None = None


def answer_batch(batch: Batch[A, R], *, ignore_columns: bool) -> Response:
    """Answer the request at hand, whose body is a batch.

    Args:
        batch: How its items are answered.
        ignore_columns: Whether columns of a sheet with an unknown heading are left unread.

    Raises:
        ProblemError: The batch as a whole cannot be read: 400, 415.
    """
    require_media_type(request, request.mimetype)
    here = state.current()
    body = ReadAhead(body_stream(request), most=here.settings.batch_read_ahead_bytes)
    try:
        entries, sheet = _entries(body, here, batch.orders, ignore_columns=ignore_columns)
    except BaseException:
        body.close()
        raise
    written = _until_the_end(
        _written(entries, sheet, batch, most=here.settings.max_batch_items), body
    )
    answer = Response(stream_with_context(written), mimetype=g.media_type)
    answer.call_on_close(body.close)  # for an answer that nobody begins to read
    if g.media_type == CSV and batch.sheet is not None:
        answer.headers["Content-Type"] = f"{CSV}; charset=utf-8; header=present"
        answer.headers["Content-Disposition"] = f'attachment; filename="{batch.sheet.file_name}"'
    if sheet is not None and sheet.ignored:
        answer.headers["Ignored-Columns"] = ", ".join(map(quote, sheet.ignored.values()))
    answer.headers["Cache-Control"] = "no-store"
    return answer


def _entries(
    body: ReadAhead, here: State, orders: OrderSheet, *, ignore_columns: bool
) -> tuple[Iterator[Entry], Sheet | None]:
    longest = here.settings.max_line_bytes
    marked = body.begins_with(BOM_UTF8)
    found = lines(body, longest=longest)
    if request.mimetype == CSV:
        sheet, entries = read_orders(
            found,
            longest=longest,
            marked=marked,
            ignore_columns=ignore_columns,
            orders=orders,
        )
        return entries, sheet
    entries = json_entries(found, longest=longest)
    first = next(entries, None)
    if first is None:
        raise ProblemError(
            kind=problems.UNREADABLE_JSON,
            detail=say("problem.lines_empty", "The body is empty. Send a JSON object a line."),
        )
    return chain([first], entries), None


IGNORE_COLUMNS: Final = Parameter(
    name="ignore_columns",
    place="query",
    description="`true` leaves the columns of a sheet unread whose headings are unknown; the "
    "header `Ignored-Columns` of the answer lists them, percent-encoded.",
    example="true",
    pattern="^(true|false)$",
)


def ignores_columns() -> bool:
    """Return whether the address allows unknown headings; it is judged whatever the body is.

    Raises:
        ProblemError: 400, it says something else.
    """
    given = request.args.get(IGNORE_COLUMNS.name, "false")
    if given not in ("true", "false"):
        raise ProblemError(
            kind=problems.UNREADABLE_CSV,
            detail=say(
                "problem.not_true_or_false",
                "{parameter} must be true or false, not {given!r}.",
                parameter=IGNORE_COLUMNS.name,
                given=given[:40],
            ),
        )
    return given == "true"


def _outcomes(
    entries: Iterable[Entry], judge: Callable[[object], A], *, most: int | None
) -> Iterator[Outcome[A]]:
    waiting = iter(entries)
    for index in count():
        try:
            entry = next(waiting)
        except StopIteration:
            return
        except Exception as error:  # the body breaks off; a client that still reads gets the reason
            yield _last(error, index)
            return
        if index == most:
            yield _last(_too_many(most), index)
            return
        yield _outcome(entry, judge, index)


def _last(error: Exception, index: int) -> Outcome[Any]:
    entry = Entry(line=index + 1, read=partial(refuse, error))
    return Outcome(index=index, entry=entry, answer=problem_of(error, index))


def _outcome(entry: Entry, judge: Callable[[object], A], index: int) -> Outcome[A]:
    given: object = None
    answer: A | Problem
    try:
        next_item(bounded=False)
        given = entry.read()
        answer = judge(given)
    except ConnectionResetError:
        raise
    except InputError as error:
        answer = problem_of(entry.faults(error), index)
    except Exception as error:  # whatever it is, the other items go on
        answer = problem_of(error, index)
    reference = entry.reference or reference_in(given)
    return Outcome(index=index, entry=entry, answer=answer, reference=reference)


def _too_many(most: int) -> ProblemError:
    return ProblemError(
        kind=problems.BODY_TOO_LARGE,
        detail=say(
            "problem.batch_too_long",
            "A batch may have at most {most_items} items; this one and all after it were not read.",
            most_items=most,
        ),
    )


def _until_the_end(written: Iterator[bytes], body: ReadAhead) -> Iterator[bytes]:
    with closing(body):
        yield from written


def _written(
    entries: Iterable[Entry], sheet: Sheet | None, batch: Batch[A, R], *, most: int | None
) -> Iterator[bytes]:
    """Write the outcomes in the form that was settled; what cannot be is the item's own failure."""
    outcomes = _outcomes(entries, batch.judge, most=most)
    if g.media_type == NDJSON or batch.sheet is None:
        return map(partial(json_line, member=batch.member), outcomes)
    writer = CsvWriter(batch.sheet, sheet)
    return chain([writer.header()], map(writer.rows, outcomes))
