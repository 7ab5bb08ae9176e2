"""The least of some values that suffice together, by few trials."""

from __future__ import annotations

from collections.abc import Callable, Collection


class SetsTried:
    """Whether some values suffice, tried for no set of which others decide it.

    With more of them they still do, and with fewer they still do not.

    Args:
        suffice: Tries some values, by their pointers.
    """

    def __init__(self, suffice: Callable[[Collection[str]], bool]) -> None:
        self._suffice = suffice
        self._sufficient: list[frozenset[str]] = []
        self._insufficient: list[frozenset[str]] = []

    def __call__(self, some: Collection[str]) -> bool:
        """Return whether some values suffice."""
        tried = frozenset(some)
        if any(known <= tried for known in self._sufficient):
            return True
        if any(tried <= known for known in self._insufficient):
            return False
        is_enough = self._suffice(some)
        (self._sufficient if is_enough else self._insufficient).append(tried)
        return is_enough

    def least_of(self, some: list[str]) -> list[str]:
        """Leave out what is not needed, the last first, in parts that are halved to single ones.

        All are kept if they do not suffice.
        """
        size = max(1, len(some) // 2)
        while some and self(some):
            for start in range((len(some) - 1) // size * size, -1, -size):
                fewer = some[:start] + some[start + size :]
                if self(fewer):
                    some = fewer
            if size == 1:
                break
            size //= 2
        return some
