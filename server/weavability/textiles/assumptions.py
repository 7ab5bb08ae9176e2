"""The ledger of assumed values: every default has a line in it."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Set
from dataclasses import dataclass, field
from enum import Enum, StrEnum
from functools import lru_cache, wraps
from typing import Annotated, Any, Concatenate, Final, ParamSpec, TypeVar, cast

from weavability.textiles.field_marks import Since
from weavability.textiles.records import record
from weavability.textiles.sentences import Sentence, WrittenValue

T = TypeVar("T")
P = ParamSpec("P")


class Grade(StrEnum):
    """How well a value that nobody stated is supported."""

    SOURCE = "source"
    COMMON_PRACTICE = "common_practice"
    FROM_MEMORY = "from_memory"
    ESTIMATE = "estimate"
    MILL = "mill"


@record()
class ValueBand:
    """The range in which the true value is expected, both ends included."""

    low: Annotated[float, "Least value that is expected, in the unit of the value"]
    high: Annotated[float, "Greatest value that is expected, in the unit of the value"]


@record()
class Assumption:
    """A value that was not given and was therefore assumed."""

    pointer: Annotated[
        str, "JSON Pointer of the field that would replace the assumption when given"
    ]
    value: Annotated[object, "The assumed value"]
    unit: Annotated[str | None, "Its unit, or null if it has none"]
    reason: Annotated[str, "Why this value, with its source or `common practice`"]
    reason_key: Annotated[
        str, "Key of the reason, for a translation; `GET /v1/messages` lists all", Since("0.2")
    ]
    reason_values: Annotated[
        Mapping[str, WrittenValue], "The values that the reason quotes, by name", Since("0.2")
    ] = field(hash=False)
    grade: Annotated[
        Grade,
        "How well the value is supported: by a source, by common practice, from memory, as an "
        "estimate computed from what is stated, or by the mill itself",
        Since("0.2"),
    ]
    band: Annotated[
        ValueBand | None,
        "The range in which the true value is expected; null if it is not a number, or not known",
        Since("0.2"),
    ] = None

    @classmethod
    def of(
        cls,
        pointer: str,
        value: object,
        unit: str | None,
        reason: Sentence,
        grade: Grade,
        band: ValueBand | None = None,
    ) -> Assumption:
        """Make the line of an assumption."""
        written = reason.written_values()
        return cls(pointer, value, unit, reason, reason.key, written, grade, band)

    def below(self, prefix: str) -> Assumption:
        """Return the same assumption with ``prefix`` before its pointer."""
        if not prefix:
            return self
        # Spelt out, as an answer has about fifty: `replace` takes three times as long.
        return Assumption(
            prefix + self.pointer,
            self.value,
            self.unit,
            self.reason,
            self.reason_key,
            self.reason_values,
            self.grade,
            self.band,
        )


class End(Enum):
    """Where an assumed value is moved, to find what a finding rests on.

    A value moves to an end of its band. A limit of a machine that is only assumed is taken away: it
    rejects nothing. What is assumed without being a number, such as a fibre, gives way to its
    alternative. If a limit already allows for the usual scatter of a value, only a rough guess
    moves: one whose band is wide.
    """

    LOW = "low"
    HIGH = "high"
    HIGH_IF_WIDE = "high if it is a rough guess"
    NO_MOST = "no greatest"
    NO_LEAST = "no least"
    OTHER = "other"


WIDE_BAND_TIMES: Final = 2.0
"""High end of a band over its low end from which on the value is a rough guess; ours, no source."""

NO_LIMIT: Final = 10**8
"""A greatest limit that is taken away: above whatever can be requested, and still a number."""


@dataclass(frozen=True, slots=True, eq=False)
class Moves:
    """Assumed values that are moved from their defaults, all other things equal.

    The order of yarns in the request does not matter: ``*`` means the key of each.

    Attributes:
        ends: Where each goes, by its pointer in the request.
        only: Pointers, with the keys of yarns, to which it is limited; ``None`` for no limit.
    """

    ends: Mapping[str, End]
    only: frozenset[str] | None = None

    @property
    def pointers(self) -> Set[str]:
        """Pointers of what is moved, with ``*`` for the key of a yarn."""
        if self.only is None:
            return self.ends.keys()
        return self.ends.keys() & {of_any(at) for at in self.only}

    def moved(self, pointer: str, value: T, band: ValueBand | None, other: T | None) -> T:
        """Return what is taken in place of the default ``value`` at a pointer."""
        end = self.end_of(pointer)
        return value if end is None else _at_end(end, value, band, other)

    def end_of(self, pointer: str) -> End | None:
        """Return where the value at a pointer goes, if it is moved."""
        if self.only is not None and pointer not in self.only:
            return None
        return self.ends.get(of_any(pointer))

    def of_yarn(self, at: str) -> tuple[tuple[str, End], ...]:
        """Return the ends of the values of one yarn, by pointers relative to it.

        Args:
            at: Pointer of the yarn, such as ``/construction/weft/yarns/A``.
        """
        any_yarn = at.rpartition("/")[0] + "/*"
        return tuple(
            (pointer.removeprefix(any_yarn), end)
            for pointer, end in self.ends.items()
            if pointer.startswith(any_yarn)
            and (self.only is None or at + pointer.removeprefix(any_yarn) in self.only)
        )

    def covers(self, pointer: str) -> bool:
        """Return whether the value at a pointer of the request is one of those that are moved."""
        return of_any(pointer) in self.ends

    def touch(self, assumed: Set[str], *pointers: str) -> bool:
        """Return whether any of some values is moved: at pointers, or below one that ends in /."""
        return any(
            at.startswith(pointer) if pointer.endswith("/") else at == pointer
            for at in self.pointers & assumed
            for pointer in pointers
        )

    def only_at(self, pointers: Iterable[str]) -> Moves:
        """Return those of the moves that are at some pointers, with the keys of yarns."""
        return Moves(self.ends, frozenset(pointers))


@lru_cache(maxsize=4096)
def of_any(pointer: str) -> str:
    """Return a pointer with ``*`` in place of the key of a yarn or the place of a beam.

    >>> of_any("/construction/weft/yarns/A/fibre")
    '/construction/weft/yarns/*/fibre'
    """
    return _ONE_OF_SEVERAL.sub(r"\1*", pointer)


@lru_cache(maxsize=1024)
def _any_below(prefix: str, noted: _Noted) -> frozenset[str]:
    return frozenset([prefix + at for at in noted.assumed])


@lru_cache(maxsize=1024)
def _lines_below(prefix: str, noted: _Noted) -> tuple[Assumption, ...]:
    return tuple([line.below(prefix) for line in noted.lines])


_ONE_OF_SEVERAL: Final = re.compile(r"(/(?:warp|weft)/yarns/|/warp/beams/)[^/]+")

YARNS: Final = ("/construction/warp/yarns/", "/construction/weft/yarns/")
"""Where the yarns of a request are."""


def _at_end(end: End, value: T, band: ValueBand | None, other: T | None) -> T:
    moved: Any = value
    if end is End.OTHER:
        moved = value if other is None else other
    elif end is End.NO_MOST:
        moved = (NO_LIMIT,) * len(value) if isinstance(value, tuple) else NO_LIMIT
    elif end is End.NO_LEAST:
        moved = 0
    elif band is not None:
        is_kept = end is End.HIGH_IF_WIDE and band.high < WIDE_BAND_TIMES * band.low
        moved = value if is_kept else band.low if end is End.LOW else band.high
    whole = isinstance(value, int) and moved == int(moved)
    return cast("T", int(moved) if whole else moved)


@dataclass(frozen=True, slots=True, eq=False)
class _Noted:
    """What a remembered result noted; pointers are relative to where it is written down.

    Attributes:
        lines: The assumptions.
        assumed: Their pointers, ``*`` for the key of a yarn.
    """

    lines: tuple[Assumption, ...]
    assumed: frozenset[str]


@dataclass(slots=True)
class Ledger:
    """Assumptions, collected while facts are computed; of two for one pointer the first is kept.

    Attributes:
        prefix: Written before every pointer that is noted.
        lines: The assumptions by their full pointer.
        keeps: Whether anything is written down; columns of orders list no assumptions.
        moves: Values that are taken in place of the defaults; pointers are those of the request.
        assumed: Pointers of everything that was assumed, ``*`` for the key of a yarn.
        any_prefix: The prefix with ``*`` for the key of a yarn; empty if it has no key.
    """

    prefix: str = ""
    lines: dict[str, Assumption] = field(default_factory=dict)
    keeps: bool = True
    moves: Moves | None = None
    assumed: set[str] = field(default_factory=set)
    any_prefix: str = ""

    def below(self, prefix: str, any_prefix: str = "") -> Ledger:
        """Return a view of the same ledger that writes ``prefix`` before every pointer.

        Args:
            prefix: The prefix.
            any_prefix: The same with ``*`` for the key of a yarn; empty if it has no key.
        """
        below = (self.any_prefix or self.prefix) + (any_prefix or prefix)
        return Ledger(self.prefix + prefix, self.lines, self.keeps, self.moves, self.assumed, below)

    def note(
        self,
        pointer: str,
        value: T,
        *,
        unit: str | None,
        reason: Sentence,
        grade: Grade,
        band: ValueBand | None = None,
        other: T | None = None,
    ) -> T:
        """Write down an assumed ``value`` for ``pointer`` and return it, or what it is moved to.

        Args:
            pointer: The field that would replace it.
            value: The default.
            unit: Its unit.
            reason: Why this value, with its source.
            grade: How well it is supported.
            band: The range in which the true value is expected.
            other: What else may be meant by something that is no number.
        """
        self.assumed.add((self.any_prefix or self.prefix) + pointer)
        if self.moves is not None:
            value = self.moves.moved(self.prefix + pointer, value, band, other)
        if self.keeps:
            full = self.prefix + pointer
            if full not in self.lines:
                self.lines[full] = Assumption.of(full, value, unit, reason, grade, band)
        return value

    def take(
        self,
        pointer: str,
        given: T | None,
        default: T,
        *,
        unit: str | None,
        reason: Sentence,
        grade: Grade,
        band: ValueBand | None = None,
    ) -> T:
        """Return ``given`` if it is stated; otherwise note and return ``default``."""
        if given is not None:
            return given
        return self.note(pointer, default, unit=unit, reason=reason, grade=grade, band=band)

    def repeat(self, line: Assumption, below: str) -> None:
        """Write down again, below a pointer, what was noted while something was read."""
        self.extend([line.below(below)])

    def extend(self, noted: Iterable[Assumption]) -> None:
        """Write down assumptions whose pointers are relative to the ledger's prefix."""
        for line in noted:
            self.assumed.add((self.any_prefix or self.prefix) + line.pointer)
            if self.keeps:
                self.lines.setdefault(self.prefix + line.pointer, line.below(self.prefix))

    def extend_alike(self, noted: _Noted) -> None:
        """Write down the same of a result that is remembered."""
        self.assumed |= _any_below(self.any_prefix or self.prefix, noted)
        if self.keeps:
            for line in _lines_below(self.prefix, noted):
                self.lines.setdefault(line.pointer, line)

    def __iter__(self) -> Iterator[Assumption]:
        return iter(self.lines.values())


def remembered(
    maxsize: int,
) -> Callable[[Callable[Concatenate[Ledger, P], T]], Callable[Concatenate[Ledger, P], T]]:
    """Remember what a function of a ledger and hashable values returns, and what it notes.

    Orders leave the same fields open and state the same few values. With values moved nothing is
    remembered.

    Args:
        maxsize: How many of the last results are kept.
    """

    def decorate(
        resolve: Callable[Concatenate[Ledger, P], T],
    ) -> Callable[Concatenate[Ledger, P], T]:
        @lru_cache(maxsize=maxsize)
        def once(*given: Any) -> tuple[T, _Noted]:
            ledger = Ledger()
            made = cast("Callable[..., T]", resolve)(ledger, *given)
            return made, _Noted(tuple(ledger), frozenset(ledger.assumed))

        @wraps(resolve)
        def resolved(ledger: Ledger, /, *given: P.args, **named: P.kwargs) -> T:
            if ledger.moves is not None:
                return resolve(ledger, *given, **named)
            made, noted = once(*given)
            ledger.extend_alike(noted)
            return made

        return resolved

    return decorate
