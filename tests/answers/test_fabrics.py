"""Published constructions: what mills weave is not refused, what cannot be woven is."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

import pytest
from answers.fabrics import (
    READINGS,
    WITHOUT_A_MATRIX,
    Row,
    first_refusal,
    judged,
    on_its_own_shafts,
    reading,
    rows,
    why_not,
)

from weavability.checks.finding import Severity, Verdict
from weavability.textiles.weave_structure import analyse

USABLE = [row for row in rows() if why_not(row) is None]
JAMMED = [row for row in USABLE if row["test_use"] == "jam_limit"]
PROBES = (1.00, 1.05, 1.10, 1.15, 1.25)


def used_as(*uses: str) -> list[Row]:
    return [row for row in USABLE if row["test_use"] in uses]


def ids(row: Row) -> str:
    return f"{row['id']} {row['cloth']}"


def refusals(row: Row) -> list[str]:
    found = judged(row).findings
    return [one.message for one in found if one.severity is Severity.ERROR]


def test_the_list_holds_what_this_file_counts_on() -> None:
    usable = Counter((row["test_use"], row["headline_set"]) for row in USABLE)
    assert usable == {
        ("false_alarm", True): 48,
        ("false_alarm", False): 12,
        ("false_alarm_unverified", False): 12,
        ("stress_only", False): 2,
        ("soft_limit", False): 11,
        ("jam_limit", False): 3,
        ("miss", False): 2,
    }


def test_rows_stay_out_for_a_reason() -> None:
    left_out = {row["id"]: why_not(row) for row in rows() if why_not(row)}
    assert set(left_out) == {
        *("F013", "F014", "F015", "F016", "F023", "F024", "F025", "F026", "F027", "F028"),
        *("F044", "F047", "F131"),
        "L021",
    }
    assert left_out["L021"] == "not printed: warp_tex, weft_tex"


def test_every_reading_is_needed() -> None:
    printed = {row["weave"] for row in rows()}
    assert set(READINGS) <= printed
    assert set(WITHOUT_A_MATRIX) <= printed


@pytest.mark.parametrize("row", [row for row in USABLE if row["avg_float_warp"]], ids=ids)
def test_a_weave_is_read_with_the_average_floats_of_the_list(row: Row) -> None:
    read = reading(row)
    assert read is not None
    structure = analyse(read.weave().reduced())
    assert structure.mean_float_of_ends == row["avg_float_warp"]
    assert structure.mean_float_of_picks == row["avg_float_weft"]


# Woven by trade, so an error is a false alarm; soft limits of textbooks are exceeded by many.
@pytest.mark.slow
@pytest.mark.parametrize(
    "row", used_as("false_alarm", "false_alarm_unverified", "soft_limit"), ids=ids
)
def test_what_is_woven_is_not_refused(row: Row) -> None:
    assert refusals(row) == []


@pytest.mark.slow
@pytest.mark.parametrize("row", used_as("false_alarm"), ids=ids)
def test_what_is_woven_runs_on_the_shafts_that_its_source_says(row: Row) -> None:
    report = on_its_own_shafts(row)
    assert report.setup.shafts_needed is not None
    assert report.setup.shafts_needed <= row["min_shafts"]
    shedding = {found.code for found in report.findings if found.severity is Severity.ERROR}
    # On so few shafts a close warp may crowd its healds; it still needs no more of them.
    assert shedding <= {"shedding.heald_crowding"}


@pytest.mark.slow
def test_at_most_one_in_twenty_gets_a_note_on_its_knots_or_full_dents() -> None:
    woven = used_as("false_alarm", "false_alarm_unverified", "soft_limit", "stress_only")
    noted = [row["id"] for row in woven if "reed.air_space" in reed_codes(row)]
    assert len(noted) <= len(woven) / 20, noted


@pytest.mark.slow
def test_no_denting_that_is_chosen_gets_a_warning() -> None:
    for row in USABLE:
        warned = {found.code for found in judged(row).findings if found.severity != Severity.NOTE}
        assert not warned & {"reed.air_space", "reed.ends_per_dent", "reed.count"}, row["id"]


def reed_codes(row: Row) -> set[str]:
    return {found.code for found in judged(row).findings if found.code.startswith("reed.")}


@pytest.mark.parametrize("row", used_as("miss"), ids=ids)
def test_what_has_no_room_to_interlace_is_refused(row: Row) -> None:
    report = judged(row)
    assert report.verdict is Verdict.NOT_WEAVABLE
    assert "sett.jammed" in {found.code for found in report.findings}


# Peirce's jam of square plain cloth, for three counts: 100 by definition, rounded setts aside.
@pytest.mark.parametrize("row", JAMMED, ids=ids)
def test_the_jam_is_at_a_hundred(row: Row) -> None:
    assert judged(row).cloth.tightness_pct == pytest.approx(100.0, abs=0.2)


@pytest.mark.parametrize("row", JAMMED, ids=ids)
def test_beyond_the_jam_it_is_refused_and_not_before_a_tenth(row: Row) -> None:
    # Real yarn flattens: nothing below about 1.1 is a miss, and 1.15 must not pass.
    assert first_refusal(row, PROBES) in (1.10, 1.15)


@pytest.mark.slow
@pytest.mark.parametrize("row", JAMMED, ids=ids)
def test_tightness_is_proportional_to_the_sett(row: Row) -> None:
    found = [judged(row, sett_factor=factor).cloth.tightness_pct for factor in PROBES]
    for (one, factor_one), (two, factor_two) in pairwise(zip(found, PROBES, strict=True)):
        assert two / one == pytest.approx(factor_two / factor_one, rel=1e-5)
