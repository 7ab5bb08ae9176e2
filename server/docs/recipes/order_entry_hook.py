"""Judge an order line at the moment it is entered: what a script of an ERP calls before it saves.

It decides nothing that a person should: an order that cannot be woven is held with the reasons and
the way out, and so is one that could not be judged. It never keeps the person waiting longer than a
few seconds, and never loses an order because a service is away.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from weavability_client import Client, InvalidInput, WeavabilityError


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
    remarks = [str(finding) for finding in (*report.errors, *report.warnings)]
    if not report.ok:
        remedies = (each for finding in report.errors for each in finding.remedies)
        remarks += [f"This would help: {each.message}" for each in remedies]
    remarks.append(report.caution)
    action = "accept" if report.ok else "hold"
    return Decision(action=action, remarks=tuple(remarks), link=report.link)


def main() -> None:
    """Read a request from standard input and write the decision; the address is WEAVABILITY_URL."""
    with Client(timeout=(1, 5), retries=1) as client:
        json.dump(asdict(judge_line(client, json.load(sys.stdin))), sys.stdout, indent=2)


if __name__ == "__main__":
    main()
