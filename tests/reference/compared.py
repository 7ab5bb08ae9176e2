"""A published value beside the computed one, as ``data/evidence.json`` holds it."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Final

from weavability.answers.published_evidence import EvidenceKind, EvidenceValue, LeftOutValue
from weavability.textiles.sources import CITED, sources

FOLDER: Final = Path(__file__).parent
Case = Mapping[str, Any]
Figure = float | str


@cache
def read(name: str) -> Any:
    """Return the content of a file of published values."""
    return json.loads((FOLDER / name).read_text("utf-8"))


@cache
def citations() -> Mapping[str, str]:
    """Return the citation of every key that a published value may name as its source."""
    of_tests: dict[str, str] = tomllib.loads((FOLDER / "sources.toml").read_text("utf-8"))
    return {key: source.citation for key, source in sources().items()} | of_tests


def cited(text: str) -> str:
    """Replace every ``[KEY]`` of a source by its citation.

    Raises:
        KeyError: A key has no source.
    """
    return CITED.sub(lambda key: citations()[key[1]], text)


@dataclass(frozen=True, kw_only=True)
class Subject:
    """What is compared on one subject.

    Attributes:
        against: The main sources, as a line of the table in the chapter; the values name all.
        result: What came out, beyond how many values agree.
    """

    subject: str
    about: str
    values: Sequence[EvidenceValue]
    against: str
    result: str = ""


def compared(
    case: str,
    what: str,
    *,
    source: str,
    published: Figure,
    computed: Figure,
    kind: EvidenceKind = EvidenceKind.OUTSIDE,
    tolerance: float | None = None,
    unit: str | None = None,
    agrees: bool | None = None,
    note: str | None = None,
) -> EvidenceValue:
    """Put two figures, or two statements, side by side.

    Args:
        case: Name of the case.
        what: What is compared, with the inputs.
        source: Who published it; keys in square brackets are written out.
        published: The published figure or statement.
        computed: The computed one.
        kind: Where the published one comes from.
        tolerance: Greatest difference that counts as agreement.
        unit: Unit of both.
        agrees: Whether they agree, if it is not that the figures are near or the texts the same.
        note: What explains a difference.
    """
    difference = share = None
    if not isinstance(published, str) and not isinstance(computed, str):
        difference = computed - published
        share = _settled(100 * difference / published, 100.0) if published else None
        near = abs(difference) <= (tolerance or 0.0) * (1 + 1e-9) + 1e-9 * abs(published)
    else:
        near = published == computed
    return EvidenceValue(
        case=case,
        what=what,
        source=cited(source),
        kind=kind,
        published=_short(published),
        computed=_short(computed),
        unit=unit or None,
        deviation=None if difference is None else _settled(difference, published),
        deviation_pct=share,
        tolerance=None if tolerance is None else float(f"{tolerance:.4g}"),
        agrees=near if agrees is None else agrees,
        note=note or None,
    )


def compared_lists(
    case: str, what: str, *, published: Sequence[float], computed: Sequence[float], **more: Any
) -> Iterator[EvidenceValue]:
    """Put the figures of two lists side by side, each its own value."""
    assert len(published) == len(computed), case
    tolerances = more.pop("tolerance", None)
    for place, (one, other) in enumerate(zip(published, computed, strict=True), start=1):
        allowed = tolerances[place - 1] if isinstance(tolerances, Sequence) else tolerances
        part = f", value {place} of {len(published)}" if len(published) > 1 else ""
        yield compared(
            case, f"{what}{part}", published=one, computed=other, tolerance=allowed, **more
        )


def left_out() -> Iterator[LeftOutValue]:
    """Yield what was published and is not compared, as far as it is listed by hand."""
    for each in read("left_out.json"):
        yield LeftOutValue(
            case=each["id"],
            what=each["what"],
            source=cited(each["source"]),
            reason=each["why"],
        )


def _short(value: Any) -> Any:
    """Round a figure to seven digits, so that it is the same on every machine."""
    return value if isinstance(value, str) else float(f"{float(value):.7g}")


def _settled(difference: float, published: Any) -> float:
    """Round a difference; what lies below the seventh digit of the figure is none."""
    return 0.0 if abs(difference) <= 1e-8 * abs(published) else float(f"{difference:.3g}")
