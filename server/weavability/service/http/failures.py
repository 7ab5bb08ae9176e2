"""The problems that answer the errors met while a request is handled."""

from __future__ import annotations

import errno
from typing import Final

from gunicorn.http.errors import NoMoreData, ParseException  # type: ignore[import-untyped]
from werkzeug.exceptions import HTTPException

from weavability.service.http import problems
from weavability.service.http.problems import ProblemError
from weavability.service.http.slow_clients import BodyCutError, BodyLateError
from weavability.textiles.errors import InputError
from weavability.textiles.sentences import say

RETRY_WITHOUT_ROOM_S: Final = 10

_CLOSING: Final = {"Connection": "close"}
"""Said if nobody knows at which byte the next request begins."""


def problem_for(error: Exception) -> ProblemError | None:
    """Return the problem that answers an error; ``None`` for a failure of the service."""
    match error:
        case ProblemError():
            return error
        case InputError():
            return ProblemError.of_input(error)
        case BodyLateError():
            return ProblemError(
                kind=problems.REQUEST_TIMEOUT,
                detail=say("problem.body_late", "The body did not arrive in time."),
                headers=_CLOSING,
            )
        case ConnectionResetError():
            return ProblemError(
                kind=problems.REQUEST_TIMEOUT,
                detail=say("problem.caller_hung_up", "The caller has hung up."),
            )
        case BodyCutError():
            return ProblemError(
                kind=problems.MALFORMED_HTTP,
                detail=say(
                    "problem.body_cut_off",
                    "The body ends before the length that Content-Length states.",
                ),
                headers=_CLOSING,
            )
        case ParseException() | NoMoreData():
            return ProblemError(
                kind=problems.MALFORMED_HTTP,
                detail=say("problem.body_broken", "The body breaks off, or its chunks are broken."),
                headers=_CLOSING,
            )
        case OSError(errno=errno.ENOSPC | errno.EDQUOT):
            return ProblemError(
                kind=problems.NOT_READY,
                detail=say(
                    "problem.no_room_for_batch",
                    "The service has no room left to keep a batch while it is "
                    "answered. Try again later, or send fewer lines at once.",
                ),
                headers={"Retry-After": str(RETRY_WITHOUT_ROOM_S), **_CLOSING},
            )
        case HTTPException():
            kind = problems.KIND_OF_STATUS.get(error.code or 500)
            return None if kind is None else ProblemError(kind=kind, detail=kind.detail)
    return None


def failure(request_id: str) -> ProblemError:
    """Return the problem that answers a failure of the service."""
    return ProblemError(
        kind=problems.INTERNAL_ERROR,
        detail=say(
            "problem.failed",
            "The service failed; its log has the cause under {request_id}.",
            request_id=request_id,
        ),
    )
