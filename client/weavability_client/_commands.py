"""What each command of the command line does; each returns the exit status."""

from __future__ import annotations

import argparse
import io
import json
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from weavability_client import _output
from weavability_client._columns import RowRefused
from weavability_client._given import (
    Order,
    construction_of,
    content_of,
    loom_of,
    loom_of_options,
    named_loom,
    object_in,
    order_in,
    orders_in,
    prices_of,
    prices_of_options,
    readable,
    say_replaced,
    say_repriced,
    standard_input,
    stated_loom,
    with_loom,
)
from weavability_client._json import elements, members
from weavability_client._many import ItemResult
from weavability_client._options import (
    ASSUMPTIONS,
    DECISIVE,
    LOOM,
    LOOMS,
    ORDER,
    ORDER_IF_ANY,
    ORDERS,
    PRICES,
    WARP_LEFT,
    argument,
    axis,
    command,
    file,
    number,
    only,
    svg,
    sweep,
    whole,
)
from weavability_client._orders import (
    read_design,
    read_json,
    read_weave,
)
from weavability_client._output import Judged, say
from weavability_client.client import Client
from weavability_client.errors import UsageError, WeavabilityError
from weavability_client.models import (
    Answer,
    Drawing,
    Loom,
    Remedy,
    RemedyReport,
    Report,
    Verdict,
)
from weavability_client.progress import Progress

WEAVABLE: Final = 0
NOT_WEAVABLE: Final = 1
CHANGED: Final = 3
TROUBLE: Final = 2
BAR_AFTER_S: Final = 0.5
BATCH: Final = ("table", "page", "json", "csv")
"""Forms in which many reports are printed."""


@command(
    *(ORDERS, LOOM, PRICES, DECISIVE, ASSUMPTIONS),
    forms=BATCH,
)
def validate(options: argparse.Namespace, client: Client) -> int:
    """Judge constructions on their looms."""
    requests = [request for path in options.files for request in orders_in(path, options)]
    loom = loom_of_options(options)
    orders = [each for each in requests if not isinstance(each, UsageError)]
    say_replaced(orders, loom, options)
    progress = Progress(sys.stderr or io.StringIO(), after_s=BAR_AFTER_S, elsewhere=False)
    prices = prices_of_options(options)
    say_repriced(orders, prices, options)
    good = [with_loom(each, loom) | prices for each in orders]
    if options.decisive_assumptions:
        wanted = {"decisive_assumptions": True}
        good = [
            each | {"options": {**(members(each.get("options")) or {}), **wanted}} for each in good
        ]
    answers = iter(list(client.validate_many(good, progress=progress)))
    judged = [
        Judged(result=ItemResult(index=index, error=each), reference=_reference(each))
        if isinstance(each, UsageError)
        else Judged(result=replace(next(answers), index=index), reference=_reference(each))
        for index, each in enumerate(requests)
    ]
    return _show_many(judged, options)


def _reference(order: Order | UsageError) -> str | None:
    """Return the reference of an order, also of a row of a sheet that was refused."""
    if isinstance(order, UsageError):
        return order.reference if isinstance(order, RowRefused) else None
    reference = (members(order.get("construction")) or {}).get("reference")
    return reference if isinstance(reference, str) else None


@command(
    *(ORDER, LOOMS, PRICES),
    argument(
        "--rank-by",
        choices=("hours", "cost"),
        help="what looms of the same verdict are ranked by; else hours",
    ),
    DECISIVE,
)
def match(options: argparse.Namespace, client: Client) -> int:
    """Rank the looms for a construction."""
    order = order_in(options.file, options)
    looms = [Loom.from_json(object_in(path)) for path in options.loom_files or ()]
    report = client.match_looms(
        construction_of(order),
        looms=looms or None,
        loom_ids=options.loom_ids,
        prices=prices_of(order, options),
        rank_by=options.rank_by,
        decisive_assumptions=options.decisive_assumptions,
    )
    return _show(report, options)


@command(
    *(ORDER, LOOMS, PRICES),
    argument(
        "--fix",
        metavar="OUT",
        type=Path,
        help="write the order, changed by a remedy of the first loom, into a file as JSON; the "
        "exit status is then 0 if what is written is weavable, else 1",
    ),
    argument(
        "--remedy",
        metavar="N",
        type=whole,
        help="with --fix: the number of the remedy; else the smallest that makes it weavable",
    ),
)
def remedies(options: argparse.Namespace, client: Client) -> int:
    """Find the smallest changes that make an order weavable (exit status 1 if none is found)."""
    order = order_in(options.file, options)
    on = _looms_of(order, options)
    found = client.remedies(construction_of(order), prices=prices_of(order, options), **on)
    if options.fix is None:
        return _show(found, options)
    is_woven = _write_fixed(options, client, order, found, on)
    _show(found, options)
    return WEAVABLE if is_woven else NOT_WEAVABLE


def _looms_of(order: Order, options: argparse.Namespace) -> dict[str, Any]:
    """Return the loom or looms of the options, or else that which an order names, if any."""
    ids, files = options.loom_ids or [], options.loom_files or []
    if len(files) > 1:
        raise UsageError("--loom states one loom: name several of the park, each by --loom-id")
    if len(ids) > 1:
        if named_loom(order):
            say("--loom-id is used in place of the loom of the order")
        return {"loom_ids": ids}
    options.loom_id = ids[0] if ids else None
    options.loom = files[0] if files else None
    return loom_of(order, options) if loom_of_options(options) or named_loom(order) else {}


def _write_fixed(
    options: argparse.Namespace,
    client: Client,
    order: Order,
    found: RemedyReport,
    named: Order,
) -> bool:
    """Write an order with a remedy made, on the loom that the remedy is for; say what is unusual.

    What the customer requires may be missed by an order that is weavable, if it rests on what is
    assumed.

    Returns:
        Whether what is written is weavable; no if nothing is written.
    """
    on = found.looms[0]  # that on which the smallest change makes it weavable
    loom = on.loom_id or "the loom"
    chosen: Order = {"loom": named["loom"]} if "loom" in named else {"loom_id": on.loom_id}
    on_loom = with_loom(dict(order), chosen)
    is_woven = on.verdict is not Verdict.NOT_WEAVABLE
    remedy: Remedy | None = None
    if options.remedy is not None:
        if not 1 <= options.remedy <= len(on.remedies):
            raise UsageError(f"--remedy {options.remedy}: there are {len(on.remedies)} remedies")
        remedy = on.remedies[options.remedy - 1]
        changed, is_woven = remedy.applied(on_loom), remedy.verdict is not Verdict.NOT_WEAVABLE
        if not is_woven:
            say(f"{options.fix}: the order is still not weavable on {loom} after that remedy")
    elif (best := found.best_on(on.loom_id)) is not None:
        remedy, changed, is_woven = best, best.applied(on_loom), True
    elif is_woven:
        changed = on_loom
        say(f"{options.fix}: the order is weavable on {loom} as it is, and is written unchanged")
    else:
        choice = ": --remedy chooses one of those that are listed" if on.remedies else ""
        say(f"nothing is written: no remedy makes the order weavable on {loom}{choice}")
        return False
    text = json.dumps(changed, indent=2, ensure_ascii=False) + "\n"
    _output.save_bytes(options.fix, text.encode())
    if remedy is not None and remedy.rejected_if_assumed:
        codes = ", ".join(remedy.rejected_if_assumed)
        say(f"{options.fix}: it is not weavable on {loom} ({codes}) if what is assumed is so")
    _say_missed(options.fix, client, construction_of(changed), chosen)
    return is_woven


def _say_missed(path: Path, client: Client, construction: Mapping[str, object], on: Order) -> None:
    """Say which figures that are required an order misses, as far as is known."""
    if not construction.get("requirements"):
        return
    (answer,) = client.validate_many([{"construction": construction, **on}])
    if answer.report is not None and (missed := answer.report.missed_requirements):
        say(f"{path}: what is required is still missed, as all is assumed: {'; '.join(missed)}")


@command(
    *(ORDER, LOOM, axis("--across", "along a row"), axis("--along", "from row to row")),
    svg("window"),
)
def window(options: argparse.Namespace, client: Client) -> int:
    """Map what can be woven if two fields of an order are varied."""
    order = order_in(options.file, options)
    fields = loom_of(order, options) | {"across": options.across, "along": options.along}
    cloth = construction_of(order)
    window = client.window(cloth, **fields)
    _draw(options, lambda: client.draw_window(cloth, **fields))
    return _show(window, options)


@command(
    *(ORDER_IF_ANY, LOOM, ASSUMPTIONS),
    number("--reed-width-cm", "reed width in use"),
    number("--speed", "requested speed, picks/min"),
    argument("--weft", metavar="COUNT", help="the weft, such as 'Ne 20'"),
    argument("--fibre", metavar="NAME", help="fibre of that weft"),
    argument("--feeders", type=whole, metavar="N", help="feeders in turn"),
    argument(
        "--sweep",
        type=sweep,
        metavar="OVER:FROM:TO[:POINTS]",
        help="a row of points over speed or width, such as speed:300:600:7",
    ),
    svg("pick"),
)
def rate(options: argparse.Namespace, client: Client) -> int:
    """Compute how fast a loom inserts weft."""
    order = {} if options.file is None else order_in(options.file, options)
    weft = {"designation": options.weft, "fibre": options.fibre}
    fields = loom_of(order, options) | {
        "construction": construction_of(order) if order else None,
        "weft": {name: value for name, value in weft.items() if value is not None} or None,
        "reed_width_cm": options.reed_width_cm,
        "speed_picks_per_min": options.speed,
        "feeders": options.feeders,
    }
    sheet = client.insertion_rate(**fields, sweep=options.sweep)
    _draw(options, lambda: client.draw_insertion(**fields))
    return _show(sheet, options)


@command(
    argument("old", metavar="OLD", help="the order on the loom, from a file"),
    argument("new", metavar="NEW", help="the order to come, from a file"),
    *(LOOM, WARP_LEFT, ASSUMPTIONS),
)
def changeover(options: argparse.Namespace, client: Client) -> int:
    """Plan a change of style and its time."""
    old, new = (order_in(path, options) for path in (options.old, options.new))
    on = loom_of(new, options)
    report = client.changeover(
        construction_of(old), construction_of(new), warp_left_m=options.warp_left_m, **on
    )
    return _show(report, options)


@command(
    ORDERS,
    argument("--on-loom", metavar="FILE", help="the order on the loom now, from a file"),
    *(LOOM, WARP_LEFT, ASSUMPTIONS),
)
def sequence(options: argparse.Namespace, client: Client) -> int:
    """Find the sequence of orders that stops a loom for the shortest time."""
    read = [order for path in options.files for order in orders_in(path, options)]
    orders = [readable(order) for order in read]
    looms = [stated_loom(order, loom_of_options(options)) for order in orders]
    say_replaced(orders, loom_of_options(options), options)
    if any(each != looms[0] for each in looms):
        raise UsageError("the orders name several looms; a sequence is for one")
    now = None if options.on_loom is None else construction_of(order_in(options.on_loom, options))
    report = client.sequence(
        [construction_of(order) for order in orders],
        on_loom=now,
        warp_left_m=options.warp_left_m,
        **looms[0],
    )
    return _show(report, options)


@command(
    argument(
        "weave",
        metavar="WEAVE",
        help="a notation such as '2/2 twill Z'; or a file: point paper in PNG, a weave or an order "
        "in JSON or TOML; - is the standard input",
    ),
    number("--ends-per-cm", "warp sett, for floats in mm"),
    number("--picks-per-cm", "weft sett, for floats in mm"),
    svg("weave"),
    argument(
        "--view",
        choices=("point_paper", "cloth_face"),
        default="point_paper",
        help="what is drawn (%(default)s)",
    ),
    ASSUMPTIONS,
)
def weave(options: argparse.Namespace, client: Client) -> int:
    """Analyse a weave and draw it."""
    source = standard_input() if options.weave == "-" else io.BytesIO()
    weave = read_weave(options.weave, source)
    setts = {"ends_per_cm": options.ends_per_cm, "picks_per_cm": options.picks_per_cm}
    sheet = client.analyse_weave(weave, **setts)
    _draw(options, lambda: client.draw_weave(weave, view=options.view, **setts))
    return _show(sheet, options)


@command(
    argument(
        "picture", metavar="PICTURE", help="the design, a PNG file with a palette: a pixel a hook"
    ),
    argument(
        "--effects",
        metavar="FILE",
        required=True,
        help="a file with the order, of which weave.design lacks the picture; or with a "
        "construction beside effects, wefts, float_limits, covers and correct",
    ),
    LOOM,
    svg("design"),
    file("--paper", "write the corrected point paper into a PNG file"),
    ASSUMPTIONS,
)
def design(options: argparse.Namespace, client: Client) -> int:
    """Judge a figured design on the harness of a loom."""
    order = read_design(
        object_in(options.effects), content_of(options.picture), name=options.effects
    )
    on, construction = loom_of(order, options), construction_of(order)
    sheet = client.design(construction, **on)
    _draw(options, lambda: client.draw_design(construction, **on))
    if options.paper is not None:
        _output.save_bytes(options.paper, client.point_paper(construction, **on))
    return _show(sheet, options)


@command(
    only("WEAVE", "names and aliases with these words"),
    aliases=["notations"],
)
def weaves(options: argparse.Namespace, client: Client) -> int:
    """List how weaves are written, and their names."""
    return _show(client.notations().about(*options.words), options)


@command(
    only("WORD", "subjects with these words in their name"),
)
def evidence(options: argparse.Namespace, client: Client) -> int:
    """List published values beside computed ones."""
    return _show(client.evidence().on(*options.words), options)


@command(
    only("LOOM", "looms with these words in their names"),
)
def looms(options: argparse.Namespace, client: Client) -> int:
    """List the looms of the park; of one loom, the limits that are assumed."""
    return _show(client.park().about(*options.words), options)


@command(
    only("CODE", "checks with these words in code or rule"),
)
def checks(options: argparse.Namespace, client: Client) -> int:
    """List the checks; of one check, its formula, source and limits."""
    return _show(client.rule_set().about(*options.words), options)


@command(
    only("WORD", "sentences with these words in key or pattern"),
    argument(
        "--kind",
        choices=("finding", "assumption", "fault", "problem", "part"),
        help="only sentences of this kind (all)",
    ),
)
def messages(options: argparse.Namespace, client: Client) -> int:
    """List the sentences of answers by their keys, for a translation."""
    return _show(client.messages(options.kind).about(*options.words), options)


@command(
    argument(
        "reports",
        nargs="+",
        metavar="REPORT",
        help="a file with reports as --format json prints them, or the link of a report",
    ),
    argument("--etag", metavar="ID", help="of a link: the validation_id of the known report"),
    ASSUMPTIONS,
    forms=BATCH,
)
def poll(options: argparse.Namespace, client: Client) -> int:
    """Fetch reports again, those that have changed since."""
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
    document = read_json(content_of(target), name=target)
    listed = elements(document)
    known: list[tuple[str, str | None, str | None]] = []
    for place, each in enumerate([document] if listed is None else listed, 1):
        if "error" in (members(each) or {}):
            continue
        try:
            report = Report.from_json(each)
        except WeavabilityError as error:
            raise UsageError(f"{target}, report {place}: is no report: {error}") from error
        if report.link is None:
            raise UsageError(f"{target}, report {place}: has no link; send its order again")
        known.append((report.link, report.etag, report.reference))
    return known


def _draw(options: argparse.Namespace, draw: Callable[[], Drawing]) -> None:
    if options.svg is not None:
        _output.save_bytes(options.svg, draw().svg.encode())


def _show(answer: Answer, options: argparse.Namespace) -> int:
    _save_and_write(answer, options)
    return WEAVABLE if answer.ok else NOT_WEAVABLE


def _show_many(judged: Sequence[Judged], options: argparse.Namespace) -> int:
    _save_and_write(judged, options)
    results = [each.result for each in judged]
    for result in results:
        if result.error is not None:
            say(f"order {result.index + 1}: {result.error}")
    if any(result.report is None for result in results):
        return TROUBLE
    return WEAVABLE if all(result.unwrap().ok for result in results) else NOT_WEAVABLE


def _save_and_write(shown: _output.Shown, options: argparse.Namespace) -> None:
    """Write an answer, or a batch, in the form of the options, and into the file that they name.

    Raises:
        UsageError: Assumptions are requested of a form that has them anyhow, or no place for them.
    """
    if options.save is not None:
        _output.save(shown, options.save)
    assumptions = getattr(options, "assumptions", False)
    if assumptions and options.format in ("json", "csv"):
        raise UsageError(
            "--assumptions is for pages and tables; --format json has them without it, as "
            "assumptions"
        )
    _output.write(shown, options.format, sys.stdout, assumptions=assumptions)
