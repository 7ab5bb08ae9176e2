"""The README: its snippets run and print what is below them, its table is the register's."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path
from typing import Any, NamedTuple
from wsgiref.simple_server import WSGIRequestHandler, make_server

import pytest

from weavability.checks.codes import CheckCode
from weavability.checks.registry import all_checks
from weavability.service import create_app
from weavability.service.archive.partition_judging import REFUSED_SCHEMA, VERDICT_SCHEMA

README = (Path(__file__).parents[1] / "README.md").read_text("utf-8")
CHAPTERS = (
    "Ask it: one client call",
    "What is checked",
    "Python client and command line",
)
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
    """Tell whether a text is as written down, where an ellipsis stands for anything.

    At the end of a line it stands for the rest of it, alone on a line for any lines.
    """
    wanted = (
        "(?s:.*)" if line == "…" else re.escape(line).replace("…", ".*")
        for line in expected.rstrip().split("\n")
    )
    return re.fullmatch("\n".join(wanted), printed.rstrip()) is not None


def test_an_ellipsis_stands_for_anything_and_nothing_else_does() -> None:
    assert as_printed("a 1\nb\n", "a …\nb\n")
    assert as_printed("a\nb\nc\nd\n", "a\n…\nd\n")
    assert not as_printed("a\nx\nb\n", "a …\nb\n")
    assert not as_printed("a\nb\n", "a\n")


def test_the_chapters_have_snippets_of_every_kind() -> None:
    languages = [each.language for each in BLOCKS]
    assert languages.count("python") >= 8
    assert languages.count("console") >= 1
    assert set(languages) <= {*RUN, *WRITTEN, "text", "sh"}


def test_every_python_snippet_runs_and_prints_what_stands_below_it(
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


def commands(text: str) -> Iterator[tuple[str, str]]:
    """The commands of a console block, each with what it prints."""
    for part in re.split(r"^\$ ", text, flags=re.MULTILINE)[1:]:
        command, _, printed = part.partition("\n")
        yield command, printed


def write_files(folder: Path, written: list[Block]) -> None:
    """Write the files that a chapter shows; the first line of each is its name."""
    for block in written:
        if block.language in WRITTEN:
            name, _, content = block.text.partition("\n")
            (folder / name.removeprefix("# ")).write_text(content, "utf-8")


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
def test_every_command_runs_and_prints_what_stands_below_it(address: str, tmp_path: Path) -> None:
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


def test_the_caution_stands_before_the_first_command() -> None:
    caution = README.index("A computed result is not a safety approval")
    assert caution < README.index("./server/demo")
