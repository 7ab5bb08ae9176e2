"""Published crimps beside their estimates, by what the figure is and by the class of the weave."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from answers.fabrics import FIBRES, reading
from textiles.published import read

from weavability.textiles.cloth import ClothFacts, cloth_facts
from weavability.textiles.construction import Construction, Finishing, Stage, ThreadSystem
from weavability.textiles.crimp import CRIMP_FLATTENING, PEIRCE_HEIGHT, CrimpBand, crimp_band
from weavability.textiles.notation import parse_weave
from weavability.textiles.weave_matrix import Weave
from weavability.textiles.yarns import Yarn

Row = Mapping[str, Any]

READ_AS: Final[Mapping[str, Any]] = read("crimp.json")
GROUPS: Final = ("woven", "assumed", "jammed")
SETS: Final = ("warp", "weft")
WIDTH_CM: Final = 100.0


@dataclass(frozen=True)
class PublishedCrimp:
    """One published crimp.

    ``is_fitted`` is whether a number of the estimate was chosen on it.
    ``alone`` is the estimate if no crimp of the cloth is stated, ``from_other`` that from the
    other published crimp, if there is one.
    """

    row: str
    cloth: str
    system: str
    group: str
    why: str
    is_fitted: bool
    band: CrimpBand
    published: float
    alone: float
    from_other: float | None

    @property
    def errors(self) -> list[float]:
        estimates = [self.alone] + ([] if self.from_other is None else [self.from_other])
        return [estimate - self.published for estimate in estimates]


def crimp_rows() -> dict[str, Row]:
    """Every row with a published crimp, by its name."""
    rows = [*read("fabrics.json"), *READ_AS["rows"]]
    return {row["id"]: row for row in rows if any(f"{one}_crimp_pct" in row for one in SETS)}


def group_of(row: Row) -> str | None:
    return next((group for group in GROUPS if row["id"] in READ_AS[group]), None)


def published_of(row: Row) -> dict[str, float]:
    """The crimps of a row that are compared, by set."""
    left_out = READ_AS["left_out"]
    return {
        one: row[f"{one}_crimp_pct"]
        for one in SETS
        if f"{one}_crimp_pct" in row and f"{row['id']} {one}" not in left_out
    }


def weave_of(row: Row) -> Weave:
    read_as = reading(row)
    return parse_weave(row["weave"]) if read_as is None else read_as.weave()


def facts_of_row(row: Row, stated: Mapping[str, float]) -> ClothFacts:
    """The row as a cloth that states some of its crimps, in the state of its sett."""
    stage = Stage(READ_AS["woven"].get(row["id"], "grey"))
    warp, weft = (
        ThreadSystem(
            yarns={
                "A": Yarn(
                    linear_density_tex=row[f"{one}_tex"],
                    fibre=FIBRES.get(row[f"{one}_fibre"], row[f"{one}_fibre"]),
                )
            },
            threads_per_cm=row[f"{name}_per_cm"],
            crimp_pct=stated.get(one),
        )
        for one, name in (("warp", "ends"), ("weft", "picks"))
    )
    return cloth_facts(
        Construction(
            stage=stage,
            warp=warp,
            weft=weft,
            weave=weave_of(row),
            width_cm=WIDTH_CM,
            finishing=Finishing(relaxation_pct=0.0),
        )
    )


def crimp_of(facts: ClothFacts, system: str) -> float:
    return (facts.warp if system == "warp" else facts.weft).crimp_pct


def published_crimps() -> Iterator[PublishedCrimp]:
    """Every published crimp that can be estimated."""
    for row in crimp_rows().values():
        group = group_of(row)
        if group is None:
            continue
        alone = facts_of_row(row, {})
        published = published_of(row)
        for system, value in published.items():
            others = {one: other for one, other in published.items() if one != system}
            yield PublishedCrimp(
                row=row["id"],
                cloth=row["cloth"],
                system=system,
                group=group,
                why=READ_AS["chosen_on" if group == "woven" else group].get(row["id"], ""),
                is_fitted=row["id"] in READ_AS["chosen_on"],
                band=crimp_band(
                    mean_float_of_picks=alone.structure.mean_float_of_picks,
                    mean_float_of_ends=alone.structure.mean_float_of_ends,
                ),
                published=value,
                alone=crimp_of(alone, system),
                from_other=crimp_of(facts_of_row(row, others), system) if others else None,
            )


def weft_crimp_by_exponent(row: Row, exponent: float) -> float:
    """The weft crimp of a row stated in the loom, with another exponent k of the split."""
    facts = facts_of_row(row, {})
    m1, m2 = facts.structure.mean_float_of_picks, facts.structure.mean_float_of_ends
    sum_mm = CRIMP_FLATTENING * (facts.warp.diameter_mm + facts.weft.diameter_mm)
    crimp: float = 0.0
    for _ in range(200):
        ends = row["ends_per_cm"] * (1 + crimp)
        of_warp, of_weft = m2**exponent * ends**2, m1**exponent * row["picks_per_cm"] ** 2
        height_mm = sum_mm * of_weft / (of_warp + of_weft)
        crimp = min(0.3, float(height_mm * ends / (10 * PEIRCE_HEIGHT)) ** 2 / m1)
    return 100 * crimp


def root_mean_square(errors: list[float]) -> float:
    return math.hypot(*errors) / math.sqrt(len(errors))
