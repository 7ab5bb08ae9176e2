"""Print published crimps beside their estimates, by the class of the weave, and what is left out.

Run it as ``python tests/bench/crimp.py``.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from textiles.published_crimps import (
    GROUPS,
    READ_AS,
    PublishedCrimp,
    crimp_rows,
    published_crimps,
    root_mean_square,
    weft_crimp_by_exponent,
)

from weavability.textiles.crimp import EQUAL_FLOATS, PLAIN, UNEQUAL_FLOATS

BANDS = (PLAIN, EQUAL_FLOATS, UNEQUAL_FLOATS)
EXPONENTS = (0.0, 1.0, 1.5, 2.0)
UNEQUAL_ROWS = ("F038", "F039")


def main() -> None:
    found = list(published_crimps())
    for group in GROUPS:
        for band in BANDS:
            some = [one for one in found if one.group == group and one.band is band]
            if some:
                print_class(group, some)
    print_left_out()
    print_exponents()


def print_class(group: str, some: list[PublishedCrimp]) -> None:
    band = some[0].band
    errors = [error for one in some for error in one.errors]
    print(f"\n{group}: {band.floats}, band {band.points:g} points")
    print(f"{'row':6}{'set':6}{'published':>10}{'estimate':>10}{'from the other':>16}  outside")
    for one in some:
        other = "" if one.from_other is None else f"{one.from_other:.2f}"
        why = (one.why or "yes") if max(map(abs, one.errors)) > band.points else ""
        print(f"{one.row:6}{one.system:6}{one.published:10.2f}{one.alone:10.2f}{other:>16}  {why}")
    mean = sum(map(abs, errors)) / len(errors)
    worst = max(errors, key=abs)
    print(
        f"{len(some)} crimps of {len({one.row for one in some})} cloths, {len(errors)} estimates: "
        f"mean absolute error {mean:.1f}, root mean square {root_mean_square(errors):.1f}, "
        f"worst {worst:+.1f} points"
    )


def print_left_out() -> None:
    print("\nleft out")
    for name, why in READ_AS["left_out"].items():
        print(f"{name:11}{why}")


def print_exponents() -> None:
    print("\nweft crimp by the exponent k of the split")
    print(f"{'row':6}{'published':>10}" + "".join(f"{f'k = {k:g}':>10}" for k in EXPONENTS))
    for name in UNEQUAL_ROWS:
        row = crimp_rows()[name]
        crimps = "".join(f"{weft_crimp_by_exponent(row, k):10.1f}" for k in EXPONENTS)
        print(f"{name:6}{row['weft_crimp_pct']:10.2f}{crimps}")


if __name__ == "__main__":
    main()
