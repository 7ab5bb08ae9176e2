"""The command line for a person: what fits the terminal, and what is said of faults."""

from __future__ import annotations

import io
import json
import logging
import shlex
import signal
import socket
import subprocess
import sys
from pathlib import Path

import pytest
from client.recorded import ORDERS, sample

import weavability
from weavability.service.openapi.example_requests import SMALL_CONSTRUCTION
from weavability_client import Client, UsageError, _output, cli
from weavability_client._many import ItemResult
from weavability_client._orders import read_orders
from weavability_client._output import Judged
from weavability_client.models import Report
from weavability_client.tables import text_table, wrapped

pytestmark = pytest.mark.usefixtures("one_application")

BOOK = str(Path(weavability.__file__).parent / "data" / "demo_orders.toml")
AXES = ("--across", "width:100:250:4", "--along", "picks:12:60:4")
PROGRAM = [sys.executable, "-m", "weavability_client.cli"]


class Terminal(io.StringIO):
    """Looks like a terminal."""

    def isatty(self) -> bool:
        return True


@pytest.fixture(autouse=True)
def _bare_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("WEAVABILITY_URL", "WEAVABILITY_TOKEN", "WEAVABILITY_LOG"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("NO_COLOR", "1")


@pytest.fixture
def order(tmp_path: Path) -> str:
    return write(tmp_path / "order.json", ORDERS["D-103"])


def write(path: Path, content: object) -> str:
    text = content if isinstance(content, str) else json.dumps(content)
    path.write_text(text, encoding="utf-8")
    return str(path)


def shown(monkeypatch: pytest.MonkeyPatch, columns: int, *arguments: str) -> str:
    """Return what a command prints on a terminal of so many columns."""
    terminal = Terminal()
    with monkeypatch.context() as patched:
        patched.setenv("COLUMNS", str(columns))
        patched.setattr(sys, "stdout", terminal)
        assert cli.main([*arguments, "--local"]) in (0, 1)
    return terminal.getvalue()


@pytest.mark.slow
@pytest.mark.parametrize(
    ("columns", "command"),
    [
        (80, ["validate", BOOK]),
        (100, ["validate", BOOK]),
        (80, ["validate", "ORDER", "--format", "page", "--assumptions"]),
        (80, ["match", "ORDER", "--rank-by", "hours"]),
        (80, ["remedies", "ORDER"]),
        (80, ["window", "ORDER", "--across", "width:100:250:40", "--along", "picks:12:60:15"]),
        (80, ["sequence", "ORDER", "ORDER"]),
        (80, ["looms", "rapier-190-dobby"]),
        (80, ["notations"]),
        (80, ["checks"]),
        (100, ["checks", "shedding.harness_density"]),
    ],
    ids=lambda value: value[0] if isinstance(value, list) else str(value),
)
def test_nothing_runs_over_the_edge_of_a_terminal(
    monkeypatch: pytest.MonkeyPatch, order: str, columns: int, command: list[str]
) -> None:
    text = shown(monkeypatch, columns, *(order if word == "ORDER" else word for word in command))
    assert [line for line in text.splitlines() if len(line) > columns] == []
    assert "weavable with warn\n" not in text
    assert "A computed result is not a safety approval" in text


@pytest.mark.slow
def test_a_narrow_terminal_lacks_the_columns_that_matter_least(
    monkeypatch: pytest.MonkeyPatch, order: str, capsys: pytest.CaptureFixture[str]
) -> None:
    narrow, wide = (shown(monkeypatch, columns, "validate", order) for columns in (80, 160))
    assert "left out: tightness %, lifted by" in narrow
    assert "D-103  rapier-190-dobby  weavable" in narrow
    assert "left out" not in wide
    assert "lifted by" in wide
    assert "picks/min" in shown(monkeypatch, 80, "match", order)
    cli.main(["validate", order, "--local"])
    assert "lifted by" in capsys.readouterr().out


def test_a_table_goes_on_below_itself_and_breaks_no_verdict() -> None:
    rows = [
        ("D-1", "weavable with warnings", "warp.beam_capacity", 7),
        ("D-2", "not weavable", "", 8),
    ]
    table = text_table(("order", "verdict", "gravest finding", "no."), rows, width=45)
    assert table.splitlines() == [
        "order  verdict                 gravest    no.",
        "                               finding",
        "-----  ----------------------  ---------  ---",
        "D-1    weavable with warnings  warp.        7",
        "                               beam_",
        "                               capacity",
        "D-2    not weavable                         8",
    ]
    assert wrapped("as long as it likes to be", None) == ["as long as it likes to be"]
    assert max(map(len, wrapped("x" * 90, 40))) == 40


@pytest.mark.slow
def test_what_is_assumed_is_listed_by_grade_with_its_band(
    capsys: pytest.CaptureFixture[str], order: str
) -> None:
    assert cli.main(["validate", order, "--local", "--assumptions"]) == 0
    lines = capsys.readouterr().out.splitlines()
    heads = [line for line in lines if line.startswith("assumed of D-103, ")]
    assert any(head.startswith("assumed of D-103, common practice: ") for head in heads)
    assert len(heads) == len({head.split(":")[0] for head in heads}) > 1
    assert next(
        line for line in lines if "/construction/warp/yarns/A/packing_fraction" in line
    ).split()[1:4] == ["0.6", "0.51", "0.69"]
    assert cli.main(["validate", order, "--local", "--assumptions", "--format", "json"]) == 2
    assert "json has them without it" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "-: nothing came on the standard input"),
        (b" \n", "-: nothing came on the standard input"),
        (b"\x89PNG\r\n\x1a\n", "-: it is a picture"),
        (b"%PDF-1.7", "-: it is a PDF document"),
        (b"\xd0\xcf\x11\xe0\xa1", "-: it is an old spreadsheet; save it as XLSX or CSV"),
        (b"PK\x03\x04", "-: not readable as XLSX"),
        (b"a\x00b", "-: it is no text"),
        (b'\n{"reference": "caf\xe9"}', "-: line 2 is not in UTF-8 (byte 0xe9); save"),
    ],
)
def test_input_that_holds_no_order_is_named(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], content: bytes, words: str
) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(content)))
    assert cli.main(["validate", "--url", "http://mill.example"]) == 2
    assert words in capsys.readouterr().err


def test_a_directory_and_an_empty_file_are_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    url = ("--url", "http://mill.example")
    assert cli.main(["validate", str(tmp_path), *url]) == 2
    assert f"{tmp_path}: it is a directory" in capsys.readouterr().err
    assert cli.main(["match", write(tmp_path / "none.json", ""), *url]) == 2
    assert "none.json: the file is empty" in capsys.readouterr().err
    monkeypatch.setattr(sys, "stdin", None)
    assert cli.main(["validate", *url]) == 2
    assert "there is no standard input" in capsys.readouterr().err


CLOTH = {"weave": "plain", "width_cm": 150}


@pytest.mark.parametrize(
    ("order", "words"),
    [
        ({"loom_id": "L1", **CLOTH}, "loom_id is beside the fields of the cloth"),
        ({"constuction": CLOTH, "loom_id": "L1"}, "'constuction'; did you mean construction?"),
        ({"construction": {**CLOTH, "loom_id": "L1"}}, "loom_id is within construction"),
        ({"construction": {"construction": CLOTH}}, "construction is within construction"),
        ({"construction": CLOTH, "length_m": 9}, "length_m is beside construction"),
        ({"construction": CLOTH, "loom-id": "L1"}, "'loom-id'; did you mean loom_id?"),
    ],
)
def test_what_is_in_another_place_than_its_own_is_said(
    order: dict[str, object], words: str
) -> None:
    good, refused = read_orders(json.dumps([CLOTH, order]).encode(), name="book.json")
    assert good == {"construction": CLOTH}
    assert isinstance(refused, UsageError)
    assert str(refused).startswith("book.json, order 2: ")
    assert words in str(refused)


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("empty.json", "{}", "order 1: is no order: it has no construction"),
        ("prices.toml", 'currency = "EUR"\nenergy_per_kwh = 0.2', "order 1: is no order"),
        ("day.toml", "weave = 'plain'\nreference = 2026-02-02", "/reference: is a date or time"),
        ("deep.json", "[" * 100_000, "it is nested too deeply"),
    ],
)
def test_what_is_no_order_is_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, content: str, words: str
) -> None:
    assert cli.main(["validate", write(tmp_path / name, content), "--local"]) == 2
    assert words in capsys.readouterr().err


def test_a_rate_without_an_order_needs_a_loom(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["rate", "--weft", "Ne 20", "--local"]) == 2
    assert "the command names no loom: pass --loom-id or --loom" in capsys.readouterr().err


@pytest.mark.slow
def test_only_reports_that_have_changed_are_fetched(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], order: str
) -> None:
    cli.main(["validate", order, "--local", "--format", "json"])
    report = json.loads(capsys.readouterr().out)
    older = {**report, "validation_id": "0" * len(report["validation_id"])}
    saved = write(tmp_path / "reports.json", [report, older, {"error": "refused"}])
    assert cli.main(["poll", saved, "--local"]) == 3  # something has changed, all of it weavable
    printed = capsys.readouterr()
    assert "1 of 2 reports have changed" in printed.err
    assert printed.out.count("D-103") == 1
    link = report["links"]["self"]
    assert cli.main(["poll", link, "--etag", report["validation_id"], "--local"]) == 0
    assert capsys.readouterr().out == ""
    assert cli.main(["poll", link, "--local"]) == 0
    printed = capsys.readouterr()
    assert "rapier-190-dobby" in printed.out
    assert "nothing to compare with: --etag" in printed.err
    assert "changed" not in printed.err
    assert cli.main(["poll", order, "--local"]) == 2
    assert "order.json, report 1: is no report" in capsys.readouterr().err


def test_one_check_is_shown_with_its_formula(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["checks", "sett.jammed", "--local"]) == 0
    assert "formula: " in capsys.readouterr().out
    assert cli.main(["checks", "reed", "dent", "--local", "--format", "csv"]) == 0
    rows = capsys.readouterr().out.splitlines()
    assert rows[0].startswith("code,subject,severities,says")
    assert any(row.startswith("reed.ends_per_dent,") for row in rows)


def test_the_names_for_a_shell_are_none_while_the_service_is_away(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("WEAVABILITY_URL", "http://127.0.0.1:9")
    assert cli.main(["completion", "looms"]) == 0
    assert capsys.readouterr() == ("\n", "")


def test_a_fault_of_the_program_itself_is_no_verdict(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail(_client: Client) -> None:
        raise KeyError("surprise")

    monkeypatch.setattr(Client, "park", fail)
    url = ("--url", "http://mill.example")
    assert cli.main(["looms", *url]) == 2
    said = capsys.readouterr().err
    assert "fault of the program itself: KeyError: 'surprise'. Please report it" in said
    assert "Traceback" not in said
    log = logging.getLogger("weavability_client")
    for name, kept in (("handlers", []), ("level", log.level)):
        monkeypatch.setattr(log, name, kept)
    monkeypatch.setenv("WEAVABILITY_LOG", "debug")
    assert cli.main(["looms", *url]) == 2
    assert "Traceback" in capsys.readouterr().err


@pytest.mark.slow
@pytest.mark.parametrize(
    "words",
    [
        "--help > /dev/full",
        "--version > /dev/full",
        "completion bash 2>&- >&-",
        "completion bash | true; exit ${PIPESTATUS[0]}",
        "looms --url not-an-address 2> /dev/full",
    ],
)
def test_its_own_failures_are_status_2(words: str) -> None:
    done = subprocess.run(
        ["bash", "-c", f"{shlex.join(PROGRAM)} {words}"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert "Exception ignored" not in done.stderr


@pytest.mark.slow
def test_an_interrupt_is_status_130() -> None:
    with socket.create_server(("127.0.0.1", 0)) as silent:
        address = f"http://127.0.0.1:{silent.getsockname()[1]}"
        program = subprocess.Popen(
            [*PROGRAM, "looms", "--url", address], stderr=subprocess.PIPE, text=True
        )
        connection, _ = silent.accept()
        with connection:
            connection.recv(1)
            program.send_signal(signal.SIGINT)
            _, said = program.communicate(timeout=60)
    assert (program.returncode, said) == (130, "")


@pytest.mark.parametrize(
    ("words", "content", "message"),
    [
        (["match"], {"construction": {}, "prices": 3}, "prices should be an object"),
        (["match"], {"construction": 3}, "construction should be an object"),
        (["window", *AXES], {"construction": {}, "loom": 3}, "loom should be an object"),
        (["window", *AXES], {"construction": {}, "loom_id": 3}, "loom_id a text"),
        (["sequence"], [], "holds no order"),
        (["poll", "--etag", "x"], [], "--etag is for a link"),
    ],
)
def test_a_file_of_the_wrong_form_is_refused_before_anything_is_sent(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    words: list[str],
    content: object,
    message: str,
) -> None:
    path = write(tmp_path / "given.json", content)
    nowhere = ("--url", "http://127.0.0.1:9")
    assert cli.main([words[0], path, *words[1:], *nowhere]) == 2
    assert message in capsys.readouterr().err


@pytest.mark.slow
def test_a_remedy_that_leaves_errors_is_made_only_if_it_is_chosen(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    too_wide = {**SMALL_CONSTRUCTION, "width_in": 160}
    order = {"construction": too_wide, "loom_id": "rapier-190-dobby"}
    fixed = tmp_path / "fixed.json"
    command = ["remedies", write(tmp_path / "order.json", order), "--local", "--fix", str(fixed)]
    assert cli.main(command) == 1
    assert "--remedy chooses one" in capsys.readouterr().err
    assert not fixed.exists()
    assert cli.main([*command, "--remedy", "1"]) == 1
    assert json.loads(fixed.read_text("utf-8"))["loom_id"] == order["loom_id"]


@pytest.mark.slow
def test_what_an_order_that_is_written_still_misses_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # Within what the crimps may be, but not as they are estimated.
    cloth = {"stage": "grey", **SMALL_CONSTRUCTION}
    order = {"construction": cloth, "loom_id": "rapier-190-dobby"}
    path, fixed = tmp_path / "order.json", tmp_path / "fixed.json"
    assert cli.main(["validate", write(path, order), "--local", "--format", "json"]) == 0
    mass = json.loads(capsys.readouterr().out)["cloth"]["finished_mass_g_per_m2"]
    # Between limits so near to one another no change brings it.
    least, most = round(mass * 1.01, 2), round(mass * 1.01, 2) + 0.01
    for required, is_missed in (({"min": least, "max": most}, True), ({"min": least}, False)):
        cloth["requirements"] = {"mass_g_per_m2": required}
        command = ["remedies", write(path, order), "--local", "--fix", str(fixed)]
        status, said = cli.main(command), capsys.readouterr().err
        assert status == 0
        missed = f"mass at least {least:.4g} and at most {most:.4g} g/m²: {mass:.4g}"
        assert (missed in " ".join(said.split())) is is_missed
        assert ("still missed" in said) is is_missed


def test_a_page_says_what_to_state_to_decide_a_verdict() -> None:
    note = "It may be weavable. State /construction/weft/crimp_pct to decide it."
    answer = {**sample("weavable_with_warnings")["answer"], "verdict_note": note}
    page = " ".join(Report.from_json(answer).to_page().split())
    assert "State weft crimp to decide it." in page


def test_what_a_service_says_does_not_steer_a_terminal() -> None:
    """An escape in a text is shown as a mark, and in JSON as an escape."""
    steering = "\x1b]0;title\x07\x9b\x7f\u202e"
    document = {**sample("weavable_with_warnings")["answer"], "reference": f"a{steering}b"}
    document["findings"][0]["message"] = steering
    report = Report.from_json(document)
    judged = [Judged(result=ItemResult(index=0, report=report), reference=report.reference)]
    for form in ("page", "table", "csv", "json"):
        terminal = Terminal()
        _output.write(judged, form, terminal)
        text = terminal.getvalue()
        assert not set("\x1b\x07\x9b\x7f\u202e") & set(text)
        assert "]0;title" in text
    assert json.loads(text)["reference"] == f"a{steering}b"
