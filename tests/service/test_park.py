from __future__ import annotations

from pathlib import Path

import pytest
from service.support import PARK_TEXT, small_request

from weavability.answers.caution import CAUTION
from weavability.looms.carriers import InsertionSystem
from weavability.looms.default_limits import default_limits
from weavability.looms.loom_limits import resolve_loom
from weavability.service import Settings, create_app
from weavability.service.gunicorn import command
from weavability.service.requests.park import ParkError, load_park, parse_park
from weavability.textiles.assumptions import Grade

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
    found = complaint(PARK_TEXT.replace("shafts = 8", "shafts = 0"))
    assert found.startswith("hall2.toml cannot be used:")
    assert "loom 2 ('air-jet-190-cam'), shedding.shafts: " in found
    assert "(given: 0; allowed: a whole number from 2 to 64 shafts, such as 20)" in found


def test_every_fault_of_every_loom_is_reported() -> None:
    text = PARK_TEXT.replace("reed_width_cm", "reed_width").replace('dobby"', 'doby"')
    found = complaint(text)
    assert found.count("reed_width") >= 2
    assert "loom 1" in found
    assert "loom 2" in found


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


def checked(capsys: pytest.CaptureFixture[str], tmp_path: Path, text: str) -> tuple[int, str, str]:
    """Exit status and output of ``weavability-server --check-park``."""
    file = tmp_path / "hall2.toml"
    file.write_text(text, encoding="utf-8")
    status = command.main(["--check-park", str(file)])
    return status, *capsys.readouterr()


def test_a_park_is_checked_without_a_service(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    status, out, errors = checked(capsys, tmp_path, PARK_TEXT)
    assert (status, errors) == (0, "")
    assert out.startswith("hall2.toml can be used: 2 looms.")
    assert CAUTION in out
    parts = out.split("\n\n")
    assert [part.splitlines()[0] for part in parts[1:3]] == ["rapier-190-dobby", "air-jet-190-cam"]
    for part, each in zip(parts[1:3], parse_park(PARK_TEXT, name="x").looms.values(), strict=True):
        lines = part.splitlines()[3:]
        assumed = resolve_loom(each.loom).assumptions
        assert [line.split()[0] for line in lines] == [
            line.pointer.strip("/").replace("/", ".") for line in assumed
        ]
    (selectors,) = [line for line in parts[2].splitlines() if "weft_selectors" in line]
    assert selectors.split()[:6] == ["weft_selectors", "4", "2", "to", "8", "common"]


def test_a_park_that_cannot_be_used_is_checked_in_one_go(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    text = PARK_TEXT.replace('"rapier"', '"rapir"').replace("shafts = 8", "shafts = 0, hooks = 5")
    status, out, errors = checked(capsys, tmp_path, text + "[[loom]]" + LOOM)
    assert (status, out) == (2, "")
    lines = errors.splitlines()
    assert lines[0] == "weavability-server: hall2.toml cannot be used:"
    assert [line.partition(": ")[0].strip() for line in lines[1:]] == [
        "loom 1 ('rapier-190-dobby'), insertion.system",
        "loom 2 ('air-jet-190-cam'), shedding.shafts",
        "loom 2 ('air-jet-190-cam'), shedding.hooks",
        "loom 3 ('rapier-190-dobby'), loom_id",
    ]
    assert "allowed: rapier, projectile" in errors
    assert checked(capsys, tmp_path, "[[loom]")[0] == 2
    assert command.main(["--check-park", str(tmp_path / "nowhere.toml")]) == 2


def test_no_fault_of_a_park_hides_another(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """A stray table, a loom without a name, and contradictions beside faulty fields."""
    text = """
        [mill]
        [[loom]]
        reed_width_cm = -5
        max_speed_picks_per_min = 500
        shedding = { kind = "dobby", shafts = 8 }
        insertion = { system = "rapier", entry_deg = 300, exit_deg = 20, overrun_cm = -1 }
        cloth_roll_diameter_cm = 10
        cloth_tube_diameter_cm = 12
        [[loom]]
        loom_id = "b"
        reed_width_cm = 190
        max_speed_picks_per_min = 500
        shedding = { kind = "dobby", shafts = 8 }
        insertion = { system = "rapier", entry_deg = 300, exit_deg = 20 }
        warp_beam = { flange_diameter_cm = 10 }
        cloth_roll_diameter_cm = 10
        weft_selectors = 4
        boxes = [1, 4]
    """
    status, out, errors = checked(capsys, tmp_path, text)
    assert (status, out) == (2, "")
    stray, _, *lines = errors.splitlines()
    assert "it holds 'mill'" in stray
    assert sorted(line.partition(": ")[0].strip() for line in lines) == [
        "loom 1, cloth_roll_diameter_cm",
        "loom 1, insertion.exit_deg",
        "loom 1, insertion.overrun_cm",
        "loom 1, loom_id",
        "loom 1, reed_width_cm",
        "loom 2 ('b'), boxes",
        "loom 2 ('b'), cloth_roll_diameter_cm",
        "loom 2 ('b'), insertion.exit_deg",
        "loom 2 ('b'), warp_beam.flange_diameter_cm",
    ]


def test_the_list_of_looms_says_what_is_assumed_of_each() -> None:
    client = create_app().test_client()
    listed = client.get("/v1/looms").get_json()["looms"]
    for loom in listed:
        one = client.get(f"/v1/looms/{loom['loom_id']}").get_json()
        assert one.pop("caution") == CAUTION
        assert one == loom
        assert {line["pointer"] for line in loom["assumed"]} > {"/warp_beam/width_cm"}
        assert all(
            {"value", "unit", "reason", "grade", "band"} <= line.keys() for line in loom["assumed"]
        )
    stated = parse_park(PARK_TEXT, name="x").looms["air-jet-190-cam"].document
    assert "weft_selectors" not in stated


@pytest.mark.slow
def test_a_loom_of_the_list_can_be_sent_back_and_means_the_same() -> None:
    client = create_app().test_client()
    loom = client.get("/v1/looms/rapier-190-dobby").get_json()
    plain = {key: value for key, value in loom.items() if key not in {"assumed", "caution"}}
    order = small_request()["construction"]
    sent, stated = (
        client.post("/v1/validations", json={"construction": order, "loom": each}).get_json()
        for each in (loom, plain)
    )
    assert sent == stated
    wrong = {**loom, "weft_selector": 3}
    faults = client.post("/v1/validations", json={"construction": order, "loom": wrong}).get_json()
    assert [fault["pointer"] for fault in faults["errors"]] == ["/loom/weft_selector"]
    assert "assumed" not in faults["errors"][0]["allowed"]
    park = "[[loom]]\n" + "\n".join(LOOM.strip().splitlines()) + '\ncaution = "x"\nassumed = []\n'
    kept = parse_park(park, name="x").looms["rapier-190-dobby"].document
    assert not {"caution", "assumed"} & kept.keys()


def test_every_starting_value_has_a_grade_and_a_band_that_holds_it() -> None:
    for pointer, row in default_limits().items():
        for system in InsertionSystem:
            name = system.value
            grade = row["grades"][name] if "grades" in row else row["grade"]
            assert Grade(grade) is not Grade.MILL, pointer
            if "share_of_reed_width" in row:
                value, band = row["share_of_reed_width"][name], row["share_bands"][name]
            else:
                value = row["values"][name] if "values" in row else row["value"]
                band = row["bands"][name] if "bands" in row else row["band"]
            assert band[0] <= value <= band[1], (pointer, name)
