"""The command line from end to end: the service in the same process, and the same over the wire."""

from __future__ import annotations

import base64
import csv
import io
import json
import shlex
import socket
import subprocess
import sys
import threading
import tomllib
from collections.abc import Iterator
from copy import deepcopy
from pathlib import Path
from typing import Any
from wsgiref.simple_server import WSGIRequestHandler, make_server

import pytest
from client.recorded import ORDERS
from flask import Flask
from PIL import Image

import weavability
from weavability.service.openapi.example_requests import DESIGN
from weavability_client import cli
from weavability_client._paint import painted, wants_colour

pytestmark = pytest.mark.usefixtures("one_application")

BOOK = Path(weavability.__file__).parent / "data" / "demo_orders.toml"
SIZE = len(tomllib.loads(BOOK.read_text("utf-8"))["order"])


@pytest.fixture(autouse=True)
def _bare_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("WEAVABILITY_URL", "WEAVABILITY_TOKEN", "NO_COLOR"):
        monkeypatch.delenv(name, raising=False)


@pytest.fixture
def order(tmp_path: Path) -> str:
    return write(tmp_path / "order.json", ORDERS["D-103"])


def write(path: Path, content: object) -> str:
    text = content if isinstance(content, str) else json.dumps(content)
    path.write_text(text, encoding="utf-8")
    return str(path)


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


def run(
    capsys: pytest.CaptureFixture[str], *arguments: str, where: tuple[str, ...] = ("--local",)
) -> tuple[int, str, str]:
    status = cli.main([*arguments, *where])
    printed = capsys.readouterr()
    return status, printed.out, printed.err


@pytest.mark.slow
@pytest.mark.parametrize("form", ["table", "page", "json", "csv"])
def test_the_order_book_is_judged_alike_here_and_there(
    capsys: pytest.CaptureFixture[str], address: str, form: str
) -> None:
    command = ("validate", str(BOOK), "--format", form)
    here = run(capsys, *command)
    assert here == run(capsys, *command, where=("--url", address))
    assert here[0] == 1
    assert here[1].count("D-101") >= 1


@pytest.mark.slow
def test_every_order_has_its_row_in_csv(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, "validate", str(BOOK), "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert [row["reference"] for row in rows] == list(ORDERS)
    assert rows[3]["codes"].split()[0] == "weft.selectors"


def test_orders_from_a_table_are_judged(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    table = write(
        tmp_path / "orders.csv",
        "reference;loom_id;weave;width_cm;ends_per_cm;picks_per_cm;warp_yarn_A;weft_yarn_A\n"
        "P-1;rapier-190-dobby;plain;152,5;28;24;Ne 30;Ne 30\n"
        "P-2;rapier-190-dobby;plain;252,5;28;24;Ne 30;Ne 30\n",
    )
    status, out, _ = run(capsys, "validate", table)
    assert status == 1
    assert "P-1" in out
    assert "width.reed_space" in out


def test_a_faulty_row_of_a_table_spoils_only_itself(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    table = write(
        tmp_path / "orders.csv",
        "reference;loom_id;weave;width_cm;ends_per_cm;picks_per_cm;warp_yarn_A;weft_yarn_A\n"
        "P-1;rapier-190-dobby;plain;1.525;wide;24;Ne 30;Ne 30\n"
        "P-2;rapier-190-dobby;plain;152,5;28;24;Ne 30;Ne 30\n",
    )
    status, out, err = run(capsys, "validate", table, "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert status == 2
    assert [row["verdict"] for row in rows] == ["refused", "weavable"]
    assert "order 1" in err
    assert "line 2 (P-1), width_cm: '1.525' is not a number. Write a decimal comma: 1,525." in err
    assert "ends_per_cm: 'wide' is not a number" in err
    one = write(tmp_path / "one.csv", "weave;width_cm\nplain;1.525\n")
    status, _, err = run(capsys, "match", one)
    assert (status, "one.csv, line 2, width_cm: " in err) == (2, True)


@pytest.mark.slow
def test_a_refused_order_keeps_its_row(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plane = {"construction": {"weave": "plane", "reference": "P-7"}, "loom_id": "rapier-190-dobby"}
    book = write(tmp_path / "book.json", [ORDERS["D-101"], plane])
    status, out, err = run(capsys, "validate", book, "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert status == 2
    assert [row["verdict"] for row in rows] == ["weavable", "refused"]
    assert [row["reference"] for row in rows] == ["D-101", "P-7"]
    assert "P-7" in run(capsys, "validate", book)[1]
    assert "order 2" in err


@pytest.mark.slow
def test_a_page_lists_the_layers(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    yarn = {"yarns": {"A": {"designation": "Ne 30", "fibre": "cotton"}}}
    double = {
        "warp": {**yarn, "ends_per_cm": 52},
        "weft": {**yarn, "picks_per_cm": 50},
        "weave": "double cloth plain + plain",
        "layers": {"ends": "1F 1B", "picks": "1F 1B", "joined": "separate"},
        "width_cm": 150,
    }
    book = write(tmp_path / "double.json", double)
    where = ("--local", "--loom-id", "rapier-190-dobby")
    _, out, _ = run(capsys, "validate", book, "--format", "page", where=where)
    layers = [line.split() for line in out.splitlines() if line.lstrip().startswith("layer ")]
    assert [line[1] for line in layers] == ["F:", "B:"]
    assert "26 x 25 per cm" in " ".join(layers[0])
    assert "tightness 73.1" in " ".join(layers[0])
    assert "separate" in out


@pytest.mark.slow
@pytest.mark.parametrize("form", ["page", "json", "csv"])
def test_looms_are_ranked_alike_here_and_there(
    capsys: pytest.CaptureFixture[str], address: str, order: str, form: str
) -> None:
    command = ("match", order, "--format", form)
    here = run(capsys, *command)
    assert here == run(capsys, *command, where=("--url", address))
    assert here[0] == 0
    assert "rapier-190-dobby" in here[1]


def test_only_the_looms_that_are_named_are_tried(
    capsys: pytest.CaptureFixture[str], order: str, tmp_path: Path
) -> None:
    named = ("--loom-id", "shuttle-130-cam", "--loom-id", "rapier-150-dobby")
    status, out, _ = run(capsys, "match", order, *named, "--format", "json")
    assert status == 1
    assert {each["loom_id"] for each in json.loads(out)["matches"]} == {
        "shuttle-130-cam",
        "rapier-150-dobby",
    }
    loom = {
        "loom_id": "own",
        "insertion": {"system": "rapier"},
        "reed_width_cm": 190,
        "max_speed_picks_per_min": 500,
        "shedding": {"kind": "dobby", "shafts": 16},
    }
    file = write(tmp_path / "loom.json", loom)
    status, out, _ = run(capsys, "match", order, "--loom", file, "--format", "json")
    assert (status, [each["loom_id"] for each in json.loads(out)["matches"]]) == (0, ["own"])


def test_rates_are_given_for_a_weft(capsys: pytest.CaptureFixture[str]) -> None:
    wished = ("--reed-width-cm", "160", "--speed", "500", "--weft", "Ne 20", "--fibre", "cotton")
    status, out, _ = run(
        capsys,
        "rate",
        "--loom-id",
        "rapier-190-dobby",
        *wished,
        "--format",
        "json",
        "--feeders",
        "2",
    )
    sheet = json.loads(out)
    assert status == 0
    assert sheet["insertion_rate_m_per_min"] == 800
    assert sheet["limited_by"] == "requested_speed"
    assert sheet["wefts"][0]["feeders"] == 2


def test_a_sweep_is_a_table_and_the_pick_is_drawn(
    capsys: pytest.CaptureFixture[str], order: str, tmp_path: Path
) -> None:
    drawing = tmp_path / "pick.svg"
    words = ("--sweep", "width:150:190:5", "--format", "csv", "--svg", str(drawing))
    status, out, _ = run(capsys, "rate", order, *words)
    rows = list(csv.DictReader(io.StringIO(out)))
    assert status == 0
    assert [float(row["reed_width_cm"]) for row in rows] == [150, 160, 170, 180, 190]
    assert drawing.read_text("utf-8").startswith("<svg")


@pytest.mark.slow
def test_a_change_of_style_is_planned_alike_here_and_there(
    capsys: pytest.CaptureFixture[str], address: str, order: str, tmp_path: Path
) -> None:
    other = write(tmp_path / "next.json", ORDERS["D-109"])
    here = run(capsys, "changeover", order, other)
    assert here == run(capsys, "changeover", order, other, where=("--url", address))
    assert here[0] == 0
    assert "D-103 to D-109 on rapier-190-dobby" in here[1]
    assert "gait up" in here[1]


def test_the_warp_left_on_the_loom_may_be_stated(
    capsys: pytest.CaptureFixture[str], order: str
) -> None:
    status, out, _ = run(capsys, "changeover", order, order, "--warp-left-m", "10")
    assert status == 0
    assert "tie in" in out.splitlines()[0]
    assert "warp: 10 m are left" in out


def test_a_change_to_what_cannot_be_woven_gives_status_1(
    capsys: pytest.CaptureFixture[str], order: str, tmp_path: Path
) -> None:
    other = write(tmp_path / "next.json", ORDERS["D-104"])
    assert run(capsys, "changeover", order, other)[0] == 1


@pytest.mark.slow
def test_a_sequence_is_found_alike_here_and_there(
    capsys: pytest.CaptureFixture[str], address: str, order: str, tmp_path: Path
) -> None:
    other = write(tmp_path / "next.json", ORDERS["D-109"])
    words = ("sequence", other, order, "--on-loom", order)
    here = run(capsys, *words)
    assert here == run(capsys, *words, where=("--url", address))
    assert here[0] == 0
    assert here[1].startswith("2 orders on rapier-190-dobby: the loom is stopped for ")
    assert here[1].index("D-103") < here[1].index("D-109")


def test_a_sequence_is_for_one_loom(
    capsys: pytest.CaptureFixture[str], order: str, tmp_path: Path
) -> None:
    other = write(tmp_path / "next.json", {**ORDERS["D-109"], "loom_id": "rapier-190-cam"})
    status, _, said = run(capsys, "sequence", order, other)
    assert status == 2
    assert "several looms" in said


@pytest.mark.parametrize("form", ["page", "json", "csv"])
def test_a_weave_is_analysed_alike_here_and_there(
    capsys: pytest.CaptureFixture[str], address: str, form: str
) -> None:
    command = ("weave", "2/2 twill Z", "--ends-per-cm", "32", "--format", form)
    here = run(capsys, *command)
    assert here == run(capsys, *command, where=("--url", address))
    assert here[0] == 0


@pytest.mark.slow
@pytest.mark.parametrize("form", ["page", "json", "csv"])
def test_a_design_is_judged_alike_here_and_there(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], address: str, form: str
) -> None:
    effects, picture = design_files(tmp_path)
    command = ("design", picture, "--effects", effects, "--format", form)
    here = run(capsys, *command)
    assert here[0] == 0, here[2]
    assert "flower" in here[1]
    assert "weavable" in here[1]
    assert carries(here[1], "A computed result is not a safety approval", form)
    assert here == run(capsys, *command, where=("--url", address))


def design_files(folder: Path) -> tuple[str, str]:
    """The example of a design as an order in JSON, and its picture."""
    construction = deepcopy(DESIGN["construction"])
    design = construction.pop("weave")["design"]
    (folder / "flower.png").write_bytes(base64.b64decode(design.pop("picture_png")))
    effects = {"construction": construction, "loom": DESIGN["loom"], **design}
    return write(folder / "effects.json", effects), str(folder / "flower.png")


@pytest.mark.slow
def test_an_order_names_the_file_of_its_picture(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    design_files(tmp_path)
    order: dict[str, Any] = deepcopy({name: DESIGN[name] for name in ("construction", "loom")})
    stated = json.loads(run(capsys, "validate", write(tmp_path / "a.json", order), *JSON)[1])
    design = order["construction"]["weave"]["design"]
    del design["picture_png"]
    design["picture"] = "flower.png"
    named = write(tmp_path / "b.json", order)
    assert json.loads(run(capsys, "validate", named, *JSON)[1]) == stated
    page = run(capsys, "validate", named, "--format", "page")[1]
    assert "design, effect flower: #c01030: 8-end satin move 3, weft face" in page
    assert "design, repeat: 32 lines, 64 ends x 32 picks (A 32), 32 cards" in page

    for picture, words in (
        ("leaf.png", "leaf.png: No such file"),
        ("b.json", "b.json should be a PNG file"),
        (3, "picture of the design should be the name of a PNG file"),
    ):
        design["picture"] = picture
        status, _, trouble = run(capsys, "validate", write(tmp_path / "c.json", order))
        assert (status, words in trouble) == (2, True), trouble


JSON = ("--format", "json")


@pytest.mark.slow
def test_a_design_is_drawn_and_its_paper_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    effects, picture = design_files(tmp_path)
    svg, paper = tmp_path / "design.svg", tmp_path / "paper.png"
    files = ("--svg", str(svg), "--paper", str(paper))
    assert run(capsys, "design", picture, "--effects", effects, *files)[0] == 0
    assert "Tie: hook of each end" in svg.read_text("utf-8")
    with Image.open(paper) as drawn:
        assert drawn.size == (32, 32)
    weave = run(capsys, "weave", str(paper))[1]
    assert "repeat of 32 ends x 32 picks" in weave

    status, _, trouble = run(capsys, "design", effects, "--effects", effects)
    assert (status, "should be a PNG file" in trouble) == (2, True)


def test_what_is_misspelt_beside_the_effects_is_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    effects, picture = design_files(tmp_path)
    stated = json.loads(Path(effects).read_text("utf-8"))
    stated |= {"flot_limits": {"warp_mm": 1}, "colums": 100, "remark": "for the reader"}
    status, _, trouble = run(capsys, "design", picture, "--effects", write(Path(effects), stated))
    assert status == 2
    for word in ("flot_limits", "colums"):
        assert word in trouble
    assert "remark" not in trouble


@pytest.mark.parametrize("form", ["page", "json", "csv"])
def test_the_names_of_weaves_are_listed(capsys: pytest.CaptureFixture[str], form: str) -> None:
    status, out, _ = run(capsys, "weaves", "twill", "--format", form)
    assert status == 0
    assert "whipcord" in out
    assert "houndstooth" not in out


@pytest.mark.parametrize("form", ["page", "json", "csv"])
def test_published_values_are_listed_beside_computed_ones(
    capsys: pytest.CaptureFixture[str], form: str
) -> None:
    status, out, _ = run(capsys, "evidence", "mass", "towel", "--format", form)
    assert status == 0
    assert "mass F110" in out
    assert "loom L132" not in out
    if form == "page":
        assert "left out" in out
        assert "Qualified staff decide" in out


@pytest.mark.parametrize("form", ["page", "json", "csv"])
def test_sentences_are_listed_by_their_keys(capsys: pytest.CaptureFixture[str], form: str) -> None:
    arguments = ("messages", "shuttle", "boxes", "--kind", "fault", "--format", form)
    status, out, _ = run(capsys, *arguments)
    assert status == 0
    assert "fault.loom.no_boxes" in out
    assert "Insertion by {system} has no" in out
    assert "fault.value" not in out


def test_evidence_of_what_no_subject_is_named_after_says_so(
    capsys: pytest.CaptureFixture[str],
) -> None:
    _, out, _ = run(capsys, "evidence", "sequence")
    assert out.startswith("evidence: no subject has these words in its name")


def test_a_weave_that_falls_apart_gives_status_1(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    file = write(tmp_path / "weave.json", {"rows": ["1000", "1110", "0010", "1011"]})
    status, out, _ = run(capsys, "weave", file)
    assert status == 1
    assert "weave.falls_apart" in out


@pytest.mark.parametrize("view", ["point_paper", "cloth_face"])
def test_a_weave_is_drawn_into_a_file(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, view: str
) -> None:
    drawing = tmp_path / "weave.svg"
    status, _, _ = run(capsys, "weave", "5-end satin move 2", "--svg", str(drawing), "--view", view)
    assert status == 0
    assert drawing.read_text("utf-8").startswith("<svg")


def test_the_weave_of_an_order_and_of_point_paper_are_read(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, order: str
) -> None:
    assert "2/2 twill Z" in run(capsys, "weave", order)[1]
    paper = tmp_path / "paper.png"
    picture = Image.new("1", (4, 4), 1)
    for pick, row in enumerate(("1100", "0110", "0011", "1001")):
        for end, mark in enumerate(row):
            picture.putpixel((end, 3 - pick), 0 if mark == "1" else 1)
    picture.save(paper)
    assert "2/2 twill Z" in run(capsys, "weave", str(paper))[1]


def test_a_weave_comes_from_the_standard_input(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    content = io.BytesIO(b'weave = "3/1 twill S"')
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(content))
    assert "3/1 twill S" in run(capsys, "weave", "-")[1]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["rate", "--local"], "names no loom"),
        (["match", "nowhere.json", "--local"], "nowhere.json"),
        (["rate", "--loom-id", "x", "--looms", "park.toml", "--url", "http://x"], "for --local"),
        (["rate", "--loom-id", "rapier-19", "--local"], "rapier-190-"),
        (["rate", "--loom-id", "rapier-190-dobby", "--local", "--svg", "p.svg"], "weft"),
        (
            [
                "rate",
                "--loom-id",
                "rapier-190-dobby",
                "--local",
                "--svg",
                "/no/p.svg",
                "--weft",
                "Ne 9",
            ],
            "/no",
        ),
    ],
)
def test_wrong_use_gives_status_2_and_a_sentence(
    capsys: pytest.CaptureFixture[str], arguments: list[str], words: str
) -> None:
    assert cli.main(arguments) == 2
    assert words in capsys.readouterr().err


@pytest.mark.parametrize(
    "sweep",
    [
        "speed",
        "speed:1",
        "speed:1:x",
        "time:1:2",
        "speed:1:2:3:4",
        "speed:1:٣",
        "speed:1:nan",
        "speed:1:2:2.5",
    ],
)
def test_a_sweep_that_is_none_is_refused(sweep: str) -> None:
    with pytest.raises(SystemExit) as ended:
        cli.main(["rate", "--sweep", sweep])
    assert ended.value.code == 2


def test_options_take_the_digits_0_to_9(capsys: pytest.CaptureFixture[str]) -> None:
    for arguments in (
        ["rate", "--feeders", "٢"],
        ["rate", "--feeders", "1_0"],
        ["rate", "--reed-width-cm", "1e999"],
        ["rate", "--sweep", "speed:3_00:600:3"],
        ["changeover", "--warp-left-m", "１０"],
    ):
        with pytest.raises(SystemExit) as ended:
            cli.main(arguments)
        assert ended.value.code == 2
        assert "in the digits 0 to 9" in capsys.readouterr().err


def test_several_orders_where_one_is_needed_are_refused(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert cli.main(["match", str(BOOK), "--local"]) == 2
    assert f"{SIZE} orders, but only one is needed" in capsys.readouterr().err


def test_no_order_is_wrong_use(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["validate", write(tmp_path / "none.json", []), "--local"]) == 2
    assert "holds no order" in capsys.readouterr().err


@pytest.mark.parametrize("name", ["orders.jsonl", "orders"])
def test_a_line_of_json_is_an_order(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    lines = "\n".join(json.dumps(ORDERS[each]) for each in ("D-101", "D-103"))
    status, out, _ = run(capsys, "validate", write(tmp_path / name, lines))
    assert status == 0
    assert "D-101" in out
    assert "D-103" in out


class Terminal(io.StringIO):
    """Looks like a terminal."""

    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(
    ("environment", "coloured"),
    [({}, True), ({"NO_COLOR": "1"}, False), ({"NO_COLOR": ""}, True), ({"TERM": "dumb"}, False)],
)
def test_colour_is_for_terminals_that_want_it(environment: dict[str, str], coloured: bool) -> None:
    assert wants_colour(Terminal(), environment) is coloured
    assert wants_colour(io.StringIO(), environment) is False


def test_colour_changes_nothing_but_colour() -> None:
    text = "D-1 on L: not weavable\n  error sett.jammed: weavable on another\n  note x.y: a"
    shown = painted(text)
    assert shown.count("\x1b[31m") == 2
    assert (
        shown.replace("\x1b[31m", "")
        .replace("\x1b[32m", "")
        .replace("\x1b[36m", "")
        .replace("\x1b[0m", "")
        == text
    )


def test_a_terminal_sees_verdicts_in_colour(monkeypatch: pytest.MonkeyPatch, order: str) -> None:
    shown = Terminal()
    monkeypatch.setattr(sys, "stdout", shown)
    monkeypatch.setenv("TERM", "xterm")
    assert cli.main(["validate", order, "--local"]) == 0
    assert "\x1b[32mweavable\x1b[0m" in shown.getvalue()


@pytest.mark.slow
@pytest.mark.parametrize("output", ["/dev/full", None])
def test_an_output_that_cannot_be_written_is_trouble(order: str, output: str | None) -> None:
    """Exit status 1 would mean that the order cannot be woven."""
    command = shlex.join([sys.executable, "-m", "weavability_client.cli", "validate", order])
    where = f"> {output}" if output else ">&-"
    done = subprocess.run(
        ["sh", "-c", f"{command} --local {where}"], stderr=subprocess.PIPE, text=True, check=False
    )
    assert done.returncode == 2
    assert done.stderr.startswith("weavability: ")
    assert done.stderr.count("\n") == 1


@pytest.mark.slow
def test_a_reader_that_goes_away_is_no_traceback(order: str) -> None:
    here, there = socket.socketpair()
    there.close()
    with here:
        done = subprocess.run(
            [sys.executable, "-m", "weavability_client.cli", "validate", order, "--local"],
            stdout=here.fileno(),
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("form", ["page", "json", "csv"])
def test_the_looms_are_listed_with_what_is_assumed_of_them(
    capsys: pytest.CaptureFixture[str], address: str, form: str
) -> None:
    command = ("looms", "rapier", "190", "dobby", "--format", form)
    here = run(capsys, *command)
    assert here == run(capsys, *command, where=("--url", address))
    status, out, _ = here
    assert status == 0
    assert "rapier-190-dobby" in out
    assert "air-jet" not in out
    assert "warp_strain" in out
    assert "common_practice" in out
    if form == "csv":
        rows = list(csv.DictReader(io.StringIO(out)))
        (size,) = [row for row in rows if row["limit"] == "cloth_tube_diameter_cm"]
        assert (size["loom_id"], size["assumed"], size["low"]) == ("rapier-190-dobby", "15", "5.0")


def test_a_park_is_a_line_a_loom(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, "looms")
    lines = out.splitlines()
    assert lines[0] == "12 looms"
    assert len([line for line in lines if line.startswith(("  rapier-", "  air-jet-"))]) >= 4


@pytest.mark.slow
def test_all_from_which_a_loom_may_be_set_up_carries_the_caution(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, order: str
) -> None:
    caution = "A computed result is not a safety approval"
    drawing = tmp_path / "pick.svg"
    sweep = ("rate", order, "--sweep", "speed:300:500:3", "--svg", str(drawing))
    lacking = [
        (command[0], form)
        for command in (
            ("validate", order),
            ("match", order),
            sweep,
            ("changeover", order, order),
            ("sequence", order),
            ("weave", "1/3 twill Z", "--ends-per-cm", "3", "--picks-per-cm", "3"),
            ("weaves", "twill"),
            ("looms",),
        )
        for form in ("table", "page", "json", "csv")
        if (form != "table" or command[0] == "validate")
        and not carries(run(capsys, *command, "--format", form)[1], caution, form)
    ]
    assert lacking == []
    assert caution in drawing.read_text("utf-8")


def carries(out: str, caution: str, form: str) -> bool:
    """Whether output carries the caution: each row of a sheet does, if there is any."""
    if form != "csv":
        return caution in out
    return all(row["caution"].startswith(caution) for row in csv.DictReader(io.StringIO(out)))


def test_a_window_is_mapped_by_short_names_and_drawn(
    capsys: pytest.CaptureFixture[str], order: str, tmp_path: Path
) -> None:
    drawing = tmp_path / "window.svg"
    axes = ("--across", "width:100:250:4", "--along", "/construction/weft/crimp_pct:0:10:3")
    status, out, _ = run(capsys, "window", order, *axes, "--svg", str(drawing), "--format", "json")
    found = json.loads(out)
    assert (status, found["across"]["pointer"]) == (0, "/construction/width_cm")
    assert found["across"]["values"] == [100, 150, 200, 250]
    assert found["along"]["values"] == [0, 5, 10]
    assert drawing.read_text("utf-8").startswith("<svg")
    with pytest.raises(SystemExit) as left:
        run(capsys, "window", order, "--across", "breadth:1:2", "--along", "picks:1:2")
    assert left.value.code == 2
    assert "ends, picks, width" in capsys.readouterr().err


@pytest.mark.slow
def test_decisive_assumptions_are_listed_on_request(
    capsys: pytest.CaptureFixture[str], order: str
) -> None:
    asked = ("validate", order, "--format", "json")
    plain = json.loads(run(capsys, *asked)[1])
    decided = json.loads(run(capsys, *asked, "--decisive-assumptions")[1])
    assert "decisive_assumptions" not in plain
    assert isinstance(decided["decisive_assumptions"], list)
    table = run(capsys, *asked[:2], "--decisive-assumptions")[1]
    assert ("the verdict holds" in table) == decided["verdict_holds"]
    by_themselves = [
        each for each in decided["decisive_assumptions"] if each["codes"] != ["reed.not_in_stock"]
    ]
    assert table.count("decides:") == len(by_themselves)
    rows = run(capsys, *asked, "--decisive-assumptions", "--format", "csv")[1]
    (row,) = csv.DictReader(io.StringIO(rows))
    assert row["verdict_holds"] in ("true", "false")
    ranked = run(capsys, "match", *asked[1:], "--decisive-assumptions", "--format", "json")[1]
    assert isinstance(json.loads(ranked)["matches"][0]["decisive_assumptions"], list)
    assert isinstance(decided["verdict_holds"], bool)
