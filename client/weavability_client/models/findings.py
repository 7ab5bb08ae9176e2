"""What the checks find, what was assumed, and the words for both."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from enum import StrEnum
from math import isclose

from weavability_client._json import members
from weavability_client._printable import printable
from weavability_client._record import Scalar
from weavability_client.models._generated import (
    Alteration,
    AssumptionFields,
    FindingFields,
    RemedyFields,
)
from weavability_client.tables import cell, money


class Verdict(StrEnum):
    """The answer in a word."""

    WEAVABLE = "weavable"
    WEAVABLE_WITH_WARNINGS = "weavable_with_warnings"
    NOT_WEAVABLE = "not_weavable"


class Severity(StrEnum):
    """How much a finding weighs."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


class Remedy(RemedyFields):
    """A change that clears findings; its fields are those of ``RemedyFields``."""

    __slots__ = ()

    def applied(self, request: Mapping[str, object]) -> dict[str, object]:
        """Return a copy of a validation request in which every change of it is made.

        Prices of yarns that are gone or become another yarn are left out.

        Args:
            request: ``{construction, loom | loom_id}`` in the API's names; of a dataclass, what its
                ``to_json()`` returns.

        Example:
            >>> remedy = Remedy(
            ...     pointer="/construction/width_cm", to_value=150, message="", clears=()
            ... )
            >>> remedy.applied({"construction": {"weave": "plain", "width_cm": 160}})
            {'construction': {'weave': 'plain', 'width_cm': 150}}
        """
        result = dict(request)
        for pointer, value in self._writes():
            result = _with(result, _names(pointer), value)
        return _with_prices_that_hold(request, result)

    def unlike(self, request: Mapping[str, object]) -> str | None:
        """Return the first field that it changes from another value than a request has, if any.

        Only counts and numbers are compared: others may be stated in several forms.
        """
        for each in self.changes or ():
            node: object = request
            for name in _names(each.pointer):
                node = (members(node) or {}).get(name)
            if not _is_like(each.from_value, node):
                return each.pointer
        return None

    def altered(self) -> str:
        """Return what else it changes on one line, as far as it shows, and what it brings."""
        seen = (each for each in self.alters or () if not _reads_alike(each))
        parts = list(map(_from_to, seen))
        if self.brings:
            parts.append(f"brings {', '.join(self.brings)}")
        return "; ".join(parts)

    def to_row(self) -> dict[str, Scalar]:
        """Return it on one flat row: every field that it writes, and what else it changes."""
        costs = {each.name: each for each in self.alters or () if each.name.startswith("cost")}
        per_m = costs.get("cost_per_m")
        others = [_from_to(each) for each in self.alters or () if each.name not in costs]
        return {
            "distance": self.distance,
            "verdict": None if self.verdict is None else str(self.verdict),
            "message": self.message,
            "clears": " ".join(self.clears),
            "leaves_notes": " ".join(self.leaves_notes or ()),
            "leaves_warnings": " ".join(self.leaves_warnings or ()),
            "rejected_if_assumed": " ".join(self.rejected_if_assumed or ()),
            "brings": " ".join(self.brings or ()),
            "changes": json.dumps(dict(self._writes()), ensure_ascii=False),
            "alters": "; ".join(others),
            "cost_per_m_before": per_m.from_value if per_m else None,
            "cost_per_m_after": per_m.to_value if per_m else None,
        }

    def _writes(self) -> list[tuple[str, object]]:
        """Return every pointer and its value; an older service lists no changes."""
        if not self.changes:
            return [(self.pointer, self.to_value)]
        return [(each.pointer, each.to_value) for each in self.changes]


def _names(pointer: str) -> list[str]:
    return [name.replace("~1", "/").replace("~0", "~") for name in pointer.split("/")[1:]]


def _is_like(before: object, stated: object) -> bool:
    """Return whether a stated value can be what a remedy changes; the service rounds numbers."""
    if isinstance(before, str) and isinstance(stated, str) and before[-1:].isdigit():
        return before.split() == stated.split()
    if isinstance(before, int | float) and isinstance(stated, int | float):
        return isclose(before, stated, rel_tol=1e-4)
    return True


def _from_to(altered: Alteration) -> str:
    """Say what else changes; to more figures if it would otherwise read as no change."""
    before, after = (_amount(altered, each) for each in (altered.from_value, altered.to_value))
    if _reads_alike(altered):
        before, after = f"{altered.from_value:.6g}", f"{altered.to_value:.6g}"
    # The service calls the mass of the grey cloth by no more than its name.
    name = f"grey {altered.name}" if altered.name == "mass_g_per_m2" else altered.name
    named = "cost" if _is_cost(altered) else name.removesuffix(_ending(altered.unit))
    # Hours are in the name, and the unit of a cover factor says nothing to whoever uses it.
    unit = f" {altered.unit}" if named != name else ""
    return f"{named.replace('_', ' ')} {before} to {after}{unit}"


def _reads_alike(altered: Alteration) -> bool:
    return _amount(altered, altered.from_value) == _amount(altered, altered.to_value)


def _ending(unit: str) -> str:
    """Return how the name of a figure in a unit ends."""
    return "_" + unit.replace("²", "2").replace("/", "_per_").replace("%", "pct")


def _is_cost(altered: Alteration) -> bool:
    return altered.name.startswith("cost")


def _amount(altered: Alteration, value: float) -> str:
    return money(value) if _is_cost(altered) else cell(value)


class Finding(FindingFields):
    """A finding of a check; its fields are those of ``FindingFields``."""

    __slots__ = ()

    def __str__(self) -> str:
        """Return severity, code and message on one line."""
        return printable(f"{self.severity} {self.code}: {self.message}")

    def lines(self) -> list[str]:
        """Return the finding, and below it every remedy, or what was tried in vain."""
        lines = [str(self), *(f"  remedy: {each.message}" for each in self.remedies)]
        if self.tried:
            tried = ", ".join(self.tried)
            none = tried.startswith("nothing")
            lines.append(
                "  " + ("no remedy; tried " if none else "no single remedy; tried: ") + tried
            )
        return lines


class Assumption(AssumptionFields):
    """A value that was assumed; its fields are those of ``AssumptionFields``."""

    __slots__ = ()

    def __str__(self) -> str:
        """Return the field, the value and the reason on one line."""
        unit = f" {self.unit}" if self.unit else ""
        return printable(f"{self.pointer} = {self.value}{unit}: {self.reason}")


def _with_prices_that_hold(
    before: Mapping[str, object], after: dict[str, object]
) -> dict[str, object]:
    """Return a request without prices of yarns that are gone or other ones than they were."""
    prices = members(after.get("prices")) or {}
    per_kg = members(prices.get("yarn_per_kg"))
    if per_kg is None:
        return after
    kept = {
        name: price
        for name, price in per_kg.items()
        if _count_of(before, name) in (None, _count_of(after, name))
    }
    return {**after, "prices": {**prices, "yarn_per_kg": kept}}


def _count_of(request: Mapping[str, object], priced: str) -> tuple[object, ...] | None:
    """Return how the count of a yarn such as "weft A" is stated; None if there is no such yarn.

    Leno ends and catch cords, "catch cord A", are of a yarn of the warp.
    """
    kind, _, key = priced.rpartition(" ")
    system = "weft" if kind == "weft" else "warp"
    node: object = request
    for name in ("construction", system, "yarns", key):
        node = (members(node) or {}).get(name)
    yarn = members(node)
    return None if yarn is None else (yarn.get("designation"), yarn.get("linear_density_tex"))


def _with(node: Mapping[str, object], names: Sequence[str], value: object) -> dict[str, object]:
    """Return a copy of an object with the member at a path set; parts that lack are made.

    One that is set to nothing is left out.
    """
    name, *rest = names
    inner = _with(members(node.get(name)) or {}, rest, value) if rest else value
    if inner is None:
        return {key: each for key, each in node.items() if key != name}
    return {**node, name: inner}
