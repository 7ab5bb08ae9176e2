"""The looms of a request, stated in it or named and looked up in the park, and its identity.

Every resource that judges something on a loom resolves its request here, so that all of them name
unknown looms alike and digest the same things into their entity tags.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Generic, Protocol, TypeVar

from weavability.looms.loom import Loom
from weavability.service.http.edition import edition
from weavability.service.requests.canonical import canonical, digest, without_prices
from weavability.service.requests.park import Park, ParkLoom
from weavability.service.schemas.base import Body
from weavability.service.schemas.faults import in_document_order
from weavability.service.schemas.loom_schema import LOOM_ID
from weavability.service.schemas.request_schemas import MOST_LOOMS_MATCHED
from weavability.textiles.errors import Fault, InputError, collecting
from weavability.textiles.sentences import say

# Comparing a name with those of a large park takes a tenth of a second.
MOST_HINTS: Final = 5


class RequestWithLoom(Protocol):
    """A request with a loom, or the name of one."""

    @property
    def loom(self) -> Loom | None:
        """The loom, if it is stated."""

    @property
    def loom_id(self) -> str | None:
        """Its name in the park, if it is named."""


class RequestWithLooms(Protocol):
    """A request with looms, or the names of some, or neither for the whole park."""

    @property
    def looms(self) -> Sequence[Loom] | None:
        """The looms, if they are stated."""

    @property
    def loom_ids(self) -> Sequence[str] | None:
        """Their names in the park, if they are named."""


T = TypeVar("T")
One = TypeVar("One", bound=RequestWithLoom)
Many = TypeVar("Many", bound=RequestWithLooms)


@dataclass(frozen=True, slots=True, kw_only=True)
class ResolvedRequest(Generic[One]):
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
class ResolvedForLooms(Generic[Many]):
    """A request that was read, with its looms; no rule has run yet.

    Attributes:
        etag: Names the answer before it is computed; see :func:`identity`.
    """

    request: Many
    looms: Sequence[Loom]
    etag: str


def _unpriced(given: Any) -> bytes:
    """Write what decides an answer but its costs, in canonical form: tags must not hold prices."""
    return canonical(without_prices(given))


def resolve_request(
    schema: Body[One],
    given: Any,
    park: Park,
    *,
    write: Callable[[Any], bytes] = _unpriced,
) -> ResolvedRequest[One]:
    """Read a request and find its loom.

    Args:
        schema: Reads the request.
        given: The request as it came.
        park: Has the loom, if the request names one.
        write: Writes what of a good request decides its answer, in canonical form.

    Raises:
        InputError: With every fault of the request, an unknown loom among them.
    """
    read = _read(schema, given, park, {"/loom_id": _member(given, "loom_id")})
    found = [] if read.loom_id is None else [park.looms[read.loom_id]]
    loom = found[0].loom if found else read.loom
    if loom is None:
        raise TypeError("the schema lets a request without a loom pass")
    written = write(given)
    return ResolvedRequest(request=read, loom=loom, written=written, etag=identity(written, found))


def resolve_for_looms(schema: Body[Many], given: object, park: Park) -> ResolvedForLooms[Many]:
    """Read a request and find its looms.

    Raises:
        InputError: With every fault of the request, unknown looms among them.
    """
    several = _member(given, "loom_ids")
    names = several[:MOST_LOOMS_MATCHED] if isinstance(several, list) else []
    places = {f"/loom_ids/{index}": name for index, name in enumerate(names)}
    places["/loom_id"] = _member(given, "loom_id")
    read = _read(schema, given, park, places)
    if read.looms is not None:
        return ResolvedForLooms(request=read, looms=read.looms, etag=identity(_unpriced(given)))
    found = [park.looms[loom_id] for loom_id in read.loom_ids or park.looms]
    looms = [each.loom for each in found]
    return ResolvedForLooms(request=read, looms=looms, etag=identity(_unpriced(given), found))


def identity(written: bytes, looms: Iterable[ParkLoom] = ()) -> str:
    """Return the digest that names the answer to a request, known before any rule has run.

    Args:
        written: What of the request decides its answer, in canonical form.
        looms: The looms of the park that it names; their limits may change.
    """
    return digest(written, edition().encode(), *(each.limits for each in looms))


def _member(given: object, name: str) -> object:
    return given.get(name) if isinstance(given, dict) else None


def _read(schema: Body[T], given: object, park: Park, named: Mapping[str, object]) -> T:
    """Read a request; those of the ``named`` looms that are not in the park are faults of it."""
    unknown = list(_unknown(named, park))
    faults: list[Fault] = []
    with collecting(faults):
        read = schema.read(given)
    if faults or unknown:
        raise InputError(in_document_order([*faults, *unknown], given))
    return read


def _unknown(named: Mapping[str, object], park: Park) -> Iterator[Fault]:
    """Yield a fault for each loom that the park does not have, the first ones with a hint.

    Args:
        named: What is given as a name, by its pointer; the schema refuses what is none.
        park: Has the looms.
    """
    hints = MOST_HINTS
    for pointer, name in named.items():
        if not isinstance(name, str) or not re.fullmatch(LOOM_ID, name) or name in park.looms:
            continue
        if hints > 0:
            yield park.unknown(name, pointer=pointer)
        else:
            yield Fault(pointer, say("fault.loom.unknown", "There is no loom of this name."), name)
        hints -= 1
