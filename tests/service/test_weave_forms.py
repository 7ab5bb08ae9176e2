"""The `weave` field: every form in which a weave is written, and what is said of a slip in each."""

from __future__ import annotations

import base64
import json
from typing import Any

import pytest
from flask.testing import FlaskClient
from marshmallow import ValidationError
from service.support import changed, small_request
from textiles.pictures import png_of_weave

from weavability.service.schemas.faults import faults_of
from weavability.service.schemas.weave_schema import FORMS, LONGEST_IMAGE, WeaveField
from weavability.textiles.errors import Fault
from weavability.textiles.notation import parse_weave
from weavability.textiles.weave_matrix import Weave

FIELD = WeaveField("The weave", example="plain")
TWILL = parse_weave("2/2 twill Z")


def picture(weave: Weave) -> str:
    return base64.b64encode(png_of_weave(weave)).decode()


SAME_TWILL: dict[str, object] = {
    "words": "twill 2/2 right",
    "rows": {"rows": ["1100", "0110", "0011", "1001"]},
    "several repeats": {"rows": ["11001100", "01100110", "00110011", "10011001"]},
    "code": {"code": "20-0202-01-01"},
    "threading and lift plan": {
        "threading": [1, 2, 3, 4],
        "lift_plan": ["1100", "0110", "0011", "1001"],
    },
    "shafts drawn in another order": {
        "threading": [4, 3, 2, 1],
        "lift_plan": ["0011", "0110", "1100", "1001"],
    },
    "threading, tie-up and treadling": {
        "threading": [1.0, 2, 3, 4],
        "tie_up": ["1100", "0110", "0011", "1001"],
        "treadling": [1, 2, 3, 4],
    },
    "point paper": {"image_png": picture(TWILL)},
    "point paper with a threshold": {"image_png": picture(TWILL), "dark_below": 10},
    "stripes that are one cloth": {
        "stripes": [{"weave": "2/2 twill Z", "ends": 4}, {"weave": "2/2 twill Z", "ends": 8}]
    },
}


@pytest.mark.parametrize("form", SAME_TWILL)
def test_every_form_says_the_same_weave(form: str) -> None:
    assert FIELD.deserialize(SAME_TWILL[form]).weave.reduced() == TWILL


@pytest.mark.parametrize("form", FORMS, ids=lambda form: form.title)
def test_the_example_of_every_form_is_a_weave(form: Any) -> None:
    assert FIELD.deserialize(dict(form.example)).weave.ends >= 4


def test_stripes_add_up_and_repeat_on_common_picks() -> None:
    satin, plain = {"weave": "5-end satin move 2", "ends": 20}, {"weave": "plain", "ends": 16}
    weave = FIELD.deserialize({"stripes": [satin, plain]}).weave
    # J. T. Taylor, Cotton Weaving and Designing, 6th ed. 1909, p. 166: ten picks, seven shafts.
    assert (weave.ends, weave.picks) == (36, 10)


def test_what_is_null_is_not_given() -> None:
    given = {"rows": ["10", "01"], "code": None, "stripes": None}
    assert FIELD.deserialize(given).weave == parse_weave("plain")


def faults(value: object) -> tuple[Fault, ...]:
    with pytest.raises(ValidationError) as caught:
        FIELD.deserialize(value)
    return faults_of(caught.value)


# What is given, where the answer points, and words that it says.
SLIPS: dict[str, tuple[object, str, str]] = {
    "a number": (3, "", "a notation or an object"),
    "a list": (["10", "01"], "", "a notation or an object"),
    "nothing in words": ("", "", "cannot be read"),
    "an unknown word": ("twil 2/2", "", "twill"),
    "words without end": ("plain " * 100, "", "200 characters"),
    "an empty object": ({}, "", "exactly one form"),
    "two forms": ({"rows": ["10", "01"], "code": "20-02 02-01-01"}, "", "exactly one form"),
    "a misspelt form": ({"row": ["10", "01"]}, "/row", 'Did you mean "rows"?'),
    "a stray member": ({"rows": ["10", "01"], "colour": 1}, "/colour", "no member"),
    "a name of its own": ({"a/b~c": 1}, "/a~1b~0c", "no member"),
    "threading alone": (
        {"threading": [1, 2]}, "", "threading + lift_plan; threading + tie_up + treadling",
    ),
    "lift plan alone": ({"lift_plan": ["10", "01"]}, "/threading", "threading is missing"),
    "tie-up without treadling": (
        {"threading": [1, 2], "tie_up": ["10", "01"]}, "/treadling", "treadling is missing",
    ),
    "rows of words": ({"rows": "1100"}, "/rows", "list of strings"),
    "no rows": ({"rows": []}, "/rows", "list of strings"),
    "an empty row": ({"rows": [""]}, "/rows", "at least one row"),
    "a row of numbers": ({"rows": ["10", [0, 1]]}, "/rows/1", "string of 1 and 0"),
    "a ragged row": ({"rows": ["10", "011"]}, "/rows/1", "3 threads"),
    "a row of letters": ({"rows": ["10", "0x"]}, "/rows/1", "something other"),
    "digits of another script": ({"rows": ["\u0661\u0660", "01"]}, "/rows/0", "something other"),
    "too many rows": ({"rows": ["1"] * 12_001}, "/rows", "12 000"),
    "too wide a row": ({"rows": ["1" * 12_001]}, "/rows", "12000"),
    "a code that is a number": ({"code": 2002}, "/code", "string"),
    "a code of another form": ({"code": "twill"}, "/code", "four parts"),
    "a code of an unknown kind": ({"code": "99-0202-01-01"}, "/code", "99"),
    "a shaft that is not there": (
        {"threading": [1, 9], "lift_plan": ["10", "01"]}, "/threading/1", "no shaft 9",
    ),
    "a shaft called 0": ({"threading": [0, 1], "lift_plan": ["10"]}, "/threading/0", "from 1"),
    "half a shaft": ({"threading": [1.5], "lift_plan": ["10"]}, "/threading/0", "whole number"),
    "no threading": ({"threading": [], "lift_plan": ["10"]}, "/threading", "1 to 12 000 items"),
    "a ragged lift plan": (
        {"threading": [1, 2], "lift_plan": ["10", "1"]}, "/lift_plan/1", "1 thread;",
    ),
    "a treadle that is not there": (
        {"threading": [1, 2], "tie_up": ["10", "01"], "treadling": [1, 3]},
        "/treadling/1", "no treadle 3",
    ),
    "a ragged tie-up": (
        {"threading": [1, 2], "tie_up": ["10", "0"], "treadling": [1]}, "/tie_up/1", "1 thread;",
    ),
    "a picture that is none": ({"image_png": "plain"}, "/image_png", "base64"),
    "a picture of another kind": (
        {"image_png": base64.b64encode(b"GIF89a" + b"\0" * 40).decode()}, "/image_png", "not a PNG",
    ),
    "a damaged picture": ({"image_png": picture(TWILL)[:88]}, "/image_png", "damaged"),
    "an empty picture": ({"image_png": ""}, "/image_png", "PNG file in base64"),
    "a picture as a list": ({"image_png": [137, 80]}, "/image_png", "PNG file in base64"),
    "no threshold": (
        {"image_png": picture(TWILL), "dark_below": 0}, "/dark_below", "from 1 to 255",
    ),
    "a threshold alone": ({"dark_below": 9}, "/image_png", "image_png is missing"),
    "no stripes": ({"stripes": []}, "/stripes", "1 to 500 items"),
    "a stripe in words": ({"stripes": ["plain"]}, "/stripes/0", "must be an object"),
    "a stripe without ends": ({"stripes": [{"weave": "plain"}]}, "/stripes/0/ends", "ends is mis"),
    "a stripe of no ends": (
        {"stripes": [{"weave": "plain", "ends": 0}]}, "/stripes/0/ends", "from 1",
    ),
    "a stripe of an unknown weave": (
        {"stripes": [{"weave": "plain", "ends": 2}, {"weave": "plan", "ends": 2}]},
        "/stripes/1/weave", "plain",
    ),
    "a ragged stripe": (
        {"stripes": [{"weave": {"rows": ["10", "0"]}, "ends": 2}]},
        "/stripes/0/weave/rows/1", "1 thread;",
    ),
    "stripes in stripes": (
        {"stripes": [{"weave": {"stripes": [{"weave": "plain", "ends": 2}]}, "ends": 2}]},
        "/stripes/0/weave/stripes", "no member",
    ),
    "stripes that never come out": (
        {"stripes": [{"weave": f"{ends}-end satin move 2", "ends": 99}
                     for ends in (47, 53, 59, 61)]},
        "/stripes", "too large",
    ),
    "too many stripes": (
        {"stripes": [{"weave": "plain", "ends": 1}] * 501}, "/stripes", "500 items",
    ),
}  # fmt: skip


@pytest.mark.parametrize("slip", SLIPS)
def test_a_slip_is_pointed_at_and_explained(slip: str) -> None:
    value, pointer, words = SLIPS[slip]
    found = faults(value)
    assert found[0].pointer == pointer
    assert words in found[0].message


def test_every_wrong_stripe_is_reported() -> None:
    stripes = [{"weave": "plan", "ends": 1}, {"weave": "plain", "ends": 1}, {"weave": "plain"}]
    pointers = [fault.pointer for fault in faults({"stripes": stripes})]
    assert pointers == ["/stripes/0/weave", "/stripes/2/ends"]


def test_a_repeat_beyond_all_numbers_is_a_slip_too(client: FlaskClient) -> None:
    sizes = [size for size in range(7, 80) if all(size % each for each in range(2, size))]
    stripes = [{"weave": f"{size}-end satin move 2", "ends": 3} for size in sizes]
    weave: dict[str, object] = {"stripes": stripes}
    answer = client.post("/v1/weaves", json={"weave": weave})
    (error,) = json.loads(answer.data)["errors"]
    assert error["pointer"] == "/weave/stripes"
    assert len(error["message"]) < 300


def test_a_picture_is_measured_before_it_is_unpacked() -> None:
    header = bytearray(png_of_weave(TWILL))
    header[16:24] = (12_001).to_bytes(4, "big") + (1).to_bytes(4, "big")
    (fault,) = faults({"image_png": base64.b64encode(header).decode()})
    assert (fault.pointer, fault.allowed) == ("/image_png", [12_000, 12_000])
    (fault,) = faults({"image_png": "A" * (LONGEST_IMAGE + 1)})
    assert fault.pointer == "/image_png"


class TestWhatWasLeftOpen:
    def notes(self, value: object) -> dict[str, object]:
        return {note.pointer: note.value for note in FIELD.deserialize(value).notes}

    def test_nothing_where_all_was_said(self) -> None:
        assert self.notes("2/2 twill Z") == {}
        assert self.notes({"rows": ["10", "01"]}) == {}
        assert self.notes({"image_png": picture(TWILL), "dark_below": 100}) == {}

    def test_the_direction_of_a_twill(self) -> None:
        assert self.notes("2/1 twill") == {"": "2/1 twill Z"}

    def test_the_direction_within_a_stripe(self) -> None:
        stripes = [{"weave": "plain", "ends": 4}, {"weave": "2/1 twill", "ends": 6}]
        assert self.notes({"stripes": stripes}) == {"/stripes/1/weave": "2/1 twill Z"}

    def test_the_threshold_of_a_picture(self) -> None:
        assert self.notes({"image_png": picture(TWILL)}) == {"/dark_below": 128}

    @pytest.mark.parametrize(
        ("weave", "pointer"),
        [
            ("2/1 twill", "/construction/weave"),
            ({"image_png": picture(TWILL)}, "/construction/weave/dark_below"),
            (
                {"stripes": [{"weave": "3/1 twill", "ends": 8}]},
                "/construction/weave/stripes/0/weave",
            ),
        ],
    )
    def test_it_is_listed_in_the_report(
        self, client: FlaskClient, weave: object, pointer: str
    ) -> None:
        request = changed(small_request(), "/construction/weave", weave)
        report = json.loads(client.post("/v1/validations", json=request).data)
        assert pointer in {line["pointer"] for line in report["assumptions"]}


@pytest.mark.parametrize("form", SAME_TWILL)
def test_every_form_is_judged_alike(client: FlaskClient, form: str) -> None:
    def report(weave: object) -> Any:
        request = changed(small_request(), "/construction/weave", weave)
        answer = client.post("/v1/validations", json=request)
        assert answer.status_code == 200, answer.text
        return json.loads(answer.data)

    given, named = report(SAME_TWILL[form]), report("2/2 twill Z")
    assert given["verdict"] == named["verdict"]
    assert given["rates"] == named["rates"]
    assert given["cloth"] | {"weave": ""} == named["cloth"] | {"weave": ""}


def test_pointers_go_down_from_the_body(client: FlaskClient) -> None:
    request = changed(small_request(), "/construction/weave", {"rows": ["10", "0"]})
    (error,) = json.loads(client.post("/v1/validations", json=request).data)["errors"]
    assert error["pointer"] == "/construction/weave/rows/1"
