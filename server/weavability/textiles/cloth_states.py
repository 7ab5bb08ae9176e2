"""The three states of a cloth: in the loom, grey and finished.

* **loom state**: in the reed (width) and under the take-up's tension (picks);
* **grey**: off the loom, relaxed, unfinished; the state in which cover, mass and crimp are stated;
* **finished**: after finishing, by the stated shrinkages.

Only numbers here: what an order leaves open is settled in ``cloth_defaults``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from weavability.textiles.construction import Stage
from weavability.textiles.geometry import CrimpEstimate

CRIMP_ROUNDS: Final = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Shrinkages:
    """What is left of a length after each step, as factors.

    Attributes:
        width_kept: Finished width over grey width.
        length_kept: Finished length over grey length.
        relaxed_kept: Grey length over length on the loom.
    """

    width_kept: float
    length_kept: float
    relaxed_kept: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Sett:
    """Threads and width at one stage.

    Attributes:
        ends_per_cm: Ends per cm of width.
        picks_per_cm: Picks per cm of length.
        width_cm: Width of one panel.
    """

    ends_per_cm: float
    picks_per_cm: float
    width_cm: float


CrimpsOfSett = Callable[[float, float], CrimpEstimate]
"""The crimps that go with so many ends and picks per cm of grey cloth."""


def grey_state(
    stated: Sett, stage: Stage, shrinkages: Shrinkages, crimps: CrimpsOfSett
) -> tuple[Sett, CrimpEstimate]:
    """Bring a sett and a width to the grey state.

    Args:
        stated: As measured at ``stage``.
        stage: Where sett and width were measured.
        shrinkages: Of relaxation and finishing.
        crimps: The crimps of a grey sett.

    Returns:
        The grey sett, and the crimps that go with it.
    """
    width_factor = 1 / shrinkages.width_kept if stage is Stage.FINISHED else 1.0
    picks = stated.picks_per_cm / grey_length_factor(stage, shrinkages)
    crimp = crimps(stated.ends_per_cm / width_factor, picks)
    if stage is Stage.LOOM_STATE:
        # In the reed the weft lies straight, so the grey width needs the crimp, which needs the
        # grey sett: a few rounds bring the two together to well under the estimate's error.
        for _ in range(CRIMP_ROUNDS):
            crimp = crimps(stated.ends_per_cm * (1 + crimp.weft_crimp_pct / 100), picks)
        width_factor = 1 / (1 + crimp.weft_crimp_pct / 100)
    grey = Sett(
        ends_per_cm=stated.ends_per_cm / width_factor,
        picks_per_cm=picks,
        width_cm=stated.width_cm * width_factor,
    )
    return grey, crimp


def grey_length_factor(stage: Stage, shrinkages: Shrinkages) -> float:
    """Return grey length over the length stated at ``stage``, above 0."""
    if stage is Stage.FINISHED:
        return 1 / shrinkages.length_kept
    return shrinkages.relaxed_kept if stage is Stage.LOOM_STATE else 1.0
