"""What a command line may state: options and arguments, each of them once."""

from __future__ import annotations

import argparse
import math
import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Protocol

from weavability_client._output import SAVED
from weavability_client.client import URL_VARIABLE, Client

if TYPE_CHECKING:
    Commands = argparse._SubParsersAction[argparse.ArgumentParser]  # pyright: ignore[reportPrivateUsage]


class Run(Protocol):
    """What a command does; it returns the exit status."""

    __name__: str

    def __call__(self, options: argparse.Namespace, client: Client, /) -> int:
        """Run the command."""
        ...


Add = Callable[[argparse._ActionsContainer], object]  # pyright: ignore[reportPrivateUsage]
"""Adds an argument, or several, to a command."""

COMMANDS: Final[list[Callable[[Commands], None]]] = []
"""Every command, as it is added to the parser, in the order of the help."""


def command(
    *arguments: Add,
    forms: Sequence[str] = ("page", "json", "csv"),
    aliases: Sequence[str] = (),
) -> Callable[[Run], Run]:
    """Make a function the command of its name, with these arguments beside those of every command.

    Its docstring is what the help says of it.
    """

    def decorate(run: Run) -> Run:
        about = (run.__doc__ or run.__name__).rstrip(".")
        about = about[0].lower() + about[1:]

        def add(commands: Commands) -> None:
            added = commands.add_parser(
                run.__name__,
                help=about,
                description=f"{about}.",
                allow_abbrev=False,
                aliases=aliases,
            )
            added.set_defaults(command=run)
            for each in (_format(forms), *arguments):
                each(added)
            for action in of_every_command(added):
                # What is stated before the command stays, unless it is stated again.
                action.default = argparse.SUPPRESS

        COMMANDS.append(add)
        return run

    return decorate


def of_every_command(parser: argparse.ArgumentParser) -> list[argparse.Action]:
    """Add the options of every command, which may be stated before it as well."""
    return [
        action for each in OF_EVERY_COMMAND if isinstance(action := each(parser), argparse.Action)
    ]


def argument(*names: str, **how: Any) -> Add:
    """Return what adds an argument, as ``add_argument`` takes it."""
    return lambda parser: parser.add_argument(*names, **how)


def flag(name: str, about: str) -> Add:
    """Return what adds an option without a value."""
    return argument(name, action="store_true", help=about)


def file(name: str, about: str) -> Add:
    """Return what adds an option that names a file to be read by its ending, or to be written."""
    return argument(name, metavar="FILE", type=Path, help=about)


def _plain(text: str) -> str:
    """Return a text that may be a number; Python also reads other digits, ``1_60`` and ``nan``.

    Raises:
        ValueError: It is no number in the digits 0 to 9.
    """
    if not _NUMBER.fullmatch(text) or not math.isfinite(float(text)):
        raise ValueError(text)
    return text


_NUMBER: Final = re.compile(r"[+-]?[0-9.]+(?:[eE][+-]?[0-9]+)?")


def decimal(text: str) -> float:
    """Read a number in the digits 0 to 9."""
    try:
        return float(_plain(text))
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"{text!r} is not a number in the digits 0 to 9, such as 12.5"
        ) from None


def whole(text: str) -> int:
    """Read a whole number in the digits 0 to 9."""
    try:
        return int(_plain(text))
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"{text!r} is not a whole number in the digits 0 to 9, such as 2"
        ) from None


def number(name: str, about: str) -> Add:
    """Return what adds an option with a number."""
    return argument(name, metavar="N", type=decimal, help=about)


def all_of(*arguments: Add) -> Add:
    """Return what adds several arguments."""
    return lambda parser: [add(parser) for add in arguments]


def one_of(*arguments: Add) -> Add:
    """Return what adds options of which at most one may be stated."""
    return lambda parser: all_of(*arguments)(parser.add_mutually_exclusive_group())


def saved(text: str) -> Path:
    """Read the name of a file whose ending says what is written into it."""
    path = Path(text)
    if path.suffix.lower() not in SAVED:
        raise argparse.ArgumentTypeError(f"{text!r} should end in {', '.join(SAVED)}")
    return path


_OVER: Final = {"speed": "speed_picks_per_min", "width": "reed_width_cm"}
_VARIED: Final = {
    "ends": "/construction/warp/ends_per_cm",
    "picks": "/construction/weft/picks_per_cm",
    "width": "/construction/width_cm",
    "speed": "/construction/requested_speed_picks_per_min",
    "warp-crimp": "/construction/warp/crimp_pct",
    "weft-crimp": "/construction/weft/crimp_pct",
    "warp-count": "/construction/warp/yarns/A/designation",
    "weft-count": "/construction/weft/yarns/A/designation",
}
_FIELDS: Final = ", ".join(_VARIED)


def sweep(text: str) -> dict[str, object]:
    """Read ``speed:300:600:7``; the points may be left out."""
    usage = "speed:FROM:TO[:POINTS] or width:FROM:TO[:POINTS]"
    return _span(text, "over", _OVER.get, usage)


def varied(text: str) -> dict[str, object]:
    """Read ``picks:10:40:50``; the points may be left out."""
    usage = f"FIELD:FROM:TO[:POINTS] with one of {_FIELDS} or a pointer as FIELD"
    return _span(text, "pointer", lambda field: _VARIED.get(field) or _pointer(field), usage)


def _pointer(field: str) -> str | None:
    return field if field.startswith("/") else None


def _span(
    text: str, name: str, meaning: Callable[[str], str | None], usage: str
) -> dict[str, object]:
    field, *numbers = text.split(":")
    try:
        start, stop, *points = map(_plain, numbers)
        if len(points) > 1 or meaning(field) is None:
            raise ValueError(text)
        read: dict[str, object] = {name: meaning(field), "from": float(start), "to": float(stop)}
        return read | ({"points": int(points[0])} if points else {})
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"{text!r} is not {usage}, with numbers in the digits 0 to 9"
        ) from None


def _format(forms: Sequence[str]) -> Add:
    return argument(
        "--format", choices=forms, default=forms[0], help="what is printed (%(default)s)"
    )


OF_EVERY_COMMAND: Final = (
    argument(
        "--save",
        metavar="FILE",
        type=saved,
        help=f"save the answer into a file too; its ending says how: {', '.join(SAVED)}",
    ),
    argument(
        "--url", metavar="ADDRESS", help=f"address of the service; else the variable {URL_VARIABLE}"
    ),
    flag("--local", "judge in this process, without a service"),
    file("--looms", "with --local: the loom park; else the demo park"),
    file("--thresholds", "with --local: the mill's own thresholds"),
)
ORDERS: Final = argument(
    "files",
    nargs="*",
    default=["-"],
    metavar="FILE",
    help="orders in JSON, JSON lines, TOML, CSV or XLSX: a construction, a request {construction, "
    "loom or loom_id}, a list of these, [[order]] tables, or a line each; - is the standard input",
)
_ONE: Final = "a file with one order; - is the standard input"
ORDER: Final = argument("file", nargs="?", default="-", metavar="FILE", help=_ONE)
ORDER_IF_ANY: Final = argument("file", nargs="?", metavar="FILE", help=_ONE)
IGNORE: Final = flag("--ignore-columns", "leave unknown columns of a sheet unread, and list them")
_IN_PLACE: Final = "it is used in place of a loom that an order names"
LOOM: Final = all_of(
    one_of(
        argument("--loom-id", metavar="LOOM", help=f"a loom of the park; {_IN_PLACE}"),
        argument("--loom", metavar="FILE", help=f"a loom from a file; {_IN_PLACE}"),
    ),
    IGNORE,
)
LOOMS: Final = all_of(
    one_of(
        argument(
            "--loom-id",
            action="append",
            dest="loom_ids",
            metavar="LOOM",
            help="a loom of the park to try, repeatable; else the whole park",
        ),
        argument(
            "--loom",
            action="append",
            dest="loom_files",
            metavar="FILE",
            help="a loom to try from a file, repeatable",
        ),
    ),
    IGNORE,
)
PRICES: Final = argument(
    "--prices",
    metavar="FILE",
    help="what the mill pays, from a file in TOML or JSON; it is used in place of prices that an "
    "order states",
)
DECISIVE: Final = flag(
    "--decisive-assumptions",
    "find the assumed values that turn a verdict; pages and rows have them",
)
ASSUMPTIONS: Final = flag(
    "--assumptions", "list what is assumed, by how well it is supported, each with its band"
)
WARP_LEFT: Final = number("--warp-left-m", "warp left of the order on the loom, in m")


def svg(what: str) -> Add:
    """Return the option by which the command draws something."""
    return file("--svg", f"draw the {what} into a file")


def axis(name: str, direction: str) -> Add:
    """Return the option of a field that is varied in a direction of the window."""
    return argument(
        name,
        type=varied,
        required=True,
        metavar="FIELD:FROM:TO[:POINTS]",
        help=f"the field that is varied {direction}: {_FIELDS} or its pointer, such as "
        "picks:10:40:50 or /loom/max_speed_picks_per_min:300:600",
    )


def only(metavar: str, about: str) -> Add:
    """Return the words that the entries of a list are to have."""
    return argument("words", nargs="*", metavar=metavar, help=f"only {about}")
