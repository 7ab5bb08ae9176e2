"""The answers that list what the service knows: looms, rules, sentences, weaves, evidence."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from string import Formatter
from typing import Any, ClassVar, Self, TypeVar

from weavability_client._json import members
from weavability_client._record import Scalar, record
from weavability_client.models._generated import (
    EvidenceFields,
    Loom,
    MessageListFields,
    RuleSetFields,
    WeaveNotationsFields,
)
from weavability_client.models.answer import Answer, Page
from weavability_client.models.findings import Assumption
from weavability_client.tables import words

A = TypeVar("A", bound=Answer)


@record
class Listing(Answer):
    """Base of the answers that list what the service knows."""

    _texts: ClassVar[Mapping[str, Callable[[Any], str]]]
    """Its lists by their names, and the text of an entry in which words are sought."""

    def about(self, *words: str) -> Self:
        """Return the entries whose text has every one of these words."""
        return _with_words(self, words, self._texts)


def _with_words(answer: A, words: Sequence[str], texts: Mapping[str, Callable[[Any], str]]) -> A:
    """Return an answer with those entries of its lists whose text has every one of some words."""
    sought = [word.casefold() for word in words]
    kept: dict[str, Any] = {}
    for name, text in texts.items():
        entries = [(each, text(each).casefold()) for each in getattr(answer, name) or ()]
        kept[name] = tuple(each for each, said in entries if all(one in said for one in sought))
    return replace(answer, **kept)


@record
class LoomPark(Listing):
    """The loom park that a service was started with.

    Attributes:
        park: Digest of the park: it changes when a loom does.
        looms: Every loom as stated; ``assumed`` has its limits that are not.
        caution: What a computed result is not; ``None`` from a service before 0.2.
    """

    park: str
    looms: tuple[Loom, ...]
    caution: str | None = None

    _texts = {"looms": lambda each: f"{each.loom_id} {each.description or ''}"}  # noqa: RUF012

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row a limit that is assumed."""
        return [
            {"loom_id": loom.loom_id, **_limit(each)}
            for loom in self.looms
            for each in loom.assumed or ()
        ]

    def _page(self) -> Page:
        """Lay the park out: a line a loom, or a line a limit that one loom leaves open."""
        if len(self.looms) == 1:
            (loom,) = self.looms
            return Page(
                headline=f"{loom.loom_id}: {loom.description or 'no description'}; limits assumed:",
                rows=list(map(_limit, loom.assumed or ())),
                least=("grade",),
            )
        return Page(
            headline=f"{len(self.looms)} looms",
            rows=[
                {
                    "loom": loom.loom_id,
                    "insertion": words(loom.insertion.system),
                    "shedding": loom.shedding.kind,
                    "reed cm": loom.reed_width_cm,
                    "picks/min": loom.max_speed_picks_per_min,
                    "limits assumed": len(loom.assumed or ()),
                }
                for loom in self.looms
            ],
        )


def _limit(line: Assumption) -> dict[str, Scalar]:
    value = line.value
    return {
        "limit": line.pointer.strip("/").replace("/", "."),
        "assumed": value if isinstance(value, int | float | str) else str(value),
        "unit": line.unit,
        "low": None if line.band is None else line.band.low,
        "high": None if line.band is None else line.band.high,
        "grade": line.grade,
        "reason": line.reason,
    }


class RuleSet(RuleSetFields, Listing):
    """The rules by which a service judges; its fields are those of ``RuleSetFields``."""

    __slots__ = ()

    _texts = {"checks": lambda each: f"{each.code} {each.says}"}  # noqa: RUF012

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row a check."""
        return [
            each.picked("code", "subject")
            | {"severities": " ".join(each.severities)}
            | each.picked("says", "compares", "formula", "source")
            for each in self.checks
        ]

    def _page(self) -> Page:
        """Lay the rules out: a line a check, or all that is known of one."""
        if len(self.checks) == 1:
            (check,) = self.checks
            return Page(
                headline=f"{check.code}: {check.says}",
                facts=[
                    ("severities", ", ".join(check.severities)),
                    ("compares", check.compares),
                    ("formula", check.formula),
                    ("source", check.source),
                ],
                rows=[
                    {"threshold": each.name, **each.picked("value", "unit", "meaning")}
                    for each in check.thresholds or ()
                ],
            )
        return Page(
            headline=f"checks: {len(self.checks)}",
            rows=[
                {"code": each.code, "severities": ", ".join(each.severities), "rule": each.says}
                for each in self.checks
            ],
        )


class MessageList(MessageListFields, Listing):
    """Every sentence that an answer may have; see ``MessageListFields``."""

    __slots__ = ()

    _texts = {"messages": lambda each: f"{each.key} {each.pattern}"}  # noqa: RUF012

    def patterns(self) -> dict[str, str]:
        """Return the English pattern of every key, for :func:`render` or a translator."""
        return {each.key: each.pattern for each in self.messages}

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row a sentence."""
        return [
            each.picked("key", "kind", "pattern")
            | {"values": " ".join(value.name for value in each.values)}
            for each in self.messages
        ]

    def _page(self) -> Page:
        return Page(
            headline=f"messages: {len(self.messages)}",
            rows=[each.picked("key", "pattern") for each in self.messages],
            remarks=self.rules,
        )


def render(patterns: Mapping[str, str], key: str, values: Mapping[str, object]) -> str:
    """Return the sentence of a key in the language of some patterns.

    Args:
        patterns: A pattern for each key, written as those of ``Client.messages`` are.
        key: The ``message_key``, ``reason_key`` or ``detail_key`` of an answer.
        values: The values beside it.

    Raises:
        KeyError: There is no pattern for the key, or none of the values has a name that it quotes.

    Example:
        >>> render({"part.price": "{price:.2f} je kg"}, "part.price", {"price": 4.2})
        '4.20 je kg'
    """
    shown = {name: _shown(patterns, name, value) for name, value in values.items()}
    return _Spaced().vformat(patterns[key], (), shown)


def _shown(patterns: Mapping[str, str], name: str, value: object) -> object:
    within = members(value)
    if within is not None:
        return render(
            patterns, str(within.get("message_key")), members(within.get("message_values")) or {}
        )
    if name in ("warp", "weft") and isinstance(value, str) and value.lower().startswith(name):
        return value[len(name) :].strip("_") or patterns["part.yarn"]
    return value


class _Spaced(Formatter):
    """Writes numbers with a space between the thousands, if their format groups them."""

    def format_field(self, value: Any, format_spec: str) -> str:
        written: str = super().format_field(value, format_spec)
        return written.replace("_", " ") if isinstance(value, int | float) else written


class WeaveNotations(WeaveNotationsFields, Listing):
    """How weaves are written, and the names of the trade; see ``WeaveNotationsFields``."""

    __slots__ = ()

    _texts = dict.fromkeys(
        ("notations", "names"), lambda each: " ".join((each.name, *(each.aliases or ())))
    )

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row a notation or name."""
        notations: list[dict[str, Scalar]] = [
            {
                "name": each.name,
                "aliases": ", ".join(each.aliases or ()),
                "write": each.pattern,
                "read_as": each.example if isinstance(each.example, str) else None,
                "meaning": each.meaning,
            }
            for each in self.notations
        ]
        return notations + [
            {
                "name": each.name,
                "aliases": ", ".join(each.aliases),
                "write": each.example,
                "read_as": each.reads_as,
                "meaning": each.leaves_open or each.answer or each.meaning,
            }
            for each in self.names or ()
        ]

    def _page(self) -> Page:
        """Lay the list out: a line a name, and what it leaves open."""
        names = self.names or ()
        return Page(
            headline=f"notations: {len(self.notations)}; names of the trade: {len(names)}",
            rows=[
                {words(name): row[name] for name in ("name", "write", "read_as")}
                for row in self.to_rows()
            ],
            remarks=[
                f"{each.name}: {each.leaves_open or each.answer}"
                for each in names
                if each.leaves_open or each.answer
            ],
        )


class Evidence(EvidenceFields, Answer):
    """Every published value beside the computed one; see ``EvidenceFields``."""

    __slots__ = ()

    def on(self, *words: str) -> Evidence:
        """Return the subjects that have every one of these words in their name."""
        return _with_words(self, words, {"subjects": lambda each: each.subject})

    def to_rows(self) -> list[dict[str, Scalar]]:
        """Return one flat row a value."""
        return [
            each.picked("subject")
            | value.picked(
                *("case", "what", "source", "kind", "published", "computed", "unit", "deviation"),
                *("deviation_pct", "tolerance", "agrees", "note"),
            )
            for each in self.subjects
            for value in each.values
        ]

    def _headline(self) -> str:
        """Count the outside values that agree; some subjects have none to count."""
        if not self.subjects:
            return "evidence: no subject has these words in its name; without words all are listed"
        outside = sum(each.counts.outside for each in self.subjects)
        if not outside:
            return (
                "evidence: no outside value has been found; others are fitted, derived or recalled"
            )
        agree = sum(each.counts.outside_agree for each in self.subjects)
        return f"evidence: {agree} of {outside} outside values agree"

    def _page(self) -> Page:
        """Lay it out: a line a subject, and below what does not agree."""
        return Page(
            headline=self._headline(),
            rows=[
                {
                    "subject": each.subject,
                    "outside": each.counts.outside,
                    "agree": each.counts.outside_agree,
                    **each.counts.picked("fitted", "derived", "recalled"),
                }
                for each in self.subjects
            ],
            remarks=[
                *(
                    f"{value.kind}: {value.case}: {value.published} published, "
                    f"{value.computed} computed"
                    for each in self.subjects
                    for value in each.values
                    if not value.agrees
                ),
                f"left out: {len(self.left_out)}; --format json or .left_out lists them",
            ],
        )
