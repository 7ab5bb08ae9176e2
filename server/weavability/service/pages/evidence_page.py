"""The evidence as a page for people: a table a subject, what does not agree first."""

from __future__ import annotations

from flask import render_template

from weavability.answers.published_evidence import Evidence, EvidenceCount, EvidenceKind

_KINDS = {
    EvidenceKind.OUTSIDE: "",
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

    >>> counted(EvidenceCount(outside=3, outside_agree=2, derived=1, derived_agree=1,
    ...                       recalled=0, recalled_agree=0))
    '2 of 3 outside values agree, and 1 of 1 derived'
    """
    parts = [f"{counts.outside_agree} of {counts.outside} outside values agree"]
    if counts.derived:
        parts.append(f"{counts.derived_agree} of {counts.derived} derived")
    if counts.recalled:
        parts.append(f"{counts.recalled_agree} of {counts.recalled} recalled")
    return ", and ".join(parts)


def figure(value: float | str) -> str:
    """Write a figure with up to seven digits; a statement as it is.

    >>> figure(1653.52), figure(-0.25), figure(1e-6), figure("woven")
    ('1653.52', '−0.25', '0.000001', 'woven')
    """
    if isinstance(value, str):
        return value
    written = f"{float(f'{value:.7g}'):.12f}".rstrip("0").rstrip(".")
    return written.replace("-", "−") if written != "-0" else "0"


def deviation(value: float) -> str:
    """Write a deviation with its sign and two digits.

    >>> deviation(0.01234), deviation(-2.0), deviation(0.0)
    ('+0.012', '−2', '0')
    """
    short = float(f"{value:.2g}")
    return f"+{figure(short)}" if short > 0 else figure(short)
