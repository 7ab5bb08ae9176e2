"""``POST /v1/designs``, and figured designs inside a construction."""

from __future__ import annotations

import base64
import io
from copy import deepcopy
from typing import Any

import numpy as np
import pytest
from flask import Flask
from flask.testing import FlaskClient
from numpy.typing import NDArray
from PIL import Image
from textiles.pictures import png

from weavability.answers.caution import CAUTION
from weavability.service.openapi.example_requests import DESIGN
from weavability.textiles.point_paper_image import weave_from_png

ADDRESS = "/v1/designs"


@pytest.fixture(scope="module")
def client(demo_app: Flask) -> FlaskClient:
    return demo_app.test_client()


def picture(pixels: NDArray[Any], *colours: str) -> str:
    image = Image.fromarray(pixels[::-1].astype(np.uint8), mode="P")
    image.putpalette([int(each[at : at + 2], 16) for each in colours for at in (1, 3, 5)])
    return base64.b64encode(png(image)).decode()


def changed(**fields: Any) -> dict[str, Any]:
    """The example with other fields of its design."""
    body = deepcopy(DESIGN)
    body["construction"]["weave"]["design"].update(fields)
    return body


def faults(client: FlaskClient, body: object) -> dict[str, str]:
    answer = client.post(ADDRESS, json=body)
    assert answer.status_code == 422, answer.text
    return {each["pointer"]: each["message"] for each in answer.get_json()["errors"]}


@pytest.fixture(scope="module")
def sheet(client: FlaskClient) -> Any:
    answer = client.post(ADDRESS, json=DESIGN)
    assert answer.status_code == 200
    return answer.get_json()


def test_the_figures_of_a_design_agree_with_one_another(client: FlaskClient, sheet: Any) -> None:
    plan, effects = sheet["plan"], sheet["effects"]
    asked = client.post(ADDRESS, json=changed(correct=False)).get_json()
    assert sum(each["share_pct"] for each in effects) == pytest.approx(100, abs=0.01)
    assert plan["cards"] == plan["picks"] == sum(plan["picks_by_weft"].values())
    ends = sum(int(cords) * hooks for cords, hooks in plan["hooks_by_cords"].items())
    assert ends == plan["repeat_ends"] == 64
    assert sum(each["dots"] for each in effects) == sheet["correction"]["dots"] > 0
    assert sheet["correction"]["floats_left"] == 0
    assert sheet["correction"]["floats_before"] == asked["correction"]["floats_left"] > 0
    for each, other in zip(sheet["floats"], asked["floats"], strict=True):
        assert each["histogram_before"] == other["histogram"] == other["histogram_before"]
    assert {(each["system"], each["side"]) for each in sheet["floats"]} == {
        (system, side) for system in ("warp", "weft") for side in ("face", "back")
    }
    for each in sheet["floats"]:
        assert each["longest"] <= min(9, each["longest_before"])
        assert each["histogram"][-1][0] == each["longest"]
        assert each["histogram_before"][-1][0] == each["longest_before"]
    on_face = [each for each in sheet["floats"] if each["system"] == "weft"]
    crossings = sum(n * times for each in on_face for n, times in each["histogram"])
    assert crossings == plan["repeat_ends"] * plan["picks"]
    raised = sum(each["warp_up_pct"] * each["share_pct"] for each in effects) / 100
    assert raised == pytest.approx(sheet["lift"]["mean_pct"], rel=1e-4)
    assert not plan["is_whole_cloth"]
    assert plan["design_id"] != asked["plan"]["design_id"]
    assert [each["weave"] for each in effects] == ["8-end satin move 3"] * 2


def test_a_design_is_judged_as_its_validation_judges_it(client: FlaskClient, sheet: Any) -> None:
    body = {name: DESIGN[name] for name in ("construction", "loom")}
    report = client.post("/v1/validations", json=body).get_json()
    for name in ("verdict", "findings", "rates", "assumptions"):
        assert report[name] == sheet[name]
    assert report["setup"]["hooks_used"] == sheet["plan"]["hooks_used"] == 32
    # The section of the report is the sheet but for what it lists by place.
    for name, value in report["design"].items():
        if name in {"lift", "floats"}:
            continue
        assert sheet[name] == value, name
    floats = {(each["system"], each["side"]): each for each in sheet["floats"]}
    for each in report["design"]["floats"]:
        assert each.items() <= floats[each["system"], each["side"]].items()
    assert report["design"]["lift"].items() <= sheet["lift"].items()
    # One computation: the tightest part of the map is the tightness of the cloth.
    mapped = sheet["tightness_map"]
    greatest = max(max(row) for row in mapped["values_pct"])
    assert greatest == report["cloth"]["tightness_pct"] == sheet["tightness"]["greatest_pct"]
    assert mapped["tight_areas"] == []
    own = client.get(report["links"]["self"]).get_json()
    assert own["findings"] == report["findings"]


def test_point_paper_is_the_same_bytes_and_reads_back_as_the_lift(client: FlaskClient) -> None:
    def paper(which: str) -> bytes:
        body = {**DESIGN, "options": {"paper": which}}
        answer = client.post(ADDRESS, json=body, headers={"Accept": "image/png"})
        assert answer.mimetype == "image/png"
        return bytes(answer.data)

    uncorrected, corrected, cloth = map(paper, ("uncorrected", "corrected", "cloth"))
    assert corrected == paper("corrected")
    assert Image.open(io.BytesIO(corrected)).info["Disclaimer"] == CAUTION
    on_hooks = weave_from_png(corrected).matrix
    assert on_hooks.shape == (32, 32)
    changed_crossings = int((on_hooks != weave_from_png(uncorrected).matrix).sum())
    dots = client.post(ADDRESS, json=DESIGN).get_json()["correction"]["dots"]
    assert changed_crossings == dots
    through = weave_from_png(cloth).matrix
    assert np.array_equal(through, np.hstack([on_hooks, on_hooks[:, ::-1]]))
    assert paper("asked") == uncorrected  # its older word


@pytest.mark.parametrize("view", ["overview", "point_paper"])
def test_drawings_of_a_design(client: FlaskClient, view: str) -> None:
    options = {"view": view, "window": {"first_hook": 9, "hooks": 200, "picks": 16}}
    body = {**DESIGN, "options": options}
    drawn = client.post(ADDRESS, json=body, headers={"Accept": "image/svg+xml"})
    assert drawn.status_code == 200
    words = {
        "overview": ("64 ends × 32 picks", "Tie: hook of each end, 1 to 32", "flower, 18 %"),
        "point_paper": ("hooks 9 to 32, picks 1 to 16",),
    }[view]
    assert all(each in drawn.text for each in words)


def test_every_finding_that_has_a_place_is_listed_and_marked(client: FlaskClient) -> None:
    # A disc without a binding, a ground that breaks, a line of one thread; no limits of floats.
    down, across = np.indices((80, 81))
    pixels = np.where((down - 40) ** 2 + (across - 40) ** 2 < 900, 1, 0)
    pixels[2, 5:40] = 2
    body = changed(
        picture_png=picture(pixels, "#ffffff", "#c01030", "#203080"),
        effects={
            "#ffffff": {"name": "ground", "weave": "8-end satin move 3"},
            "#c01030": {"name": "disc", "weave": {"rows": ["0"]}},
            "#203080": {"name": "stem", "weave": "plain"},
        },
        float_limits=None,
        correct=False,
    )
    body["loom"]["shedding"] = {"kind": "jacquard", "hooks": 81, "ends_per_hook": 40}
    sheet = client.post(ADDRESS, json=body).get_json()
    by_words = {each["what"]: (each["end"], each["pick"]) for each in sheet["places"]}
    assert by_words["stem is one thread thin"] == (6, 3)
    assert by_words["ground breaks beside the next repeat"] == (81, 1)
    end, pick = by_words["disc is not bound by its weave"]
    assert pixels[pick - 1, end - 1] == 1
    assert any("the longest float" in words for words in by_words)
    body["options"] = {"view": "overview"}
    drawn = client.post(ADDRESS, json=body, headers={"Accept": "image/svg+xml"}).text
    assert all(words in drawn for words in by_words)
    assert "Nothing was found" not in drawn


def test_the_tie_is_labelled_with_all_its_hooks_however_many_are_drawn(
    client: FlaskClient,
) -> None:
    body = changed(picture_png=picture(np.arange(2640) % 2 * np.ones((8, 1)), "#ffffff", "#c01030"))
    body["loom"]["shedding"] = {"kind": "jacquard", "hooks": 2640, "ends_per_hook": 2}
    body["options"] = {"view": "overview"}
    drawn = client.post(ADDRESS, json=body, headers={"Accept": "image/svg+xml"})
    assert "Tie: hook of each end, 1 to 2640" in drawn.text


def test_a_picture_of_one_effect_is_that_weave(client: FlaskClient) -> None:
    """The cloth repeats on less than the picture then."""
    one = changed(
        correct=False,
        picture_png=picture(np.zeros((32, 32)), "#ffffff"),
        effects={"#ffffff": {"name": "ground", "weave": "8-end satin move 3"}},
    )
    sheet = client.post(ADDRESS, json=one).get_json()
    (per_cm,) = {each["interlacings_per_cm"] for each in sheet["take_up"]}
    assert per_cm == pytest.approx(one["construction"]["weft"]["picks_per_cm"] / 4)


def test_a_picture_of_a_design_is_requested_as_it_must_be(client: FlaskClient) -> None:
    jpeg = base64.b64encode(b"\xff\xd8\xff\xe0" + bytes(40)).decode()
    (error,) = client.post(ADDRESS, json=changed(picture_png=jpeg)).get_json()["errors"]
    assert error["allowed"] == "a PNG file with a palette"


@pytest.mark.slow
def test_a_brocade_weaves_with_two_wefts(client: FlaskClient) -> None:
    pixels = np.zeros((40, 32), dtype=int)
    pixels[8:24, 8:24] = 1
    body = changed(
        picture_png=picture(pixels, "#ffffff", "#c01030"),
        effects={
            "#ffffff": {"name": "ground", "weave": "plain"},
            "#C01030": {"weave": "8-end sateen move 3", "weft": "B"},
        },
        wefts={
            "A": {"role": "ground", "weave": "plain"},
            "B": {
                "role": "figure",
                "back": "bound",
                "binding": "8-end satin move 3",
                "insert": "where_it_shows",
            },
        },
        correct=False,
    )
    yarn = {"designation": "Ne 30", "fibre": "cotton"}
    body["construction"]["weft"] = {"yarns": {"A": yarn, "B": yarn}, "picks_per_cm": 32}
    answer = client.post(ADDRESS, json=body)
    assert answer.status_code == 200, answer.text
    plan = answer.get_json()["plan"]
    assert plan["picks_by_weft"] == {"A": 40, "B": 16}
    assert plan["cards"] == 56
    assert "weave.loose_thread" not in {each["code"] for each in answer.get_json()["findings"]}

    order = {name: body[name] for name in ("construction", "loom")}
    all_taken_up = client.post("/v1/validations", json=order).get_json()
    body["construction"]["weave"]["design"]["wefts"]["B"]["without_take_up"] = True
    stopped = client.post("/v1/validations", json=order).get_json()
    on_take_up = [each["setup"]["picks_per_cm_on_loom"] for each in (all_taken_up, stopped)]
    # 40 of 56 picks move the cloth on; where both wefts are inserted they lie 2 in a step.
    assert on_take_up[1] == pytest.approx(on_take_up[0] * 40 / 56, rel=1e-4)
    assert stopped["cloth"]["tightness_pct"] > all_taken_up["cloth"]["tightness_pct"]
    assert stopped["cloth"]["mean_tightness_pct"] == all_taken_up["cloth"]["mean_tightness_pct"]

    body["construction"]["weft"]["order"] = "A B"
    body["construction"]["weft"]["yarns"]["C"] = yarn
    assert faults(client, body).keys() == {"/construction/weft/order", "/construction/weft/yarns"}


def test_every_fault_of_a_design_comes_at_once(client: FlaskClient) -> None:
    at = "/construction/weave/design"
    found = faults(
        client,
        changed(
            effects={
                "#ffffff": {"weave": "8-end satin move 4", "shift": [1]},
                "red": {"weave": "plain"},
            },
            picture_png="AAAA",
            covers="hoks",
            designed_width_cm=2,
            float_limits={"warp_mm": 0},
        ),
    )
    assert found.keys() == {
        f"{at}/picture_png",
        f"{at}/covers",
        f"{at}/designed_height_cm",
        f"{at}/effects/#ffffff/weave",
        f"{at}/effects/#ffffff/shift",
        f"{at}/effects/red",
        f"{at}/float_limits/warp_mm",
    }
    assert "hooks" in found[f"{at}/covers"]


def test_colours_without_an_effect_come_with_effects_that_are_faulty(client: FlaskClient) -> None:
    pixels = np.arange(1024).reshape(32, 32) % 3
    found = faults(
        client,
        changed(
            picture_png=picture(pixels, "#ffffff", "#c01030", "#106030"),
            effects={
                "#FFFFFF": {"weave": "8-end satin move 4"},
                "#c01030": {"weave": "nonsense"},
                "#123456": {"weave": "plain"},
            },
        ),
    )
    at = "/construction/weave/design/effects"
    assert found.keys() == {
        at,
        f"{at}/#FFFFFF/weave",
        f"{at}/#c01030/weave",
        f"{at}/#123456",
    }
    assert "#106030" in found[at]


@pytest.mark.parametrize(
    ("effects", "wefts", "pointers"),
    [
        (
            ({"weave": "nonsense", "weft": "Q"}, {"weave": "plain", "weft": "Z"}),
            {"A": {"role": "ground"}, "B": {"role": "figure"}},
            {"/effects/#ffffff/weave", "/effects/#ffffff/weft", "/effects/#c01030/weft"},
        ),
        (
            ({"weave": "plain", "face": "warp", "shift": [1]}, {"weave": "nope"}),
            {"A": {"role": "ground"}, "B": {"role": "ground"}},
            {
                "/effects/#ffffff/face",
                "/effects/#ffffff/shift",
                "/effects/#c01030/weave",
                "/wefts",
            },
        ),
    ],
)
def test_faults_of_effects_do_not_come_in_turns(
    client: FlaskClient, effects: tuple[object, object], wefts: object, pointers: set[str]
) -> None:
    by_colour = dict(zip(("#ffffff", "#c01030"), effects, strict=True))
    body = changed(effects=by_colour, wefts=wefts)
    at = "/construction/weave/design"
    found = faults(client, body)
    assert found.keys() >= {f"{at}{each}" for each in pointers}
    shift = found.get(f"{at}/effects/#ffffff/shift", "shift must have 2 items, not 1.")
    assert shift == "shift must have 2 items, not 1."
    weave = client.post("/v1/weaves", json={"weave": body["construction"]["weave"]})
    assert "send it to /v1/designs" in weave.get_json()["detail"]


def test_one_colour_has_one_effect_however_it_is_written(client: FlaskClient) -> None:
    at = "/construction/weave/design/effects/"
    effects = DESIGN["construction"]["weave"]["design"]["effects"]
    twice = {**effects, "#C01030": {"weave": "plain"}}
    assert faults(client, changed(effects=twice)) == {
        f"{at}#c01030": "This is #c01030 again; state it once."
    }


def test_a_window_begins_within_the_design(client: FlaskClient) -> None:
    window = {"first_hook": 33, "first_pick": 40}
    body = {**DESIGN, "options": {"view": "point_paper", "window": window}}
    answer = client.post(ADDRESS, json=body, headers={"Accept": "image/svg+xml"})
    assert answer.status_code == 422
    assert {each["pointer"]: each["allowed"] for each in answer.get_json()["errors"]} == {
        "/options/window/first_hook": "1 to 32",
        "/options/window/first_pick": "1 to 32",
    }


def test_colours_and_effects_are_held_against_each_other(client: FlaskClient) -> None:
    at = "/construction/weave/design/effects"
    found = faults(client, changed(effects={"#123456": {"weave": "plain"}}))
    assert found.keys() == {at, f"{at}/#123456"}


def test_a_weave_that_is_no_design_is_refused(client: FlaskClient) -> None:
    body = deepcopy(DESIGN)
    body["construction"]["weave"] = "plain"
    assert faults(client, body).keys() == {"/construction/weave"}


@pytest.mark.parametrize(
    ("tie", "pointer"),
    [
        ([{"from_hook": 1, "hooks": 33}], "/loom/shedding/tie/0"),
        (
            [{"from_hook": 1, "hooks": 20}, {"from_hook": 11, "hooks": 20}],
            "/loom/shedding/tie/1",
        ),
        ([{"from_hook": 0, "hooks": 20}], "/loom/shedding/tie/0/from_hook"),
        ([{"from_hook": 1, "hooks": 32, "point": "single"}], "/loom/shedding/tie/0/point"),
        ([], "/loom/shedding/tie"),
    ],
)
def test_a_tie_that_the_machine_does_not_have(
    client: FlaskClient, tie: list[dict[str, int]], pointer: str
) -> None:
    body = deepcopy(DESIGN)
    body["loom"]["shedding"]["tie"] = tie
    assert pointer in faults(client, body)


@pytest.mark.slow
def test_each_tie_weaves_its_own_cloth(client: FlaskClient) -> None:
    tied = {**DESIGN["loom"], "loom_id": "tied"}
    straight = deepcopy(tied)
    straight["loom_id"] = "straight"
    straight["shedding"] = {"kind": "jacquard", "hooks": 32, "ends_per_hook": 200}
    other = deepcopy(tied)
    other["loom_id"] = "other"
    other["shedding"]["tie"] = [{"from_hook": 1, "hooks": 20, "order": "centred", "times": 160}]
    shafts = {**tied, "loom_id": "shafts", "shedding": {"kind": "dobby", "shafts": 24}}
    looms = [tied, straight, other, shafts]
    body = {"construction": DESIGN["construction"], "looms": looms}
    answer = client.post("/v1/loom-matches", json=body)
    assert answer.status_code == 200, answer.text
    errors = {each["loom_id"]: each["codes"]["errors"] for each in answer.get_json()["matches"]}
    assert errors["tied"] == []
    assert errors["other"] == ["design.tie_width"]
    assert "shedding.hooks" in errors["shafts"]
    for each in answer.get_json()["matches"]:
        one = {"construction": DESIGN["construction"], "loom": looms[each["index"]]}
        report = client.post("/v1/validations", json=one).get_json()
        assert report["verdict"] == each["verdict"]


def test_a_tie_of_too_long_a_repeat_is_refused_where_it_is_stated(client: FlaskClient) -> None:
    loom = deepcopy(DESIGN["loom"])
    loom["shedding"]["hooks"] = 6_400
    # Two centres of unlike repeats: the whole width is one repeat.
    loom["shedding"]["tie"] = [
        {"from_hook": 1, "hooks": 32, "times": 400},
        {"from_hook": 1, "hooks": 32, "order": "centred"},
    ]
    construction = DESIGN["construction"]
    assert faults(client, {"construction": construction, "loom": loom}).keys() == {
        "/loom/shedding/tie"
    }
    body = {"construction": construction, "looms": [DESIGN["loom"], loom]}
    answer = client.post("/v1/loom-matches", json=body)
    pointers = [each["pointer"] for each in answer.get_json()["errors"]]
    assert pointers == ["/looms/1/shedding/tie"]
