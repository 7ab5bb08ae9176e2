"""Orders from spreadsheets, and results into them."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from client.recorded import ORDERS

from weavability.service import create_app
from weavability_client import Report, UsageError, cli, read_xlsx, write_xlsx

pytestmark = pytest.mark.usefixtures("one_application")

HEADINGS = (
    *("Reference", "LOOM_ID", "weave", "width_cm", "ends_per_cm", "picks_per_cm"),
    *("warp_yarn_A", "weft_yarn_A", "remark"),
)
GOOD = (10482, "rapier-190-dobby", "plain", 152.5, 28, 24, "Ne 30", "Ne 30", "=for readers")


def sheet(path: Path, *rows: tuple[object, ...], headings: tuple[str, ...] = HEADINGS) -> str:
    book = openpyxl.Workbook()
    first: Any = book.active
    first.append(headings)
    for row in rows:
        first.append(row)
    book.create_sheet("notes").append(["nothing of this is an order"])
    book.save(path)
    return str(path)


def test_a_row_is_an_order_with_numbers_as_numbers(tmp_path: Path) -> None:
    (order,) = read_xlsx(sheet(tmp_path / "orders.xlsx", (None,) * 9, GOOD))
    assert order == {
        "loom_id": "rapier-190-dobby",
        "construction": {
            "reference": "10482",
            "weave": "plain",
            "width_cm": 152.5,
            "warp": {"ends_per_cm": 28, "yarns": {"A": {"designation": "Ne 30"}}},
            "weft": {"picks_per_cm": 24, "yarns": {"A": {"designation": "Ne 30"}}},
        },
    }


@pytest.mark.parametrize(
    ("column", "value", "words"),
    [
        (3, "=150+2.5", "width_cm: the cell is a formula"),
        (3, "#DIV/0!", "width_cm: the cell is the error #DIV/0!"),
        (2, dt.date(2026, 2, 2), "weave: the cell is a date or time (2026-02-02"),
        (4, True, "ends_per_cm: 'true' is not a number"),
        (3, "1 525.0", "width_cm: '1 525.0' is not a number. Leave out what separates"),
    ],
)
def test_a_cell_that_is_no_value_is_named_with_row_and_reference(
    tmp_path: Path, column: int, value: object, words: str
) -> None:
    row = [*GOOD[:column], value, *GOOD[column + 1 :]]
    path = sheet(tmp_path / "orders.xlsx", GOOD, (None,) * 9, tuple(row))
    good, refused = read_xlsx(path)
    assert not isinstance(good, UsageError)
    assert f"row 4 (10482), {words}" in str(refused)


def test_a_percentage_is_not_taken_for_its_hundredth(tmp_path: Path) -> None:
    path = tmp_path / "orders.xlsx"
    sheet(path, (*GOOD, 0.05), headings=(*HEADINGS, "weft_crimp_pct"))
    book = openpyxl.load_workbook(path)
    book.worksheets[0]["J2"].number_format = "0%"
    book.save(path)
    (refused,) = read_xlsx(path)
    assert "holds 0.05. Format it as a number and write 5." in str(refused)


def test_headings_and_files_that_are_none_are_refused(tmp_path: Path) -> None:
    unknown = sheet(tmp_path / "a.xlsx", (*GOOD, 1), headings=(*HEADINGS, "custmer"))
    with pytest.raises(UsageError, match="there is no column 'custmer'"):
        read_xlsx(unknown)
    ignored: list[str] = []
    assert len(read_xlsx(unknown, ignore=ignored.append)) == 1
    assert ignored == ["custmer"]
    with pytest.raises(UsageError, match="has no headings"):
        read_xlsx(sheet(tmp_path / "b.xlsx", headings=()))
    broken = tmp_path / "c.xlsx"
    broken.write_bytes(b"PK\x03\x04 and no more")
    with pytest.raises(UsageError, match="not readable as XLSX"):
        read_xlsx(broken)
    with pytest.raises(UsageError, match="No such file"):
        read_xlsx(tmp_path / "d.xlsx")


def test_what_is_written_is_no_formula_and_numbers_stay_numbers(tmp_path: Path) -> None:
    path = tmp_path / "out.xlsx"
    write_xlsx(
        path,
        [
            {"=head": "=1+1", "number": 2.5, "truth": True, "nothing": None},
            {"late": "bell \x07", "long": "x" * 40_000},
        ],
    )
    read: Any = openpyxl.load_workbook(path).active
    cells = {each.value: each for row in read.iter_rows() for each in row}
    assert {"=head", "=1+1", "late"} <= set(cells)
    assert (cells["=1+1"].data_type, cells["=1+1"].quotePrefix) == ("s", True)
    assert cells[2.5].data_type == "n"
    assert cells["bell \N{REPLACEMENT CHARACTER}"].column == 5
    assert read.freeze_panes == "A2"
    with pytest.raises(UsageError, match="No such file"):
        write_xlsx(tmp_path / "no" / "out.xlsx", [])


def test_a_sheet_is_judged_and_its_results_saved(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = (GOOD, (*GOOD[:3], "wide", *GOOD[4:]), (10484, *GOOD[1:3], 252, *GOOD[4:]))
    path = sheet(
        tmp_path / "orders.xlsx", *((*row, "x") for row in rows), headings=(*HEADINGS, "customer")
    )
    saved = tmp_path / "results.xlsx"
    asked = ("validate", path, "--local", "--ignore-columns", "--format", "csv")
    assert cli.main([*asked, "--save", str(saved)]) == 2
    printed = capsys.readouterr()
    assert "orders.xlsx: columns ignored: customer" in printed.err
    assert "order 2" in printed.err
    table = list(csv.DictReader(io.StringIO(printed.out)))
    verdicts = [(each["reference"], each["verdict"]) for each in table]
    assert verdicts == [("10482", "weavable"), ("10482", "refused"), ("10484", "not_weavable")]
    first: Any = openpyxl.load_workbook(saved).active
    header, *body = first.iter_rows(values_only=True)
    written = [dict(zip(header, row, strict=True)) for row in body]
    assert [(each["reference"], each["verdict"]) for each in written] == verdicts
    assert isinstance(written[0]["speed_picks_per_min"], float)
    assert str(written[2]["caution"]).startswith("A computed result")


@pytest.mark.slow
def test_an_answer_is_saved_by_the_ending_of_the_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    saved = [tmp_path / f"looms{ending}" for ending in (".csv", ".json", ".xlsx")]
    for each in saved:
        assert cli.main(["looms", "cam", "--local", "--save", str(each)]) == 0
    assert saved[0].read_text("utf-8").startswith("loom_id,limit,assumed")
    assert '"looms": [' in saved[1].read_text("utf-8")
    assert openpyxl.load_workbook(saved[2]).sheetnames == ["weavability"]
    capsys.readouterr()
    assert cli.main(["looms", "--local", "--save", str(tmp_path / "no" / "looms.csv")]) == 2
    assert "looms.csv: No such file" in capsys.readouterr().err
    with pytest.raises(SystemExit) as ended:
        cli.main(["looms", "--save", "looms.pdf"])
    assert ended.value.code == 2
    assert ".xlsx, .csv, .json" in capsys.readouterr().err


@pytest.mark.slow
def test_a_summary_has_what_the_row_of_the_service_has(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bare = ORDERS["D-103"]["construction"]
    construction = {key: value for key, value in bare.items() if key != "efficiency_pct"}
    construction["width_cm"] = 320
    request = {"construction": construction, "loom_id": "rapier-190-dobby"}
    request["prices"] = {"currency": "EUR", "energy_per_kwh": 0.2}
    service = create_app().test_client()
    report = Report.from_json(service.post("/v1/validations", json=request).get_json())
    headers = {"Content-Type": "application/x-ndjson", "Accept": "text/csv"}
    sheet = service.post("/v1/validations", data=json.dumps(request), headers=headers).text
    (row,) = csv.DictReader(io.StringIO(sheet))
    ours = report.summary()
    stated = {name: cell for name, cell in row.items() if cell and name not in OF_THE_ROW}
    assert "remedies.changes" in stated
    assert "requirements" in stated
    assert "costs.drivers" in stated
    assert stated.keys() <= ours.keys()
    same = {name: cell for name, cell in stated.items() if str(ours[name]) == cell}
    numbers = (
        stated.keys() - same.keys() - {"requirements", "costs.drivers"}
    )  # JSON, null or left out
    assert [float(stated[name]) for name in numbers] == [ours[name] for name in numbers]
    order = tmp_path / "order.json"
    order.write_text(json.dumps(request), "utf-8")
    cli.main(["match", str(order), "--local", "--format", "csv"])
    (first, *_) = csv.DictReader(io.StringIO(capsys.readouterr().out))
    assert first["reference"] == construction["reference"]


OF_THE_ROW = ("row", "status", "caution")
"""Columns that a batch adds to a report."""
