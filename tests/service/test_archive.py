"""An archive of orders: every order on every loom, in parts, nothing lost."""

from __future__ import annotations

import fcntl
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from itertools import groupby
from pathlib import Path
from typing import Any, Final

import dask
import psutil
import pyarrow.parquet as pq
import pytest
import requests
from archived_orders import (
    demo_orders,
    fits_a_sheet,
    orders,
    write_csv,
    write_ndjson,
    write_parquet,
)
from distributed import LocalCluster
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st
from service.support import PARK_TEXT, small_request

from weavability.answers.columns import judge_columns
from weavability.checks.codes import CheckCode
from weavability.checks.finding import Severity
from weavability.looms.thresholds import put_in_force, shipped
from weavability.service import create_app
from weavability.service.archive import archive_command, partition_judging
from weavability.service.archive.archive_command import main
from weavability.service.archive.order_files import Form, cut, entries
from weavability.service.batches.csv_orders import read_orders
from weavability.service.http.streams import lines
from weavability.textiles.errors import InputError

pytestmark = pytest.mark.slow

RANKS: Final = {Severity.NOTE: 1, Severity.WARNING: 2, Severity.ERROR: 3}
NUMBERS: Final = (
    *("speed_picks_per_min", "insertion_rate_m_per_min", "output_m_per_h", "hours_for_order"),
    *("reed_width_cm", "reed_dents_per_10cm", "tightness_pct"),
)
DEMO_PARK: Final = Path(__file__).parents[2] / "server/weavability/data/demo_park.toml"
WITHIN_S: Final = 120.0
MANY: Final = 1_500
PARTITION: Final = 25


@pytest.fixture(scope="module")
def scheduler(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A scheduler that somebody else runs, with a worker in this process."""
    with (
        dask.config.set({"temporary-directory": str(tmp_path_factory.mktemp("dask"))}),
        LocalCluster(
            n_workers=1,
            threads_per_worker=1,
            processes=False,
            protocol="tcp",
            dashboard_address=None,
            scheduler_kwargs={"dashboard_address": "127.0.0.1:0"},
        ) as cluster,
    ):
        yield cluster.scheduler_address
    put_in_force(shipped())


@pytest.fixture
def park_file(tmp_path: Path) -> Path:
    path = tmp_path / "park.toml"
    path.write_text(PARK_TEXT, "utf-8")
    return path


class Archive:
    """The command with a small park, on the scheduler of the tests."""

    def __init__(self, folder: Path, park: Path, scheduler: str) -> None:
        self.folder, self.park, self.scheduler = folder, park, scheduler

    def __call__(self, source: Path, *more: str, out: str = "out") -> int:
        options = ["--looms", str(self.park), "--out", str(self.folder / out)]
        return main([str(source), *options, "--scheduler", self.scheduler, *more])

    def rows(self, kind: str = "verdicts", out: str = "out") -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = pq.read_table(self.folder / out / kind).to_pylist()
        return found

    def summary(self, out: str = "out") -> dict[str, Any]:
        text = (self.folder / out / "summary.json").read_text("utf-8")
        found: dict[str, Any] = json.loads(text)
        return found


@pytest.fixture
def archive(tmp_path: Path, park_file: Path, scheduler: str) -> Archive:
    return Archive(tmp_path, park_file, scheduler)


def without_row(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [{name: value for name, value in row.items() if name != "row"} for row in rows]


class TestVerdicts:
    def test_all_forms_of_the_same_orders_give_the_same_verdicts(
        self, archive: Archive, tmp_path: Path
    ) -> None:
        written = [*filter(fits_a_sheet, demo_orders()), *orders(40)]
        assert len(written) > 55
        forms = [
            write_ndjson(tmp_path / "orders.ndjson", written),
            write_csv(tmp_path / "orders.csv", written),
            write_parquet(tmp_path / "orders.parquet", written, group=25),
        ]
        for path in forms:
            assert archive(path, "--partition-orders", "17", out=path.suffix) == 0
        by_form = [archive.rows(out=path.suffix) for path in forms]
        assert len(by_form[0]) == 2 * len(written)
        assert without_row(by_form[0]) == without_row(by_form[1]) == without_row(by_form[2])
        assert [rows[0]["row"] for rows in by_form] == [1, 2, 1]
        assert [rows[-1]["row"] - rows[0]["row"] for rows in by_form] == [len(written) - 1] * 3

    def test_what_is_before_the_header_of_a_sheet_is_no_order(
        self, archive: Archive, tmp_path: Path
    ) -> None:
        plain = write_csv(tmp_path / "plain.csv", list(orders(4)))
        marked = tmp_path / "marked.csv"
        marked.write_text(f"sep=,\n# orders.csv\n\n{plain.read_text('utf-8')}", "utf-8")
        for path in (plain, marked):
            assert archive(path, "--partition-orders", "2", out=path.stem) == 0
        assert archive.rows(out="plain") == archive.rows(out="marked")

    def test_a_pair_gets_what_the_service_answers(self, archive: Archive, tmp_path: Path) -> None:
        archive.park = DEMO_PARK
        written = [*demo_orders(), *orders(12)]
        assert archive(write_ndjson(tmp_path / "orders.ndjson", written)) == 0
        client = create_app().test_client()
        for pair in archive.rows():
            given = {**written[pair["row"] - 1], "loom_id": pair["loom_id"]}
            report = client.post("/v1/validations", json=given).get_json()
            found = dict.fromkeys(CheckCode, 0)
            for finding in report["findings"]:
                rank = RANKS[Severity(finding["severity"])]
                found[finding["code"]] = max(rank, found[finding["code"]])
            assert {code: pair[code] for code in CheckCode} == found
            assert pair["verdict"] == report["verdict"]
            assert pair["severity"] == max(found.values())
            assert pair["reference"] == report["reference"]
            reported = report["rates"] | report["setup"] | report["cloth"]
            for name in NUMBERS:
                value = reported[name]
                near = value if value is None else pytest.approx(value, rel=1e-5)
                assert pair[name] == near, name

    def test_lists_and_objects_are_json_in_a_cell_of_parquet(
        self, archive: Archive, tmp_path: Path
    ) -> None:
        drawn = small_request()
        drawn["construction"]["weave"] = {"threading": [1, 2], "lift_plan": ["10", "01"]}
        written = [small_request(), drawn]
        assert archive(write_parquet(tmp_path / "o.parquet", written, group=1)) == 0
        plain, lifted = (
            without_row(list(group)) for _, group in groupby(archive.rows(), lambda row: row["row"])
        )
        assert plain == lifted

    @pytest.mark.parametrize("bound", ["_PAIRS_A_BLOCK", "_CROSSINGS_A_BLOCK"])
    def test_the_blocks_of_a_partition_do_not_matter(
        self, archive: Archive, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, bound: str
    ) -> None:
        source = write_ndjson(tmp_path / "orders.ndjson", [*orders(11), {}, *orders(3)])
        assert archive(source, out="one") == 1
        monkeypatch.setattr(partition_judging, bound, 7)
        assert archive(source, out="several") == 1
        assert archive.rows(out="several") == archive.rows(out="one")
        assert archive.rows("refused", out="several") == archive.rows("refused", out="one")
        assert archive.summary("several") == archive.summary("one")

    def test_the_summary_counts_what_the_files_hold(self, archive: Archive, tmp_path: Path) -> None:
        source = write_ndjson(tmp_path / "orders.ndjson", [*orders(60), {}])
        assert archive(source, "--partition-orders", "13") == 1
        pairs, summary = archive.rows(), archive.summary()
        assert (summary["orders"], summary["refused"], summary["pairs"]) == (60, 1, 120)
        for loom_id, of_loom in summary["looms"].items():
            mine = [pair for pair in pairs if pair["loom_id"] == loom_id]
            for verdict, count in of_loom["verdicts"].items():
                assert count == sum(pair["verdict"] == verdict for pair in mine)
            assert sum(of_loom["verdicts"].values()) == len(mine)
        counted = {
            (code, severity): count
            for code, severities in summary["codes"].items()
            for severity, count in severities.items()
        }
        assert counted == {
            (code.value, severity.value): count
            for code in CheckCode
            for severity, rank in RANKS.items()
            if (count := sum(pair[code] == rank for pair in pairs))
        }
        by_row = groupby(pairs, lambda pair: pair["row"])
        nowhere = [all(pair["severity"] == 3 for pair in group) for _, group in by_row]
        assert summary["woven_nowhere"] == sum(nowhere) > 0
        assert summary["caution"].startswith("A computed result is not a safety approval.")
        for file in (archive.folder / "out" / "verdicts").iterdir():
            assert pq.read_metadata(file).metadata[b"caution"].decode() == summary["caution"]

    def test_thresholds_of_the_mill_count(self, archive: Archive, tmp_path: Path) -> None:
        source = write_ndjson(tmp_path / "orders.ndjson", list(orders(40)))
        mill = tmp_path / "mill.toml"
        mill.write_text("sett_tight_note_pct = 40\n", "utf-8")
        assert archive(source, out="shipped") == 0
        assert archive(source, "--thresholds", str(mill), out="mill") == 0
        before, after = archive.summary("shipped"), archive.summary("mill")
        assert before["codes"]["sett.tight"]["note"] < after["codes"]["sett.tight"]["note"]
        assert before["ruleset"] != after["ruleset"]
        assert after["thresholds"] == {"sett_tight_note_pct": 40.0}


BAD: Final = (
    "{",
    "[]",
    '{"construction": {}, "construction": {}}',
    '{"construction": {"weave": "plian", "width_cm": -3}}',
    json.dumps({"construction": {**small_request()["construction"], "width_cm": 1e9}}),
    json.dumps({"construction": {**small_request()["construction"], "colour": "red"}}),
    json.dumps({"construction": {**small_request()["construction"], "warp": {"order": "A"}}}),
)


class TestRefusedOrders:
    def test_a_bad_order_is_kept_with_the_reason_of_the_service(
        self, archive: Archive, tmp_path: Path, client: FlaskClient
    ) -> None:
        good = json.dumps({"construction": small_request()["construction"]})
        source = tmp_path / "orders.ndjson"
        source.write_text("\n".join([good, *BAD, "", good]), "utf-8")
        assert archive(source, "--partition-orders", "3") == 1
        assert [pair["row"] for pair in archive.rows()] == [1, 1, 10, 10]
        refused = {
            row: list(group)
            for row, group in groupby(archive.rows("refused"), lambda fault: fault["row"])
        }
        assert list(refused) == list(range(2, 9))
        for number, line in enumerate(BAD, start=2):
            request = json.loads(line) if line.startswith('{"construction": {"w') else None
            sent = json.dumps({**request, "loom_id": "air-jet-190-cam"}) if request else line
            answer = client.post("/v1/validations", data=sent, content_type="application/json")
            problem = answer.get_json()
            assert {fault["problem"] for fault in refused[number]} == {problem["type"][10:]}
            if request:
                expected = [(each["pointer"], each["message"]) for each in problem["errors"]]
                found = [(fault["pointer"], fault["reason"]) for fault in refused[number]]
                assert found == expected

    def test_a_fault_states_what_was_given_and_what_is_allowed(
        self, archive: Archive, tmp_path: Path
    ) -> None:
        request = small_request()
        request["construction"] |= {"width_cm": -3, "reference": "SO-7"}
        assert archive(write_ndjson(tmp_path / "o.ndjson", [request])) == 1
        (fault,) = archive.rows("refused")
        assert fault["row"] == 1
        assert fault["reference"] == "SO-7"
        assert fault["pointer"] == "/construction/width_cm"
        assert fault["given"] == "-3"
        assert fault["allowed"].startswith("a number from ")

    def test_the_first_faults_are_shown_at_once(
        self, archive: Archive, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        request = small_request()
        request["construction"] |= {"width_cm": -3, "reference": "SO-7"}
        source = tmp_path / "o.ndjson"
        source.write_text("\n".join(["{", *[json.dumps(request)] * 9]), "utf-8")
        assert archive(source, "--partition-orders", "1") == 1
        shown = [line for line in capsys.readouterr().err.splitlines() if "refused:" in line]
        assert len(shown) == 3
        assert shown[0].startswith("refused: row 1: ")
        assert shown[1].startswith("refused: row 2 (SO-7): /construction/width_cm: ")
        assert shown[1].endswith("Given: -3.")
        assert archive.rows() == []

    def test_rows_that_are_not_utf_8_or_too_long_spoil_only_themselves(
        self, archive: Archive, tmp_path: Path
    ) -> None:
        head, good = (
            "reference,weave,width_cm,ends_per_cm,picks_per_cm,warp_yarn_A,weft_yarn_A\n",
            "A-1,plain,150,28,24,Ne 30,Ne 30\n",
        )
        source = tmp_path / "orders.csv"
        long = "x" * 1_100_000
        source.write_bytes(
            f"{head}{good}{good.replace('A-1', long)}".encode()
            + b"\xff,plain,150,28,24,Ne 30,Ne 30\n"
            + f"{good}A-2,plain,150\nA-3,plain,150,28,24,Ne 30,Ne 30,more\n{good}".encode()
        )
        assert archive(source, "--partition-orders", "2") == 1
        assert [pair["row"] for pair in archive.rows()] == [2, 2, 5, 5, 8, 8]
        reasons = {fault["row"]: fault["reason"] for fault in archive.rows("refused")}
        assert "A line may have at most" in reasons[3]
        assert "not UTF-8" in reasons[4]
        assert "3 cells, the header 7" in reasons[6]
        assert "8 cells, the header 7" in reasons[7]

    def test_an_order_at_which_a_rule_fails_spoils_only_itself(
        self, archive: Archive, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def fails_at_two_panels(judged: Any, looms: Any, **more: Any) -> Any:
            if any(order.panels == 2 for order in judged):
                raise ZeroDivisionError("float division by zero")
            return judge_columns(judged, looms, **more)

        monkeypatch.setattr(partition_judging, "judge_columns", fails_at_two_panels)
        written = [small_request() for _ in range(3)]
        written[1]["construction"] |= {"panels": 2, "reference": "SO-8"}
        assert archive(write_ndjson(tmp_path / "o.ndjson", written)) == 1
        assert [pair["row"] for pair in archive.rows()] == [1, 1, 3, 3]
        (fault,) = archive.rows("refused")
        assert (fault["row"], fault["reference"], fault["problem"]) == (2, "SO-8", "internal-error")
        assert "float division by zero" in fault["reason"]


class TestGoingOn:
    def test_finished_partitions_stay_and_the_others_are_judged(
        self, archive: Archive, tmp_path: Path
    ) -> None:
        source = write_ndjson(tmp_path / "orders.ndjson", list(orders(20)))
        assert archive(source, "--partition-orders", "5") == 0
        whole, summary = archive.rows(), archive.summary()
        parts = sorted((tmp_path / "out/verdicts").iterdir())
        parts[1].unlink()
        parts[2].write_bytes(parts[2].read_bytes()[:2_000])  # as if the machine went down
        (tmp_path / "out/refused" / parts[3].name).unlink()
        kept = parts[0].stat().st_mtime_ns
        assert archive(source, "--partition-orders", "5") == 0
        assert archive.rows() == whole
        assert archive.summary() == summary
        assert parts[0].stat().st_mtime_ns == kept
        assert not (tmp_path / "out/.unfinished").exists()

    @pytest.mark.parametrize(
        ("changed", "words"),
        [
            ("orders", "another file of orders"),
            ("park", "another loom park"),
            ("rules", "other rules or thresholds"),
            ("size", "partitions of another size"),
        ],
    )
    def test_something_else_in_the_same_folder_is_refused(
        self,
        archive: Archive,
        tmp_path: Path,
        capsys: pytest.CaptureFixture[str],
        changed: str,
        words: str,
    ) -> None:
        source = write_ndjson(tmp_path / "orders.ndjson", list(orders(4)))
        assert archive(source) == 0
        before = archive.rows()
        more: tuple[str, ...] = ()
        if changed == "orders":
            write_ndjson(source, list(orders(5)))
        elif changed == "park":
            archive.park.write_text(PARK_TEXT.replace("620", "630"), "utf-8")
        elif changed == "rules":
            mill = tmp_path / "mill.toml"
            mill.write_text("order_short_run_hours = 12\n", "utf-8")
            more = ("--thresholds", str(mill))
        else:
            more = ("--partition-orders", "2")
        capsys.readouterr()
        assert archive(source, *more) == 2
        complaint = capsys.readouterr().err
        assert words in complaint
        assert "Name a new folder with --out" in complaint
        assert archive.rows() == before

    def test_a_folder_in_use_is_refused(
        self, archive: Archive, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        source = write_ndjson(tmp_path / "orders.ndjson", list(orders(4)))
        assert archive(source) == 0
        with (tmp_path / "out/archive.json").open("ab") as other:
            fcntl.flock(other, fcntl.LOCK_EX)
            assert archive(source) == 2
        assert "Another command writes" in capsys.readouterr().err


class TestWrongUse:
    @pytest.mark.parametrize(
        ("name", "content", "words"),
        [
            ("orders.xlsx", b"PK", "none of the endings .ndjson"),
            ("orders.ndjson", b"", "has no orders"),
            ("orders.ndjson", b"\n \n", "has no orders"),
            ("orders.csv", b"", "The first row must be a header"),
            ("orders.csv", b"reference,weave\n", "has no orders"),
            ("orders.csv", b"witdh_cm,weave\n1,plain\n", 'Did you mean "width_cm"'),
            ("orders.csv", b"weave,weave\nplain,plain\n", "is there twice"),
            ("orders.csv", b"\xff\xfe\x00", "must be a header in UTF-8"),
            ("orders.parquet", b"", "is not Parquet, or is damaged"),
            ("orders.parquet", b"PAR1 and so on PAR1", "is not Parquet, or is damaged"),
        ],
    )
    def test_a_file_that_cannot_be_used_is_refused_in_a_sentence(
        self,
        archive: Archive,
        tmp_path: Path,
        capsys: pytest.CaptureFixture[str],
        name: str,
        content: bytes,
        words: str,
    ) -> None:
        source = tmp_path / name
        source.write_bytes(content)
        assert archive(source) == 2
        assert words in capsys.readouterr().err
        assert not (tmp_path / "out").exists()

    def test_a_file_that_is_not_there_is_refused(
        self, archive: Archive, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        assert archive(tmp_path / "orders.csv") == 2
        assert "orders.csv cannot be read: No such file" in capsys.readouterr().err

    def test_an_unknown_column_of_parquet_is_refused(
        self, archive: Archive, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        source = write_parquet(tmp_path / "o.parquet", [small_request()], group=1)
        pq.write_table(pq.read_table(source).append_column("wieght", [[1]]), source)
        assert archive(source) == 2
        assert "There is no column 'wieght'." in capsys.readouterr().err

    def test_a_folder_that_cannot_be_written_is_refused(
        self, archive: Archive, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        source = write_ndjson(tmp_path / "orders.ndjson", list(orders(4)))
        assert archive(source, out="orders.ndjson/out") == 2
        assert "cannot be written: Not a directory" in capsys.readouterr().err

    def test_a_folder_with_other_files_is_refused(
        self, archive: Archive, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        source = write_ndjson(tmp_path / "orders.ndjson", list(orders(4)))
        (tmp_path / "out").mkdir()
        (tmp_path / "out/letter.txt").write_text("Dear", "utf-8")
        assert archive(source) == 2
        assert "holds other files" in capsys.readouterr().err
        assert [each.name for each in (tmp_path / "out").iterdir()] == ["letter.txt"]

    def test_a_park_that_cannot_be_used_is_refused(
        self, archive: Archive, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        source = write_ndjson(tmp_path / "orders.ndjson", list(orders(4)))
        archive.park.write_text("[[loom]]\n", "utf-8")
        assert archive(source) == 2
        assert "park.toml cannot be used" in capsys.readouterr().err

    def test_workers_are_those_of_a_scheduler_or_of_this_machine(
        self, archive: Archive, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        assert archive(tmp_path / "orders.csv", "--workers", "2") == 2
        assert "leave out --scheduler" in capsys.readouterr().err

    def test_a_scheduler_that_is_not_there_is_refused(
        self,
        archive: Archive,
        tmp_path: Path,
        capsys: pytest.CaptureFixture[str],
        monkeypatch: pytest.MonkeyPatch,
    ) -> None:
        monkeypatch.setattr("weavability.service.archive.dask_cluster.CONNECT_WITHIN_S", 0.2)
        archive.scheduler = "tcp://127.0.0.1:9"
        source = write_ndjson(tmp_path / "orders.ndjson", list(orders(4)))
        assert archive(source) == 2
        assert "No scheduler answers at tcp://127.0.0.1:9" in capsys.readouterr().err


class TestFailures:
    def test_a_worker_with_other_rules_judges_nothing(
        self,
        archive: Archive,
        tmp_path: Path,
        capsys: pytest.CaptureFixture[str],
        monkeypatch: pytest.MonkeyPatch,
    ) -> None:
        monkeypatch.setattr(archive_command, "ruleset", lambda: "of the command")
        source = write_ndjson(tmp_path / "orders.ndjson", list(orders(4)))
        assert archive(source, "--partition-orders", "2") == 2
        complaint = capsys.readouterr().err
        assert "2 of 2 partitions failed" in complaint
        assert "rows 1 to 2: the worker has other rules" in complaint
        assert not (tmp_path / "out/summary.json").exists()
        assert list((tmp_path / "out/verdicts").iterdir()) == []

    def test_a_part_of_parquet_that_is_damaged_leaves_the_others(
        self, archive: Archive, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        source = write_parquet(tmp_path / "orders.parquet", list(orders(8)), group=4)
        group = pq.read_metadata(source).row_group(1).column(0)
        content = bytearray(source.read_bytes())
        first = group.dictionary_page_offset or group.data_page_offset
        content[first : first + group.total_compressed_size] = b"\xff" * group.total_compressed_size
        source.write_bytes(content)
        assert archive(source, "--partition-orders", "4") == 2
        complaint = capsys.readouterr().err
        assert "1 of 2 partitions failed; those that are finished are kept" in complaint
        assert "rows 5 to 8" in complaint
        assert "cannot be read" in complaint
        assert {pair["row"] for pair in archive.rows()} == {1, 2, 3, 4}


CELLS = st.sampled_from(["A", " ", '"B\n\nC"', '"D', 'E"', '"F""G"', "H\ufeff", "\r"])
SHEETS = st.lists(st.lists(CELLS, max_size=4).map(",".join), max_size=12).map("\n".join)


# The scheduler of this module draws random numbers in its threads, while the laws make examples.
@pytest.mark.filterwarnings("ignore:Do not use the `random` module inside strategies")
class TestPartitions:
    @given(text=SHEETS, size=st.integers(1, 5), newline=st.sampled_from(["\n", "\r\n"]))
    def test_the_partitions_of_a_sheet_are_the_rows_of_the_service(
        self, tmp_path_factory: pytest.TempPathFactory, text: str, size: int, newline: str
    ) -> None:
        path = tmp_path_factory.getbasetemp() / "law.csv"
        content = f"\n\ufeff reference,weave,draft\n{text}".replace("\n", newline)
        path.write_bytes(content.removeprefix("\n").encode())
        with path.open("rb") as file:
            try:
                _, found = read_orders(lines(file, longest=2**20), longest=2**20, marked=False)
            except InputError:
                with pytest.raises(InputError):
                    cut(path, Form.CSV, orders_each=size)
                return
            whole = [(entry.line, read(entry.read)) for entry in found]
        partitions = cut(path, Form.CSV, orders_each=size)
        parts = [
            [(entry.line, read(entry.read)) for entry in entries(path, Form.CSV, each)]
            for each in partitions
        ]
        assert [row for part in parts for row in part] == whole
        assert [len(part) for part in parts] == [each.orders for each in partitions]
        assert all(len(part) == size for part in parts[:-1])

    @given(
        rows=st.lists(st.sampled_from([b"{}", b"", b"[1]", b" \t", b'{"a": 1}\r'])),
        size=st.integers(1, 5),
        ended=st.booleans(),
    )
    def test_the_partitions_of_lines_are_the_lines(
        self,
        tmp_path_factory: pytest.TempPathFactory,
        rows: list[bytes],
        size: int,
        *,
        ended: bool,
    ) -> None:
        path = tmp_path_factory.getbasetemp() / "law.ndjson"
        path.write_bytes(b"\n".join(rows) + (b"\n" if ended else b""))
        found = [
            (entry.line, entry.read())
            for each in cut(path, Form.NDJSON, orders_each=size)
            for entry in entries(path, Form.NDJSON, each)
        ]
        wanted = [(at, json.loads(row)) for at, row in enumerate(rows, start=1) if row.strip()]
        assert found == wanted


def read(entry: Any) -> object:
    """What an entry holds, or why it holds nothing."""
    try:
        return entry()
    except Exception as error:
        return repr(error)


class Running:
    """The command as a process of its own, with worker processes."""

    def __init__(self, folder: Path, source: Path, *, workers: int, partition: int) -> None:
        self.out, self.temporary = folder / "out", folder / "temporary"
        self.temporary.mkdir(exist_ok=True)
        options = ["--looms", str(DEMO_PARK), "--out", str(self.out), "--workers", str(workers)]
        self.process = subprocess.Popen(
            [
                *(sys.executable, "-m", "weavability", "archive", str(source), *options),
                *("--partition-orders", str(partition)),
            ],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env={**os.environ, "TMPDIR": str(self.temporary)},
            start_new_session=True,
        )

    def finished(self) -> int:
        folder = self.out / "verdicts"
        return len(list(folder.iterdir())) if folder.exists() else 0

    def wait_for(self, finished: int) -> None:
        deadline = time.monotonic() + WITHIN_S
        while self.finished() < finished:
            assert self.process.poll() is None, self.process.communicate()
            assert time.monotonic() < deadline
            time.sleep(0.02)

    def workers(self) -> list[psutil.Process]:
        children = psutil.Process(self.process.pid).children(recursive=True)
        return [each for each in children if "spawn_main" in " ".join(each.cmdline())]

    def end(self) -> tuple[int, str, str]:
        printed, complaint = self.process.communicate(timeout=WITHIN_S)
        return self.process.returncode, printed, complaint


@pytest.fixture(scope="module")
def many_orders(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_ndjson(tmp_path_factory.mktemp("many") / "orders.ndjson", list(orders(MANY)))


def complete(out: Path) -> bool:
    """Whether every order is there once with every loom."""
    rows: list[int] = pq.read_table(out / "verdicts", columns=["row"])["row"].to_pylist()
    return rows == [number for number in range(1, MANY + 1) for _ in range(12)]


def shows_pages(port: int) -> bool:
    """Whether a dashboard, or anything about the cluster, can be opened at a port."""
    try:
        answers = [
            requests.get(f"http://127.0.0.1:{port}{path}", timeout=5)
            for path in ("/", "/status", "/health", "/metrics", "/info/main/workers.html")
        ]
    except requests.RequestException:
        return False
    return any(answer.ok for answer in answers)


@pytest.mark.cluster
class TestLocalCluster:
    def test_a_worker_that_is_killed_under_way_loses_nothing(
        self, tmp_path: Path, many_orders: Path
    ) -> None:
        running = Running(tmp_path, many_orders, workers=2, partition=PARTITION)
        running.wait_for(2)
        workers = running.workers()
        assert len(workers) == 2
        everyone = [psutil.Process(running.process.pid), *workers]
        open_at = {
            (each.laddr.ip, each.laddr.port)
            for process in everyone
            for each in process.net_connections()
            if each.status == psutil.CONN_LISTEN
        }
        pages = [port for _, port in open_at if shows_pages(port)]
        assert running.finished() < MANY / PARTITION
        workers[0].kill()
        status, printed, complaint = running.end()
        assert (status, complaint) == (0, "")
        assert f"{MANY} orders on 12 looms" in printed
        assert {address for address, _ in open_at} == {"127.0.0.1"}
        assert pages == []
        assert complete(running.out)
        assert sorted(each.name for each in running.out.iterdir()) == [
            *("archive.json", "refused", "summary.json", "verdicts"),
        ]
        assert list(running.temporary.iterdir()) == []
        assert not any(each.is_running() for each in workers)

    def test_what_was_finished_when_it_was_interrupted_is_taken_up(
        self, tmp_path: Path, many_orders: Path
    ) -> None:
        self.interrupt(tmp_path, many_orders, signal.SIGINT)
        status, _, complaint = Running(tmp_path, many_orders, workers=1, partition=PARTITION).end()
        assert (status, complaint) == (0, "")
        assert complete(tmp_path / "out")

    def test_a_service_manager_ends_it_as_a_terminal_does(
        self, tmp_path: Path, many_orders: Path
    ) -> None:
        self.interrupt(tmp_path, many_orders, signal.SIGTERM)

    def interrupt(self, folder: Path, source: Path, number: signal.Signals) -> None:
        running = Running(folder, source, workers=2, partition=PARTITION)
        running.wait_for(2)
        workers = running.workers()
        os.killpg(running.process.pid, number)  # a terminal sends it to all processes
        status, printed, complaint = running.end()
        assert (status, printed) == (130, "")
        assert (
            f"of {MANY // PARTITION} partitions are finished and kept. Give the same command again"
            in complaint
        )
        assert "Traceback" not in complaint
        assert list(running.temporary.iterdir()) == []
        assert not any(each.is_running() for each in workers)
        assert not (running.out / "summary.json").exists()
        assert 2 <= running.finished() < MANY / PARTITION


WITHOUT_THE_EXTRA: Final = """
import sys
from importlib.abc import MetaPathFinder

class Missing(MetaPathFinder):
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in {"dask", "distributed", "pyarrow"}:
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)

sys.meta_path.insert(0, Missing())
sys.argv[1:] = ["archive", "orders.csv", "--looms", "park.toml", "--out", "out"]
from weavability.__main__ import main
sys.exit(main())
"""


def test_without_the_extra_the_command_says_what_to_install() -> None:
    done = subprocess.run(
        [sys.executable, "-c", WITHOUT_THE_EXTRA], capture_output=True, text=True, check=False
    )
    assert done.returncode == 2
    assert done.stdout == ""
    (sentence,) = done.stderr.splitlines()
    assert sentence.startswith("weavability-server: ")
    assert "pip install 'weavability[archive]'" in sentence
