"""The client: one method an operation of the service."""

from __future__ import annotations

import logging
import os
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence, Sized
from copy import copy
from itertools import count
from typing import TYPE_CHECKING, Any, Self, TypeVar, Unpack, cast
from urllib.parse import quote, urlencode

from weavability_client import models, policies
from weavability_client._batch import packed
from weavability_client._debug_log import log_as_the_environment_says
from weavability_client._json import elements, members
from weavability_client._many import MATCHES, REPORTS, SUMMARIES, Batches, ItemResult, Result
from weavability_client._record import Record, Several, to_plain
from weavability_client._retry import pause_s
from weavability_client._wire import (
    JSON,
    PNG,
    SVG,
    RawAnswer,
    Request,
    build_request,
    read_answer,
    read_base_url,
    read_timeout,
    read_token,
    refuse,
    to_bytes,
)
from weavability_client.errors import AnswerUnreadable, UsageError, WeavabilityError
from weavability_client.models import Construction, Drawing, Report

if TYPE_CHECKING:
    import requests

URL_VARIABLE = "WEAVABILITY_URL"
TOKEN_VARIABLE = "WEAVABILITY_TOKEN"  # noqa: S105 (the name of a variable, not a token)

_log = logging.getLogger("weavability_client")

T = TypeVar("T")
R = TypeVar("R", bound=Record)
Document = Mapping[str, object]
Cloth = Construction | Document
"""An order, as ``Construction`` or as a dict of the API's names."""
Weave = str | Document
"""A weave: a notation in words, or an object in one of the forms of ``GET /v1/weaves``."""
Progress = Callable[[int, int | None], None]
"""Called after each answer with the answers so far, and their number if it is known."""


class Client:
    """Asks the service whether, how fast and how a cloth can be woven.

    A client is safe in threads and after a fork; keep one for as long as the program runs, since
    it keeps its connections. Every operation is a pure computation, so that a request that failed
    on the way is sent again, POST included. It may be pickled; the token goes with it. With
    ``WEAVABILITY_LOG=debug`` in the environment every exchange is logged.

    Args:
        base_url: Address of the service; the variable ``WEAVABILITY_URL`` if not given.
        token: Bearer token; the variable ``WEAVABILITY_TOKEN`` if not given.
        timeout: Seconds for connecting and for each silence while reading; a whole answer never
            takes longer than ``policies.ANSWER_DEADLINE_S``.
        retries: Further attempts after a broken connection, a timeout, or status 429, 502, 503
            or 504.
        session: A session of your own, with its adapters, proxies and certificates; its adapters
            decide on a deadline for slow answers.
        pool_size: Connections kept open, and so requests under way at once.

    Raises:
        UsageError: There is no address, it is not an http address, or an option is of no use.

    What goes in is a ``Construction``, a ``Loom`` and so on, or dicts of the API's names; what the
    keywords of a method mean is with its options, such as ``models.ValidationOptions``.

    Every method that asks the service raises ``InvalidInput`` if it refuses a field, and names all
    of them; ``NotFound`` if there is nothing of that name; ``UsageError`` if the call cannot be
    sent, such as with a link of another service; and for every other failure the
    ``WeavabilityError`` that ``weavability_client.errors`` has for it.

    Example::

        with Client("http://127.0.0.1:8080") as client:
            report = client.validate(construction, loom_id="rapier-190-dobby")
            print(report)
    """

    def __init__(
        self,
        base_url: str | None = None,
        *,
        token: str | None = None,
        timeout: policies.Timeout = (policies.CONNECT_TIMEOUT_S, policies.READ_TIMEOUT_S),
        retries: int = policies.RETRIES,
        session: requests.Session | None = None,
        pool_size: int = policies.POOL_SIZE,
    ) -> None:
        address = base_url or os.environ.get(URL_VARIABLE)
        if not address:
            raise UsageError(f"no address: pass base_url, or set {URL_VARIABLE}")
        if retries < 0 or pool_size < 1:
            raise UsageError("retries must be 0 or more, pool_size 1 or more")
        # Here and not above, because `requests` takes longer to import than all of this package.
        from weavability_client._transport import Connections, Transport

        log_as_the_environment_says()
        self._retries = retries
        self._pool_size = pool_size
        self._transport = Transport(
            read_base_url(address),
            token=read_token(token if token is not None else os.environ.get(TOKEN_VARIABLE)),
            timeout=read_timeout(timeout),
            connections=Connections(session, pool_size),
        )
        self._prepare_batches()

    def _prepare_batches(self) -> None:
        self._reports = Batches(self._call, REPORTS)
        self._summaries = Batches(self._call, SUMMARIES)
        self._matches = Batches(self._call, MATCHES)

    @property
    def base_url(self) -> str:
        """Address of the service, without a slash at its end."""
        return self._transport.base_url

    def close(self) -> None:
        """Close the connections; the next call opens new ones."""
        self._transport.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self.close()

    def __repr__(self) -> str:
        return f"Client({self.base_url!r})"

    def with_options(
        self,
        *,
        token: str | None = None,
        timeout: policies.Timeout | None = None,
        retries: int | None = None,
    ) -> Client:
        """Return a client of the same service with other options; it shares the connections.

        Options are those of the class; what is not given is as for this client.

        Example::

            patient = client.with_options(timeout=(3, 120), retries=5)
        """
        if retries is not None and retries < 0:
            raise UsageError("retries must be 0 or more")
        made = copy(self)
        mine = self._transport
        made._retries = self._retries if retries is None else retries
        made._transport = type(mine)(
            mine.base_url,
            token=mine.token if token is None else read_token(token),
            timeout=mine.timeout if timeout is None else read_timeout(timeout),
            connections=mine.connections,
        )
        made._prepare_batches()
        return made

    def raw(
        self, method: str, path: str, payload: object = None, *, accept: str = JSON
    ) -> RawAnswer:
        """Send a request of your own and return the answer as it came: status, headers, body.

        Args:
            method: HTTP method.
            path: Path below the address of the service.
            payload: Sent as JSON if there is one.
            accept: Media type of the answer.

        Example::

            answer = client.raw("POST", "/v1/validations", request, accept="text/html")
        """
        if not path.startswith("/"):
            raise UsageError(f"a path begins with a slash: {path[:80]!r}")

        def accepted(answer: RawAnswer, _request: Request) -> RawAnswer:
            refuse(answer)
            return answer

        return self._repeated(build_request(method, path, payload=payload, accept=accept), accepted)

    def validate(
        self,
        construction: Cloth,
        *,
        decisive_assumptions: bool = False,
        **options: Unpack[models.ValidationOptions],
    ) -> Report:
        """Judge one construction on one loom; prices of the options are in no link of the report.

        Args:
            construction: The cloth as ordered.
            decisive_assumptions: Whether to find the assumed values that turn the verdict inside
                their bands.
            **options: The loom, and prices.
        """
        body = _stated(construction=construction, **options)
        report = self._ask(Report, REPORTS.path, **body, options=_wanted(decisive_assumptions))
        return report.for_request({name: to_plain(value) for name, value in body.items()})

    def remedies(
        self, construction: Cloth, **options: Unpack[models.RemedyOptions]
    ) -> models.RemedyReport:
        """Find the smallest changes that make an order weavable, each proved by the service.

        Of a loom or several; with prices, each has its change of cost.
        """
        body = _stated(construction=construction, **options)
        found = self._ask(models.RemedyReport, "/v1/remedies", **body)
        return found.for_request({name: to_plain(value) for name, value in body.items()})

    def validate_many(
        self,
        requests: Iterable[models.ValidationRequest | Document],
        *,
        progress: Progress | None = None,
    ) -> Iterator[ItemResult]:
        """Judge many constructions, each on its loom; the results come in the same order.

        The items go out in packs, several at once, and the iterable is read only as far ahead as
        that takes, so it may be endless. A bad item gives a result that carries its error and
        spoils only itself. A service, or a proxy, that takes no packs gets them one by one.

        Args:
            requests: Items of ``{construction, loom | loom_id, prices}``, as ``ValidationRequest``
                or dict.
            progress: Called after each result with the number so far and the total, if known.

        Raises:
            ConnectionFailed: The service is out of reach: the rest could not be judged either.
            NotAuthenticated: The token is not valid, for every item alike.
            NotPermitted: The token does not allow this, for every item alike.
        """
        for each in self._many(self._reports, requests, progress):
            yield ItemResult(index=each.index, report=each.report, error=each.error)

    def summarise_many(
        self,
        requests: Iterable[models.ValidationRequest | Document],
        *,
        progress: Progress | None = None,
    ) -> Iterator[Result[models.ReportSummary]]:
        """Do as :meth:`validate_many`, with answers in short and without remedies.

        A machine is not set up from a summary: ``client.validate`` has the whole report, with its
        caution.
        """
        return self._many(self._summaries, requests, progress)

    def match_many(
        self,
        requests: Iterable[models.LoomMatchRequest | Document],
        *,
        progress: Progress | None = None,
    ) -> Iterator[Result[models.MatchReport]]:
        """Rank the looms for many constructions; the results come in the same order.

        Args:
            requests: Items of ``{construction, looms | loom_ids, on_loom, prices, rank_by}``, as
                ``LoomMatchRequest`` or dict; the whole park if no loom is named.
            progress: As for :meth:`validate_many`.
        """
        return self._many(self._matches, requests, progress)

    def _many(
        self,
        batches: Batches[T],
        requests: Iterable[Record | Document],
        progress: Progress | None,
    ) -> Iterator[Result[T]]:
        total = len(requests) if isinstance(requests, Sized) else None
        results = batches.run(requests, total=total, at_once=self._pool_size)
        for done, result in enumerate(results, start=1):
            if progress is not None:
                progress(done, total)
            yield result

    def summary(self, link: str) -> models.ReportSummary:
        """Return the report behind ``report.link`` in short, judged again without remedies."""
        return self._get(models.ReportSummary, f"{self._path(link)}?fields=summary")

    def report(self, link: str) -> Report:
        """Return the report behind ``report.link``, judged again."""
        return self._get(Report, self._path(link))

    def poll(self, link: str, etag: str) -> Report | None:
        """Return the report behind ``report.link`` if it is another than the one known.

        Args:
            link: ``report.link`` of the known report.
            etag: ``report.etag`` of the known report.

        Returns:
            The report as it is now; ``None`` while neither the loom's limits nor the rules have
            changed.
        """
        answer = self._call(build_request("GET", self._path(link), etag=etag))
        return None if answer is None else Report.from_json(answer)

    def changes(
        self, items: Iterable[Report | models.Watched | Document]
    ) -> tuple[models.ChangedReport, ...]:
        """Return which of many reports are no longer what they were.

        One question names a thousand reports, so that a board of thousands is kept fresh with a
        handful of requests; the service judges only what has changed.

        Args:
            items: Reports as they are known, or ``Watched`` or dicts of ``{link, etag, codes}``.
        """
        packs = packed(
            (to_bytes(_watched(each)) for each in items),
            size_of=len,
            most_items=policies.CHANGES_ITEMS,
            most_bytes=policies.BATCH_BYTES,
        )
        found: list[models.ChangedReport] = []
        sent = 0
        for pack in packs:
            body = b'{"items":[' + b",".join(pack) + b"]}"
            answer = self._call(build_request("POST", "/v1/validation-changes", lines=[body]))
            changed = _listed(answer, "items", models.ChangedReport)
            found += (each.shifted(sent) for each in changed)
            sent += len(pack)
        return tuple(found)

    def insertion_rate(self, **options: Unpack[models.InsertionRateOptions]) -> models.RateSheet:
        """Compute how fast a loom inserts weft, what limits it, and what the weft bears.

        Of a loom, and a construction or a weft.
        """
        return self._ask(models.RateSheet, "/v1/insertion-rates", **options)

    def draw_insertion(self, **options: Unpack[models.InsertionRateOptions]) -> Drawing:
        """Draw the pick over the crank circle: the carrier's travel and speed, the weft's tension.

        Options are those of :meth:`insertion_rate`.
        """
        return self._draw("/v1/insertion-rates", **options)

    def window(self, construction: Cloth, **options: Unpack[models.WindowOptions]) -> models.Window:
        """Map what can be woven if two numeric fields of an order are varied.

        ``across`` is the field that is varied along a row, such as ``VariedField(
        pointer="/construction/warp/ends_per_cm", start=16, stop=40, points=50)``; ``along`` is that
        which is varied from row to row.
        """
        return self._ask(models.Window, "/v1/windows", construction=construction, **options)

    def draw_window(self, construction: Cloth, **options: Unpack[models.WindowOptions]) -> Drawing:
        """Draw what :meth:`window` maps, hatched by verdict."""
        return self._draw("/v1/windows", construction=construction, **options)

    def match_looms(
        self,
        construction: Cloth,
        *,
        decisive_assumptions: bool = False,
        **options: Unpack[models.LoomMatchOptions],
    ) -> models.MatchReport:
        """Judge a construction on many looms and rank them, the best first.

        Args:
            construction: The cloth as ordered.
            decisive_assumptions: Whether to find, of the best looms, the assumed values that turn
                the verdict inside their bands.
            **options: The looms, what is woven on them, prices, and what they are ranked by.
        """
        return self._ask(
            models.MatchReport,
            MATCHES.path,
            construction=construction,
            **options,
            options=_wanted(decisive_assumptions),
        )

    def changeover(
        self, old: Cloth, new: Cloth, **options: Unpack[models.ChangeoverOptions]
    ) -> models.ChangeoverReport:
        """Plan the change from an old style to a new: the work, and how long the loom is stopped.

        On a loom; the warp left of the old style, and rates of the work, may be stated.
        """
        both = {"from": old, "to": new}
        return self._ask(models.ChangeoverReport, "/v1/changeovers", **options, **both)

    def sequence(
        self,
        orders: Sequence[Cloth],
        *,
        on_loom: Cloth | None = None,
        **options: Unpack[models.ChangeoverOptions],
    ) -> models.SequenceReport:
        """Find the sequence in which orders on one loom stop it for the shortest time.

        Args:
            orders: The styles to come, at most 12, in any order.
            on_loom: The style on the loom now; without it the first order needs no change.
            **options: The loom, the warp left of the style on it, and rates of the work.
        """
        styles = {"orders": list(orders), "on_loom": on_loom}
        return self._ask(models.SequenceReport, "/v1/changeovers", **styles, **options)

    def analyse_weave(
        self, weave: Weave, **options: Unpack[models.WeaveOptions]
    ) -> models.WeaveSheet:
        """Analyse a weave: repeat, drafts, floats, interlacings, faults, colours, hooks.

        It is a notation such as ``2/2 twill Z``, or an object such as ``{"rows": [...]}``. The more
        is stated beside it, such as setts, colours, a draft or a shedding motion, the more follows.
        """
        return self._ask(models.WeaveSheet, "/v1/weaves", weave=weave, **options)

    def draw_weave(self, weave: Weave, **options: Unpack[models.WeaveOptions]) -> Drawing:
        """Draw a weave: its point paper with draft and lift plan, or the face of the cloth.

        ``view`` is ``point_paper`` or ``cloth_face``; all else is as for :meth:`analyse_weave`.
        """
        return self._draw("/v1/weaves", weave=weave, **options)

    def design(
        self, construction: Cloth, **options: Unpack[models.DesignSheetOptions]
    ) -> models.DesignSheet:
        """Judge a figured design on the harness of a loom: floats, correction, take-up, lift.

        The weave of the construction is the figured design.
        """
        return self._ask(models.DesignSheet, "/v1/designs", construction=construction, **options)

    def draw_design(
        self,
        construction: Cloth,
        *,
        window: Document | None = None,
        **options: Unpack[models.DesignSheetOptions],
    ) -> Drawing:
        """Draw a figured design with its tie, tight places and findings, or part of its paper.

        Args:
            construction: As for :meth:`design`.
            window: The part of the point paper to draw, such as ``{"first_hook": 1, "hooks": 64}``;
                the whole design if not given.
            **options: The loom.
        """
        shown = None if window is None else {"view": "point_paper", "window": window}
        return self._draw("/v1/designs", construction=construction, options=shown, **options)

    def point_paper(
        self,
        construction: Cloth,
        *,
        paper: str = "corrected",
        **options: Unpack[models.DesignSheetOptions],
    ) -> bytes:
        """Return the point paper of a figured design as a PNG file, one pixel a hook and pick.

        Args:
            construction: As for :meth:`design`.
            paper: ``corrected``, ``uncorrected``, or ``cloth`` for the cloth through the tie.
            **options: The loom.
        """
        body = _stated(construction=construction, options={"paper": paper}, **options)
        request = build_request("POST", "/v1/designs", payload=body, accept=PNG)
        return cast("bytes", self._call(request))

    def notations(self) -> models.WeaveNotations:
        """Return the ways of writing a weave, each with an example."""
        return self._get(models.WeaveNotations, "/v1/weaves")

    def park(self) -> models.LoomPark:
        """Return the loom park that the service was started with, as a list to print."""
        return self._get(models.LoomPark, "/v1/looms")

    def looms(self) -> tuple[models.Loom, ...]:
        """Return the looms of the park, each with the limits that are assumed of it."""
        return _listed(self._call(build_request("GET", "/v1/looms")), "looms", models.Loom)

    def loom(self, loom_id: str) -> models.Loom:
        """Return one loom of the park."""
        return self._get(models.Loom, f"/v1/looms/{quote(loom_id, safe='')}")

    def checks(self) -> tuple[models.Check, ...]:
        """Return every rule by which the service judges."""
        return _listed(self._call(build_request("GET", "/v1/checks")), "checks", models.Check)

    def rule_set(self) -> models.RuleSet:
        """Return the rules by which the service judges, as a list to print."""
        return self._get(models.RuleSet, "/v1/checks")

    def check(self, code: str) -> models.Check:
        """Return one rule, by the ``code`` of its findings."""
        return self._get(models.Check, f"/v1/checks/{quote(code, safe='')}")

    def messages(self, kind: str | None = None) -> models.MessageList:
        """Return every sentence that an answer may have, by key: what a translation starts from.

        Args:
            kind: Only sentences of this kind: ``finding``, ``assumption``, ``fault``, ``problem``
                or ``part``.
        """
        query = "" if kind is None else f"?{urlencode({'kind': kind})}"
        return self._get(models.MessageList, f"/v1/messages{query}")

    def evidence(self) -> models.Evidence:
        """Return the published values that the service is tested against, beside its own."""
        return self._get(models.Evidence, "/evidence")

    def _path(self, link: str) -> str:
        path = link.removeprefix(self.base_url)
        if not path.startswith(f"{REPORTS.path}/"):
            raise UsageError(f"not a report's link of {self.base_url}: {link[:80]!r}")
        return path

    def _ask(self, kind: type[R], path: str, /, **body: object) -> R:
        return kind.from_json(self._call(build_request("POST", path, payload=_stated(**body))))

    def _draw(self, path: str, /, **body: object) -> Drawing:
        request = build_request("POST", path, payload=_stated(**body), accept=SVG)
        return Drawing(cast("str", self._call(request)))

    def _get(self, kind: type[R], path: str) -> R:
        return kind.from_json(self._call(build_request("GET", path)))

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


def _stated(**members: object) -> dict[str, Any]:
    """Return the members that are stated."""
    return {name: value for name, value in members.items() if value is not None}


def _wanted(decisive_assumptions: bool) -> dict[str, bool] | None:  # noqa: FBT001 (a keyword above)
    return {"decisive_assumptions": True} if decisive_assumptions else None


def _listed(answer: object, name: str, kind: type[R]) -> tuple[R, ...]:
    """Read the records of a list of an answer.

    Raises:
        AnswerUnreadable: The answer has no such list, or an item cannot be read.
    """
    items = elements((members(answer) or {}).get(name))
    if items is None:
        raise AnswerUnreadable(f"the answer has no list of {name}")
    return Several(kind.from_json(each, f"/{name}/{place}") for place, each in enumerate(items))


def _watched(item: Report | models.Watched | Document) -> Record | Document:
    if not isinstance(item, Report):
        return item
    if item.link is None:
        raise UsageError(
            f"{item.reference or 'a report'} has no link: its request is too long for one, "
            "so send it again instead"
        )
    codes = tuple(dict.fromkeys(each.code for each in item.findings))
    return models.Watched(link=item.link, etag=item.etag, codes=codes)
