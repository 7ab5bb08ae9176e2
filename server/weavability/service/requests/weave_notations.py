"""The notations of a weave in words and as objects, and the names of the trade."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from inspect import cleandoc
from typing import Annotated, Any

import orjson

from weavability.answers.caution import CAUTION
from weavability.answers.field_words import CautionText
from weavability.service.requests.canonical import digest
from weavability.service.schemas.weave_schema import FORMS, Form
from weavability.textiles.assumptions import Grade
from weavability.textiles.field_marks import Since
from weavability.textiles.notation import notations, parse_weave
from weavability.textiles.trade_names import TradeName, trade_names
from weavability.textiles.weave_kinds import Notation


@dataclass(frozen=True, slots=True, kw_only=True)
class WeaveNotation:
    """A notation of a weave in words."""

    name: Annotated[str, "What the trade calls it"]
    pattern: Annotated[str, "How it is written; values in angle brackets"]
    example: Annotated[str | Mapping[str, Any], "A weave of this kind, which can be sent as it is"]
    meaning: Annotated[str, "What the values mean, and the source of the construction"]
    aliases: Annotated[tuple[str, ...], "Other words for the kind", Since("0.2")]
    rows: Annotated[
        tuple[str, ...] | None,
        "The example, one string a pick, first pick first, 1 = warp up; null if it is an object",
        Since("0.2"),
    ]

    @classmethod
    def of(cls, notation: Notation) -> WeaveNotation:
        """Describe a notation; an example without one is shown as an object."""
        example = notation.example
        return cls(
            name=notation.name,
            pattern=notation.pattern,
            example=orjson.loads(example) if example.startswith("{") else example,
            meaning=notation.meaning,
            aliases=notation.aliases,
            rows=None if example.startswith("{") else parse_weave(example).rows,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class WeaveName:
    """A name of the trade: the weave that it is read as, or what is meant by it."""

    name: Annotated[str, "The name"]
    aliases: Annotated[tuple[str, ...], "Other names of the same"]
    meaning: Annotated[str, "What the trade understands by it, with its source"]
    reads_as: Annotated[
        str | None, "The weave that the example is read as; null if it is no weave by itself"
    ]
    leaves_open: Annotated[
        str | None,
        "What the name leaves open, which makes the weave an assumption; null if nothing",
    ]
    example: Annotated[str | None, "A text with the name, which can be sent as it is"]
    rows: Annotated[
        tuple[str, ...] | None, "That weave, one string a pick, first pick first, 1 = warp up"
    ]
    answer: Annotated[str | None, "What is meant by a name that is no weave by itself"]
    declare: Annotated[object, "An example of what to state instead; null if there is none"]
    grade: Annotated[Grade, "How well the meaning is supported"]

    @classmethod
    def of(cls, name: TradeName) -> WeaveName:
        """Describe a name."""
        weave = parse_weave(name.example) if name.example else None
        return cls(
            name=name.name,
            aliases=name.aliases,
            meaning=name.meaning,
            reads_as=weave.name if weave else None,
            leaves_open=name.leaves or None,
            example=name.example or None,
            rows=weave.rows if weave else None,
            answer=name.answer or None,
            declare=name.declare,
            grade=name.grade,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class WeaveForm:
    """A notation of a weave as an object."""

    members: Annotated[tuple[str, ...], "The members that it needs"]
    optional: Annotated[tuple[str, ...], "Further members that it may have"]
    meaning: Annotated[str, "Its meaning"]
    example: Annotated[Mapping[str, Any], "An object of this form, which can be sent as it is"]

    @classmethod
    def of(cls, form: Form) -> WeaveForm:
        """Describe a form."""
        needed = tuple(form.needed)
        return cls(
            members=needed,
            optional=tuple(name for name in form.fields if name not in needed),
            meaning=" ".join(cleandoc(type(form).__doc__ or "").split()),
            example=form.example,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class WeaveNotations:
    """The notations of a weave in words and as objects, and the names of the trade."""

    notations: Annotated[
        tuple[WeaveNotation, ...],
        "In words: case, spaces, hyphens and the order of the words do not matter",
    ]
    forms: Annotated[tuple[WeaveForm, ...], "As an object"]
    names: Annotated[
        tuple[WeaveName, ...],
        "Names of the trade; what an order states beside a name takes the place of that part of it",
        Since("0.2"),
    ]
    caution: Annotated[CautionText, Since("0.2")]


@cache
def known_notations() -> tuple[WeaveNotations, str]:
    """Return all of them, and a digest that changes when one does."""
    known = WeaveNotations(
        notations=tuple(map(WeaveNotation.of, notations())),
        forms=tuple(map(WeaveForm.of, FORMS)),
        names=tuple(map(WeaveName.of, trade_names().values())),
        caution=CAUTION,
    )
    return known, digest(orjson.dumps(known))
