"""The client: one method an operation of the service."""

from __future__ import annotations

import logging
import os
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence, Sized
from copy import copy
from itertools import count
from types import TracebackType
from typing import TYPE_CHECKING, Self, TypeVar, Unpack, cast
from urllib.parse import quote, urlencode

from weavability_client import policies
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
from weavability_client.models import (
    ChangedReport,
    ChangeoverRates,
    ChangeoverReport,
    Check,
    Construction,
    DesignSheet,
    Drawing,
    Evidence,
    InsertionRateOptions,
    Loom,
    LoomMatchRequest,
    LoomPark,
    MatchReport,
    MessageList,
    Prices,
    RateSheet,
    RemedyReport,
    Report,
    ReportSummary,
    RuleSet,
    SequenceReport,
    ValidationRequest,
    VariedField,
    Watched,
    WeaveNotations,
    WeaveOptions,
    WeaveSheet,
    Window,
)

if TYPE_CHECKING:
    import requests

_log = logging.getLogger("weavability_client")

URL_VARIABLE = "WEAVABILITY_URL"
TOKEN_VARIABLE = "WEAVABILITY_TOKEN"  # noqa: S105 (the name of a variable, not a token)

T = TypeVar("T")
Document = Mapping[str, object]
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

    def with_options(
        self,
        *,
        token: str | None = None,
        timeout: policies.Timeout | None = None,
        retries: int | None = None,
    ) -> Client:
        """Return a client of the same service with other options; it shares the connections.

        Args:
            token: As for the class; that of this client if not given.
            timeout: As for the class; that of this client if not given.
            retries: As for the class; those of this client if not given.

        Raises:
            UsageError: An option is of no use.

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

        Raises:
            UsageError: The payload is not JSON, or the path is none.
            ApiError: The status is 400 or more, as of every call.
            WeavabilityError: Any other failure.

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
        construction: Construction | Document,
        *,
        loom: Loom | Document | None = None,
        loom_id: str | None = None,
        prices: Prices | Document | None = None,
        decisive_assumptions: bool = False,
    ) -> Report:
        """Judge one construction on one loom.

        Args:
            construction: The cloth, as ``Construction`` or as a dict of the API's names.
            loom: The loom, as ``Loom`` or as a dict of the API's names.
            loom_id: Or a loom of the service's park.
            prices: What the mill pays, if costs are requested; no link of the report holds them.
            decisive_assumptions: Whether to find the assumed values that turn the verdict inside
                their bands.

        Raises:
            InvalidInput: The service refused a field; the error names every one.
            WeavabilityError: Any other failure; see ``weavability_client.errors``.
        """
        options = {"decisive_assumptions": True} if decisive_assumptions else None
        body = _stated(
            construction=construction, loom=loom, loom_id=loom_id, prices=prices, options=options
        )
        report = Report.from_json(self._post(REPORTS.path, body))
        return report.for_request(
            {name: to_plain(value) for name, value in body.items() if name != "options"}
        )

    def remedies(
        self,
        construction: Construction | Document,
        *,
        loom: Loom | Document | None = None,
        loom_id: str | None = None,
        loom_ids: Sequence[str] | None = None,
        prices: Prices | Document | None = None,
    ) -> RemedyReport:
        """Find the smallest changes that make an order weavable, each proved by the service.

        Args:
            construction: The cloth as ordered.
            loom: The loom, as ``Loom`` or as a dict of the API's names.
            loom_id: Or a loom of the service's park.
            loom_ids: Or several; without any, the best of the whole park.
            prices: What the mill pays, if the change of cost is requested.

        Raises:
            InvalidInput: The service refused a field; the error names every one.
            WeavabilityError: Any other failure.
        """
        body = _stated(
            construction=construction, loom=loom, loom_id=loom_id, loom_ids=loom_ids, prices=prices
        )
        found = RemedyReport.from_json(self._post("/v1/remedies", body))
        return found.for_request({name: to_plain(value) for name, value in body.items()})

    def validate_many(
        self,
        requests: Iterable[ValidationRequest | Document],
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
        requests: Iterable[ValidationRequest | Document],
        *,
        progress: Progress | None = None,
    ) -> Iterator[Result[ReportSummary]]:
        """Judge many constructions, each on its loom, with answers in short and without remedies.

        A machine is not set up from a summary: ``client.validate`` has the whole report, with its
        caution.

        Args:
            requests: As for :meth:`validate_many`.
            progress: As for :meth:`validate_many`.

        Raises:
            ConnectionFailed: As for :meth:`validate_many`, like the others.
        """
        return self._many(self._summaries, requests, progress)

    def match_many(
        self,
        requests: Iterable[LoomMatchRequest | Document],
        *,
        progress: Progress | None = None,
    ) -> Iterator[Result[MatchReport]]:
        """Rank the looms for many constructions; the results come in the same order.

        Args:
            requests: Items of ``{construction, looms | loom_ids, on_loom, prices, rank_by}``, as
                ``LoomMatchRequest`` or dict; the whole park if no loom is named.
            progress: As for :meth:`validate_many`.

        Raises:
            ConnectionFailed: As for :meth:`validate_many`, like the others.
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

    def summary(self, link: str) -> ReportSummary:
        """Return the report behind ``report.link`` in short, judged again without remedies.

        Raises:
            UsageError: The link is not one of this service.
            WeavabilityError: Any other failure.
        """
        path = f"{self._path(link)}?fields=summary"
        return ReportSummary.from_json(self._call(build_request("GET", path)))

    def report(self, link: str) -> Report:
        """Return the report behind ``report.link``, judged again.

        Raises:
            UsageError: The link is not one of this service.
            WeavabilityError: Any other failure.
        """
        return Report.from_json(self._call(build_request("GET", self._path(link))))

    def poll(self, link: str, etag: str) -> Report | None:
        """Return the report behind ``report.link`` if it is another than the one known.

        Args:
            link: ``report.link`` of the known report.
            etag: ``report.etag`` of the known report.

        Returns:
            The report as it is now; ``None`` while neither the loom's limits nor the rules have
            changed.

        Raises:
            UsageError: The link is not one of this service, or the etag is not one.
            WeavabilityError: Any other failure.
        """
        answer = self._call(build_request("GET", self._path(link), etag=etag))
        return None if answer is None else Report.from_json(answer)

    def changes(self, items: Iterable[Report | Watched | Document]) -> tuple[ChangedReport, ...]:
        """Return which of many reports are no longer what they were.

        One question names a thousand reports, so that a board of thousands is kept fresh with a
        handful of requests; the service judges only what has changed.

        Args:
            items: Reports as they are known, or ``Watched`` or dicts of ``{link, etag, codes}``.

        Raises:
            UsageError: A report has no link, its request being too long for one.
            WeavabilityError: Any other failure.
        """
        packs = packed(
            (to_bytes(_watched(each)) for each in items),
            size_of=len,
            most_items=policies.CHANGES_ITEMS,
            most_bytes=policies.BATCH_BYTES,
        )
        found: list[ChangedReport] = []
        sent = 0
        for pack in packs:
            found += (each.shifted(sent) for each in self._changes(pack))
            sent += len(pack)
        return tuple(found)

    def insertion_rate(self, **options: Unpack[InsertionRateOptions]) -> RateSheet:
        """Compute how fast a loom inserts weft, what limits it, and what the weft bears.

        Args:
            **options: A loom, and a construction or a weft: see ``InsertionRateOptions``.

        Raises:
            InvalidInput: The service refused a field; the error names every one.
            WeavabilityError: Any other failure.
        """
        return RateSheet.from_json(self._post("/v1/insertion-rates", _stated(**options)))

    def draw_insertion(self, **options: Unpack[InsertionRateOptions]) -> Drawing:
        """Draw the pick over the crank circle: the carrier's travel and speed, the weft's tension.

        Args:
            **options: As for :meth:`insertion_rate`.

        Raises:
            InvalidInput: The service refused a field; the error names every one.
            WeavabilityError: Any other failure.
        """
        return self._draw("/v1/insertion-rates", _stated(**options))

    def window(
        self,
        construction: Construction | Document,
        *,
        across: VariedField | Document,
        along: VariedField | Document,
        loom: Loom | Document | None = None,
        loom_id: str | None = None,
    ) -> Window:
        """Map what can be woven if two numeric fields of an order are varied.

        Args:
            construction: The cloth as ordered.
            across: The field that is varied along a row, such as ``VariedField(pointer=
                "/construction/warp/ends_per_cm", start=16, stop=40, points=50)``.
            along: The field that is varied from row to row.
            loom: The loom, as ``Loom`` or as a dict of the API's names.
            loom_id: Or a loom of the service's park.

        Raises:
            InvalidInput: The service refused a field; the error names every one.
            WeavabilityError: Any other failure.
        """
        body = _stated(construction=construction, loom=loom, loom_id=loom_id)
        answer = self._post("/v1/windows", body | {"across": across, "along": along})
        return Window.from_json(answer)

    def draw_window(
        self,
        construction: Construction | Document,
        *,
        across: VariedField | Document,
        along: VariedField | Document,
        loom: Loom | Document | None = None,
        loom_id: str | None = None,
    ) -> Drawing:
        """Draw what :meth:`window` maps, hatched by verdict.

        Args:
            construction: As for :meth:`window`.
            across: As for :meth:`window`.
            along: As for :meth:`window`.
            loom: As for :meth:`window`.
            loom_id: As for :meth:`window`.

        Raises:
            InvalidInput: The service refused a field; the error names every one.
            WeavabilityError: Any other failure.
        """
        body = _stated(construction=construction, loom=loom, loom_id=loom_id)
        return self._draw("/v1/windows", body | {"across": across, "along": along})

    def match_looms(
        self,
        construction: Construction | Document,
        *,
        looms: Sequence[Loom | Document] | None = None,
        loom_ids: Sequence[str] | None = None,
        on_loom: Mapping[str, Construction | Document] | None = None,
        prices: Prices | Document | None = None,
        rank_by: str | None = None,
        decisive_assumptions: bool = False,
    ) -> MatchReport:
        """Judge a construction on many looms and rank them, the best first.

        Args:
            construction: The cloth as ordered.
            looms: The looms to try; the service's whole park if neither is given.
            loom_ids: Or looms of the park.
            on_loom: What is woven now, by loom; its change-over is then counted in.
            prices: What the mill pays, if costs are requested.
            rank_by: ``cost`` ranks the looms of one verdict by cost, which needs prices.
            decisive_assumptions: Whether to find, of the 8 best looms, the assumed values that turn
                the verdict inside their bands.

        Raises:
            InvalidInput: The service refused a field; the error names every one.
            WeavabilityError: Any other failure.
        """
        body = _stated(
            construction=construction,
            looms=looms,
            loom_ids=loom_ids,
            on_loom=on_loom,
            prices=prices,
            rank_by=rank_by,
            options={"decisive_assumptions": True} if decisive_assumptions else None,
        )
        return MatchReport.from_json(self._post("/v1/loom-matches", body))

    def changeover(
        self,
        old: Construction | Document,
        new: Construction | Document,
        *,
        loom: Loom | Document | None = None,
        loom_id: str | None = None,
        warp_left_m: float | None = None,
        rates: ChangeoverRates | Document | None = None,
    ) -> ChangeoverReport:
        """Plan a change of style: the work, and how long the loom is stopped.

        Args:
            old: The style on the loom.
            new: The style to come.
            loom: The loom, as ``Loom`` or as a dict of the API's names.
            loom_id: Or a loom of the service's park.
            warp_left_m: Warp left of the old style on the loom; assumed from full beams without it.
            rates: Rates of the work, if they differ from the loom's own.

        Raises:
            InvalidInput: The service refused a field; the error names every one.
            WeavabilityError: Any other failure.
        """
        body = _stated(loom=loom, loom_id=loom_id, warp_left_m=warp_left_m, rates=rates)
        body |= {"from": old, "to": new}
        return ChangeoverReport.from_json(self._post("/v1/changeovers", body))

    def sequence(
        self,
        orders: Sequence[Construction | Document],
        *,
        loom: Loom | Document | None = None,
        loom_id: str | None = None,
        on_loom: Construction | Document | None = None,
        warp_left_m: float | None = None,
        rates: ChangeoverRates | Document | None = None,
    ) -> SequenceReport:
        """Find the sequence in which orders on one loom stop it for the shortest time.

        Args:
            orders: The styles to come, at most 12, in any order.
            loom: The loom, as ``Loom`` or as a dict of the API's names.
            loom_id: Or a loom of the service's park.
            on_loom: The style on the loom now; without it the first order needs no change.
            warp_left_m: Warp left of that on the loom; assumed from full beams without it.
            rates: Rates of the work, if they differ from the loom's own.

        Raises:
            InvalidInput: The service refused a field; the error names every one.
            WeavabilityError: Any other failure.
        """
        body = _stated(
            loom=loom, loom_id=loom_id, on_loom=on_loom, warp_left_m=warp_left_m, rates=rates
        )
        answer = self._post("/v1/changeovers", body | {"orders": list(orders)})
        return SequenceReport.from_json(answer)

    def analyse_weave(self, weave: Weave, **options: Unpack[WeaveOptions]) -> WeaveSheet:
        """Analyse a weave: repeat, drafts, floats, interlacings, faults, colours, hooks.

        The more is stated, the more follows; only the weave itself is needed.

        Args:
            weave: A notation such as ``2/2 twill Z``, or an object such as ``{"rows": [...]}``.
            **options: Setts, colours, a draft, a shedding motion: see ``WeaveOptions``.

        Raises:
            InvalidInput: The service refused a field; the error names every one.
            WeavabilityError: Any other failure.
        """
        return WeaveSheet.from_json(self._post("/v1/weaves", _stated(weave=weave, **options)))

    def draw_weave(self, weave: Weave, **options: Unpack[WeaveOptions]) -> Drawing:
        """Draw a weave: its point paper with draft and lift plan, or the face of the cloth.

        Args:
            weave: As for :meth:`analyse_weave`.
            **options: As for :meth:`analyse_weave`; ``view`` is ``point_paper`` or ``cloth_face``.

        Raises:
            InvalidInput: The service refused a field; the error names every one.
            WeavabilityError: Any other failure.
        """
        return self._draw("/v1/weaves", _stated(weave=weave, **options))

    def design(
        self,
        construction: Construction | Document,
        *,
        loom: Loom | Document | None = None,
        loom_id: str | None = None,
    ) -> DesignSheet:
        """Judge a figured design on the harness of a loom: floats, correction, take-up, lift.

        Args:
            construction: The cloth as ordered; its weave is a figured design.
            loom: The loom, stated in full.
            loom_id: Or its name in the service's park.

        Raises:
            InvalidInput: The service refused a field; the error names every one.
            WeavabilityError: Any other failure.
        """
        body = _stated(construction=construction, loom=loom, loom_id=loom_id)
        return DesignSheet.from_json(self._post("/v1/designs", body))

    def draw_design(
        self,
        construction: Construction | Document,
        *,
        loom: Loom | Document | None = None,
        loom_id: str | None = None,
        window: Document | None = None,
    ) -> Drawing:
        """Draw a figured design with its tie, tight places and findings, or part of its paper.

        Args:
            construction: As for :meth:`design`.
            loom: As for :meth:`design`.
            loom_id: As for :meth:`design`.
            window: The part of the point paper to draw, such as ``{"first_hook": 1, "hooks": 64}``;
                the whole design if not given.

        Raises:
            InvalidInput: The service refused a field; the error names every one.
            WeavabilityError: Any other failure.
        """
        options = None if window is None else {"view": "point_paper", "window": window}
        return self._draw(
            "/v1/designs",
            _stated(construction=construction, loom=loom, loom_id=loom_id, options=options),
        )

    def point_paper(
        self,
        construction: Construction | Document,
        *,
        loom: Loom | Document | None = None,
        loom_id: str | None = None,
        paper: str = "corrected",
    ) -> bytes:
        """Return the point paper of a figured design as a PNG file, one pixel a hook and pick.

        Args:
            construction: As for :meth:`design`.
            loom: As for :meth:`design`.
            loom_id: As for :meth:`design`.
            paper: ``corrected``, ``asked`` for the design without the correction, or ``cloth`` for
                the cloth through the tie.

        Raises:
            InvalidInput: The service refused a field; the error names every one.
            WeavabilityError: Any other failure.
        """
        body = _stated(
            construction=construction, loom=loom, loom_id=loom_id, options={"paper": paper}
        )
        request = build_request("POST", "/v1/designs", payload=body, accept=PNG)
        return cast("bytes", self._call(request))

    def notations(self) -> WeaveNotations:
        """Return the ways of writing a weave, each with an example."""
        return WeaveNotations.from_json(self._call(build_request("GET", "/v1/weaves")))

    def park(self) -> LoomPark:
        """Return the loom park that the service was started with, as a list to print."""
        return LoomPark.from_json(self._call(build_request("GET", "/v1/looms")))

    def looms(self) -> tuple[Loom, ...]:
        """Return the looms of the park, each with the limits that are assumed of it."""
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

    def rule_set(self) -> RuleSet:
        """Return the rules by which the service judges, as a list to print."""
        return RuleSet.from_json(self._call(build_request("GET", "/v1/checks")))

    def check(self, code: str) -> Check:
        """Return one rule, by the ``code`` of its findings.

        Raises:
            NotFound: There is no such rule.
            WeavabilityError: Any other failure.
        """
        return Check.from_json(self._get("checks", code))

    def messages(self, kind: str | None = None) -> MessageList:
        """Return every sentence that an answer may have, by key: what a translation starts from.

        Args:
            kind: Only sentences of this kind: ``finding``, ``assumption``, ``fault``, ``problem``
                or ``part``.

        Raises:
            InvalidInput: There is no such kind.
            WeavabilityError: Any other failure.
        """
        query = "" if kind is None else f"?{urlencode({'kind': kind})}"
        request = build_request("GET", f"/v1/messages{query}")
        return MessageList.from_json(self._call(request))

    def evidence(self) -> Evidence:
        """Return the published values that the service is tested against, beside its own."""
        return Evidence.from_json(self._call(build_request("GET", "/evidence")))

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

    def _path(self, link: str) -> str:
        path = link.removeprefix(self.base_url)
        if not path.startswith(f"{REPORTS.path}/"):
            raise UsageError(f"not a report's link of {self.base_url}: {link[:80]!r}")
        return path

    def _post(self, path: str, payload: object) -> object:
        return self._call(build_request("POST", path, payload=payload))

    def _draw(self, path: str, payload: object) -> Drawing:
        answer = self._call(build_request("POST", path, payload=payload, accept=SVG))
        return Drawing(cast("str", answer))

    def _changes(self, pack: Sequence[bytes]) -> Iterator[ChangedReport]:
        body = b'{"items":[' + b",".join(pack) + b"]}"
        answer = self._call(build_request("POST", "/v1/validation-changes", lines=[body]))
        return iter(_items(answer, "items", ChangedReport.from_json))

    def _get(self, collection: str, name: str) -> object:
        return self._call(build_request("GET", f"/v1/{collection}/{quote(name, safe='')}"))

    def _list(self, name: str, read: Callable[[object, str], T]) -> tuple[T, ...]:
        return _items(self._call(build_request("GET", f"/v1/{name}")), name, read)

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


def _stated(**members: object) -> dict[str, object]:
    """Return the members that are stated."""
    return {name: value for name, value in members.items() if value is not None}


def _items(answer: object, name: str, read: Callable[[object, str], T]) -> tuple[T, ...]:
    items = elements((members(answer) or {}).get(name))
    if items is None:
        raise AnswerUnreadable(f"the answer has no list of {name}")
    return Several(read(each, f"/{name}/{place}") for place, each in enumerate(items))


def _watched(item: Report | Watched | Document) -> Record | Document:
    if not isinstance(item, Report):
        return item
    if item.link is None:
        raise UsageError(
            f"{item.reference or 'a report'} has no link: its request is too long for one, "
            "so send it again instead"
        )
    codes = tuple(dict.fromkeys(each.code for each in item.findings))
    return Watched(link=item.link, etag=item.etag, codes=codes)
