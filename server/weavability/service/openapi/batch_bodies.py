"""Bodies that are no JSON: what a line of a batch and what the columns of a sheet hold."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any, Final

from weavability.service.batches.csv_orders import ANSWER_COLUMNS, column, columns, yarn_fields
from weavability.service.http.problems import Problem
from weavability.service.http.responses import CSV, NDJSON
from weavability.service.openapi.json_schema import Components
from weavability.service.schemas.base import Body
from weavability.service.schemas.fields import Shape


def _lines(body: Body[Any]) -> Shape:
    return {
        "type": "string",
        "format": "binary",
        "description": f"One {body.title} a line, in UTF-8, of any number. Blank lines are passed "
        "over. What is wrong with a line is told of that line alone. Clients that send more than "
        "the service reads ahead have to read while they send.",
        "contentMediaType": NDJSON,
    }


def _orders(_body: Body[Any]) -> Shape:
    told = [f"`{each.name}`: {each.words}" for each in columns().values()]
    yarns = [
        f"`warp_{word}_A`: {field.description}{f' [{field.unit}]' if field.unit else ''}"
        for word, field in yarn_fields().items()
    ]
    words = (
        "A header row, then an order a row (RFC 4180, UTF-8), in any order of columns; empty cells "
        "are not given. Cells may also be divided by semicolons, and numbers then have a decimal "
        "comma, or by tabs. Lists are written with spaces between; a weave may be written as rows "
        "with `|` between, first pick first: `1100|0110|0011|1001`. Looms are those of the park. "
        "Columns:"
    )
    more = "Columns of yarns, for the warp and likewise `weft_…`, with the yarn's key at the end:"
    return {
        "type": "string",
        "format": "binary",
        "description": "\n".join(
            [words, "", *_bullets(told), "", more, "", *_bullets(yarns)],
        ),
        "contentMediaType": CSV,
        "x-columns": dict(_places()),
    }


def _places() -> Iterator[tuple[str, Shape]]:
    """Yield every column, with place and kind of its cells; of yarns, those of warp yarn A."""
    for heading in (*columns(), *(f"warp_{word}_A" for word in yarn_fields())):
        found = column(heading)
        if found is not None:
            yield heading, {"pointer": found.pointer, "kind": found.kind.value}


def _bullets(lines: list[str]) -> list[str]:
    return [f"* {line}." for line in lines]


BATCH_BODIES: Final[Mapping[str, Callable[[Body[Any]], Shape]]] = {NDJSON: _lines, CSV: _orders}
"""Makes the schema of a batch from that of one of its requests, by media type."""


def batch_answer(media_type: str, answer: Shape, components: Components) -> Shape:
    """Return the schema of the answer to a batch, given that of the answer to one request."""
    if media_type == NDJSON:
        components.schemas["BatchItem"] = _item(answer, components.answer(Problem))
        return {
            "type": "string",
            "description": "One BatchItem a line, in the order of the requests, as they are done.",
            "contentMediaType": NDJSON,
            "contentSchema": {"$ref": "#/components/schemas/BatchItem"},
        }
    told = [
        "`row`: Row of the order in the sheet, the header being row 1",
        "`reference`: The caller's own name of the order",
        "`status`: 200, or the status of what is wrong with the row",
        *(f"`{each.name}`: {each.words}" for each in ANSWER_COLUMNS),
        "`message`: The findings in words, or what is wrong with the row, by column",
    ]
    words = (
        "An order a row, in the layout of the sheet that was sent. A text that a spreadsheet would "
        "take for a formula has an apostrophe in front. Columns:"
    )
    return {
        "type": "string",
        "description": "\n".join([words, "", *_bullets(told)]),
        "contentMediaType": CSV,
    }


def _item(answer: Shape, problem: Shape) -> Shape:
    return {
        "type": "object",
        "description": "What became of one request of a batch: `report` or `problem` is there.",
        "properties": {
            "index": {
                "type": "integer",
                "format": "int64",
                "minimum": 0,
                "description": "Place among the requests of the batch, from 0.",
            },
            "status": {
                "type": "integer",
                "format": "int32",
                "minimum": 200,
                "maximum": 599,
                "description": "The status that the request would have got on its own.",
            },
            "report": {**answer, "description": "The answer to the request."},
            "problem": {**problem, "description": "What was wrong with this request alone."},
        },
        "required": ["index", "status"],
    }
