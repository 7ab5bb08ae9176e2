"""Write the evidence anew: ``data/evidence.json`` of the service and the table in the README.

``openapi/regenerate`` runs it, after a change of formulas or of published values.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from dataclasses import asdict
from functools import cache
from pathlib import Path
from typing import Any, Final

from reference import compared, compared_cloths, compared_looms, compared_weaves
from reference.compared import Subject

import weavability
from weavability.answers.published_evidence import (
    Evidence,
    EvidenceSubject,
    LeftOutValue,
    evidence_of,
)

DATA: Final = Path(weavability.__file__).parent / "data" / "evidence.json"
README: Final = Path(__file__).parents[2] / "README.md"
BEGIN: Final = "<!-- evidence: openapi/regenerate writes what follows -->\n"
END: Final = "<!-- end of the evidence -->\n"


def subjects() -> list[Subject]:
    """Return all subjects, the cloth first."""
    return [
        *compared_cloths.subjects(),
        *compared_weaves.subjects(),
        *compared_looms.subjects(),
    ]


def left_out() -> Iterator[LeftOutValue]:
    """Yield everything that was published and is not compared."""
    yield from compared_cloths.left_out()
    yield from compared_looms.left_out()
    yield from compared.left_out()


@cache
def document() -> dict[str, Any]:
    """Return the content of ``data/evidence.json``."""
    return {
        "subjects": [
            {
                "subject": each.subject,
                "about": each.about,
                "values": [asdict(value) for value in each.values],
            }
            for each in subjects()
        ],
        "left_out": [asdict(each) for each in left_out()],
    }


def written() -> str:
    """Return the text of ``data/evidence.json``: a line a value."""
    found = document()
    parts = [
        f'{{"subject": {_json(each["subject"])},\n"about": {_json(each["about"])},\n'
        f'"values": [\n{_lines(each["values"])}\n]}}'
        for each in found["subjects"]
    ]
    joined = ",\n".join(parts)
    return f'{{"subjects": [\n{joined}\n],\n"left_out": [\n{_lines(found["left_out"])}\n]}}\n'


def _lines(values: list[dict[str, Any]]) -> str:
    return ",\n".join(map(_json, values))


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False)


def table(found: Evidence) -> str:
    """Return the table of the README."""
    lines = [
        "| subject | outside values that agree | derived | recalled |",
        "|---|---|---|---|",
        *map(_row, found.subjects),
    ]
    worst = [
        f"`{value.case}` ({value.what}): published {_shown(value.published)}, computed "
        f"{_shown(value.computed)}"
        for each in found.subjects
        for value in each.values
        if not value.agrees
    ]
    counts = found.counts
    lines += [
        "",
        f"Outside values: {counts.outside_agree} of {counts.outside} agree. "
        f"{counts.derived} derived values only guard against changes, and {counts.recalled} are "
        f"recalled. {len(found.left_out)} entries are left out. What does not agree:",
        "",
        *(f"* {each}" for each in worst),
        "",
    ]
    return "\n".join(lines)


def _row(each: EvidenceSubject) -> str:
    counts = each.counts
    pairs = (
        (counts.outside_agree, counts.outside),
        (counts.derived_agree, counts.derived),
        (counts.recalled_agree, counts.recalled),
    )
    cells = (f"{agree} of {all_of}" if all_of else "" for agree, all_of in pairs)
    return f"| {each.subject} | {' | '.join(cells)} |".replace("|  |", "| |").replace("|  |", "| |")


def _shown(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:.4g}"


def with_table(readme: str, found: Evidence) -> str:
    """Return the README with the table between its two marks."""
    before, _, rest = readme.partition(BEGIN)
    _, _, after = rest.partition(END)
    return f"{before}{BEGIN}\n{table(found)}\n{END}{after}"


def main() -> int:
    """Write both."""
    DATA.write_text(written(), "utf-8")
    README.write_text(
        with_table(README.read_text("utf-8"), evidence_of(document())), "utf-8"
    )
    sys.stdout.write("wrote the evidence\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
