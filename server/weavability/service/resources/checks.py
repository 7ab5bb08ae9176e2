"""``/v1/checks``: the checks, their limits and the sources of these."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Annotated

from flask import Response

from weavability.answers import validation
from weavability.answers.caution import CAUTION
from weavability.answers.field_words import CautionText
from weavability.checks.registry import CheckInfo, all_checks, find_check
from weavability.service.http import problems
from weavability.service.http.edition import edition
from weavability.service.http.json_or_page import JSON_OR_HTML, data_or_page
from weavability.service.http.problems import ProblemError
from weavability.service.http.suggestions import did_you_mean
from weavability.service.operations import Parameter, operation
from weavability.service.pages import checks_page
from weavability.textiles.field_marks import Since
from weavability.textiles.sentences import say


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckList:
    """Every check."""

    ruleset: Annotated[
        str, "Digest of the rules, thresholds and default limits: changes when one of them does"
    ]
    checks: Annotated[tuple[CheckInfo, ...], "The checks, by subject"]
    caution: Annotated[CautionText, Since("0.2")]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownCheck(CheckInfo):
    """Public description of one check, with the caution."""

    caution: Annotated[CautionText, Since("0.2")]


@operation(
    "GET",
    "/v1/checks",
    tag="Checks",
    answer=CheckList,
    answer_words="Every check",
    media_types=JSON_OR_HTML,
    conditional=True,
)
def list_checks() -> Response:
    """List the checks.

    A finding's `code` names one of these; codes are stable for ever. A browser gets a page.
    """
    ruleset = validation.ruleset()
    return data_or_page(
        edition(),
        compute=lambda: CheckList(ruleset=ruleset, checks=all_checks(), caution=CAUTION),
        render=lambda: checks_page.render_list(all_checks()),
    )


@operation(
    "GET",
    "/v1/checks/{code}",
    tag="Checks",
    answer=ShownCheck,
    answer_words="The check",
    parameters=(
        Parameter(
            name="code",
            place="path",
            description="Code of the check, `subject.topic`.",
            example="width.reed_space",
            pattern=r"^[a-z]+\.[a-z_]+$",
        ),
    ),
    problems=(problems.NOT_FOUND,),
    media_types=JSON_OR_HTML,
    conditional=True,
)
def show_check(code: str) -> Response:
    """Show one check.

    It states formula, source, thresholds, and the severities that a finding can have. A browser
    gets a page.
    """
    found = find_check(code)
    if found is None:
        hint = did_you_mean(code, (each.code for each in all_checks()))
        raise ProblemError(
            kind=problems.NOT_FOUND,
            detail=say(
                "problem.unknown_check",
                "There is no check with this code.{hint} GET /v1/checks lists all.",
                hint=hint,
            ),
        )
    described = {each.name: getattr(found, each.name) for each in fields(found)}
    return data_or_page(
        edition(),
        compute=lambda: ShownCheck(**described, caution=CAUTION),
        render=lambda: checks_page.render(found),
    )
