"""A mill's own constructions, put on the loom that they are tried on.

The rows are in ``reference/mill_constructions.csv`` with their source. Weave, width and the stage
of the sett are not recorded: a planned contraction of 13.5 % of the beam length or more is taken to
mean plain, less than 11 % to mean 2/2 twill, and between them either; each is judged as measured in
the loom, in the grey and when finished.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Final

from weavability.answers.report import Report
from weavability.answers.validation import assess
from weavability.looms.carriers import InsertionSystem
from weavability.looms.loom import Insertion, Loom, Shedding, SheddingKind
from weavability.textiles.construction import Construction, Stage, ThreadSystem
from weavability.textiles.notation import parse_weave
from weavability.textiles.units import CM_PER_INCH
from weavability.textiles.yarns import Yarn

Row = Mapping[str, str]

FILE: Final = Path(__file__).parent.parent / "reference" / "mill_constructions.csv"
PLAIN_FROM_PCT: Final = 13.5
TWILL_BELOW_PCT: Final = 11.0
STAGES: Final = (Stage.LOOM_STATE, Stage.GREY, Stage.FINISHED)
LOOM: Final = Loom(
    insertion=Insertion(system=InsertionSystem.RAPIER),
    reed_width_cm=190.0,
    max_speed_picks_per_min=500.0,
    shedding=Shedding(kind=SheddingKind.DOBBY, shafts=16),
)


@cache
def rows(*, unread: bool = False) -> tuple[Row, ...]:
    """The constructions whose counts can be read, or the others."""
    lines = [line for line in FILE.read_text("utf-8").splitlines() if not line.startswith("#")]
    return tuple(
        row for row in csv.DictReader(lines) if unread != bool(row["warp_ne"] and row["weft_ne"])
    )


def plain_rows() -> list[Row]:
    return [row for row in rows() if float(row["planned_contraction_median"]) >= PLAIN_FROM_PCT]


def likely_weaves(row: Row) -> tuple[str, ...]:
    """The weave that the planned contraction speaks for, or both, plain first, if for none."""
    planned = float(row["planned_contraction_median"])
    if planned >= PLAIN_FROM_PCT:
        return ("plain",)
    return ("2/2 twill Z",) if planned < TWILL_BELOW_PCT else ("plain", "2/2 twill Z")


def judged(row: Row, stage: Stage, weave: str = "plain") -> Report:
    return assess(
        Construction(
            stage=stage,
            warp=_threads(row["warp_ne"], row["epi"]),
            weft=_threads(row["weft_ne"], row["ppi"]),
            weave=parse_weave(weave),
            width_cm=150.0,
        ),
        LOOM,
    )


def _threads(count: str, per_inch: str) -> ThreadSystem:
    yarn = Yarn(designation=f"Ne {count}", fibre="cotton")
    return ThreadSystem(yarns={"A": yarn}, threads_per_cm=float(per_inch) / CM_PER_INCH)
