"""Orders and reports in sheets: what a person with a spreadsheet sends and gets."""

from __future__ import annotations

import ast
import csv
import inspect
import json
from dataclasses import is_dataclass
from io import StringIO
from typing import Any, get_type_hints

import pytest
from archived_orders import as_cells, as_text
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st
from service.support import small_request

from weavability.answers import costs_section, loom_match, order_chain, report
from weavability.answers.field_words import words_of
from weavability.service import create_app
from weavability.service.batches import csv_matches, csv_reports
from weavability.service.batches.csv_columns import column, columns
from weavability.service.batches.csv_orders import MOST_COLUMNS
from weavability.service.batches.csv_reports import ANSWER_COLUMNS, APPENDED_COLUMNS
from weavability.service.openapi import example_requests
from weavability.service.schemas.construction_schema import ConstructionSchema
from weavability.service.schemas.yarn_schema import YarnSchema

BATCH = "/v1/validations"
HEADER = "reference,loom_id,weave,width_cm,ends_per_cm,picks_per_cm,warp_yarn_A,weft_yarn_A"
GOOD = "S-1,rapier-190-dobby,plain,150,28,24,Ne 30,Ne 30"
BOM = b"\xef\xbb\xbf"


def send(client: FlaskClient, body: str | bytes, **headers: str) -> Any:
    return client.post(BATCH, data=body, headers={"Content-Type": "text/csv", **headers})


def rows(client: FlaskClient, body: str | bytes, *, delimiter: str = ",") -> list[dict[str, str]]:
    answer = send(client, body)
    assert answer.status_code == 200, answer.text
    text = answer.data.decode("utf-8-sig")
    assert text.count("\r\n") == text.count("\n")
    return list(csv.DictReader(StringIO(text, newline=""), delimiter=delimiter, strict=True))


def reports(client: FlaskClient, body: str) -> list[dict[str, Any]]:
    """The same sheet, answered in lines of JSON."""
    answer = send(client, body, Accept="application/x-ndjson")
    return [json.loads(line) for line in answer.data.splitlines()]


def sheet(*lines: str) -> str:
    return "\r\n".join([HEADER, *lines]) + "\r\n"


FULL = {
    **example_requests.CONSTRUCTION,
    "selvedge": {"ends_per_side": 24, "ends_per_dent": 4, "shafts": 2},
    "reed": {"dents_per_10cm": 160, "ends_in_dents": [2, 2, 2], "wire_share_pct": 35},
    "draft": {"threading": [1, 2, 3, 4]},
    "finishing": {
        **example_requests.CONSTRUCTION["finishing"],
        "stabilised": True,
        "relaxation_pct": 1.5,
    },
    "allowances": {"warp_waste_pct": 1.5, "weft_waste_pct": 2, "size_pct": 8, "loom_waste_m": 3},
    "thickness_mm": 0.5,
}


class TestColumns:
    def test_every_field_of_a_construction_has_a_column(self) -> None:
        paths = [each.path[1:] for each in columns().values() if each.path[0] == "construction"]
        found = {path[:2] for path in paths}
        for name, field in ConstructionSchema().fields.items():
            inner = getattr(field, "schema", None)
            if inner is None:
                assert (name,) in found
                continue
            for each in inner.fields:
                assert (name, each) in found or each == "yarns"

    @pytest.mark.parametrize("name", YarnSchema().fields)
    def test_every_field_of_a_yarn_has_a_column_for_each_key(self, name: str) -> None:
        word = "yarn" if name == "designation" else name
        for key in ("A", "B", "Z9"):
            found = column(f"weft_{word}_{key}")
            assert found is not None
            assert found.pointer == f"/construction/weft/yarns/{key}/{name}"

    def test_names_that_end_in_a_unit_hold_that_unit(self) -> None:
        for name, each in columns().items():
            for ending, unit in (("_cm", "cm"), ("_pct", "%"), ("_m", "m"), ("_mm", "mm")):
                if name.endswith(ending) and not name.endswith(("_per_cm", "_per_10cm")):
                    assert each.field.unit == unit

    def test_a_row_means_what_the_json_means(self, client: FlaskClient) -> None:
        request = {"construction": FULL, "loom_id": "rapier-190-dobby"}
        cells = {name: as_text(cell) for name, cell in as_cells(request).items()}
        written = StringIO(newline="")
        writer = csv.DictWriter(written, list(cells))
        writer.writeheader()
        writer.writerow(cells)
        item = reports(client, written.getvalue())[0]
        assert item["report"] == client.post(BATCH, json=request).get_json()

    def test_a_weave_may_be_written_row_by_row(self, client: FlaskClient) -> None:
        named, drawn = rows(
            client,
            sheet(
                GOOD.replace("plain", "2/2 twill Z"), GOOD.replace("plain", "1100|0110|0011|1001")
            ),
        )
        assert drawn["mass_g_per_m2"] == named["mass_g_per_m2"]
        assert drawn["verdict"] == named["verdict"] == "weavable"

    def test_the_yarn_of_a_row_may_be_a_sample_and_is_refused_at_its_column(
        self, client: FlaskClient
    ) -> None:
        header = HEADER.replace("warp_yarn_A", "warp_sample_length_yd_A,warp_sample_mass_grains_A")
        header += ",warp_twist_per_m_A,warp_twist_direction_A,warp_sized_A"
        start = GOOD.rpartition("Ne 30,Ne 30")[0]
        good, bad = rows(
            client,
            f"{header}\n{start}120,33.3,Ne 30,800,Z,true\n{start}120,33.3,Ne 30,800,,\n",
        )
        assert good["verdict"] == "weavable"
        assert bad["message"].startswith("warp_twist_direction_A: ")

    def test_an_unknown_column_is_refused_with_the_nearest_name(self, client: FlaskClient) -> None:
        answer = send(client, HEADER.replace("width_cm", "witdh_cm") + "\n")
        assert answer.status_code == 422
        error = answer.get_json()["errors"][0]
        assert error["given"] == "witdh_cm"
        assert '"width_cm"' in error["message"]

    def test_every_unknown_column_is_reported_at_once(self, client: FlaskClient) -> None:
        answer = send(client, f"{HEADER},weight,wrap_yarn_A,warp_yarn_a\n")
        given = [error["given"] for error in answer.get_json()["errors"]]
        assert given == ["weight", "wrap_yarn_A", "warp_yarn_a"]

    def test_a_column_that_is_there_twice_is_refused(self, client: FlaskClient) -> None:
        answer = send(client, f"{HEADER},weave\n")
        assert answer.status_code == 422
        assert "twice" in answer.get_json()["detail"]

    @pytest.mark.parametrize(
        "body",
        [b"", b"\r\n\r\n", b",,,\r\n", HEADER.encode("utf-16"), b"\xff\n", b'"weave\n'],
        ids=["nothing", "blank", "no names", "utf-16", "not utf-8", "open quotation"],
    )
    def test_a_sheet_without_a_header_is_refused(self, client: FlaskClient, body: bytes) -> None:
        answer = send(client, body)
        assert answer.status_code == 400
        assert answer.get_json()["type"] == "/problems/unreadable-csv"
        assert "warp_yarn_A" in answer.get_json()["detail"]

    def test_a_line_end_inside_a_row_is_named_with_the_row(self, client: FlaskClient) -> None:
        """Quoted it is part of the cell; rows that all end with CR are one row, the header."""
        body = sheet(GOOD.replace("plain", "pl\rain"), GOOD, GOOD.replace("S-1", '"S\r2"'))
        split, good, quoted = reports(client, body)
        assert split["status"] == 400
        assert split["problem"]["detail"].startswith("Row 2 has a line end of its own inside")
        assert good["status"] == 200
        assert "carriage" not in json.dumps(quoted)
        answer = send(client, f"{HEADER}\r{GOOD}\r")
        assert answer.status_code == 400
        assert "LF or CRLF" in answer.get_json()["detail"]

    def test_numbers_have_the_digits_0_to_9(self, client: FlaskClient) -> None:
        cells = (
            GOOD.replace("150", "１５０"),
            GOOD.replace("28", "٢٨"),
            GOOD.replace("24", "2\u0664"),
        )
        answers = reports(client, sheet(*cells))
        assert [each["status"] for each in answers] == [422] * 3
        assert all("digits 0 to 9" in each["problem"]["detail"] for each in answers)

    def test_as_many_columns_as_allowed_are_read_and_not_one_more(
        self, client: FlaskClient
    ) -> None:
        free = MOST_COLUMNS - HEADER.count(",") - 1
        assert send(client, HEADER + "," * free).status_code == 200
        assert send(client, HEADER + "," * (free + 1)).status_code == 400


class TestRows:
    def test_the_answer_is_a_sheet_with_a_row_an_order(self, client: FlaskClient) -> None:
        answer = send(client, sheet(GOOD, GOOD.replace("150", "220")))
        assert answer.headers["Content-Type"] == "text/csv; charset=utf-8; header=present"
        first, second = rows(client, sheet(GOOD, GOOD.replace("150", "220")))
        assert list(first) == [
            "row",
            "reference",
            "status",
            *(each.name for each in ANSWER_COLUMNS),
            "message",
            *(each.name for each in APPENDED_COLUMNS),
        ]
        assert "computed result" in first["caution"]
        assert (first["row"], first["reference"], first["status"]) == ("2", "S-1", "200")
        assert (second["row"], second["verdict"]) == ("3", "not_weavable")
        assert "width.reed_space" in second["codes"].split()

    def test_the_figures_are_those_of_the_report(self, client: FlaskClient) -> None:
        row = rows(client, sheet(GOOD))[0]
        report = reports(client, sheet(GOOD))[0]["report"]
        assert float(row["speed_picks_per_min"]) == report["rates"]["speed_picks_per_min"]
        assert float(row["reed_width_cm"]) == report["setup"]["reed_width_cm"]
        assert int(row["total_ends"]) == report["setup"]["total_ends"]
        assert row["link"] == report["links"]["self"]
        warp = [each["mass_kg"] for each in report["yarn"] if each["yarn"].startswith("warp")]
        assert float(row["warp_mass_kg"]) == pytest.approx(sum(warp))

    @pytest.mark.parametrize(
        ("line", "status", "message"),
        [
            (
                GOOD.replace("150", "wide"),
                "422",
                "width_cm: width_cm must be a number. Write digits",
            ),
            (GOOD.replace("Ne 30,Ne 30", "Ne 30,"), "422", "weft_yarn_A: "),
            (GOOD.replace("Ne 30,Ne 30", "Xe 30,Ne 30"), "422", "warp_yarn_A: "),
            (GOOD.replace("rapier-190-dobby", "rapier"), "422", "loom_id: "),
            (GOOD.replace("plain", "plane"), "422", "weave: "),
            (GOOD + ",more", "400", "The row has 9 cells, the header 8"),
            (GOOD.rpartition(",")[0], "400", "The row has 7 cells, the header 8. It may be cut"),
            (f'"{GOOD}', "400", "not CSV"),
            ('"S"1,rapier-190-dobby', "400", "not CSV"),
        ],
        ids=[
            "number",
            "missing",
            "count",
            "loom",
            "weave",
            "too many",
            "too few",
            "open",
            "after quotation",
        ],
    )
    def test_a_bad_row_spoils_only_itself(
        self, client: FlaskClient, line: str, status: str, message: str
    ) -> None:
        found = rows(client, sheet(GOOD, line, GOOD))
        assert [each["status"] for each in found] == ["200", status, "200"]
        assert [each["row"] for each in found] == ["2", "3", "4"]
        assert message in found[1]["message"]
        assert found[1]["verdict"] == ""

    def test_a_row_that_is_not_utf_8_spoils_only_itself(self, client: FlaskClient) -> None:
        bad = GOOD.replace("S-1", "Röhr").encode("latin-1")
        body = b"\n".join([HEADER.encode(), bad, GOOD.encode()])
        assert [each["status"] for each in rows(client, body)] == ["400", "200"]

    def test_a_long_row_spoils_only_itself(self, client: FlaskClient) -> None:
        found = rows(client, sheet(GOOD, "x" * (2**20 + 1), GOOD))
        assert [each["status"] for each in found] == ["200", "413", "200"]

    def test_all_that_is_wrong_with_a_row_is_reported(self, client: FlaskClient) -> None:
        message = rows(client, sheet("x,,plain,-1,thick,24,Ne 30,Ne 30"))[0]["message"]
        for heading in ("loom_id", "width_cm", "ends_per_cm"):
            assert f"{heading}: " in message

    def test_blank_rows_and_empty_cells_are_nothing(self, client: FlaskClient) -> None:
        body = sheet(GOOD + ",,", ",,,,,,,", "", "  ,  ", GOOD)
        assert [each["row"] for each in rows(client, body)] == ["2", "6"]

    def test_quoted_cells_may_hold_anything(self, client: FlaskClient) -> None:
        row = rows(client, sheet(GOOD.replace("S-1", '"S ""1"", 2"')))[0]
        assert (row["status"], row["reference"]) == ("200", 'S "1", 2')

    def test_a_cell_under_no_heading_is_refused(self, client: FlaskClient) -> None:
        body = f"{HEADER},\n{GOOD},\n{GOOD},stray\n"
        found = rows(client, body)
        assert [each["status"] for each in found] == ["200", "400"]
        assert "no heading" in found[1]["message"]

    @pytest.mark.parametrize(
        ("text", "taken"),
        [("yes", True), ("TRUE", True), ("no", False), ("False", False), ("1", None)],
    )
    def test_flags_are_words(self, client: FlaskClient, text: str, taken: bool | None) -> None:
        body = f"{HEADER},stabilised\n{GOOD},{text}\n"
        assert rows(client, body)[0]["status"] == ("422" if taken is None else "200")


class TestSpreadsheets:
    @pytest.mark.parametrize("reference", ["=1+1", "+1", "-1", "@SUM(A1)"])
    def test_no_cell_of_the_answer_is_a_formula(self, client: FlaskClient, reference: str) -> None:
        row = rows(client, sheet(GOOD.replace("S-1", reference)))[0]
        assert row["reference"] == f"'{reference}"
        bad = rows(client, sheet(GOOD.replace("S-1", reference).replace("150", "-2")))[0]
        assert bad["reference"] == f"'{reference}"

    @pytest.mark.parametrize("delimiter", [";", "\t"])
    def test_other_delimiters_are_recognised_and_answered(
        self, client: FlaskClient, delimiter: str
    ) -> None:
        body = sheet(GOOD).replace(",", delimiter)
        row = rows(client, body, delimiter=delimiter)[0]
        assert (row["status"], row["reference"]) == ("200", "S-1")

    def test_a_decimal_comma_is_read_and_answered_between_semicolons(
        self, client: FlaskClient
    ) -> None:
        body = sheet(GOOD).replace(",", ";").replace(";150;", ";150,5;")
        row = rows(client, body, delimiter=";")[0]
        point = rows(client, sheet(GOOD).replace(",150,", ",150.5,"))[0]
        assert row["reed_width_cm"] == point["reed_width_cm"].replace(".", ",")
        assert row["link"] == point["link"]

    def test_a_point_that_may_mean_thousands_is_refused_between_semicolons(
        self, client: FlaskClient
    ) -> None:
        body = f"{HEADER},length_m\n{GOOD},1.200\n"
        assert rows(client, body)[0]["status"] == "200"
        row = rows(client, body.replace(",", ";"), delimiter=";")[0]
        assert row["status"] == "422"
        assert row["message"] == (
            "length_m: length_m must be a number. Write a decimal comma: 1,2. If thousands are "
            "meant, leave out the point: 1200."
        )

    @pytest.mark.parametrize("key", ["Ground", "B_2", "A" * 32])
    def test_a_yarn_key_is_what_json_takes_if_it_begins_with_a_capital(
        self, client: FlaskClient, key: str
    ) -> None:
        row = rows(client, sheet(GOOD).replace("warp_yarn_A", f"warp_yarn_{key}"))[0]
        assert row["status"] == "200"

    @pytest.mark.parametrize("key", ["1", "count_A", "A" * 33, "A-1"])
    def test_other_yarn_keys_are_unknown_columns(self, client: FlaskClient, key: str) -> None:
        answer = send(client, sheet(GOOD).replace("warp_yarn_A", f"warp_yarn_{key}"))
        assert answer.status_code == 422
        assert f"'warp_yarn_{key}'" in answer.get_json()["detail"]

    def test_a_mark_of_byte_order_is_answered_with_one(self, client: FlaskClient) -> None:
        assert send(client, BOM + sheet(GOOD).encode()).data.startswith(BOM + b"row,")
        assert send(client, sheet(GOOD)).data.startswith(b"row,")

    def test_lines_of_json_can_be_answered_in_a_sheet(self, client: FlaskClient) -> None:
        body = json.dumps(small_request()).encode() + b"\n{\n"
        headers = {"Content-Type": "application/x-ndjson", "Accept": "text/csv"}
        answer = client.post(BATCH, data=body, headers=headers)
        found = list(csv.DictReader(StringIO(answer.text, newline="")))
        assert [each["status"] for each in found] == ["200", "400"]

    @pytest.mark.slow
    @given(st.text(max_size=200) | st.binary(max_size=200))
    def test_law_any_text_below_a_header_is_answered_with_a_sheet(self, text: str | bytes) -> None:
        client = create_app().test_client()
        body = text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass")
        found = rows(client, HEADER.encode() + b"\n" + body + b"\n" + GOOD.encode())
        assert found
        assert all(each["status"] in {"200", "400", "422"} for each in found)


class TestUnknownColumns:
    SHEET = f"{HEADER},customer ä\r\n{GOOD},4711\r\n"

    def test_they_are_refused_unless_the_address_allows_them(self, client: FlaskClient) -> None:
        assert send(client, self.SHEET).status_code == 422
        answer = client.post(
            f"{BATCH}?ignore_columns=true", data=self.SHEET, content_type="text/csv"
        )
        assert answer.status_code == 200
        assert answer.headers["Ignored-Columns"] == "customer%20%C3%A4"
        (row,) = csv.DictReader(StringIO(answer.text, newline=""))
        assert (row["reference"], row["status"]) == ("S-1", "200")

    def test_nothing_is_listed_if_all_are_known(self, client: FlaskClient) -> None:
        answer = client.post(
            f"{BATCH}?ignore_columns=true", data=sheet(GOOD), content_type="text/csv"
        )
        assert "Ignored-Columns" not in answer.headers

    def test_another_word_is_refused(self, client: FlaskClient) -> None:
        answer = client.post(
            f"{BATCH}?ignore_columns=yes", data=self.SHEET, content_type="text/csv"
        )
        assert answer.status_code == 400
        assert "true or false" in answer.json["detail"]  # type: ignore[index]


def test_no_two_parts_of_a_row_share_the_name_of_a_column() -> None:
    parts = get_type_hints(report.Report)
    merged = [parts[part] for part in ("counts", "rates", "setup", "cloth")]
    names = [name for kind in (report.Report, *merged) for name in words_of(kind)]
    assert sorted(names) == sorted(set(names))


def test_a_column_takes_its_words_from_its_field_or_has_others() -> None:
    columns = {each.name: each.words for each in (*ANSWER_COLUMNS, *APPENDED_COLUMNS)}
    assert columns["draft"] == "Name of the draft"
    assert columns["hours_for_order"].endswith("; empty if no length is ordered")
    assert columns["rates.stops_for_order.further_warp_stop_hours"].startswith("Hours that one")
    of_fields = {
        words.words
        for module in (report, loom_match, costs_section, order_chain)
        for kind in vars(module).values()
        if is_dataclass(kind) and isinstance(kind, type) and kind.__module__ == module.__name__
        for words in words_of(kind).values()
    }
    written = {
        node.value
        for module in (csv_reports, csv_matches)
        for node in ast.walk(ast.parse(inspect.getsource(module)))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    assert not of_fields & written
