"""The looms of the park for an order as a page: a table, and two of them side by side."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final
from urllib.parse import quote

from flask import render_template
from markupsafe import Markup

from weavability.answers.caution import CAUTION
from weavability.answers.cloth_words import cloth_in_words
from weavability.answers.loom_match import LoomMatch, MatchReport
from weavability.checks.finding import Verdict
from weavability.service.batches.csv_columns import columns
from weavability.service.batches.csv_grammar import YARN_PRICE
from weavability.service.batches.flat_order import FieldFault, is_price, query_of
from weavability.service.http.links import pack
from weavability.service.pages.order_fields import FormField, form_field, in_words
from weavability.service.pages.order_page import OrderForm, reason_of
from weavability.service.pages.order_state import yarn_keys
from weavability.service.pages.report_comparison import Comparison
from weavability.service.pages.wording import VERDICTS, rounded, show
from weavability.service.requests.canonical import canonical_request
from weavability.textiles.construction import Construction
from weavability.textiles.order_lengths import USUAL_LENGTH

MOST_ROWS: Final = 500
"""Looms that are listed: of a larger park the best."""

FULL_BAR: Final = 120.0
"""Per cent of the reed at which its bar ends."""

REPORT: Final = "/v1/validations/"


@dataclass(frozen=True, slots=True, kw_only=True)
class RankedOrder:
    """What came of an order that was to be ranked.

    Attributes:
        cells: Its fields as they were typed.
        on_loom: The links to what is on the looms now, as they were typed.
        ranked_by: ``hours`` or ``cost``.
        ticked: The looms that are to be compared.
        request: The order as a JSON request; empty if nothing is stated.
        notes: What is wrong, or could not be done as requested.
        construction: The cloth, if the order is good.
        matches: The ranking, likewise.
        comparison: Two of the looms side by side, if they were ticked.
        descriptions: What the park says of each loom.
    """

    cells: Mapping[str, str]
    on_loom: str = ""
    ranked_by: str = "hours"
    ticked: tuple[str, ...] = ()
    request: Mapping[str, Any]
    notes: tuple[str, ...] = ()
    construction: Construction | None = None
    matches: MatchReport | None = None
    comparison: Comparison | None = None
    descriptions: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class LoomRow:
    """A loom in the table."""

    rank: int
    loom_id: str
    description: str
    verdict: tuple[str, str, str]
    speed: str
    limited_by: str
    hours: str
    cost: str
    reed_use: str
    reed_bar: ReedBar
    changeover: str
    is_doubtful: bool
    reason: Markup
    report: str
    sheet: str
    board: str
    is_ticked: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ReedBar:
    """Lengths of the bar of a reed: up to its width, and beyond it; the line is at 100 %."""

    within: float
    beyond: float


def note(found: FieldFault) -> str:
    """Write what is wrong with a field."""
    words = in_words(found.fault.message, found.fault.pointer)
    given = str(found.fault.given or "")
    beside = f" Given: {given}." if given and given not in words else ""
    label = OrderForm.label(found.heading)
    if found.fault.pointer.startswith("/on_loom/"):
        label = f"What is on {found.fault.pointer.split('/')[2]}"
    return f"{label}: {words}{beside}"


def render(ranked: RankedOrder) -> str:
    """Return the page."""
    found = ranked.matches.matches if ranked.matches else ()
    address = query_of(ranked.cells)
    return render_template(
        "matches.html",
        ranked=ranked,
        order=None if ranked.construction is None else _line(ranked.construction),
        reference=ranked.cells.get("reference", ""),
        rows=[_row(ranked, each) for each in found[:MOST_ROWS]],
        more=max(0, len(found) - MOST_ROWS),
        weavable=sum(each.verdict is not Verdict.NOT_WEAVABLE for each in found),
        doubtful=sum(bool(each.rejected_if_assumed) for each in found),
        edit=None if address is None else f"/?{address}",
        is_addressed=address is not None and not _is_priced(ranked.cells),
        has_changeovers=any(each.changeover for each in found),
        has_costs=any(each.costs for each in found),
        prices=_price_fields(ranked.cells),
        is_priced=_is_priced(ranked.cells),
        hidden=ranked.cells,
        verdicts=VERDICTS,
        caution=CAUTION,
    )


def _is_priced(cells: Mapping[str, str]) -> bool:
    return any(map(is_price, cells))


def _line(construction: Construction) -> str:
    """Return the order in a line."""
    cloth = cloth_in_words(construction)
    if construction.length_m is not None:
        return f"{cloth}, {show(round(construction.length_m, 1))} m"
    order = construction.order
    if order is not None:
        return f"{cloth}, {order.pieces} pieces of {show(order.piece_length_m)} m"
    return f"{cloth}; without a length, hours are for {USUAL_LENGTH}"


def _row(ranked: RankedOrder, match: LoomMatch) -> LoomRow:
    loom_id = match.loom_id or ""
    token = pack(canonical_request({**ranked.request, "loom_id": loom_id}))
    reference = quote(ranked.cells.get("reference", ""), safe="")
    query = f"?reference={reference}" if reference else ""
    label = f"&label={reference}" if reference else ""
    is_woven = match.verdict is not Verdict.NOT_WEAVABLE
    cost = match.costs.cost_per_m if match.costs else None
    return LoomRow(
        rank=match.rank,
        loom_id=loom_id,
        description=ranked.descriptions.get(loom_id, ""),
        verdict=VERDICTS[match.verdict],
        speed=show(round(match.speed_picks_per_min)),
        limited_by=show(str(match.limited_by)),
        hours=show(float(f"{match.hours:.3g}")),
        cost="" if cost is None else rounded(cost),
        reed_use=show(round(match.reed_width_use_pct)),
        reed_bar=_bar(match.reed_width_use_pct),
        changeover=_changeover(match),
        is_doubtful=bool(match.rejected_if_assumed),
        reason=reason_of(match),
        report=f"{REPORT}{token}{query}" if token else "",
        sheet=f"{REPORT}{token}/setup-sheet{query}" if token and is_woven else "",
        board=f"/board#add={token}{label}" if token else "",
        is_ticked=loom_id in ranked.ticked,
    )


def _bar(use_pct: float) -> ReedBar:
    shown = min(use_pct, FULL_BAR)
    return ReedBar(within=round(min(shown, 100), 1), beyond=round(max(0.0, shown - 100), 1))


def _changeover(match: LoomMatch) -> str:
    change = match.changeover
    if change is None:
        return ""
    return f"{show(float(f'{change.loom_stop_hours:.2g}'))} h, {show(str(change.route))}"


def _price_fields(cells: Mapping[str, str]) -> Sequence[tuple[FormField, str]]:
    """Return the fields for prices with what is typed in them, those of yarns after the first."""
    yarns = [
        f"{YARN_PRICE}{system} {key}"
        for system in ("warp", "weft")
        for key in yarn_keys(cells.items(), system)
    ]
    first, *others = filter(is_price, columns())
    return [(form_field(name), cells.get(name, "")) for name in (first, *yarns, *others)]
