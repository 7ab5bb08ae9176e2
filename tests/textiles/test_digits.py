"""Numbers in texts are read in the digits 0 to 9 only, whatever else Unicode calls a digit."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from weavability.textiles.designations import parse_designation
from weavability.textiles.errors import InputError
from weavability.textiles.fibres import find_fibre
from weavability.textiles.notation import parse_weave
from weavability.textiles.thread_order import parse_order

SCRIPTS = ("０１２３４５６７８９", "٠١٢٣٤٥٦٧٨٩", "०१२३४५६७८९")


def _order(text: str) -> object:
    return parse_order(text, known={"A", "B"})


@pytest.mark.parametrize("digits", SCRIPTS, ids=["full width", "Arabic-Indic", "Devanagari"])
@pytest.mark.parametrize(
    ("read", "text"),
    [
        (parse_designation, "Ne 30/2"),
        (parse_designation, "0.2 mm"),
        (_order, "2A 2B"),
        (parse_weave, "2/2 twill Z"),
        (parse_weave, "20-02 02-01-01"),
        (find_fibre, "65/35 polyester/cotton"),
    ],
)
def test_digits_of_other_scripts_are_refused_with_the_text_that_was_meant(
    read: Callable[[str], object], text: str, digits: str
) -> None:
    written = text.translate(str.maketrans("0123456789", digits))
    with pytest.raises(InputError, match="digits 0 to 9") as caught:
        read(written)
    (fault,) = caught.value.faults
    assert fault.given == written
    assert repr(text) in fault.message


def test_other_signs_are_no_digits() -> None:
    assert parse_weave("2⁄2 twill").name == parse_weave("2/2 twill").name
