"""A problem as a page, for whoever opens a link that does not work."""

from __future__ import annotations

import re
from typing import Final

from flask import render_template
from markupsafe import Markup, escape

from weavability.service.http.problems import Problem
from weavability.service.pages.wording import show

_ADDRESS: Final = re.compile(r"\bGET (/v1/[a-z-]+)\b")


def render(problem: Problem) -> str:
    """Return the page of a problem that a request met."""
    # The detail is for programs as well; a person follows a link.
    listed = r'<a href="\1">\1</a>'
    detail = Markup(_ADDRESS.sub(listed, str(escape(problem.detail))))  # noqa: S704 (escaped before)
    return render_template("problem.html", problem=problem, detail=detail, show=show)
