"""Print the verdicts over the published constructions: false alarms, misses, and the jam.

Run it as ``python tests/bench/fabrics_verdicts.py``.
"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from answers.fabrics import READINGS, Row, first_refusal, judged, rows, why_not

from weavability.checks.finding import Severity, Verdict

ORDER = (
    ("false_alarm", True, "woven, headline set"),
    ("false_alarm", False, "woven, other rows"),
    ("false_alarm_unverified", False, "woven, recalled"),
    ("soft_limit", False, "textbook comfort limit"),
    ("miss", False, "no room to interlace"),
    ("jam_limit", False, "square jam of round yarn"),
    ("stress_only", False, "doubtful rows, no verdict asked"),
)
SHOWN = {"not_weavable": "refused", "weavable_with_warnings": "warned", "weavable": "passed"}
FACTORS = (1.00, 1.02, 1.05, 1.08, 1.10, 1.12, 1.15, 1.25)


def main() -> None:
    usable = [row for row in rows() if why_not(row) is None]
    verdicts = Counter(
        (row["test_use"], row["headline_set"], judged(row).verdict) for row in usable
    )
    print(f"{'rows':34}{'passed':>8}{'warned':>8}{'refused':>9}{'in all':>8}")
    for use, headline, words in ORDER:
        counts = [
            verdicts[use, headline, verdict]
            for verdict in (
                Verdict.WEAVABLE,
                Verdict.WEAVABLE_WITH_WARNINGS,
                Verdict.NOT_WEAVABLE,
            )
        ]
        passed, warned, refused = counts
        print(f"{words:34}{passed:8}{warned:8}{refused:9}{sum(counts):8}")
    print_findings(usable)
    print_jam(usable)
    print_left_out()


def print_findings(usable: list[Row]) -> None:
    print("\nwarned or refused")
    for row in usable:
        report = judged(row)
        heavy = [found for found in report.findings if found.severity is not Severity.NOTE]
        if not heavy:
            continue
        listed = ", ".join(f"{found.code} {found.actual:.4g}" for found in heavy)
        print(f"  {row['id']} {SHOWN[report.verdict]:8}{row['cloth'][:38]:40}{listed}")


def print_jam(usable: list[Row]) -> None:
    print("\nboth setts scaled: first factor that is refused")
    for row in usable:
        if row["test_use"] == "jam_limit":
            tightness = judged(row).cloth.tightness_pct
            refused = first_refusal(row, FACTORS)
            print(f"  {row['id']} tightness {tightness:.2f} %, refused at {refused}")


def print_left_out() -> None:
    print("\nread as")
    for printed, read in READINGS.items():
        print(f"  {printed:36}{read.notation or ' / '.join(read.rows)}: {read.why}")
    print("\nleft out")
    for row in rows():
        if why_not(row):
            print(f"  {row['id']} {row['cloth'][:38]:40}{why_not(row)}")


if __name__ == "__main__":
    main()
