"""The client: one method an operation of the service."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sized
from dataclasses import dataclass
from itertools import count
from types import TracebackType
from typing import TYPE_CHECKING, Self, TypeVar
from urllib.parse import quote

from weavability_client import policies
from weavability_client._batch import in_order
from weavability_client._record import Record
from weavability_client._retry import pause_s
from weavability_client._transport import Timeout, Transport
from weavability_client._wire import Request, build_request, read_base_url, read_token
from weavability_client.errors import (
    AnswerUnreadable,
    ConnectionFailed,
    NotAuthenticated,
    NotPermitted,
    UsageError,
    WeavabilityError,
)
from weavability_client.models import Check, Construction, Loom, Report, ValidationRequest

if TYPE_CHECKING:
    import requests

URL_VARIABLE = "WEAVABILITY_URL"
TOKEN_VARIABLE = "WEAVABILITY_TOKEN"  # noqa: S105 (the name of a variable, not a token)

T = TypeVar("T")
Document = Mapping[str, object]
Progress = Callable[[int, int | None], None]
"""Called after each answer with the answers so far, and their number where it is known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemResult:
    """What became of one item of a batch: a report, or the error that it alone met.

    Attributes:
        index: Place of the item, from 0.
        report: The report; ``None`` where the item failed.
        error: The error; ``None`` where there is a report.
    """

    index: int
    report: Report | None = None
    error: WeavabilityError | None = None

    def unwrap(self) -> Report:
        """Return the report, or raise the item's error."""
        if self.report is None:
            raise self.error or UsageError(f"item {self.index} has neither report nor error")
        return self.report


class Client:
    """Asks the service whether, how fast and how a cloth can be woven.

    A client is safe in threads and after a fork; keep one for as long as the program runs, since
    it keeps its connections. Every operation is a pure computation, so that a request that failed
    on the way is sent again, POST included.

    Args:
        base_url: Address of the service; the variable ``WEAVABILITY_URL`` where not given.
        token: Bearer token; the variable ``WEAVABILITY_TOKEN`` where not given.
        timeout: Seconds for connecting and for each silence while reading.
        retries: Further attempts after a broken connection, a timeout, or status 429, 502, 503
            or 504.
        session: A session of your own, with its adapters, proxies and certificates.
        pool_size: Connections kept open, and requests of ``validate_many`` under way at once.

    Raises:
        UsageError: There is no address, or it is not an http address.

    Example::

        with Client("http://127.0.0.1:8080") as client:
            report = client.validate(construction, loom_id="R190-dobby")
            print(report)
    """

    def __init__(
        self,
        base_url: str | None = None,
        *,
        token: str | None = None,
        timeout: Timeout = (policies.CONNECT_TIMEOUT_S, policies.READ_TIMEOUT_S),
        retries: int = policies.RETRIES,
        session: requests.Session | None = None,
        pool_size: int = policies.POOL_SIZE,
    ) -> None:
        address = base_url or os.environ.get(URL_VARIABLE)
        if not address:
            raise UsageError(f"no address: pass base_url, or set {URL_VARIABLE}")
        if retries < 0 or pool_size < 1:
            raise UsageError("retries must be 0 or more, pool_size 1 or more")
        self._retries = retries
        self._pool_size = pool_size
        self._transport = Transport(
            read_base_url(address),
            token=read_token(token if token is not None else os.environ.get(TOKEN_VARIABLE)),
            timeout=timeout,
            session=session,
            pool_size=pool_size,
        )

    def validate(
        self,
        construction: Construction | Document,
        *,
        loom: Loom | Document | None = None,
        loom_id: str | None = None,
    ) -> Report:
        """Judge one construction on one loom.

        Args:
            construction: The cloth, as ``Construction`` or as a dict of the API's names.
            loom: The loom, as ``Loom`` or as a dict of the API's names.
            loom_id: Or a loom of the service's park.

        Raises:
            InvalidInput: The service refused a field; the error names every one.
            WeavabilityError: Any other failure; see ``weavability_client.errors``.
        """
        request = {"construction": construction, "loom": loom, "loom_id": loom_id}
        return self._validate({key: value for key, value in request.items() if value is not None})

    def validate_many(
        self,
        requests: Iterable[ValidationRequest | Document],
        *,
        progress: Progress | None = None,
    ) -> Iterator[ItemResult]:
        """Judge many constructions, each on its loom; the results come in the same order.

        The iterable is read only as far as needed, so it may be endless. A bad item gives a
        result that carries its error and spoils only itself.

        Args:
            requests: Items of ``{construction, loom | loom_id}``, as ``ValidationRequest`` or dict.
            progress: Called after each result with the number so far and the total, where known.

        Raises:
            ConnectionFailed: The service is out of reach: the rest could not be judged either.
            NotAuthenticated: The token is not valid, for every item alike.
            NotPermitted: The token does not allow this, for every item alike.
        """
        total = len(requests) if isinstance(requests, Sized) else None
        results = in_order(self._validate_item, requests, at_once=self._pool_size)
        for done, result in enumerate(results, start=1):
            if progress is not None:
                progress(done, total)
            yield result

    def report(self, link: str) -> Report:
        """Return the report behind ``report.link``, judged again.

        Raises:
            UsageError: The link is not one of this service.
            WeavabilityError: Any other failure.
        """
        path = link.removeprefix(self.base_url)
        if not path.startswith("/v1/validations/"):
            raise UsageError(f"not a report's link of {self.base_url}: {link[:80]!r}")
        return Report.from_json(self._call(build_request("GET", path)))

    def looms(self) -> tuple[Loom, ...]:
        """Return the loom park that the service was started with."""
        return self._list("looms", Loom.from_json)

    def loom(self, loom_id: str) -> Loom:
        """Return one loom of the park.

        Raises:
            NotFound: There is no such loom.
            WeavabilityError: Any other failure.
        """
        return Loom.from_json(self._get("looms", loom_id))

    def checks(self) -> tuple[Check, ...]:
        """Return every rule by which the service judges."""
        return self._list("checks", Check.from_json)

    def check(self, code: str) -> Check:
        """Return one rule, by the ``code`` of its findings.

        Raises:
            NotFound: There is no such rule.
            WeavabilityError: Any other failure.
        """
        return Check.from_json(self._get("checks", code))

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

    def __repr__(self) -> str:
        return f"Client({self.base_url!r})"

    def _validate(self, request: Record | Document) -> Report:
        answer = self._call(build_request("POST", "/v1/validations", payload=request))
        return Report.from_json(answer)

    def _validate_item(self, index: int, request: ValidationRequest | Document) -> ItemResult:
        try:
            return ItemResult(index=index, report=self._validate(request))
        except (ConnectionFailed, NotAuthenticated, NotPermitted):
            raise
        except WeavabilityError as error:
            return ItemResult(index=index, error=error)

    def _get(self, collection: str, name: str) -> object:
        return self._call(build_request("GET", f"/v1/{collection}/{quote(name, safe='')}"))

    def _list(self, collection: str, read: Callable[[object, str], T]) -> tuple[T, ...]:
        answer = self._call(build_request("GET", f"/v1/{collection}"))
        items = answer.get(collection) if isinstance(answer, dict) else None
        if not isinstance(items, list):
            raise AnswerUnreadable(f"the answer has no list of {collection}")
        return tuple(read(each, f"/{collection}/{place}") for place, each in enumerate(items))

    def _call(self, request: Request) -> object:
        """Send ``request``, again where that may help; return the parsed answer."""
        for attempt in count():
            try:
                return self._transport.send(request)
            except WeavabilityError as error:
                pause = pause_s(error, attempt=attempt)
                if pause is None or attempt >= self._retries:
                    raise
            time.sleep(pause)
        raise AssertionError  # pragma: no cover (count() does not end)
