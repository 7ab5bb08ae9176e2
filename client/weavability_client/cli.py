"""The command ``weavability``: the client on a command line.

Exit status: 0 weavable, 1 something is not weavable, 2 wrong use or trouble with the service.
"""

from __future__ import annotations

import argparse
import os
import signal
import sys
import traceback
from collections.abc import Mapping, Sequence
from contextlib import suppress
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from weavability_client._commands import TROUBLE, WEAVABLE
from weavability_client._completion import SHELLS, completion
from weavability_client._debug_log import LOG_VARIABLE
from weavability_client._options import COMMANDS, Run, of_every_command
from weavability_client._output import say
from weavability_client._printable import printable
from weavability_client._version import __version__
from weavability_client.client import TOKEN_VARIABLE, URL_VARIABLE, Client
from weavability_client.errors import UsageError, WeavabilityError

if TYPE_CHECKING:
    from _typeshed import SupportsWrite

    from weavability_client._options import Commands

INTERRUPTED: Final = 128 + signal.SIGINT
NAMES: Final = ("looms", "checks", "weaves")
"""Names that a shell may offer."""

QUICK_S: Final = (0.5, 1.0)
"""Seconds for connecting and for silence when a shell waits for names."""


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
    _refuse_misplaced(words, sys.argv[1:] if arguments is None else arguments)
    options = words.parse_args(arguments)
    if options.command is None:
        if options.shell in NAMES:
            print(*map(printable, names(options.shell)), sep="\n")
        else:
            print(completion(words, options.shell), end="")
        return WEAVABLE
    command: Run = options.command
    with client_of(options) as client:
        return command(options, client)


def _refuse_misplaced(words: _Parser, arguments: Sequence[str]) -> None:
    """Refuse an option before the command if it is an option of some commands only.

    Raises:
        UsageError: There is one; argparse would take its value for the command.
    """
    rest = iter(arguments)
    for each in rest:
        name, _, value = each.partition("=")
        if not name.startswith("-") or name == "-":
            return
        if name not in words.values_of:
            raise UsageError(
                f"{name} goes after the command, as in: weavability COMMAND … {name} …"
            )
        if words.values_of[name] and not value:
            next(rest, None)


def names(of: str) -> list[str]:
    """Return the names that the service knows; none if it does not answer at once."""
    try:
        with Client(timeout=QUICK_S, retries=0) as client:
            match of:
                case "looms":
                    return [each.loom_id for each in client.looms() if each.loom_id]
                case "checks":
                    return [each.code for each in client.checks()]
                case _:
                    notations = client.notations()
                    written = [each.example for each in notations.notations]
                    written += [each.name for each in notations.names or ()]
                    return [each for each in written if isinstance(each, str)]
    except WeavabilityError:
        return []


def client_of(options: argparse.Namespace) -> Client:
    """Return the client of a service, or of the service in this process.

    Raises:
        UsageError: The options do not fit together, or name no service.
    """
    if not options.local:
        if options.looms is not None:
            raise UsageError("--looms is for --local; a service has the park it was started with")
        if options.thresholds is not None:
            raise UsageError("--thresholds is for --local; a service has those it was started with")
        if not options.url and not os.environ.get(URL_VARIABLE):
            raise UsageError(f"no address: pass --url or --local, or set {URL_VARIABLE}")
        return Client(options.url)
    # Only here, because it looks for the service.
    from weavability_client import _local

    return Client(
        _local.ADDRESS, token="", session=_local.local_session(options.looms, options.thresholds)
    )


class _Parser(argparse.ArgumentParser):
    """Writes its help as the commands write: what cannot be written is no success.

    Attributes:
        values_of: The options that may be before the command, and whether each takes a value.
    """

    values_of: Mapping[str, bool] = MappingProxyType({})

    def _print_message(self, message: str, file: SupportsWrite[str] | None = None) -> None:
        if file is not None and file is sys.stdout:
            file.write(message)
        else:
            super()._print_message(message, file)


@cache
def parser() -> _Parser:
    """Return the parser of the command line."""
    made = _Parser(
        prog="weavability",
        description="Can this cloth be woven, on which loom, how fast, and how?",
        epilog=f"A bearer token is taken from the variable {TOKEN_VARIABLE}. Exit status: 0 "
        "weavable, 1 not weavable, 2 wrong use or trouble with the service; of remedies 0 if there "
        "is a way out.",
        allow_abbrev=False,
    )
    version = made.add_argument("--version", action="version", version=f"weavability {__version__}")
    made.values_of = {"-h": False, "--help": False} | {
        name: action.nargs != 0
        for action in (version, *of_every_command(made))
        for name in action.option_strings
    }
    commands: Commands = made.add_subparsers(required=True, metavar="COMMAND", parser_class=_Parser)
    for add in COMMANDS:
        add(commands)
    about = "print a completion script for a shell, or the names that it offers"
    shell = commands.add_parser("completion", help=about, description=f"{about}.")
    shell.add_argument("shell", choices=(*SHELLS, *NAMES))
    shell.set_defaults(command=None)
    return made


if __name__ == "__main__":
    sys.exit(main())
