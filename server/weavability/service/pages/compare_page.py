"""Two reports side by side as a page: which two is a form of two links."""

from __future__ import annotations

from collections.abc import Sequence

from flask import render_template

from weavability.answers.caution import CAUTION
from weavability.service.pages.report_comparison import Comparison


def render(texts: Sequence[str], faults: Sequence[str], comparison: Comparison | None) -> str:
    """Return the page.

    Args:
        texts: Both links as they were given.
        faults: What is wrong with each; empty if nothing is.
        comparison: What differs, if both could be opened.
    """
    return render_template(
        "compare.html",
        fields=list(
            zip(("one", "other"), ("First report", "Second report"), texts, faults, strict=True)
        ),
        comparison=comparison,
        caution=CAUTION,
    )
