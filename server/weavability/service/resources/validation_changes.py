"""``/v1/validation-changes``: the reports that have changed since they were seen."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Annotated, Any, Final

from flask import Response, request

from weavability.answers import validation
from weavability.answers.caution import CAUTION
from weavability.answers.cloth_words import cloth_in_words
from weavability.answers.field_words import CautionText
from weavability.answers.verdicts import verdict_of
from weavability.checks.finding import Severity, Verdict
from weavability.checks.registry import observe
from weavability.checks.rules import Observation
from weavability.service import state
from weavability.service.batches.items import problem_of
from weavability.service.http import problems
from weavability.service.http.json_bodies import json_body, parse
from weavability.service.http.links import LONGEST_REQUEST, opened, pack
from weavability.service.http.problems import Problem
from weavability.service.http.responses import json_answer
from weavability.service.http.work import UsedUpError, next_item, spend, spend_order
from weavability.service.openapi import example_requests
from weavability.service.operations import operation
from weavability.service.requests.canonical import canonical_request
from weavability.service.requests.loom_choice import ResolvedRequest
from weavability.service.requests.park import Park
from weavability.service.resources.validations import identity_of, resolved
from weavability.service.schemas.polling_schema import MOST_ITEMS, ChangesRequestSchema, KnownReport
from weavability.service.schemas.request_schemas import ValidationRequest
from weavability.textiles.field_marks import Deprecated, Since

_SCHEMA: Final = ChangesRequestSchema()
UNITS_OF_A_LINK: Final = 0.05
"""Work of a link that need not be judged again, beside that of reading what it holds."""

UNITS_OF_READING: Final = 1 / LONGEST_REQUEST
"""Of each byte that a link holds, to compare its tag."""

UNITS_OF_RESOLVING: Final = 4 / LONGEST_REQUEST
"""Of each byte more, to find what is to be judged: it costs that even if it is then refused."""

_PATH: Final = "/v1/validations/"


@dataclass(frozen=True, slots=True, kw_only=True)
class Changed:
    """A report that is no longer what the caller saw, or a link that cannot be opened any more."""

    index: Annotated[int, "Place among the items of the request, from 0"]
    link: Annotated[str, "The link as it was given"]
    etag: Annotated[str | None, "Entity tag of the report now; null if there is a problem"] = None
    verdict: Annotated[Verdict | None, "Verdict now; null if there is a problem"] = None
    codes: Annotated[
        tuple[str, ...] | None, "Codes of the findings now, to be sent with the next question"
    ] = None
    findings_added: Annotated[
        tuple[str, ...] | None, "Codes that the caller did not send; null if it sent no codes"
    ] = None
    findings_cleared: Annotated[
        tuple[str, ...] | None,
        "Codes that the caller sent and that are gone; null if it sent no codes",
    ] = None
    problem: Annotated[Problem | None, "Why the link cannot be judged any more; else null"] = None
    severities: Annotated[
        tuple[Severity, ...] | None,
        "The gravest severity of each of `codes`, in their order; null if there is a problem",
        Since("0.2"),
    ] = None
    loom_id: Annotated[
        str | None,
        "Name of the loom in the park; null if the link states the loom itself",
        Since("0.2"),
    ] = None
    cloth: Annotated[
        str | None, "The cloth in a line; null if there is a problem", Since("0.2")
    ] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Changes:
    """The reports that have changed."""

    ruleset: Annotated[
        str, "Digest of the rules, thresholds and default limits by which it was judged"
    ]
    requested: Annotated[int, "Reports that the request named", Since("0.2")]
    asked: Annotated[int, "Older name of `requested`", Deprecated()]
    items: Annotated[
        tuple[Changed, ...],
        "Those that have changed, in the order of the request; every other is as the caller saw it",
    ]
    caution: Annotated[CautionText, Since("0.2")]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Outcome:
    """The outcome of a link now."""

    etag: str
    verdict: Verdict
    codes: tuple[str, ...]
    severities: tuple[Severity, ...]
    loom_id: str | None
    cloth: str


class _Judge:
    """Judges the links of one request, the same link once."""

    def __init__(self, park: Park) -> None:
        self._park = park
        self._judged: dict[str, _Outcome] = {}
        self._used_up: UsedUpError | None = None

    def changed(self, index: int, known: KnownReport) -> Changed | None:
        """Return the change of a report; ``None`` if it is as the caller saw it."""
        next_item(bounded=True)
        try:
            outcome = self._outcome(known)
        except ConnectionResetError:
            raise
        except Exception as error:
            if isinstance(error, UsedUpError):
                self._used_up = error
            return Changed(index=index, link=known.link, problem=problem_of(error, index))
        if outcome is None:
            return None
        return Changed(
            index=index,
            link=known.link,
            etag=outcome.etag,
            verdict=outcome.verdict,
            codes=outcome.codes,
            findings_added=_without(outcome.codes, known.codes, known.codes),
            findings_cleared=_without(known.codes, outcome.codes, known.codes),
            severities=outcome.severities,
            loom_id=outcome.loom_id,
            cloth=outcome.cloth,
        )

    def _outcome(self, known: KnownReport) -> _Outcome | None:
        if self._used_up is not None:  # the rest stay closed: to open them is work too
            raise self._used_up
        spend(UNITS_OF_A_LINK)
        etag = known.etag.removeprefix("W/").strip('"')
        token = known.link.rpartition(_PATH)[2]
        if token in self._judged:
            found = self._judged[token]
            return None if found.etag == etag else found
        packed = opened(token)
        spend(len(packed) * UNITS_OF_READING)
        given = parse(packed)
        # A link of ours holds the canonical request: its tag needs no look at the cloth.
        if identity_of(packed, given, self._park) == etag:
            return None
        spend(len(packed) * UNITS_OF_RESOLVING)
        named = resolved(given, self._park)
        if named.etag == etag:
            return None
        self._judged[token] = found = _judge(named)
        return found


def _judge(named: ResolvedRequest[ValidationRequest]) -> _Outcome:
    """Run every rule, without set-up and remedies."""
    spend_order(named.request.construction)
    found = tuple(observe(validation.judge(named.request.construction, named.loom)))
    severities = dict(sorted(_gravest(found).items()))
    return _Outcome(
        etag=named.etag,
        verdict=verdict_of(found),
        codes=tuple(severities),
        severities=tuple(severities.values()),
        loom_id=named.request.loom_id,
        cloth=cloth_in_words(named.request.construction),
    )


def _gravest(found: Iterable[Observation]) -> dict[str, Severity]:
    """Return the gravest severity of each code."""
    ranks = list(Severity)
    gravest: dict[str, Severity] = {}
    for each in found:
        known = gravest.get(each.code, each.severity)
        gravest[each.code] = min(known, each.severity, key=ranks.index)
    return gravest


def _without(
    codes: tuple[str, ...] | None,
    others: tuple[str, ...] | None,
    remembered: tuple[str, ...] | None,
) -> tuple[str, ...] | None:
    """Return the ``codes`` that are not among the ``others``; ``None`` without a memory."""
    if remembered is None or codes is None or others is None:
        return None
    return tuple(sorted(set(codes) - set(others)))


_EXAMPLE_LINK: Final = _PATH + (pack(canonical_request(example_requests.VALIDATION)) or "")
_EXAMPLE: Final[dict[str, Any]] = {
    "items": [
        {
            "link": _EXAMPLE_LINK,
            "etag": "00000000000000000000000000000000",
            "codes": ["width.reed_space"],
        },
        {"link": _PATH + "v1.damaged", "etag": "11111111111111111111111111111111"},
    ]
}


@operation(
    "POST",
    "/v1/validation-changes",
    tag="Validations",
    body=_SCHEMA,
    answer=Changes,
    answer_words="The reports that have changed",
    examples={"dashboard": _EXAMPLE},
    problems=problems.OF_BODIES,
    quotes={"most_links": MOST_ITEMS},
)
def list_validation_changes() -> Response:
    """List those of many reports that have changed.

    For a dashboard that polls: a request holds up to {most_links:,} links, and only those are
    listed whose report is no longer the one that the entity tag names, because a loom's limits or
    the rules have changed. No rule runs for the others. The service stores nothing: it can state
    which findings were added and which are gone only for items that state the codes seen last. A
    link that can no longer be opened or judged, such as one to a loom that is no longer in the
    park, is listed with its own problem.
    """
    here = state.current()
    known = _SCHEMA.read(json_body(request, longest=here.settings.max_body_bytes)).items
    return json_answer(
        Changes(
            ruleset=validation.ruleset(),
            requested=len(known),
            asked=len(known),
            items=tuple(_changed(known, here.park)),
            caution=CAUTION,
        )
    )


def _changed(items: tuple[KnownReport, ...], park: Park) -> Iterator[Changed]:
    judge = _Judge(park)
    for index, known in enumerate(items):
        changed = judge.changed(index, known)
        if changed is not None:
            yield changed
