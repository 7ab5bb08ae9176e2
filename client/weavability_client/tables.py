"""Plain text tables, and sentences, as wide as there is room for."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence
from typing import Final

from weavability_client._printable import printable

GAP: Final = "  "
COMFORTABLE: Final = 20
"""Characters of a column of sentences below which other columns are rather left out."""

NARROWEST: Final = 10
_TOGETHER: Final = re.compile(r"\bnot weavable\b|\bweavable with warnings\b|\bfalls apart\b")
_JOINT: Final = "\ue000"


class _NarrowWrapper(textwrap.TextWrapper):
    """Breaks a code or a pointer behind its dots, strokes and underscores."""

    wordsep_simple_re = re.compile(r"([ ]+|(?<=[A-Za-z][._/])(?=[A-Za-z]))")


def cell(value: object) -> str:
    """Return ``value`` as a table shows it: nothing for ``None``, at most one decimal."""
    match value:
        case None:
            return ""
        case float():
            return f"{value:.1f}".removesuffix(".0") if abs(value) < 1000 else f"{value:.0f}"
        case _:
            return printable(str(value))


def money(value: float | None) -> str:
    """Return an amount of money in four figures, or to the whole unit if it has more.

    Example:
        >>> money(1.71169), money(0.0031416), money(12345.678)
        ('1.712', '0.003142', '12346')
    """
    if value is None:
        return ""
    return f"{value:.0f}" if abs(value) >= 10_000 else f"{value:.4g}"


def wrapped(text: str, width: int | None) -> list[str]:
    """Return a sentence in lines of at most ``width`` characters; verdicts are not broken.

    Args:
        text: The sentence; blanks before it stay, and what follows its first line is below it.
        width: Characters in a line; without it the text is one line.

    Example:
        >>> wrapped("  note a.b: the cloth is not weavable here", 30)
        ['  note a.b: the cloth is', '    not weavable here']
    """
    text = printable(text)
    if width is None:
        return [text]
    begin = text[: len(text) - len(text.lstrip())]
    return _wrap(text.lstrip(), max(width, NARROWEST), textwrap.TextWrapper, begin, f"{begin}  ")


def text_table(
    header: Sequence[str],
    rows: Sequence[Sequence[object]],
    *,
    width: int | None = None,
    least: Sequence[str] = (),
) -> str:
    """Return a table in columns as wide as their widest cell; numbers are at the right.

    If it is wider than there is room for, heads and words go on below themselves, columns that
    matter least are left out, and a last line names these.

    Args:
        header: Heads of the columns.
        rows: Cells of each row.
        width: Characters in a line; without it there is room for all.
        least: Heads of columns that may be left out, the first one first.

    Example:
        >>> print(text_table(["order", "m/min"], [["A 1", 812.04], ["A 12", 94]]))
        order  m/min
        -----  -----
        A 1      812
        A 12      94
    """
    right = [
        any(isinstance(value, int | float) for value in column)
        for column in zip(*rows, strict=True)
    ] or [False] * len(header)
    columns = [
        _Column(head, [cell(row[place]) for row in rows], is_number=numeric)
        for place, (head, numeric) in enumerate(zip(header, right, strict=True))
    ]
    left_out: list[str] = []
    for head in least:
        if width is None or _total([each.comfort for each in columns]) <= width:
            break
        left_out += [each.head for each in columns if each.head == head]
        columns = [each for each in columns if each.head != head]
    widths = _widths(columns, width)
    heads = [each.head for each in columns]
    lines = [*_lines(heads, columns, widths), GAP.join("-" * each for each in widths)]
    for place in range(len(rows)):
        lines += _lines([each.cells[place] for each in columns], columns, widths)
    if left_out:
        lines += wrapped(f"left out: {', '.join(left_out)}; --format csv has all columns", width)
    return "\n".join(lines)


class _Column:
    """A column, and how narrow it may become.

    Attributes:
        natural: Width of its widest cell.
        comfort: Width at which words are whole and sentences are not squeezed.
        room: The same with codes broken at their dots and underscores.
        piece: Width of the longest part that is not broken.
        narrowest: Width at which words are broken too.
    """

    def __init__(self, head: str, cells: Sequence[str], *, is_number: bool) -> None:
        self.head = head
        self.cells = cells
        self.is_number = is_number
        self.natural = max(len(head), *map(len, cells), 0)
        whole = cells if is_number else [word for each in cells for word in _words(each)]
        self.word = max(map(len, (*_words(head), *whole)), default=0)
        pieces = whole if is_number else [each for word in whole for each in _pieces(word)]
        of_head = (each for word in _words(head) for each in _pieces(word))
        self.piece = max(map(len, (*of_head, *pieces)), default=0)
        enough = 0 if is_number else min(self.natural, COMFORTABLE)
        self.comfort = max(self.word, enough)
        self.room = max(self.piece, enough)
        self.narrowest = self.piece if is_number else min(self.piece, NARROWEST)


def _widths(columns: Sequence[_Column], width: int | None) -> list[int]:
    """Return the widths of the columns: the widest give way first."""
    widths = [each.natural for each in columns]
    if width is None or _total(widths) <= width:
        return widths
    degrees = (
        [each.comfort for each in columns],
        [each.room for each in columns],
        [each.piece for each in columns],
    )
    fitting = (floors for floors in degrees if _total(floors) <= width)
    floors = next(fitting, [each.narrowest for each in columns])
    while _total(widths) > width:
        give = [place for place, each in enumerate(widths) if each > floors[place]]
        if not give:
            break
        widths[max(give, key=widths.__getitem__)] -= 1
    return widths


def _total(widths: Sequence[int]) -> int:
    return sum(widths) + len(GAP) * (len(widths) - 1)


def _lines(cells: Sequence[str], columns: Sequence[_Column], widths: Sequence[int]) -> list[str]:
    """Return a row in as many lines as its highest cell."""
    parts = [
        [text] if len(text) <= width else _wrap(text, width, _NarrowWrapper)
        for text, width in zip(cells, widths, strict=True)
    ]
    placed = []
    for place in range(max(map(len, parts))):
        line = [
            text.rjust(width) if column.is_number else text.ljust(width)
            for text, column, width in zip(
                (part[place] if place < len(part) else "" for part in parts),
                columns,
                widths,
                strict=True,
            )
        ]
        placed.append(GAP.join(line).rstrip())
    return placed


def _words(text: str) -> list[str]:
    return _joined(text).split()


def _pieces(word: str) -> list[str]:
    """Return the parts of a code or a pointer, which a line may end behind."""
    return [each for each in _NarrowWrapper.wordsep_simple_re.split(word) if each]


def _joined(text: str) -> str:
    return _TOGETHER.sub(lambda found: found[0].replace(" ", _JOINT), text)


def _wrap(
    text: str,
    width: int,
    wrapper: type[textwrap.TextWrapper],
    initial_indent: str = "",
    subsequent_indent: str = "",
) -> list[str]:
    wrap = wrapper(
        width=width,
        initial_indent=initial_indent,
        subsequent_indent=subsequent_indent,
        break_on_hyphens=False,
    )
    return [line.replace(_JOINT, " ") for line in wrap.wrap(_joined(text))] or [""]


def words(name: str | None) -> str:
    """Return a name of the API as words.

    Example:
        >>> words("not_weavable")
        'not weavable'
    """
    return (name or "").replace("_", " ")
