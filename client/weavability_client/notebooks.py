"""How answers and lists of records show in a notebook, and become data frames."""

from __future__ import annotations

import html
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

from weavability_client._paint import SEVERITIES, WORDS, colour_of
from weavability_client.errors import UsageError
from weavability_client.tables import cell

if TYPE_CHECKING:
    import pandas as pd

LEFT: Final = " style='text-align:left'"
_RIGHT: Final = " style='text-align:right'"
_COLOURS: Final[Mapping[str, str]] = {"31": "#c62828", "33": "#9a6700", "32": "#2e7d32", "36": ""}
"""Colours of a page by those of a terminal; they can be read on white and on black."""


def coloured(text: str) -> str:
    """Return text as HTML with verdicts and severities in colour.

    Example:
        >>> coloured("<D-1>: not weavable")
        "&lt;D-1&gt;: <strong style='color:#c62828'>not weavable</strong>"
    """
    parts: list[str] = []
    end = 0
    for found in WORDS.finditer(text):
        parts.append(html.escape(text[end : found.start()]))
        parts.append(_in_colour(found[0]))
        end = found.end()
    return "".join([*parts, html.escape(text[end:])])


def _in_colour(word: str) -> str:
    colour = _COLOURS[colour_of(word)]
    style = f" style='color:{colour}'" if colour else ""
    return f"<strong{style}>{html.escape(word.strip())}</strong>"


def html_table(header: Sequence[str], rows: Sequence[Sequence[object]]) -> str:
    """Return a table with words at the left and numbers at the right; nothing without rows."""
    if not rows:
        return ""
    head = "".join(f"<th scope='col'{LEFT}>{html.escape(each)}</th>" for each in header)
    body = "".join(f"<tr>{''.join(map(_table_cell, row))}</tr>" for row in rows)
    return f"<table><tr>{head}</tr>{body}</table>"


def _table_cell(value: object) -> str:
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    shown = cell(value)
    words = _in_colour(shown) if shown in SEVERITIES else coloured(shown)
    return f"<td{_RIGHT if is_number else LEFT}>{words}</td>"


def frame_of(rows: Iterable[Mapping[str, Any]]) -> pd.DataFrame:
    """Return rows as a data frame.

    Raises:
        UsageError: pandas is not installed.
    """
    try:
        from pandas import DataFrame  # an extra, and slow to import
    except ImportError as error:
        raise UsageError("to_frame() needs pandas: install weavability[frames]") from error
    return DataFrame(list(rows))
