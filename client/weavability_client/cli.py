"""The command ``weavability``: the client on a command line.

Exit status: 0 all weavable, 1 something is not weavable, 2 wrong use or trouble with the service.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Sequence
from typing import Final

from weavability_client._orders import read_file, read_object, read_orders
from weavability_client._version import __version__
from weavability_client.client import TOKEN_VARIABLE, URL_VARIABLE, Client, ItemResult
from weavability_client.errors import UsageError, WeavabilityError
from weavability_client.tables import text_table

WEAVABLE: Final = 0
NOT_WEAVABLE: Final = 1
TROUBLE: Final = 2

HEADER: Final = (
    "order",
    "loom",
    "verdict",
    "picks/min",
    "limited by",
    "weft m/min",
    "lifted by",
    "tightness %",
    "gravest finding",
)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; return its exit status."""
    options = _parser().parse_args(arguments)
    try:
        return _validate(options)
    except WeavabilityError as error:
        print(f"weavability: {error}", file=sys.stderr)
        return TROUBLE
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return TROUBLE


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="weavability", description="Can this cloth be woven?")
    parser.add_argument("--version", action="version", version=f"weavability {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    validate = commands.add_parser(
        "validate", help="judge constructions", description="Judge constructions on their looms."
    )
    validate.add_argument("files", nargs="*", default=["-"], metavar="FILE", help=_FILE_HELP)
    loom = validate.add_mutually_exclusive_group()
    loom.add_argument("--loom-id", help="a loom of the park, for orders that name none")
    loom.add_argument(
        "--loom", metavar="FILE", help="a loom from a file, for orders that name none"
    )
    validate.add_argument(
        "--format", choices=("table", "page", "json"), default="table", help="what is printed"
    )
    validate.add_argument("--url", help=f"address of the service; else the variable {URL_VARIABLE}")
    validate.epilog = f"A bearer token is taken from the variable {TOKEN_VARIABLE}."
    return parser


_FILE_HELP: Final = (
    "JSON or TOML: a construction, a request {construction, loom or loom_id}, a list of these, "
    "or [[order]] tables; - or nothing is the standard input"
)


def _validate(options: argparse.Namespace) -> int:
    requests = [request for path in options.files for request in _requests(path)]
    loom = _loom(options)
    with Client(options.url) as client:
        results = list(client.validate_many([_with_loom(each, loom) for each in requests]))
    _write(results, options.format)
    for result in results:
        if result.error is not None:
            print(f"weavability: order {result.index + 1}: {result.error}", file=sys.stderr)
    return _status(results)


def _requests(path: str) -> list[dict[str, object]]:
    return read_orders(read_file(path, sys.stdin.buffer), name=path)


def _loom(options: argparse.Namespace) -> dict[str, object]:
    """Return the loom of the options as members of a request; empty where there is none."""
    if options.loom_id is not None:
        return {"loom_id": options.loom_id}
    if options.loom is None:
        return {}
    content = read_file(options.loom, sys.stdin.buffer)
    return {"loom": read_object(content, name=options.loom)}


def _with_loom(request: dict[str, object], loom: dict[str, object]) -> dict[str, object]:
    if "loom" in request or "loom_id" in request:
        return request
    if not loom:
        raise UsageError("an order names no loom: add loom_id to it, or pass --loom-id or --loom")
    return request | loom


def _write(results: Sequence[ItemResult], form: str) -> None:
    reports = [result.report for result in results if result.report is not None]
    if form == "json":
        written = [_document(result) for result in results]
        shown = written[0] if len(written) == 1 else written
        print(json.dumps(shown, indent=2, ensure_ascii=False))
    elif form == "page":
        print("\n\n".join(map(str, reports)))
    elif reports:
        print(text_table(HEADER, [_row(result) for result in results]))


def _document(result: ItemResult) -> dict[str, object]:
    """Return the report as JSON; for an order that was refused, what is wrong with it."""
    if result.report is not None:
        return result.report.to_json()
    return {"error": str(result.error)}


def _row(result: ItemResult) -> tuple[object, ...]:
    report = result.report
    if report is None:
        return (result.index + 1, None, "refused", None, None, None, None, None, None)
    return (
        report.reference or result.index + 1,
        report.loom_id,
        report.verdict.replace("_", " "),
        report.rates.speed_picks_per_min,
        report.rates.limited_by.replace("_", " "),
        report.rates.insertion_rate_m_per_min,
        report.setup.lifting,
        report.cloth.tightness_pct,
        report.gravest.code if report.gravest else None,
    )


def _status(results: Sequence[ItemResult]) -> int:
    if any(result.report is None for result in results):
        return TROUBLE
    return WEAVABLE if all(result.unwrap().ok for result in results) else NOT_WEAVABLE


if __name__ == "__main__":
    sys.exit(main())
