"""A problem as a page, for whoever opens a link that does not work."""

from __future__ import annotations

from flask import render_template

from weavability.service.http.problems import Problem
from weavability.service.pages.wording import show


def render(problem: Problem) -> str:
    """Return the page of a problem that a request met."""
    return render_template("problem.html", problem=problem, show=show)
