"""Draw what a request about weft insertion asks for: a pick with its hardest weft."""

from __future__ import annotations

from collections.abc import Iterable

from weavability.answers.insertion_rate import RateCase, RateRequest, resolve_rate_request
from weavability.answers.rate_findings import limits_setting
from weavability.checks.finding import Finding, Severity
from weavability.drawing.insertion_curve import RequestedSpeed, insertion_svg
from weavability.looms.loom import Loom
from weavability.looms.speed import LoadedWeft
from weavability.looms.weft_insertion import speed_limit
from weavability.textiles.errors import InputError
from weavability.textiles.sentences import say


def draw_insertion(request: RateRequest, loom: Loom) -> str:
    """Draw a pick over the crank circle, with the weft that uses most of its strength.

    Args:
        request: What is known of weft, width and speed; a weft or a construction is needed.
        loom: The loom as stated.

    Returns:
        An SVG document, at the speed that the least of all limits allows.

    Raises:
        InputError: Something cannot be read, or no weft is stated; pointers are relative to the
            request.
    """
    case = resolve_rate_request(request, loom)
    if not case.wefts:
        raise InputError.of(
            "/weft",
            say(
                "fault.insertion_rate.drawing_needs_weft",
                "Give weft, or a construction: the drawing shows the tension of the weft.",
            ),
            allowed='a yarn such as {"designation": "Ne 20", "fibre": "cotton"}',
        )
    width_cm = case.reed_width_cm
    slowest = speed_limit(case.speed_limits(reed_width_cm=width_cm))
    speed = slowest.picks_per_min
    found = [one for one in case.findings() if one.severity is not Severity.NOTE]
    is_slower = case.wished_picks_per_min is not None and speed < case.wished_picks_per_min
    hardest = _hardest_weft(case, speed)
    return insertion_svg(
        hardest.motion,
        hardest.strained,
        speed_picks_per_min=speed,
        reed_width_cm=width_cm,
        requested=RequestedSpeed(case.wished_picks_per_min, slowest.name.value)
        if is_slower and case.wished_picks_per_min is not None
        else None,
        beyond=_named(one for one in found if limits_setting(one.code, one.severity)),
        not_shown=_named(one for one in found if not limits_setting(one.code, one.severity)),
    )


def _named(findings: Iterable[Finding]) -> list[str]:
    return [f"{one.code.value} ({one.severity.value})" for one in findings]


def _hardest_weft(case: RateCase, speed: float) -> LoadedWeft:
    def strength_use_pct(weft: LoadedWeft) -> float:
        tension = weft.tension(speed_picks_per_min=speed, reed_width_cm=case.reed_width_cm)
        return tension.strength_use_pct

    return max((weft.loaded for weft in case.wefts), key=strength_use_pct)
