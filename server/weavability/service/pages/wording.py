"""How pages write verdicts, names and figures."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from weavability.checks.finding import Severity, Verdict

_THIN_SPACE: Final = "\u202f"
VERDICTS: Final[Mapping[Verdict, tuple[str, str, str]]] = {
    Verdict.WEAVABLE: ("good", "✓", "Weavable"),
    Verdict.WEAVABLE_WITH_WARNINGS: ("fair", "!", "Weavable, with warnings"),
    Verdict.NOT_WEAVABLE: ("bad", "✕", "Not weavable"),
}
"""Class of style, sign and words of a verdict: colour is never the only carrier."""

SEVERITIES: Final[Mapping[Severity, tuple[str, str]]] = {
    Severity.ERROR: ("bad", "Error: cannot or must not run"),
    Severity.WARNING: ("fair", "Warning: runs, but with this effect"),
    Severity.NOTE: ("plain", "Note: worth knowing"),
}
"""Class of style and meaning of a severity, the gravest first."""


def spoken(name: str) -> str:
    """Return a field's name as words.

    >>> spoken("reed_width_cm")
    'Reed width cm'
    """
    return name.replace("_", " ").capitalize()


def show(value: object) -> str:
    """Write a value for people: four significant figures, thousands apart, no exponent.

    >>> show(29.527062), show(0.012341), show(4912), show(-4.5), show("requested_speed")
    ('29.53', '0.01234', '4912', '−4.5', 'requested speed')
    """
    if isinstance(value, bool) or value is None:
        return {True: "yes", False: "no", None: "none"}[value]
    if isinstance(value, str):
        return value.replace("_", " ")
    if not isinstance(value, int | float):
        return str(value)
    return _figure(value).replace("-", "−")


def _figure(value: float) -> str:
    if abs(value) >= 10_000:
        return f"{value:,.0f}".replace(",", _THIN_SPACE)
    if isinstance(value, int) or abs(value) >= 1000:
        return f"{value:.0f}"
    return f"{float(f'{value:.4g}'):f}".rstrip("0").rstrip(".")


def measure(value: object, unit: str | None) -> str:
    """Write a value with its unit.

    >>> measure(1520, "mm"), measure("cotton", None)
    ('1520\u202fmm', 'cotton')
    """
    return f"{show(value)}{_THIN_SPACE}{unit}" if unit else show(value)
