"""The one exception with which the core refuses input that it cannot judge."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from weavability.textiles.sentences import Sentence


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong with the input.

    Attributes:
        pointer: JSON Pointer (RFC 6901) to the field, relative to the object that was read;
            ``""`` is that object itself.
        message: A sentence that states what to change, with its key and values.
        given: The offending value, as given; ``None`` if it is missing.
        allowed: What would be accepted: a sentence, a list or a range; ``None`` if the message
            says it all.
    """

    pointer: str
    message: Sentence
    given: object = None
    allowed: object = None


class InputError(ValueError):
    """Input that is well-formed but wrong; carries every fault that was found."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults: tuple[Fault, ...] = tuple(faults)
        super().__init__("; ".join(f"{fault.pointer}: {fault.message}" for fault in self.faults))

    @classmethod
    def of(
        cls, pointer: str, message: Sentence, *, given: object = None, allowed: object = None
    ) -> InputError:
        """Make the exception for a single fault."""
        return cls([Fault(pointer, message, given, allowed)])

    def below(self, prefix: str) -> InputError:
        """Return the same faults seen from a parent object: ``prefix`` goes before each pointer."""
        return InputError(replace(fault, pointer=prefix + fault.pointer) for fault in self.faults)

    def __reduce__(self) -> tuple[type[InputError], tuple[tuple[Fault, ...]]]:
        return (InputError, (self.faults,))


class _PointingBelow:
    """A class, because one made of a generator takes four times as long to enter and leave."""

    __slots__ = ("prefix",)

    def __init__(self, prefix: str) -> None:
        self.prefix = prefix

    def __enter__(self) -> None:
        pass

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: object
    ) -> None:
        if isinstance(error, InputError):
            raise error.below(self.prefix) from None


class _Collecting:
    __slots__ = ("faults", "prefix")

    def __init__(self, faults: list[Fault], prefix: str) -> None:
        self.faults = faults
        self.prefix = prefix

    def __enter__(self) -> None:
        pass

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: object
    ) -> bool:
        if not isinstance(error, InputError):
            return False
        self.faults.extend(error.below(self.prefix).faults)
        return True


def pointing_below(prefix: str) -> _PointingBelow:
    """Put ``prefix`` before the pointer of every fault that the block raises.

    Raises:
        InputError: That of the block, seen from the parent object.

    >>> from weavability.textiles.sentences import say
    >>> with pointing_below("/construction"):
    ...     raise InputError.of("/width_cm", say("fault.width", "The width must be above 0."))
    Traceback (most recent call last):
    weavability.textiles.errors.InputError: /construction/width_cm: The width must be above 0.
    """
    return _PointingBelow(prefix)


def collecting(faults: list[Fault], *, below: str = "") -> _Collecting:
    """Append the faults that the block raises to a list.

    The error ends the block, not the caller, so that the faults of several blocks are reported
    together.

    Args:
        faults: The list that they are appended to.
        below: Written before each pointer.

    >>> from weavability.textiles.sentences import say
    >>> faults: list[Fault] = []
    >>> with collecting(faults, below="/warp"):
    ...     raise InputError.of("/order", say("fault.order", "Give one thread or more."))
    >>> [fault.pointer for fault in faults]
    ['/warp/order']
    """
    return _Collecting(faults, below)
