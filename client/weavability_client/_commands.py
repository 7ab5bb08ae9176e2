"""What each command of the command line does; each returns the exit status."""

from __future__ import annotations

import argparse
import io
import json
import os
import signal
import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any, BinaryIO, Final

from weavability_client import _output
from weavability_client._columns import RowRefused
from weavability_client._json import elements, members
from weavability_client._many import ItemResult
from weavability_client._orders import (
    read_design,
    read_file,
    read_json,
    read_object,
    read_one,
    read_orders,
    read_weave,
)
from weavability_client._output import Judged, say
from weavability_client.client import URL_VARIABLE, Client
from weavability_client.errors import UsageError, WeavabilityError
from weavability_client.models import Answer, Drawing, Loom, RemedyReport, Report
from weavability_client.models.listings import Listing
from weavability_client.progress import Progress

WEAVABLE: Final = 0
NOT_WEAVABLE: Final = 1
CHANGED: Final = 3
TROUBLE: Final = 2
INTERRUPTED: Final = 128 + signal.SIGINT
BAR_AFTER_S: Final = 0.5
NAMES: Final = ("looms", "checks", "weaves")
"""Names that a shell may offer."""

QUICK_S: Final = (0.5, 1.0)
"""Seconds for connecting and for silence when a shell waits for names."""


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


def validate(options: argparse.Namespace, client: Client) -> int:
    """Judge orders on their looms."""
    requests = [request for path in options.files for request in _orders(path, options)]
    loom = _loom(options)
    orders = [each for each in requests if not isinstance(each, UsageError)]
    _say_replaced(orders, loom, options)
    progress = Progress(sys.stderr or io.StringIO(), after_s=BAR_AFTER_S, elsewhere=False)
    prices = _prices(options)
    _say_repriced(orders, prices, options)
    good = [_with_loom(each, loom) | prices for each in orders]
    if options.decisive_assumptions:
        good = [_with_option(each, "decisive_assumptions") for each in good]
    answers = iter(list(client.validate_many(good, progress=progress)))
    judged = [
        Judged(result=ItemResult(index=index, error=each), reference=_reference(each))
        if isinstance(each, UsageError)
        else Judged(result=replace(next(answers), index=index), reference=_reference(each))
        for index, each in enumerate(requests)
    ]
    return _show_many(judged, options)


def _reference(order: dict[str, object] | UsageError) -> str | None:
    """Return the reference of an order, also of a row of a sheet that was refused."""
    if isinstance(order, UsageError):
        return order.reference if isinstance(order, RowRefused) else None
    reference = (members(order.get("construction")) or {}).get("reference")
    return reference if isinstance(reference, str) else None


def _show_many(judged: Sequence[Judged], options: argparse.Namespace) -> int:
    if options.save is not None:
        _output.save(judged, options.save)
    _output.write(judged, options.format, sys.stdout, assumptions=_wants_assumptions(options))
    results = [each.result for each in judged]
    for result in results:
        if result.error is not None:
            say(f"order {result.index + 1}: {result.error}")
    return _status(results)


def poll(options: argparse.Namespace, client: Client) -> int:
    """Fetch the reports that are no longer what they were."""
    known = [report for target in options.reports for report in _known(target, options)]
    changed: list[Judged] = []
    for index, (link, etag, reference) in enumerate(known):
        report = client.report(link) if etag is None else client.poll(link, etag)
        if report is not None:
            named = replace(report, reference=reference)
            result = ItemResult(index=index, report=named)
            changed.append(Judged(result=result, reference=reference))
    compared = [etag for _link, etag, _reference in known if etag is not None]
    if known and not compared:
        say("nothing to compare with: --etag is the validation_id of the report that is known")
        return _show_many(changed, options)
    new = len(changed) - (len(known) - len(compared))
    say(f"{new} of {len(compared)} reports have changed")
    status = _show_many(changed, options) if changed else WEAVABLE
    return CHANGED if new and status == WEAVABLE else status


def _known(target: str, options: argparse.Namespace) -> list[tuple[str, str | None, str | None]]:
    """Return link, entity tag and reference of a link, or of each report in a file.

    Raises:
        UsageError: The file holds something else.
    """
    if "/v1/validations/" in target:
        return [(target, options.etag, None)]
    if options.etag is not None:
        raise UsageError("--etag is for a link; reports in a file have their own")
    document = read_json(_content(target), name=target)
    listed = elements(document)
    known: list[tuple[str, str | None, str | None]] = []
    for number, each in enumerate([document] if listed is None else listed, 1):
        if "error" in (members(each) or {}):
            continue
        try:
            report = Report.from_json(each)
        except WeavabilityError as error:
            raise UsageError(f"{target}, report {number}: is no report: {error}") from error
        if report.link is None:
            raise UsageError(f"{target}, report {number}: has no link; send its order again")
        known.append((report.link, report.etag, report.reference))
    return known


def match(options: argparse.Namespace, client: Client) -> int:
    """Rank the looms for an order."""
    order = _order(options.file, options)
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


def remedies(options: argparse.Namespace, client: Client) -> int:
    """Find the smallest changes that make an order weavable."""
    order = _order(options.file, options)
    names_loom = "loom" in order or "loom_id" in order or _loom(options)
    on = _loom_of(order, options) if names_loom else {}
    found = client.remedies(_construction(order), prices=_stated_prices(order, options), **on)
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
    text = json.dumps(changed, indent=2, ensure_ascii=False) + "\n"
    _output.save_bytes(options.fix, text.encode())


def window(options: argparse.Namespace, client: Client) -> int:
    """Map what can be woven if two fields are varied."""
    order = _order(options.file, options)
    fields = _loom_of(order, options) | {"across": options.across, "along": options.along}
    cloth = _construction(order)
    window = client.window(cloth, **fields)
    _save(options, lambda: client.draw_window(cloth, **fields))
    return _show(window, options, weavable=window.ok)


def rate(options: argparse.Namespace, client: Client) -> int:
    """Compute how fast a loom inserts weft."""
    order = {} if options.file is None else _order(options.file, options)
    weft = {"designation": options.weft, "fibre": options.fibre}
    fields = _loom_of(order, options) | {
        "construction": _construction(order) if order else None,
        "weft": {name: value for name, value in weft.items() if value is not None} or None,
        "reed_width_cm": options.reed_width_cm,
        "speed_picks_per_min": options.speed,
        "feeders": options.feeders,
    }
    sheet = client.insertion_rate(**fields, sweep=options.sweep)
    _save(options, lambda: client.draw_insertion(**fields))
    return _show(sheet, options, weavable=True)


def changeover(options: argparse.Namespace, client: Client) -> int:
    """Plan a change of style."""
    old, new = (_order(path, options) for path in (options.old, options.new))
    on = _loom_of(new, options)
    report = client.changeover(
        _construction(old), _construction(new), warp_left_m=options.warp_left_m, **on
    )
    return _show(report, options, weavable=report.ok)


def sequence(options: argparse.Namespace, client: Client) -> int:
    """Find the best sequence of orders."""
    read = [order for path in options.files for order in _orders(path, options)]
    orders = [_good(order) for order in read]
    looms = [_stated_loom(order, _loom(options)) for order in orders]
    _say_replaced(orders, _loom(options), options)
    if not looms:
        raise UsageError("no order is given")
    if any(each != looms[0] for each in looms):
        raise UsageError("the orders name several looms; a sequence is for one")
    now = None if options.on_loom is None else _construction(_order(options.on_loom, options))
    report = client.sequence(
        [_construction(order) for order in orders],
        on_loom=now,
        warp_left_m=options.warp_left_m,
        **looms[0],
    )
    return _show(report, options, weavable=report.ok)


def _good(order: dict[str, object] | UsageError) -> dict[str, object]:
    """Return an order that could be read; a sequence without one of its orders is of no use."""
    if isinstance(order, UsageError):
        raise order
    return order


def weave(options: argparse.Namespace, client: Client) -> int:
    """Analyse a weave."""
    source = _standard_input() if options.weave == "-" else io.BytesIO()
    weave = read_weave(options.weave, source)
    setts = {"ends_per_cm": options.ends_per_cm, "picks_per_cm": options.picks_per_cm}
    sheet = client.analyse_weave(weave, **setts)
    _save(options, lambda: client.draw_weave(weave, view=options.view, **setts))
    return _show(sheet, options, weavable=sheet.ok)


def design(options: argparse.Namespace, client: Client) -> int:
    """Judge a figured design."""
    order = read_design(_object(options.effects), _content(options.picture), name=options.effects)
    on, construction = _loom_of(order, options), _construction(order)
    sheet = client.design(construction, **on)
    _save(options, lambda: client.draw_design(construction, **on))
    if options.paper is not None:
        _output.save_bytes(options.paper, client.point_paper(construction, **on))
    return _show(sheet, options, weavable=sheet.ok)


def listing(listed: Callable[[Client], Listing]) -> Callable[[argparse.Namespace, Client], int]:
    """Return the command that lists what a call of the client returns."""

    def run(options: argparse.Namespace, client: Client) -> int:
        return _show(listed(client).about(*options.words), options, weavable=True)

    return run


def evidence(options: argparse.Namespace, client: Client) -> int:
    """List published values beside computed ones."""
    return _show(client.evidence().on(*options.words), options, weavable=True)


def messages(options: argparse.Namespace, client: Client) -> int:
    """List the sentences of answers by their keys."""
    return listing(lambda client: client.messages(options.kind))(options, client)


# ------------------------------------------------------------------------------------ what they use


def _orders(path: str, options: argparse.Namespace) -> list[dict[str, object] | UsageError]:
    with _Ignored(path, options) as ignored:
        return read_orders(_content(path), name=path, ignore=ignored.call)


def _order(path: str, options: argparse.Namespace) -> dict[str, object]:
    with _Ignored(path, options) as ignored:
        return read_one(_content(path), name=path, ignore=ignored.call)


class _Ignored:
    """The headings of a table that were left unread on request; at the end it says which."""

    def __init__(self, path: str, options: argparse.Namespace) -> None:
        self._path = path
        self._headings: list[str] = []
        self.call = self._headings.append if options.ignore_columns else None

    def __enter__(self) -> _Ignored:
        return self

    def __exit__(self, *_error: object) -> None:
        if self._headings:
            say(f"{self._path}: columns ignored: {', '.join(self._headings)}")


def _object(path: str) -> dict[str, object]:
    return read_object(_content(path), name=path)


def _content(path: str) -> bytes:
    if path != "-":
        return read_file(path, io.BytesIO())
    standard_input = _standard_input()
    if sys.stdin.isatty():
        say("reading the standard input; Ctrl-D ends it")
    return read_file(path, standard_input)


def _standard_input() -> BinaryIO:
    if sys.stdin is None:
        raise UsageError("-: there is no standard input")
    return sys.stdin.buffer


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
    """Return the prices of the options, or else those of an order."""
    of_options = _prices(options)
    _say_repriced([order], of_options, options)
    prices = (order | of_options).get("prices")
    stated = members(prices)
    if prices is not None and stated is None:
        raise UsageError("prices should be an object")
    return stated


def _with_loom(request: dict[str, object], loom: dict[str, object]) -> dict[str, object]:
    """Return a request on the loom of the options, or else on that which it names."""
    if not loom and not _named_loom(request):
        of = (
            "the order names no loom: add loom_id to it, or"
            if request
            else "the command names no loom:"
        )
        raise UsageError(f"{of} pass --loom-id or --loom")
    return {name: value for name, value in request.items() if not loom or name not in _LOOM} | loom


_LOOM: Final = ("loom", "loom_id")


def _named_loom(request: Mapping[str, object]) -> dict[str, object]:
    return {name: request[name] for name in _LOOM if name in request}


def _say_replaced(
    orders: Iterable[Mapping[str, object]], loom: dict[str, object], options: argparse.Namespace
) -> None:
    """Say which looms of orders are not used, because the options name another one."""
    named = [stated for stated in map(_named_loom, orders) if stated and stated != loom]
    if not loom or not named:
        return
    option = "--loom" if options.loom_id is None else f"--loom-id {options.loom_id}"
    of = "the order" if len(named) == 1 else f"{len(named)} orders"
    looms = dict.fromkeys(
        str(each.get("loom_id", "a loom of its own" if len(named) == 1 else "looms of their own"))
        for each in named
    )
    say(f"{option} is used in place of the loom of {of}: {', '.join(looms)}")


def _say_repriced(
    orders: Iterable[Mapping[str, object]], prices: dict[str, object], options: argparse.Namespace
) -> None:
    """Say that prices of orders are not used, as the options state others; none is repeated."""
    own = [order["prices"] for order in orders if "prices" in order]
    replaced = sum(each != prices.get("prices") for each in own)
    if prices and replaced:
        of = "the order" if replaced == 1 else f"{replaced} orders"
        say(f"--prices {options.prices} is used in place of the prices of {of}")


def _with_option(request: dict[str, object], name: str) -> dict[str, object]:
    return request | {"options": {**(members(request.get("options")) or {}), name: True}}


def _loom_of(order: dict[str, object], options: argparse.Namespace) -> dict[str, Any]:
    """Return the loom of the options, or else that which an order names: stated, or by name."""
    _say_replaced([order], _loom(options), options)
    return _stated_loom(order, _loom(options))


def _stated_loom(order: dict[str, object], loom_of_options: dict[str, object]) -> dict[str, Any]:
    named = _named_loom(_with_loom(order, loom_of_options))
    loom, loom_id = named.get("loom"), named.get("loom_id")
    if (loom is not None and members(loom) is None) or not isinstance(loom_id, str | None):
        raise UsageError("loom should be an object, loom_id a text")
    return named


def _construction(order: dict[str, object]) -> Mapping[str, object]:
    construction = members(order.get("construction"))
    if construction is None:
        raise UsageError("construction should be an object")
    return construction


def _save(options: argparse.Namespace, draw: Callable[[], Drawing]) -> None:
    if options.svg is not None:
        _output.save_bytes(options.svg, draw().svg.encode())


def _show(answer: Answer, options: argparse.Namespace, *, weavable: bool) -> int:
    if options.save is not None:
        _output.save(answer, options.save)
    _output.write(answer, options.format, sys.stdout, assumptions=_wants_assumptions(options))
    return WEAVABLE if weavable else NOT_WEAVABLE


def _status(results: Sequence[ItemResult]) -> int:
    if any(result.report is None for result in results):
        return TROUBLE
    return WEAVABLE if all(result.unwrap().ok for result in results) else NOT_WEAVABLE


def _wants_assumptions(options: argparse.Namespace) -> bool:
    """Return whether assumptions are to be listed.

    Raises:
        UsageError: What is printed has them anyhow, or has no place for them.
    """
    if not getattr(options, "assumptions", False):
        return False
    if options.format in ("json", "csv"):
        raise UsageError(
            "--assumptions is for pages and tables; --format json has them without it, as "
            "assumptions"
        )
    return True
