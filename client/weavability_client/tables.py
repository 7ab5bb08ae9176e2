"""Plain text tables."""

from __future__ import annotations

from collections.abc import Sequence


def cell(value: object) -> str:
    """Return ``value`` as a table shows it: nothing for ``None``, at most one decimal."""
    match value:
        case None:
            return ""
        case float():
            return f"{value:.1f}".removesuffix(".0") if abs(value) < 1000 else f"{value:.0f}"
        case _:
            return str(value)


def money(value: float | None) -> str:
    """Return an amount of money in four figures, or to the whole unit if it has more.

    Example:
        >>> money(1.71169), money(0.0031416), money(12345.678)
        ('1.712', '0.003142', '12346')
    """
    if value is None:
        return ""
    return f"{value:.0f}" if abs(value) >= 10_000 else f"{value:.4g}"


def text_table(header: Sequence[str], rows: Sequence[Sequence[object]]) -> str:
    """Return a table in columns as wide as their widest cell; numbers are at the right.

    Example:
        >>> print(text_table(["order", "m/min"], [["A 1", 812.04], ["A 12", 94]]))
        order  m/min
        -----  -----
        A 1      812
        A 12      94
    """
    shown = [[cell(value) for value in row] for row in rows]
    widths = [max(map(len, column)) for column in zip(header, *shown, strict=True)]
    right = [
        any(isinstance(value, int | float) for value in column)
        for column in zip(*rows, strict=True)
    ] or [False] * len(header)
    lines = [list(header), ["-" * width for width in widths], *shown]
    return "\n".join(_line(line, widths, right) for line in lines)


def _line(cells: Sequence[str], widths: Sequence[int], right: Sequence[bool]) -> str:
    placed = [
        text.rjust(width) if numeric else text.ljust(width)
        for text, width, numeric in zip(cells, widths, right, strict=True)
    ]
    return "  ".join(placed).rstrip()


def words(name: str | None) -> str:
    """Return a name of the API as words.

    Example:
        >>> words("not_weavable")
        'not weavable'
    """
    return (name or "").replace("_", " ")
