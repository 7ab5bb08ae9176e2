"""Checks of the weft yarns: can this loom select, carry and survive them?"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from weavability.checks.finding import Observation, Severity, above, below
from weavability.checks.registry import check
from weavability.looms.carriers import InsertionSystem
from weavability.looms.fit import Fit
from weavability.looms.speed import WEFT_STRENGTH_ERROR_PCT
from weavability.textiles.thread_systems import coarsest_and_finest

STRENGTH_NOTE_PCT: Final = 25.0
STRENGTH_WARNING_PCT: Final = 40.0
_BREAKS: Final = "expect weft breaks. Run slower, use a softer brake or a stronger yarn."
MIXED_COUNTS_NOTE: Final = 2.0
MIXED_COUNTS_WARNING: Final = 4.0

WATER_REPELLING: Final = frozenset(
    {
        "polyester",
        "textured-polyester",
        "nylon",
        "polypropylene",
        "polyethylene",
        "acetate",
        "glass",
        "carbon",
    }
)
"""Fibres, by their key, of which filament weft can be carried by water."""


@check(
    "weft.selectors",
    compares="weft yarns in the order against the loom's weft selectors",
    severities=(Severity.ERROR,),
    formula="distinct yarns of the weft order",
    source="limit of the loom",
)
def selectors(fit: Fit) -> Iterator[Observation]:
    """Every weft yarn needs a selector of its own."""
    used, limit = fit.weft_selectors_used, fit.limits.weft_selectors
    if used > limit:
        yield Observation(
            severity=Severity.ERROR,
            message=f"{used} weft yarns are ordered; this loom selects among {limit}. Drop a "
            "colour or take a loom with more selectors.",
            pointer="/construction/weft/order",
            actual=used,
            limit=limit,
            unit="yarns",
        )


@check(
    "weft.linear_density",
    compares="linear density of each weft yarn against the loom's range",
    severities=(Severity.ERROR,),
    formula="tex of the yarn as it runs in the cloth",
    source="limit of the loom; ranges by insertion system: common practice, no source",
)
def linear_density(fit: Fit) -> Iterator[Observation]:
    """Clamps, nozzles and brakes serve a range of yarns."""
    low, high = fit.limits.min_weft_tex, fit.limits.max_weft_tex
    for run in fit.wefts:
        tex = run.yarn.linear_density_tex
        fine, coarse = below(tex, low), above(tex, high)
        if fine or coarse:
            yield Observation(
                severity=Severity.ERROR,
                message=f"Weft {run.key} has {tex:.4g} tex; this loom inserts {low:g}-{high:g} "
                "tex. Take another yarn or another loom.",
                pointer=f"/construction/weft/yarns/{run.key}",
                actual=tex,
                limit=low if fine else high,
                unit="tex",
                at_least=fine,
            )


@check(
    "weft.mixed_counts",
    compares="coarsest against finest weft yarn",
    severities=(Severity.WARNING, Severity.NOTE),
    formula="ratio of linear densities",
    source="note above 2, warning above 4: common practice, no source",
)
def mixed_counts(fit: Fit) -> Iterator[Observation]:
    """One brake, one clamp and one take-up serve all weft yarns."""
    coarse, fine = coarsest_and_finest(run.yarn for run in fit.wefts)
    ratio = coarse.linear_density_tex / fine.linear_density_tex
    if not above(ratio, MIXED_COUNTS_NOTE):
        return
    heavy = above(ratio, MIXED_COUNTS_WARNING)
    yield Observation(
        severity=Severity.WARNING if heavy else Severity.NOTE,
        message=f"The coarsest weft is {ratio:.1f} times the finest: set brake and tension for "
        "each selector, and expect "
        + ("misses and uneven pick spacing." if heavy else "uneven pick spacing."),
        pointer="/construction/weft/yarns",
        actual=ratio,
        limit=MIXED_COUNTS_WARNING if heavy else MIXED_COUNTS_NOTE,
        unit="times",
    )


@check(
    "weft.strength",
    compares="peak weft tension against the strength of the weft's weakest place",
    severities=(Severity.ERROR, Severity.WARNING, Severity.NOTE),
    formula="peak of T0 + mu v^2 + mu L a over the pick, and of the jerks v sqrt(E A mu); weakest "
    "place = mean strength x (1 - 3 CV)",
    source="mechanics of a moving thread; note from 25 %, warning from 40 %, error above 60 %: "
    "common practice, no source",
)
def strength(fit: Fit) -> Iterator[Observation]:
    """The weft must survive its insertion at its weakest place."""
    run = fit.hardest_weft
    use_pct = run.tension.strength_use_pct
    if below(use_pct, STRENGTH_NOTE_PCT):
        return
    severity, limit, advice = Severity.NOTE, STRENGTH_NOTE_PCT, "keep the brake soft."
    if above(use_pct, WEFT_STRENGTH_ERROR_PCT):
        severity, limit, advice = Severity.ERROR, WEFT_STRENGTH_ERROR_PCT, _BREAKS
    elif not below(use_pct, STRENGTH_WARNING_PCT):
        severity, limit, advice = Severity.WARNING, STRENGTH_WARNING_PCT, _BREAKS
    yield Observation(
        severity=severity,
        message=f"Weft {run.key} peaks at {run.tension.peak_tension_cn:.0f} cN at "
        f"{run.tension.at_deg:.0f} deg, {use_pct:.0f} % of its weakest place "
        f"({run.loaded.strained.weakest_strength_cn:.0f} cN): {advice}",
        pointer="/construction/requested_speed_picks_per_min",
        actual=use_pct,
        limit=limit,
        unit="%",
    )


@check(
    "weft.feeder_speed",
    compares="mean speed of the busiest weft feeder against its greatest",
    severities=(Severity.WARNING,),
    formula="picks/min x (reed width + extra weft per pick) x share of the picks",
    source="limit of the feeder; common practice, no source",
)
def feeder_speed(fit: Fit) -> Iterator[Observation]:
    """One feeder draws off only so fast; two in alternation halve it."""
    run = max(fit.wefts, key=lambda weft: weft.feeder_speed_m_per_min)
    speed, limit = run.feeder_speed_m_per_min, fit.limits.max_feeder_speed_m_per_min
    if above(speed, limit):
        free = fit.limits.weft_selectors - fit.weft_selectors_used
        helps = (
            f"two feeders in alternation would run at {speed / 2:.0f}."
            if free > 0 and not above(speed / 2, limit)
            else "run slower."
        )
        yield Observation(
            severity=Severity.WARNING,
            message=f"The feeder of weft {run.key} runs at {speed:.0f} m/min; its limit is "
            f"{limit:g}: {helps}",
            pointer="/construction/weft/order",
            actual=speed,
            limit=limit,
            unit="m/min",
        )


@check(
    "weft.unsuitable_for_system",
    compares="kind and fibre of each weft yarn against what the insertion system can carry",
    severities=(Severity.ERROR,),
    formula="water jet: filament of a fibre that repels water",
    source="published descriptions of water-jet weaving: hydrophobic filament only",
)
def unsuitable_for_system(fit: Fit) -> Iterator[Observation]:
    """A water jet carries only filament that does not drink the water."""
    if fit.limits.system is not InsertionSystem.WATER_JET:
        return
    for run in fit.wefts:
        drinks = [name for name, _ in run.yarn.fibre.components if name not in WATER_REPELLING]
        if run.yarn.kind == "filament" and not drinks:
            continue
        yield Observation(
            severity=Severity.ERROR,
            message=f"Weft {run.key} ({run.yarn.fibre.key}, {run.yarn.kind}) cannot be woven with "
            "a water jet, which takes only filament of fibres that repel water, such as "
            "polyester or nylon. Take a rapier or air-jet loom.",
            pointer=f"/construction/weft/yarns/{run.key}",
            actual=f"{run.yarn.fibre.key} {run.yarn.kind}",
            limit="water-repelling filament",
            unit=None,
        )
