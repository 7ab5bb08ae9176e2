"""Every bound of every field, on both sides, found by walking the schemas."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import fields as dataclass_fields
from operator import attrgetter
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from marshmallow import ValidationError
from service.support import DELETE, changed, small_request

from weavability.answers.prices import PRICE_BOUNDS
from weavability.looms.changeover_rates import ChangeoverRates
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
from weavability.looms.loom_bounds import LOOM_BOUNDS
from weavability.service.schemas import construction_schema as construction_schemas
from weavability.service.schemas import loom_schema as loom_schemas
from weavability.service.schemas.base import Body, described
from weavability.service.schemas.faults import escape, faults_of
from weavability.service.schemas.fields import (
    Choice,
    Described,
    Flag,
    Items,
    Number,
    Text,
    WholeNumber,
)
from weavability.service.schemas.order_schema import PieceOrderSchema, RequirementsSchema
from weavability.service.schemas.prices_schema import YarnPrices
from weavability.service.schemas.reed_and_draft_schema import DraftSchema, ReedSchema
from weavability.service.schemas.request_schemas import ValidationRequestSchema
from weavability.service.schemas.running_schema import ChangeoverRatesSchema, RunningSchema
from weavability.service.schemas.shedding_schema import SheddingSchema
from weavability.service.schemas.thread_system_schema import WarpSchema, WeftSchema
from weavability.service.schemas.yarn_schema import YarnSchema
from weavability.textiles.assumptions import Ledger
from weavability.textiles.bounds import CONSTRUCTION_BOUNDS, YARN_BOUNDS, Bounds
from weavability.textiles.construction import (
    INCH_FORMS,
    Allowances,
    Construction,
    DraftRequest,
    Finishing,
    PieceOrder,
    Reed,
    Requirements,
    Selvedge,
    ThreadSystem,
)
from weavability.textiles.errors import InputError
from weavability.textiles.yarns import Yarn, resolve_yarn


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
    with pytest.raises(ValidationError) as caught:
        field.deserialize(value)
    return faults_of(caught.value)[0].message


def test_the_walk_finds_the_contracts_fields() -> None:
    assert {"/construction/warp/ends_per_cm", "/loom/shedding/hooks"} <= FIELDS.keys()
    assert len(NUMBERS) > 40
    assert len(WHOLE) >= 15


@pytest.mark.slow
@pytest.mark.parametrize("path", NUMBERS)
def test_a_number_is_taken_up_to_its_bounds_and_not_beyond(path: str) -> None:
    field = NUMBERS[path]
    assert field.deserialize(field.bounds.least) == field.bounds.least
    assert field.deserialize(field.bounds.most) == field.bounds.most
    assert "at least" in refusal(field, math.nextafter(field.bounds.least, -math.inf))
    assert "at most" in refusal(field, math.nextafter(field.bounds.most, math.inf))


@pytest.mark.parametrize("path", WHOLE)
def test_a_whole_number_is_taken_up_to_its_bounds_and_not_beyond(path: str) -> None:
    field = WHOLE[path]
    for bound, beyond in (
        (field.bounds.least, field.bounds.least - 1),
        (field.bounds.most, field.bounds.most + 1),
    ):
        assert field.deserialize(bound) == bound
        assert field.deserialize(float(bound)) == bound
        assert str(field.bounds.least)[:1] in refusal(field, beyond)
    assert "whole number" in refusal(field, field.bounds.least + 0.5)


def is_refused(field: Described[Any], value: object) -> bool:
    try:
        field.deserialize(value)
    except ValidationError:
        return True
    return False


@pytest.mark.parametrize("value", NO_NUMBERS, ids=repr)
def test_what_is_no_number_is_refused(value: object) -> None:
    numbers = NUMBERS | WHOLE
    assert [path for path, field in numbers.items() if not is_refused(field, value)] == []


@pytest.mark.slow
@pytest.mark.parametrize("path", NUMBERS)
def test_numbers_become_floats_and_zero_has_no_sign(path: str) -> None:
    field = NUMBERS[path]
    whole = math.ceil(field.bounds.least)
    taken = field.deserialize(whole)
    assert isinstance(taken, float)
    if field.bounds.least <= 0:
        assert math.copysign(1, field.deserialize(-0.0)) == 1


@pytest.mark.parametrize("path", TEXTS)
def test_a_text_is_bounded_and_free_of_control_characters(path: str) -> None:
    field = TEXTS[path]
    assert field.deserialize(field.example) == field.example
    for value in ("", "x" * (field.longest + 1), "a\nb", "a\x00", "a\x85b", 3, None, ["a"]):
        refusal(field, value)
    if field.pattern is None:
        assert field.deserialize("ß" * field.longest)


@pytest.mark.parametrize("path", CHOICES)
def test_a_choice_takes_its_words_only(path: str) -> None:
    field = CHOICES[path]
    for word in field.options:
        assert field.deserialize(word) == word
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
UNITLESS = {
    "packing_fraction",
    "panels",
    "friction_coefficient",
    "elastane_draft",
    "flattening_ratio",
}


def test_every_number_has_a_unit() -> None:
    without = {path for path in (*NUMBERS, *WHOLE) if not FIELDS[path].unit}
    assert {path for path in without if path.rpartition("/")[2] not in UNITLESS} == set()


@pytest.mark.parametrize(
    ("made", "schema"),
    [
        (Yarn, YarnSchema),
        (Selvedge, construction_schemas.SelvedgeSchema),
        (Reed, ReedSchema),
        (DraftRequest, DraftSchema),
        (Finishing, construction_schemas.FinishingSchema),
        (Allowances, construction_schemas.AllowancesSchema),
        (PieceOrder, PieceOrderSchema),
        (Requirements, RequirementsSchema),
        (Insertion, loom_schemas.InsertionSchema),
        (Shedding, SheddingSchema),
        (CurvePoint, loom_schemas.CurvePointSchema),
        (Band, loom_schemas.PicksBandSchema),
        (Band, loom_schemas.TexBandSchema),
        (WarpBeam, loom_schemas.WarpBeamSchema),
        (WarpStrain, loom_schemas.WarpStrainSchema),
        (ChangeoverRates, ChangeoverRatesSchema),
        (Running, RunningSchema),
        (Loom, loom_schemas.LoomSchema),
    ],
)
def test_nothing_of_the_domain_is_left_out(made: Any, schema: type[Body[Any]]) -> None:
    names = {each.name for each in dataclass_fields(made)} - {"weave_notes"}
    assert names == schema().load_fields.keys()


@pytest.mark.parametrize(
    ("made", "schema", "other"),
    [
        (ThreadSystem, WarpSchema, {"ends_per_cm", "ends_per_in"}),
        (ThreadSystem, WeftSchema, {"picks_per_cm", "picks_per_in"}),
        (Construction, construction_schemas.ConstructionSchema, {"width_in", "length_yd"}),
    ],
)
def test_inch_forms_are_the_only_difference(
    made: Any, schema: type[Body[Any]], other: set[str]
) -> None:
    derived = {"threads_per_cm", "inch_fields", "weave_notes", "design", "figured"}
    if schema is WeftSchema:
        derived |= {"beams"}  # only ends come from beams
    names = {each.name for each in dataclass_fields(made)} - derived
    assert names | other == schema().fields.keys()


BOUNDS = {
    **{f"/construction{pointer}": bounds for pointer, bounds in CONSTRUCTION_BOUNDS.items()},
    **{
        f"/construction/{system}/yarns/{name}": bounds
        for system in ("warp", "weft")
        for name, bounds in YARN_BOUNDS.items()
    },
    **{f"/loom{pointer}": bounds for pointer, bounds in LOOM_BOUNDS.items()},
    **{f"/prices{pointer}": bounds for pointer, bounds in PRICE_BOUNDS.items()},
}


def bounds_of(field: Described[Any]) -> Bounds | None:
    if isinstance(field, Number | WholeNumber):
        return field.bounds
    if isinstance(field, YarnPrices):
        return field.price.bounds
    return bounds_of(field.inner) if isinstance(field, Items) else None


def test_every_number_has_the_bounds_of_the_core() -> None:
    found = {
        path: bounds
        for path, field in FIELDS.items()
        if (bounds := bounds_of(field)) and not path.startswith("/construction/weave/")
    }
    inches = {path for path in found if path.endswith(("_in", "_yd"))} - BOUNDS.keys()
    assert {path: each for path, each in found.items() if path not in inches} == {
        path: each for path, each in BOUNDS.items() if path != "/construction/draft/threading"
    }
    assert len(inches) == 4


@pytest.mark.parametrize("metric", INCH_FORMS)
@pytest.mark.parametrize("end", ["least", "most"])
def test_an_inch_form_reaches_to_the_bounds_of_the_metric_one(metric: str, end: str) -> None:
    inch, _ = INCH_FORMS[metric]
    bound = getattr(NUMBERS[f"/construction{inch}"].bounds, end)
    request = changed(small_request()["construction"], inch, bound)
    if metric != "/length_m":
        request = changed(request, metric, DELETE)
    read = construction_schemas.ConstructionSchema().read(request)
    name = metric.replace("ends_", "threads_").replace("picks_", "threads_")
    value = attrgetter(name.strip("/").replace("/", "."))(read)
    assert value in CONSTRUCTION_BOUNDS[metric]
    # Rounding the bound to four digits takes less than a thousandth off the range.
    assert value == pytest.approx(getattr(CONSTRUCTION_BOUNDS[metric], end), rel=1e-3)


@pytest.mark.parametrize(
    "other",
    [True, "1.0", math.nan, math.inf, [1.0], 10**5000],
    ids=["true", "text", "nan", "infinity", "list", "huge"],
)
def test_a_kept_yarn_does_not_replace_one_that_only_looks_alike(other: object) -> None:
    schema = YarnSchema()
    kept = schema.read({"linear_density_tex": 1.0})
    assert schema.read({"linear_density_tex": 1.0}) is kept
    assert schema.read({"linear_density_tex": 1}) == kept
    with pytest.raises(InputError):
        schema.read({"linear_density_tex": other})


def test_no_more_yarns_are_kept_than_stated(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(YarnSchema, "most_kept", 2)
    schema = YarnSchema()
    yarns = [schema.read({"linear_density_tex": tex}) for tex in (10, 20, 30, 10)]
    assert yarns[0] == yarns[3]
    assert yarns[0] is not yarns[3]


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
    field = Items(WholeNumber("Shaft", Bounds(1, 4), example=1), "Shafts", most=5)
    with pytest.raises(ValidationError) as caught:
        field.deserialize([1, 9, 2, "3", None])
    assert [fault.pointer for fault in faults_of(caught.value)] == ["/1", "/3", "/4"]
    assert field.deserialize([]) == ()


def test_a_flag_is_true_or_false_and_nothing_else() -> None:
    field = Flag("Flag", example=True)
    assert field.deserialize(value=True) is True
    for value in (1, 0, "true", None):
        refusal(field, value)


def test_marshmallows_entry_reports_by_pointer() -> None:
    with pytest.raises(ValidationError) as caught:
        ValidationRequestSchema().load({"loom_id": "x", "construction": {}})
    (fault,) = caught.value.messages_dict["construction"]["weave"]
    assert fault.message == "weave is missing."
    assert "/construction/weave" in {each.pointer for each in faults_of(caught.value)}


def test_a_field_alone_reports_a_fault() -> None:
    field = Number("Width", Bounds(0, 2, "cm"), example=1)
    assert field.deserialize(1) == 1.0
    with pytest.raises(ValidationError) as caught:
        field.deserialize(3)
    (fault,) = faults_of(caught.value)
    assert fault.message == "the value must be at most 2 cm."


@given(st.text())
def test_escaped_names_read_back(name: str) -> None:
    token = escape(name)
    assert "/" not in token
    assert token.replace("~1", "/").replace("~0", "~") == name


def test_a_monofilament_is_stated_by_its_diameter_alone() -> None:
    wire = YarnSchema().read({"fibre": "nylon", "monofilament": True, "diameter_mm": 0.2})
    assert resolve_yarn(wire, Ledger()).diameter_mm == pytest.approx(0.2)
    with pytest.raises(InputError, match="designation"):
        YarnSchema().read({"fibre": "cotton", "diameter_mm": 0.2})
