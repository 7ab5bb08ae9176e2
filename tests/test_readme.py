"""README, chapters, guide: examples run and print what is below them, tables and figures hold."""

from __future__ import annotations

import json
import os
import re
import shlex
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path
from textwrap import dedent
from tomllib import loads
from typing import Any, NamedTuple
from wsgiref.simple_server import WSGIRequestHandler, make_server

import pytest
from documents import FOLDER, ROOT, chapter, documents
from flask import Flask
from flask.testing import FlaskClient

from weavability.answers.field_changes import WEIGHTS
from weavability.answers.field_words import words_of
from weavability.answers.report import Report
from weavability.checks.codes import CheckCode
from weavability.checks.registry import all_checks
from weavability.service.archive.partition_judging import REFUSED_SCHEMA, VERDICT_SCHEMA
from weavability.service.schemas.construction_schema import ConstructionSchema
from weavability.textiles.sett_thresholds import sett_thresholds
from weavability.textiles.square_lines import SQUARE_THREADS, STEP_THREADS
from weavability_client import Client

DOCUMENTS = documents()
README = DOCUMENTS["README.md"]
ADDRESS = "http://127.0.0.1:8080"
LANGUAGES = {"python", "console", "toml", "csv", "json", "text", "sh", "sql"}


class Block(NamedTuple):
    """A fenced block: its language and its text."""

    language: str
    text: str


def blocks(text: str) -> list[Block]:
    """The fenced blocks of a document, in order."""
    found = re.findall(r"^```(\w+)\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)
    return [Block(*each) for each in found]


BLOCKS = {name: blocks(text) for name, text in DOCUMENTS.items()}


def having(language: str) -> list[str]:
    """The documents that have blocks of a language."""
    return [
        name for name, found in BLOCKS.items() if any(block.language == language for block in found)
    ]


class Quiet(WSGIRequestHandler):
    """Logs nothing."""

    def log_message(self, format: str, *arguments: Any) -> None:  # noqa: A002
        pass


@pytest.fixture(scope="module")
def address(demo_app: Flask) -> Iterator[str]:
    with make_server("127.0.0.1", 0, demo_app, handler_class=Quiet) as server:
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


def test_the_documents_have_examples_of_every_kind() -> None:
    languages = [block.language for found in BLOCKS.values() for block in found]
    assert languages.count("python") >= 12
    assert set(languages) == LANGUAGES
    fences = sum(len(re.findall("^ *```", text, re.M)) for text in DOCUMENTS.values())
    assert fences == 2 * len(languages)


def run_snippets(shown: list[Block], address: str) -> None:
    """Run the Python of a document, as one program, and compare what each snippet prints."""
    names: dict[str, Any] = {}
    for number, block in enumerate(shown):
        if block.language != "python":
            continue
        printed = StringIO()
        with redirect_stdout(printed):
            exec(block.text.replace(ADDRESS, address), names)
        below = shown[number + 1]
        if below.language == "text":
            assert as_printed(printed.getvalue(), below.text), printed.getvalue()
    for each in names.values():
        if isinstance(each, Client):
            each.close()


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted({*having("python")} - {*having("console")}))
def test_every_python_snippet_runs_and_prints_what_is_below_it(
    name: str, address: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    run_snippets(BLOCKS[name], address)


@pytest.fixture(scope="module")
def demo(demo_app: Flask) -> FlaskClient:
    """A client of the service with the demo park, in process."""
    return demo_app.test_client()


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


def json_blocks(text: str) -> list[Any]:
    """The JSON of a document: an object, the lines of a batch, or a field with its name."""
    found = []
    for block in blocks(text):
        if block.language == "json":
            whole = block.text if block.text.lstrip()[0] == "{" else f"{{{block.text}}}"
            if "…" not in whole and "}\n{" not in whole:
                found.append(json.loads(whole))
    return found


def curled(demo: FlaskClient, command: str, body: str) -> Any:
    """Send what a curl command of a document sends, with the body that is shown above it."""
    words = shlex.split(command.replace("\\\n", " "))
    (url,) = (word for word in words if word.startswith(ADDRESS))
    header, content_type = words[words.index("-H") + 1].split(": ")
    assert header == "Content-Type"
    assert any(word.startswith("@") for word in words)
    return demo.post(url.removeprefix(ADDRESS), data=body, content_type=content_type)


@pytest.mark.slow
def test_the_answer_to_the_one_curl_call_is_what_is_shown(demo: FlaskClient) -> None:
    text = README.partition("## One `curl` call")[2].partition("\n## ")[0]
    order, command, answer = blocks(text)
    whole = curled(demo, command.text, order.text).get_json()
    in_full = shown_in(blocks(chapter("answers"))[0].text)
    assert len(str(in_full)) > 2_000
    assert len(answer.text.splitlines()) > 15
    for shown in (shown_in(answer.text), in_full):
        assert list(differences(shown, whole)) == []
        assert list(differences(shown, {**whole, "verdict": "weavable"}))
        assert list(differences(shown, {**whole, "findings": whole["findings"][:1]}))
    assert list(differences(in_full, {**whole, "counts": {"errors": 2}}))


def test_the_prices_and_requirements_that_are_shown_are_understood(demo: FlaskClient) -> None:
    (order,) = json_blocks(README)
    (prices,) = json_blocks(chapter("prices"))
    (limits,) = (each for each in json_blocks(chapter("orders")) if "requirements" in each)
    order["construction"] |= limits
    answer = demo.post("/v1/validations", json={**order, "prices": prices}).get_json()
    assert answer["costs"]["not_priced"] == []
    assert len(answer["requirements"]) == len(limits["requirements"])


def test_the_stops_of_the_loom_that_is_shown_are_what_is_said(demo: FlaskClient) -> None:
    text = chapter("looms")
    (table,) = (block.text for block in blocks(text) if block.language == "toml")
    running = loads(table)["loom"]["running"]
    alone = {**running, "looms_per_weaver": running["looms_per_set"] / running["weavers"]}
    del alone["looms_per_set"], alone["weavers"]
    (order,) = json_blocks(README)
    order["construction"]["requested_speed_picks_per_min"] = 500
    del order["loom_id"]
    loom = {
        "reed_width_cm": 190,
        "max_speed_picks_per_min": 620,
        "insertion": {"system": "rapier"},
        "shedding": {"kind": "dobby", "shafts": 20},
    }
    rates = [
        demo.post("/v1/validations", json={**order, "loom": {**loom, "running": each}}).get_json()[
            "rates"
        ]
        for each in (running, alone)
    ]
    found = [
        *(f"{each['efficiency_pct']:.1f}" for each in rates),
        f"{rates[0]['stops']['further_warp_stop_cost_pct']:.1f}",
    ]
    said = (
        "such a loom runs {} % of the time (with 12 looms to each weaver {} %), and one more "
        "warp stop in 100,000 picks costs {} points."
    )
    assert said.format(*found) in " ".join(text.split())


def test_the_layers_of_the_examples_are_as_tight_as_is_said(demo: FlaskClient) -> None:
    passage = chapter("orders").partition("## Layers and pile")[2].partition("\n## ")[0]
    tightest, together = [], []
    for construction in json_blocks(passage):
        order = {"construction": construction, "loom_id": "rapier-190-dobby"}
        tightest.append(demo.post("/v1/validations", json=order).get_json()["cloth"])
        del order["construction"]["layers"]
        together.append(demo.post("/v1/validations", json=order).get_json()["cloth"])
    said = re.findall(r"(\d+), (\d+) and (\d+) %", passage)
    assert said == [
        tuple(f"{cloth[name]:.0f}" for cloth in cloths)
        for cloths, name in ((tightest, "tightness_pct"), (together, "mean_tightness_pct"))
    ]


def test_the_lines_of_the_batch_are_judged(demo: FlaskClient) -> None:
    lines, command, *_ = blocks(chapter("batches"))
    answer = curled(demo, command.text, lines.text)
    assert [json.loads(line)["status"] for line in answer.text.splitlines()] == [200, 200]


def commands(text: str) -> Iterator[tuple[str, str]]:
    """The commands of a console block, each with what it prints."""
    for part in re.split(r"^\$ ", text, flags=re.MULTILINE)[1:]:
        command, _, printed = part.partition("\n")
        yield command, printed


def write_files(folder: Path, written: list[Block]) -> None:
    """Write the files that a document shows, as they are; the first line of each is its name."""
    for block in written:
        if found := re.match(r"# (\w+\.(?:toml|csv))\n", block.text):
            (folder / found[1]).write_text(block.text, "utf-8")


def run_commands(folder: Path, shown: list[Block], address: str) -> None:
    """Run the commands of a document in a folder, and compare what they print."""
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
@pytest.mark.parametrize(
    "name",
    [
        pytest.param(each, marks=[pytest.mark.cluster] if each == "archive.md" else [])
        for each in having("console")
    ],
)
def test_every_command_runs_and_prints_what_is_below_it(
    name: str, address: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_files(tmp_path, BLOCKS[name])
    run_commands(tmp_path, BLOCKS[name], address)
    monkeypatch.chdir(tmp_path)
    run_snippets(BLOCKS[name], address)


def test_the_chapter_on_archives_names_every_column() -> None:
    text = chapter("archive")
    columns = [*VERDICT_SCHEMA.names, *REFUSED_SCHEMA.names]
    codes = {code.value for code in CheckCode}
    assert [name for name in columns if name not in codes and f"`{name}`" not in text] == []


def test_the_table_of_checks_is_the_register() -> None:
    rows = re.findall(
        r"^\| `([a-z_]+\.[a-z_]+)` \| (.*) \| (error|warning|note) \|$", chapter("checks"), re.M
    )
    assert rows == [(info.code, info.says, info.severities[0].value) for info in all_checks()]


def test_the_squares_by_which_a_sett_is_judged_are_those_of_the_code() -> None:
    text = chapter("checks").partition("## How the sett is judged")[2]
    squares = set(re.findall(r"(\d+) x (\d+) threads", text))
    assert squares == {(str(SQUARE_THREADS), str(SQUARE_THREADS))}
    assert re.findall(r"at steps of (\d+)", text) == [str(STEP_THREADS)]
    assert re.findall(r"up to (\d+) %: `sett.not_judged`", text) == [
        f"{sett_thresholds().sett_over_pct:.0f}"
    ]


def test_the_readme_names_every_kind_of_check() -> None:
    named = re.findall(r"`(\w+)\.\*`", README)
    assert sorted(named) == sorted({info.code.partition(".")[0] for info in all_checks()})


def test_the_table_of_distances_is_the_weights() -> None:
    rows = re.findall(
        r"^\| `([\w/*?]+)` \| ([\d.]+) \| ([\d.]+) \| (.*) \|$", chapter("ways_out"), re.M
    )
    assert rows == [
        (field, f"{one.points:g}", f"{one.per_pct:g}", one.why) for field, one in WEIGHTS.items()
    ]


def test_the_readme_is_short_and_leads_to_every_chapter() -> None:
    assert len(README.splitlines()) <= 250
    assert len(README.encode()) <= 12_000
    rows = re.findall(r"^\| \[.+\]\(server/docs/(\w+\.md)\) \| .+ \|$", README, re.M)
    assert sorted(rows) == sorted(path.name for path in FOLDER.glob("*.md"))


def first_column(text: str) -> set[str]:
    """The names in the first column of the tables of a document."""
    cells = re.findall(r"^\| (`.+?`) \| ", text, re.M)
    return {name for cell in cells for name in re.findall(r"`(\w+)`", cell)}


def test_the_chapters_name_every_field_of_an_order_and_every_part_of_a_report() -> None:
    assert first_column(chapter("orders")) == set(ConstructionSchema().fields)
    assert first_column(chapter("answers")) == {*words_of(Report), "validation_id", "links"}


def anchors(text: str) -> set[str]:
    """The anchors of the headings of a document, as they are made where it is shown."""
    heads = re.findall(r"^#+ (.*)$", re.sub(r"^```.*?^```$", "", text, flags=re.M | re.S), re.M)
    return {re.sub(r"[^\w -]", "", each.lower()).replace(" ", "-") for each in heads}


def test_every_link_of_a_document_leads_somewhere() -> None:
    guides = ("README.md", "DEVELOPERS.md", "server/deploy/README.md", "tests/reference/README.md")
    lost = []
    for path in (*(ROOT / each for each in guides), *FOLDER.glob("*.md")):
        text = re.sub(r"^```.*?^```$|`[^`]*`", "", path.read_text("utf-8"), flags=re.M | re.S)
        for link in re.findall(r"\]\(([^)]+)\)", text):
            address, _, anchor = link.partition("#")
            target = path.parent / address if address else path
            if not target.exists() or (anchor and anchor not in anchors(target.read_text("utf-8"))):
                lost.append(f"{path.name}: {link}")
    assert lost == []


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
    server, client = ROOT / "server" / "weavability", ROOT / "client" / "weavability_client"
    roots = (ROOT, server, server / "service", client)
    named = set(re.findall(r"`([a-z_./]+\.(?:py|toml|yaml|json))[:`]", guide))
    assert len(named) > 20
    assert [each for each in named if not any((root / each).exists() for root in roots)] == []
