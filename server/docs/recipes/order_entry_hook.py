"""Judge an order line at the moment it is entered: what a script of an ERP calls before it saves.

It decides nothing that a person should: an order that cannot be woven is held with the reasons and
the way out, and so is one whose verdict hangs on what nobody stated, or that could not be judged.
It never keeps the person waiting longer than a few seconds, and never loses an order because a
service is away.
"""

from __future__ import annotations

import json
import sys
import threading
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from weavability_client import Client, InvalidInput, Report, Verdict, WeavabilityError

LONGEST_WAIT_S = 8
REQUEST = {"construction", "loom", "loom_id", "prices"}


@dataclass(frozen=True, kw_only=True)
class Decision:
    """What the order entry shows: ``accept`` or ``hold``, and what a person reads."""

    action: str
    remarks: tuple[str, ...]
    link: str | None = None


def judge_line(client: Client, request: Mapping[str, Any]) -> Decision:
    """Return what to do with an order line, given as ``{"construction": …, "loom_id": …}``."""
    try:
        report = client.validate(**request)
    except InvalidInput as error:
        faults = tuple(f"{field.pointer}: {field.message}" for field in error.errors)
        return Decision(action="hold", remarks=faults)
    except WeavabilityError as error:
        return Decision(action="hold", remarks=(f"Not judged, ask the planner: {error}",))
    doubt = [] if report.verdict_note is None else [report.verdict_note]
    grave = [str(finding) for finding in (*report.errors, *report.warnings)]
    helps = [] if report.ok else list(ways_out(report))
    action = "accept" if report.ok and not doubt else "hold"
    remarks = (*doubt, *grave, *helps, report.caution)
    return Decision(action=action, remarks=remarks, link=report.link)


def judge_text(client: Client, text: bytes) -> Decision:
    """Return what to do with an order line in JSON; with what is no request, a hold."""
    try:
        request = json.loads(text)
    except (ValueError, RecursionError) as error:
        return Decision(action="hold", remarks=(f"Not judged, the request is not JSON: {error}",))
    if (
        not isinstance(request, dict)
        or not request.keys() <= REQUEST
        or "construction" not in request
    ):
        needs = 'the request must be an object: {"construction": …, "loom_id": …}'
        return Decision(action="hold", remarks=(f"Not judged, {needs}",))
    return judge_line(client, request)


def ways_out(report: Report) -> Iterator[str]:
    """Yield once each change that makes the order weavable; without any, what each one clears."""
    listed = [each for finding in report.errors for each in finding.remedies]
    helpful = [each for each in listed if each.verdict not in (None, Verdict.NOT_WEAVABLE)]
    for message in dict.fromkeys(each.message for each in helpful):
        yield f"This would help: {message}"
    if not helpful:
        for each in {each.message: each for each in listed}.values():
            yield f"Not enough alone, clears {', '.join(each.clears)}: {each.message}"


def decide(text: bytes) -> Decision:
    """Return what to do with an order line in JSON, within a few seconds whatever the service does.

    The address of the service is WEAVABILITY_URL.
    """
    late = f"Not judged, ask the planner: no answer within {LONGEST_WAIT_S} seconds"
    decisions = [Decision(action="hold", remarks=(late,))]

    def judge() -> None:
        try:
            with Client(timeout=(1, 5), retries=1) as client:
                decisions.append(judge_text(client, text))
        except (WeavabilityError, ValueError) as error:
            remark = f"Not judged, ask the planner: {error}"
            decisions.append(Decision(action="hold", remarks=(remark,)))

    # Not waited for when the program ends: the client bounds each step, not the whole answer.
    judging = threading.Thread(target=judge, daemon=True)
    judging.start()
    judging.join(LONGEST_WAIT_S)
    return decisions[-1]


def main() -> None:
    """Read a request from standard input and write the decision."""
    json.dump(asdict(decide(sys.stdin.buffer.read())), sys.stdout, indent=2)


if __name__ == "__main__":
    main()
