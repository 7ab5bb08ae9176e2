"""Weave codes. The grammar is from memory, so these tests hold the reading that is documented."""

from __future__ import annotations

import pytest

from weavability.textiles.errors import InputError
from weavability.textiles.notation import parse_weave
from weavability.textiles.weave_code import parse_code, weave_from_code


# From memory of textbooks, not verified against the standard.
@pytest.mark.parametrize(
    ("code", "matrix", "name"),
    [
        ("10-0101-01-00", "10/01", "plain"),
        ("10-01 01-01-00", "10/01", "plain"),
        ("11-0202-01-00", "10/10/01/01", "2/2 warp rib"),
        ("12-0101-02-00", "1100/0011", "2/2 weft rib"),
        ("13-0202-02-00", "1100/1100/0011/0011", "2/2 hopsack"),
        ("13-0101-02-00", "1100/0011", "2/2 x 1/1 hopsack"),
        ("20-0201-01-01", "110/011/101", "2/1 twill Z"),
        ("20-0102-01-01", "100/010/001", "1/2 twill Z"),
        ("20-02 02-01-01", "1100/0110/0011/1001", "2/2 twill Z"),
        ("20-02 02-01-03", "1100/1001/0011/0110", "2/2 twill S"),
        ("20-0202-02-01", "11110000/00111100/00001111/11000011", ""),
        ("30-0104-01-02", "10000/00100/00001/01000/00010", "5-end sateen move 2"),
        ("30-0401-01-02", "01111/11011/11110/10111/11101", "5-end satin move 2"),
    ],
)
def test_codes(code: str, matrix: str, name: str) -> None:
    weave = weave_from_code(code)
    assert "/".join(weave.rows) == matrix
    assert weave.name == name


def test_a_code_of_several_rises_and_falls_and_a_larger_move() -> None:
    weave = weave_from_code("20-05 02 01 02-01-03")
    assert weave == parse_weave("5/2/1/2 reclined twill Z move 3")


@pytest.mark.parametrize("text", ["20-0202-01-01", " 20 - 02 02 - 01 - 01 ", "20-02/02-01-01"])
def test_spacing_of_a_code_does_not_matter(text: str) -> None:
    assert str(parse_code(text)) == "20-02 02-01-01"


@pytest.mark.parametrize(
    ("code", "says"),
    [
        ("", "four parts"),
        ("20-0202-01", "four parts"),
        ("20-0202-01-1", "four parts"),
        ("20-02 02-01-01" * 10, "four parts"),
        ("21-0202-01-01", "kind 21 is not known"),
        ("20-020201-01-01", "in pairs"),
        ("20-0002-01-01", "in pairs"),
        ("20-0202-00-01", "threads together"),
        ("20-9999-02-01", "at most 200"),
        ("20-0202-01-00", "moves by 1"),
        ("10-0101-01-01", "by 00"),
        ("10-0202-01-00", "01 01"),
        ("11-0202-02-00", "02 or more"),
        ("13-0202-01-00", "02 or more"),
        ("30-0203-01-02", "one thread up"),
        ("30-01 02 01 04-01-03", "one thread up"),
        ("30-0104-01-01", "cannot have the move 1"),
        ("30-0103-01-02", "no regular satin on 4"),
    ],
)
def test_codes_that_do_not_fit_together_are_refused(code: str, says: str) -> None:
    with pytest.raises(InputError) as caught:
        weave_from_code(code)
    assert says in caught.value.faults[0].message
