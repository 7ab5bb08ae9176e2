"""The command ``weavability``: the client on a command line.

Exit status: 0 weavable, 1 something is not weavable, 2 wrong use or trouble with the service.
"""

from __future__ import annotations

import argparse
import os
import sys
import traceback
from collections.abc import Sequence
from contextlib import suppress
from typing import TYPE_CHECKING

from weavability_client import _commands
from weavability_client._commands import INTERRUPTED, NAMES, TROUBLE, WEAVABLE
from weavability_client._completion import SHELLS, completion
from weavability_client._debug_log import LOG_VARIABLE
from weavability_client._options import COMMANDS, Run
from weavability_client._output import say
from weavability_client._version import __version__
from weavability_client.client import TOKEN_VARIABLE
from weavability_client.errors import WeavabilityError

if TYPE_CHECKING:
    from _typeshed import SupportsWrite


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; return its exit status."""
    if sys.stdout is None:
        say("there is no output to write to")
        return TROUBLE
    with suppress(AttributeError):
        sys.stdout.reconfigure(errors="replace")  # type: ignore[union-attr]
    try:
        try:
            return _run(arguments)
        finally:
            sys.stdout.flush()
    except WeavabilityError as error:
        say(str(error))
    except BrokenPipeError:
        _write_no_more()
    except OSError as error:
        say(f"the output cannot be written: {error.strerror or error}")
        _write_no_more()
    except KeyboardInterrupt:
        return INTERRUPTED
    except Exception as error:  # a fault of this program must not look like a verdict
        _say_fault(error)
    return TROUBLE


def _say_fault(error: Exception) -> None:
    said = f"{type(error).__name__}: {error}" if str(error) else type(error).__name__
    say(
        f"this is a fault of the program itself: {said}. Please report it with the command and the "
        f"order; with {LOG_VARIABLE}=debug it says where it happened."
    )
    if os.environ.get(LOG_VARIABLE, "").strip().lower() == "debug":
        traceback.print_exc()


def _write_no_more() -> None:
    """Let the interpreter, which flushes when it ends, find nothing to complain of."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _run(arguments: Sequence[str] | None) -> int:
    words = parser()
    options = words.parse_args(arguments)
    if options.command is None:
        if options.shell in NAMES:
            print(*_commands.names(options.shell), sep="\n")
        else:
            print(completion(words, options.shell), end="")
        return WEAVABLE
    command: Run = options.command
    with _commands.client_of(options) as client:
        return command(options, client)


# ------------------------------------------------------------------------------------- the options


class _Parser(argparse.ArgumentParser):
    """Writes its help as the commands write: what cannot be written is no success."""

    def _print_message(self, message: str, file: SupportsWrite[str] | None = None) -> None:
        if file is not None and file is sys.stdout:
            file.write(message)
        else:
            super()._print_message(message, file)


def parser() -> argparse.ArgumentParser:
    """Return the parser of the command line."""
    made: argparse.ArgumentParser = _Parser(
        prog="weavability",
        description="Can this cloth be woven, on which loom, how fast, and how?",
        epilog=f"A bearer token is taken from the variable {TOKEN_VARIABLE}. Exit status: 0 "
        "weavable, 1 not weavable, 2 wrong use or trouble with the service.",
        allow_abbrev=False,
    )
    made.add_argument("--version", action="version", version=f"weavability {__version__}")
    commands = made.add_subparsers(required=True, metavar="COMMAND")
    for add in COMMANDS:
        add(commands)
    about = "print a completion script for a shell, or the names that it offers"
    shell = commands.add_parser("completion", help=about, description=f"{about}.")
    shell.add_argument("shell", choices=(*SHELLS, *NAMES))
    shell.set_defaults(command=None)
    return made


if __name__ == "__main__":
    sys.exit(main())
