"""The evidence as a page for people: a table a subject, what does not agree first."""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from flask import render_template

from weavability.answers.published_evidence import (
    Evidence,
    EvidenceCount,
    EvidenceKind,
    EvidenceValue,
)

LEAST_PCT: Final = 0.001
"""A deviation below this share of the published figure is not written in per cent."""

_KINDS: Final = {
    EvidenceKind.OUTSIDE: "",
    EvidenceKind.FITTED: "fitted",
    EvidenceKind.DERIVED: "derived",
    EvidenceKind.RECALLED: "recalled",
}


def render(found: Evidence) -> str:
    """Return the page."""
    return render_template(
        "evidence.html",
        evidence=found,
        kinds=_KINDS,
        counted=counted,
        figure=figure,
        deviation=deviation,
    )


def counted(counts: EvidenceCount) -> str:
    """Write counts as a sentence without its full stop.

    >>> counted(EvidenceCount(outside=3, outside_agree=2, fitted=0, fitted_agree=0,
    ...                       derived=1, derived_agree=1, recalled=0, recalled_agree=0))
    '2 of 3 outside values agree; 1 of 1 derived'
    """
    parts = [f"{counts.outside_agree} of {counts.outside} outside values agree"]
    if counts.fitted:
        parts.append(f"{counts.fitted_agree} of {counts.fitted} fitted")
    if counts.derived:
        parts.append(f"{counts.derived_agree} of {counts.derived} derived")
    if counts.recalled:
        parts.append(f"{counts.recalled_agree} of {counts.recalled} recalled")
    return "; ".join(parts)


def figure(value: float | str) -> str:
    """Write a figure with up to seven digits; a statement as it is.

    >>> figure(496054.6), figure(-0.25), figure(1e-6), figure(100.0), figure("woven")
    ('496054.6', '−0.25', '0.000001', '100', 'woven')
    """
    if isinstance(value, str):
        return value
    written = f"{Decimal(f'{value:.7g}'):f}"
    return (written.rstrip("0").rstrip(".") if "." in written else written).replace("-", "−")


def deviation(value: EvidenceValue) -> str:
    """Write a deviation with its sign and two digits; in per cent as well if that is noticeable."""
    if value.deviation is None:
        return ""
    share = value.deviation_pct
    in_pct = "" if share is None or abs(share) < LEAST_PCT else f" ({_signed(share)} %)"
    return f"{_signed(value.deviation)}{in_pct}"


def _signed(value: float) -> str:
    """Write a number with its sign and two digits.

    >>> _signed(0.01234), _signed(-2.0), _signed(0.0)
    ('+0.012', '−2', '0')
    """
    short = figure(float(f"{value:.2g}"))
    return f"+{short}" if value > 0 else short
