"""The README tells what is checked, and carries the caution."""

from __future__ import annotations

import re
from pathlib import Path

from weavability.checks.registry import all_checks

README = (Path(__file__).parents[1] / "README.md").read_text("utf-8")


def test_the_table_of_checks_is_the_register() -> None:
    rows = re.findall(r"^\| `([a-z_]+\.[a-z_]+)` \| (.*) \| (error|warning|note) \|$", README, re.M)
    assert rows == [(info.code, info.says, info.severities[0].value) for info in all_checks()]


def test_the_caution_stands_before_the_first_command() -> None:
    caution = README.index("A computed result is not a safety approval")
    assert caution < README.index("./server/demo")
