"""Every source is stated once, and cited by its key."""

from __future__ import annotations

import re
from pathlib import Path

from documents import documents

import weavability
from weavability.textiles.sources import CITED, SourceGrade, cite, sources

PACKAGE = Path(weavability.__file__).parent
CHAPTERS = "\n".join(documents().values())


def cited() -> set[str]:
    """Keys that the core, its data, the README and its chapters cite."""
    files = (*PACKAGE.rglob("*.py"), *PACKAGE.rglob("*.toml"))
    texts = [path.read_text("utf-8") for path in files if path.name != "sources.toml"]
    return {key for text in (CHAPTERS, *texts) for key in CITED.findall(text)}


def test_every_key_that_is_cited_has_a_source_and_every_source_is_cited() -> None:
    assert cited() == set(sources())


def test_a_source_that_can_be_looked_up_says_where() -> None:
    for source in sources().values():
        if source.grade is SourceGrade.TRACEABLE:
            assert source.title, source.key
            assert source.author or source.address or source.where, source.key
            assert source.year or source.address or source.where, source.key
        assert source.short, source.key


def test_no_citation_is_left_as_a_key_in_what_is_reported() -> None:
    assert cite("[TAYLOR-1909], p. 3; [BY-ARITHMETIC]") == (
        "J. T. Taylor, Cotton Weaving and Designing (1909), p. 3; arithmetic"
    )


def test_a_citation_that_cannot_be_looked_up_says_so() -> None:
    assert cite("0.5: [COURSE-MILL-DESIGN]").endswith(
        "course work on weaving-mill design, not traceable"
    )
    for key, source in sources().items():
        lost = source.grade is SourceGrade.NOT_TRACEABLE
        assert cite(f"[{key}]").endswith(", not traceable") is lost


def test_the_chapters_list_the_sources_that_they_cite() -> None:
    listed = re.findall(r"^\* \[([A-Z0-9-]+)\] (.*)$", CHAPTERS, re.M)
    body = re.sub(r"^\* \[[A-Z0-9-]+\] .*$", "", CHAPTERS, flags=re.M)
    assert listed == [(key, sources()[key].short) for key in sorted(set(CITED.findall(body)))]
