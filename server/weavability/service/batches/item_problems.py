"""Many in one request: what goes wrong with one item is told of that item alone."""

from __future__ import annotations

import logging
from dataclasses import replace

from flask import g, request
from werkzeug.exceptions import HTTPException

from weavability.service.http import problems
from weavability.service.http.problems import Problem, ProblemError
from weavability.textiles.errors import InputError

_log = logging.getLogger(__name__)


def problem_of(error: Exception, index: int) -> Problem:
    """Write down what went wrong with the item ``index``; a failure of ours is logged as well."""
    if isinstance(error, InputError):
        error = ProblemError.of_input(error)
    if isinstance(error, HTTPException):
        kind = problems.KIND_OF_STATUS.get(error.code or 500, problems.INTERNAL_ERROR)
        error = ProblemError(kind=kind, detail=kind.advice)
    if not isinstance(error, ProblemError):
        _log.error("item %d failed", index, exc_info=error)
        error = ProblemError(
            kind=problems.INTERNAL_ERROR,
            detail=f"The service failed; its log has more under {g.request_id}.",
        )
    problem = error.document(path=request.path, request_id=g.request_id)
    return replace(problem, instance=f"{problem.instance}/{index}")
