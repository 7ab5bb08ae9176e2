"""Number, arrangement and width of the warp beams of a loom."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from weavability.looms.loom import BeamArrangement, Loom
from weavability.looms.loom_bounds import LOOM_BOUNDS
from weavability.textiles.assumptions import Grade, Ledger, ValueBand
from weavability.textiles.bounds import WIDTH_CM
from weavability.textiles.errors import InputError
from weavability.textiles.sentences import say

ABREAST_OVER_REED: Final = 1.25
"""Greatest width of all beams abreast over the reed width, common practice."""

MOST_STACKED: Final = 4
"""Stacked beams that are usual at most, common practice."""

_WIDTH_BAND: Final = ValueBand(0.95, 1.05)
"""The band of an assumed width, as multiples of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Beams:
    """The warp beams of a loom.

    Attributes:
        width_cm: Distance between the flanges of one beam.
    """

    count: int
    arrangement: BeamArrangement
    width_cm: float

    @property
    def abreast(self) -> int:
        """Beams side by side, which share the ends of a warp."""
        return self.count if self.arrangement is BeamArrangement.ABREAST else 1

    @property
    def let_offs(self) -> int:
        """Let-offs, each for a warp of its own."""
        return self.count if self.arrangement is BeamArrangement.STACKED else 1


def resolve_beams(loom: Loom, usual: Callable[[str], int], ledger: Ledger) -> Beams:
    """Return the beams of a loom; what is not stated is assumed.

    Args:
        loom: The loom as stated.
        usual: Takes a limit of the loom by its pointer, as stated or by its starting value.
        ledger: Takes a note of what is assumed.

    Raises:
        InputError: Number, arrangement and width contradict one another; pointers are relative to
            the loom.
    """
    given = loom.warp_beam
    if given.arrangement is None:
        count = usual("/warp_beam/count")
        arrangement = _usual(loom, count, ledger)
    else:
        count, arrangement = _count(loom, given.arrangement, ledger), given.arrangement
    return Beams(
        count=count,
        arrangement=arrangement,
        width_cm=_width_cm(loom, count, arrangement, ledger),
    )


def _count(loom: Loom, arrangement: BeamArrangement, ledger: Ledger) -> int:
    """Return the number of beams that are arranged as stated."""
    is_one = arrangement is BeamArrangement.ONE
    fewest, most = (1, 1) if is_one else (2, MOST_STACKED)
    count = ledger.take(
        "/warp_beam/count",
        loom.warp_beam.count,
        fewest,
        unit=None,
        reason=say(
            "assumption.warp_beam.fewest_of_arrangement",
            "the fewest beams that are arranged as stated, {arrangement}; [COMMON-PRACTICE]",
            arrangement=arrangement.value,
        ),
        grade=Grade.COMMON_PRACTICE,
        band=ValueBand(fewest, most),
    )
    if (count == 1) is not is_one:
        raise InputError.of(
            "/warp_beam/count",
            say(
                "fault.warp_beam.one_of_arrangement",
                "Arrangement {arrangement} means one beam.",
                arrangement=arrangement.value,
            )
            if is_one
            else say(
                "fault.warp_beam.several_of_arrangement",
                "Arrangement {arrangement} means two beams or more.",
                arrangement=arrangement.value,
            ),
            given=count,
            allowed="1" if is_one else "2 or more",
        )
    if arrangement is BeamArrangement.ABREAST and not _fit_abreast(loom, count):
        raise InputError.of(
            "/warp_beam/width_cm",
            say(
                "fault.warp_beam.no_room_abreast",
                "{beams} beams of this width have no room side by side behind a reed of "
                "{reed_width_cm:g} cm: state the distance between the flanges of one "
                "beam.",
                beams=count,
                reed_width_cm=loom.reed_width_cm,
            ),
            given=loom.warp_beam.width_cm,
            allowed=f"at most {ABREAST_OVER_REED * loom.reed_width_cm / count:g}",
        )
    return count


def _fit_abreast(loom: Loom, count: int) -> bool:
    width_cm = loom.warp_beam.width_cm or _width_in_reed_cm(loom, count)
    return width_cm * count <= ABREAST_OVER_REED * loom.reed_width_cm


def _width_in_reed_cm(loom: Loom, abreast: int) -> float:
    """Return the width of beams that share the reed width, at least what a loom may state."""
    return max(round(loom.reed_width_cm / abreast, 4), LOOM_BOUNDS["/warp_beam/width_cm"].least)


def _usual(loom: Loom, count: int, ledger: Ledger) -> BeamArrangement:
    """Note how the beams are taken to be arranged."""
    if count == 1:
        arrangement = BeamArrangement.ONE
        reason = say("assumption.warp_beam.one", "a single beam; [COMMON-PRACTICE]")
    elif _fit_abreast(loom, count):
        arrangement = BeamArrangement.ABREAST
        reason = say(
            "assumption.warp_beam.abreast",
            "several beams are taken to be side by side, let off at one speed; [COMMON-PRACTICE]",
        )
    else:
        arrangement = BeamArrangement.STACKED
        reason = say(
            "assumption.warp_beam.stacked",
            "beams of this width have no room side by side; [COMMON-PRACTICE]",
        )
    return ledger.note(
        "/warp_beam/arrangement",
        arrangement,
        unit=None,
        reason=reason,
        grade=Grade.COMMON_PRACTICE,
        other=BeamArrangement.STACKED,
    )


def _width_cm(loom: Loom, count: int, arrangement: BeamArrangement, ledger: Ledger) -> float:
    is_abreast = arrangement is BeamArrangement.ABREAST
    usual_cm = _width_in_reed_cm(loom, count if is_abreast else 1)
    return ledger.take(
        "/warp_beam/width_cm",
        loom.warp_beam.width_cm,
        usual_cm,
        unit="cm",
        reason=say(
            "assumption.warp_beam.shared_width",
            "flanges set to the reed width, which the beams abreast share; [COMMON-PRACTICE]",
        )
        if is_abreast
        else say("assumption.warp_beam.width", "flanges set to the reed width; [COMMON-PRACTICE]"),
        grade=Grade.COMMON_PRACTICE,
        band=ValueBand(
            *WIDTH_CM.cut(
                round(_WIDTH_BAND.low * usual_cm, 4), round(_WIDTH_BAND.high * usual_cm, 4)
            )
        ),
    )
