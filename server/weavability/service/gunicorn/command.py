"""``weavability-server``: the service under gunicorn."""

from __future__ import annotations

import argparse
import ipaddress
import logging
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

from flask import Flask
from gunicorn.app.base import BaseApplication  # type: ignore[import-untyped]

from weavability.service import state
from weavability.service.access.tokens import Scope, TokenFileError, make_token
from weavability.service.app import create_app, openapi_document
from weavability.service.http.slow_clients import bound_receiving, wait_for_data
from weavability.service.observability import json_logs, metrics
from weavability.service.requests.park import ParkError
from weavability.service.settings import Settings

DEFAULT_BIND: Final = "127.0.0.1:8080"
WRONG_USE: Final = 2
REQUESTS_PER_MIN: Final = 6_000
"""Limit of one caller at one worker process, where strangers reach the service or have tokens."""

_log = logging.getLogger(__name__)

# gunicorn's own settings. A kept-alive connection outlives clients that post every minute: with
# the default of 2 s, posts that met the closing connection were lost.
_GUNICORN: Final[dict[str, Any]] = {
    "worker_class": "weavability.service.gunicorn.worker.Worker",
    "logger_class": "weavability.service.observability.json_logs.ServerLogger",
    "keepalive": 75,
    "preload_app": True,
    "timeout": 60,
    "graceful_timeout": 30,
    "limit_request_line": 8190,
    "limit_request_fields": 64,
    "limit_request_field_size": 8190,
    "control_socket_disable": True,
    "max_requests": 0,
}


class _Server(BaseApplication):  # type: ignore[misc]
    """gunicorn, configured from here rather than from its own command line."""

    def __init__(self, settings: Settings, options: dict[str, Any]) -> None:
        self._settings = settings
        self._options = options
        self._app: Flask | None = None
        super().__init__()

    def load_config(self) -> None:
        """Hand the options over."""
        hooks = {"post_fork": self._bound_clients, "child_exit": self._forget}
        for name, value in (*self._options.items(), *hooks.items()):
            self.cfg.set(name, value)

    def load(self) -> Flask:
        """Make the application; gunicorn calls this once, before it forks."""
        self._app = create_app(self._settings)
        return self._app

    def reload(self) -> None:
        """Read park and tokens again, on SIGHUP; a file that cannot be used changes nothing.

        gunicorn then starts new workers, which have what was read, and lets the old ones finish.
        """
        super().reload()
        if self._app is None:
            return
        metrics.begin_anew()
        try:
            fresh = state.load(self._settings, describe=openapi_document)
        except (ParkError, TokenFileError) as error:
            metrics.metrics().reloads.labels("refused").inc()
            _log.error("reload refused, the service goes on as it was: %s", error)
            return
        state.keep(self._app.extensions, fresh)
        metrics.metrics().reloads.labels("done").inc()
        _log.info("reloaded: %d looms, park %s", len(fresh.park.looms), fresh.park.digest)

    def _bound_clients(self, _arbiter: Any, worker: Any) -> None:
        """Keep silent clients from the threads: accepted sockets inherit what is set here.

        A connection is handed over when its first bytes have come, and a read in which nothing
        comes ends. A head that trickles in is not bounded here, but by the proxy.
        """
        for listener in worker.sockets:
            bound_receiving(listener, self._settings.patience_s)
            wait_for_data(listener, self._settings.patience_s)

    def _forget(self, _arbiter: Any, worker: Any) -> None:
        metrics.forget(worker.pid)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the service until it is stopped; 2 where it cannot start as told."""
    told = _parser().parse_args(arguments)
    if told.new_token is not None:
        return _new_token(told.new_token, told.scope or [Scope.VALIDATE])
    complaint = _complaint(told.bind, open_to_all=told.open, tokens=told.tokens is not None)
    if complaint:
        return _refuse(complaint)
    settings = _settings(told)
    try:
        state.load(settings, describe=openapi_document)
    except (ParkError, TokenFileError) as error:
        return _refuse(str(error))
    json_logs.set_up()
    _Server(settings, _options(told)).run()
    return 0


def _settings(told: argparse.Namespace) -> Settings:
    guarded = told.open or told.tokens is not None
    limit = told.requests_per_min
    if limit is None:
        limit = REQUESTS_PER_MIN if guarded else 0
    return Settings(
        looms=told.looms,
        tokens=told.tokens,
        max_body_bytes=told.max_body_mib * 2**20,
        max_batch_items=told.max_batch_items or None,
        batch_read_ahead_bytes=told.batch_read_ahead_mib * 2**20,
        requests_per_min=limit or None,
        patience_s=told.patience_s,
        proxies=told.proxies,
    )


def _options(told: argparse.Namespace) -> dict[str, Any]:
    return {
        **_GUNICORN,
        "bind": told.bind,
        "workers": told.workers,
        "threads": told.threads,
        "graceful_timeout": told.grace_s,
    }


def _new_token(name: str, scopes: Sequence[Scope]) -> int:
    """Print a token file's lines; the token itself goes to standard error, once."""
    try:
        token, lines = make_token(name, scopes)
    except ValueError as error:
        return _refuse(str(error))
    sys.stderr.write(f"The token, shown this once: {token}\n")
    sys.stdout.write(lines)
    return 0


def _refuse(complaint: str) -> int:
    sys.stderr.write(f"weavability-server: {complaint}\n")
    return WRONG_USE


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="weavability-server",
        description="Serve judgements of woven constructions against loom limits.",
    )
    parser.add_argument(
        "--bind", default=DEFAULT_BIND, metavar="ADDRESS", help="host:port (%(default)s)"
    )
    parser.add_argument(
        "--looms", type=Path, metavar="FILE", help="loom park in TOML; the demo park if not given"
    )
    parser.add_argument(
        "--workers", type=_positive, default=_default_workers(), metavar="N", help="(%(default)s)"
    )
    parser.add_argument(
        "--threads", type=_positive, default=8, metavar="N", help="of each worker (%(default)s)"
    )
    parser.add_argument(
        "--max-body-mib", type=_positive, default=8, metavar="N", help="longest body (%(default)s)"
    )
    parser.add_argument(
        "--max-batch-items", type=_limit, default=0, metavar="N",
        help="most lines or rows of a batch; 0 for any number (%(default)s)",
    )  # fmt: skip
    parser.add_argument(
        "--batch-read-ahead-mib", type=_positive, default=256, metavar="N",
        help="what is taken of each batch into a temporary file before its first answer; clients "
        "that send more have to read while they send (%(default)s)",
    )  # fmt: skip
    parser.add_argument(
        "--patience-s", type=_positive, default=20, metavar="N",
        help="longest that a request's head, or its body, may take to arrive (%(default)s)",
    )  # fmt: skip
    parser.add_argument(
        "--grace-s", type=_positive, default=30, metavar="N",
        help="longest that requests under way may take when the service stops (%(default)s)",
    )  # fmt: skip
    _add_access(parser.add_argument_group("access"))
    return parser


def _add_access(group: argparse._ArgumentGroup) -> None:
    group.add_argument(
        "--tokens", type=Path, metavar="FILE", help="ask for bearer tokens; digests in TOML"
    )
    group.add_argument(
        "--new-token", metavar="NAME", help="make a token, print the lines for FILE, and end"
    )
    group.add_argument(
        "--scope", action="append", type=Scope, choices=[*Scope], metavar="SCOPE",
        help=f"what the new token allows: {', '.join(Scope)}; repeatable (validate)",
    )  # fmt: skip
    group.add_argument(
        "--requests-per-min", type=_limit, metavar="N",
        help="limit of one token, or of one address without tokens, at one worker; 0 for none "
        f"({REQUESTS_PER_MIN}; none where only this machine can ask)",
    )  # fmt: skip
    group.add_argument(
        "--proxies", type=_few, default=0, metavar="N",
        help="own proxies in front, whose X-Forwarded-For is believed (%(default)s)",
    )  # fmt: skip
    group.add_argument("--open", action="store_true", help="let other machines ask without tokens")


def _limit(text: str) -> int:
    return _between(text, 0, 1_000_000)


def _few(text: str) -> int:
    return _between(text, 0, 8)


def _positive(text: str) -> int:
    return _between(text, 1, 1024)


def _between(text: str, least: int, most: int) -> int:
    number = int(text)
    if not least <= number <= most:
        raise argparse.ArgumentTypeError(f"must be from {least} to {most}")
    return number


def _default_workers() -> int:
    return max(1, len(os.sched_getaffinity(0)))


def _complaint(bind: str, *, open_to_all: bool, tokens: bool) -> str | None:
    """Say why the service will not listen at ``bind``, or ``None`` where it will."""
    if bind.startswith("unix:"):
        return None
    host, colon, port = bind.rpartition(":")
    if not colon or not port.isdecimal() or int(port) > 65535:
        return f"--bind {bind!r} is not host:port, such as {DEFAULT_BIND}"
    if open_to_all or tokens or is_loopback(host.strip("[]")):
        return None
    return (
        f"{bind} can be reached from other machines. Name a token file with --tokens (--new-token "
        "makes its lines), bind to 127.0.0.1, or say --open where a firewall keeps strangers out."
    )


def is_loopback(host: str) -> bool:
    """Tell whether only this machine can reach ``host``.

    >>> is_loopback("127.0.0.1"), is_loopback("::1"), is_loopback("0.0.0.0"), is_loopback("")
    (True, True, False, False)
    """
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False
