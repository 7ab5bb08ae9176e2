"""The command ``weavability``: the client on a command line.

Exit status: 0 weavable, 1 something is not weavable, 2 wrong use or trouble with the service.
"""

from __future__ import annotations

import argparse
import os
import sys
import traceback
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Final

from weavability_client import _commands
from weavability_client._commands import INTERRUPTED, NAMES, TROUBLE, WEAVABLE
from weavability_client._completion import SHELLS, completion
from weavability_client._debug_log import LOG_VARIABLE
from weavability_client._output import SAVED, say
from weavability_client._version import __version__
from weavability_client.client import TOKEN_VARIABLE, URL_VARIABLE, Client
from weavability_client.errors import WeavabilityError

if TYPE_CHECKING:
    from _typeshed import SupportsWrite

    Commands = argparse._SubParsersAction[argparse.ArgumentParser]  # pyright: ignore[reportPrivateUsage]

Command = Callable[[argparse.Namespace, Client], int]


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
    command: Command = options.command
    with _commands.client_of(options) as client:
        return command(options, client)


# ------------------------------------------------------------------------------------- the options


_ORDERS: Final = (
    "orders in JSON, JSON lines, TOML, CSV or XLSX: a construction, a request {construction, loom "
    "or loom_id}, a list of these, [[order]] tables, or a line each; - is the standard input"
)
_ORDER: Final = "a file with one order; - is the standard input"


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
    _add_validate(commands)
    _add_match(commands)
    _add_remedies(commands)
    _add_window(commands)
    _add_rate(commands)
    _add_changeover(commands)
    _add_sequence(commands)
    _add_weave(commands)
    _add_design(commands)
    _add_weaves(commands)
    _add_evidence(commands)
    _add_looms(commands)
    _add_checks(commands)
    _add_messages(commands)
    _add_poll(commands)
    about = "print a completion script for a shell, or the names that it offers"
    shell = commands.add_parser("completion", help=about, description=f"{about}.")
    shell.add_argument("shell", choices=(*SHELLS, *NAMES))
    shell.set_defaults(command=None)
    return made


def _add(
    commands: Commands,
    name: str,
    command: Command,
    about: str,
    *,
    forms: Sequence[str] = ("page", "json", "csv"),
    aliases: Sequence[str] = (),
) -> argparse.ArgumentParser:
    """Add a command with what all commands understand."""
    added = commands.add_parser(
        name, help=about, description=f"{about}.", allow_abbrev=False, aliases=aliases
    )
    added.set_defaults(command=command)
    added.add_argument(
        "--format", choices=forms, default=forms[0], help="what is printed (%(default)s)"
    )
    added.add_argument(
        "--save",
        metavar="FILE",
        type=_saved,
        help=f"save the answer into a file too; its ending says how: {', '.join(SAVED)}",
    )
    added.add_argument(
        "--url", metavar="ADDRESS", help=f"address of the service; else the variable {URL_VARIABLE}"
    )
    added.add_argument(
        "--local", action="store_true", help="judge in this process, without a service"
    )
    added.add_argument(
        "--looms", metavar="FILE", type=Path, help="with --local: the loom park; else the demo park"
    )
    added.add_argument(
        "--thresholds", metavar="FILE", type=Path, help="with --local: the mill's own thresholds"
    )
    return added


def _add_loom(command: argparse.ArgumentParser) -> None:
    loom = command.add_mutually_exclusive_group()
    loom.add_argument(
        "--loom-id",
        metavar="LOOM",
        help="a loom of the park; it is used in place of a loom that an order names",
    )
    loom.add_argument(
        "--loom",
        metavar="FILE",
        help="a loom from a file; it is used in place of a loom that an order names",
    )
    _add_ignore(command)


def _add_ignore(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--ignore-columns",
        action="store_true",
        help="leave unknown columns of a sheet unread, and list them",
    )


def _add_assumptions(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--assumptions",
        action="store_true",
        help="list what is assumed, by how well it is supported, each with its band",
    )


def _add_validate(commands: Commands) -> None:
    command = _add(
        commands,
        "validate",
        _commands.validate,
        "judge constructions on their looms",
        forms=("table", "page", "json", "csv"),
    )
    command.add_argument("files", nargs="*", default=["-"], metavar="FILE", help=_ORDERS)
    _add_loom(command)
    _add_prices(command)
    _add_decisive(command)
    _add_assumptions(command)


def _add_decisive(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--decisive-assumptions",
        action="store_true",
        help="find the assumed values that turn a verdict; pages and rows have them",
    )


def _add_prices(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--prices",
        metavar="FILE",
        help="what the mill pays, from a file in TOML or JSON; it is used in place of prices "
        "that an order states",
    )


def _add_match(commands: Commands) -> None:
    command = _add(commands, "match", _commands.match, "rank the looms for a construction")
    command.add_argument("file", nargs="?", default="-", metavar="FILE", help=_ORDER)
    looms = command.add_mutually_exclusive_group()
    looms.add_argument(
        "--loom-id",
        action="append",
        dest="loom_ids",
        metavar="LOOM",
        help="a loom of the park to try, repeatable; else the whole park",
    )
    looms.add_argument(
        "--loom",
        action="append",
        dest="loom_files",
        metavar="FILE",
        help="a loom to try from a file, repeatable",
    )
    _add_ignore(command)
    _add_prices(command)
    command.add_argument(
        "--rank-by",
        choices=("hours", "cost"),
        help="what looms of the same verdict are ranked by; else hours",
    )
    _add_decisive(command)


def _add_remedies(commands: Commands) -> None:
    about = "find the smallest changes that make an order weavable"
    command = _add(commands, "remedies", _commands.remedies, about)
    command.add_argument("file", nargs="?", default="-", metavar="FILE", help=_ORDER)
    _add_loom(command)
    _add_prices(command)
    command.add_argument(
        "--fix",
        metavar="OUT",
        type=Path,
        help="write the order, changed by a remedy of the first loom, into a file as JSON",
    )
    command.add_argument(
        "--remedy",
        metavar="N",
        type=int,
        help="with --fix: the number of the remedy; else the smallest that makes it weavable",
    )


def _add_window(commands: Commands) -> None:
    about = "map what can be woven if two fields of an order are varied"
    command = _add(commands, "window", _commands.window, about)
    command.add_argument("file", nargs="?", default="-", metavar="FILE", help=_ORDER)
    _add_loom(command)
    names = ", ".join(_VARIED)
    for name, words in (("--across", "along a row"), ("--along", "from row to row")):
        command.add_argument(
            name,
            type=_varied,
            required=True,
            metavar="FIELD:FROM:TO[:POINTS]",
            help=f"the field that is varied {words}: {names} or its pointer, such as "
            "picks:10:40:50 or /loom/max_speed_picks_per_min:300:600",
        )
    command.add_argument("--svg", metavar="FILE", type=Path, help="draw the window into a file")


def _add_rate(commands: Commands) -> None:
    command = _add(commands, "rate", _commands.rate, "compute how fast a loom inserts weft")
    command.add_argument("file", nargs="?", metavar="FILE", help=_ORDER)
    _add_loom(command)
    _add_assumptions(command)
    command.add_argument("--reed-width-cm", type=float, metavar="N", help="reed width in use")
    command.add_argument("--speed", type=float, metavar="N", help="requested speed, picks/min")
    command.add_argument("--weft", metavar="COUNT", help="the weft, such as 'Ne 20'")
    command.add_argument("--fibre", metavar="NAME", help="fibre of that weft")
    command.add_argument("--feeders", type=int, metavar="N", help="feeders in turn")
    command.add_argument(
        "--sweep",
        type=_sweep,
        metavar="OVER:FROM:TO[:POINTS]",
        help="a row of points over speed or width, such as speed:300:600:7",
    )
    command.add_argument("--svg", metavar="FILE", type=Path, help="draw the pick into a file")


def _add_changeover(commands: Commands) -> None:
    command = _add(
        commands, "changeover", _commands.changeover, "plan a change of style and its time"
    )
    command.add_argument("old", metavar="OLD", help="the order on the loom, from a file")
    command.add_argument("new", metavar="NEW", help="the order to come, from a file")
    _add_loom(command)
    _add_warp_left(command)


def _add_sequence(commands: Commands) -> None:
    about = "find the sequence of orders that stops a loom for the shortest time"
    command = _add(commands, "sequence", _commands.sequence, about)
    command.add_argument("files", nargs="*", default=["-"], metavar="FILE", help=_ORDERS)
    command.add_argument("--on-loom", metavar="FILE", help="the order on the loom now, from a file")
    _add_loom(command)
    _add_warp_left(command)


def _add_warp_left(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--warp-left-m", type=float, metavar="N", help="warp left of the order on the loom, in m"
    )
    _add_assumptions(command)


def _add_weave(commands: Commands) -> None:
    command = _add(commands, "weave", _commands.weave, "analyse a weave and draw it")
    command.add_argument(
        "weave",
        metavar="WEAVE",
        help="a notation such as '2/2 twill Z'; or a file: point paper in PNG, a weave or an order "
        "in JSON or TOML; - is the standard input",
    )
    command.add_argument(
        "--ends-per-cm", type=float, metavar="N", help="warp sett, for floats in mm"
    )
    command.add_argument(
        "--picks-per-cm", type=float, metavar="N", help="weft sett, for floats in mm"
    )
    command.add_argument("--svg", metavar="FILE", type=Path, help="draw the weave into a file")
    command.add_argument(
        "--view",
        choices=("point_paper", "cloth_face"),
        default="point_paper",
        help="what is drawn (%(default)s)",
    )
    _add_assumptions(command)


def _add_design(commands: Commands) -> None:
    command = _add(
        commands, "design", _commands.design, "judge a figured design on the harness of a loom"
    )
    command.add_argument(
        "picture", metavar="PICTURE", help="the design, a PNG file with a palette: a pixel a hook"
    )
    command.add_argument(
        "--effects",
        metavar="FILE",
        required=True,
        help="a file with the order, of which weave.design lacks the picture; or with a "
        "construction beside effects, wefts, float_limits, covers and correct",
    )
    _add_loom(command)
    command.add_argument("--svg", metavar="FILE", type=Path, help="draw the design into a file")
    command.add_argument(
        "--paper", metavar="FILE", type=Path, help="write the corrected point paper into a PNG file"
    )
    _add_assumptions(command)


def _add_weaves(commands: Commands) -> None:
    about = "list how weaves are written, and their names"
    command = _add(
        commands, "weaves", _commands.listing(Client.notations), about, aliases=["notations"]
    )
    command.add_argument(
        "words", nargs="*", metavar="WEAVE", help="only names and aliases with these words"
    )


def _add_evidence(commands: Commands) -> None:
    command = _add(
        commands, "evidence", _commands.evidence, "list published values beside computed ones"
    )
    command.add_argument(
        "words", nargs="*", metavar="WORD", help="only subjects with these words in their name"
    )


def _add_looms(commands: Commands) -> None:
    about = "list the looms of the park; of one loom, the limits that are assumed"
    command = _add(commands, "looms", _commands.listing(Client.park), about)
    command.add_argument(
        "words", nargs="*", metavar="LOOM", help="only looms with these words in their names"
    )


def _add_checks(commands: Commands) -> None:
    about = "list the checks; of one check, its formula, source and limits"
    command = _add(commands, "checks", _commands.listing(Client.rule_set), about)
    command.add_argument(
        "words", nargs="*", metavar="CODE", help="only checks with these words in code or rule"
    )


def _add_messages(commands: Commands) -> None:
    about = "list the sentences of answers by their keys, for a translation"
    command = _add(commands, "messages", _commands.messages, about)
    command.add_argument(
        "words", nargs="*", metavar="WORD", help="only sentences with these words in key or pattern"
    )
    command.add_argument(
        "--kind",
        choices=("finding", "assumption", "fault", "problem", "part"),
        help="only sentences of this kind (all)",
    )


def _add_poll(commands: Commands) -> None:
    command = _add(
        commands,
        "poll",
        _commands.poll,
        "fetch reports again, those that have changed since",
        forms=("table", "page", "json", "csv"),
    )
    command.add_argument(
        "reports",
        nargs="+",
        metavar="REPORT",
        help="a file with reports as --format json prints them, or the link of a report",
    )
    command.add_argument(
        "--etag", metavar="ID", help="of a link: the validation_id of the known report"
    )
    _add_assumptions(command)


def _saved(text: str) -> Path:
    """Read the name of a file whose ending says what is written into it."""
    path = Path(text)
    if path.suffix.lower() not in SAVED:
        raise argparse.ArgumentTypeError(f"{text!r} should end in {', '.join(SAVED)}")
    return path


_OVER: Final = {"speed": "speed_picks_per_min", "width": "reed_width_cm"}


def _sweep(text: str) -> dict[str, object]:
    """Read ``speed:300:600:7``; the points may be left out."""
    over, *numbers = text.split(":")
    try:
        start, stop, *points = map(float, numbers)
        if len(points) > 1:
            raise ValueError(text)
        swept: dict[str, object] = {"over": _OVER[over], "from": start, "to": stop}
        return swept | ({"points": int(points[0])} if points else {})
    except (KeyError, ValueError):
        raise argparse.ArgumentTypeError(
            f"{text!r} is not speed:FROM:TO[:POINTS] or width:FROM:TO[:POINTS]"
        ) from None


_VARIED: Final = {
    "ends": "/construction/warp/ends_per_cm",
    "picks": "/construction/weft/picks_per_cm",
    "width": "/construction/width_cm",
    "speed": "/construction/requested_speed_picks_per_min",
    "crimp": "/construction/weft/crimp_pct",
    "warp-count": "/construction/warp/yarns/A/designation",
    "weft-count": "/construction/weft/yarns/A/designation",
}


def _varied(text: str) -> dict[str, object]:
    """Read ``picks:10:40:50``; the points may be left out."""
    field, *numbers = text.split(":")
    try:
        start, stop, *points = map(float, numbers)
        if len(points) > 1 or (field not in _VARIED and not field.startswith("/")):
            raise ValueError(text)
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"{text!r} is not FIELD:FROM:TO[:POINTS] with one of {', '.join(_VARIED)} or a pointer "
            "as FIELD"
        ) from None
    varied: dict[str, object] = {"pointer": _VARIED.get(field, field), "from": start, "to": stop}
    return varied | ({"points": int(points[0])} if points else {})


if __name__ == "__main__":
    sys.exit(main())
