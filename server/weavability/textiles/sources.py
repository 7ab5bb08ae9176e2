"""Where values come from: ``data/sources.toml``, cited by key as ``[KEY]``."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib import resources
from typing import Final

CITED: Final = re.compile(r"\[([A-Z][A-Z0-9]+(?:-[A-Z0-9]{2,})+)\]")
"""A citation in a text: the key of a source in square brackets, such as ``[PEIRCE-1937]``."""


class SourceGrade(StrEnum):
    """How well a source can be looked up."""

    TRACEABLE = "traceable"  # a reader can find it: edition, DOI or address
    INCOMPLETE = "incomplete"  # published, but page, DOI or address is missing here
    NOT_TRACEABLE = "not_traceable"  # a handout or a copy that cannot be looked up
    REASONED = "reasoned"  # follows from a definition, arithmetic or mechanics
    COMMON_PRACTICE = "common_practice"
    FROM_MEMORY = "from_memory"


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One source; ``""`` where it is not known.

    Attributes:
        short: The citation in a few words.
        where: Journal and volume, publisher, edition, or what the page is part of.
    """

    key: str
    short: str
    grade: SourceGrade
    author: str = ""
    title: str = ""
    year: str = ""
    where: str = ""
    page: str = ""
    doi: str = ""
    address: str = ""

    @property
    def citation(self) -> str:
        """The citation as reports print it; one that cannot be looked up says so."""
        lost = self.grade is SourceGrade.NOT_TRACEABLE
        return f"{self.short}, not traceable" if lost else self.short


@cache
def sources() -> Mapping[str, Source]:
    """Return every source by its key."""
    text = resources.files("weavability").joinpath("data/sources.toml").read_text("utf-8")
    return {
        key: Source(key=key, **{**row, "grade": SourceGrade(row["grade"])})
        for key, row in tomllib.loads(text).items()
    }


@cache
def cite(text: str) -> str:
    """Replace every ``[KEY]`` of a text by the citation in words.

    Raises:
        KeyError: A key has no source.

    >>> cite("casting out: [BROOKS-1892]")
    'casting out: C. P. Brooks, Cotton Manufacturing (1892)'
    """
    return CITED.sub(lambda key: sources()[key[1]].citation, text)
