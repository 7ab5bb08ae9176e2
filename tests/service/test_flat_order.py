"""Orders as flat fields and as requests: the two readings are each other's inverse."""

from __future__ import annotations

import tomllib
from importlib import resources
from typing import Any
from urllib.parse import parse_qsl

import pytest
from hypothesis import given
from hypothesis import strategies as st
from profiles import share_of_examples
from service.support import small_request

from weavability.service.batches.csv_columns import Column, column, columns
from weavability.service.batches.csv_grammar import Kind, put
from weavability.service.batches.flat_order import (
    LONGEST_QUERY,
    query_of,
    read_fields,
    write_fields,
)
from weavability.service.http.problems import MOST_ERRORS
from weavability.service.requests.canonical import normalised
from weavability.service.requests.loom_choice import MOST_HINTS
from weavability.service.schemas.request_schemas import ValidationRequestSchema
from weavability.textiles.errors import InputError

_WORDS = st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z")), min_size=1)
_NUMBERS = st.floats(-1e9, 1e9) | st.integers(-(10**12), 10**12)
_YARNS = (
    *("warp_yarn_A", "warp_fibre_B1", "weft_twist_per_m_A", "weft_sized_Slub", "warp_colour_A"),
    *("prices.yarn_per_kg.warp A", "prices.yarn_per_kg.catch cord S"),
)
_VALUES = {
    Kind.TEXT: _WORDS,
    Kind.NUMBER: _NUMBERS,
    Kind.FLAG: st.booleans(),
    Kind.LIST: st.lists(_NUMBERS, min_size=1),
    Kind.THREADING: st.sampled_from(["straight", "pointed"])
    | st.lists(st.integers(1, 24), min_size=2),
    Kind.WEAVE: st.just("2/2 twill Z")
    | st.lists(st.text("01", min_size=1), min_size=1).map(lambda rows: {"rows": rows})
    | st.just({"threading": [1, 2], "lift_plan": ["10", "01"]}),
    Kind.JSON: st.just([{"name": "ground", "yarns": ["A"]}]),
}


@st.composite
def requests(draw: st.DrawFn) -> dict[str, Any]:
    """A request with any of the fields, whether or not they go together."""
    made: dict[str, Any] = {"construction": {"warp": {}, "weft": {}}}
    every = st.sampled_from([*columns(), *_YARNS])
    for heading in draw(st.sets(every, max_size=12)):
        place = column(heading)
        assert place is not None
        put(made, place.path, draw(_VALUES[place.kind]))
    return made


def test_many_unknown_fields_are_read_no_further_than_they_are_listed() -> None:
    """Each was compared with every column: half a minute for a body of a megabyte."""
    order = read_fields((f"ends_per_c{number}", "1") for number in range(5_000))
    assert len(order.faults) == MOST_ERRORS
    assert sum("Did you mean" in each.fault.message for each in order.faults) == MOST_HINTS


@share_of_examples(0.5)
@given(requests())
def test_what_is_written_as_fields_is_read_as_the_same_request(request: dict[str, Any]) -> None:
    written = write_fields(request)
    assert written.left_out == ()
    read = read_fields(written.cells.items())
    assert read.faults == ()
    assert read.request == request
    assert write_fields(read.request) == written


def test_every_order_of_the_demo_fits_the_fields_and_an_address() -> None:
    book = resources.files("weavability").joinpath("data/demo_orders.toml").read_text("utf-8")
    for order in tomllib.loads(book)["order"]:
        stated = {name: order[name] for name in ("construction", "loom_id") if name in order}
        written = write_fields(stated)
        query = query_of(written.cells)
        assert written.left_out == ()
        assert query is not None
        again = read_fields(parse_qsl(query), in_address=True)
        assert normalised(again.request) == normalised(stated), order["cloth"]


def test_what_fits_no_field_is_named() -> None:
    request = small_request()
    request["loom"] = {"reed_width_cm": 190}
    request["construction"]["warp"]["yarns"]["b"] = {"designation": "Ne 30", "fibre": "linen"}
    request["construction"]["width_cm"] = "150"
    request["construction"]["reference"] = None
    assert write_fields(request).left_out == (
        "/construction/warp/yarns/b/designation",
        "/construction/warp/yarns/b/fibre",
        "/construction/width_cm",
        "/loom",
    )


@pytest.mark.parametrize(
    ("cell", "value"),
    [
        ("152,5", 152.5),
        ("152.50", 152.5),
        ("1.250", 1.25),
        (" 1e2 ", 100),
        ("1,250", "1,250"),
        ("1,250.5", "1,250.5"),
        ("12a", "12a"),
    ],
)
def test_a_number_may_have_a_decimal_comma_unless_it_may_be_thousands(
    cell: str, value: float | str
) -> None:
    read = read_fields([("width_cm", cell)])
    assert read.request["construction"]["width_cm"] == value
    assert read.commas == ({"width_cm": value} if cell == "152,5" else {})


def test_faults_are_at_their_fields_and_in_the_words_of_a_form() -> None:
    read = read_fields(
        [
            ("weave", "3/1 twil"),
            ("width_cm", "1,250"),
            ("ends_per_in", "70"),
            ("ends_per_cm", "x"),
            ("warp_yarn_B", "Ne 30"),
            ("warp_fibre_B", "cottn"),
            ("requirements.mass_g_per_m2.max", "100"),
            ("requirements.mass_g_per_m2.nominal", "90"),
        ]
    )
    with pytest.raises(InputError) as caught:
        ValidationRequestSchema().read(read.request)
    found = {each.heading: each.fault.message for each in read.faults_of(caught.value)}
    assert found.keys() >= {"weave", "width_cm", "ends_per_cm", "warp_fibre_B", "weft_yarn_A"}
    assert found.keys() >= {"picks_per_cm", "requirements.mass_g_per_m2.max"}
    assert found["width_cm"].startswith("1,250 may be 1.250 or 1250")
    assert "decimal point" in found["ends_per_cm"]


def test_unknown_and_doubled_fields_are_refused_and_others_named_beside_pass() -> None:
    read = read_fields(
        [("widht_cm", "1"), ("weave", "plain"), ("weave", "2/2 twill"), ("then", "x")],
        beside={"then"},
    )
    assert [each.fault.message for each in read.faults] == [
        "There is no field 'widht_cm'. Did you mean \"width_cm\"?",
        "This field is given twice; leave one out.",
    ]


def test_no_address_takes_or_gets_a_price() -> None:
    read = read_fields([("prices.loom_hour", "6.66"), ("weave", "plain")], in_address=True)
    assert "6.66" not in repr(read)
    assert [each.heading for each in read.faults] == ["prices.loom_hour"]
    assert query_of({"prices.loom_hour": "6.66", "weave": "plain"}) == "weave=plain"


def test_an_order_that_is_too_long_has_no_address() -> None:
    assert query_of({"weave": "1" * LONGEST_QUERY}) is None


@pytest.mark.parametrize(
    ("pointer", "heading"),
    [
        ("/construction/warp/yarns", "warp_yarn_A"),
        ("/construction/weft", "weft_yarn_A"),
        ("/construction/warp/yarns/C/linear_density_tex", "warp_linear_density_tex_C"),
        ("/construction/warp/beams/0/name", "warp_beams"),
        ("/construction/reed", "reed_ends_per_dent"),
        ("/construction/weave/rows/3", "weave"),
        ("/construction", ""),
        ("/elsewhere", ""),
    ],
)
def test_a_pointer_is_at_the_nearest_field(pointer: str, heading: str) -> None:
    assert read_fields([("reed_ends_per_dent", "2")]).heading_of(pointer) == heading


def test_every_column_is_at_its_own_pointer() -> None:
    every: list[Column] = list(columns().values())
    order = read_fields([])
    assert [order.heading_of(each.pointer) for each in every] == [each.name for each in every]
