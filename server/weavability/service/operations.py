"""The operations of the service: one decorator binds address, schemas, answers and examples.

The application takes its addresses from here and the OpenAPI document its content, so the two
cannot drift apart.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import UnionType
from typing import Any, Final

from flask import Response

from weavability.service.http.problems import ProblemType
from weavability.service.http.responses import JSON, FlatAnswer
from weavability.service.schemas.base import Body

View = Callable[..., Response]

QUERY: Final = "QUERY"
"""Safe, repeatable and cacheable like GET, with a body like POST: an alias of POST, since no
request changes anything. With If-None-Match it answers 304 before any rule runs, which POST never
does."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameter:
    """A part of the path or a header.

    Attributes:
        name: Its name in the path or header.
        place: ``path`` or ``header``.
        description: What it means.
        example: A value that works with the demo park.
        pattern: A regular expression that every value matches.
    """

    name: str
    place: str
    description: str
    example: str
    pattern: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """One method at one address.

    Attributes:
        path: The path with ``{parameters}``.
        answer: Dataclass that is answered, several of which one is, a flat answer, or a JSON
            Schema.
        short_answer: What is answered in its place if the caller requests it in short.
        body: Schema of the request body.
        examples: Request bodies by name; their answers become the examples of the document.
        problems: Types of problem that occur here, besides those that occur everywhere.
        media_types: In which forms the answer comes, the default first.
        conditional: Whether it has an ETag and answers 304.
        query: Whether the method QUERY (RFC 10008) does the same; see :data:`QUERY`.
        batches: Further media types of the body, each with the forms of its answer, the default
            first.
        moves: When it leads to another address by 303; empty if it never does.
    """

    method: str
    path: str
    name: str
    summary: str
    description: str
    tag: str
    view: View
    answer: type | UnionType | FlatAnswer | Mapping[str, Any]
    answer_words: str
    short_answer: FlatAnswer | None = None
    body: Body[Any] | None = None
    parameters: tuple[Parameter, ...] = ()
    examples: Mapping[str, Any] = field(default_factory=dict)
    problems: tuple[ProblemType, ...] = ()
    media_types: tuple[str, ...] = (JSON,)
    conditional: bool = False
    query: bool = False
    batches: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    moves: str = ""

    @property
    def methods(self) -> list[str]:
        """The method, and its alias if it has one."""
        return [self.method, QUERY] if self.query else [self.method]

    @property
    def is_of_interface(self) -> bool:
        """Whether programs call it: what it does not know in an address is refused."""
        return self.path.startswith("/v1/")

    @property
    def accept_query(self) -> str | None:
        """The value of ``Accept-Query``: the media types in which a query may come."""
        return ", ".join((JSON, *self.batches)) if self.query else None

    def forms(self, given: str) -> tuple[str, ...]:
        """Return the forms of the answer to a body of the media type ``given``."""
        return self.batches.get(given, self.media_types)

    @property
    def rule(self) -> str:
        """The path as Flask writes it."""
        return self.path.replace("{", "<").replace("}", ">")


OPERATIONS: Final[dict[tuple[str, str], Operation]] = {}


def operation(
    method: str, path: str, *, quotes: Mapping[str, float] | None = None, **facts: Any
) -> Callable[[View], View]:
    """Register a view; its docstring's first line is the summary, the rest the description.

    Args:
        method: HTTP method.
        path: Path with ``{parameters}``.
        quotes: The numbers that the docstring quotes, as ``{name}``.
        facts: Further fields of :class:`Operation`.
    """

    def register(view: View) -> View:
        words = (view.__doc__ or "").format(**quotes or {})
        summary, _, description = words.strip().partition("\n")
        OPERATIONS[method, path] = Operation(
            method=method,
            path=path,
            name=view.__name__,
            summary=summary.rstrip("."),
            description=" ".join(description.split()),
            view=view,
            **facts,
        )
        return view

    return register
