"""Digests of rules and service: they change with what answers follow from, and callers see it."""

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
asked = {
    "report": (report.json["links"]["self"], "application/json"),
    "page": (report.json["links"]["self"], "text/html"),
    "form": ("/", "text/html"),
    "checks": ("/v1/checks", "application/json"),
    "list": ("/v1/checks", "text/html"),
}
def ask(name, known):
    path, form = asked[name]
    return client.get(path, headers={"Accept": form, "If-None-Match": known})
tags = {name: ask(name, "").headers["ETag"] for name in asked}
known = json.loads(sys.argv[1])
print(json.dumps({
    "ruleset": report.json["ruleset"],
    "tags": tags,
    "before": {name: ask(name, known.get(name, "")).status_code for name in asked},
    "own": {name: ask(name, tags[name]).status_code for name in asked},
}))
"""
FORMS = ("report", "page", "form", "checks", "list")


def asked(folder: Path, known: Mapping[str, str]) -> Any:
    """Ask a copy of the package, in a process of its own, with the tags of before."""
    command = [sys.executable, "-c", ASK, json.dumps(known)]
    answer = subprocess.run(
        command, env={"PYTHONPATH": str(folder)}, capture_output=True, text=True, check=True
    )
    return json.loads(answer.stdout)


def copied(tmp_path: Path, *, of: Path) -> Path:
    shutil.copytree(of, tmp_path / "weavability")
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
def first(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the package as it is, without what Python has compiled of it."""
    folder = tmp_path_factory.mktemp("first") / "weavability"
    shutil.copytree(PACKAGE, folder, ignore=shutil.ignore_patterns("__pycache__"))
    return folder


@pytest.fixture(scope="module")
def before(first: Path) -> Any:
    """What is answered by that copy, which is compiled thereby: so are all copies of it."""
    return asked(first.parent, {})


@pytest.mark.slow
def test_nothing_changes_nothing(first: Path, before: Any, tmp_path: Path) -> None:
    again = asked(copied(tmp_path, of=first), before["tags"])
    assert (again["ruleset"], again["tags"]) == (before["ruleset"], before["tags"])
    assert again["before"] == again["own"] == dict.fromkeys(FORMS, 304)


@pytest.mark.slow
@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES.keys())
def test_a_change_is_seen_by_those_who_poll(
    first: Path, before: Any, tmp_path: Path, change: Callable[[Path], None]
) -> None:
    folder = copied(tmp_path, of=first)
    change(folder)
    after = asked(folder, before["tags"])
    assert after["ruleset"] != before["ruleset"]
    assert_all_are_new(after, before)


@pytest.mark.slow
def test_a_changed_template_is_seen_and_is_no_change_of_rules(
    first: Path, before: Any, tmp_path: Path
) -> None:
    folder = copied(tmp_path, of=first)
    replaced("service/pages/templates/base.html", "</body>", "<hr></body>")(folder)
    after = asked(folder, before["tags"])
    assert after["ruleset"] == before["ruleset"]
    assert_all_are_new(after, before)


def assert_all_are_new(after: Any, before: Any) -> None:
    """Every answer has another tag, so that a copy of before is answered in full."""
    assert [name for name in FORMS if after["tags"][name] == before["tags"][name]] == []
    assert after["before"] == dict.fromkeys(FORMS, 200)
    assert after["own"] == dict.fromkeys(FORMS, 304)


@pytest.mark.slow
def test_it_is_read_from_an_archive_too(first: Path, before: Any, tmp_path: Path) -> None:
    folder = copied(tmp_path / "made", of=first)
    archive = shutil.make_archive(str(tmp_path / "core"), "zip", folder)
    command = "from weavability.answers.validation import ruleset; print(ruleset())"
    printed = subprocess.run(
        [sys.executable, "-c", command],
        env={"PYTHONPATH": archive},
        capture_output=True,
        text=True,
        check=True,
    ).stdout.strip()
    assert printed == before["ruleset"]
