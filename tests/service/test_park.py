from __future__ import annotations

from pathlib import Path

import pytest
from service.support import PARK_TEXT

from weavability.service import Settings, create_app
from weavability.service.requests.park import ParkError, load_park, parse_park

LOOM = PARK_TEXT.split("[[loom]]")[1]


def complaint(text: str) -> str:
    with pytest.raises(ParkError) as caught:
        parse_park(text, name="hall2.toml")
    return str(caught.value)


def test_looms_keep_the_order_of_the_file() -> None:
    park = parse_park(PARK_TEXT, name="park.toml")
    assert list(park.looms) == ["rapier-190-dobby", "air-jet-190-cam"]
    assert park.looms["air-jet-190-cam"].loom.reed_width_cm == 190


def test_the_demo_park_is_the_default() -> None:
    assert "rapier-190-dobby" in load_park(None).looms
    assert create_app().test_client().get("/v1/looms/rapier-190-dobby").status_code == 200


def test_a_file_is_read(tmp_path: Path) -> None:
    file = tmp_path / "hall2.toml"
    file.write_text(PARK_TEXT, encoding="utf-8")
    client = create_app(Settings(looms=file)).test_client()
    assert client.get("/v1/looms/air-jet-190-cam").status_code == 200
    assert load_park(str(file)).digest == load_park(file).digest


def test_an_error_names_file_loom_field_and_value() -> None:
    told = complaint(PARK_TEXT.replace("shafts = 8", "shafts = 0"))
    assert told.startswith("hall2.toml cannot be used:")
    assert "loom 2 ('air-jet-190-cam'), shedding.shafts: " in told
    assert "(given: 0)" in told


def test_every_fault_of_every_loom_is_told() -> None:
    text = PARK_TEXT.replace("reed_width_cm", "reed_width").replace('dobby"', 'doby"')
    told = complaint(text)
    assert told.count("reed_width") >= 2
    assert "loom 1" in told
    assert "loom 2" in told


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "1 to 10000 [[loom]] tables"),
        ("x = 1", "[[loom]] tables and nothing else"),
        ("[loom]\nloom_id = 'A'", "[[loom]] tables"),
        ("loom = []", "[[loom]] tables"),
        ("loom = [3]", "loom 1, the table: This must be a JSON object"),
        ("[[loom]", "is not TOML"),
        (PARK_TEXT + "[[loom]]" + LOOM, "another loom has this name already"),
        (PARK_TEXT.replace('loom_id = "air-jet-190-cam"', ""), "every loom of a park needs a name"),
        (PARK_TEXT.replace("= 620", "= nan"), "max_speed_picks_per_min must be"),
        (PARK_TEXT.replace("= 620", "= inf"), "max_speed_picks_per_min must be"),
        (PARK_TEXT.replace("= 620", "= 2026-01-01"), "max_speed_picks_per_min must be a number"),
        (PARK_TEXT.replace('"air-jet-190-cam"', '"hall 2/17"'), "letters, digits"),
    ],
)
def test_a_file_that_cannot_be_used_says_why(text: str, words: str) -> None:
    assert words in complaint(text)


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(ParkError, match=r"nowhere\.toml cannot be read"):
        load_park(tmp_path / "nowhere.toml")
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"\xff\xfe")
    with pytest.raises(ParkError, match=r"binary\.toml cannot be read"):
        load_park(binary)


def test_an_unknown_loom_is_answered_with_near_names() -> None:
    park = parse_park(PARK_TEXT, name="park.toml")
    assert (park.get("air-jet-190-dobby"), park.get("zzz")) == (None, None)
    assert park.unknown("airjet-190cam").allowed == ["air-jet-190-cam"]
    assert park.unknown("zzz").allowed == ["rapier-190-dobby", "air-jet-190-cam"]


def test_the_digest_follows_every_change() -> None:
    park = parse_park(PARK_TEXT, name="park.toml")
    same = parse_park(PARK_TEXT.replace("190.0", "190"), name="other.toml")
    other = parse_park(PARK_TEXT.replace("= 620", "= 610"), name="park.toml")
    assert park.digest == same.digest != other.digest
