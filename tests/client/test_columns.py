"""Orders from tables: the headings are the service's own, the cells are read strictly."""

from __future__ import annotations

import re
from typing import Any

import pytest

from weavability.service.batches import csv_orders
from weavability.textiles.errors import Fault, InputError
from weavability.textiles.sentences import say
from weavability_client._columns import looks_like_columns, read_columns
from weavability_client._csv_grammar import MOST_LINES_A_ROW
from weavability_client.errors import UsageError

WHOLE = """\
reference;loom_id;weave;width_cm;ends_per_cm;picks_per_cm;warp_yarn_A;warp_fibre_A;weft_yarn_A;\
reed_ends_per_dent;reed_ends_in_dents;draft;stabilised;panels
0012;rapier-190-dobby;2/2 twill Z;152,5;32;24;Ne 40/2;cotton;20 tex;2;;straight;yes;1
"A;1";;1100|0110|0011|1001;150;28;22;Ne 30;;Ne 30;;2 2 0 4;1 2 3 4;no;
"""


def test_a_table_is_read_as_the_service_reads_it() -> None:
    entries = csv_orders.read_orders(
        iter(line.encode() for line in WHOLE.splitlines()), longest=10_000, marked=False
    )[1]
    ours = read_columns(WHOLE, name="book.csv")
    assert ours == [each.read() for each in entries]
    first, second = (each["construction"] for each in ours if isinstance(each, dict))
    assert first["reference"] == "0012"  # type: ignore[index]
    assert second["draft"] == {"threading": [1, 2, 3, 4]}  # type: ignore[index]


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_the_separator_is_seen_in_the_first_line(separator: str) -> None:
    text = f"weave{separator}width_cm\r\nplain{separator}150.5\r\n\r\n"
    assert read_columns(text, name="x") == [{"construction": {"weave": "plain", "width_cm": 150.5}}]


@pytest.mark.parametrize("before", ["# orders.csv\n", "sep=;\n#by Friday\n", "# a\nsep=;\n# b\n"])
def test_remarks_before_the_headings_are_passed_over(before: str) -> None:
    text = f"{before}weave;width_cm\nplain;150,5\nplain;wide\n"
    assert looks_like_columns(text)
    first, second = read_columns(text, name="x.csv")
    assert first == {"construction": {"weave": "plain", "width_cm": 150.5}}
    assert str(second).startswith(f"x.csv, line {text.count(chr(10))}")


def test_columns_for_readers_are_left_out() -> None:
    read = read_columns("remark,weave\nurgent,plain\n", name="x", labels=frozenset({"remark"}))
    assert read == [{"construction": {"weave": "plain"}}]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("weave,ends_per_cmm\nplain,3\n", r"no column 'ends_per_cmm'; did you mean ends_per_cm\?"),
        ("weave,warp_fiber_A\n", r"did you mean warp_fibre_A\?"),
        ("weave,weave\nplain,plain\n", "'weave' occurs twice"),
        ("weave,weft_yarns_a\n", r"did you mean weft_yarn_A\?"),
        ("weave,Weave\nplain,plain\n", "'weave' occurs twice"),
        ('weave,"reference\nplain,1\n', "x: unexpected end of data"),
    ],
)
def test_what_cannot_be_read_is_named_with_its_place(text: str, words: str) -> None:
    with pytest.raises(UsageError, match=words):
        read_columns(text, name="x")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("weave,\nplain,3\n", "'3' has no heading"),
        ("weave,width_cm\nplain,wide\n", "x, line 2, width_cm: 'wide' is not a number. Write dig"),
        ("weave,width_cm\nplain,1_000\n", "not a number. Write digits, and a decimal point"),
        ("weave,width_cm\nplain,nan\n", "not a number"),
        ("weave;width_cm\nplain;1.250\n", "'1.250' is not a number. Write a decimal comma: 1,25."),
        ("weave;width_cm\nplain;wide\n", "not a number. Write digits, and a decimal comma"),
        ("weave;reed_ends_in_dents\nplain;2 x\n", "'x' is not a number. Write digits, and a dec"),
        ("weave,stabilised\nplain,maybe\n", "not true or false"),
        ("weave,width_cm\nplain,150,extra\n", "3 cells under 2 headings"),
        (
            'weave,reference\nplain,"open\n',
            "x, line 2, the row is not CSV: unexpected end of data; check quot",
        ),
        ('weave,reference\nplain,"a"b\n', "x, line 2, the row is not CSV: "),
    ],
)
def test_a_faulty_row_spoils_only_itself(text: str, words: str) -> None:
    bad, good = read_columns(f"{text}satin\n", name="x")
    assert isinstance(bad, UsageError)
    assert words in str(bad)
    assert good == {"construction": {"weave": "satin"}}


def test_a_cell_may_have_as_many_lines_as_the_service_reads() -> None:
    def table(breaks: int) -> str:
        return 'weave,reference\nplain,"' + "\n" * breaks + '"\nsatin,\n'

    whole, _ = read_columns(table(MOST_LINES_A_ROW - 1), name="x")
    assert isinstance(whole, dict)
    assert isinstance(read_columns(table(MOST_LINES_A_ROW), name="x")[0], UsageError)


def test_all_faults_of_a_row_are_reported() -> None:
    (bad,) = read_columns("weave,width_cm,panels\nplain,wide,two\n", name="x")
    assert "width_cm: 'wide'" in str(bad)
    assert "panels: 'two'" in str(bad)


@pytest.mark.parametrize("heading", ["warp_fiber_A", "ends_per_cmm"])
def test_a_misspelt_heading_gets_the_suggestion_of_the_service(heading: str) -> None:
    with pytest.raises(InputError) as ours:
        csv_orders.read_orders(iter([heading.encode()]), longest=100, marked=False)
    (meant,) = re.findall(r'Did you mean "(.*)"', str(ours.value))
    assert heading in str(ours.value)
    with pytest.raises(UsageError, match=rf"did you mean {meant}\?"):
        read_columns(f"{heading}\n", name="x")


@pytest.mark.parametrize(
    ("text", "is_table"),
    [
        ("reference,weave\n", True),
        ('"weave";x\n', True),
        ("weave\nplain\n", False),
        ('{"weave": "plain"}', False),
        ('weave = "plain"\n', False),
        ("", False),
    ],
)
def test_a_table_is_recognised(text: str, is_table: Any) -> None:
    assert looks_like_columns(text) is is_table


@pytest.mark.parametrize(
    ("headings", "row"),
    [
        ("WEAVE,Width_CM,warp_YARN_a,Ends_per_cm", "plain,150,Ne 30,28"),
        ("sep=;\nWeave;width_cm;Warp_Yarn_A;ends_per_cm", "plain;150;Ne 30;28"),
    ],
)
def test_headings_are_read_in_any_case_and_below_a_stated_separator(
    headings: str, row: str
) -> None:
    expected = {
        "weave": "plain",
        "width_cm": 150,
        "warp": {"yarns": {"A": {"designation": "Ne 30"}}, "ends_per_cm": 28},
    }
    text = f"{headings}\n{row}\n"
    assert read_columns(text, name="x.csv") == [{"construction": expected}]
    _, entries = csv_orders.read_orders(
        iter(text.encode().splitlines()), longest=1000, marked=False
    )
    assert [each.read() for each in entries] == [{"construction": expected}]


def test_unknown_columns_can_be_left_unread() -> None:
    text = "reference,customer no,weave,colour\nSO-1,4711,plain,red\n"
    seen: list[str] = []
    read = read_columns(text, name="x", ignore=seen.append)
    assert read == [{"construction": {"reference": "SO-1", "weave": "plain"}}]
    assert seen == ["customer no", "colour"]
    sheet, entries = csv_orders.read_orders(
        iter(text.encode().splitlines()), longest=1000, marked=False, ignore_columns=True
    )
    assert list(sheet.ignored.values()) == seen
    assert [each.read() for each in entries] == read


def test_a_refused_row_keeps_its_reference() -> None:
    (bad,) = read_columns("weave,reference,width_cm\nplain,SO-7,wide\n", name="x.csv")
    assert str(bad).startswith("x.csv, line 2 (SO-7), width_cm: 'wide' is not a number")


@pytest.mark.parametrize(
    ("cell", "comma", "advice"),
    [
        ("1,250.5", False, "separates the thousands: 1250.5."),
        ("1 250", False, "separates the thousands: 1250."),
        ("1'250'000", False, "separates the thousands: 1250000."),
        ("1.250.000,5", True, "separates the thousands: 1250000,5."),
    ],
)
def test_a_separator_of_thousands_is_named_with_the_number_that_was_meant(
    cell: str, comma: bool, advice: str
) -> None:
    separator = ";" if comma else "\t"
    table = f"weave{separator}width_cm\nplain{separator}{cell}\n"
    (bad,) = read_columns(table, name="x")
    assert f"is not a number. Leave out what {advice}" in str(bad)
    sheet, entries = csv_orders.read_orders(
        iter(table.encode().splitlines()), longest=1000, marked=False
    )
    (entry,) = entries
    assert entry.read() == {"construction": {"weave": "plain", "width_cm": cell}}
    fault = Fault("/construction/width_cm", say("fault.x", "must be a number"), cell)
    assert advice in sheet.in_cells(InputError([fault])).faults[0].message


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_a_line_end_inside_a_row_is_named_with_the_line(end: str) -> None:
    """Quoted it is part of the cell; rows may all end with it as well."""
    lines = ["weave,colour_note", "pl\rain,1", '"2/1\rtwill",2', ""]
    wrong, right = read_columns(end.join(lines), name="a.csv", labels=frozenset({"colour_note"}))
    assert str(wrong).startswith("a.csv, line 2, the row has a line end of its own inside")
    assert right == {"construction": {"weave": "2/1\rtwill"}}
    assert read_columns("weave,width_cm\rplain,152\r", name="a.csv") == [
        {"construction": {"weave": "plain", "width_cm": 152}}
    ]


@pytest.mark.parametrize("cell", ["١٥٢", "１５２", "1٠"])
def test_a_number_has_the_digits_0_to_9(cell: str) -> None:
    for table in (f"weave,width_cm\nplain,{cell}\n", f"weave;width_cm\nplain;{cell}\n"):
        (bad,) = read_columns(table, name="x")
        assert "is not a number. Write it with the digits 0 to 9." in str(bad)
