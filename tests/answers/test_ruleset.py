"""The digest of the rules: it changes with whatever an answer follows from, and callers notice."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest

import weavability

PACKAGE = Path(weavability.__file__).parent
ASK = """
import json, sys
from weavability.service import create_app
from weavability.service.openapi.example_requests import VALIDATION
client = create_app().test_client()
report = client.post("/v1/validations", json=VALIDATION)
ruleset, etag = report.json["ruleset"], report.headers["ETag"]
def status(path, known):
    return client.get(path, headers={"If-None-Match": known}).status_code
print(json.dumps({
    "ruleset": ruleset,
    "etag": etag,
    "report": [status(report.json["links"]["self"], known) for known in (sys.argv[1], etag)],
    "checks": [status("/v1/checks", f'"{known}"') for known in (sys.argv[2], ruleset)],
}))
"""


def asked(folder: Path, known: Mapping[str, str]) -> Any:
    """Ask a copy of the package, in a process of its own, with the tags of before."""
    command = [sys.executable, "-c", ASK, known["etag"], known["ruleset"]]
    answer = subprocess.run(
        command, env={"PYTHONPATH": str(folder)}, capture_output=True, text=True, check=True
    )
    return json.loads(answer.stdout)


def copied(tmp_path: Path) -> Path:
    shutil.copytree(PACKAGE, tmp_path / "weavability", ignore=shutil.ignore_patterns("__pycache__"))
    return tmp_path


def replaced(path: str, old: str, new: str) -> Callable[[Path], None]:
    def change(folder: Path) -> None:
        file = folder / "weavability" / path
        text = file.read_text("utf-8")
        assert old in text
        file.write_text(text.replace(old, new, 1), "utf-8")

    return change


CHANGES = {
    "a threshold": replaced("data/thresholds.toml", "value = 65.0", "value = 66.0"),
    "a value of a fibre": replaced("data/fibres.toml", "[1.52,", "[1.53,"),
    "a formula": replaced("textiles/geometry.py", "return ", "return 1.0 * "),
}


@pytest.fixture(scope="module")
def before(tmp_path_factory: pytest.TempPathFactory) -> Any:
    return asked(copied(tmp_path_factory.mktemp("before")), {"etag": "", "ruleset": ""})


@pytest.mark.slow
def test_nothing_changes_nothing(before: Any, tmp_path: Path) -> None:
    again = asked(copied(tmp_path), before)
    assert (again["ruleset"], again["etag"]) == (before["ruleset"], before["etag"])
    assert (again["report"], again["checks"]) == ([304, 304], [304, 304])


@pytest.mark.slow
@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES.keys())
def test_a_change_is_seen_by_those_who_poll(
    before: Any, tmp_path: Path, change: Callable[[Path], None]
) -> None:
    folder = copied(tmp_path)
    change(folder)
    after = asked(folder, before)
    assert after["ruleset"] != before["ruleset"]
    assert after["etag"] != before["etag"]
    assert (after["report"], after["checks"]) == ([200, 304], [200, 304])


@pytest.mark.slow
def test_it_is_read_from_an_archive_too(before: Any, tmp_path: Path) -> None:
    archive = shutil.make_archive(str(tmp_path / "core"), "zip", copied(tmp_path / "made"))
    command = "from weavability.answers.validation import ruleset; print(ruleset())"
    printed = subprocess.run(
        [sys.executable, "-c", command],
        env={"PYTHONPATH": archive},
        capture_output=True,
        text=True,
        check=True,
    ).stdout.strip()
    assert printed == before["ruleset"]
