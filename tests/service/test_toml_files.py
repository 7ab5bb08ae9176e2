"""The files that a mill writes for the service: whatever is wrong with one is said in a line."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from service.support import PARK_TEXT

from weavability.looms.thresholds import ThresholdFileError, read_thresholds
from weavability.service.access.tokens import TokenFileError, load_callers
from weavability.service.requests.park import ParkError, load_park

TOKENS = f'[[token]]\nname = "erp"\nsha256 = "{"0" * 64}"\nscopes = ["validate"]\n'
READERS = (
    pytest.param(read_thresholds, ThresholdFileError, "order_short_run_hours = 9", id="thresholds"),
    pytest.param(load_park, ParkError, PARK_TEXT, id="park"),
    pytest.param(load_callers, TokenFileError, TOKENS, id="tokens"),
)
Read = Callable[[Path], object]


@pytest.mark.parametrize(("read", "error", "good"), READERS)
@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("x = " + "[" * 20_000, "nested too deeply"),
        ("x = " + "{a=" * 20_000, "nested too deeply"),
        ("x = " + "1" * 5_000, "more than 4300 digits"),
        ("x = 1\nx = 2\n", "line 2"),
        ("x = \ud800", "not UTF-8"),
    ],
)
def test_a_file_that_cannot_be_read_is_refused_in_one_line(
    tmp_path: Path, read: Read, error: type[Exception], good: str, text: str, says: str
) -> None:
    path = tmp_path / "own.toml"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    with pytest.raises(error) as caught:
        read(path)
    said = str(caught.value)
    assert "own.toml" in said
    assert says in said
    assert "\n" not in said
    path.write_text(good, "utf-8")
    read(path)


@pytest.mark.parametrize(("read", "error", "good"), READERS)
def test_a_byte_order_mark_is_no_fault(
    tmp_path: Path, read: Read, error: type[Exception], good: str
) -> None:
    path = tmp_path / "own.toml"
    path.write_text(good, "utf-8-sig")
    read(path)
    path.write_text("x = ", "utf-8-sig")
    with pytest.raises(error, match=r"own\.toml"):
        read(path)


@pytest.mark.parametrize(
    ("value", "given"),
    [
        ("1979-05-27", "1979-05-27"),
        ("true", "true"),
        ("0x" + "f" * 20_000, "a number of very many digits"),
        ("[" * 90 + "]" * 90, "a list"),
    ],
)
def test_values_are_repeated_as_the_file_has_them(tmp_path: Path, value: str, given: str) -> None:
    path = tmp_path / "own.toml"
    path.write_text(PARK_TEXT.replace("= 620", f"= {value}"), "utf-8")
    with pytest.raises(ParkError) as caught:
        load_park(path)
    assert f"(given: {given};" in str(caught.value)
    path.write_text(TOKENS.replace('"erp"', value).replace('["validate"]', f"[{value}]"), "utf-8")
    with pytest.raises(TokenFileError, match="token 1, name"):
        load_callers(path)
    path.write_text(f"order_short_run_hours = {value}", "utf-8")
    with pytest.raises(ThresholdFileError) as refused:
        read_thresholds(path)
    assert f"order_short_run_hours is {given};" in str(refused.value)


@pytest.mark.slow
def test_a_deeply_nested_table_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(f"[[loom]]\n{'x.' * 4_000}x = 1", "utf-8")
    with pytest.raises(ParkError, match=r"own\.toml"):
        load_park(path)
