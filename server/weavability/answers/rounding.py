"""The last step of every answer: figures to six significant digits, and none that is no number."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import is_dataclass
from typing import Any, Final, TypeVar

from weavability.textiles.rounded_numbers import significant
from weavability.textiles.sentences import Quotation

T = TypeVar("T")


def tidy(answer: T) -> T:
    """Return an answer with every float rounded to six significant digits.

    Args:
        answer: A dataclass, mapping, tuple or figure; dataclasses are made anew.

    Raises:
        ArithmeticError: A figure is NaN or infinite, which the writer would turn into null.

    >>> tidy({"rate": 720.5513784461153, "picks": 24})
    {'rate': 720.551, 'picks': 24}
    """
    result: T = _TIDY.rounded(answer)
    return result


def plain(answer: object) -> Any:
    """Return what :func:`tidy` does with dicts in place of dataclasses, which are written faster.

    Raises:
        ArithmeticError: A figure is NaN or infinite.
    """
    return _PLAIN.rounded(answer)


_WORDS_OR_COUNTS: Final = (str, int)


class _Rounding(dict[type, Callable[[Any], Any]]):
    """How a value is rounded, by its type: found once a type, because an answer has 800 values.

    Args:
        record: What is made of a dataclass, as source text: ``{}`` is a dict of its
            members, ``kind`` for its class.
    """

    def __init__(self, record: str) -> None:
        super().__init__()
        self._form = record
        self._as_they_are: set[type] = set()

    def rounded(self, value: Any) -> Any:
        """Return a value with every float in it rounded."""
        return self[type(value)](value)

    def __missing__(self, kind: type) -> Callable[[Any], Any]:
        found = self[kind] = self._of(kind)
        return found

    def _of(self, kind: type) -> Callable[[Any], Any]:
        if issubclass(kind, float):
            return significant
        if issubclass(kind, tuple):
            return self._tuple
        if issubclass(kind, Mapping) and not issubclass(kind, Quotation):
            return self._mapping
        if is_dataclass(kind):
            return self._record(kind)
        self._as_they_are.add(kind)
        return _as_it_is

    def _tuple(self, value: tuple[Any, ...]) -> tuple[Any, ...]:
        # Long tuples are all of one kind: threadings, lift plans, healds.
        if not value or isinstance(value[0], _WORDS_OR_COUNTS):
            return value
        return tuple([self[type(each)](each) for each in value])

    def _mapping(self, value: Mapping[str, Any]) -> dict[str, Any]:
        as_they_are = self._as_they_are
        return {
            name: each if type(each) in as_they_are else self[type(each)](each)
            for name, each in value.items()
        }

    def _record(self, kind: Any) -> Callable[[Any], Any]:
        """Compile a function for a class, as the class's own constructor is: a loop takes twice."""
        members = ", ".join(
            f"{name!r}: v if (t := type(v := record.{name})) in as_they_are else "
            "significant(v) if t is float else by_type[t](v)"
            for name in kind.__dataclass_fields__
        )
        made: Callable[[Any], Any] = eval(  # noqa: S307  # of nothing but names of fields
            f"lambda record: {self._form.format(f'{{{members}}}')}",
            {
                "as_they_are": self._as_they_are,
                "by_type": self,
                "kind": kind,
                "significant": significant,
            },
        )
        return made


def _as_it_is(value: T) -> T:
    return value


_TIDY: Final = _Rounding("kind(**{})")
_PLAIN: Final = _Rounding("{}")
