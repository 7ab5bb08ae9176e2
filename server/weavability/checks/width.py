"""Checks of the width: does the cloth lie within the reed, and is the reed used?"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from weavability.checks.finding import Observation, Severity, above, below
from weavability.checks.registry import check
from weavability.looms.carriers import InsertionSystem
from weavability.looms.fit import Fit

LOW_USE_PCT: Final = 65.0
"""Reed use under which most of a loom's capacity stands idle; common practice, no source."""


@check(
    "width.reed_space",
    compares="reed width needed by all panels against the reed width of the loom",
    severities=(Severity.ERROR,),
    formula="reed width = panels x grey width x (1 + weft crimp) + gaps for the cutters",
    source="weft lies straight at beat-up: definition of crimp on cloth length",
)
def reed_space(fit: Fit) -> Iterator[Observation]:
    """The cloth must lie within the reed."""
    needed, limit = fit.cloth.widths.reed_cm, fit.limits.reed_width_cm
    if above(needed, limit):
        yield Observation(
            severity=Severity.ERROR,
            message=f"The cloth needs {needed:.1f} cm in the reed; the loom has {limit:.1f} cm. "
            "Take a wider loom, fewer panels or a narrower cloth.",
            pointer="/construction/width_cm",
            actual=needed,
            limit=limit,
            unit="cm",
        )


@check(
    "width.below_minimum",
    compares="reed width in use against the least to which the loom can be narrowed",
    severities=(Severity.ERROR,),
    formula="least width as the loom states it, else a share of its reed width",
    source="limit of the loom; shares by insertion system: common practice, no source",
)
def below_minimum(fit: Fit) -> Iterator[Observation]:
    """The loom cannot be narrowed without end."""
    used, limit = fit.cloth.widths.reed_cm, fit.limits.min_reed_width_cm
    if below(used, limit):
        yield Observation(
            severity=Severity.ERROR,
            message=f"The cloth takes {used:.1f} cm in the reed; this loom cannot be narrowed "
            f"below {limit:.1f} cm. Take a narrower loom or weave more panels side by side.",
            pointer="/construction/width_cm",
            actual=used,
            limit=limit,
            unit="cm",
            at_least=True,
        )


@check(
    "width.reed_use_low",
    compares="reed width in use against 65 % of the loom's reed width",
    severities=(Severity.NOTE,),
    formula="use = reed width in use / reed width of the loom",
    source="common practice, no source",
)
def reed_use_low(fit: Fit) -> Iterator[Observation]:
    """A wide loom is wasted on a narrow cloth."""
    use_pct = 100 * fit.cloth.widths.reed_cm / fit.limits.reed_width_cm
    if below(use_pct, LOW_USE_PCT):
        yield Observation(
            severity=Severity.NOTE,
            message=f"Only {use_pct:.0f} % of the reed is used; a narrower loom, or more panels "
            "side by side, would weave more cloth per hour.",
            pointer="/construction/width_cm",
            actual=use_pct,
            limit=LOW_USE_PCT,
            unit="%",
            at_least=True,
        )


@check(
    "width.panels",
    compares="panels woven side by side against what fits the reed and the insertion system",
    severities=(Severity.WARNING, Severity.NOTE),
    formula="one more panel fits when (panels + 1) x panel width + panels x gap <= reed width",
    source="common practice, no source",
)
def panels(fit: Fit) -> Iterator[Observation]:
    """Panels side by side need cut selvedges between them, and may use the reed better."""
    cloth = fit.cloth
    if cloth.panels > 1 and fit.limits.system is InsertionSystem.SHUTTLE:
        yield Observation(
            severity=Severity.WARNING,
            message=f"{cloth.panels} panels on a shuttle loom have cut edges inside: plan a leno "
            "or fused edge at every cut.",
            pointer="/construction/panels",
            actual=cloth.panels,
            limit=1,
            unit="panels",
        )
    room = fit.panel_room
    if room > cloth.panels:
        yield Observation(
            severity=Severity.NOTE,
            message=f"{room} panels of this width fit side by side in the reed, "
            f"{cloth.widths.panel_gap_cm:g} cm apart; {cloth.panels} "
            f"{'is' if cloth.panels == 1 else 'are'} planned.",
            pointer="/construction/panels",
            actual=cloth.panels,
            limit=room,
            unit="panels",
        )
