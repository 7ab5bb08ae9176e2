"""Every rule says where it comes from, and one without a source says that."""

from __future__ import annotations

from weavability.checks.registry import all_checks
from weavability.checks.rules import DESCRIPTIONS
from weavability.textiles.assumptions import Grade
from weavability.textiles.sources import CITED, SourceGrade, sources

ADMITTED = {
    SourceGrade.COMMON_PRACTICE: "common practice, no source",
    SourceGrade.FROM_MEMORY: "from memory",
}


def test_every_check_cites_a_source_or_is_graded_as_without_one() -> None:
    silent = [
        check.code
        for check in all_checks()
        if not CITED.findall(DESCRIPTIONS[check.code].source)
        and not check.thresholds
        and not any(words in check.source for words in ADMITTED.values())
    ]
    assert silent == []


def test_a_source_that_is_none_is_called_so_to_whoever_reads_the_check() -> None:
    for check in all_checks():
        for key in CITED.findall(DESCRIPTIONS[check.code].source):
            words = ADMITTED.get(sources()[key].grade)
            assert words is None or words in check.source, (check.code, key)


def test_every_threshold_of_a_check_has_the_grade_of_its_source() -> None:
    graded = {Grade.SOURCE, Grade.COMMON_PRACTICE, Grade.FROM_MEMORY}
    wrong = [
        (check.code, one.name, one.grade, one.source)
        for check in all_checks()
        for one in check.thresholds
        if one.grade not in graded
        or (one.grade is Grade.COMMON_PRACTICE) != ("common practice" in one.source)
        or (one.grade is Grade.FROM_MEMORY) != ("from memory" in one.source)
    ]
    assert wrong == []
