"""What finishing usually does to a cloth, by fibre and finish: ``data/finishes.toml``."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources
from typing import Any, Final

from weavability.textiles.assumptions import Grade, ValueBand
from weavability.textiles.construction import Finish
from weavability.textiles.sentences import Sentence, say, say_row
from weavability.textiles.sources import CITED


@dataclass(frozen=True, slots=True, kw_only=True)
class UsualChange:
    """A change in finishing that is expected if none is stated, in per cent.

    Attributes:
        value: The change.
        band: The range in which it is expected.
        grade: How well it is supported.
        reason: Where it comes from.
    """

    value: float
    band: ValueBand
    grade: Grade
    reason: Sentence


NOT_KNOWN: Final = UsualChange(
    value=0.0,
    band=ValueBand(0.0, 30.0),
    grade=Grade.FROM_MEMORY,
    reason=say("part.finishing_not_known", "not known: state it"),
)
"""A shrinkage of which nothing is known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishedFibre:
    """What finishing does to cloth that is mostly of one fibre.

    Attributes:
        usual: The finish that is meant by finished cloth if none is stated.
        mass_change_pct: Gain of mass, or loss if it is negative.
        width_shrinkage_pct: By finish; for ``None``, if none is stated.
        length_shrinkage_pct: Likewise.
    """

    usual: Finish
    mass_change_pct: UsualChange
    width_shrinkage_pct: Mapping[Finish | None, UsualChange]
    length_shrinkage_pct: Mapping[Finish | None, UsualChange]


@cache
def _data() -> Mapping[str, Any]:
    text = resources.files("weavability").joinpath("data/finishes.toml").read_text("utf-8")
    return tomllib.loads(text)


@cache
def finished_fibre(fibre: str) -> FinishedFibre:
    """Return what finishing does to cloth of a fibre, by its key; nothing is known of some."""
    rows = dict(_data())
    sources: Mapping[str, str] = rows.pop("sources")
    row = next((row for row in rows.values() if fibre in row["fibres"]), rows["unknown"])

    usual = Finish(row["usual"])

    def by_finish(name: str) -> Mapping[Finish | None, UsualChange]:
        known = {each: _change(row[each][name], sources) for each in Finish if each in row}
        found: dict[Finish | None, UsualChange] = {
            each: _of(fibre, each, known.get(each, NOT_KNOWN)) for each in Finish
        }
        found[None] = found[usual]
        if "unstated" in row:
            unstated = _change(row["unstated"][name], sources)
            found[None] = replace(
                unstated,
                reason=say(
                    "assumption.finishing.unstated",
                    "{fibre} cloth whose finish is not stated, taken as {finish}: {source}",
                    fibre=fibre,
                    finish=usual,
                    source=unstated.reason,
                ),
            )
        return found

    return FinishedFibre(
        usual=usual,
        mass_change_pct=_change(row["mass_change_pct"], sources),
        width_shrinkage_pct=by_finish("width_shrinkage_pct"),
        length_shrinkage_pct=by_finish("length_shrinkage_pct"),
    )


def _of(fibre: str, finish: Finish, change: UsualChange) -> UsualChange:
    reason = say(
        "assumption.finishing.usual",
        "{fibre} cloth, {finish}: {source}",
        fibre=fibre,
        finish=finish.replace("_", "-"),
        source=change.reason,
    )
    return replace(change, reason=reason)


def _key(source: str) -> str:
    return f"assumption.finishing.source.{source.replace(' ', '_')}"


def patterns() -> Mapping[str, str]:
    """Return the text of every source, by key."""
    return {_key(source): text for source, text in _data()["sources"].items()}


def _change(cell: tuple[float, float, float, str], sources: Mapping[str, str]) -> UsualChange:
    value, least, most, source = cell
    text = sources[source]
    return UsualChange(
        value=value,
        band=ValueBand(least, most),
        grade=_GRADES.get(CITED.findall(text)[0], Grade.SOURCE),
        reason=say_row(_key(source), text),
    )


_GRADES: Final[Mapping[str, Grade]] = {
    "COMMON-PRACTICE": Grade.COMMON_PRACTICE,
    "FROM-MEMORY": Grade.FROM_MEMORY,
}
"""By the first source of a value; any other is a source."""
