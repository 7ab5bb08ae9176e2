"""What the validation says of a setting of speed and width for which rates are computed.

A request about rates may state a whole construction, or a weft and a width alone. What it leaves
out is filled in by a plain cloth that strains nothing, and only checks of weft, width and speed
count then. Every setting is judged by the checks of the validation itself.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from weavability.answers.columns import SEVERITY_RANKS, judge_columns
from weavability.checks.codes import CheckCode
from weavability.checks.finding import Finding, Severity
from weavability.checks.registry import run_checks
from weavability.looms.fit import fit_cloth
from weavability.looms.loom import Loom
from weavability.looms.loom_limits import LoomLimits
from weavability.textiles.cloth import cloth_facts
from weavability.textiles.construction import Construction, Selvedge, ThreadSystem
from weavability.textiles.notation import parse_weave
from weavability.textiles.yarns import Yarn

STATED_WEFT: Final = "weft"
"""Key of a weft that is stated beside or in place of those of a construction."""

_STRONG: Final = Yarn(linear_density_tex=20.0, fibre="polyester", tenacity_cn_per_tex=100.0)
_WIDTH: Final = frozenset({CheckCode.WIDTH_REED_SPACE, CheckCode.WIDTH_BELOW_MINIMUM})
_OF_WEFT: Final = frozenset({CheckCode.INSERTION_WEFT_SPEED, CheckCode.INSERTION_CRAWL})
_OF_COUNTS: Final = frozenset(
    code
    for code in CheckCode
    if code.value.startswith(("insertion.", "weft."))
    # The plain weave of a cloth that is filled in is nobody's.
    and code is not CheckCode.INSERTION_DOUBLE_PICK
)


_OF_SETTING: Final = ("width.", "insertion.", "weft.", "shedding.")


def limits_setting(code: CheckCode, severity: Severity) -> bool:
    """Return whether a finding is against a setting: an error, or a warning of speed or width.

    Other warnings of reed, sett and weave are the cloth's.

    >>> limits_setting(CheckCode.WEFT_STRENGTH, Severity.WARNING)
    True
    >>> limits_setting(CheckCode.SETT_JAMMED, Severity.ERROR)
    True
    >>> limits_setting(CheckCode.REED_NOT_IN_STOCK, Severity.WARNING)
    False
    """
    is_of_setting = severity is Severity.WARNING and code.value.startswith(_OF_SETTING)
    return severity is Severity.ERROR or is_of_setting


@dataclass(frozen=True, slots=True, kw_only=True)
class RatedCloth:
    """The cloth that a request about rates is judged on.

    Attributes:
        construction: The cloth, as stated or filled in.
        reed_width_cm: Its own reed width.
        counted: The checks that count; ``None`` for all, if a construction is stated.
        pointers: Where the request states what a finding points at, the longest pointer first.
    """

    construction: Construction
    reed_width_cm: float
    counted: frozenset[CheckCode] | None
    pointers: tuple[tuple[str, str], ...]

    def at(self, *, speed_picks_per_min: float | None, reed_width_cm: float) -> Construction:
        """Return the cloth with another speed and width; other setts and yarns stay."""
        one = self.construction
        width_cm = one.width_cm
        if reed_width_cm != self.reed_width_cm:
            width_cm *= reed_width_cm / self.reed_width_cm
        return replace(one, width_cm=width_cm, requested_speed_picks_per_min=speed_picks_per_min)

    def counts(self, code: CheckCode) -> bool:
        """Return whether a check counts."""
        return self.counted is None or code in self.counted

    def pointed(self, finding: Finding) -> Finding:
        """Point a finding, and what it rests on, at the fields of the request."""
        values = {
            name: self._as_stated(value) if isinstance(value, str) else value
            for name, value in finding.message_values.items()
        }
        return replace(
            finding,
            pointer=self._as_stated(finding.pointer),
            message=self._as_stated(finding.message),
            message_values=values,
            rests_on=tuple(map(self._as_stated, finding.rests_on)),
        )

    def _as_stated(self, text: str) -> str:
        """Write the pointers in a text as those of the request."""
        for judged, stated in self.pointers:
            text = re.sub(rf"{re.escape(judged)}(?![\w])", stated, text)
        return text


def rated_cloth(
    construction: Construction | None,
    weft: Yarn | None,
    *,
    own_width_cm: float | None,
    reed_width_cm: float,
    pointers: tuple[tuple[str, str], ...],
) -> RatedCloth:
    """Return the cloth of a request about rates.

    Args:
        construction: As stated, if it is.
        weft: A weft that is stated beside it, or alone.
        own_width_cm: Reed width of the construction.
        reed_width_cm: Reed width of the request, for a cloth that is filled in.
        pointers: See :class:`RatedCloth`.
    """
    at_weft = ((f"/construction/weft/yarns/{STATED_WEFT}", "/weft"),) if weft else ()
    if construction is not None and own_width_cm is not None:
        if weft is not None:
            wefts = replace(construction.weft, yarns={STATED_WEFT: weft}, order=None)
            construction = replace(construction, weft=wefts)
        return RatedCloth(
            construction=construction,
            reed_width_cm=own_width_cm,
            counted=None,
            pointers=(*at_weft, *pointers),
        )
    return RatedCloth(
        construction=_plain(weft or _STRONG, reed_width_cm),
        reed_width_cm=reed_width_cm,
        counted=_WIDTH | (_OF_COUNTS if weft else _without_weft()),
        pointers=(*at_weft, *pointers, ("/construction/width_cm", "/reed_width_cm")),
    )


def _without_weft() -> frozenset[CheckCode]:
    return frozenset(
        code for code in _OF_COUNTS if code.value.startswith("insertion.") and code not in _OF_WEFT
    )


def _plain(weft: Yarn, reed_width_cm: float) -> Construction:
    def threads(key: str, yarn: Yarn) -> ThreadSystem:
        return ThreadSystem(yarns={key: yarn}, threads_per_cm=10.0, crimp_pct=0.0)

    return Construction(
        warp=threads("A", _STRONG),
        weft=threads(STATED_WEFT, weft),
        weave=parse_weave("plain"),
        width_cm=reed_width_cm,
        selvedge=Selvedge(ends_per_side=0),
    )


def findings_at(
    rated: RatedCloth,
    limits: LoomLimits,
    *,
    speed_picks_per_min: float | None,
    reed_width_cm: float,
) -> tuple[Finding, ...]:
    """Return what the validation finds at a setting, without remedies.

    Raises:
        InputError: The construction cannot be judged.
    """
    cloth = rated.at(speed_picks_per_min=speed_picks_per_min, reed_width_cm=reed_width_cm)
    found = run_checks(fit_cloth(cloth_facts(cloth), limits))
    return tuple(rated.pointed(one) for one in found if rated.counts(one.code))


def beyond_at(
    rated: RatedCloth,
    loom: Loom,
    settings: Sequence[tuple[float | None, float]],
    *,
    driven: bool,
) -> list[tuple[CheckCode, ...]]:
    """Return the checks that refuse each setting, and those of speed and width that warn of it.

    Args:
        rated: The cloth.
        loom: The loom.
        settings: Speed in picks/min, if one is requested, and reed width in cm.
        driven: Whether tension and motion are given for the requested speed, and so judged at it,
            also if the loom does not reach it.

    Raises:
        InputError: The construction cannot be judged at one of them.
    """
    cloths = [rated.at(speed_picks_per_min=speed, reed_width_cm=width) for speed, width in settings]
    judged = judge_columns(cloths, [loom], driven=driven)
    for error in judged.refused.values():
        raise error
    severities = {rank: severity for severity, rank in SEVERITY_RANKS.items()}
    return [
        tuple(
            code
            for code, rank in zip(judged.codes, row, strict=True)
            if rank and rated.counts(code) and limits_setting(code, severities[rank])
        )
        for row in judged.severities[:, 0, :].tolist()
    ]
