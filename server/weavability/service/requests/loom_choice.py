"""The looms of a request, stated in it or named and looked up in the park, and its identity.

Every resource that judges something on a loom resolves its request here, so that all of them name
unknown looms alike and digest the same things into their entity tags.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final, Generic, Protocol, TypeVar

from weavability.answers.validation import ruleset
from weavability.looms.loom import Loom
from weavability.service.requests.canonical import canonical, digest
from weavability.service.requests.park import Park, ParkLoom
from weavability.service.schemas.base import Body
from weavability.service.schemas.loom_schema import LOOM_ID
from weavability.service.schemas.request_schemas import MOST_LOOMS_MATCHED
from weavability.textiles.errors import Fault, InputError, collecting

# Comparing a name with those of a large park takes a tenth of a second.
MOST_HINTS: Final = 5


class OnOneLoom(Protocol):
    """A request with a loom, or the name of one."""

    @property
    def loom(self) -> Loom | None:
        """The loom, if it is stated."""

    @property
    def loom_id(self) -> str | None:
        """Its name in the park, if it is named."""


class OnManyLooms(Protocol):
    """A request with looms, or the names of some, or neither for the whole park."""

    @property
    def looms(self) -> Sequence[Loom] | None:
        """The looms, if they are stated."""

    @property
    def loom_ids(self) -> Sequence[str] | None:
        """Their names in the park, if they are named."""


T = TypeVar("T")
One = TypeVar("One", bound=OnOneLoom)
Many = TypeVar("Many", bound=OnManyLooms)


@dataclass(frozen=True, slots=True, kw_only=True)
class OnLoom(Generic[One]):
    """A request that was read, with its loom; no rule has run yet.

    Attributes:
        written: What of the request decides its answer, in canonical form.
        etag: Names the answer before it is computed; see :func:`identity`.
    """

    request: One
    loom: Loom
    written: bytes
    etag: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OnLooms(Generic[Many]):
    """A request that was read, with its looms; no rule has run yet.

    Attributes:
        etag: Names the answer before it is computed; see :func:`identity`.
    """

    request: Many
    looms: Sequence[Loom]
    etag: str


def on_loom(
    schema: Body[One],
    given: Any,
    park: Park,
    *,
    write: Callable[[Any], bytes] = canonical,
) -> OnLoom[One]:
    """Read a request and find its loom.

    Args:
        schema: Reads the request.
        given: The request as it came.
        park: Has the loom, if the request names one.
        write: Writes what of a good request decides its answer, in canonical form.

    Raises:
        InputError: With every fault of the request, an unknown loom among them.
    """
    read = _read(schema, given, park)
    found = [] if read.loom_id is None else [park.looms[read.loom_id]]
    loom = found[0].loom if found else read.loom
    if loom is None:
        raise TypeError("the schema lets a request without a loom pass")
    written = write(given)
    return OnLoom(request=read, loom=loom, written=written, etag=identity(written, found))


def on_looms(schema: Body[Many], given: object, park: Park) -> OnLooms[Many]:
    """Read a request and find its looms.

    Raises:
        InputError: With every fault of the request, unknown looms among them.
    """
    read = _read(schema, given, park)
    if read.looms is not None:
        return OnLooms(request=read, looms=read.looms, etag=identity(canonical(given)))
    found = [park.looms[loom_id] for loom_id in read.loom_ids or park.looms]
    looms = [each.loom for each in found]
    return OnLooms(request=read, looms=looms, etag=identity(canonical(given), found))


def identity(written: bytes, looms: Iterable[ParkLoom] = ()) -> str:
    """Return the digest that names the answer to a request, known before any rule has run.

    Args:
        written: What of the request decides its answer, in canonical form.
        looms: The looms of the park that it names; their limits may change.
    """
    return digest(written, ruleset().encode(), *(each.limits for each in looms))


def _read(schema: Body[T], given: object, park: Park) -> T:
    """Read a request; looms that the park does not have are among its faults."""
    unknown = list(_unknown(given, park))
    faults: list[Fault] = []
    with collecting(faults):
        read = schema.read(given)
    if faults or unknown:
        raise InputError([*faults, *unknown])
    return read


def _unknown(given: object, park: Park) -> Iterator[Fault]:
    """Yield a fault for each loom that the park does not have, the first ones with a hint."""
    unknown = [(place, name) for place, name in _named(given) if name not in park.looms]
    for count, (pointer, loom_id) in enumerate(unknown):
        if count < MOST_HINTS:
            yield park.unknown(loom_id, pointer=pointer)
        else:
            yield Fault(pointer, "There is no loom of this name.", loom_id)


def _named(given: object) -> Iterator[tuple[str, str]]:
    """Yield the pointer and the name of every loom that is named as a name should be."""
    if not isinstance(given, dict):
        return
    several = given.get("loom_ids")
    places = [("/loom_id", given.get("loom_id"))]
    if isinstance(several, list):
        places += [(f"/loom_ids/{n}", each) for n, each in enumerate(several[:MOST_LOOMS_MATCHED])]
    for pointer, loom_id in places:
        if isinstance(loom_id, str) and re.fullmatch(LOOM_ID, loom_id):
            yield pointer, loom_id
