"""The command ``weavability``: files in, table or JSON out, and the exit status."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import responses
from client.recorded import sample

from weavability_client import cli

URL = "http://mill.example"
VALIDATIONS = f"{URL}/v1/validations"
CONSTRUCTION = sample("weavable")["request"]["construction"]
GOOD = sample("weavable")["answer"]
BAD = sample("not_weavable")["answer"]
ORDER_TOML = """
[[order]]
cloth = "Poplin"
remark = "for the reader"
loom_id = "L1"
[order.construction]
weave = "plain"
"""


@pytest.fixture(autouse=True)
def _address(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WEAVABILITY_URL", URL)
    monkeypatch.delenv("WEAVABILITY_TOKEN", raising=False)


@pytest.fixture
def played() -> Iterator[responses.RequestsMock]:
    with responses.RequestsMock() as mock:
        yield mock


def sent(played: responses.RequestsMock) -> list[Any]:
    calls: list[Any] = list(played.calls)
    return [json.loads(call.request.body) for call in calls]


def write(path: Path, content: object) -> str:
    text = content if isinstance(content, str) else json.dumps(content)
    path.write_text(text, encoding="utf-8")
    return str(path)


def test_a_weavable_order_gives_status_0_and_a_table(
    played: responses.RequestsMock, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    played.post(VALIDATIONS, json=GOOD)
    file = write(tmp_path / "order.json", {"construction": CONSTRUCTION, "loom_id": "L1"})
    assert cli.main(["validate", file]) == 0
    printed = capsys.readouterr().out
    assert "weavable" in printed
    assert GOOD["reference"] in printed


def test_an_order_that_cannot_be_woven_gives_status_1(
    played: responses.RequestsMock, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    played.post(VALIDATIONS, json=BAD)
    file = write(tmp_path / "order.json", CONSTRUCTION)
    assert cli.main(["validate", file, "--loom-id", "L1"]) == 1
    assert "sett.jammed" in capsys.readouterr().out
    assert sent(played) == [{"construction": CONSTRUCTION, "loom_id": "L1"}]


def test_an_order_that_is_refused_gives_status_2_and_says_why(
    played: responses.RequestsMock, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    played.post(
        VALIDATIONS,
        status=422,
        json=sample("invalid")["answer"],
        content_type="application/problem+json",
    )
    file = write(tmp_path / "order.json", CONSTRUCTION)
    assert cli.main(["validate", file, "--loom-id", "L1"]) == 2
    assert "/construction/weft/yarns/A/fibre" in capsys.readouterr().err


def test_an_order_book_in_toml_is_sent_without_what_is_for_readers(
    played: responses.RequestsMock, tmp_path: Path
) -> None:
    played.post(VALIDATIONS, json=GOOD)
    assert cli.main(["validate", write(tmp_path / "book.toml", ORDER_TOML)]) == 0
    assert sent(played) == [{"construction": {"weave": "plain"}, "loom_id": "L1"}]


@pytest.mark.parametrize(
    "text", [ORDER_TOML, json.dumps({"construction": {"weave": "plain"}, "loom_id": "L1"})]
)
def test_the_standard_input_may_be_either_language(
    played: responses.RequestsMock, monkeypatch: pytest.MonkeyPatch, text: str
) -> None:
    played.post(VALIDATIONS, json=GOOD)
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(text.encode())))
    assert cli.main(["validate"]) == 0
    assert sent(played) == [{"construction": {"weave": "plain"}, "loom_id": "L1"}]


def test_a_loom_of_its_own_is_read_from_a_file(
    played: responses.RequestsMock, tmp_path: Path
) -> None:
    played.post(VALIDATIONS, json=GOOD)
    loom = write(tmp_path / "loom.toml", 'reed_width_cm = 190\n[insertion]\nsystem = "rapier"\n')
    file = write(tmp_path / "order.json", [CONSTRUCTION])
    assert cli.main(["validate", file, "--loom", loom]) == 0
    assert sent(played)[0]["loom"] == {"reed_width_cm": 190, "insertion": {"system": "rapier"}}


def test_the_loom_of_the_options_is_used_in_place_of_the_orders_own(
    played: responses.RequestsMock, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    played.post(VALIDATIONS, json=GOOD)
    file = write(tmp_path / "order.json", {"construction": CONSTRUCTION, "loom_id": "own"})
    cli.main(["validate", file, "--loom-id", "other"])
    assert "--loom-id other is used in place of the loom of the order: own" in said(capsys)
    cli.main(["validate", file, "--loom-id", "own"])
    assert said(capsys) == ""
    stated = write(tmp_path / "stated.json", {"construction": CONSTRUCTION, "loom": {"x": 1}})
    cli.main(["validate", stated, file, "--loom-id", "third"])
    assert "2 orders: looms of their own, own" in said(capsys)
    looms = [{key: body[key] for key in body if key != "construction"} for body in sent(played)]
    assert looms[:2] == [{"loom_id": "other"}, {"loom_id": "own"}]
    assert "loom" not in looms[2]


def said(capsys: pytest.CaptureFixture[str]) -> str:
    return capsys.readouterr().err


def test_json_output_is_the_report_itself(
    played: responses.RequestsMock, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    played.post(VALIDATIONS, json=GOOD)
    file = write(tmp_path / "order.json", CONSTRUCTION)
    cli.main(["validate", file, "--loom-id", "L1", "--format", "json"])
    assert json.loads(capsys.readouterr().out)["validation_id"] == GOOD["validation_id"]


def test_json_output_of_many_keeps_the_place_of_a_refused_one(
    played: responses.RequestsMock, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def by_weave(request: Any) -> tuple[int, dict[str, str], str]:
        if json.loads(request.body)["construction"]["weave"] == "plain":
            return 200, {"Content-Type": "application/json"}, json.dumps(GOOD)
        return 422, {"Content-Type": "application/problem+json"}, '{"detail": "no such weave"}'

    played.add_callback("POST", VALIDATIONS, by_weave)
    file = write(tmp_path / "orders.json", [{"weave": "plane"}, {"weave": "plain"}])
    status = cli.main(["validate", file, "--loom-id", "L1", "--format", "json"])
    first, second = json.loads(capsys.readouterr().out)
    assert "no such weave" in first["error"]
    assert second["verdict"] == "weavable"
    assert status == 2


def test_a_page_is_the_printed_report(
    played: responses.RequestsMock, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    played.post(VALIDATIONS, json=GOOD)
    file = write(tmp_path / "order.json", CONSTRUCTION)
    cli.main(["validate", file, "--loom-id", "L1", "--format", "page"])
    out = capsys.readouterr().out
    assert GOOD["caution"] in " ".join(out.split())
    assert max(map(len, out.splitlines())) <= 100


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("order.json", "{", "not readable as JSON"),
        ("order.toml", "= 1", "not readable as TOML"),
        ("order.json", [1], "order 1: should be an object"),
        ("order.json", {"weave": "plain"}, "names no loom"),
    ],
)
def test_wrong_use_gives_status_2_and_a_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, content: object, words: str
) -> None:
    assert cli.main(["validate", write(tmp_path / name, content)]) == 2
    assert words in capsys.readouterr().err


def test_a_file_that_is_not_there_gives_status_2(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["validate", "nowhere.json"]) == 2
    assert "nowhere.json" in capsys.readouterr().err


def test_a_loom_that_is_no_object_gives_status_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    order = write(tmp_path / "order.json", CONSTRUCTION)
    loom = write(tmp_path / "loom.json", [])
    assert cli.main(["validate", order, "--loom", loom]) == 2
    assert "should hold one object" in capsys.readouterr().err


@pytest.mark.parametrize(
    "arguments", [[], ["weave-it"], ["validate", "--loom", "a", "--loom-id", "b"]]
)
def test_an_unknown_use_ends_with_status_2(arguments: list[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        cli.main(arguments)
    assert ended.value.code == 2


@pytest.mark.slow
def test_a_service_out_of_reach_gives_status_2(tmp_path: Path) -> None:
    file = write(tmp_path / "order.json", CONSTRUCTION)
    environment = {**os.environ, "WEAVABILITY_URL": "http://127.0.0.1:9"}
    done = subprocess.run(
        [sys.executable, "-m", "weavability_client.cli", "validate", file, "--loom-id", "L1"],
        capture_output=True,
        text=True,
        env=environment,
        check=False,
    )
    assert done.returncode == 2
    assert "Is the service running" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_missing_address_names_the_option(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.delenv("WEAVABILITY_URL")
    assert cli.main(["weave", "plain"]) == 2
    assert "--url" in capsys.readouterr().err


@pytest.mark.parametrize(
    "words",
    [
        ("--local", "weave", "plain", "--format", "json"),
        ("weave", "plain", "--local", "--format", "json"),
        ("--url", "http://127.0.0.1:9", "weave", "plain", "--local", "--format", "json"),
    ],
)
def test_options_of_every_command_may_be_before_it(
    words: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(words) == 0
    assert json.loads(capsys.readouterr().out)["name"] == "plain"


def test_an_address_is_used_wherever_it_is_stated(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.delenv("WEAVABILITY_URL")
    nowhere = ("--url", "http://127.0.0.1:9")
    for words in ((*nowhere, "looms"), ("looms", *nowhere), ("--url=http://127.0.0.1:9", "looms")):
        assert cli.main(words) == 2
        assert "http://127.0.0.1:9" in capsys.readouterr().err


@pytest.mark.parametrize("words", [("--format", "json", "weave", "plain"), ("--loom-id=L", "rate")])
def test_an_option_before_its_command_is_said_to_go_after_it(
    words: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(words) == 2
    assert f"{words[0].partition('=')[0]} goes after the command" in capsys.readouterr().err
