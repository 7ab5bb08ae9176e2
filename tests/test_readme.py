"""README and guide: snippets run and print what is below them, tables and figures are current."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path
from textwrap import dedent
from typing import Any, NamedTuple
from wsgiref.simple_server import WSGIRequestHandler, make_server

import pytest
from flask.testing import FlaskClient

from weavability.answers.field_changes import WEIGHTS
from weavability.checks.codes import CheckCode
from weavability.checks.registry import all_checks
from weavability.service import create_app
from weavability.service.archive.partition_judging import REFUSED_SCHEMA, VERDICT_SCHEMA

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text("utf-8")
CHAPTERS = ("One client call", "What is checked", "Python client and command line")
ARCHIVE = "An archive of orders"
ADDRESS = "http://127.0.0.1:8080"
RUN = ("python", "console")
WRITTEN = ("toml", "csv")


class Block(NamedTuple):
    """A fenced block: its language and its text."""

    language: str
    text: str


def blocks(*chapters: str) -> Iterator[Block]:
    """The fenced blocks of some chapters, in order."""
    for each in re.split(r"^## ", README, flags=re.MULTILINE):
        if each.startswith(chapters):
            found = re.findall(r"^```(\w+)\n(.*?)^```$", each, re.MULTILINE | re.DOTALL)
            yield from (Block(*one) for one in found)


BLOCKS = list(blocks(*CHAPTERS))
OF_ARCHIVE = list(blocks(ARCHIVE))


class Quiet(WSGIRequestHandler):
    """Logs nothing."""

    def log_message(self, format: str, *arguments: Any) -> None:  # noqa: A002
        pass


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with make_server("127.0.0.1", 0, create_app(), handler_class=Quiet) as server:
        thread = threading.Thread(target=server.serve_forever, daemon=True)
        thread.start()
        yield f"http://127.0.0.1:{server.server_port}"
        server.shutdown()
        thread.join(5)


def as_printed(printed: str, expected: str) -> bool:
    """Return whether a text is as written down, in which an ellipsis means anything.

    At the end of a line it means the rest of it, alone on a line any lines.
    """
    wanted = (
        "(?s:.*)" if line == "…" else re.escape(line).replace("…", ".*")
        for line in expected.rstrip().split("\n")
    )
    return re.fullmatch("\n".join(wanted), printed.rstrip()) is not None


def test_an_ellipsis_means_anything_and_nothing_else_does() -> None:
    assert as_printed("a 1\nb\n", "a …\nb\n")
    assert as_printed("a\nb\nc\nd\n", "a\n…\nd\n")
    assert not as_printed("a\nx\nb\n", "a …\nb\n")
    assert not as_printed("a\nb\n", "a\n")


def test_the_chapters_have_snippets_of_every_kind() -> None:
    languages = [each.language for each in BLOCKS]
    assert languages.count("python") >= 8
    assert languages.count("console") >= 1
    assert set(languages) <= {*RUN, *WRITTEN, "text", "sh"}


def test_every_python_snippet_runs_and_prints_what_is_below_it(
    address: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    names: dict[str, Any] = {}
    for number, block in enumerate(BLOCKS):
        if block.language != "python":
            continue
        printed = StringIO()
        with redirect_stdout(printed):
            exec(block.text.replace(ADDRESS, address), names)
        below = BLOCKS[number + 1]
        if below.language == "text":
            assert as_printed(printed.getvalue(), below.text), printed.getvalue()
    names["mill"].close()


@pytest.fixture(scope="module")
def demo() -> FlaskClient:
    """A client of the service with the demo park, in process."""
    return create_app().test_client()


def shown_in(text: str) -> Any:
    """Read a JSON text shortened at each ellipsis; in a string one becomes an asterisk."""
    strings = re.sub(r'"[^"]*"', lambda found: found[0].replace("…", "*"), text)
    return json.loads(re.sub(r",\s*…|…,?", "", strings))


def differences(shown: Any, whole: Any, place: str = "") -> Iterator[str]:
    """Yield each value that is shown but not in the whole; items of a list may be left out."""
    if isinstance(shown, dict) and isinstance(whole, dict):
        for name, value in shown.items():
            yield from differences(value, whole.get(name), f"{place}/{name}")
    elif isinstance(shown, list) and isinstance(whole, list):
        rest = iter(whole)
        for index, value in enumerate(shown):
            if all(any(differences(value, each)) for each in rest):
                yield f"{place}/{index}: {value}"
    elif isinstance(shown, str) and isinstance(whole, str):
        if not re.fullmatch(re.escape(shown).replace(r"\*", ".*"), whole):
            yield f"{place}: {shown} is {whole}"
    elif shown != whole:
        yield f"{place}: {shown} is {whole}"


def test_the_answer_to_the_one_curl_call_is_what_is_shown(demo: FlaskClient) -> None:
    chapter = README.partition("## One `curl` call")[2].partition("\n## ")[0]
    order, _, answer = re.findall(r"^```\w+\n(.*?)^```$", chapter, re.MULTILINE | re.DOTALL)
    whole = demo.post("/v1/validations", data=order, content_type="application/json").get_json()
    shown = shown_in(answer)
    assert len(str(shown)) > 2_000
    assert list(differences(shown, whole)) == []
    assert list(differences(shown, {**whole, "counts": {"errors": 2}}))
    assert list(differences(shown, {**whole, "findings": whole["findings"][:1]}))


def test_the_layers_of_the_examples_are_as_tight_as_is_said(demo: FlaskClient) -> None:
    passage = README.partition("#### Layers and pile")[2].partition("\n### ")[0]
    tightest, together = [], []
    for text in re.findall(r"^```json\n(.*?)^```$", passage, re.MULTILINE | re.DOTALL):
        order = {"construction": json.loads(text), "loom_id": "rapier-190-dobby"}
        tightest.append(demo.post("/v1/validations", json=order).get_json()["cloth"])
        del order["construction"]["layers"]
        together.append(demo.post("/v1/validations", json=order).get_json()["cloth"])
    said = re.findall(r"(\d+), (\d+) and (\d+) %", passage)
    assert said == [
        tuple(f"{cloth[name]:.0f}" for cloth in cloths)
        for cloths, name in ((tightest, "tightness_pct"), (together, "mean_tightness_pct"))
    ]


def test_the_lines_of_the_batch_are_judged(demo: FlaskClient) -> None:
    (lines,) = re.findall(r"^```json\n(\{.*\}\n\{.*\}\n)```$", README, re.MULTILINE)
    answer = demo.post("/v1/validations", data=lines, content_type="application/x-ndjson")
    assert [json.loads(line)["status"] for line in answer.text.splitlines()] == [200, 200]


def commands(text: str) -> Iterator[tuple[str, str]]:
    """The commands of a console block, each with what it prints."""
    for part in re.split(r"^\$ ", text, flags=re.MULTILINE)[1:]:
        command, _, printed = part.partition("\n")
        yield command, printed


def write_files(folder: Path, written: list[Block]) -> None:
    """Write the files that a chapter shows, as they are; the first line of each is its name."""
    for block in written:
        if block.language in WRITTEN:
            name, _, _ = block.text.partition("\n")
            (folder / name.removeprefix("# ")).write_text(block.text, "utf-8")


def run_commands(folder: Path, shown: list[Block], address: str) -> None:
    """Run the commands of a chapter in its folder, and compare what they print."""
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    script = ["set -o pipefail", f"cd '{folder}'"]
    expected = []
    for block in shown:
        for command, printed in commands(block.text) if block.language == "console" else ():
            script += ['printf "\\036"', "(exit ${status:-0})", command, "status=$?"]
            expected.append((command, printed))
    done = subprocess.run(
        ["bash", "-c", "\n".join(script).replace(ADDRESS, address)],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env={**os.environ, "PATH": path, "COLUMNS": "200"},
        check=False,
    )
    printed_by = done.stdout.split("\036")[1:]
    assert len(printed_by) == len(expected)
    for (command, wanted), printed in zip(expected, printed_by, strict=True):
        assert as_printed(printed, wanted), f"{command}\n{printed}"


@pytest.mark.slow
def test_every_command_runs_and_prints_what_is_below_it(address: str, tmp_path: Path) -> None:
    write_files(tmp_path, BLOCKS)
    run_commands(tmp_path, BLOCKS, address)


@pytest.mark.slow
def test_an_archive_is_judged_and_compared_as_shown(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_files(tmp_path, OF_ARCHIVE)
    run_commands(tmp_path, OF_ARCHIVE, ADDRESS)
    monkeypatch.chdir(tmp_path)
    (query, expected) = OF_ARCHIVE[-2:]
    printed = StringIO()
    with redirect_stdout(printed):
        exec(query.text, {})
    assert as_printed(printed.getvalue(), expected.text), printed.getvalue()


def test_the_chapter_on_archives_names_every_column() -> None:
    chapter = next(each for each in README.split("\n## ") if each.startswith(ARCHIVE))
    columns = [*VERDICT_SCHEMA.names, *REFUSED_SCHEMA.names]
    codes = {code.value for code in CheckCode}
    assert [name for name in columns if name not in codes and f"`{name}`" not in chapter] == []


def test_the_table_of_checks_is_the_register() -> None:
    rows = re.findall(r"^\| `([a-z_]+\.[a-z_]+)` \| (.*) \| (error|warning|note) \|$", README, re.M)
    assert rows == [(info.code, info.says, info.severities[0].value) for info in all_checks()]


def test_the_table_of_distances_is_the_weights() -> None:
    rows = re.findall(r"^\| `([\w/*?]+)` \| ([\d.]+) \| ([\d.]+) \| (.*) \|$", README, re.M)
    assert rows == [
        (field, f"{one.points:g}", f"{one.per_pct:g}", one.why) for field, one in WEIGHTS.items()
    ]


def test_the_caution_is_before_the_first_command() -> None:
    caution = README.index("A computed result is not a safety approval")
    assert caution < README.index("./server/demo")


def test_the_example_of_a_check_in_the_guide_is_the_code() -> None:
    """Each definition of the example is in the module, in the same words."""
    guide = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    code = (ROOT / "server" / "weavability" / "checks" / "picks.py").read_text("utf-8")
    (example,) = re.findall(r"^   ```python\n(.*?)^   ```$", guide, re.MULTILINE | re.DOTALL)
    parts = dedent(example).strip().split("\n\n\n")
    assert len(parts) >= 4
    assert [part for part in parts if part not in code] == []


def test_the_files_that_the_guide_names_are_there() -> None:
    guide = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    roots = (ROOT, ROOT / "server" / "weavability", ROOT / "server" / "weavability" / "service")
    named = set(re.findall(r"`([a-z_./]+\.(?:py|toml|yaml|json))[:`]", guide))
    assert len(named) > 20
    assert [each for each in named if not any((root / each).exists() for root in roots)] == []
