"""Yarn at the edges that does not come from the warp beam: leno ends and catch cords."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, NamedTuple

from weavability.looms.carriers import InsertionSystem
from weavability.textiles.assumptions import Grade, Ledger, ValueBand
from weavability.textiles.construction import Selvedge
from weavability.textiles.selvedge_facts import SelvedgeFacts
from weavability.textiles.sentences import Sentence, say


class _Usual(NamedTuple):
    """Ends that a loom of one insertion system usually has, each with its band, and why."""

    leno_ends_per_side: int
    leno_band: ValueBand
    catch_cord_ends: int
    catch_cord_band: ValueBand
    reason: Sentence


_NONE: Final = ValueBand(0, 0)
_USUAL: Final[Mapping[InsertionSystem, _Usual]] = MappingProxyType(
    {
        InsertionSystem.RAPIER: _Usual(
            *(2, ValueBand(0, 4), 12, ValueBand(6, 24)),
            say(
                "assumption.selvedge.ends_of_rapier",
                "a rapier loom binds the cut weft by a leno and holds it in catch cords at both "
                "sides; [COMMON-PRACTICE]",
            ),
        ),
        InsertionSystem.PROJECTILE: _Usual(
            *(0, ValueBand(0, 2), 0, _NONE),
            say(
                "assumption.selvedge.ends_of_projectile",
                "a projectile loom tucks the weft into the selvedge; [COMMON-PRACTICE]",
            ),
        ),
        InsertionSystem.AIR_JET: _Usual(
            *(2, ValueBand(2, 4), 8, ValueBand(4, 16)),
            say(
                "assumption.selvedge.ends_of_air_jet",
                "an air-jet loom binds the cut weft by a leno and holds it in a catch cord at the "
                "far side; [COMMON-PRACTICE]",
            ),
        ),
        InsertionSystem.WATER_JET: _Usual(
            *(2, ValueBand(2, 4), 6, ValueBand(2, 16)),
            say(
                "assumption.selvedge.ends_of_water_jet",
                "a water-jet loom binds the cut weft by a leno and holds it in catch cords; "
                "[COMMON-PRACTICE]",
            ),
        ),
        InsertionSystem.NEEDLE: _Usual(
            *(0, ValueBand(0, 2), 0, ValueBand(0, 2)),
            say(
                "assumption.selvedge.ends_of_needle",
                "a needle loom knits the loops of the weft together at the edge; [COMMON-PRACTICE]",
            ),
        ),
        InsertionSystem.SHUTTLE: _Usual(
            *(0, ValueBand(0, 2), 0, _NONE),
            say(
                "assumption.selvedge.ends_of_shuttle",
                "a shuttle returns the weft at the edge; [COMMON-PRACTICE]",
            ),
        ),
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeYarn:
    """Ends beside the warp.

    Attributes:
        leno_ends_per_side: At each side of each panel.
        catch_cord_ends: Of the whole loom.
    """

    leno_ends_per_side: int
    catch_cord_ends: int


def edge_yarn(
    stated: Selvedge, selvedge: SelvedgeFacts, system: InsertionSystem, ledger: Ledger
) -> EdgeYarn:
    """Return the leno and catch-cord ends of a cloth on a loom.

    Args:
        stated: The selvedge as the order states it.
        selvedge: What follows from it.
        system: Insertion system of the loom, which decides what is usual.
        ledger: Takes a note of what is assumed; pointers are relative to the request.
    """
    usual = _USUAL[system]
    at = ledger.below("/construction/selvedge")
    ends = EdgeYarn(
        leno_ends_per_side=at.take(
            "/leno_ends_per_side",
            stated.leno_ends_per_side,
            usual.leno_ends_per_side,
            unit=None,
            reason=usual.reason,
            grade=Grade.COMMON_PRACTICE,
            band=usual.leno_band,
        ),
        catch_cord_ends=at.take(
            "/catch_cord_ends",
            stated.catch_cord_ends,
            usual.catch_cord_ends,
            unit=None,
            reason=usual.reason,
            grade=Grade.COMMON_PRACTICE,
            band=usual.catch_cord_band,
        ),
    )
    if selvedge.ends or ends.leno_ends_per_side or ends.catch_cord_ends:
        at.take(
            "/yarn",
            stated.yarn,
            selvedge.yarn_key,
            unit=None,
            reason=say(
                "assumption.selvedge.first_warp_yarn",
                "selvedge, leno and catch cords are of the warp's first yarn; [COMMON-PRACTICE]",
            ),
            grade=Grade.COMMON_PRACTICE,
        )
    return ends
