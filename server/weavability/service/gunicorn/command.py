"""``weavability-server``: the service under gunicorn."""

from __future__ import annotations

import argparse
import gc
import ipaddress
import logging
import os
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from flask import Flask
from gunicorn.app.base import BaseApplication  # type: ignore[import-untyped]
from gunicorn.arbiter import Arbiter  # type: ignore[import-untyped]

from weavability.looms.thresholds import ThresholdFileError
from weavability.service import state
from weavability.service.access.cross_origin import as_origin
from weavability.service.access.tokens import (
    MOST_PER_MIN,
    MOST_WORK_PER_MIN,
    Scope,
    TokenFileError,
    make_token,
)
from weavability.service.app import create_app, openapi_document
from weavability.service.gunicorn.handshakes import LINGER_S, begin_no_more
from weavability.service.gunicorn.worker import closing_as_said, head_has_come
from weavability.service.http.edition import edition
from weavability.service.http.freed_memory import use_one_heap
from weavability.service.http.slow_clients import bound_receiving, wait_for_data
from weavability.service.http.work import UNITS_OF_A_MILLION_CROSSINGS
from weavability.service.observability import json_logs, metrics
from weavability.service.requests.park import ParkError
from weavability.service.requests.park_check import check_park
from weavability.service.settings import Settings

if TYPE_CHECKING:
    from _typeshed.wsgi import WSGIApplication

DEFAULT_BIND: Final = "127.0.0.1:8080"
WRONG_USE: Final = 2
REQUESTS_PER_MIN: Final = 6_000
"""Limit of one caller at one worker process, if other machines can connect."""

WORK_PER_MIN: Final = 60_000
"""The same in units of work: what one core does in one to four minutes, by what is requested."""

_log = logging.getLogger(__name__)

# gunicorn's own settings. A connection is kept alive longer than the minute between the posts of
# a slow caller: with the default of 2 s, posts that met the closing connection were lost.
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


class _Master(Arbiter):  # type: ignore[misc]
    """The first process, which stops without a loss."""

    def stop(self, graceful: bool = True) -> None:  # noqa: FBT001, FBT002  (gunicorn's own)
        """Stop the workers when they have taken the connections that have begun."""
        for listener in self.LISTENERS:
            begin_no_more(listener)
        time.sleep(LINGER_S)
        super().stop(graceful)


class _Server(BaseApplication):  # type: ignore[misc]
    """gunicorn, configured from here rather than from its own command line."""

    def __init__(self, settings: Settings, options: dict[str, Any]) -> None:
        self._settings = settings
        self._options = options
        self._app: Flask | None = None
        super().__init__()

    def load_config(self) -> None:
        """Hand the options over."""
        hooks = {
            "post_fork": self._prepare,
            "pre_request": head_has_come,
            "child_exit": self._forget,
        }
        for name, value in (*self._options.items(), *hooks.items()):
            self.cfg.set(name, value)

    def load(self) -> WSGIApplication:
        """Make the application; gunicorn calls this once, before it forks."""
        self._app = create_app(self._settings)
        edition()  # of the files whose code runs here: workers that start later have no other
        return closing_as_said(self._app)

    def run(self) -> None:
        """Serve until stopped."""
        _Master(self).run()

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
        except (ParkError, TokenFileError, ThresholdFileError) as error:
            metrics.metrics().reloads.labels("refused").inc()
            _log.error("reload refused, the service continues unchanged: %s", error)
            return
        state.put_to_use(self._app.extensions, fresh)
        metrics.metrics().reloads.labels("done").inc()
        _log.info("reloaded: %d looms, park %s", len(fresh.park.looms), fresh.park.digest)

    def _prepare(self, _arbiter: Any, worker: Any) -> None:
        """Make room for counts, and keep silent clients from the threads of a new worker.

        Accepted sockets inherit what is set here.

        A connection is handed over when its first bytes have come, and a read in which nothing
        comes ends. What the worker was forked with stays as long as the worker: the collector of
        cycles leaves it out, or it would look through all of it every hundred requests or so.
        """
        gc.freeze()
        metrics.take_room()
        worker.patience_s = self._settings.patience_s
        for listener in worker.sockets:
            bound_receiving(listener, self._settings.patience_s)
            wait_for_data(listener, self._settings.patience_s)

    def _forget(self, _arbiter: Any, worker: Any) -> None:
        metrics.forget(worker.pid)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the service until it is stopped; 2 if it cannot start with these options."""
    options = _parser().parse_args(arguments)
    if options.new_token is not None:
        return _new_token(options.new_token, options.scope or [Scope.VALIDATE])
    if options.check_park is not None:
        return _check_park(options.check_park)
    complaint = _complaint(
        options.bind, open_to_all=options.open, tokens=options.tokens is not None
    )
    if complaint:
        return _refuse(complaint)
    complaint = _settle_temporary_files()
    if complaint:
        return _refuse(complaint)
    use_one_heap()
    settings = _settings(options)
    try:
        state.load(settings, describe=openapi_document)
    except (ParkError, TokenFileError, ThresholdFileError) as error:
        return _refuse(str(error))
    json_logs.set_up()
    metrics.take_room()
    _Server(settings, _options(options)).run()
    return 0


def _settle_temporary_files() -> str | None:
    """Keep batches where the environment says, and nowhere else if that is full.

    Python looks for a place at the first need, and takes another one if it cannot write there.

    Returns:
        Why the place cannot be used; ``None`` if it can or if none is stated.
    """
    stated = os.environ.get("TMPDIR")
    if not stated:
        return None
    if not Path(stated).is_dir() or not os.access(stated, os.W_OK | os.X_OK):
        return f"TMPDIR is {stated!r}, which is no directory that can be written to."
    tempfile.tempdir = stated
    return None


def _settings(options: argparse.Namespace) -> Settings:
    guarded = options.open or options.tokens is not None
    limit = options.requests_per_min
    if limit is None:
        limit = REQUESTS_PER_MIN if guarded else 0
    work = options.work_per_min
    if work is None:
        work = WORK_PER_MIN if guarded else 0
    return Settings(
        looms=options.looms,
        tokens=options.tokens,
        thresholds=options.thresholds,
        max_body_bytes=options.max_body_mib * 2**20,
        max_batch_items=options.max_batch_items or None,
        batch_read_ahead_bytes=options.batch_read_ahead_mib * 2**20,
        requests_per_min=limit or None,
        work_per_min=work or None,
        patience_s=options.patience_s,
        allow_origins=frozenset(options.allow_origin),
        proxies=options.proxies,
    )


def _options(options: argparse.Namespace) -> dict[str, Any]:
    return {
        **_GUNICORN,
        "bind": options.bind,
        "workers": options.workers,
        "threads": options.threads,
        "graceful_timeout": options.grace_s,
    }


def _new_token(name: str, scopes: Sequence[Scope]) -> int:
    """Print the lines for a token file; the token itself goes to standard error, once."""
    try:
        token, lines = make_token(name, scopes)
    except ValueError as error:
        return _refuse(str(error))
    sys.stderr.write(f"The token, shown this once: {token}\n")
    sys.stdout.write(lines)
    return 0


def _check_park(path: Path) -> int:
    """Print what a park file leaves to be assumed; every fault of it goes to standard error."""
    try:
        found = "\n".join(check_park(path))
    except ParkError as error:
        return _refuse(str(error))
    sys.stdout.write(f"{found}\n")
    return 0


def _refuse(complaint: str) -> int:
    sys.stderr.write(f"weavability-server: {complaint}\n")
    return WRONG_USE


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="weavability-server",
        description="Run the service that judges woven constructions against loom limits.",
        epilog="weavability-server archive --help: judge a file of orders on every loom of a park.",
    )
    parser.add_argument(
        "--bind",
        default=DEFAULT_BIND,
        metavar="ADDRESS",
        help="host:port to listen at (%(default)s)",
    )
    parser.add_argument(
        "--looms", type=Path, metavar="FILE", help="loom park in TOML (the demo park)"
    )
    parser.add_argument(
        "--check-park",
        type=Path,
        metavar="FILE",
        help="list every fault of a park file, or the limits that it leaves open, and exit",
    )
    parser.add_argument(
        "--thresholds",
        type=Path,
        metavar="FILE",
        help="the mill's own thresholds: lines of name = value in TOML; GET /v1/checks lists all",
    )
    parser.add_argument(
        "--workers",
        type=_positive,
        default=_default_workers(),
        metavar="N",
        help="worker processes (%(default)s)",
    )
    parser.add_argument(
        "--threads",
        type=_positive,
        default=8,
        metavar="N",
        help="threads of each worker (%(default)s)",
    )
    parser.add_argument(
        "--max-body-mib",
        type=_positive,
        default=8,
        metavar="N",
        help="longest body, in MiB (%(default)s)",
    )
    parser.add_argument(
        "--max-batch-items", type=_limit, default=0, metavar="N",
        help="most lines or rows of a batch; 0 for no limit (%(default)s)",
    )  # fmt: skip
    parser.add_argument(
        "--batch-read-ahead-mib", type=_positive, default=64, metavar="N",
        help="part of each batch that is read into a temporary file before its first answer, in "
        "MiB; clients that send more must read while they send (%(default)s)",
    )  # fmt: skip
    parser.add_argument(
        "--patience-s", type=_positive, default=20, metavar="N",
        help="longest time that a client may keep the service waiting for its request, or with its "
        "answer, in seconds; every 2 kB that move earn a second, up to twice N (%(default)s)",
    )  # fmt: skip
    parser.add_argument(
        "--grace-s", type=_positive, default=30, metavar="N",
        help="longest time for requests under way when the service stops, in seconds (%(default)s)",
    )  # fmt: skip
    _add_access(parser.add_argument_group("access"))
    return parser


def _add_access(group: argparse._ArgumentGroup) -> None:
    group.add_argument(
        "--tokens", type=Path, metavar="FILE", help="require tokens; their digests in TOML"
    )
    group.add_argument(
        "--new-token", metavar="NAME", help="make a token, print the lines for FILE, and exit"
    )
    group.add_argument(
        "--scope", action="append", type=Scope, choices=[*Scope], metavar="SCOPE",
        help=f"scope of the new token: {', '.join(Scope)}; repeatable (validate)",
    )  # fmt: skip
    group.add_argument(
        "--requests-per-min", type=_limit, metavar="N",
        help="limit of one token, or of one address without tokens, at one worker; 0 for no limit "
        f"({REQUESTS_PER_MIN}; no limit if only this machine can connect)",
    )  # fmt: skip
    group.add_argument(
        "--work-per-min", type=_work, metavar="N",
        help="the same in units of work: one for each order on each loom, "
        f"{UNITS_OF_A_MILLION_CROSSINGS} for each million crossings of a design ({WORK_PER_MIN})",
    )  # fmt: skip
    group.add_argument(
        "--allow-origin", action="append", type=_origin, default=[], metavar="ORIGIN",
        help="let scripts of pages elsewhere read the answers, such as https://board.example; they "
        "need a token of their own; repeatable (none)",
    )  # fmt: skip
    group.add_argument(
        "--proxies", type=_few, default=0, metavar="N",
        help="own proxies in front, whose X-Forwarded-For is trusted (%(default)s)",
    )  # fmt: skip
    group.add_argument(
        "--open", action="store_true", help="let other machines connect without tokens"
    )


def _origin(text: str) -> str:
    try:
        return as_origin(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from None


def _limit(text: str) -> int:
    return _between(text, 0, MOST_PER_MIN)


def _work(text: str) -> int:
    return _between(text, 0, MOST_WORK_PER_MIN)


def _few(text: str) -> int:
    return _between(text, 0, 8)


def _positive(text: str) -> int:
    return _between(text, 1, 1024)


def _between(text: str, least: int, most: int) -> int:
    is_whole = text.isascii() and text.isdecimal()
    if not is_whole or not least <= int(text) <= most:
        raise argparse.ArgumentTypeError(f"must be from {least} to {most}, in the digits 0 to 9")
    return int(text)


def _default_workers() -> int:
    return max(1, len(os.sched_getaffinity(0)))


def _is_port(text: str) -> bool:
    return text.isascii() and text.isdecimal() and int(text) <= 65535


def _complaint(bind: str, *, open_to_all: bool, tokens: bool) -> str | None:
    """Return why the service refuses to listen at ``bind``; ``None`` if it does not."""
    if bind.startswith("unix:"):
        return None
    host, colon, port = bind.rpartition(":")
    if not colon or not _is_port(port):
        return f"--bind {bind!r} is not host:port, such as {DEFAULT_BIND}"
    if open_to_all or tokens or is_loopback(host.strip("[]")):
        return None
    return (
        f"Other machines can connect to {bind}. Name a token file with --tokens (--new-token "
        "prints its lines), bind to 127.0.0.1, or add --open if a firewall keeps strangers out."
    )


def is_loopback(host: str) -> bool:
    """Return whether only this machine can connect to ``host``.

    >>> is_loopback("127.0.0.1"), is_loopback("::1"), is_loopback("0.0.0.0"), is_loopback("")
    (True, True, False, False)
    """
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False
