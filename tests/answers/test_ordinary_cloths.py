"""Forty cloths of every day on looms that suit them: what is found, so that a change shows at once.

The constructions are published ones, rows of ``reference/fabrics.json`` with their sources, put on
looms of the demo park in a width of today. Their makers wove them, so every error and every warning
here is a false alarm or has its reason in ``ALARMS``. The park's stock of reeds is left out: a mill
buys the reed that its cloth needs.

``ordinary_cloths_at_0_1.tsv`` is the same table as version 0.1.0 made it, from the same rows and
looms, less the fields of looms that it did not have.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Final

import pytest
from answers import fabrics

from weavability.answers.validation import assess
from weavability.service.requests.park import load_park

WIDTH_CM: Final = 150.0


def _table(name: str) -> list[str]:
    return (Path(__file__).parent / name).read_text("utf-8").splitlines()[1:]


CLOTHS: Final = _table("ordinary_cloths.tsv")
"""Row, loom, verdict, what limits the speed, ends in a dent, findings."""

AT_0_1: Final = _table("ordinary_cloths_at_0_1.tsv")
"""The same as it was at version 0.1.0."""

ALARMS: Final = {
    ("F063", "sett.not_judged"): "a worsted of 46 x 27 per cm whose state is not printed: milled "
    "cloth is closer than it was woven, and its ends touch, so that the jam is not judged",
    ("F063", "sett.warp_crowding"): "likewise",
    ("F100", "shedding.heald_crowding"): "8.2 healds/cm on a loom that states 8; a dobby takes it",
}
"""Warnings of cloths that were woven, and why they stay."""


def row_of(row: str, loom_id: str) -> str:
    """One line of the table, computed."""
    published = {one["id"]: one for one in fabrics.rows()}[row]
    on = load_park(None).looms[loom_id].loom
    width_cm = min(WIDTH_CM, 0.8 * on.reed_width_cm)
    cloth = replace(fabrics.construction(published), width_cm=width_cm)
    found = assess(cloth, replace(on, reeds_in_stock_dents_per_10cm=()))
    findings = sorted(f"{one.severity.value} {one.code.value}" for one in found.findings)
    return "\t".join(
        (
            row,
            loom_id,
            found.verdict.value,
            found.rates.limited_by.value,
            f"{found.setup.ends_per_dent:g}",
            ", ".join(findings) or "-",
        )
    )


@pytest.mark.slow
def test_ordinary_cloths_get_the_verdict_that_they_have_had() -> None:
    assert len(CLOTHS) == 40
    now = [row_of(*line.split("\t")[:2]) for line in CLOTHS]
    changed = [f"{old}  ->  {new}" for old, new in zip(CLOTHS, now, strict=True) if old != new]
    assert not changed, "\n".join(changed)


def test_no_ordinary_cloth_is_refused_and_every_warning_has_its_reason() -> None:
    warned = set()
    for line in CLOTHS:
        row, _, _, _, _, findings = line.split("\t")
        assert "error " not in findings, line
        warned |= {
            (row, each.removeprefix("warning "))
            for each in findings.split(", ")
            if each.startswith("warning ")
        }
    assert warned == set(ALARMS)


def test_no_ordinary_cloth_is_judged_harder_than_at_version_0_1() -> None:
    def counts(line: str) -> tuple[int, int, int]:
        found = [each.split()[0] for each in line.split("\t")[-1].split(", ") if each != "-"]
        return found.count("error"), found.count("warning"), found.count("note")

    for before, now in zip(AT_0_1, CLOTHS, strict=True):
        assert before.split("\t")[:2] == now.split("\t")[:2]
        assert counts(now)[:2] <= counts(before)[:2], now
    sums = [tuple(map(sum, zip(*map(counts, table), strict=True))) for table in (AT_0_1, CLOTHS)]
    assert sums == [(1, 7, 29), (0, 3, 12)]
