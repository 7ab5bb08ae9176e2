"""Draw a mill's constructions, and the yards that it wove of them, against their tightness.

Beside them it prints by how much the estimated contraction of the warp lies above the planned one.

Run it as ``python tests/bench/mill_tightness.py``. Constructions are judged in the weave that
their planned contraction speaks for, in plain if it speaks for neither, once as measured in the
loom and once as finished.
"""

from __future__ import annotations

import statistics
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Final

sys.path.insert(0, str(Path(__file__).parents[1]))

from answers.mill_constructions import Row, judged, likely_weaves, rows

from weavability.answers.report import Report
from weavability.checks.finding import Severity
from weavability.textiles.construction import Stage

STEP_PCT: Final = 4
BAR: Final = 40
COVERS: Final = ((0.0, 28.0), (0.0, 18.0), (18.0, 20.0), (20.0, 22.0), (22.0, 28.0))
STAGES: Final = (Stage.LOOM_STATE, Stage.GREY, Stage.FINISHED)


def main() -> None:
    """Print two bars for each step of tightness: constructions, and yards."""
    groups = {likely_weaves(row): None for row in rows()}
    for weaves in sorted(groups):
        group = [row for row in rows() if likely_weaves(row) == weaves]
        for stage in STAGES:
            print(f"\nplanned as {' or '.join(weaves)}:", end=" ")
            print_bars(weaves[0], stage, group)


def print_bars(weave: str, stage: Stage, of_weave: Sequence[Row]) -> None:
    reports = [judged(row, stage, weave) for row in of_weave]
    steps = [int(report.cloth.tightness_pct // STEP_PCT) for report in reports]
    yards = [float(row["woven_yd"]) for row in of_weave]
    heavy = [
        sum(any(one.severity is severity for one in report.findings) for report in reports)
        for severity in (Severity.ERROR, Severity.WARNING)
    ]
    print(
        f"{weave}, {stage.value.replace('_', ' ')}: {len(of_weave)} constructions, "
        f"{heavy[0]} refused, {heavy[1]} warned of; {sum(yards):,.0f} yd"
    )
    print_contraction(reports, of_weave)
    print(f"{'tightness %':14}{'constructions':{BAR + 6}}yards")
    for step in range(min(steps), max(steps) + 1):
        here = [place for place, found in enumerate(steps) if found == step]
        count, share = len(here), sum(yards[place] for place in here) / sum(yards)
        low = STEP_PCT * step
        print(
            f"{low:4}-{low + STEP_PCT:<9}{'#' * count:{BAR}} {count:4} "
            f"{'=' * round(BAR * share):{BAR}} {100 * share:5.1f} %"
        )


def print_contraction(reports: Sequence[Report], of_weave: Sequence[Row]) -> None:
    beyond = [
        (
            report.cloth.warp_cover_factor_cotton,
            report.cloth.warp_contraction_pct - float(row["planned_contraction_median"]),
        )
        for report, row in zip(reports, of_weave, strict=True)
    ]
    for least, most in COVERS:
        points = [found for cover, found in beyond if least <= cover < most]
        if points:
            print(
                f"contraction estimated less planned, cover of the warp {least:g}-{most:g}: "
                f"median {statistics.median(points):+.1f}, {min(points):+.1f} to "
                f"{max(points):+.1f} points on {len(points)}"
            )


if __name__ == "__main__":
    main()
