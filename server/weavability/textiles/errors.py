"""The one exception by which the domain core refuses input that it cannot judge."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong with the input.

    Attributes:
        pointer: JSON Pointer (RFC 6901) to the field, relative to the object that was read;
            ``""`` is that object itself.
        message: One sentence that tells a person what to change.
        given: The offending value, as given; ``None`` where there is none.
        allowed: What would be accepted: a sentence, a list or a range; ``None`` where the message
            says it all.
    """

    pointer: str
    message: str
    given: object = None
    allowed: object = None


class InputError(ValueError):
    """Input that is well-formed but wrong; carries every fault that was found."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults: tuple[Fault, ...] = tuple(faults)
        super().__init__("; ".join(f"{fault.pointer}: {fault.message}" for fault in self.faults))

    @classmethod
    def of(
        cls, pointer: str, message: str, *, given: object = None, allowed: object = None
    ) -> InputError:
        """Make the exception for a single fault."""
        return cls([Fault(pointer, message, given, allowed)])

    def below(self, prefix: str) -> InputError:
        """Return the same faults seen from a parent object: ``prefix`` goes before each pointer."""
        return InputError(replace(fault, pointer=prefix + fault.pointer) for fault in self.faults)

    def __reduce__(self) -> tuple[type[InputError], tuple[tuple[Fault, ...]]]:
        return (InputError, (self.faults,))


@contextmanager
def pointing_below(prefix: str) -> Iterator[None]:
    """Put ``prefix`` before the pointer of every fault that the block raises.

    Raises:
        InputError: That of the block, seen from the parent object.

    >>> with pointing_below("/construction"):
    ...     raise InputError.of("/width_cm", "The width must be above 0.")
    Traceback (most recent call last):
    weavability.textiles.errors.InputError: /construction/width_cm: The width must be above 0.
    """
    try:
        yield
    except InputError as error:
        raise error.below(prefix) from None


@contextmanager
def collecting(faults: list[Fault], *, below: str = "") -> Iterator[None]:
    """Append the faults that the block raises to ``faults``, with ``below`` before each pointer.

    The error ends the block, not the caller, so that the faults of several blocks are reported
    together.

    >>> faults: list[Fault] = []
    >>> with collecting(faults, below="/warp"):
    ...     raise InputError.of("/order", "A thread order has at least one thread.")
    >>> [fault.pointer for fault in faults]
    ['/warp/order']
    """
    try:
        yield
    except InputError as error:
        faults.extend(error.below(below).faults)
