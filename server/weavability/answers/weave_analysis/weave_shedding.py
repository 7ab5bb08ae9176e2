"""The shedding motion that is to weave a weave, resolved: shafts, or the hooks of a Jacquard."""

from __future__ import annotations

from dataclasses import dataclass, replace

from weavability.looms.default_limits import take_limit
from weavability.looms.loom import Shedding, SheddingKind
from weavability.looms.loom_numbers import SheddingNumbers
from weavability.looms.shedding_limits import NO_MOTION, at_most
from weavability.textiles.assumptions import Ledger
from weavability.textiles.errors import InputError
from weavability.textiles.sentences import say


@dataclass(frozen=True, slots=True, kw_only=True)
class ShaftsForWeave:
    """A cam or dobby motion.

    Attributes:
        kind: ``SheddingKind.CAM`` or ``SheddingKind.DOBBY``.
        shafts: Its heald shafts.
        max_lift_picks: Longest lift repeat of the cam, longest lift plan of the dobby.
        max_healds_per_cm_per_shaft: Crowding limit of the healds; infinite if the ends per cm in
            the reed, which it is compared with, are not known.
        max_healds_per_shaft: Infinite if it is not stated.
    """

    kind: SheddingKind
    shafts: int
    max_lift_picks: int
    max_healds_per_cm_per_shaft: float
    max_healds_per_shaft: float

    @property
    def numbers(self) -> SheddingNumbers[float]:
        """The limits in numbers."""
        return replace(
            NO_MOTION,
            shafts=self.shafts,
            max_healds_per_cm=self.max_healds_per_cm_per_shaft,
            max_healds_per_shaft=self.max_healds_per_shaft,
            max_lift_picks=self.max_lift_picks,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class HooksForWeave:
    """A Jacquard.

    Attributes:
        hooks: Hooks that lift ends of the ground.
        max_lift_picks: Longest design; infinite if it is not stated.
        ends_per_hook: Ends tied to each hook; 0 if they are not stated.
        harness_ends_per_cm: Density to which the harness is tied; 0 if it is not stated.
    """

    hooks: int
    max_lift_picks: float
    ends_per_hook: int
    harness_ends_per_cm: float

    @property
    def kind(self) -> SheddingKind:
        """The kind of shedding, as for shafts."""
        return SheddingKind.JACQUARD

    @property
    def numbers(self) -> SheddingNumbers[float]:
        """The limits in numbers."""
        return replace(
            NO_MOTION,
            max_lift_picks=self.max_lift_picks,
            is_jacquard=True,
            hooks=self.hooks,
            ends_per_hook=self.ends_per_hook,
            harness_ends_per_cm=self.harness_ends_per_cm,
        )


def resolve_motion(
    given: Shedding, ledger: Ledger, *, has_sett_in_reed: bool
) -> ShaftsForWeave | HooksForWeave:
    """Resolve a shedding motion, with the starting values that its kind has.

    Raises:
        InputError: Shafts or hooks are missing; pointers are relative to the request.
    """
    if given.kind is SheddingKind.JACQUARD:
        return HooksForWeave(
            hooks=_needed(given, "hooks", given.hooks),
            max_lift_picks=at_most(given.max_pattern_picks),
            ends_per_hook=0 if given.ends_per_hook is None else given.ends_per_hook,
            harness_ends_per_cm=0.0
            if given.harness_ends_per_cm is None
            else given.harness_ends_per_cm,
        )
    shafts = _needed(given, "shafts", given.shafts)
    crowding, is_cam = given.max_healds_per_cm_per_shaft, given.kind is SheddingKind.CAM
    return ShaftsForWeave(
        kind=given.kind,
        shafts=shafts,
        max_healds_per_cm_per_shaft=take_limit(
            ledger, "/shedding/max_healds_per_cm_per_shaft", crowding
        )
        if has_sett_in_reed
        else at_most(crowding),
        max_lift_picks=int(
            take_limit(ledger, "/shedding/max_repeat_picks", given.max_repeat_picks)
            if is_cam
            else take_limit(ledger, "/shedding/max_pattern_picks", given.max_pattern_picks)
        ),
        max_healds_per_shaft=at_most(given.max_healds_per_shaft),
    )


def _needed(given: Shedding, name: str, stated: int | None) -> int:
    if stated is None:
        raise InputError.of(
            f"/shedding/{name}",
            say(
                "fault.weave_request.shedding_incomplete",
                "A {kind} needs shedding.{field}.",
                kind=given.kind,
                field=name,
            ),
            allowed="a whole number above 0",
        )
    return stated
