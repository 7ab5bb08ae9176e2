"""The log: one JSON object a line, from the service and from gunicorn alike.

Every character that is not plain ASCII is escaped, line breaks and terminal sequences among them,
so that nothing a caller sends can begin a line of its own or change what a reader sees. Bodies,
tokens, query strings and the addresses of links never get here: an address is logged by the
template that it matched.
"""

from __future__ import annotations

import json
import logging
import sys
from datetime import UTC, datetime
from typing import Any, Final, TextIO

from flask import g, has_request_context
from gunicorn.glogging import Logger as GunicornLogger  # type: ignore[import-untyped]

REQUESTS: Final = logging.getLogger("weavability.requests")
"""One line a request."""

_LONGEST_TEXT: Final = 2_000
_LONGEST_TRACEBACK: Final = 20_000


class JsonFormatter(logging.Formatter):
    """Writes a record as one line of JSON; ``extra={"facts": {…}}`` adds fields."""

    def format(self, record: logging.LogRecord) -> str:
        """Write ``record``."""
        line: dict[str, Any] = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "process": record.process,
            "message": record.getMessage()[:_LONGEST_TEXT],
        }
        if has_request_context() and "request_id" in g:
            line["request_id"] = g.request_id
        line.update(getattr(record, "facts", {}))
        if record.exc_info:
            # The innermost frames say the most, and they are last.
            line["exception"] = self.formatException(record.exc_info)[-_LONGEST_TRACEBACK:]
        return json.dumps(line, default=str)


def handler(stream: TextIO | None = None) -> logging.Handler:
    """Return a handler that writes JSON lines; to standard error if no stream is given."""
    made = logging.StreamHandler(stream or sys.stderr)
    made.setFormatter(JsonFormatter())
    return made


def set_up() -> None:
    """Send everything that is logged in this process to standard error, as JSON lines."""
    root = logging.getLogger()
    root.handlers = [handler()]
    root.setLevel(logging.INFO)
    logging.captureWarnings(capture=True)


class ServerLogger(GunicornLogger):  # type: ignore[misc]
    """gunicorn's own messages in the same form; its request lines are left to the service."""

    def setup(self, cfg: Any) -> None:
        """Set up the loggers, then let them write JSON."""
        super().setup(cfg)
        for each in self.error_log.handlers:
            each.setFormatter(JsonFormatter())

    def exception(self, msg: str, *args: Any, **kwargs: Any) -> None:
        """Log the error that is being handled; a client that went silent is no error of ours."""
        if isinstance(sys.exception(), BlockingIOError):
            self.warning("a request did not arrive in time and was cut off")
        else:
            super().exception(msg, *args, **kwargs)
