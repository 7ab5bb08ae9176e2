"""``weavability-server``, and ``python -m weavability``: service and archive, if installed."""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Final

WRONG_USE: Final = 2
_COUNTS: Final = "PROMETHEUS_MULTIPROC_DIR"


def main() -> int:
    """Run the service or the archive; 2 if packages are not installed, with a sentence on it."""
    if sys.argv[1:2] == ["archive"]:
        return _archive(sys.argv[2:])
    with _directory_of_counts():
        try:
            from weavability.service.gunicorn import command
        except ModuleNotFoundError as error:
            return _not_installed(error, "the service", extra="server")
        return command.main()


def _archive(arguments: Sequence[str]) -> int:
    try:
        from weavability.service.archive import archive_command
    except ModuleNotFoundError as error:
        return _not_installed(error, "an archive", extra="archive")
    return archive_command.main(arguments)


def _not_installed(error: ModuleNotFoundError, what: str, *, extra: str) -> int:
    if (error.name or "").partition(".")[0] == __package__:
        raise error
    sys.stderr.write(
        f"weavability-server: {what} needs the package {error.name}, which is not "
        f"installed: pip install 'weavability[{extra}]'\n"
    )
    return WRONG_USE


@contextmanager
def _directory_of_counts() -> Iterator[None]:
    """Give the worker processes a directory to count in, for as long as the service runs.

    The metrics library wants it named before it is imported. An operator may name one; else it is
    made in ``RUNTIME_DIRECTORY``, which service managers set, or among temporary files.
    """
    if _COUNTS in os.environ:
        yield
        return
    owner = os.getpid()
    os.environ[_COUNTS] = directory = tempfile.mkdtemp(
        prefix="weavability-", dir=os.environ.get("RUNTIME_DIRECTORY")
    )
    try:
        yield
    finally:
        if os.getpid() == owner:  # a worker process that ends comes through here too
            shutil.rmtree(directory, ignore_errors=True)


if __name__ == "__main__":
    sys.exit(main())
