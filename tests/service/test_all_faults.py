"""Every fault of a body is in one answer, whatever else is wrong with the body."""

from __future__ import annotations

import json
from copy import deepcopy
from dataclasses import dataclass
from typing import Any, Final

import pytest
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st
from profiles import share_of_examples
from service.support import changed, full_request

from weavability.service.schemas.request_schemas import (
    LoomMatchRequestSchema,
    ValidationRequestSchema,
)
from weavability.textiles.errors import Fault, InputError

SCHEMA: Final = ValidationRequestSchema()


def faults(body: object) -> list[Fault]:
    with pytest.raises(InputError) as refused:
        SCHEMA.read(body)
    return list(refused.value.faults)


def pointers(body: object) -> list[str]:
    return [fault.pointer for fault in faults(body)]


def with_all(body: dict[str, Any], changes: dict[str, Any]) -> dict[str, Any]:
    for pointer, value in changes.items():
        body = changed(body, pointer, value)
    return body


def two_yarns() -> dict[str, Any]:
    """The contract's request, its warp of two yarns that are listed one by one."""
    yarns = {key: {"designation": "Ne 40/2", "fibre": "cotton"} for key in "AB"}
    return with_all(
        full_request(),
        {"/construction/warp/yarns": yarns, "/construction/warp/order": "24A 4B"},
    )


def test_selvedge_beside_a_faulty_warp() -> None:
    body = with_all(
        two_yarns(),
        {
            "/construction/warp/yarns/A/fibre": "coton",
            "/construction/warp/order": "24A",
            "/construction/selvedge": {
                "ends_per_side": 24,
                "yarn": "Z",
                "weave": {"rows": ["10" * 33, "01" * 32 + "00"]},
                "catch_cord_ends": 201,
                "leno_ends_per_side": -1,
            },
        },
    )
    assert pointers(body) == [
        "/construction/warp/yarns/A/fibre",
        "/construction/warp/order",
        "/construction/selvedge/yarn",
        "/construction/selvedge/weave",
        "/construction/selvedge/catch_cord_ends",
        "/construction/selvedge/leno_ends_per_side",
    ]


def test_what_is_missing_is_always_listed_in_the_same_order() -> None:
    assert pointers({"construction": {}, "loom_id": "L1"}) == [
        "/construction/warp",
        "/construction/weft",
        "/construction/weave",
        "/construction/width_cm",
    ]


def test_a_yarn_of_the_selvedge_alone_may_be_missing_from_the_order() -> None:
    edged = changed(two_yarns(), "/construction/selvedge", {"ends_per_side": 24, "yarn": "B"})
    read = SCHEMA.read(changed(edged, "/construction/warp/order", "24A"))
    assert read.construction.selvedge.yarn == "B"
    other = changed(edged, "/construction/selvedge/yarn", "A")
    assert pointers(changed(other, "/construction/warp/order", "24A")) == [
        "/construction/warp/order"
    ]


@pytest.mark.parametrize(
    ("weave", "says"),
    [("velvet", "layers"), ("platn", '"plain"'), ({"rows": ["10", "10"]}, "must interlace")],
)
def test_a_selvedge_weave_that_cannot_be_read_says_why(weave: object, says: str) -> None:
    body = changed(full_request(), "/construction/selvedge", {"ends_per_side": 8, "weave": weave})
    (fault,) = faults(body)
    assert fault.pointer == "/construction/selvedge/weave"
    assert says in fault.message


def test_contradictions_within_yarns_at_their_fields() -> None:
    body = with_all(
        two_yarns(),
        {
            "/construction/warp/yarns/A/twist_per_m": 800,
            "/construction/warp/yarns/A/elastane_draft": 3,
            "/construction/warp/yarns/B/tape_width_mm": 2,
            "/construction/warp/yarns/B/diameter_mm": 0.4,
            "/construction/weft/yarns/A": {"sample_length_m": 100, "sample_length_yd": 120},
        },
    )
    assert pointers(body) == [
        "/construction/warp/yarns/A/elastane_draft",
        "/construction/warp/yarns/A/twist_direction",
        "/construction/warp/yarns/B/diameter_mm",
        "/construction/weft/yarns/A/sample_length_yd",
    ]


def test_fibre_count_and_order_of_one_warp() -> None:
    body = with_all(
        two_yarns(),
        {
            "/construction/warp/yarns/A/fibre": "coton",
            "/construction/warp/yarns/B/designation": "Ne twenty",
            "/construction/warp/order": "24A 4C",
        },
    )
    assert pointers(body) == [
        "/construction/warp/yarns/A/fibre",
        "/construction/warp/yarns/B/designation",
        "/construction/warp/order",
    ]


def test_fibre_and_count_of_one_yarn() -> None:
    body = with_all(
        two_yarns(),
        {
            "/construction/warp/yarns/A/fibre": "coton",
            "/construction/warp/yarns/A/designation": "Ne twenty",
        },
    )
    assert pointers(body) == [
        "/construction/warp/yarns/A/designation",
        "/construction/warp/yarns/A/fibre",
    ]


def test_a_count_that_only_lacks_its_fibre_is_not_called_unreadable() -> None:
    body = with_all(
        two_yarns(),
        {
            "/construction/warp/yarns/A/fibre": "coton",
            "/construction/warp/yarns/A/designation": "30s",
        },
    )
    assert pointers(body) == ["/construction/warp/yarns/A/fibre"]


def test_a_dozen_faults_and_more() -> None:
    body = with_all(
        two_yarns(),
        {
            "/construction/referense": "SO-1",
            "/construction/warp/yarns/A/fibre": "coton",
            "/construction/warp/yarns/A/tenacity_cn_per_tex": "15",
            "/construction/warp/yarns/B/designation": "Ne twenty",
            "/construction/warp/order": "24A 4C",
            "/construction/warp/crimp_pct": -1,
            "/construction/weft/picks_per_in": 60,
            "/construction/weave": {"rows": ["1100", "011"]},
            "/construction/reed": {"count": 0, "system": "stokport", "ends_in_dents": [2, 99]},
            "/construction/draft": {"threading": [1, 0, 2, 65]},
            "/construction/length_yd": 100,
            "/construction/panels": True,
            "/loom/insertion/system": "rapir",
            "/loom/shedding/hooks": 100,
            "/loom/picks_per_cm": {"min": 80, "max": 4},
            "/loom/max_sped": 600,
        },
    )
    assert pointers(body) == [
        "/construction/warp/yarns/A/fibre",
        "/construction/warp/yarns/A/tenacity_cn_per_tex",
        "/construction/warp/yarns/B/designation",
        "/construction/warp/order",
        "/construction/warp/crimp_pct",
        "/construction/weft/picks_per_in",
        "/construction/weave/rows/1",
        "/construction/panels",
        "/construction/reed/count",
        "/construction/reed/system",
        "/construction/reed/ends_in_dents/1",
        "/construction/draft/threading/1",
        "/construction/draft/threading/3",
        "/construction/referense",
        "/construction/length_yd",
        "/loom/insertion/system",
        "/loom/shedding/hooks",
        "/loom/picks_per_cm/max",
        "/loom/max_sped",
    ]


def test_a_contradiction_between_good_fields_is_found_beside_an_unknown_one() -> None:
    body = with_all(
        full_request(),
        {
            "/loom/cloth_roll_diameter_cm": 15,
            "/loom/cloth_tube_diameter_cm": 15,
            "/loom/colour": "green",
        },
    )
    assert pointers(body) == ["/loom/cloth_tube_diameter_cm", "/loom/colour"]


def test_a_cloth_that_is_impossible_as_a_whole_is_found_beside_a_faulty_loom() -> None:
    body = with_all(
        full_request(),
        {
            "/construction/width_cm": 3_500,
            "/construction/panels": 100,
            "/loom/shedding/shafts": "20",
        },
    )
    assert pointers(body) == ["/construction/warp/ends_per_cm", "/loom/shedding/shafts"]


def test_points_and_looms_are_compared_although_others_are_faulty() -> None:
    loom = full_request()["loom"]
    loom["speed_curve"] = [
        {"reed_width_cm": 190, "picks_per_min": "fast"},
        {"reed_width_cm": 140, "picks_per_min": 620},
        {"reed_width_cm": -1, "picks_per_min": 560},
    ]
    body = {"construction": full_request()["construction"], "looms": [loom, 3, loom]}
    with pytest.raises(InputError) as refused:
        LoomMatchRequestSchema().read(body)
    found = [
        "speed_curve/0/picks_per_min", "speed_curve/1/reed_width_cm", "speed_curve/2/reed_width_cm"
    ]  # fmt: skip
    assert [fault.pointer for fault in refused.value.faults] == [
        *(f"/looms/0/{place}" for place in found),
        "/looms/1",
        "/looms/2/loom_id",
        *(f"/looms/2/{place}" for place in found),
    ]


def test_what_is_to_be_left_out_is_given_as_it_came() -> None:
    body = with_all(
        full_request(),
        {
            "/construction/width_in": 61,
            "/construction/warp/yarns/A/linear_density_tex": 20,
            "/loom/shedding/hooks": 100,
        },
    )
    assert {fault.pointer: fault.given for fault in faults(body)} == {
        "/construction/width_in": 61,
        "/construction/warp/yarns/A/linear_density_tex": 20,
        "/loom/shedding/hooks": 100,
    }


def test_unknown_looms_and_faulty_names_come_in_the_order_of_the_document(
    client: FlaskClient,
) -> None:
    body = {"construction": {"weave": "plain"}, "loom_ids": ["no-loom", "rapier-190-dobby", 3, "x"]}
    answer = client.post("/v1/loom-matches", data=json.dumps(body), content_type="application/json")
    found = [each["pointer"] for each in answer.get_json()["errors"]]
    assert found[-3:] == ["/loom_ids/0", "/loom_ids/2", "/loom_ids/3"]
    assert found[0].startswith("/construction/")


def test_what_depends_on_a_faulty_value_is_not_held_against_the_rest() -> None:
    """One slip, one fault: no order is missed that is there, no contradiction is made up."""
    for pointer, value in (
        ("/construction/warp/order", 3),
        ("/construction/warp/yarns/B", None),
        ("/construction/warp/yarns/B/fibre", 3),
        ("/loom/shedding/kind", "doby"),
        ("/loom/warp_beam/flange_diameter_cm", "100"),
        ("/loom/speed_curve/0/reed_width_cm", "140"),
    ):
        assert pointers(changed(two_yarns(), pointer, value)) == [pointer]


@dataclass(frozen=True)
class Slip:
    """A change that spoils a body, and where the fault is found: elsewhere only if stated."""

    change: str
    value: Any
    found: str = ""

    @property
    def pointer(self) -> str:
        return self.found or self.change


NUMBERS: Final = (
    "/construction/warp/crimp_pct",
    "/construction/weft/crimp_pct",
    "/construction/width_cm",
    "/construction/panels",
    "/construction/length_m",
    "/construction/selvedge/ends_per_side",
    "/construction/reed/dents_per_10cm",
    "/construction/reed/ends_per_dent",
    "/construction/finishing/width_shrinkage_pct",
    "/construction/requested_speed_picks_per_min",
    "/loom/reed_width_cm",
    "/loom/max_speed_picks_per_min",
    "/loom/weft_selectors",
    "/loom/insertion/max_rate_m_per_min",
    "/loom/shedding/shafts",
    "/loom/warp_beam/count",
    "/loom/running/efficiency_pct",
    "/loom/speed_curve/1/picks_per_min",
)
PLACES: Final = (
    *NUMBERS,
    "/construction/reference",
    "/construction/stage",
    "/construction/draft/threading",
    "/construction/warp/yarns/A/fibre",
    "/construction/warp/yarns/B/designation",
    "/construction/weft/yarns/A/fibre",
    "/construction/weft/yarns/A/designation",
    "/construction/warp/order",
    "/loom/loom_id",
    "/loom/insertion/system",
)
OBJECTS: Final = (
    "/construction", "/construction/warp", "/construction/weft", "/construction/selvedge",
    "/construction/reed", "/construction/finishing", "/construction/warp/yarns/A", "/loom",
    "/loom/insertion", "/loom/shedding", "/loom/running", "/loom/speed_curve/0",
)  # fmt: skip
WRONG: Final[tuple[object, ...]] = (-1e9, 1e12, True, [], {"a": 1})
OF_MEANING: Final = (
    Slip("/construction/warp/yarns/A/fibre", "coton"),
    Slip("/construction/warp/yarns/B/designation", "Ne twenty"),
    Slip("/construction/weft/yarns/A/fibre", "wol"),
    Slip("/construction/weft/yarns/A/designation", "many"),
    Slip("/construction/warp/order", "24A 4C"),
    Slip("/construction/weave", "2/2 twil"),
    Slip("/construction/weave", -1),
    Slip("/construction/weave", {"rows": ["10", "0"]}, "/construction/weave/rows/1"),
)
UNKNOWN: Final = tuple(Slip(f"{place}/no_such_field", 1) for place in OBJECTS)

slips = (
    st.builds(Slip, st.sampled_from(PLACES), st.sampled_from(WRONG))
    | st.sampled_from(OF_MEANING)
    | st.sampled_from(UNKNOWN)
)


@pytest.mark.slow
@share_of_examples(3)
@given(st.lists(slips, min_size=1, max_size=12, unique_by=lambda slip: slip.change))
def test_independent_faults_are_all_found_and_nothing_else(made: list[Slip]) -> None:
    body = two_yarns()
    for slip in made:
        body = changed(body, slip.change, deepcopy(slip.value))
    assert sorted(pointers(body)) == sorted(slip.pointer for slip in made)
