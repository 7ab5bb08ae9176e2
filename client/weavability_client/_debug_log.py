"""The log of what is sent and answered, which the environment switches on.

The logger is ``weavability_client``, so that a program can direct it as any other. It never logs a
token or a body; of an address it logs the beginning, and of a link no order.
"""

from __future__ import annotations

import logging
import os
from typing import Final

from weavability_client.errors import UsageError

LOG_VARIABLE: Final = "WEAVABILITY_LOG"
LEVELS: Final = {"debug": logging.DEBUG, "info": logging.INFO, "warning": logging.WARNING}


class _ToStandardError(logging.StreamHandler):  # type: ignore[type-arg]
    """The handler of the variable, of which there is one however many clients there are."""


def log_as_the_environment_says() -> None:
    """Log to standard error from the level that ``WEAVABILITY_LOG`` names, if it does.

    Raises:
        UsageError: The variable names no level.
    """
    named = os.environ.get(LOG_VARIABLE, "").strip().lower()
    if not named:
        return
    if named not in LEVELS:
        raise UsageError(f"{LOG_VARIABLE} must be {', '.join(LEVELS)} or unset, not {named!r}")
    log = logging.getLogger("weavability_client")
    log.setLevel(LEVELS[named])
    if not any(isinstance(each, _ToStandardError) for each in log.handlers):
        handler = _ToStandardError()
        handler.setFormatter(logging.Formatter("%(asctime)s %(name)s %(message)s"))
        log.addHandler(handler)
