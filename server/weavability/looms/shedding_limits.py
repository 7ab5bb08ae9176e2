"""Limits of a shedding motion, resolved: shafts of a cam or dobby, hooks of a Jacquard."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from functools import cached_property
from math import inf
from typing import Final

from weavability.looms.default_limits import Defaults
from weavability.looms.harness_tie import TieSection, check_tie, hook_of_end
from weavability.looms.loom import Loom, Shedding, SheddingKind
from weavability.looms.loom_bounds import LOOM_BOUNDS
from weavability.looms.loom_numbers import SheddingNumbers
from weavability.textiles.assumptions import Grade, Ledger, ValueBand
from weavability.textiles.bounds import SPEED_PICKS_PER_MIN
from weavability.textiles.errors import InputError, pointing_below
from weavability.textiles.sentences import say

DENSEST_HARNESS_ENDS_PER_CM: Final = 80.0
"""The closest to which harnesses are usually tied, for silk; common practice, no source."""

NO_MOTION: Final[SheddingNumbers[float]] = SheddingNumbers(
    shafts=inf,
    max_healds_per_cm=inf,
    max_healds_per_shaft=inf,
    max_lift_picks=inf,
    is_jacquard=False,
    hooks=0,
    ends_per_hook=0,
    harness_ends_per_cm=0.0,
    selvedge_hooks=inf,
    tied_ends=0,
    cord_cm=0.0,
    hook_lift_cm=0.0,
    lift_is_known=False,
)
"""What rules read if no shedding motion is given: it limits nothing."""


@dataclass(frozen=True, kw_only=True)
class ShaftLimits:
    """Limits of a cam or dobby motion.

    Attributes:
        kind: ``SheddingKind.CAM`` or ``SheddingKind.DOBBY``.
        shafts: Heald shafts that the loom carries.
        max_repeat_picks: Longest lift repeat.
        max_speed_picks_per_min: Greatest speed of the shedding motion.
        max_healds_per_cm_per_shaft: Crowding limit of the healds.
        max_healds_per_shaft: Healds that fit on one shaft; infinite if no limit is stated.
    """

    kind: SheddingKind
    shafts: int
    max_repeat_picks: int
    max_speed_picks_per_min: float
    max_healds_per_cm_per_shaft: float
    max_healds_per_shaft: float

    @cached_property
    def numbers(self) -> SheddingNumbers[float]:
        """The limits in numbers."""
        return replace(
            NO_MOTION,
            shafts=self.shafts,
            max_healds_per_cm=self.max_healds_per_cm_per_shaft,
            max_healds_per_shaft=self.max_healds_per_shaft,
            max_lift_picks=self.max_repeat_picks,
        )


@dataclass(frozen=True, kw_only=True)
class JacquardLimits:
    """Limits of a Jacquard and its harness.

    Attributes:
        hooks: Hooks that lift ends of the ground.
        ends_per_hook: Ends tied to each hook; the most of any hook, if the tie is stated.
        harness_ends_per_cm: Density to which the harness is tied, in the reed.
        selvedge_hooks: Further hooks for the selvedges.
        tie: How the ends are tied to the hooks; empty if it is not stated.
        cord_cm: Height of the hooks above the comber board.
        hook_lift_cm: How high the hooks are lifted.
        lift_is_known: Whether height and lift are stated; if not, both are 0.
        max_repeat_picks: Longest design; infinite if no limit is stated.
        max_speed_picks_per_min: Greatest speed of the Jacquard.
    """

    hooks: int
    ends_per_hook: int
    harness_ends_per_cm: float
    selvedge_hooks: int
    tie: tuple[TieSection, ...]
    cord_cm: float
    hook_lift_cm: float
    lift_is_known: bool
    max_repeat_picks: float
    max_speed_picks_per_min: float

    @property
    def kind(self) -> SheddingKind:
        """The kind of shedding, as for shafts."""
        return SheddingKind.JACQUARD

    @cached_property
    def numbers(self) -> SheddingNumbers[float]:
        """The limits in numbers."""
        return replace(
            NO_MOTION,
            max_lift_picks=self.max_repeat_picks,
            is_jacquard=True,
            hooks=self.hooks,
            ends_per_hook=self.ends_per_hook,
            harness_ends_per_cm=self.harness_ends_per_cm,
            selvedge_hooks=self.selvedge_hooks,
            tied_ends=sum(section.ends for section in self.tie),
            cord_cm=self.cord_cm,
            hook_lift_cm=self.hook_lift_cm,
            lift_is_known=self.lift_is_known,
        )


def at_most(limit: float | None) -> float:
    """Return a greatest limit as a number: infinity if there is none."""
    return inf if limit is None else limit


SheddingLimits = ShaftLimits | JacquardLimits


def resolve_shedding(loom: Loom, defaults: Defaults) -> SheddingLimits:
    """Resolve the limits of the shedding motion of a loom.

    Raises:
        InputError: Shafts or hooks are missing, or the tie contradicts itself; pointers are
            relative to the loom.
    """
    if loom.shedding.kind is SheddingKind.JACQUARD:
        return _jacquard(loom, defaults.ledger)
    given = loom.shedding
    cam = given.kind is SheddingKind.CAM
    if given.shafts is None:
        raise _missing(given, "shafts", "the heald shafts that the loom carries, such as 8")
    return ShaftLimits(
        kind=given.kind,
        shafts=given.shafts,
        max_repeat_picks=defaults.whole(
            f"/shedding/{'max_repeat_picks' if cam else 'max_pattern_picks'}"
        ),
        max_speed_picks_per_min=_shedding_speed(loom, defaults.ledger),
        max_healds_per_cm_per_shaft=defaults.take("/shedding/max_healds_per_cm_per_shaft"),
        max_healds_per_shaft=at_most(given.max_healds_per_shaft),
    )


def _jacquard(loom: Loom, ledger: Ledger) -> JacquardLimits:
    given = loom.shedding
    if given.hooks is None:
        raise _missing(given, "hooks", "the hooks that lift ends of the ground, such as 2688")
    with pointing_below("/shedding/tie"):
        check_tie(given.tie, given.hooks)
    if given.tie:
        tied = hook_of_end(given.tie)
        ends_per_hook, ends = max(Counter(tied).values()), len(tied)
    else:
        ends_per_hook = _ends_per_hook(given, given.hooks, loom.reed_width_cm, ledger)
        ends = given.hooks * ends_per_hook
    density = float(f"{ends / loom.reed_width_cm:.6g}")
    cord_cm, hook_lift_cm, lift_is_known = _lift(given)
    return JacquardLimits(
        hooks=given.hooks,
        ends_per_hook=ends_per_hook,
        tie=given.tie,
        cord_cm=cord_cm,
        hook_lift_cm=hook_lift_cm,
        lift_is_known=lift_is_known,
        max_repeat_picks=at_most(given.max_pattern_picks),
        max_speed_picks_per_min=_shedding_speed(loom, ledger),
        harness_ends_per_cm=ledger.take(
            "/shedding/harness_ends_per_cm",
            given.harness_ends_per_cm,
            density,
            unit="ends/cm",
            reason=say(
                "assumption.jacquard.full_width_harness",
                "ends of the harness / reed width: harness tied to the full width",
            ),
            grade=Grade.ESTIMATE,
            band=ValueBand(density, max(density, DENSEST_HARNESS_ENDS_PER_CM)),
        ),
        selvedge_hooks=ledger.take(
            "/shedding/selvedge_hooks",
            given.selvedge_hooks,
            16,
            unit=None,
            reason=say("assumption.jacquard.selvedge_hooks", "[COMMON-PRACTICE]"),
            grade=Grade.COMMON_PRACTICE,
            band=ValueBand(8, 64),
        ),
    )


def _lift(given: Shedding) -> tuple[float, float, bool]:
    """Return height and lift of the hooks, and whether both are stated."""
    if given.cord_cm is None or given.hook_lift_cm is None:
        return 0.0, 0.0, False
    return given.cord_cm, given.hook_lift_cm, True


def _ends_per_hook(given: Shedding, hooks: int, reed_width_cm: float, ledger: Ledger) -> int:
    """Return the ends on a hook: as stated, by the density of the harness, else one."""
    usual = 1
    reason = say(
        "assumption.jacquard.one_repeat",
        "one repeat across the width; state it for a harness tied in several repeats",
    )
    most = int(LOOM_BOUNDS["/shedding/ends_per_hook"].most)
    if given.harness_ends_per_cm is not None:
        usual = min(max(1, round(given.harness_ends_per_cm * reed_width_cm / hooks)), most)
        reason = say("assumption.jacquard.ends_per_hook", "harness density x reed width / hooks")
    densest = min(int(DENSEST_HARNESS_ENDS_PER_CM * reed_width_cm / hooks), most)
    return ledger.take(
        "/shedding/ends_per_hook",
        given.ends_per_hook,
        usual,
        unit=None,
        reason=reason,
        grade=Grade.ESTIMATE,
        band=ValueBand(1, max(usual, densest)),
    )


def _shedding_speed(loom: Loom, ledger: Ledger) -> float:
    return ledger.take(
        "/shedding/max_speed_picks_per_min",
        loom.shedding.max_speed_picks_per_min,
        loom.max_speed_picks_per_min,
        unit="picks/min",
        reason=say(
            "assumption.shedding.own_speed",
            "the loom's own greatest speed: no lower one is stated for the shedding motion",
        ),
        grade=Grade.ESTIMATE,
        band=ValueBand(
            *SPEED_PICKS_PER_MIN.cut(
                0.5 * loom.max_speed_picks_per_min, loom.max_speed_picks_per_min
            )
        ),
    )


def _missing(shedding: Shedding, name: str, example: str) -> InputError:
    return InputError.of(
        f"/shedding/{name}",
        say(
            "fault.shedding.incomplete",
            "A {kind} loom needs shedding.{field}: {example}.",
            kind=shedding.kind,
            field=name,
            example=example,
        ),
        allowed="a whole number above 0",
    )
