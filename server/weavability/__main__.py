"""``weavability-server``, and ``python -m weavability``: the service, if its packages are there."""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

WRONG_USE: Final = 2
_COUNTS: Final = "PROMETHEUS_MULTIPROC_DIR"


def main() -> int:
    """Run the service; 2 if its packages are not installed, with a sentence that says so."""
    with _directory_of_counts():
        try:
            from weavability.service.gunicorn import command
        except ModuleNotFoundError as error:
            if (error.name or "").partition(".")[0] == __package__:
                raise
            sys.stderr.write(
                f"weavability-server: the service needs the package {error.name}, which is not "
                "installed: pip install 'weavability[server]'\n"
            )
            return WRONG_USE
        return command.main()


@contextmanager
def _directory_of_counts() -> Iterator[None]:
    """Give the worker processes a directory to count in, for as long as the service runs.

    The metrics library wants it named before it is imported. An operator may name one.
    """
    if _COUNTS in os.environ:
        yield
        return
    owner = os.getpid()
    os.environ[_COUNTS] = directory = tempfile.mkdtemp(prefix="weavability-")
    try:
        yield
    finally:
        if os.getpid() == owner:  # a worker process that ends comes through here too
            shutil.rmtree(directory, ignore_errors=True)


if __name__ == "__main__":
    sys.exit(main())
