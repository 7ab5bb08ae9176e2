"""The register of checks: what each compares, how severe it is, and where its limit comes from."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from importlib import import_module
from typing import Annotated, Final

from weavability.checks.finding import Finding, Observation, Severity
from weavability.looms.fit import Fit

CheckFunction = Callable[[Fit], Iterable[Observation]]

SUBJECTS: Final = (
    "width",
    "reed",
    "shedding",
    "weave",
    "sett",
    "weft",
    "insertion",
    "picks",
    "warp",
    "colour",
    "order",
)
"""The subjects, each a module of this package, in the order in which findings are listed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckInfo:
    """What is told of a check to those who ask."""

    code: Annotated[str, "`subject.topic`, stable for ever"]
    subject: Annotated[str, "What the check is about"]
    says: Annotated[str, "The rule, in a sentence"]
    compares: Annotated[str, "What is compared with what"]
    severities: Annotated[
        tuple[Severity, ...], "The severities that it can give, the heaviest first"
    ]
    formula: Annotated[str, "How the compared value is computed"]
    source: Annotated[str, "Source of formula and limit"]


_REGISTER: dict[str, tuple[CheckInfo, CheckFunction]] = {}


def check(
    code: str,
    *,
    compares: str,
    severities: tuple[Severity, ...],
    formula: str,
    source: str,
) -> Callable[[CheckFunction], CheckFunction]:
    """Register a check function; its docstring's first line is the sentence that it says.

    Args:
        code: ``subject.topic``.
        compares: What is held against what.
        severities: Every severity that the function can yield.
        formula: How the compared value is computed.
        source: Where formula and limit come from.
    """

    def register(function: CheckFunction) -> CheckFunction:
        says = (function.__doc__ or "").strip().splitlines()[0]
        info = CheckInfo(
            code=code,
            subject=code.split(".")[0],
            says=says,
            compares=compares,
            severities=severities,
            formula=formula,
            source=source,
        )
        _REGISTER[code] = (info, function)
        return function

    return register


@cache
def _register() -> tuple[tuple[CheckInfo, CheckFunction], ...]:
    for subject in SUBJECTS:
        import_module(f"weavability.checks.{subject}")
    rank = {subject: place for place, subject in enumerate(SUBJECTS)}
    return tuple(sorted(_REGISTER.values(), key=lambda entry: rank[entry[0].subject]))


def all_checks() -> tuple[CheckInfo, ...]:
    """Every check, by subject."""
    return tuple(info for info, _ in _register())


def find_check(code: str) -> CheckInfo | None:
    """The check with a code, or ``None``."""
    return next((info for info in all_checks() if info.code == code), None)


def run_checks(fit: Fit) -> Iterator[Finding]:
    """Yield every finding on one cloth on one loom."""
    return (finding_of(info, seen) for info, seen in observe(fit))


def observe(fit: Fit) -> Iterator[tuple[CheckInfo, Observation]]:
    """Yield what every check sees, with the check that sees it."""
    for info, function in _register():
        for seen in function(fit):
            yield info, seen


def finding_of(info: CheckInfo, seen: Observation) -> Finding:
    """The finding that a check's observation amounts to."""
    return Finding(
        code=info.code,
        severity=seen.severity,
        message=seen.message,
        pointer=seen.pointer,
        actual=seen.actual,
        limit=seen.limit,
        unit=seen.unit,
        margin_pct=seen.margin_pct,
        source=info.source,
    )
