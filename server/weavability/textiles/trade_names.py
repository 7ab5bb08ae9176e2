"""Names by which the trade calls weaves: ``data/weave_names.toml``, one row a name."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

from weavability.textiles.assumptions import Assumption, Grade
from weavability.textiles.sentences import NO_WORDS, Sentence, say_row


@dataclass(frozen=True, slots=True, kw_only=True)
class TradeName:
    """A name of the trade.

    Attributes:
        key: One word of letters, by which the name is read.
        name: As the trade writes it.
        aliases: Other names of the same.
        reads_as: The notation that it is short for; ``""`` if it is no weave by itself.
        is_whole: Whether it names a whole weave; otherwise a part must be stated beside it.
        leaves: What it leaves open; ``""`` if nothing.
        answer: What is meant by a name that is no weave by itself.
        declare: What to state instead, as an example.
        example: A text with the name that can be sent; ``""`` if there is none.
        meaning: What the trade understands by it, with its source.
        grade: How well that is supported.
        has_slack_ends: Whether it is named for what ends do that are let off faster than others.
    """

    key: str
    name: str
    aliases: tuple[str, ...]
    reads_as: str
    is_whole: bool
    leaves: Sentence
    answer: Sentence
    declare: object
    example: str
    meaning: Sentence
    grade: Grade
    has_slack_ends: bool

    @property
    def spellings(self) -> tuple[str, ...]:
        """The name and its aliases."""
        return (self.name, *self.aliases)


@cache
def trade_names() -> Mapping[str, TradeName]:
    """Return every name by its key."""
    text = resources.files("weavability").joinpath("data/weave_names.toml").read_text("utf-8")
    return {key: _read(key, row) for key, row in tomllib.loads(text).items()}


def _key(key: str, name: str) -> str:
    return f"part.weave_name.{key.replace(' ', '_')}.{name}"


def patterns() -> Mapping[str, str]:
    """Return what is said of every name, by key."""
    return {
        sentence.key: str(sentence).replace("{", "{{").replace("}", "}}")
        for each in trade_names().values()
        for sentence in (each.leaves, each.answer, each.meaning)
        if sentence
    }


def _read(key: str, row: Mapping[str, Any]) -> TradeName:
    name, reads_as = row.get("name", key), row.get("reads_as", "")
    is_whole = row.get("is_whole", True)
    source = f" {row['source']}." if "source" in row else ""

    def words(name: str, text: str) -> Sentence:
        return say_row(_key(key, name), text) if text else NO_WORDS

    return TradeName(
        key=key,
        name=name,
        aliases=tuple(row.get("aliases", ())),
        reads_as=reads_as,
        is_whole=is_whole,
        leaves=words("leaves", row.get("leaves", "")),
        answer=words("answer", row.get("answer", "")),
        declare=json.loads(row["declare"]) if "declare" in row else None,
        example=row.get("example", name if reads_as else ""),
        meaning=words("meaning", row["meaning"] + source),
        grade=Grade(row["grade"]),
        has_slack_ends=row.get("has_slack_ends", False),
    )


def named_for_slack_ends(notes: Iterable[Assumption]) -> str:
    """Return the name of a weave that needs slack ends, from what its notation left open.

    Args:
        notes: What it left open.

    Returns:
        The name; ``""`` if it has none, or needs none.
    """
    reasons = [note.reason for note in notes]
    slack = (trade for trade in trade_names().values() if trade.has_slack_ends)
    return next((one.name for one in slack if any(one.leaves in text for text in reasons)), "")
