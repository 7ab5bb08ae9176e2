"""Every bound of every field, on both sides, found by walking the schemas."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import fields as dataclass_fields
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from marshmallow import ValidationError
from service.support import small_request

from weavability.looms.changeover import ChangeoverRates
from weavability.looms.loom import (
    Band,
    CurvePoint,
    Insertion,
    Loom,
    Running,
    Shedding,
    WarpBeam,
    WarpStrain,
)
from weavability.service.schemas import construction as construction_schemas
from weavability.service.schemas import loom as loom_schemas
from weavability.service.schemas.body import Body, described
from weavability.service.schemas.fields import (
    Choice,
    Described,
    Flag,
    Items,
    Number,
    Text,
    WholeNumber,
    escape,
)
from weavability.service.schemas.requests import ValidationRequestSchema
from weavability.textiles.construction import (
    Allowances,
    Construction,
    DraftRequest,
    Finishing,
    Reed,
    Selvedge,
    ThreadSystem,
)
from weavability.textiles.errors import InputError
from weavability.textiles.yarns import BOUNDS, Yarn


def walk(schema: Body[Any], path: str = "") -> Iterator[tuple[str, Described[Any]]]:
    """Yield every field of a schema and of its parts, with its path."""
    for name, field in schema.fields.items():
        here = f"{path}/{name}"
        yield here, described(field)
        for part in described(field).parts():
            assert isinstance(part, Body)
            yield from walk(part, here)


FIELDS = dict(walk(ValidationRequestSchema()))
NUMBERS = {path: each for path, each in FIELDS.items() if isinstance(each, Number)}
WHOLE = {path: each for path, each in FIELDS.items() if isinstance(each, WholeNumber)}
TEXTS = {path: each for path, each in FIELDS.items() if isinstance(each, Text)}
CHOICES = {path: each for path, each in FIELDS.items() if isinstance(each, Choice)}
NO_NUMBERS: list[object] = ["30", "1_000", "", True, False, [30], {"value": 30}, math.nan, math.inf]


def refusal(field: Described[Any], value: object) -> str:
    with pytest.raises(InputError) as caught:
        field.take(value)
    return caught.value.faults[0].message


def test_the_walk_finds_the_contracts_fields() -> None:
    assert {"/construction/warp/ends_per_cm", "/loom/shedding/hooks"} <= FIELDS.keys()
    assert len(NUMBERS) > 40
    assert len(WHOLE) >= 15


@pytest.mark.parametrize("path", NUMBERS)
def test_a_number_is_taken_up_to_its_bounds_and_not_beyond(path: str) -> None:
    field = NUMBERS[path]
    assert field.take(field.minimum) == field.minimum
    assert field.take(field.maximum) == field.maximum
    assert "at least" in refusal(field, math.nextafter(field.minimum, -math.inf))
    assert "at most" in refusal(field, math.nextafter(field.maximum, math.inf))


@pytest.mark.parametrize("path", WHOLE)
def test_a_whole_number_is_taken_up_to_its_bounds_and_not_beyond(path: str) -> None:
    field = WHOLE[path]
    for bound, beyond in ((field.minimum, field.minimum - 1), (field.maximum, field.maximum + 1)):
        assert field.take(bound) == bound
        assert field.take(float(bound)) == bound
        assert str(field.minimum)[:1] in refusal(field, beyond)
    assert "whole number" in refusal(field, field.minimum + 0.5)


def is_refused(field: Described[Any], value: object) -> bool:
    try:
        field.take(value)
    except InputError:
        return True
    return False


@pytest.mark.parametrize("value", NO_NUMBERS, ids=repr)
def test_what_is_no_number_is_refused(value: object) -> None:
    numbers = NUMBERS | WHOLE
    assert [path for path, field in numbers.items() if not is_refused(field, value)] == []


@pytest.mark.parametrize("path", NUMBERS)
def test_numbers_become_floats_and_zero_has_no_sign(path: str) -> None:
    field = NUMBERS[path]
    whole = math.ceil(field.minimum)
    taken = field.take(whole)
    assert isinstance(taken, float)
    if field.minimum <= 0:
        assert math.copysign(1, field.take(-0.0)) == 1


@pytest.mark.parametrize("path", TEXTS)
def test_a_text_is_bounded_and_free_of_control_characters(path: str) -> None:
    field = TEXTS[path]
    assert field.take(field.example) == field.example
    for value in ("", "x" * (field.longest + 1), "a\nb", "a\x00", "a\x85b", 3, None, ["a"]):
        refusal(field, value)
    if field.pattern is None:
        assert field.take("ß" * field.longest)


@pytest.mark.parametrize("path", CHOICES)
def test_a_choice_takes_its_words_only(path: str) -> None:
    field = CHOICES[path]
    for word in field.options:
        assert field.take(word) == word
    for value in ("", "nothing of the kind", 1, None, ["grey"], {"a": 1}):
        assert "one of" in refusal(field, value)


def describes_itself(field: Described[Any]) -> bool:
    words = field.description
    if not words or words.endswith(".") or not field.shape()["description"]:
        return False
    if isinstance(field, Number | WholeNumber):
        return not is_refused(field, field.example) and "such as" in field.allowed()
    return True


def test_every_field_describes_itself() -> None:
    assert [path for path, field in FIELDS.items() if not describes_itself(field)] == []


# Numbers without a unit: shares and plain counts of the thing that the name says.
UNITLESS = {"packing_fraction", "panels"}


def test_every_number_has_a_unit() -> None:
    without = {path for path in (*NUMBERS, *WHOLE) if not FIELDS[path].unit}
    assert {path for path in without if path.rpartition("/")[2] not in UNITLESS} == set()


@pytest.mark.parametrize(
    ("made", "schema"),
    [
        (Yarn, construction_schemas.YarnSchema),
        (Selvedge, construction_schemas.SelvedgeSchema),
        (Reed, construction_schemas.ReedSchema),
        (DraftRequest, construction_schemas.DraftSchema),
        (Finishing, construction_schemas.FinishingSchema),
        (Allowances, construction_schemas.AllowancesSchema),
        (Insertion, loom_schemas.InsertionSchema),
        (Shedding, loom_schemas.SheddingSchema),
        (CurvePoint, loom_schemas.CurvePointSchema),
        (Band, loom_schemas.PicksBandSchema),
        (Band, loom_schemas.TexBandSchema),
        (WarpBeam, loom_schemas.WarpBeamSchema),
        (WarpStrain, loom_schemas.WarpStrainSchema),
        (ChangeoverRates, loom_schemas.ChangeoverRatesSchema),
        (Running, loom_schemas.RunningSchema),
        (Loom, loom_schemas.LoomSchema),
    ],
)
def test_nothing_of_the_domain_is_left_out(made: Any, schema: type[Body[Any]]) -> None:
    assert {each.name for each in dataclass_fields(made)} == schema().fields.keys()


@pytest.mark.parametrize(
    ("made", "schema", "other"),
    [
        (ThreadSystem, construction_schemas.WarpSchema, {"ends_per_cm", "ends_per_in"}),
        (ThreadSystem, construction_schemas.WeftSchema, {"picks_per_cm", "picks_per_in"}),
        (Construction, construction_schemas.ConstructionSchema, {"width_in", "length_yd"}),
    ],
)
def test_inch_forms_are_the_only_difference(
    made: Any, schema: type[Body[Any]], other: set[str]
) -> None:
    told = {"threads_per_cm", "inch_fields", "weave_notes"}
    names = {each.name for each in dataclass_fields(made)} - told
    assert names | other == schema().fields.keys()


def test_bounds_of_a_yarn_are_those_of_the_domain() -> None:
    schema = construction_schemas.YarnSchema()
    for name, least, most in BOUNDS:
        field = schema.fields[name]
        assert isinstance(field, Number)
        assert (field.minimum, field.maximum) == (least, most)


def test_inch_fields_are_remembered() -> None:
    request = small_request()["construction"]
    request["warp"]["ends_per_in"] = request["warp"].pop("ends_per_cm") * 2.54
    request["width_in"] = request.pop("width_cm") / 2.54
    read = construction_schemas.ConstructionSchema().read(request)
    assert read.inch_fields == {"/warp/ends_per_in", "/width_in"}
    assert read.warp.threads_per_cm == pytest.approx(28)
    assert read.width_cm == pytest.approx(150)


def test_yarns_come_in_the_order_of_their_keys() -> None:
    request = small_request()["construction"]
    yarn = request["warp"]["yarns"]["A"]
    request["warp"] |= {"yarns": {"C": yarn, "A": yarn, "B": yarn}, "order": "A B C"}
    read = construction_schemas.ConstructionSchema().read(request)
    assert list(read.warp.yarns) == ["A", "B", "C"]


def test_the_faults_of_list_items_carry_their_place() -> None:
    field = Items(WholeNumber("Shaft", example=1, minimum=1, maximum=4), "Shafts", most=5)
    with pytest.raises(InputError) as caught:
        field.take([1, 9, 2, "3"])
    assert [fault.pointer for fault in caught.value.faults] == ["/1", "/3"]
    assert field.take([]) == ()


def test_a_flag_is_true_or_false_and_nothing_else() -> None:
    field = Flag("Flag", example=True)
    assert field.take(value=True) is True
    for value in (1, 0, "true", None):
        refusal(field, value)


def test_marshmallows_entry_reports_by_pointer() -> None:
    with pytest.raises(ValidationError) as caught:
        ValidationRequestSchema().load({"loom_id": "x", "construction": {}})
    assert "/construction/weave" in caught.value.messages_dict


def test_a_field_alone_reports_in_marshmallows_way() -> None:
    field = Number("Width", example=1, minimum=0, maximum=2, unit="cm")
    assert field.deserialize(1) == 1.0
    assert field.deserialize(None) is None
    with pytest.raises(ValidationError, match="at most 2 cm"):
        field.deserialize(3)


@given(st.text())
def test_escaped_names_read_back(name: str) -> None:
    token = escape(name)
    assert "/" not in token
    assert token.replace("~1", "/").replace("~0", "~") == name
