"""The checks as pages for people: the list by subject, and one check with what decides it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import groupby
from typing import Final

from flask import render_template

from weavability.answers.caution import CAUTION
from weavability.checks.registry import CheckInfo
from weavability.service.pages.order_fields import pointer_in_words
from weavability.service.pages.wording import SEVERITIES, measure, show

_GAP: Final = re.compile(r"\{[^{}]*\}")
"""Where a message has a figure of the order."""


def render_list(checks: Sequence[CheckInfo]) -> str:
    """Return the page of all checks, which come by subject."""
    by_subject = groupby(checks, key=lambda each: each.subject)
    return render_template(
        "checks.html",
        subjects=[(subject, list(found)) for subject, found in by_subject],
        severities=SEVERITIES,
        caution=CAUTION,
    )


def render(check: CheckInfo) -> str:
    """Return the page of one check."""
    return render_template(
        "check.html",
        check=check,
        messages={key: _GAP.sub("…", text) for key, text in check.messages.items()},
        pointer_in_words=pointer_in_words,
        severities=SEVERITIES,
        measure=measure,
        show=show,
        caution=CAUTION,
    )
