"""The board as a page: reports that somebody keeps an eye on, listed in their own browser."""

from __future__ import annotations

from flask import render_template

from weavability.answers.caution import CAUTION


def render() -> str:
    """Return the page; its list is filled by its script."""
    return render_template("board.html", caution=CAUTION)
