"""The recipes run as they are, against the service as it really runs."""

from __future__ import annotations

import importlib.util
import io
import json
import shutil
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from service.servers import Server, serving
from service.support import PARK_TEXT
from sqlalchemy import create_engine, select
from sqlalchemy.dialects import postgresql
from sqlalchemy.orm import Session
from sqlalchemy.schema import CreateTable

from weavability_client import Client

pytestmark = pytest.mark.slow

RECIPES = Path(__file__).parents[1] / "server/docs/recipes"
CLOTH: dict[str, Any] = {
    "reference": "SO-1",
    "weave": "plain",
    "width_cm": 150,
    "warp": {"yarns": {"A": {"designation": "Ne 30", "fibre": "cotton"}}, "ends_per_cm": 28},
    "weft": {"yarns": {"A": {"designation": "Ne 30", "fibre": "cotton"}}, "picks_per_cm": 22},
}
LOOM = "rapier-190-dobby"
GOOD = {"construction": CLOTH, "loom_id": LOOM}
IN_DOUBT = {
    "construction": {
        **CLOTH,
        "weave": "2/2 twill Z",
        "width_cm": 152,
        "warp": {
            "yarns": {"A": {"designation": "Ne 40/2", "fibre": "cotton"}},
            "ends_per_cm": 32,
        },
        "weft": {"yarns": {"A": {"designation": "Ne 20", "fibre": "cotton"}}, "picks_per_cm": 24},
        "requested_speed_picks_per_min": 600,
    },
    "loom_id": LOOM,
}
TOO_WIDE = {"construction": CLOTH | {"reference": "SO-2", "width_cm": 220}, "loom_id": LOOM}
WRONG = {"construction": CLOTH | {"reference": "SO-3", "width_cm": -1}, "loom_id": LOOM}


def recipe(name: str) -> ModuleType:
    found = importlib.util.spec_from_file_location(name, RECIPES / f"{name}.py")
    assert found is not None
    assert found.loader is not None
    module = importlib.util.module_from_spec(found)
    sys.modules[name] = module
    found.loader.exec_module(module)
    return module


store = recipe("store_results")
hook = recipe("order_entry_hook")
translate = recipe("translate_messages")


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    with serving() as running:
        yield running


class TestStore:
    def test_results_are_kept_and_kept_fresh(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        orders = tmp_path / "orders.ndjson"
        lines = [json.dumps(each) for each in (GOOD, TOO_WIDE, WRONG, {"loom_id": LOOM})]
        lines.append('{"construction": ')
        orders.write_text("\n".join(lines), "utf-8")
        park = tmp_path / "park.toml"
        park.write_text(PARK_TEXT, "utf-8")
        database = ["--database", f"sqlite:///{tmp_path}/results.db"]
        with serving("--looms", str(park)) as before:
            monkeypatch.setenv("WEAVABILITY_URL", before.url)
            assert store.main([*database, "judge", str(orders)]) == 1  # one could not be judged
            assert store.main([*database, "refresh"]) == 0
            port = before.port
        assert "2 of 5 orders judged" in (said := capsys.readouterr().out)
        assert "0 results have changed" in said
        park.write_text(PARK_TEXT.replace("reed_width_cm = 190", "reed_width_cm = 140"), "utf-8")
        with serving("--looms", str(park), port=port):
            assert store.main([*database, "refresh"]) == 0
        assert "2 results have changed" in capsys.readouterr().out
        with Session(create_engine(database[1])) as session:
            rows = {row.reference: row for row in session.scalars(select(store.Result))}
        assert rows["SO-1"].verdict == "not_weavable"
        assert "width.reed_space" in rows["SO-1"].codes
        assert "/construction/width_cm" in rows["SO-3"].problem
        assert "a line is an object" in rows["line 4"].problem
        assert "line 1 column" in rows["line 5"].problem
        with pytest.raises(SystemExit):
            store.main([*database, "judge", str(tmp_path / "missing.ndjson")])
        assert "missing.ndjson: No such file" in capsys.readouterr().err

    def test_the_table_can_be_made_in_postgresql(self) -> None:
        dialect = postgresql.dialect()  # type: ignore[no-untyped-call]
        made = str(CreateTable(store.Result.__table__).compile(dialect=dialect))
        assert "codes JSON NOT NULL" in made
        assert "judged_at TIMESTAMP WITH TIME ZONE NOT NULL" in made
        assert "PRIMARY KEY (reference, loom_id)" in made


def decided(language: str, address: str, request: object) -> dict[str, Any]:
    return decided_on(language, address, json.dumps(request))


def decided_on(language: str, address: str, text: str) -> dict[str, Any]:
    program = {
        "Python": [sys.executable, str(RECIPES / "order_entry_hook.py")],
        "JavaScript": [shutil.which("node") or "node", str(RECIPES / "order_entry_hook.mjs")],
    }[language]
    done = subprocess.run(
        program,
        input=text,
        env={"WEAVABILITY_URL": address, "PYTHONPATH": ":".join(sys.path)},
        capture_output=True,
        text=True,
        check=True,
    )
    decision: dict[str, Any] = json.loads(done.stdout)
    return decision


# Node comes with what the tests in a browser need.
IN_JAVASCRIPT = pytest.param("JavaScript", marks=pytest.mark.browser)


@pytest.mark.parametrize("language", ["Python", IN_JAVASCRIPT])
class TestHook:
    def test_an_order_is_accepted_with_a_link(self, server: Server, language: str) -> None:
        decision = decided(language, server.url, GOOD)
        assert decision["action"] == "accept"
        assert decision["remarks"][-1].startswith("A computed result is not a safety approval.")
        with Client(server.url) as client:
            assert client.validate(**GOOD).link == decision["link"]  # type: ignore[arg-type]

    def test_an_order_that_cannot_be_woven_is_held_with_the_way_out(
        self, server: Server, language: str
    ) -> None:
        decision = decided(language, server.url, TOO_WIDE)
        assert decision["action"] == "hold"
        assert decision["remarks"][0].startswith("error width.reed_space: ")
        assert any(each.startswith("This would help: ") for each in decision["remarks"])
        fast = CLOTH | {"width_cm": 250, "requested_speed_picks_per_min": 900}
        alone = decided(language, server.url, {"construction": fast, "loom_id": LOOM})["remarks"]
        assert not any(each.startswith("This would help: ") for each in alone)
        speeds = [each for each in alone if "picks/min" in each and each.startswith("Not enough")]
        assert len(speeds) == len(set(speeds)) > 0
        assert "insertion.speed_exceeded: Run at" in speeds[0]

    def test_an_order_in_doubt_is_held_with_the_doubt_first(
        self, server: Server, language: str
    ) -> None:
        decision = decided(language, server.url, IN_DOUBT)
        assert decision["action"] == "hold"
        assert "may be weavable if it is not" in decision["remarks"][0]

    def test_an_order_that_is_not_judged_is_held(self, server: Server, language: str) -> None:
        (wrong,) = decided(language, server.url, WRONG)["remarks"]
        assert wrong.startswith("/construction/width_cm: ")
        away = decided(language, "http://127.0.0.1:9", GOOD)
        assert away["action"] == "hold"
        assert away["remarks"][0].startswith("Not judged, ask the planner: ")
        nowhere = decided(language, "", GOOD)
        assert nowhere["action"] == "hold"
        garbage = decided_on(language, server.url, "no order")
        assert garbage["action"] == "hold"
        assert garbage["remarks"][0].startswith("Not judged, the request is not JSON: ")


def test_an_answer_that_never_ends_is_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(hook, "LONGEST_WAIT_S", 0.3)
    with socket.create_server(("127.0.0.1", 0)) as silent:
        monkeypatch.setenv("WEAVABILITY_URL", f"http://127.0.0.1:{silent.getsockname()[1]}")
        decision = hook.decide(json.dumps(GOOD).encode())
    assert decision.action == "hold"
    assert "no answer within 0.3 seconds" in decision.remarks[0]


class TestTranslation:
    def test_an_answer_is_shown_in_another_language(
        self,
        server: Server,
        tmp_path: Path,
        monkeypatch: pytest.MonkeyPatch,
        capsys: pytest.CaptureFixture[str],
    ) -> None:
        monkeypatch.setenv("WEAVABILITY_URL", server.url)
        assert translate.main(["template"]) == 0
        patterns = json.loads(capsys.readouterr().out)
        german = tmp_path / "de.json"
        german.write_text(json.dumps(patterns), "utf-8")
        assert translate.main(["check", str(german)]) == 0
        own = {
            "width.reed_space.error": "{needed_cm:.1f} cm im Blatt: zu breit.",
            "assumption.cloth.grey_stage": "Rohware angenommen",
            "fault.value.below_least": "{field} ist mindestens {least:_.10g}{unit}.",
            "fault.gone": "",
            "sett.jammed.error": "{limit zu dicht",
            "fault.cloth.too_wide": "{reed_width_cm:q} cm im Blatt",
        }
        german.write_text(json.dumps(own), "utf-8")
        capsys.readouterr()
        assert translate.main(["check", str(german)]) == 1
        said = capsys.readouterr().out.splitlines()
        assert "no longer used: fault.gone" in said
        assert len([line for line in said if line.startswith("not translated: ")]) > 1000
        assert [line for line in said if line.startswith("wrong: ")] == [
            "wrong: fault.cloth.too_wide: cannot be written so: {reed_width_cm:q}",
            "wrong: sett.jammed.error: a brace without its other: "
            "expected '}' before end of string",
            "wrong: width.reed_space.error: no such value: quotes needed_cm",
        ]
        monkeypatch.setattr("sys.stdin", io.StringIO(json.dumps(TOO_WIDE)))
        assert translate.main(["show", str(german)]) == 0
        assert "error: " in capsys.readouterr().out  # in English: the pattern cannot be used
        own["width.reed_space.error"] = "{actual:.1f} cm im Blatt: zu breit."
        german.write_text(json.dumps(own), "utf-8")
        for request, line in (
            (TOO_WIDE, " cm im Blatt: zu breit."),
            (TOO_WIDE, "/construction/stage = grey : Rohware angenommen"),
            (WRONG, "/construction/width_cm: width_cm ist mindestens 1 cm."),
        ):
            monkeypatch.setattr("sys.stdin", io.StringIO(json.dumps(request)))
            assert translate.main(["show", str(german)]) == 0
            assert line in capsys.readouterr().out
