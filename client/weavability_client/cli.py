"""The command ``weavability``: the client on a command line.

Exit status: 0 weavable, 1 something is not weavable, 2 wrong use or trouble with the service.
"""

from __future__ import annotations

import argparse
import json
import os
import signal
import sys
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from weavability_client import _output
from weavability_client._completion import SHELLS, completion
from weavability_client._json import members
from weavability_client._many import ItemResult
from weavability_client._orders import (
    read_design,
    read_file,
    read_object,
    read_one,
    read_orders,
    read_weave,
)
from weavability_client._version import __version__
from weavability_client.client import TOKEN_VARIABLE, URL_VARIABLE, Client
from weavability_client.errors import UsageError, WeavabilityError
from weavability_client.models import Answer, Drawing, Loom, RemedyReport
from weavability_client.progress import Progress

WEAVABLE: Final = 0
NOT_WEAVABLE: Final = 1
TROUBLE: Final = 2
INTERRUPTED: Final = 128 + signal.SIGINT
BAR_AFTER_S: Final = 0.5

if TYPE_CHECKING:
    Commands = argparse._SubParsersAction[argparse.ArgumentParser]  # pyright: ignore[reportPrivateUsage]

Command = Callable[[argparse.Namespace, Client], int]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; return its exit status."""
    words = parser()
    options = words.parse_args(arguments)
    if sys.stdout is None:
        print("weavability: there is no output to write to", file=sys.stderr)
        return TROUBLE
    with suppress(AttributeError):
        sys.stdout.reconfigure(errors="replace")  # type: ignore[union-attr]
    try:
        status = _run(words, options)
        sys.stdout.flush()
    except WeavabilityError as error:
        print(f"weavability: {error}", file=sys.stderr)
        return TROUBLE
    except BrokenPipeError:
        _write_no_more()
        return TROUBLE
    except OSError as error:
        print(f"weavability: the output cannot be written: {error.strerror}", file=sys.stderr)
        _write_no_more()
        return TROUBLE
    except KeyboardInterrupt:
        return INTERRUPTED
    return status


def _write_no_more() -> None:
    """Let the interpreter, which flushes when it ends, find nothing to complain of."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _run(words: argparse.ArgumentParser, options: argparse.Namespace) -> int:
    if options.command is None:
        print(completion(words, options.shell), end="")
        return WEAVABLE
    command: Command = options.command
    with _client(options) as client:
        return command(options, client)


# ------------------------------------------------------------------------------------- the options


_ORDERS: Final = (
    "orders in JSON, JSON lines, TOML or CSV: a construction, a request {construction, loom or "
    "loom_id}, a list of these, [[order]] tables, or a line each; - is the standard input"
)
_ORDER: Final = "a file with one order; - is the standard input"


def parser() -> argparse.ArgumentParser:
    """Return the parser of the command line."""
    made = argparse.ArgumentParser(
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
    about = "print a completion script for a shell"
    shell = commands.add_parser("completion", help=about, description=f"{about}.")
    shell.add_argument("shell", choices=SHELLS)
    shell.set_defaults(command=None)
    return made


def _add(
    commands: Commands,
    name: str,
    command: Command,
    about: str,
    *,
    forms: Sequence[str] = ("page", "json", "csv"),
) -> argparse.ArgumentParser:
    """Add a command with what all commands understand."""
    added = commands.add_parser(name, help=about, description=f"{about}.", allow_abbrev=False)
    added.set_defaults(command=command)
    added.add_argument(
        "--format", choices=forms, default=forms[0], help="what is printed (%(default)s)"
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
        "--loom-id", metavar="NAME", help="a loom of the park, if the order names none"
    )
    loom.add_argument("--loom", metavar="FILE", help="a loom from a file, if the order names none")


def _add_validate(commands: Commands) -> None:
    command = _add(
        commands,
        "validate",
        _validate,
        "judge constructions on their looms",
        forms=("table", "page", "json", "csv"),
    )
    command.add_argument("files", nargs="*", default=["-"], metavar="FILE", help=_ORDERS)
    _add_loom(command)
    _add_prices(command)
    _add_decisive(command)


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
        help="what the mill pays, from a file in TOML or JSON, of orders that state no prices",
    )


def _add_match(commands: Commands) -> None:
    command = _add(commands, "match", _match, "rank the looms for a construction")
    command.add_argument("file", nargs="?", default="-", metavar="FILE", help=_ORDER)
    looms = command.add_mutually_exclusive_group()
    looms.add_argument(
        "--loom-id",
        action="append",
        dest="loom_ids",
        metavar="NAME",
        help="a loom of the park to try, repeatable; else the whole park",
    )
    looms.add_argument(
        "--loom",
        action="append",
        dest="loom_files",
        metavar="FILE",
        help="a loom to try from a file, repeatable",
    )
    _add_prices(command)
    command.add_argument(
        "--rank-by",
        choices=("hours", "cost"),
        help="what looms of the same verdict are ranked by; else hours",
    )
    _add_decisive(command)


def _add_remedies(commands: Commands) -> None:
    about = "find the smallest changes that make an order weavable"
    command = _add(commands, "remedies", _remedies, about)
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
    command = _add(commands, "window", _window, about)
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
    command = _add(commands, "rate", _rate, "compute how fast a loom inserts weft")
    command.add_argument("file", nargs="?", metavar="FILE", help=_ORDER)
    _add_loom(command)
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
    command = _add(commands, "changeover", _changeover, "plan a change of style and its time")
    command.add_argument("old", metavar="OLD", help="the order on the loom, from a file")
    command.add_argument("new", metavar="NEW", help="the order to come, from a file")
    _add_loom(command)
    _add_warp_left(command)


def _add_sequence(commands: Commands) -> None:
    about = "find the sequence of orders that stops a loom for the shortest time"
    command = _add(commands, "sequence", _sequence, about)
    command.add_argument("files", nargs="*", default=["-"], metavar="FILE", help=_ORDERS)
    command.add_argument("--on-loom", metavar="FILE", help="the order on the loom now, from a file")
    _add_loom(command)
    _add_warp_left(command)


def _add_warp_left(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--warp-left-m", type=float, metavar="N", help="warp left of the order on the loom, in m"
    )


def _add_weave(commands: Commands) -> None:
    command = _add(commands, "weave", _weave, "analyse a weave and draw it")
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


def _add_design(commands: Commands) -> None:
    command = _add(commands, "design", _design, "judge a figured design on the harness of a loom")
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


def _add_weaves(commands: Commands) -> None:
    command = _add(commands, "weaves", _weaves, "list how weaves are written, and their names")
    command.add_argument(
        "words", nargs="*", metavar="WORD", help="only names and aliases with these words"
    )


def _add_evidence(commands: Commands) -> None:
    command = _add(commands, "evidence", _evidence, "list published values beside computed ones")
    command.add_argument(
        "words", nargs="*", metavar="WORD", help="only subjects with these words in their name"
    )


def _add_looms(commands: Commands) -> None:
    about = "list the looms of the park; of one loom, the limits that are assumed"
    command = _add(commands, "looms", _looms, about)
    command.add_argument(
        "words", nargs="*", metavar="WORD", help="only looms with these words in their names"
    )


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


def _client(options: argparse.Namespace) -> Client:
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


# ------------------------------------------------------------------------------------ the commands


def _validate(options: argparse.Namespace, client: Client) -> int:
    requests = [request for path in options.files for request in _orders(path)]
    loom = _loom(options)
    progress = Progress(sys.stderr, after_s=BAR_AFTER_S, elsewhere=False)
    prices = _prices(options)
    good = [
        prices | _with_loom(each, loom) for each in requests if not isinstance(each, UsageError)
    ]
    if options.decisive_assumptions:
        good = [_with_option(each, "decisive_assumptions") for each in good]
    answers = iter(list(client.validate_many(good, progress=progress)))
    results = [
        ItemResult(index=index, error=each)
        if isinstance(each, UsageError)
        else replace(next(answers), index=index)
        for index, each in enumerate(requests)
    ]
    _output.write_results(results, options.format, sys.stdout)
    for result in results:
        if result.error is not None:
            print(f"weavability: order {result.index + 1}: {result.error}", file=sys.stderr)
    return _status(results)


def _match(options: argparse.Namespace, client: Client) -> int:
    order = _order(options.file)
    looms = [Loom.from_json(_object(path)) for path in options.loom_files or ()]
    report = client.match_looms(
        _construction(order),
        looms=looms or None,
        loom_ids=options.loom_ids,
        prices=_stated_prices(order, options),
        rank_by=options.rank_by,
        decisive_assumptions=options.decisive_assumptions,
    )
    return _show(report, options, weavable=report.ok)


def _remedies(options: argparse.Namespace, client: Client) -> int:
    order = _order(options.file)
    names_loom = "loom" in order or "loom_id" in order or _loom(options)
    loom, loom_id = _loom_of(order, options) if names_loom else (None, None)
    found = client.remedies(
        _construction(order), loom=loom, loom_id=loom_id, prices=_stated_prices(order, options)
    )
    if options.fix is not None:
        _write_fixed(options, order, found)
    return _show(found, options, weavable=found.ok)


def _write_fixed(
    options: argparse.Namespace, order: Mapping[str, object], found: RemedyReport
) -> None:
    """Write an order with a remedy made, on the loom that the remedy is for."""
    on = found.looms[0]
    if options.remedy is None:
        remedy = found.best_on(on.loom_id)
        if remedy is None:
            raise UsageError("no remedy makes the order weavable there: choose one with --remedy")
    elif 1 <= options.remedy <= len(on.remedies):
        remedy = on.remedies[options.remedy - 1]
    else:
        raise UsageError(f"--remedy {options.remedy}: there are {len(on.remedies)} remedies")
    changed = remedy.applied(_with_loom(dict(order), _loom(options) or {"loom_id": on.loom_id}))
    try:
        options.fix.write_text(json.dumps(changed, indent=2, ensure_ascii=False) + "\n", "utf-8")
    except OSError as error:
        raise UsageError(f"{options.fix}: {error.strerror}") from error


def _window(options: argparse.Namespace, client: Client) -> int:
    order = _order(options.file)
    loom, loom_id = _loom_of(order, options)
    asked: dict[str, Any] = {
        "across": options.across,
        "along": options.along,
        "loom": loom,
        "loom_id": loom_id,
    }
    cloth = _construction(order)
    window = client.window(cloth, **asked)
    _save(options, lambda: client.draw_window(cloth, **asked))
    return _show(window, options, weavable=window.ok)


def _rate(options: argparse.Namespace, client: Client) -> int:
    order = {} if options.file is None else _order(options.file)
    loom, loom_id = _loom_of(order, options)
    weft = {"designation": options.weft, "fibre": options.fibre}
    asked: dict[str, Any] = {
        "loom": loom,
        "loom_id": loom_id,
        "construction": _construction(order) if order else None,
        "weft": {name: value for name, value in weft.items() if value is not None} or None,
        "reed_width_cm": options.reed_width_cm,
        "speed_picks_per_min": options.speed,
        "feeders": options.feeders,
    }
    sheet = client.insertion_rate(**asked, sweep=options.sweep)
    _save(options, lambda: client.draw_insertion(**asked))
    return _show(sheet, options, weavable=True)


def _changeover(options: argparse.Namespace, client: Client) -> int:
    old, new = map(_order, (options.old, options.new))
    loom, loom_id = _loom_of(new, options)
    report = client.changeover(
        _construction(old),
        _construction(new),
        loom=loom,
        loom_id=loom_id,
        warp_left_m=options.warp_left_m,
    )
    return _show(report, options, weavable=report.ok)


def _sequence(options: argparse.Namespace, client: Client) -> int:
    read = [order for path in options.files for order in _orders(path)]
    orders = [_good(order) for order in read]
    looms = [_loom_of(order, options) for order in orders]
    if not looms:
        raise UsageError("no order is given")
    if any(each != looms[0] for each in looms):
        raise UsageError("the orders name several looms; a sequence is for one")
    loom, loom_id = looms[0]
    now = None if options.on_loom is None else _construction(_order(options.on_loom))
    report = client.sequence(
        [_construction(order) for order in orders],
        loom=loom,
        loom_id=loom_id,
        on_loom=now,
        warp_left_m=options.warp_left_m,
    )
    return _show(report, options, weavable=report.ok)


def _good(order: dict[str, object] | UsageError) -> dict[str, object]:
    """Return an order that could be read; a sequence without one of its orders is of no use."""
    if isinstance(order, UsageError):
        raise order
    return order


def _weave(options: argparse.Namespace, client: Client) -> int:
    weave = read_weave(options.weave, sys.stdin.buffer)
    setts = {"ends_per_cm": options.ends_per_cm, "picks_per_cm": options.picks_per_cm}
    sheet = client.analyse_weave(weave, **setts)
    _save(options, lambda: client.draw_weave(weave, view=options.view, **setts))
    return _show(sheet, options, weavable=sheet.ok)


def _design(options: argparse.Namespace, client: Client) -> int:
    order = read_design(_object(options.effects), _content(options.picture), name=options.effects)
    loom, loom_id = _loom_of(order, options)
    construction = _construction(order)
    sheet = client.design(construction, loom=loom, loom_id=loom_id)
    _save(options, lambda: client.draw_design(construction, loom=loom, loom_id=loom_id))
    if options.paper is not None:
        paper = client.point_paper(construction, loom=loom, loom_id=loom_id)
        try:
            options.paper.write_bytes(paper)
        except OSError as error:
            raise UsageError(f"{options.paper}: {error.strerror}") from error
    return _show(sheet, options, weavable=sheet.ok)


def _weaves(options: argparse.Namespace, client: Client) -> int:
    return _show(client.notations().about(*options.words), options, weavable=True)


def _evidence(options: argparse.Namespace, client: Client) -> int:
    return _show(client.evidence().on(*options.words), options, weavable=True)


def _looms(options: argparse.Namespace, client: Client) -> int:
    return _show(client.park().about(*options.words), options, weavable=True)


# ------------------------------------------------------------------------------------ what they use


def _orders(path: str) -> list[dict[str, object] | UsageError]:
    return read_orders(_content(path), name=path)


def _order(path: str) -> dict[str, object]:
    return read_one(_content(path), name=path)


def _object(path: str) -> dict[str, object]:
    return read_object(_content(path), name=path)


def _content(path: str) -> bytes:
    if path == "-" and sys.stdin.isatty():
        print("Reading the standard input; Ctrl-D ends it.", file=sys.stderr)
    return read_file(path, sys.stdin.buffer)


def _loom(options: argparse.Namespace) -> dict[str, object]:
    """Return the loom of the options as members of a request; empty if there is none."""
    if options.loom_id is not None:
        return {"loom_id": options.loom_id}
    return {} if options.loom is None else {"loom": _object(options.loom)}


def _prices(options: argparse.Namespace) -> dict[str, object]:
    """Return the prices of the options as a member of a request; empty if there are none."""
    return {} if options.prices is None else {"prices": _object(options.prices)}


def _stated_prices(
    order: dict[str, object], options: argparse.Namespace
) -> Mapping[str, object] | None:
    """Return the prices of an order, or else those of the options."""
    prices = (_prices(options) | order).get("prices")
    stated = members(prices)
    if prices is not None and stated is None:
        raise UsageError("prices should be an object")
    return stated


def _with_loom(request: dict[str, object], loom: dict[str, object]) -> dict[str, object]:
    if "loom" in request or "loom_id" in request:
        return request
    if not loom:
        raise UsageError("an order names no loom: add loom_id to it, or pass --loom-id or --loom")
    return request | loom


def _with_option(request: dict[str, object], name: str) -> dict[str, object]:
    return request | {"options": {**(members(request.get("options")) or {}), name: True}}


def _loom_of(
    order: dict[str, object], options: argparse.Namespace
) -> tuple[Mapping[str, object] | None, str | None]:
    """Return the loom that an order names, or else that of the options: stated, or by name."""
    request = _with_loom(order, _loom(options))
    loom, loom_id = request.get("loom"), request.get("loom_id")
    stated = members(loom)
    if (loom is not None and stated is None) or not isinstance(loom_id, str | None):
        raise UsageError("loom should be an object, loom_id a text")
    return stated, loom_id


def _construction(order: dict[str, object]) -> Mapping[str, object]:
    construction = members(order["construction"])
    if construction is None:
        raise UsageError("construction should be an object")
    return construction


def _save(options: argparse.Namespace, draw: Callable[[], Drawing]) -> None:
    if options.svg is None:
        return
    drawing = draw()
    try:
        drawing.save(options.svg)
    except OSError as error:
        raise UsageError(f"{options.svg}: {error.strerror}") from error


def _show(answer: Answer, options: argparse.Namespace, *, weavable: bool) -> int:
    _output.write_answer(answer, options.format, sys.stdout)
    return WEAVABLE if weavable else NOT_WEAVABLE


def _status(results: Sequence[ItemResult]) -> int:
    if any(result.report is None for result in results):
        return TROUBLE
    return WEAVABLE if all(result.unwrap().ok for result in results) else NOT_WEAVABLE


if __name__ == "__main__":
    sys.exit(main())
