"""Write the evidence anew: ``data/evidence.json``, the table of its chapter, a line of the README.

``openapi/regenerate`` runs it, after a change of formulas or of published values.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from dataclasses import asdict
from functools import cache
from pathlib import Path
from statistics import median
from typing import Any, Final

from documents import FOLDER, README, documents
from reference import (
    compared,
    compared_cloths,
    compared_costs,
    compared_designs,
    compared_looms,
    compared_weaves,
)
from reference.compared import Subject

import weavability
from weavability.answers.published_evidence import (
    Evidence,
    EvidenceKind,
    EvidenceSubject,
    LeftOutValue,
    evidence_of,
)
from weavability.textiles.sources import CITED, sources

DATA: Final = Path(weavability.__file__).parent / "data" / "evidence.json"
CHAPTER: Final = FOLDER / "evidence.md"
BEGIN: Final = "<!-- evidence: openapi/regenerate writes what follows -->\n"
END: Final = "<!-- end of the evidence -->\n"


@cache
def subjects() -> tuple[Subject, ...]:
    """Return all subjects, the cloth first; computed once a process."""
    return (
        *compared_cloths.subjects(),
        *compared_weaves.subjects(),
        *compared_designs.subjects(),
        *compared_looms.subjects(),
        *compared_costs.subjects(),
    )


def left_out() -> Iterator[LeftOutValue]:
    """Yield everything that was published and is not compared."""
    yield from compared_cloths.left_out()
    yield from compared_designs.left_out()
    yield from compared_looms.left_out()
    yield from compared.left_out()


@cache
def document() -> dict[str, Any]:
    """Return the content of ``data/evidence.json``."""
    return {
        "subjects": [
            {
                "subject": each.subject,
                "about": " ".join(filter(None, (each.about, each.result))),
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


def table() -> str:
    """Return what the chapter holds between its marks: the table, and the sources it cites."""
    found = evidence_of(document())
    against = {each.subject: each for each in subjects()}
    lines = [
        "| subject | against | outside values that agree | deviation: median, greatest | fitted "
        "| derived | recalled |",
        "|---|---|---|---|---|---|---|",
        *(_row(each, against[each.subject].against) for each in found.subjects),
        "",
        *(f"* {each.subject}: {each.result}" for each in against.values() if each.result),
        "",
        *_sums(found),
    ]
    written_table = "\n".join(lines)
    keys = sorted({*CITED.findall(_outside_the_marks()), *CITED.findall(written_table)})
    cited_here = "\n".join(f"* [{key}] {sources()[key].short}" for key in keys)
    return f"{written_table}\n\nSources cited in these chapters:\n\n{cited_here}\n"


def line() -> str:
    """Return what the README holds between its marks: how many outside values agree."""
    found = evidence_of(document())
    counts = found.counts
    return (
        f"Of {counts.outside} values from outside, {counts.outside_agree} agree within their "
        f"tolerance and {counts.outside - counts.outside_agree} do not. Apart from them are "
        f"{counts.derived} derived, {counts.fitted} fitted and {counts.recalled} recalled values, "
        f"which prove nothing; {len(found.left_out)} entries are left out.\n"
        "The table by subject is in [Where the numbers come from](server/docs/evidence.md).\n"
    )


def _sums(found: Evidence) -> Iterator[str]:
    counts = found.counts
    yield (
        f"Of {counts.outside} outside values {counts.outside_agree} agree. On {counts.fitted} "
        f"fitted ones ({counts.fitted_agree} agree) a number of a formula was chosen, so that they "
        f"prove nothing; {counts.derived} derived "
        f"values ({counts.derived_agree} agree) only guard against changes, and {counts.recalled} "
        f"recalled ones ({counts.recalled_agree} agree) are of documents that were not read. "
        f"{len(found.left_out)} entries are left out, each with its reason. Outside values that do "
        "not agree:"
    )
    yield ""
    for each in found.subjects:
        for value in each.values:
            if value.kind is EvidenceKind.OUTSIDE and not value.agrees:
                yield (
                    f"* {value.what}: {_shown(value.published)} published, "
                    f"{_shown(value.computed)} "
                    f"computed (`{value.case}`)"
                )


def _row(each: EvidenceSubject, against: str) -> str:
    counts = each.counts
    pairs = (
        (counts.outside_agree, counts.outside),
        (counts.fitted_agree, counts.fitted),
        (counts.derived_agree, counts.derived),
        (counts.recalled_agree, counts.recalled),
    )
    outside, fitted, derived, recalled = (
        f"{agree} of {all_of}" if all_of else "-" for agree, all_of in pairs
    )
    return (
        f"| {each.subject} | {against} | {outside} | {_deviation(each)} | {fitted} | {derived} "
        f"| {recalled} |"
    )


def _deviation(each: EvidenceSubject) -> str:
    """Write the deviations of outside figures: in per cent, or in points if they are per cent."""
    outside = [value for value in each.values if value.kind is EvidenceKind.OUTSIDE]
    points = {value.unit for value in outside} == {"%"}
    found = [
        abs(given)
        for value in outside
        if (given := value.deviation if points else value.deviation_pct) is not None
    ]
    if not found:
        return "-"
    return f"{median(found):.2g}, {max(found):.2g} {'points' if points else '%'}"


def _shown(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:.4g}"


def _outside_the_marks() -> str:
    """Return the README and all chapters without what is between marks."""
    return "\n".join(between(text, "") for text in documents().values())


def between(text: str, new: str) -> str:
    """Return a document with new text between its marks, if it has marks."""
    before, begin, rest = text.partition(BEGIN)
    _, end, after = rest.partition(END)
    return f"{before}{begin}\n{new}\n{end}{after}" if begin else text


def written_in() -> dict[Path, str]:
    """Return each file that is written, with its text."""
    return {
        DATA: written(),
        CHAPTER: between(CHAPTER.read_text("utf-8"), table()),
        README: between(README.read_text("utf-8"), line()),
    }


def main() -> int:
    """Write all of them."""
    for path, text in written_in().items():
        path.write_text(text, "utf-8")
    sys.stdout.write("wrote the evidence\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
