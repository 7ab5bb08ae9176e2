"""The way out of an order that is not weavable as it is: every remedy that can be proved.

Single changes first; if none clears a finding, or none makes the order weavable, two or three
together. What
was tried in vain is listed, and so are the other looms that weave the order as it is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import inf
from typing import Annotated, Final

from weavability.answers.altered import Pricing
from weavability.answers.caution import CAUTION
from weavability.answers.changes_together import OF_SEARCH, Search
from weavability.answers.costs import refuse_strange_yarns
from weavability.answers.dominance import FAR_POINTS
from weavability.answers.field_words import (
    CautionText,
    LoomName,
    OrderReference,
    RejectedIfAssumed,
    RulesetDigest,
    Since,
)
from weavability.answers.loom_match import CostSummary, LoomMatch
from weavability.answers.loom_matching import match_looms
from weavability.answers.prices import Prices
from weavability.answers.rounding import tidy
from weavability.answers.trials import Trials
from weavability.answers.tried_in_vain import NoRemedy, not_found, on_another_loom
from weavability.answers.validation import judge, ruleset
from weavability.answers.verdicts import Codes, codes_of, verdict_of
from weavability.answers.written_remedies import RemedyWriter
from weavability.checks.facts import pair_of
from weavability.checks.finding import Remedy, Verdict
from weavability.checks.registry import observe_pair
from weavability.looms.loom import Loom
from weavability.textiles.construction import Construction

MOST_LOOMS_SEARCHED: Final = 8
"""Looms of which the remedies are sought; the best ranked of those that are named."""

UNITS_OF_A_LOOM: Final = 50
"""Units of work that a search on one loom counts as; see the bound on the work of a request."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoomRemedies:
    """The remedies of an order on one loom."""

    loom_id: LoomName
    verdict: Annotated[Verdict, "The answer for the order as it is"]
    codes: Annotated[Codes, "Codes of its findings; `/v1/checks/{code}` explains each"]
    rejected_if_assumed: Annotated[
        tuple[str, ...],
        "Codes for which the order as it is is not weavable if what is assumed is so",
        Since("0.2"),
    ]
    remedies: Annotated[
        tuple[Remedy, ...],
        "Changes that were proved, the smallest first of those that clear an error or make a "
        "warning of one, last of them those that leave a rejection to what is assumed, then of the "
        "others. Two fields are changed together only if no single change clears the finding, or "
        f"none within {FAR_POINTS:g} points makes the order weavable without leaving that; three "
        "only if no two make it weavable",
    ]
    not_found: Annotated[
        tuple[NoRemedy, ...],
        "Errors and warnings that no remedy clears, and errors that each have one if what "
        "clears all of them makes another cloth",
    ]
    trials: Annotated[int, "Changed orders that were judged by every check"]
    trials_used_up: Annotated[
        bool, "Whether the trials of a search were used up: something may be left untried"
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherLoom:
    """A loom that weaves the order as it is, or with fewer errors than the loom requested."""

    loom_id: Annotated[str | None, "Name of the loom"]
    verdict: Annotated[Verdict, "The answer for this loom"]
    codes: Annotated[Codes, "Codes of its findings"]
    rejected_if_assumed: RejectedIfAssumed
    hours: Annotated[
        float,
        "Running and tying in further warps, as the ranking of looms compares them",
        Since("0.2"),
    ]
    costs: Annotated[
        CostSummary | None,
        "What the order costs on it; null if the request states no prices",
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class RemedyReport:
    """The remedies of an order, loom by loom, and the looms that need none."""

    ruleset: RulesetDigest
    reference: OrderReference
    looms: Annotated[
        tuple[LoomRemedies, ...],
        "The loom requested, or the best ranked of those that are named or in the park, that on "
        "which the smallest change makes the order weavable first",
    ]
    not_searched: Annotated[
        tuple[str | None, ...],
        f"Names of the looms, of more than {MOST_LOOMS_SEARCHED}, on which no remedies were sought "
        "because others ranked before them; ask for them by name",
    ]
    other_looms: Annotated[
        tuple[OtherLoom, ...], "Looms on which the order is weavable as it is, the best first"
    ]
    caution: CautionText


def search_remedies(
    construction: Construction,
    looms: Sequence[Loom],
    others: Sequence[Loom] = (),
    *,
    prices: Prices | None = None,
) -> RemedyReport:
    """Search for the remedies of an order.

    Args:
        construction: The cloth as ordered.
        looms: The looms on which remedies are sought; of several, the best ranked.
        others: Looms that are only judged, as the order is.
        prices: What the mill pays, if the change of cost is to be reported.

    Raises:
        InputError: Something cannot be read; pointers start with ``/construction``, ``/loom`` or
            ``/prices``.
    """
    if prices is not None:
        refuse_strange_yarns(construction, prices)
    chosen, left_out = list(looms), []
    if len(chosen) > 1:
        best_first = match_looms(construction, chosen).matches
        chosen = [looms[each.index] for each in best_first[:MOST_LOOMS_SEARCHED]]
        left_out = [each.loom_id for each in best_first[MOST_LOOMS_SEARCHED:]]
        others = looms
    searched = [_on_loom(construction, loom, prices) for loom in chosen]
    named = {loom.loom_id for loom in chosen} if len(looms) == 1 else set()
    others = [loom for loom in others if loom.loom_id not in named]
    ranked = match_looms(construction, others, prices=prices).matches if others else ()
    other_looms = tuple(_weavable(ranked))
    is_woven = other_looms or any(one.verdict is not Verdict.NOT_WEAVABLE for one in searched)
    judged = [*chosen, *(loom for loom in others if loom not in chosen)]
    if is_woven or len(judged) > 1:
        said = on_another_loom(construction, judged, ranked, is_woven=bool(is_woven))
        searched = [_with_said(one, said) for one in searched]
    return tidy(
        RemedyReport(
            ruleset=ruleset(),
            reference=construction.reference,
            looms=tuple(sorted(searched, key=_nearest)),
            not_searched=tuple(left_out),
            other_looms=other_looms,
            caution=CAUTION,
        )
    )


def _with_said(on: LoomRemedies, said: Callable[[NoRemedy], NoRemedy]) -> LoomRemedies:
    return replace(on, not_found=tuple(map(said, on.not_found)))


def _nearest(on: LoomRemedies) -> tuple[bool, float]:
    """Return how far the smallest change is that makes the order weavable on a loom; 0 if it is.

    Before it, whether the order is not weavable even then if what is assumed is so.
    """
    as_it_is = [] if on.verdict is Verdict.NOT_WEAVABLE else [(bool(on.rejected_if_assumed), 0.0)]
    changed = (
        (bool(each["rejected_if_assumed"]), each["distance"])
        for each in on.remedies
        if each["verdict"] != Verdict.NOT_WEAVABLE
    )
    return min((*as_it_is, *changed), default=(True, inf))


def _weavable(ranked: Sequence[LoomMatch]) -> Iterator[OtherLoom]:
    for each in ranked:
        if each.verdict is not Verdict.NOT_WEAVABLE:
            yield OtherLoom(
                loom_id=each.loom_id,
                verdict=each.verdict,
                codes=each.codes,
                rejected_if_assumed=each.rejected_if_assumed,
                hours=each.hours,
                costs=each.costs,
            )


def _on_loom(construction: Construction, loom: Loom, prices: Prices | None) -> LoomRemedies:
    fit = judge(construction, loom)
    pair = pair_of(fit)
    found = observe_pair(pair)
    pricing = None if prices is None else Pricing(loom=loom, prices=prices)
    search = Search(Trials(fit, pair.facts, found, OF_SEARCH))
    search.run()
    search.trials.announce()
    verdict, doubts = verdict_of(found), search.trials.weighed.doubts
    writer = RemedyWriter(trials=search.trials, pricing=pricing)
    return LoomRemedies(
        loom_id=loom.loom_id,
        verdict=verdict,
        codes=codes_of(found),
        rejected_if_assumed=() if verdict is Verdict.NOT_WEAVABLE else tuple(sorted(doubts)),
        remedies=tuple(search.remedies(writer)),
        not_found=tuple(not_found(search)),
        trials=len(search.trials.proofs),
        trials_used_up=search.is_cut_short,
    )
