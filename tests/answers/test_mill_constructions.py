"""A mill's constructions: what it weaves every day gets no error and seldom a warning."""

from __future__ import annotations

import statistics
from functools import cache

import pytest
from answers.mill_constructions import STAGES, judged, likely_weaves, plain_rows, rows

from weavability.answers.report import Report
from weavability.checks.finding import Finding, Severity
from weavability.textiles.construction import Stage

SETT = ("sett.jammed", "sett.not_judged", "sett.tight", "sett.open")


def of_the_sett(construction: str, stage: Stage) -> list[Finding]:
    (row,) = (row for row in rows() if row["construction"] == construction)
    return [one for one in judged(row, stage).findings if one.code in SETT]


def test_the_list_holds_what_this_file_counts_on() -> None:
    assert (len(rows()), len(plain_rows())) == (69, 42)


@cache
def plain_reports(stage: Stage) -> tuple[Report, ...]:
    return tuple(judged(row, stage) for row in plain_rows())


@pytest.mark.slow
@pytest.mark.parametrize("stage", STAGES)
def test_of_plain_constructions_at_most_one_in_eight_is_warned_of(stage: Stage) -> None:
    reports = plain_reports(stage)
    warned = [
        report
        for report in reports
        if any(one.code in SETT and one.severity is Severity.WARNING for one in report.findings)
    ]
    assert [report.counts.errors for report in reports] == [0] * len(reports)
    assert 8 * len(warned) <= len(reports)


# What the mill plans holds its safety, and nothing is fitted to it: a range of what is plausible.
@pytest.mark.slow
@pytest.mark.parametrize(("stage", "median"), [(Stage.LOOM_STATE, 0.6), (Stage.GREY, -0.4)])
def test_the_estimate_of_plain_is_at_the_contraction_that_a_mill_plans(
    stage: Stage, median: float
) -> None:
    beyond = [
        report.cloth.warp_contraction_pct - float(row["planned_contraction_median"])
        for row, report in zip(plain_rows(), plain_reports(stage), strict=True)
    ]
    assert statistics.median(beyond) == pytest.approx(median, abs=0.1)
    assert sum(abs(points) <= 6.0 for points in beyond) >= 0.85 * len(beyond)


@pytest.mark.slow
@pytest.mark.parametrize("stage", STAGES)
def test_no_construction_of_a_mill_is_refused(stage: Stage) -> None:
    refused = [
        f"{row['construction']} as {weave}"
        for row in rows()
        for weave in likely_weaves(row)
        if judged(row, stage, weave).counts.errors
    ]
    assert refused == []


# Four fifths of the mill's plain yards are 40 x 40 / 110 x 90.
@pytest.mark.parametrize(("stage", "tightness"), [(Stage.LOOM_STATE, 98.4), (Stage.GREY, 95.1)])
def test_what_a_mill_weaves_most_gets_a_note(stage: Stage, tightness: float) -> None:
    (found,) = of_the_sett("40x40/110x90", stage)
    assert (found.code, found.severity) == ("sett.tight", Severity.NOTE)
    assert found.actual == pytest.approx(tightness, abs=0.05)
