"""Calls of the service: a request is sent, again if that may help, and its answer is read."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable, Mapping
from itertools import count
from types import TracebackType
from typing import TYPE_CHECKING, Self, TypeVar, cast

from weavability_client._json import elements, members
from weavability_client._record import Record, Several
from weavability_client._retry import pause_s
from weavability_client._wire import SVG, RawAnswer, Request, build_request, read_answer
from weavability_client.errors import AnswerUnreadable, WeavabilityError
from weavability_client.models import Drawing

if TYPE_CHECKING:
    from weavability_client._transport import Transport

_log = logging.getLogger("weavability_client")

T = TypeVar("T")
R = TypeVar("R", bound=Record)


class Calls:
    """A connection to the service and the calls that its operations are made of."""

    _transport: Transport
    _retries: int

    @property
    def base_url(self) -> str:
        """Address of the service, without a slash at its end."""
        return self._transport.base_url

    def close(self) -> None:
        """Close the connections; the next call opens new ones."""
        self._transport.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.close()

    def _ask(self, kind: type[R], path: str, body: Mapping[str, object]) -> R:
        return kind.from_json(self._call(build_request("POST", path, payload=body)))

    def _draw(self, path: str, payload: object) -> Drawing:
        answer = self._call(build_request("POST", path, payload=payload, accept=SVG))
        return Drawing(cast("str", answer))

    def _get(self, kind: type[R], path: str) -> R:
        return kind.from_json(self._call(build_request("GET", path)))

    def _list(self, name: str, read: Callable[[object, str], T]) -> tuple[T, ...]:
        return listed(self._call(build_request("GET", f"/v1/{name}")), name, read)

    def _call(self, request: Request) -> object:
        """Send ``request``, again if that may help; return the parsed answer."""
        return self._repeated(request, read_answer)

    def _repeated(self, request: Request, read: Callable[[RawAnswer, Request], T]) -> T:
        """Send ``request``, again if that may help; return what ``read`` makes of the answer."""
        for attempt in count():
            try:
                return read(self._transport.send(request), request)
            except WeavabilityError as error:
                pause = pause_s(error, attempt=attempt)
                if pause is None or attempt >= self._retries:
                    raise
            _log.debug("attempt %d in %.1f s", attempt + 2, pause)
            time.sleep(pause)
        raise AssertionError  # pragma: no cover (count() does not end)


def listed(answer: object, name: str, read: Callable[[object, str], T]) -> tuple[T, ...]:
    """Read the items of a list of an answer.

    Raises:
        AnswerUnreadable: The answer has no such list, or an item cannot be read.
    """
    items = elements((members(answer) or {}).get(name))
    if items is None:
        raise AnswerUnreadable(f"the answer has no list of {name}")
    return Several(read(each, f"/{name}/{place}") for place, each in enumerate(items))
