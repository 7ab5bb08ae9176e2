"""Elastane in a yarn: how far it is drafted, and what is left of its stretch."""

from __future__ import annotations

from typing import Final

from weavability.textiles.assumptions import Grade, Ledger, ValueBand
from weavability.textiles.designation_parts import Designation
from weavability.textiles.errors import InputError
from weavability.textiles.fibres import ELASTANE, Fibre
from weavability.textiles.sentences import say

ELASTANE_DRAFT: Final = 3.0
"""Draft of the elastane in a core-spun or covered yarn; common practice, no source."""

ELASTANE_DRAFT_BAND: Final = ValueBand(2.0, 4.0)

MOST_BARE_DRAFT: Final = 4.0
"""Draft to which elastane without a cover is stretched at most on its way into a cloth; common
practice, no source."""

LEFT_TO_STRETCH: Final = 0.9
"""Share of its stretch at break that elastane is drafted to at most."""


def with_elastane(
    stated_draft: float | None,
    read: Designation,
    fibre: Fibre,
    tex: float,
    breaks_at_pct: float,
    ledger: Ledger,
) -> tuple[float, Fibre, float | None]:
    """Return linear density and fibre with the elastane drafted, and the draft if it is known.

    Elastane alone runs thinner by its draft; it is taken at rest if none is stated. A yarn that is
    written as ``Ne 16 + 78 dtex`` is made of hard yarns and, last, of elastane, which adds its own
    linear density over its draft. One count is that of the whole yarn, and its elastane that of the
    shares of the blend.

    Args:
        stated_draft: Length of the elastane in the yarn over its length at rest; ``None`` if it is
            not stated.
        read: The designation of the yarn.
        fibre: Its fibre or blend.
        tex: Its linear density after folding, the elastane at rest.
        breaks_at_pct: Elongation at which bare elastane breaks.
        ledger: Takes a note of an assumed draft.
    """
    elastane_pct = fibre.share_pct(ELASTANE)
    if elastane_pct == 100.0:
        most = max(1.0, min(MOST_BARE_DRAFT, LEFT_TO_STRETCH * (1.0 + breaks_at_pct / 100.0)))
        times = ledger.take(
            "/elastane_draft",
            stated_draft,
            1.0,
            unit=None,
            reason=say(
                "assumption.elastane.at_rest",
                "elastane taken at rest, as its count is written; fed at a draft "
                "it is thinner by that; [COMMON-PRACTICE]",
            ),
            grade=Grade.COMMON_PRACTICE,
            band=ValueBand(1.0, most),
        )
        return tex / times, fibre, times
    if not elastane_pct or len(read.folded_tex) < 2 or read.resultant_stated:
        return tex, fibre, stated_draft if elastane_pct else None
    draft = ledger.take(
        "/elastane_draft",
        stated_draft,
        ELASTANE_DRAFT,
        unit=None,
        reason=say(
            "assumption.elastane.draft",
            "draft of the elastane in the yarn; [COMMON-PRACTICE]",
        ),
        grade=Grade.COMMON_PRACTICE,
        band=ELASTANE_DRAFT_BAND,
    )
    *hard, bare = read.folded_tex
    drafted, whole = bare / draft, read.linear_density_tex
    kept = (sum(hard) + drafted) / whole
    if fibre.shares_assumed:
        fibre = fibre.with_share(ELASTANE, 100 * drafted / (sum(hard) + drafted))
    return tex * kept, fibre, draft


def stretched(tenacity: float, elongation: float, draft: float) -> tuple[float, float]:
    """Return tenacity and elongation of bare elastane that is stretched already.

    Args:
        tenacity: At rest, per linear density.
        elongation: At break, at rest, in per cent.
        draft: Length as it runs over its length at rest.

    Raises:
        InputError: It would break before; the pointer is relative to the yarn.

    >>> stretched(8.0, 500.0, 3.0)
    (24.0, 100.0)
    """
    left = (100.0 + elongation) / draft - 100.0
    if left <= 0.0:
        raise InputError.of(
            "/elastane_draft",
            say(
                "fault.elastane.overstretched",
                "Elastane that breaks at {breaking_elongation_pct:g} % does not stretch "
                "to {draft:g} times.",
                breaking_elongation_pct=elongation,
                draft=draft,
            ),
            given=draft,
            allowed=f"below {1 + elongation / 100:g}",
        )
    return tenacity * draft, left
