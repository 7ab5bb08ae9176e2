"""Published constructions, each put on a loom that is meant for it.

The rows are in ``reference/fabrics.json`` with their sources. Their looms are unknown but for
six, so each gets a permissive rapier loom: a quarter wider than the cloth, a dobby of 20 shafts,
a weft range that holds the row's weft, and the usual limits for the rest. What it may not be
generous with is what is tried here: how close a cloth may be set.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any, Final

from weavability.answers.report import Report
from weavability.answers.validation import assess
from weavability.looms.carriers import InsertionSystem
from weavability.looms.loom import Band, Insertion, Loom, Shedding, SheddingKind
from weavability.textiles.construction import Construction, Finishing, ThreadSystem
from weavability.textiles.notation import parse_weave
from weavability.textiles.weave_matrix import Weave
from weavability.textiles.yarns import Yarn

Row = Mapping[str, Any]

REFERENCE: Final = Path(__file__).parent.parent / "reference"
SHAFTS: Final = 20
WIDER: Final = 1.25
USUAL_WIDTH_CM: Final = 100.0
"""Where a row states none: nothing that is tried here depends on it."""


@dataclass(frozen=True)
class Reading:
    """How a printed weave is read, and why so."""

    notation: str
    why: str
    rows: tuple[str, ...] = ()

    def weave(self) -> Weave:
        return Weave.from_rows(self.rows) if self.rows else parse_weave(self.notation)


AS_PRINTED: Final = ("plain", "2/1 twill", "2/2 twill", "3/1 twill", "3/3 twill", "3/3 hopsack")

READINGS: Final[Mapping[str, Reading]] = {
    "5-end weft sateen": Reading(
        "5-end sateen move 2", "2 and 3 are the only moves of 5 and mirror one another"
    ),
    "5-end satin": Reading("5-end satin move 2", "likewise"),
    "8-end satin": Reading(
        "8-end satin move 3", "3 and 5 are the only moves of 8 and mirror one another"
    ),
    "2/1 rib (warp ends in pairs)": Reading(
        "2/2 weft rib",
        "two ends weave as one, the weft floats over two: the row's average floats are 1 and 2",
    ),
    "weft cord (three ends as one)": Reading(
        "3/3 weft rib",
        "three ends weave as one, the weft floats over three: the average floats are 1 and 3",
    ),
    "plain ripstop": Reading(
        "plain", "plain ground; the doubled threads of the grid are not in the row's setts"
    ),
    "4-harness satin (crowfoot)": Reading(
        "",
        "4 ends have no regular satin; the broken order 1, 2, 4, 3 is what the name means (common "
        "practice, no source)",
        rows=("0111", "1011", "1110", "1101"),
    ),
}

WITHOUT_A_MATRIX: Final[Mapping[str, str]] = {
    "armure (12 shafts)": "a fancy weave; the source names it but does not draw it",
    "fancy twill stripe (jacquard)": "figured; not drawn",
    "jacquard brocade (messaline satin ground)": "figured; not drawn",
    "weft pile corduroy, 12 ends x 12 picks, 8 shafts": "pile picks lie over one another",
    "weft pile, 6 ends x 9 picks": "pile picks lie over one another",
    "weft pile velvet, plain back, 3 pile picks per ground pick": "pile picks",
    "weft pile velvet, 4 pile picks per ground pick": "pile picks",
    "weft pile velvet, 5 pile picks per ground pick": "pile picks",
    "weft pile velvet, plain ground, 4 pile picks per ground pick": "pile picks",
    "weft pile velvet, 2/1 twill back": "pile picks",
    "weft pile velvet, E1 figured by jacquard": "pile picks",
}

FIBRES: Final = {"worsted wool": "worsted", "polyester/cotton": "polyester/cotton 65/35"}


@cache
def rows() -> tuple[Row, ...]:
    """All rows but those that are for reference only."""
    read: list[Row] = json.loads((REFERENCE / "fabrics.json").read_text("utf-8"))
    return tuple(row for row in read if row["test_use"] != "reference_only")


def reading(row: Row) -> Reading | None:
    printed = row["weave"]
    if printed in AS_PRINTED:
        return Reading(printed, "as printed")
    return READINGS.get(printed)


def why_not(row: Row) -> str | None:
    """Why a row cannot be put on a loom, or None where it can."""
    if row["weave"] in WITHOUT_A_MATRIX:
        return f"no matrix: {WITHOUT_A_MATRIX[row['weave']]}"
    if reading(row) is None:
        return "the printed weave is not read"
    missing = [
        name
        for name in ("ends_per_cm", "picks_per_cm", "warp_tex", "weft_tex")
        if row.get(name) is None
    ]
    return f"not printed: {', '.join(missing)}" if missing else None


def _threads(row: Row, way: str, per_cm: float) -> ThreadSystem:
    fibre = row[f"{way}_fibre"]
    yarn = Yarn(linear_density_tex=row[f"{way}_tex"], fibre=FIBRES.get(fibre, fibre))
    return ThreadSystem(
        yarns={"A": yarn}, threads_per_cm=per_cm, crimp_pct=row.get(f"{way}_crimp_pct")
    )


def construction(row: Row, *, sett_factor: float = 1.0) -> Construction:
    """The row as an order; both setts may be scaled, to see where it starts to be refused."""
    read = reading(row)
    assert read is not None
    return Construction(
        reference=row["id"],
        warp=_threads(row, "warp", row["ends_per_cm"] * sett_factor),
        weft=_threads(row, "weft", row["picks_per_cm"] * sett_factor),
        weave=read.weave(),
        width_cm=row.get("cloth_width_cm") or USUAL_WIDTH_CM,
        finishing=Finishing(stabilised=False),
    )


def loom(row: Row) -> Loom:
    """The permissive loom of the module's head."""
    tex = row["weft_tex"]
    return Loom(
        insertion=Insertion(system=InsertionSystem.RAPIER),
        reed_width_cm=WIDER * (row.get("cloth_width_cm") or USUAL_WIDTH_CM),
        max_speed_picks_per_min=300.0,
        shedding=Shedding(kind=SheddingKind.DOBBY, shafts=SHAFTS),
        weft_tex=Band(min=tex / 2, max=tex * 2),
    )


def judged(row: Row, *, sett_factor: float = 1.0) -> Report:
    return assess(construction(row, sett_factor=sett_factor), loom(row))


def first_refusal(row: Row, factors: tuple[float, ...]) -> float | None:
    """The first factor on both setts at which the row is refused."""
    for factor in factors:
        if judged(row, sett_factor=factor).counts.errors:
            return factor
    return None


def on_its_own_shafts(row: Row) -> Report:
    """The row on no more shafts than its source says it needs."""
    on = loom(row)
    shedding = replace(on.shedding, shafts=row["min_shafts"])
    return assess(construction(row), replace(on, shedding=shedding))
