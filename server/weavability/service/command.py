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

from weavability.service.app import create_app
from weavability.service.park import ParkError, load_park
from weavability.service.settings import Settings

DEFAULT_BIND: Final = "127.0.0.1:8080"
WRONG_USE: Final = 2

# gunicorn's own settings. A kept-alive connection outlives clients that post every minute: with
# the default of 2 s, posts that met the closing connection were lost.
_GUNICORN: Final[dict[str, Any]] = {
    "worker_class": "gthread",
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
        super().__init__()

    def load_config(self) -> None:
        """Hand the options over."""
        for name, value in self._options.items():
            self.cfg.set(name, value)

    def load(self) -> Flask:
        """Make the application; gunicorn calls this once, before it forks."""
        return create_app(self._settings)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the service until it is stopped; 2 where it cannot start as told."""
    told = _parser().parse_args(arguments)
    complaint = _complaint(told.bind, open_to_all=told.open)
    if complaint:
        return _refuse(complaint)
    settings = Settings(looms=told.looms, max_body_bytes=int(told.max_body_mib * 2**20))
    try:
        load_park(settings.looms)
    except ParkError as error:
        return _refuse(str(error))
    logging.basicConfig(level=logging.INFO, format="%(asctime)s %(levelname)s %(message)s")
    options = {
        **_GUNICORN,
        "bind": told.bind,
        "workers": told.workers,
        "threads": told.threads,
    }
    _Server(settings, options).run()
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
        "--open", action="store_true", help="allow an address that other machines can reach"
    )
    return parser


def _positive(text: str) -> int:
    number = int(text)
    if not 1 <= number <= 1024:
        raise argparse.ArgumentTypeError("must be from 1 to 1024")
    return number


def _default_workers() -> int:
    return max(1, len(os.sched_getaffinity(0)))


def _complaint(bind: str, *, open_to_all: bool) -> str | None:
    """Say why the service will not listen at ``bind``, or ``None`` where it will."""
    if bind.startswith("unix:"):
        return None
    host, colon, port = bind.rpartition(":")
    if not colon or not port.isdecimal() or int(port) > 65535:
        return f"--bind {bind!r} is not host:port, such as {DEFAULT_BIND}"
    if open_to_all or is_loopback(host.strip("[]")):
        return None
    return (
        f"{bind} can be reached from other machines, and this version knows no access tokens yet. "
        "Bind to 127.0.0.1, or say --open where a proxy or a firewall keeps strangers out."
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
