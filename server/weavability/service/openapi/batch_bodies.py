"""Bodies that are not JSON: the lines of a batch and the columns of a sheet."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any, Final

from weavability.service.batches.answer_sheet import AnswerSheet
from weavability.service.batches.csv_columns import columns, yarn_fields
from weavability.service.batches.csv_grammar import YARN_PRICE
from weavability.service.batches.csv_matches import MATCHES_SHEET, ORDERS_TO_MATCH
from weavability.service.batches.csv_orders import EVERY_SHEET, OrderSheet
from weavability.service.batches.csv_reports import REPORTS_SHEET
from weavability.service.http.problems import Problem
from weavability.service.http.responses import CSV, NDJSON
from weavability.service.openapi.json_schema import Components
from weavability.service.openapi.ucum import UNIT
from weavability.service.schemas.base import Body
from weavability.service.schemas.fields import Shape

_SHEETS: Final[Mapping[str, tuple[OrderSheet, AnswerSheet[Any, Any]]]] = {
    "ValidationRequest": (EVERY_SHEET, REPORTS_SHEET),
    "LoomMatchRequest": (ORDERS_TO_MATCH, MATCHES_SHEET),
}
"""The sheets that come and are answered, by the title of one request."""


def _lines(body: Body[Any]) -> Shape:
    return {
        "type": "string",
        "format": "binary",
        "description": f"One {body.title} a line, in UTF-8, any number of lines. Blank lines are "
        "skipped. A fault of a line concerns that line alone. Clients that send more than the "
        "service reads ahead must read while they send.",
        "contentMediaType": NDJSON,
    }


def _orders(body: Body[Any]) -> Shape:
    orders, _ = _SHEETS[body.title]
    known = {**columns(), **orders.more}
    plain = [f"`{name}`: {known[name].words}" for name in orders.names()]
    yarns = [
        f"`warp_{word}_A`: {field.description}{f' [{field.unit}]' if field.unit else ''}"
        for word, field in yarn_fields().items()
    ]
    words = (
        "A header row, then one order a row (RFC 4180, UTF-8). The columns may be in any order; an "
        "empty cell means that the value is not given. Cells may also be separated by semicolons, "
        "and numbers then have a decimal comma, or by tabs. Items of a list are separated by "
        "spaces; a weave may be written as rows separated by `|`, the first pick first: "
        "`1100|0110|0011|1001`, or as the JSON object of another form. Looms are those of the "
        "park. Columns:"
    )
    more = (
        "Columns of warp yarns, with the yarn's key at the end; those of weft yarns begin with "
        "`weft_`. In a sheet a key begins with a capital, since the names of the fields before it "
        "have none:"
    )
    prices = (
        f"The price of a kilogram of a yarn, by its name in the report, is `{YARN_PRICE}warp A`, "
        f"`{YARN_PRICE}weft A` and so on."
    )
    return {
        "type": "string",
        "format": "binary",
        "description": "\n".join(
            [words, "", *_bullets(plain), "", more, "", *_bullets(yarns), "", prices],
        ),
        "contentMediaType": CSV,
        "x-columns": dict(_places(orders)),
    }


def _places(orders: OrderSheet) -> Iterator[tuple[str, Shape]]:
    """Yield every column, with place and kind of its cells; of yarns, those of warp yarn A."""
    yarns = (*(f"warp_{word}_A" for word in yarn_fields()), f"{YARN_PRICE}warp A")
    for heading in (*orders.names(), *yarns):
        found = orders.column(heading)
        if found is not None:
            yield heading, {"pointer": found.pointer, "kind": found.kind.value}


def _bullets(lines: list[str]) -> list[str]:
    return [f"* {line}." for line in lines]


BATCH_BODIES: Final[Mapping[str, Callable[[Body[Any]], Shape]]] = {NDJSON: _lines, CSV: _orders}
"""Makes the schema of a batch from that of one of its requests, by media type."""


def batch_answer(
    body: Body[Any],
    media_type: str,
    answers: tuple[Shape, Shape | None],
    components: Components,
) -> Shape:
    """Return the schema of the answer to a batch, given those of the answer to one request.

    Args:
        body: Reads one request.
        media_type: Of the answer.
        answers: The schema of the whole answer to one request, and of the short one if it has one.
        components: Collects the schemas that are shared.
    """
    if media_type == NDJSON:
        title = body.title.replace("ValidationRequest", "").replace("Request", "") + "BatchItem"
        components.schemas[title] = _item(*answers, components.answer(Problem))
        return {
            "type": "string",
            "description": f"One {title} a line, in the order of the requests, each as soon as it "
            "is judged.",
            "contentMediaType": NDJSON,
            "contentSchema": {"$ref": f"#/components/schemas/{title}"},
        }
    _, sheet = _SHEETS[body.title]
    listed = [
        "`row`: Row of the order in the sheet; the header is row 1",
        "`reference`: The caller's own name of the order",
        "`status`: 200, or the status of the problem of the row",
        *(f"`{each.name}`: {each.words}" for each in sheet.columns),
    ]
    words = (
        f"{sheet.words}, with the separators of the sheet that was sent. A text that a "
        "spreadsheet would read as a formula begins with an apostrophe. Columns:"
    )
    return {
        "type": "string",
        "description": "\n".join([words, "", *_bullets(listed)]),
        "contentMediaType": CSV,
    }


def _item(answer: Shape, short: Shape | None, problem: Shape) -> Shape:
    return {
        "type": "object",
        "description": "The outcome of one request of a batch: a `report` or a `problem`.",
        "properties": {
            "index": {
                "type": "integer",
                "format": "int64",
                "minimum": 0,
                "description": "Place among the requests of the batch, from 0.",
                UNIT: "1",
            },
            "status": {
                "type": "integer",
                "format": "int32",
                "minimum": 200,
                "maximum": 599,
                "description": "The status that the request would have on its own.",
                UNIT: "1",
            },
            "reference": {
                "type": ["string", "null"],
                "description": "Of a request that was refused: the caller's own name of the order, "
                "as far as it could be read.",
            },
            "report": {**answer, "description": "The answer to the request."},
            **(
                {"summary": {**short, "description": "The answer in short, if requested."}}
                if short
                else {}
            ),
            "problem": {**problem, "description": "The problem of this request alone."},
        },
        "required": ["index", "status"],
    }
