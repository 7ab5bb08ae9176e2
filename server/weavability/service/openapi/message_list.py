"""Every sentence that an answer may have, by its key: what a translation is made from.

The sentences of the code are in ``messages.json`` beside this file, which ``openapi/regenerate``
writes; those of tables and of checks are read from these.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Annotated, Final

import orjson

from weavability.answers.field_words import unit_of
from weavability.checks.registry import all_checks
from weavability.looms import changeover_rates, default_limits, insertion_defaults, thresholds
from weavability.looms.reeds import WIRE_SHARE_SOURCE
from weavability.service.batches.csv_grammar import ADVICE
from weavability.service.http import problems
from weavability.service.requests.canonical import digest
from weavability.textiles import fibres, finishes, order_defaults, trade_names
from weavability.textiles.sentences import NO_WORDS, quoted
from weavability.textiles.sources import cite

FINDING: Final = "finding"
KINDS: Final = ("fault", "assumption", "problem", "part")
"""What the keys of sentences begin with; the key of a finding begins with its check's code."""

RULES: Final = (
    "A sentence is its pattern with every {name} replaced by the value of that name; {{ and }} "
    "are braces.",
    "After a colon is how the value is written: .2f with two decimals, .4g with four significant "
    "digits and without zeros at the end, g with six; _ separates thousands by a space. Without "
    "one, the value is written as it is in JSON.",
    "!r puts a text between single quotation marks, or between double ones if it has a single one "
    "and no double one; within them a backslash comes before a backslash and before a mark like "
    "the outer ones, and what cannot be printed is written \\n, \\r, \\t, \\x1b or \\u200b. A "
    "number is written without marks. A translation may use marks of its own, without !r.",
    "A value that is an object is a sentence itself, with message_key and message_values: "
    "render it first.",
    "A yarn that is itself called weft or warp is not named twice: in a finding, {weft} of the "
    "yarn weft is written as part.yarn, that of weft_2 is written 2.",
    "The title of a problem has the key problem., the last part of its type with _ for -, and "
    ".title; it quotes nothing.",
    "A text of more than 1000 characters is cut, as are its values.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class QuotedValue:
    """A value that a sentence quotes."""

    name: Annotated[str, "Its name among the values"]
    unit: Annotated[
        str | None,
        "Its unit, from the end of its name; null if it has none, or that of the finding",
    ]
    format: Annotated[str | None, "How it is written, as in the pattern; null if as it is in JSON"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedMessage:
    """A sentence by its key."""

    key: Annotated[str, "Key of the sentence; stable for ever"]
    kind: Annotated[
        str,
        "`finding`, `assumption`, `fault` (an entry of a problem's `errors`), `problem` (its "
        "`detail`), or `part` (within another sentence)",
    ]
    pattern: Annotated[str, "The English sentence; `{name}` is one of its values"]
    values: Annotated[tuple[QuotedValue, ...], "What it quotes"]


@dataclass(frozen=True, slots=True, kw_only=True)
class MessageList:
    """Every sentence that an answer may have."""

    rules: Annotated[tuple[str, ...], "How a sentence is made of its pattern and its values"]
    messages: Annotated[tuple[ListedMessage, ...], "The sentences, by key"]


@cache
def known_messages(kind: str | None = None) -> tuple[MessageList, str]:
    """Return the sentences, all or of one kind, and a digest that changes when one does."""
    known = MessageList(
        rules=RULES,
        messages=tuple(
            _message(key, pattern)
            for key, pattern in sorted(patterns().items())
            if kind in (None, _kind(key))
        ),
    )
    return known, digest(orjson.dumps(known))


@cache
def patterns() -> Mapping[str, str]:
    """Return the English pattern of every key, with its sources written out."""
    return {key: cite(pattern) for key, pattern in _found()}


def _found() -> Iterator[tuple[str, str]]:
    code = resources.files("weavability").joinpath("service/openapi/messages.json")
    yield from orjson.loads(code.read_bytes()).items()
    for table in (
        default_limits.patterns(),
        insertion_defaults.patterns(),
        thresholds.patterns(),
        changeover_rates.patterns(),
        order_defaults.patterns(),
        fibres.patterns(),
        finishes.patterns(),
        trade_names.patterns(),
        ADVICE,
        *(each.patterns for each in problems.KINDS.values()),
        {"part.wire_share": WIRE_SHARE_SOURCE, NO_WORDS.key: NO_WORDS},
        *(check.messages for check in all_checks()),
    ):
        yield from table.items()


def _kind(key: str) -> str:
    first = key.partition(".")[0]
    return first if first in KINDS else FINDING


def _message(key: str, pattern: str) -> ListedMessage:
    return ListedMessage(
        key=key,
        kind=_kind(key),
        pattern=pattern,
        values=tuple(
            QuotedValue(name=each.name, unit=unit_of(each.name), format=each.form or None)
            for each in quoted(pattern)
        ),
    )
