"""Which loom a request is about: stated in it, or named and looked up in the park."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Generic, Protocol, TypeVar

from weavability.answers import validation
from weavability.looms.loom import Loom
from weavability.service.requests.canonical import canonical, digest
from weavability.service.requests.park import Park
from weavability.service.schemas.base import Body
from weavability.service.schemas.loom_schema import LOOM_ID
from weavability.textiles.errors import Fault, InputError


class AsksOfALoom(Protocol):
    """A request with a loom, or the name of one."""

    @property
    def loom(self) -> Loom | None:
        """The loom, where it is stated."""

    @property
    def loom_id(self) -> str | None:
        """Its name in the park, where it is named."""


Q = TypeVar("Q", bound=AsksOfALoom)


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled(Generic[Q]):
    """A request that was read, with its loom.

    Attributes:
        etag: Names the answer before it is computed: a digest over the request, the rules and the
            limits of a loom of the park.
    """

    request: Q
    loom: Loom
    etag: str


def settle(schema: Body[Q], given: object, park: Park) -> Settled[Q]:
    """Read a request and find its loom.

    Raises:
        InputError: With every fault of the request, an unknown loom among them.
    """
    faults = list(_unknown_loom(given, park))
    try:
        read = schema.read(given)
    except InputError as error:
        raise InputError([*error.faults, *faults]) from None
    if faults:
        raise InputError(faults)
    if read.loom is not None:
        return Settled(request=read, loom=read.loom, etag=tag(given))
    found = park.find(read.loom_id or "")
    return Settled(request=read, loom=found.loom, etag=tag(given, found.limits))


def _unknown_loom(given: object, park: Park) -> Iterator[Fault]:
    """Say that the park has no such loom, beside whatever else is wrong."""
    loom_id = given.get("loom_id") if isinstance(given, dict) else None
    if isinstance(loom_id, str) and re.fullmatch(LOOM_ID, loom_id):
        try:
            park.find(loom_id)
        except InputError as error:
            yield from error.below("/loom_id").faults


def tag(given: object, *limits: bytes) -> str:
    """Name the answer to a good request: the same for every request that means the same."""
    return digest(canonical(given), validation.ruleset().encode(), *limits)
