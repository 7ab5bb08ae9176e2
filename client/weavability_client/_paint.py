"""Colour, if a person looks at a terminal that shows it."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from typing import Final, TextIO

_COLOURS: Final[Mapping[str, str]] = {
    "not weavable": "31",
    "refused": "31",
    "error": "31",
    "falls apart": "31",
    "weavable with warnings": "33",
    "warning": "33",
    "weavable": "32",
    "hangs together": "32",
    "note": "36",
}
SEVERITIES: Final = ("error", "warning", "note")
_NO_VERDICT: Final = r"(?<!window is )(?<!makes the order )"
"""What comes before the word in a sentence that begins with *No point* or *nothing*."""

_VERDICT: Final = rf"\b(?:not weavable|weavable with warnings|{_NO_VERDICT}weavable|refused)\b"
_SEVERITY: Final = rf"^ *(?:{'|'.join(SEVERITIES)})(?= \w+\.\w+:)"
_CLOTH: Final = r"\b(?:falls apart|hangs together)\b"
WORDS: Final = re.compile(f"{_SEVERITY}|{_VERDICT}|{_CLOTH}", re.MULTILINE)
"""What is shown in colour: verdicts, severities that begin a line, whether a cloth holds."""


def wants_colour(stream: TextIO, environment: Mapping[str, str] = os.environ) -> bool:
    """Return whether to paint: on a terminal only, and not if ``NO_COLOR`` is set."""
    if environment.get("NO_COLOR") or environment.get("TERM") == "dumb":
        return False
    return stream.isatty()


def painted(text: str) -> str:
    r"""Return ``text`` with verdicts and severities in colour; widths do not change.

    Example:
        >>> painted("D-1: not weavable")
        'D-1: \x1b[31mnot weavable\x1b[0m'
    """
    return WORDS.sub(_paint, text)


def _paint(found: re.Match[str]) -> str:
    word = found[0].lstrip()
    indent = " " * (len(found[0]) - len(word))
    return f"{indent}\x1b[{colour_of(word)}m{word}\x1b[0m"


def colour_of(word: str) -> str:
    """Return the colour of a verdict or a severity, as terminals number them."""
    return _COLOURS[word.strip()]
