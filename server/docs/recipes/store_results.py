"""Keep the results of Weavability in a table of SQLite or PostgreSQL, and keep them fresh.

    python store_results.py judge orders.ndjson --database sqlite:///results.db
    python store_results.py refresh             --database postgresql+psycopg://mill@db/weaving

The first judges a file of requests, a JSON object a line (`{"construction": …, "loom_id": …}`),
and writes a row for each, with what is wrong with it if it cannot be judged. The second asks the
service which rows have another answer now, because a loom or a rule has changed, and writes those
anew. Rows are named by order and loom: to judge an order again replaces its row. Needs
`pip install weavability sqlalchemy`, for PostgreSQL also `psycopg`. The address of the service is
in WEAVABILITY_URL.

A stored result is a computed one, not a safety approval: its caution goes with it.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import JSON, DateTime, Engine, Text, create_engine, select
from sqlalchemy.orm import DeclarativeBase, Mapped, Session, mapped_column

from weavability_client import Client, Report, Watched


class Base(DeclarativeBase):
    """The tables of this script."""


class Result(Base):
    """The answer to one order on one loom."""

    __tablename__ = "weavability_result"

    reference: Mapped[str] = mapped_column(Text, primary_key=True)
    loom_id: Mapped[str] = mapped_column(Text, primary_key=True)
    verdict: Mapped[str | None] = mapped_column(Text)
    codes: Mapped[list[str]] = mapped_column(JSON)
    speed_picks_per_min: Mapped[float | None]
    hours_for_order: Mapped[float | None]
    link: Mapped[str | None] = mapped_column(Text)
    etag: Mapped[str | None] = mapped_column(Text)
    problem: Mapped[str | None] = mapped_column(Text)
    caution: Mapped[str | None] = mapped_column(Text)
    judged_at: Mapped[datetime] = mapped_column(DateTime(timezone=True))


def judge(client: Client, engine: Engine, lines: Mapping[int, str]) -> int:
    """Judge lines by their numbers, write a row for each, and return how many were refused."""
    requests: dict[int, dict[str, Any]] = {}
    problems: dict[int, str] = {}
    for number, line in lines.items():
        try:
            requests[number] = _request(line)
        except ValueError as error:
            problems[number] = str(error)
    with Session(engine) as session:
        for number, problem in problems.items():
            session.merge(_refused(f"line {number}", "", problem))
        answers = client.validate_many(requests.values())
        for (number, order), result in zip(requests.items(), answers, strict=True):
            reference = str(order["construction"].get("reference") or f"line {number}")
            loom_id = str(order.get("loom_id") or "")
            if result.report is None:
                problems[number] = str(result.error)
                session.merge(_refused(reference, loom_id, problems[number]))
            else:
                session.merge(_row(reference, loom_id, result.report))
        session.commit()
    return len(problems)


def refresh(client: Client, engine: Engine) -> int:
    """Write the rows anew whose answer is another one now, and return how many those were."""
    with Session(engine) as session:
        watched = list(session.scalars(select(Result).where(Result.link.is_not(None))))
        changes = client.changes(
            Watched(link=row.link, etag=row.etag, codes=tuple(row.codes))
            for row in watched
            if row.link and row.etag
        )
        for change in changes:
            row = watched[change.index]
            if change.problem is not None:
                row.problem, row.verdict = str(change.problem.get("detail")), None
                continue
            report = client.poll(change.link, row.etag or "")
            if report is not None:
                session.merge(_row(row.reference, row.loom_id, report))
        session.commit()
    return len(changes)


def _row(reference: str, loom_id: str, report: Report) -> Result:
    return Result(
        reference=reference,
        loom_id=loom_id,
        verdict=str(report.verdict),
        codes=[each.code for each in report.findings],
        speed_picks_per_min=report.rates.speed_picks_per_min,
        hours_for_order=report.rates.hours_for_order,
        link=report.link,
        etag=report.etag,
        problem=None,
        caution=report.caution,
        judged_at=datetime.now(UTC),
    )


def _refused(reference: str, loom_id: str, problem: str) -> Result:
    return Result(
        reference=reference,
        loom_id=loom_id,
        verdict=None,
        codes=[],
        problem=problem,
        judged_at=datetime.now(UTC),
    )


def _request(line: str) -> dict[str, Any]:
    """Return the request in a line; raise a ``ValueError`` that says why it is none."""
    try:
        request = json.loads(line)
    except RecursionError:
        raise ValueError("nested too deeply") from None
    if not isinstance(request, dict) or not isinstance(request.get("construction"), dict):
        raise ValueError('a line is an object: {"construction": {…}, "loom_id": …}')
    return request


def _lines(path: Path) -> dict[int, str]:
    """Return the lines of a file that are not blank, by their numbers."""
    lines = path.read_bytes().decode("utf-8", "replace").splitlines()
    return {number: line for number, line in enumerate(lines, 1) if line.strip()}


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the script; return 1 if an order could not be judged."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--database", default="sqlite:///results.db", help="address, as SQLAlchemy")
    actions = parser.add_subparsers(dest="action", required=True)
    judging = actions.add_parser("judge", help="judge a file of requests")
    judging.add_argument("orders", type=Path)
    actions.add_parser("refresh", help="write anew what has changed")
    options = parser.parse_args(arguments)
    engine = create_engine(options.database)
    Base.metadata.create_all(engine)
    with Client() as client:
        if options.action == "refresh":
            print(f"{refresh(client, engine)} results have changed")
            return 0
        try:
            lines = _lines(options.orders)
        except OSError as error:
            parser.error(f"{options.orders}: {error.strerror}")
        refused = judge(client, engine, lines)
    print(f"{len(lines) - refused} of {len(lines)} orders judged")
    return 1 if refused else 0


if __name__ == "__main__":
    raise SystemExit(main())
